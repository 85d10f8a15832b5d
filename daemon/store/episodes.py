"""An episode as kept: one hazard of one tree in one span, and how far it has come."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from datetime import datetime, timedelta
from typing import Any

from underbench.daemon.store.database import Opened, moment, seconds
from underbench.rules.garden.local_time import A_NIGHT, Stretch

PAST_EPISODES = timedelta(days=30)  # a tree may stand under cover for weeks of cold nights
TOLD_EPISODES = timedelta(days=60)  # that nothing here helps a tree is not said again so soon

Key = tuple[str, str, datetime]

FORESEEN, TOLD, HANDLED, EASED, OVER = "foreseen", "told", "handled", "eased", "over"


@dataclass(frozen=True, slots=True)
class EpisodeRow:
    """One hazard of one tree in one span, through its life; hazard and remedy by their keys.

    A field of a later step is None until that step: told, handled, reminded of, calm (the forecast
    has turned milder), told to go back, asked about. Telling sets the deadline, worst value, limit,
    chance, ``remedy``, the spot it leads to and the return, all as told.
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

    @property
    def span(self) -> Stretch:
        """The span it is an episode of."""
        return Stretch(self.span_start, self.span_end)

    @property
    def said(self) -> bool:
        """Whether a message told it. Others count as told, as what was told before covers them; so
        they were done before they were told."""
        done_before = self.handled_at and self.told_at and self.handled_at < self.told_at
        return self.told_at is not None and not done_before

    def is_ahead(self, now: datetime) -> bool:
        """Whether more of it may come. A night whose last bad hour is past is over; a season may
        bring more of the same."""
        return self.span_end > now and (self.until_at > now or self.span.is_long)


def key_of(row: EpisodeRow) -> Key:
    """The key that makes an episode the same one from pass to pass."""
    return (row.tree, row.hazard, row.span_start)


_COLUMNS = tuple(f.name for f in fields(EpisodeRow))
# Annotations are plain text here because of the __future__ import.
_MOMENTS = {f.name for f in fields(EpisodeRow) if str(f.type).startswith("datetime")}


class Episodes(Opened):
    """Episodes in the state database. All methods raise StoreError."""

    def since(self, at: datetime) -> list[EpisodeRow]:
        """Return the episodes whose span ends at or after ``at``, by span, tree, hazard."""
        rows = self._rows(
            "SELECT * FROM episode WHERE span_end >= ? ORDER BY span_start, tree, hazard",
            (seconds(at),),
        )
        return [EpisodeRow(**_with_moments(row)) for row in rows]

    def lately(self, now: datetime) -> list[EpisodeRow]:
        """Return the episodes of the last month, and those of the last two that were told."""
        rows = self._rows(
            "SELECT * FROM episode WHERE span_end >= ? AND (span_end >= ? OR told_at IS NOT NULL)"
            " ORDER BY span_start, tree, hazard",
            (seconds(now - TOLD_EPISODES), seconds(now - PAST_EPISODES)),
        )
        return [EpisodeRow(**_with_moments(row)) for row in rows]

    def told_for(self, stays: Mapping[str, datetime]) -> list[EpisodeRow]:
        """Return the told episodes, however old, for which trees stand where they do (``stays``:
        since when, by tree). A stay may last all winter."""
        found = []
        for tree, since in stays.items():
            found += self._rows(
                "SELECT * FROM episode WHERE tree = ? AND span_end >= ? AND action = 'protect'"
                " AND told_at IS NOT NULL AND back_told_at IS NULL",
                (tree, seconds(since)),
            )
        return [EpisodeRow(**_with_moments(row)) for row in found]

    def put(self, rows: Iterable[EpisodeRow]) -> None:
        """Keep episodes; they replace those of the same tree, hazard and span start."""
        self._write(
            f"INSERT OR REPLACE INTO episode ({', '.join(_COLUMNS)})"
            f" VALUES (:{', :'.join(_COLUMNS)})",
            [_with_seconds({n: getattr(row, n) for n in _COLUMNS}) for row in rows],
        )

    def untell(self, tree: str, after: datetime) -> None:
        """Make a tree's hazards ahead (`EpisodeRow.is_ahead`) untold: it does not stand as was
        thought."""
        self._write(
            "UPDATE episode SET told_at = NULL, told_strength = NULL"
            " WHERE tree = ? AND span_end > ? AND (until_at > ? OR span_end - span_start > ?)",
            [(tree, seconds(after), seconds(after), int(A_NIGHT.total_seconds()))],
        )


def _with_seconds(row: dict[str, Any]) -> dict[str, Any]:
    return {k: seconds(v) if isinstance(v, datetime) else v for k, v in row.items()}


def _with_moments(row: dict[str, Any]) -> dict[str, Any]:
    return {k: moment(v) if v is not None and k in _MOMENTS else v for k, v in row.items()}
