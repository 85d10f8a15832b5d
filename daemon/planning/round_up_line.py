"""A line on works in a round-up."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from underbench.daemon.store.episodes import Key
from underbench.daemon.wording.vocabulary import joined

NAMED = 4


@dataclass(frozen=True, slots=True)
class RoundUpLine:
    """One line, and the duties that are done once it is said. Its work has to be done on the day
    ``by`` at the latest (None: it can wait for another round-up). ``episodes`` are those whose
    outcome it asks for."""

    words: str
    duties: tuple[str, ...]
    by: date | None = None
    episodes: tuple[Key, ...] = ()


def named_or_counted(names: Sequence[str]) -> str:
    """Return a few trees by name, or the number of many with the first name."""
    return joined(names) if len(names) <= NAMED else f"{len(names)} trees, {names[0]} first"
