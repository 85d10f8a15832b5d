"""An episode as it is kept: one hazard of one tree in one span, and how far it has come."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

Key = tuple[str, str, datetime]

FORESEEN, TOLD, HANDLED, EASED, OVER = "foreseen", "told", "handled", "eased", "over"


@dataclass(frozen=True, slots=True)
class EpisodeRow:
    """One hazard of one tree in one span, through its life; hazard and remedy by their keys.

    What is None has not been: told (then the deadline, worst value, limit, chance, ``remedy``, the
    spot it leads to and the return, all as told), handled, reminded of, calm (the
    forecast has turned milder), told to go back, asked about.
    """

    tree: str
    hazard: str
    span_start: datetime
    span_end: datetime
    action: str
    state: str
    strength: str
    told_strength: str | None
    chance: float
    worst: float
    limit_value: float
    from_at: datetime
    until_at: datetime
    do_by: datetime
    first_seen: datetime
    told_at: datetime | None
    updated: datetime
    told_do_by: datetime | None = None
    told_worst: float | None = None
    told_limit: float | None = None
    told_chance: float | None = None
    remedy: str | None = None
    into_spot: str | None = None
    back_at: datetime | None = None
    handled_at: datetime | None = None
    reminded_at: datetime | None = None
    calm_since: datetime | None = None
    back_told_at: datetime | None = None
    asked_at: datetime | None = None


def key_of(row: EpisodeRow) -> Key:
    """What makes an episode the same one from pass to pass."""
    return (row.tree, row.hazard, row.span_start)
