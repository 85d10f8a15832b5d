"""What was told and is still to do, job by job."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from underbench.daemon.journal.noting import still_to_do
from underbench.daemon.store.episodes import EpisodeRow
from underbench.daemon.wording.vocabulary import FIRST_WORD
from underbench.rules.advice.remedy import STAY, Remedy, remedy_of
from underbench.rules.hazards import hazard_of
from underbench.rules.hazards.findings import Strength
from underbench.rules.hazards.hazard import Action


@dataclass(frozen=True)
class ToDo:
    """One job still to do, with all trees that share it. ``into`` is the spot it leads to."""

    action: str
    hazards: tuple[str, ...]
    remedy: Remedy
    into: str | None
    danger: bool
    do_by: datetime
    trees: tuple[str, ...]

    @property
    def what(self) -> str:
        """What threatens the trees, in words."""
        first, *more = (hazard_of(key).words for key in self.hazards)
        return "; ".join([first, *(words.lower() for words in more)])

    @property
    def word(self) -> str:
        """The word with which a message on it begins; of a bag it is what is done to it."""
        if self.remedy is STAY or self.action == Action.VENT:
            return self.remedy.deed
        return FIRST_WORD[Action(self.action)]

    @property
    def words(self) -> str:
        """What is to be done, in words."""
        return self.remedy.told(self.into)


def to_do(episodes: Iterable[EpisodeRow], now: datetime, timezone: str) -> list[ToDo]:
    """Return the told jobs that are still to do: danger first, then the nearest deadline."""
    jobs: dict[tuple[object, ...], list[EpisodeRow]] = {}
    for row in episodes:
        if still_to_do(row, now, timezone):
            words = remedy_of(row.remedy).told(row.into_spot)
            key = (row.told_at, row.action, row.told_do_by or row.do_by, words)
            jobs.setdefault(key, []).append(row)
    found = [_job(rows) for rows in jobs.values()]
    return sorted(found, key=lambda one: (not one.danger, one.do_by))


def _job(rows: Sequence[EpisodeRow]) -> ToDo:
    first = rows[0]
    return ToDo(
        action=first.action,
        hazards=tuple(dict.fromkeys(row.hazard for row in rows)),
        remedy=remedy_of(first.remedy),
        into=first.into_spot,
        danger=any(row.told_strength == Strength.DANGER for row in rows),
        do_by=min(row.told_do_by or row.do_by for row in rows),
        trees=tuple(dict.fromkeys(row.tree for row in rows)),
    )
