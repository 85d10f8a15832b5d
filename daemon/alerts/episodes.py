"""Episodes across passes: one hazard of one tree in one span, from foreseen to over."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from underbench.daemon.store.episodes import (
    EASED,
    FORESEEN,
    HANDLED,
    OVER,
    TOLD,
    EpisodeRow,
    Key,
    key_of,
)
from underbench.rules.advice.advice import Advice, Job, stronger
from underbench.rules.hazards.findings import Finding, Strength

# A told hazard has eased only below this share of the chance from which the keeper acts.
RELEASE = 0.5
CALM_FOR = timedelta(hours=7)  # one milder model run is waited out; runs come 6 h apart
EARLIER = timedelta(hours=3)  # a deadline that moves this much nearer is told again


def carry_on(
    rows: Iterable[EpisodeRow],
    findings: Sequence[Finding],
    deadlines: Mapping[Key, datetime],
    act_from: Mapping[str, float],
    now: datetime,
) -> list[EpisodeRow]:
    """Return the episodes after a pass: seen again, new, eased, or over.

    A told hazard has eased when its chance has stayed below half of ``act_from`` (by tree) for
    seven hours. It is over when its last bad hour has passed. A hazard that comes back is the same
    episode.
    """
    before = {key_of(row): row for row in rows}
    found = {finding.key: finding for finding in findings}
    kept = [
        _seen(before.get(key), f, deadlines[key], RELEASE * act_from.get(f.tree, 0.0), now)
        for key, f in found.items()
    ]
    gone = [_unseen(row, now) for key, row in before.items() if key not in found]
    return kept + gone


def _seen(
    row: EpisodeRow | None, found: Finding, do_by: datetime, release: float, now: datetime
) -> EpisodeRow:
    fresh = EpisodeRow(
        tree=found.tree,
        hazard=found.hazard.key,
        span_start=found.span.start,
        span_end=found.span.end,
        action=found.action.value,
        state=FORESEEN,
        strength=found.strength.value,
        told_strength=None,
        chance=found.chance,
        worst=found.worst,
        limit_value=found.limit.harm,
        from_at=found.first_at,
        until_at=found.until_at,
        do_by=do_by,
        first_seen=now,
        told_at=None,
        updated=now,
    )
    if row is None:
        return fresh
    # What was told with little of a chance, as it went along with others, is calm at half of that.
    told = release if row.told_chance is None else RELEASE * row.told_chance
    calm = found.strength is Strength.NOTICE and found.chance < min(release, told)
    kept = replace(
        row,
        **{name: getattr(fresh, name) for name in _SEEN_ANEW},
        calm_since=(row.calm_since or now) if calm else None,
    )
    return replace(kept, state=_state(kept, now))


_SEEN_ANEW = (
    *("span_end", "action", "strength", "chance", "worst", "limit_value"),
    *("from_at", "until_at", "do_by", "updated"),
)


def _unseen(row: EpisodeRow, now: datetime) -> EpisodeRow:
    if row.state in (EASED, OVER):
        return row
    calm = replace(row, calm_since=row.calm_since or now)
    state = OVER if min(row.span_end, row.until_at) <= now else _state(calm, now)
    return replace(calm, state=state, updated=now)


def _state(row: EpisodeRow, now: datetime) -> str:
    if row.calm_since is not None and (row.told_at is None or now - row.calm_since >= CALM_FOR):
        return EASED
    if row.told_at is None:
        return FORESEEN
    return TOLD if row.handled_at is None else HANDLED


def untold(finding: Finding, row: EpisodeRow | None) -> bool:
    """Return whether a finding still has to be told. It has to if it was not told, or was told as
    weaker. It also has to if it was told as due hours later and is not handled."""
    if finding.strength is Strength.NOTICE:
        return False
    if row is None or row.told_strength is None:
        return True
    if stronger(finding.strength, Strength(row.told_strength)):
        return True
    waits = row.handled_at is None and row.told_do_by is not None
    return waits and row.told_do_by is not None and row.do_by <= row.told_do_by - EARLIER


def as_told(row: EpisodeRow, now: datetime, advice: Advice, job: Job) -> EpisodeRow:
    """Return the episode as told at ``now``. It counts as told with the strength of its message.

    So a tree is not told again when it becomes as endangered as the others of that message.
    """
    return replace(
        row,
        state=TOLD,
        told_at=now,
        told_strength=advice.strength.value,
        told_do_by=min(advice.do_by, row.told_do_by or advice.do_by),
        told_worst=row.worst,
        told_limit=row.limit_value,
        told_chance=row.chance,
        remedy=job.remedy.key,
        into_spot=job.into,
        back_at=None if advice.stays(job) else advice.back_at,
        handled_at=None,
        calm_since=None,
        reminded_at=None,
        back_told_at=None,
        asked_at=None,
    )


def told_beside(
    row: EpisodeRow, now: datetime, remedy: str | None, spot: str | None = None
) -> EpisodeRow:
    """Return an episode that no message of its own told, as what was told at ``now`` sees to it."""
    return replace(
        row,
        state=TOLD,
        told_at=now,
        told_strength=row.strength,
        told_do_by=row.do_by,
        told_worst=row.worst,
        told_limit=row.limit_value,
        told_chance=row.chance,
        remedy=remedy,
        into_spot=spot,
    )


def called_off(row: EpisodeRow, now: datetime) -> EpisodeRow:
    """Return an episode after its stand-down. If it comes back, it is told anew."""
    return replace(row, told_at=None, told_strength=None, told_do_by=None, updated=now)
