"""Told jobs as lists to carry by: from where to where in walking order, with weights."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby
from typing import Any

from underbench.daemon.config.settings import Settings
from underbench.daemon.journal.noting import still_to_do
from underbench.daemon.store.episodes import EpisodeRow
from underbench.daemon.store.undo_log import Note
from underbench.daemon.wording.deeds import in_walking_order
from underbench.daemon.wording.title import deed_title
from underbench.daemon.wording.units import Units
from underbench.daemon.wording.vocabulary import Teller, at_spot, the_spot
from underbench.rules.advice.remedy import STAY, Remedy, remedy_of
from underbench.rules.garden.inventory import ContainerKind
from underbench.rules.garden.journal import TreeAt
from underbench.rules.hazards import hazard_of
from underbench.rules.hazards.findings import Strength
from underbench.rules.hazards.hazard import Action
from underbench.rules.physics.wind import standing_mass_kg, tree_mass_kg

SHOWN_DONE = timedelta(hours=18)  # till the morning after
HALF_FULL = 0.5  # of water, for the weight


@dataclass(frozen=True)
class Load:
    """One tree of a job. ``weighs`` is empty for a tree in the ground. ``last``: it is lifted last,
    because it takes two people."""

    at: TreeAt
    rows: Sequence[EpisodeRow]
    weighs: str
    last: bool

    @property
    def tree(self) -> str:
        """Its name."""
        return self.at.tree.name

    @property
    def spot(self) -> str:
        """The spot at which it stands."""
        return self.at.spot

    @property
    def remedy(self) -> Remedy:
        """What is done with it, as told."""
        return remedy_of(self.rows[0].remedy)

    @property
    def into(self) -> str | None:
        """The spot to which it goes."""
        return self.rows[0].into_spot

    @property
    def words(self) -> str:
        """What is done with it, in words."""
        return self.remedy.told(self.into)

    @property
    def whence(self) -> str:
        """Where it stands, in words: it is carried from there, or seen to there."""
        moves = self.remedy.carries or self.rows[0].action == Action.LIGHT
        return f"from {the_spot(self.spot)}" if moves else at_spot(the_spot(self.spot))

    @property
    def bench(self) -> str:
        """What a form sends for all of its bench that go the same way."""
        return f"{self.spot}|{self.words}"


@dataclass(frozen=True)
class Done:
    """Trees seen to together; the note with this ``number`` can be taken back."""

    number: int | None
    trees: tuple[str, ...]


@dataclass(frozen=True)
class Carry:
    """All that is to be done by one deadline. ``loads`` are still to do, ``done`` no more."""

    action: Action
    do_by: datetime
    danger: bool
    hazards: tuple[str, ...]
    loads: tuple[Load, ...]
    done: tuple[Done, ...]
    about: tuple[str, ...]

    @property
    def key(self) -> str:
        """What tells it from other jobs."""
        return _key(self.action, self.do_by)

    @property
    def what(self) -> str:
        """What threatens the trees, in words."""
        first, *more = (hazard_of(key).words for key in self.hazards)
        return "; ".join([first, *(words.lower() for words in more)])

    def title(self, teller: Teller, now: datetime) -> str:
        """What is to be done, of how many trees and by when, in the words of messages."""
        if self.stays:
            back = [row.back_at for load in self.loads for row in load.rows if row.back_at]
            until = f"until {teller.when(max(back), now)}" if back else ""
            return deed_title(self.action, self.loads, until).strip()
        by = teller.by(self.do_by, now)
        by += f", as it was due {teller.when(self.do_by, now)}" if self.late(now) else ""
        return deed_title(self.action, self.loads, by)

    @property
    def stays(self) -> bool:
        """Whether all its trees stay where they are."""
        return all(load.remedy is STAY for load in self.loads)

    def late(self, now: datetime) -> bool:
        """Whether its deadline is past. To leave trees in has none."""
        return self.do_by <= now and not self.stays

    def ways(self, spots: Iterable[str]) -> Iterator[tuple[str, list[list[Load]]]]:
        """Yield where to, in walking order, and the trees that go there, bench by bench."""
        groups = in_walking_order(self.loads, spots)
        for (last, words), found in groupby(groups, key=lambda g: (g[0].last, g[0].words)):
            own = list(found)
            yield f"Last, with two people: {words[0].lower()}{words[1:]}" if last else words, own


def carries(
    rows: Iterable[EpisodeRow],
    standing: Iterable[TreeAt],
    settings: Settings,
    now: datetime,
    notes: Sequence[Note],
    about: Sequence[Mapping[str, Any]],
) -> list[Carry]:
    """Return the jobs with something still to do, danger first, then the nearest deadline; behind
    them the jobs done since yesterday.

    ``notes``: the latest first. ``about``: what messages said beside the deeds, the latest last.
    """
    by_name, zone = {at.tree.name: at for at in standing}, settings.garden.timezone
    jobs: dict[str, list[EpisodeRow]] = {}
    for row in rows:
        open_now = still_to_do(row, now, zone)
        if row.tree in by_name and (open_now or _lately_done(row, now)):
            jobs.setdefault(job_of(row), []).append(row)
    found = [_carry(own, by_name, settings, now, notes, about) for own in jobs.values()]
    return sorted(found, key=lambda one: (not one.loads, not one.danger, one.do_by))


def job_of(row: EpisodeRow) -> str:
    """Return the key of the job that an episode belongs to."""
    return _key(row.action, row.told_do_by or row.do_by)


def _key(action: str, do_by: datetime) -> str:
    return f"{action}-{int(do_by.timestamp())}"


def _lately_done(row: EpisodeRow, now: datetime) -> bool:
    done = row.handled_at
    return row.said and done is not None and now - done < SHOWN_DONE and row.span_end > now


def _carry(
    rows: Sequence[EpisodeRow],
    by_name: Mapping[str, TreeAt],
    settings: Settings,
    now: datetime,
    notes: Sequence[Note],
    about: Sequence[Mapping[str, Any]],
) -> Carry:
    still: dict[str, list[EpisodeRow]] = {}
    gone = []
    for row in rows:
        if still_to_do(row, now, settings.garden.timezone):
            still.setdefault(row.tree, []).append(row)
        else:
            gone.append(row)
    waiting = [row for own in still.values() for row in own]
    # In the order in which one walks past.
    loads = [_load(by_name[name], still[name], settings) for name in by_name if name in still]
    lines = (line for row in waiting or rows for line in _said_of(row, about))
    return Carry(
        action=Action(rows[0].action),
        do_by=min(row.told_do_by or row.do_by for row in rows),
        danger=any(row.told_strength == Strength.DANGER for row in waiting),
        hazards=tuple(dict.fromkeys(row.hazard for row in rows)),
        loads=tuple(loads),
        done=tuple(_done([row for row in gone if row.tree not in still], notes)),
        about=tuple(dict.fromkeys(lines)),
    )


def _said_of(row: EpisodeRow, about: Sequence[Mapping[str, Any]]) -> Sequence[str]:
    """What the last message on it said beside the deeds."""
    own = (
        one for one in reversed(about) if one["action"] == row.action and row.tree in one["trees"]
    )
    found: Sequence[str] = next(own, {"lines": ()})["lines"]
    return found


def _load(at: TreeAt, rows: Sequence[EpisodeRow], settings: Settings) -> Load:
    tree, pot = at.tree, at.tree.container
    if pot.kind is ContainerKind.BED:
        return Load(at, rows, "", last=False)
    heavy = pot.litres > settings.means.lift_litres and remedy_of(rows[0].remedy).carries
    crown_kg = tree_mass_kg(tree.height_cm / 100, tree.crown_cm / 100)
    kg = standing_mass_kg(pot.litres, HALF_FULL, [pot.wall], crown_kg)
    return Load(at, rows, Units(settings.units).weight(float(kg[0])), heavy)


def _done(rows: Sequence[EpisodeRow], notes: Sequence[Note]) -> Iterator[Done]:
    """The trees seen to, by the note that said so."""
    number_of = {
        (tree, hazard, start): note.id
        for note in reversed(notes)
        if note.undone_at is None
        for tree, hazard, start in (one["key"] for one in note.answered)
    }
    by_note: dict[int | None, list[str]] = {}
    for row in rows:
        key = (row.tree, row.hazard, int(row.span_start.timestamp()))
        by_note.setdefault(number_of.get(key), []).append(row.tree)
    for number, trees in by_note.items():
        yield Done(number, tuple(dict.fromkeys(trees)))
