"""Marks what was told as done: finds the jobs still open and what the journal has to know."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import groupby
from zoneinfo import ZoneInfo

from underbench.daemon.config.settings import Settings
from underbench.daemon.faults import Fault
from underbench.daemon.journal.noting import (
    cover,
    handled,
    in_a_sentence,
    keep,
    still_to_do,
    trees_meant,
)
from underbench.daemon.outlook.garden_now import journal_at
from underbench.daemon.store.episodes import EpisodeRow, Key, key_of
from underbench.daemon.store.store import Store
from underbench.daemon.wording.units import Units
from underbench.rules.advice.remedies import SHELTER_KINDS, WARM_KINDS
from underbench.rules.advice.remedy import Remedy, remedy_of
from underbench.rules.garden.journal import (
    Entry,
    Handled,
    Move,
    Opening,
    TreeAt,
    Watering,
    Work,
    fold,
)
from underbench.rules.garden.local_time import NOON, local_day, local_moment
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards.hazard import Action

SMALL_HOURS = timedelta(hours=6)  # until then "tonight" is the night that is on
NOTHING = "Nothing that was told is still to do."
_OPENED = {Opening.SLIT: WorkKind.SLIT_BAG, Opening.OPEN: WorkKind.OPEN_BAG}
TOLD_WHEN = "No sooner: you are told when."
_BACK_OUT, _UNCOVERED = "may go back out", "may be uncovered"


@dataclass(frozen=True, slots=True)
class _Job:
    """What one message asked for one tree, done ``at``; ``one`` is the tree as it stood then.

    ``by_hand`` is where the keeper has carried it since the message; None if nowhere.
    """

    rows: Sequence[EpisodeRow]
    one: TreeAt
    at: datetime
    by_hand: str | None

    @property
    def tree(self) -> str:
        return self.one.tree.name

    @property
    def remedy(self) -> Remedy:
        """The remedy as told."""
        return remedy_of(self.rows[0].remedy)

    @property
    def into(self) -> str | None:
        """The spot it was told to go to, or where it was carried instead."""
        return self.rows[0].into_spot and (self.by_hand or self.rows[0].into_spot)

    @property
    def stays(self) -> bool:
        """Whether the tree stays covered, shaded or tied until the keeper is told otherwise."""
        lasts = self.remedy.covers or self.remedy.cloth or self.remedy.ties
        return lasts and self.rows[0].back_at is None

    def entry(self) -> Entry | None:
        """What the journal has to know; None when it knows already."""
        name, remedy, bag = self.tree, self.remedy, self.one.bag
        if self.into:
            there = self.into == self.one.spot
            return None if there else Move(tree=name, at=self.at, spot=self.into)
        if self.stays:
            return cover(name, self.at, self.one.spot, remedy)
        if remedy.waters or remedy.wets_moss:
            return Watering(tree=name, at=self.at, moss=remedy.wets_moss)
        if remedy.opening and bag:
            done = bag.opening.as_far_as(remedy.opening)
            return None if done else Work(tree=name, at=self.at, work=_OPENED[remedy.opening])
        return Handled(tree=name, at=self.at)

    def state(self, settings: Settings) -> str:
        """The tree's state now, with ``{trees}`` for its name."""
        if self.into:
            return f"{{trees}} {{are}} {_inside(self.into, settings)}"
        return self.remedy.done

    def undoing(self) -> tuple[str, datetime] | None:
        """What may be undone, and when; None if nothing may."""
        back_at = self.rows[0].back_at
        if back_at is None or back_at <= self.at:
            return None
        if self.rows[0].action == Action.SHADE:
            return "may come out of the shade", back_at
        return _BACK_OUT if self.into or self.remedy.carries else _UNCOVERED, back_at


def note_handled(
    store: Store,
    settings: Settings,
    names: Sequence[str],
    at: datetime,
    only: Collection[Key] | None = None,
) -> str:
    """Record that what was told is done; return how that was understood.

    It holds for the trees, spots and species named, or for all trees if none is named; with
    ``only`` for those jobs and no others. The answer also says when trees may go back. Raises Fault
    for unknown names, and for trees with nothing left to do.
    """
    with store.transaction():
        meant = trees_meant(store, settings, names, at) if names else settings.trees
        jobs, done = _open_jobs(store, settings, [tree.name for tree in meant], at, only)
        if not jobs and not names:
            return NOTHING
        rest = [tree.name for tree in meant if tree.name not in {job.tree for job in jobs}]
        if not jobs:
            raise Fault(f"nothing that was told is still to do for {in_a_sentence(rest)}")
        keep(store, _entries(jobs))
        store.episodes.put(done)
    lines = [_noted(jobs, settings), *_back(jobs, at, settings)]
    if names and rest:
        lines.append(f"Nothing that was told is still to do for {in_a_sentence(rest)}.")
    return "\n".join(lines)


def no_reminder_tonight(
    store: Store, settings: Settings, rows: Iterable[EpisodeRow], at: datetime
) -> None:
    """Record that the keeper does not do told jobs tonight, and is not to be reminded of them.

    They stay open, and the nights after keep their reminders. Danger that grows or comes hours
    sooner is told as ever.
    """
    zone = settings.garden.timezone
    morrow = local_day(at - SMALL_HOURS, zone) + timedelta(days=1)
    night_ends = local_moment(morrow, NOON, zone)
    tonight = [row for row in rows if row.from_at < night_ends and row.reminded_at is None]
    store.episodes.put(replace(row, reminded_at=at) for row in tonight)


def _open_jobs(
    store: Store,
    settings: Settings,
    trees: Sequence[str],
    at: datetime,
    only: Collection[Key] | None,
) -> tuple[list[_Job], list[EpisodeRow]]:
    """The jobs still to do, and their episodes as they are once done. Jobs are by tree, in the
    order in which they were told."""
    zone = settings.garden.timezone
    rows = [row for row in store.episodes.since(at) if still_to_do(row, at, zone)]
    rows = [row for row in rows if only is None or key_of(row) in only]
    by_name = {tree.name: tree for tree in settings.trees}
    last = max([at, *(row.told_at for row in rows if row.told_at)])
    journal = journal_at(settings, store, last)
    jobs, done = [], []
    for name in trees:
        mine = sorted((row for row in rows if row.tree == name), key=_message)
        for _, group in groupby(mine, key=_message):
            own = list(group)
            moment = _done_at(own, at)
            one = fold(by_name[name], journal, max(moment, at))
            known = [_known_spot(row, settings) for row in own]
            jobs.append(_Job(known, one, moment, _carried_since(journal, own)))
            done += [handled(row, moment) for row in own]
    return jobs, done


def _known_spot(row: EpisodeRow, settings: Settings) -> EpisodeRow:
    """The row, without its spot if the settings no longer have it."""
    return row if row.into_spot in settings.spots else replace(row, into_spot=None)


def _message(row: EpisodeRow) -> tuple[str, ...]:
    """The key that rows of one tree share if they were told together."""
    return (f"{row.told_at:%Y%m%d%H%M%S}", row.action, row.remedy or "")


def _done_at(rows: Iterable[EpisodeRow], at: datetime) -> datetime:
    """When a job was done that the keeper reports at ``at``. It was done by its deadline if the
    harm it was to prevent is past, and never before it was told."""
    return min(
        max(row.told_at or at, at if at < row.until_at else min(at, row.told_do_by or at))
        for row in rows
    )


def _carried_since(journal: Iterable[Entry], rows: Sequence[EpisodeRow]) -> str | None:
    told_at = rows[0].told_at
    moves = [
        entry.spot
        for entry in journal
        if isinstance(entry, Move)
        and entry.tree == rows[0].tree
        and told_at is not None
        and entry.at > told_at
    ]
    return moves[-1] if moves else None


def _entries(jobs: Iterable[_Job]) -> list[Entry]:
    """One entry of a kind for each tree; if two spots were told in turn, the later one counts."""
    found: dict[tuple[str, str, bool], Entry] = {}
    for job in jobs:
        if entry := job.entry():
            moss = isinstance(entry, Watering) and entry.moss
            found[job.tree, entry.kind, moss] = entry
    return list(found.values())


def _noted(jobs: Iterable[_Job], settings: Settings) -> str:
    return f"Noted: {'; '.join(_grouped(jobs, lambda job: job.state(settings)))}."


def _back(jobs: Sequence[_Job], at: datetime, settings: Settings) -> list[str]:
    zone = ZoneInfo(settings.garden.timezone)
    today = local_day(at, settings.garden.timezone)

    def when(moment: datetime) -> str:
        local = moment.astimezone(zone)
        clock = Units(settings.units).clock(local)
        if local.date() - today <= timedelta(days=1):
            return f"{clock} {'tomorrow' if local.date() > today else 'today'}"
        return f"{clock} on {local:%A}, {local.day} {local:%B}"

    def words(job: _Job) -> str:
        undoing = job.undoing()
        return f"{{trees}} {undoing[0]} from {when(undoing[1])}" if undoing else ""

    undone = [job for job in jobs if job.undoing()]
    told = _grouped(undone, words)
    more = f" {TOLD_WHEN}" if any(job.into for job in undone) else ""
    return [f"{'; '.join(told)}.{more}"] if told else []


def _grouped(jobs: Iterable[_Job], words: Callable[[_Job], str]) -> list[str]:
    """The words for each job, once for all trees they hold for."""
    by_words: dict[str, list[str]] = {}
    for job in jobs:
        trees = by_words.setdefault(words(job), [])
        if job.tree not in trees:
            trees.append(job.tree)
    return [
        said.replace("{trees}", in_a_sentence(trees), 1).replace("{are}", _are(trees), 1)
        for said, trees in by_words.items()
    ]


def _are(trees: Sequence[str]) -> str:
    return "is" if len(trees) == 1 else "are"


def _inside(spot: str, settings: Settings) -> str:
    """Where a tree in a spot is: "in the shed", but "under the bench" and "at top bench"."""
    if spot.casefold().startswith("under"):
        return spot
    kind = settings.spots[spot].kind
    return f"in the {spot}" if kind in (*SHELTER_KINDS, *WARM_KINDS) else f"at {spot}"
