"""Episodes across passes: one hazard of one tree in one span, from foreseen to over."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from datetime import datetime

from underbench.daemon.store import EpisodeRow
from underbench.rules.advice import stronger
from underbench.rules.findings import Finding, Strength

Key = tuple[str, str, datetime]

FORESEEN, TOLD, EASED, OVER = "foreseen", "told", "eased", "over"


def key_of(row: EpisodeRow) -> Key:
    """What makes an episode the same one from pass to pass."""
    return (row.tree, row.hazard, row.span_start)


def carry_on(
    rows: Iterable[EpisodeRow],
    findings: Sequence[Finding],
    deadlines: Mapping[Key, datetime],
    now: datetime,
) -> list[EpisodeRow]:
    """Return the episodes after a pass: seen again, new, eased, or over.

    A hazard that is no longer found has eased, or is over when its span has ended; one that comes
    back is the same episode and is not told anew.
    """
    before = {key_of(row): row for row in rows}
    found = {finding.key: finding for finding in findings}
    kept = [_seen(before.get(key), f, deadlines[key], now) for key, f in found.items()]
    gone = [_unseen(row, now) for key, row in before.items() if key not in found]
    return kept + gone


def _seen(row: EpisodeRow | None, found: Finding, do_by: datetime, now: datetime) -> EpisodeRow:
    told = row is not None and row.told_at is not None
    return EpisodeRow(
        tree=found.tree,
        hazard=found.hazard.value,
        span_start=found.span.start,
        span_end=found.span.end,
        action=found.action.value,
        state=TOLD if told else FORESEEN,
        strength=found.strength.value,
        told_strength=row.told_strength if row else None,
        chance=found.chance,
        worst=found.worst,
        limit_value=found.limit.harm,
        from_at=found.first_at,
        until_at=found.until_at,
        do_by=do_by,
        first_seen=row.first_seen if row else now,
        told_at=row.told_at if row else None,
        updated=now,
    )


def _unseen(row: EpisodeRow, now: datetime) -> EpisodeRow:
    state = OVER if row.span_end <= now else EASED
    return row if row.state == state else replace(row, state=state, updated=now)


def untold(finding: Finding, row: EpisodeRow | None) -> bool:
    """Return whether a finding still has to be told: it was not, or was told as weaker."""
    if finding.strength is Strength.NOTICE:
        return False
    if row is None or row.told_strength is None:
        return True
    return stronger(finding.strength, Strength(row.told_strength))


def as_told(row: EpisodeRow, now: datetime, strength: Strength) -> EpisodeRow:
    """Return the episode as told at ``now``, as strong as the message that spoke of it.

    A tree that becomes as endangered as those it was told with is not told of again.
    """
    return replace(row, state=TOLD, told_at=now, told_strength=strength.value)
