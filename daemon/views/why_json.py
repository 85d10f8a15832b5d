"""Why one tree was, or was not, told: the same as `explain` says, as JSON."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.outlook.worst_hazard import (
    Pressing,
    acts,
    chances_of,
    findings_of,
    most_pressing,
)
from underbench.daemon.rehearsal.pass_report import forecast_json
from underbench.daemon.store.episodes import EpisodeRow
from underbench.daemon.views.what_would_change import Flip, flips
from underbench.daemon.views.why import helping, limits_today, source_words
from underbench.daemon.wording.json_form import document, finding_json, iso, number
from underbench.rules.limits.limit import Limit


def why_json(outlook: Outlook, row: int, episodes: Sequence[EpisodeRow]) -> str:
    """Return why the tree at ``row`` is told or not, for programs: UTC, SI units and °C."""
    tree, at = outlook.settings.trees[row], outlook.standing[row]
    pressing, mine = most_pressing(outlook, row), findings_of(outlook, row)
    act_from, kill_from = chances_of(outlook, tree)
    told = {(e.hazard, e.span_start): e.told_at for e in episodes if e.tree == tree.name}
    choice = helping(outlook, mine)
    body = {
        "now": iso(outlook.now),
        "tree": tree.name,
        "species": tree.species,
        "spot": at.spot,
        "home": tree.spot,
        "stage": outlook.stage(row),
        "act_from": act_from,
        "kill_from": kill_from,
        "acted_on": bool(pressing and _acted(outlook, row, pressing)),
        "findings": [
            finding_json(f) | {"told_at": iso(told.get((f.hazard.key, f.span.start)))} for f in mine
        ],
        "at_home": [finding_json(f) for f in outlook.at_home if f.tree == tree.name],
        "helps": choice
        and {
            "remedy": choice.way.remedy.key,
            "words": choice.way.words,
            "suffices": choice.suffices,
        },
        "pressing": pressing and _pressing(pressing, act_from),
        "flips": [_flip(flip) for flip in (flips(outlook, row, pressing) if pressing else [])],
        "limits": {field: _limit(one) for field, one in limits_today(outlook, row).items()},
        "forecast": forecast_json(outlook.supplied),
    }
    return document(body)


def _acted(outlook: Outlook, row: int, pressing: Pressing) -> bool:
    chances = chances_of(outlook, outlook.settings.trees[row])
    return acts(chances, pressing.chance, pressing.kill_chance)


def _pressing(one: Pressing, act_from: float) -> dict[str, Any]:
    middle, tenth = one.middle().tolist(), one.tenth().tolist()
    harmed, killed = (share.tolist() for share in one.shares())
    return {
        "hazard": one.hazard.key,
        "hazard_words": one.hazard.words,
        "action": one.hazard.action,
        "span": [iso(one.span.start), iso(one.span.end)],
        "limit": _limit(one.limit),
        "chance": one.chance,
        "kill_chance": one.kill_chance,
        "at_act_from": {"worst": one.worst(act_from), "short_of_harm": one.short_of_harm(act_from)},
        "hours": [
            {
                "at": iso(datetime.fromtimestamp(int(one.times[hour]), tz=UTC)),
                "middle": number(middle[hour]),
                "worst_tenth": number(tenth[hour]),
                "harmed": harmed[hour],
                "killed": killed[hour],
            }
            for hour in one.hours()
        ],
    }


def _limit(limit: Limit) -> dict[str, Any]:
    trail = [
        {
            "what": layer.what,
            "harm": layer.harm,
            "kill": number(layer.kill),
            "source": source_words(layer.source),
        }
        for layer in limit.trail
    ]
    return {
        "measured_on": limit.measured_on,
        "harm": limit.harm,
        "kill": number(limit.kill),
        "trail": trail,
    }


def _flip(flip: Flip) -> dict[str, Any]:
    return {
        "input": flip.what,
        "is": flip.of,
        "turns_at": flip.to,
        "chance": flip.chance,
        "tried": [min(flip.tried), max(flip.tried)] if _numbers(flip) else list(flip.tried),
    }


def _numbers(flip: Flip) -> bool:
    return all(isinstance(one, float) for one in flip.tried)
