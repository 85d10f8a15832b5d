"""What is kept of each weather source over restarts: its last good answer, and how it stands."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime
from typing import Protocol


@dataclass(frozen=True, slots=True)
class Kept:
    """A source's last good answer. ``same_since``: when these values first came; the rest: what
    the service said of asking again."""

    body: bytes = field(repr=False)
    fetched_at: datetime
    same_since: datetime
    last_modified: str = ""
    expires: datetime | None = None


@dataclass(frozen=True, slots=True)
class Standing:
    """How things stand with a source: not to be asked before ``ask_at``, for the reason ``why``;
    ``said``: the kinds of trouble that were said already; ``doubted_since``: from when on what it
    sends has been in grave doubt."""

    ask_at: datetime | None = None
    why: str = ""
    said: frozenset[str] = frozenset()
    doubted_since: datetime | None = None


class Shelf(Protocol):
    """Where each source's last good answer is kept over restarts, and how it stands with it."""

    def keep_forecast(self, source: str, kept: Kept) -> None:
        """Replace the kept answer of a source."""

    def last_forecast(self, source: str) -> Kept | None:
        """Return a source's kept answer; None without one."""

    def keep_standing(self, source: str, standing: Standing) -> None:
        """Replace how things stand with a source."""

    def standing(self, source: str) -> Standing:
        """Return how things stand with a source."""
