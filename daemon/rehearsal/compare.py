"""Two rehearsals over the same weather: what one configuration would tell and the other not."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from textwrap import fill
from typing import Any
from zoneinfo import ZoneInfo

from underbench.daemon.config.settings import Settings
from underbench.daemon.rehearsal.month_report import MADE_OF, journal_line, span_of
from underbench.daemon.rehearsal.replay import Heard, Plan, Seen, plan, rehearse
from underbench.daemon.weather.csv_series import Series
from underbench.daemon.wording.json_form import document, named, part
from underbench.daemon.wording.tables import table
from underbench.rules.garden.inventory import Garden
from underbench.rules.hazards.findings import Finding
from underbench.rules.hazards.hazard import Action

Echo = Callable[[str], None]
Key = tuple[str, str, datetime]
"""A tree, what threatens it, and when its night, day or season begins."""

WIDTH = 80


@dataclass(frozen=True, slots=True)
class Alert:
    """What a tree was first told of one hazard in one span, and when."""

    told_at: datetime
    finding: Finding


@dataclass(frozen=True, slots=True)
class Side:
    """One configuration and what it would have told."""

    name: str
    plan: Plan
    heard: Sequence[Heard]
    alerts: Mapping[Key, Alert]


def both_sides(
    planned: Plan,
    config: Path,
    settings: Settings,
    other: Path,
    read: Callable[[Garden], Series],
    seen: Seen,
) -> tuple[Side, Side]:
    """Rehearse ``planned``, of the file ``config``, and ``settings``, of ``other``, over the same
    weather (``read`` for a garden) and days, and with the journal of the first."""
    series = planned.series
    if settings.garden != planned.settings.garden:  # what a series lacks is estimated by the place
        series = read(settings.garden)
    last = planned.moments[-1] + timedelta(hours=1)
    second = plan(settings, series, planned.moments[0], last, planned.journal)
    return _side(planned, config, other, seen), _side(second, other, config, seen)


def _side(planned: Plan, path: Path, other: Path, seen: Seen) -> Side:
    """Rehearse one configuration; it goes by its file's name, or its path where both have one."""
    heard = list(rehearse(planned, seen))
    alerts: dict[Key, Alert] = {}
    for one in heard:
        for finding in one.advice.findings if one.advice else ():
            alerts.setdefault(finding.key, Alert(one.at, finding))
    return Side(str(path) if path.name == other.name else path.name, planned, heard, alerts)


def compare_text(mine: Side, other: Side, echo: Echo) -> None:
    """Print what comes and goes, by night, and the counts side by side."""
    planned = mine.plan
    names = f"{mine.name} against {other.name}, rehearsed with {planned.series.name}"
    for line in (f"{names}: {span_of(planned)}.", MADE_OF, journal_line(planned)):
        echo(fill(" ".join(line.split()), WIDTH))
    for side, against in ((mine, other), (other, mine)):
        only = [side.alerts[key] for key in _only(side, against)]
        echo(f"\nOnly {side.name} tells:")
        echo("\n".join(_listed(only, planned.zone)) or "  nothing")
    changed = _changed(mine, other)
    if changed:
        echo(f"\nBoth tell, {other.name} otherwise:")
        echo("\n".join(_listed([other.alerts[key] for key in changed], planned.zone)))
    echo(f"\n{_counts(mine, other)}")


def compare_json(mine: Side, other: Side, echo: Echo) -> None:
    """Print the same for programs; moments in UTC."""
    body = {
        "weather": mine.plan.series.name,
        "configurations": [_side_json(mine, other), _side_json(other, mine)],
        "told_otherwise": [
            _alert_json(mine.alerts[key]) | {"other_strength": other.alerts[key].finding.strength}
            for key in _changed(mine, other)
        ],
    }
    echo(document(body))


def _only(side: Side, against: Side) -> list[Key]:
    return _by_time(side.alerts.keys() - against.alerts.keys())


def _changed(mine: Side, other: Side) -> list[Key]:
    """What both tell, as an act here and as danger there."""
    return _by_time(
        key
        for key in mine.alerts.keys() & other.alerts.keys()
        if mine.alerts[key].finding.strength is not other.alerts[key].finding.strength
    )


def _by_time(keys: Iterable[Key]) -> list[Key]:
    return sorted(keys, key=lambda key: (key[2], key))


def _listed(alerts: Iterable[Alert], zone: ZoneInfo) -> list[str]:
    """One entry a span, hazard and strength: the trees, and when they would first have heard."""
    groups: dict[tuple[str, str, str], list[Alert]] = {}
    for alert in alerts:
        worst = alert.finding.worst_at.astimezone(zone)
        words = f"{alert.finding.hazard.words}, {alert.finding.strength}"
        told = f"told {alert.told_at.astimezone(zone):%a %d %b %H:%M}"
        groups.setdefault((f"{worst:%a %d %b}", words, told), []).append(alert)
    return [
        fill(
            f"{day}  {words}: {', '.join(one.finding.tree for one in own)} ({told})",
            WIDTH,
            initial_indent="  ",
            subsequent_indent=" " * 14,
        )
        for (day, words, told), own in groups.items()
    ]


def _counts(mine: Side, other: Side) -> str:
    heads = ["", mine.name, other.name]
    sides = (_numbers(mine, other), _numbers(other, mine))
    return table(heads, [[name, *(str(side[name]) for side in sides)] for name in sides[0]])


def _numbers(side: Side, against: Side) -> dict[str, int]:
    advice = [one.advice for one in side.heard if one.advice]
    actions = Counter(one.action for one in advice)
    return {
        "messages": len(side.heard),
        **{f"  {action}": actions[action] for action in Action},
        "messages of danger": sum(one.strength == "danger" for one in advice),
        "trees told": len({job.tree for one in advice for job in one.jobs}),
        "alerts, a tree and night each": len(side.alerts),
        "alerts only there": len(side.alerts.keys() - against.alerts.keys()),
    }


def _side_json(side: Side, against: Side) -> dict[str, Any]:
    return {
        "file": side.name,
        "passes": len(side.plan.moments),
        "counts": {name.strip(): count for name, count in _numbers(side, against).items()},
        "only": [_alert_json(side.alerts[key]) for key in _only(side, against)],
    }


def _alert_json(alert: Alert) -> dict[str, Any]:
    return {
        "tree": alert.finding.tree,
        **named(alert.finding.hazard),
        **part(alert.finding, "action", "strength", "span", "chance"),
        "told_at": alert.told_at,
    }
