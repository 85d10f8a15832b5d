"""Writes moves, sightings and waterings into the journal, and marks what they answer as done."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from difflib import SequenceMatcher

from underbench.daemon.config.settings import Settings
from underbench.daemon.faults import Fault
from underbench.daemon.journal.lookup import (
    first_name,
    named,
    names_in,
    plain,
    spot_named,
    tree_named,
)
from underbench.daemon.outlook.garden_now import journal_at, species_of
from underbench.daemon.store.episodes import HANDLED, TOLD, EpisodeRow
from underbench.daemon.store.store import Store
from underbench.rules.advice.remedies import SHELTER_KINDS, WARM_KINDS
from underbench.rules.advice.remedy import Remedy, remedy_of
from underbench.rules.garden.inventory import Tree
from underbench.rules.garden.journal import (
    Entry,
    Flower,
    FlowersSeen,
    Handled,
    Move,
    Opening,
    Sighting,
    Stage,
    Watering,
    Work,
    fold,
)
from underbench.rules.garden.local_time import NOON, local_day, local_moment
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards import hazard_of
from underbench.rules.hazards.hazard import Action, Help
from underbench.rules.plants.species_lookup import find
from underbench.rules.plants.stages import STAGES

HOME = "home"
EARLIEST_YEAR = 1970
LIKE_A_SPOT = 0.6  # difflib's own cutoff for close matches
A_DAY = timedelta(days=1)
IN_OTHER_WORDS = {
    "bloom": Flower.OPEN,
    "blooming": Flower.OPEN,
    "in bloom": Flower.OPEN,
    "in flower": Flower.OPEN,
    "petals falling": Flower.FALLING,
    "fruit set": Flower.FRUIT,
}
_OPENS = {
    WorkKind.SLIT_BAG: Opening.SLIT,
    WorkKind.OPEN_BAG: Opening.OPEN,
    WorkKind.UNBAG: Opening.OPEN,
}


def trees_named(settings: Settings, names: Sequence[str]) -> list[Tree]:
    """Return the trees of those names, each once, in the order named; raises Fault. A name may come
    as several words."""
    known = {tree.name.casefold() for tree in settings.trees}
    whole = names_in(names, lambda name: name.casefold() in known)
    return list({(tree := tree_named(settings, name)).name: tree for name in whole}.values())


def trees_meant(store: Store, settings: Settings, names: Sequence[str], at: datetime) -> list[Tree]:
    """Return the trees that names of trees, spots and species mean, each once; raises Fault.

    A spot means all trees that stand there at ``at``; a species means all trees of that kind. A
    name of several words may come as one word or as several.
    """
    found = [
        tree
        for name in names_in(names, lambda name: bool(_meant(store, settings, name, at)))
        for tree in _meant(store, settings, name, at) or [tree_named(settings, name)]
    ]
    return list({tree.name: tree for tree in found}.values())


def _meant(store: Store, settings: Settings, name: str, at: datetime) -> list[Tree]:
    """The trees of one name: a tree's, else a spot's, else a species'; empty if it is unknown."""
    wanted = name.casefold()
    own = [tree for tree in settings.trees if tree.name.casefold() == wanted]
    if own:
        return own
    if wanted in {spot.casefold() for spot in settings.spots}:
        journal = journal_at(settings, store, at)
        there = [t for t in settings.trees if fold(t, journal, at).spot.casefold() == wanted]
        if not there:
            raise Fault(f"no tree stands on {name}")
        return there
    kind = find(name)
    return [tree for tree in settings.trees if kind and find(tree.species) == kind]


def moment_of(day: str | None, settings: Settings) -> datetime:
    """Return when it was: now without a day, else noon of that local day (now, if noon is ahead).

    Raises Fault for what is no day, or a day yet to come.
    """
    return moment_on("--on", day, settings, datetime.now(UTC))


def moment_on(option: str, day: str | None, settings: Settings, now: datetime) -> datetime:
    """Return the same as `moment_of`, with ``now`` and the name of the day's ``option`` given."""
    now = now.replace(microsecond=0)
    if not day:
        return now
    zone = settings.garden.timezone
    return min(now, local_moment(day_gone(option, day, local_day(now, zone)), NOON, zone))


def day_gone(option: str, day: str, today: date) -> date:
    """Return the day given to an option; raises Fault for what is no day, or yet to come."""
    try:
        wanted = date.fromisoformat(day)
    except ValueError:
        raise Fault(f"{option} {day}: expected a day like 2027-04-20") from None
    if wanted.year < EARLIEST_YEAR:
        raise Fault(f"{option} {day}: expected a day since {EARLIEST_YEAR}")
    if wanted > today:
        raise Fault(f"{option} {day}: that day has yet to come; record it when it is done")
    return wanted


def spot_at_the_end(settings: Settings, words: Sequence[str]) -> tuple[Sequence[str], str]:
    """Split words into tree names and the spot at their end, which may have several words."""
    spots = {name.casefold() for name in settings.spots}
    for first in range(1, len(words)):
        spot = " ".join(words[first:])
        if spot.casefold() in spots:
            return words[:first], spot
    # A misspelt spot is still meant: take the words after the trees, else those most like a spot.
    trees = {tree.name.casefold() for tree in settings.trees}
    first = next((n for n, word in enumerate(words) if word.casefold() not in trees), 0)
    if first == 0:
        first = max(range(1, len(words)), key=lambda n: _likeness(words[n:], spots), default=0)
        if _likeness(words[first:], spots) < LIKE_A_SPOT:
            first = len(words) - 1
    return words[:first], " ".join(words[first:])


def _likeness(words: Sequence[str], spots: Iterable[str]) -> float:
    said = " ".join(words).casefold()
    return max(SequenceMatcher(None, said, spot).ratio() for spot in (*spots, HOME))


def note_move(
    store: Store, settings: Settings, trees: Sequence[Tree], spot: str, at: datetime
) -> str:
    """Record that trees were carried to a spot, or each one to its home spot."""
    home = spot.casefold() == HOME
    place = None if home else spot_named(settings, spot).name
    moves = [Move(tree=tree.name, at=at, spot=place or tree.spot) for tree in trees]
    with store.transaction():
        keep(store, moves)
        for tree, move in zip(trees, moves, strict=True):
            if move.spot == tree.spot:  # a night ahead was told for it under cover
                store.episodes.untell(tree.name, at)
        answered(store, settings, moves)
    return f"Noted: {listed(trees)} {'back home' if home else f'moved to {place}'}."


def stage_first(words: Sequence[str]) -> tuple[str, Sequence[str]]:
    """Split words into a stage, which may have two, and the trees after it; raises Fault."""
    stages = {stage.value for stage in Stage}
    stage, trees = first_name(words, lambda name: plain(name).casefold() in stages)
    if not trees:
        raise Fault("seen: expected a stage and then trees, such as: seen leafing-out Ember")
    return stage, trees


def cover(tree: str, at: datetime, spot: str, remedy: Remedy) -> Move:
    """Return the note of what was done, as told, with a tree that stays where it stands."""
    return Move(
        tree=tree,
        at=at,
        spot=spot,
        layers=remedy.layers,
        on_ground=remedy.on_ground,
        cloth=remedy.cloth,
        tied=remedy.ties,
    )


def move_words(move: Move) -> str:
    """Return what was done with a tree, in a few words."""
    if move.adds:
        return f"{'shaded' if move.cloth else 'tied down'} at {move.spot}"
    return f"{'covered at' if move.covers else 'moved to'} {move.spot}"


def note_stage(
    store: Store, settings: Settings, trees: Sequence[Tree], stage: str, at: datetime
) -> str:
    """Record a stage of leaves or flowers as seen; raises Fault for one that a tree does not
    have."""
    said = plain(stage).casefold()
    wanted = named("stage", said, {s.value: s for s in (*Stage, *Flower)} | IN_OTHER_WORDS)
    if isinstance(wanted, Flower):
        return _note_flowers(store, settings, trees, wanted, at)
    for tree in trees:
        stages = STAGES[species_of(tree).limits.kind]
        if wanted not in stages:
            raise Fault(f"{tree.name} is never {wanted}; its stages are: {', '.join(stages)}")
    keep(store, [Sighting(tree=tree.name, at=at, stage=wanted) for tree in trees])
    return f"Noted: {listed(trees)} seen {wanted} on {day_words(at, settings)}."


def _note_flowers(
    store: Store, settings: Settings, trees: Sequence[Tree], flower: Flower, at: datetime
) -> str:
    for tree in trees:
        if species_of(tree).limits.open_flower is None:
            raise Fault(f"{tree.name}: nothing is known of flowers of {species_of(tree).name}")
    keep(store, [FlowersSeen(tree=tree.name, at=at, stage=flower) for tree in trees])
    return f"Noted: {listed(trees)} seen {flower} on {day_words(at, settings)}."


def note_watering(
    store: Store, settings: Settings, trees: Sequence[Tree], at: datetime, *, moss: bool = False
) -> str:
    """Record a watering till it drained, or of layers' ``moss``; raises Fault without a layer."""
    entries = store.journal.entries(at) if moss else []
    for tree in trees if moss else ():
        if fold(tree, entries, at).layer is None:
            raise Fault(f"{tree.name} has no layer on it; record its start-layer first")
    waterings = [Watering(tree=tree.name, at=at, moss=moss) for tree in trees]
    with store.transaction():
        keep(store, waterings)
        answered(store, settings, waterings)
    return f"Noted: {'moss on ' if moss else ''}{listed(trees)} watered."


def keep(store: Store, entries: Iterable[Entry]) -> None:
    """Keep entries, and forget what was reckoned for their trees since, because it is outdated."""
    noted = list(entries)
    with store.transaction():
        store.journal.add(noted)
        for entry in noted:
            store.checkpoints.forget(entry.tree, entry.at - timedelta(hours=1))


def note(store: Store, settings: Settings, entries: Sequence[Entry]) -> None:
    """Keep entries, and mark the jobs that they do as handled."""
    if entries:
        with store.transaction():
            keep(store, entries)
            answered(store, settings, entries)


def answered(store: Store, settings: Settings, entries: Sequence[Entry]) -> None:
    """Mark the told jobs that these ``entries`` do as handled. Otherwise silence would count as a
    job still to do."""
    zone = settings.garden.timezone
    rows = store.episodes.since(min(entry.at for entry in entries))
    store.episodes.put(
        handled(row, entry.at)
        for entry in entries
        for row in rows
        if row.tree == entry.tree
        and still_to_do(row, entry.at, zone)
        and _answers(entry, row, settings)
    )


def still_to_do(row: EpisodeRow, at: datetime, timezone: str) -> bool:
    """Whether a job was told by the local day of ``at``, and nobody has said that it is done.

    The keeper may say so the morning after, until the span ends.
    """
    if row.told_at is None or row.handled_at is not None:
        return False
    told = local_day(row.told_at, timezone) <= local_day(at, timezone)
    return told and at < row.span_end and at - A_DAY < row.until_at


def handled(row: EpisodeRow, at: datetime) -> EpisodeRow:
    """Return a told episode as done at ``at``, or at its telling if that came later."""
    state = HANDLED if row.state == TOLD else row.state
    return replace(row, state=state, handled_at=max(at, row.told_at or at))


def _answers(entry: Entry, row: EpisodeRow, settings: Settings) -> bool:
    """Whether ``entry`` does what was told, or as good: any shelter will do for frost or gale."""
    remedy = remedy_of(row.remedy)
    if isinstance(entry, Handled):
        return True
    if isinstance(entry, Move):
        return _moved_as_told(entry, row, settings)
    if isinstance(entry, Watering):
        return row.action == Action.WATER and entry.moss == remedy.wets_moss
    if isinstance(entry, Work) and row.action == Action.VENT:
        opened = _OPENS.get(entry.work)
        return opened is not None and opened.as_far_as(remedy.opening or Opening.OPEN)
    return False


def _moved_as_told(move: Move, row: EpisodeRow, settings: Settings) -> bool:
    if move.adds:
        told = remedy_of(row.remedy)
        return (move.cloth and told.cloth) or (move.tied and told.ties)
    if row.action == Action.LIGHT:
        return not settings.spots[move.spot].is_dark
    into = settings.spots[move.spot].kind
    warm = hazard_of(row.hazard).help is Help.INDOORS
    shelters = WARM_KINDS if warm else (*SHELTER_KINDS, *WARM_KINDS)
    there = move.spot == row.into_spot or into in shelters or move.covers
    return row.action == Action.PROTECT and there


def listed(trees: Sequence[Tree]) -> str:
    """Return the names of trees as a sentence lists them."""
    return in_a_sentence([tree.name for tree in trees])


def in_a_sentence(names: Sequence[str]) -> str:
    """Return names as a sentence lists them."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def day_words(moment: datetime, settings: Settings) -> str:
    """Return the local day of a moment, in words."""
    day = local_day(moment, settings.garden.timezone)
    return f"{day.day} {day:%B %Y}"
