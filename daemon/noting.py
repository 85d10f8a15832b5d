"""Writing the journal: works, moves, sightings and waterings, as the keeper tells them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import UTC, date, datetime, timedelta

from underbench.daemon.faults import Fault
from underbench.daemon.names import named, spot_named, tree_named
from underbench.daemon.outlook import species_of
from underbench.daemon.settings import Settings
from underbench.daemon.store import Store
from underbench.daemon.units import Units
from underbench.rules.aftercare import care_of
from underbench.rules.garden import Tree
from underbench.rules.hours import NOON, local_day, local_moment
from underbench.rules.journal import Entry, Move, Sighting, Stage, Watering, Work, WorkKind
from underbench.rules.season import STAGES

HOME = "home"
EARLIEST_YEAR = 1970


def work_named(name: str) -> WorkKind:
    """Return the kind of work; hyphens and spaces are one; raises Fault."""
    return named("work", name.replace("-", " ").replace("_", " "), {w.value: w for w in WorkKind})


def trees_named(settings: Settings, names: Sequence[str]) -> list[Tree]:
    """Return the trees of those names, each once, in the order named; raises Fault."""
    return list({(tree := tree_named(settings, name)).name: tree for name in names}.values())


def moment_of(day: str | None, settings: Settings) -> datetime:
    """Return when it was: now without a day, else noon of that local day (now, if that is ahead).

    Raises Fault for what is no day, or one that has yet to come.
    """
    now = datetime.now(UTC).replace(microsecond=0)
    if day is None:
        return now
    try:
        wanted = date.fromisoformat(day)
    except ValueError:
        raise Fault(f"--on {day}: expected a day like 2027-04-20") from None
    zone = settings.garden.timezone
    if wanted.year < EARLIEST_YEAR:
        raise Fault(f"--on {day}: expected a day since {EARLIEST_YEAR}")
    if wanted > local_day(now, zone):
        raise Fault(f"--on {day}: that day has yet to come; record it when it is done")
    return min(now, local_moment(wanted, NOON, zone))


def note_work(
    store: Store,
    settings: Settings,
    trees: Sequence[Tree],
    kind: WorkKind,
    at: datetime,
    roots_pct: float | None,
) -> str:
    """Record a work and return what it asks for."""
    works = [Work(tree=tree.name, at=at, work=kind, roots_pct=roots_pct) for tree in trees]
    _note(store, works)
    lines = [f"Noted: {kind} of {_names(trees)} on {_day(at, settings)}."]
    lines += _asked(works[0], settings)
    if kind is WorkKind.BAG:
        lines += [
            f"{tree.name} is never to be bagged: {species_of(tree).limits.kind}s rot in a bag."
            for tree in trees
            if not species_of(tree).limits.may_be_bagged
        ]
    return "\n".join(lines)


def _asked(work: Work, settings: Settings) -> list[str]:
    care, units = care_of(work), Units(settings.units)
    lines = []
    if care and care.root_floor_c is not None:
        until = work.at + timedelta(weeks=care.root_weeks)
        lines.append(
            f"Root ball no colder than {units.temp(care.root_floor_c)} until roots have taken, "
            f"not before {_day(until, settings)}."
        )
    if care and care.shelter_weeks:
        until = work.at + timedelta(weeks=care.shelter_weeks)
        lines.append(f"Out of strong sun and wind until {_day(until, settings)}.")
    return lines


def spot_at_the_end(settings: Settings, words: Sequence[str]) -> tuple[Sequence[str], str]:
    """Split words into tree names and the spot they end with, which may be of several words."""
    spots = {name.casefold() for name in settings.spots}
    for first in range(1, len(words)):
        spot = " ".join(words[first:])
        if spot.casefold() in spots:
            return words[:first], spot
    return words[:-1], words[-1]


def note_move(
    store: Store, settings: Settings, trees: Sequence[Tree], spot: str, at: datetime
) -> str:
    """Record that trees were carried to a spot, or each to its home spot."""
    home = spot.casefold() == HOME
    place = None if home else spot_named(settings, spot).name
    moves = [Move(tree=tree.name, at=at, spot=place or tree.spot) for tree in trees]
    _note(store, moves)
    for tree, move in zip(trees, moves, strict=True):
        if move.spot == tree.spot:  # a night still ahead was told of it under cover
            store.untell(tree.name, at)
    return f"Noted: {_names(trees)} {'back home' if home else f'moved to {place}'}."


def note_stage(
    store: Store, settings: Settings, trees: Sequence[Tree], stage: str, at: datetime
) -> str:
    """Record a stage as seen; raises Fault for one that a tree of its kind does not have."""
    wanted = named("stage", stage.replace("-", " ").replace("_", " "), {s.value: s for s in Stage})
    for tree in trees:
        stages = STAGES[species_of(tree).limits.kind]
        if wanted not in stages:
            raise Fault(f"{tree.name} is never {wanted}; its stages are: {', '.join(stages)}")
    _note(store, [Sighting(tree=tree.name, at=at, stage=wanted) for tree in trees])
    return f"Noted: {_names(trees)} seen {wanted} on {_day(at, settings)}."


def note_watering(store: Store, trees: Sequence[Tree], at: datetime) -> str:
    """Record a watering till it drained."""
    _note(store, [Watering(tree=tree.name, at=at) for tree in trees])
    return f"Noted: {_names(trees)} watered."


def _note(store: Store, entries: Iterable[Entry]) -> None:
    """Keep entries, and forget what was reckoned for their trees since: it turned out otherwise."""
    noted = list(entries)
    with store.transaction():
        store.add(noted)
        for entry in noted:
            store.forget_checkpoints(entry.tree, entry.at - timedelta(hours=1))


def _names(trees: Sequence[Tree]) -> str:
    names = [tree.name for tree in trees]
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _day(moment: datetime, settings: Settings) -> str:
    day = local_day(moment, settings.garden.timezone)
    return f"{day.day} {day:%B %Y}"
