"""Writes works into the journal: what was done, what it asks for, what speaks against it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from pydantic import TypeAdapter, ValidationError

from underbench.daemon.config.defaults import BED_LITRES, MAKES
from underbench.daemon.config.limits_table import NameOfOne
from underbench.daemon.config.settings import Settings
from underbench.daemon.faults import Fault
from underbench.daemon.journal.expecting import expected_lines
from underbench.daemon.journal.lookup import first_name, named, plain
from underbench.daemon.journal.noting import HOME, answered, day_words, keep, listed
from underbench.daemon.outlook.garden_now import journal_at, setting_of, species_of
from underbench.daemon.store.store import Checkpoint, Store
from underbench.daemon.wording.units import Units
from underbench.rules.course.course import stages_at
from underbench.rules.garden.inventory import Container, ContainerKind, OwnLimits, Tree
from underbench.rules.garden.journal import Entry, Film, Sighting, Stage, TreeAt, Work, fold
from underbench.rules.garden.local_time import local_day
from underbench.rules.garden.works import On, WorkKind
from underbench.rules.limits.aftercare import SHADE_AFTER_BAG, care_of
from underbench.rules.physics import state as states
from underbench.rules.planning.misgivings import Misgiving, misgiving, possible_stages

NO_NAME = "--as: expected a name of 1 to 40 characters, all of them seen, and not all or home"
_NAME: TypeAdapter[str] = TypeAdapter(NameOfOne)  # a name as the file allows it
LAYER_CARE = (
    "Support the stem it is on. Look at the moss every week or two, and note it when you wet it "
    "(watered --moss)."
)
LAYER_LITRES = 3.0  # a freshly severed layer goes into a nursery can; common practice
LAYER_SHARE = 0.5  # of the parent's height and crown; a division keeps all. Judgement
KNOWN_FOR = timedelta(days=2)  # a stage older than this may have passed
SEEN_FOR = timedelta(days=14)

# One plain caution each: what is wrong, then what to do about it.
CAUTIONS = {
    Misgiving.ROOTS_OUT_OF_SEASON: "{tree} bears root work badly at this time of its year: out of "
    "sun and wind, misted, and free of frost until new growth shows.",
    Misgiving.ROOTS_TOO_MANY: "That is more root than {tree} usually bears losing at once: out of "
    "sun and wind, and free of frost until new growth shows.",
    Misgiving.CHOP_NEVER: "{tree} seldom buds from bare wood: keep what green it has, water "
    "sparingly, feed nothing until it moves.",
    Misgiving.CHOP_OUT_OF_SEASON: "{tree} is best chopped when the sap rises or on hard summer "
    "leaves: seal the cut well, out of strong sun and frost.",
    Misgiving.BAG_NEVER: "{tree} is never to be bagged: it rots in a bag. Take it off today.",
    Misgiving.DEFOLIATED_SOFT: "{tree} had soft leaves and little stored: out of strong sun, and "
    "no more cutting this year.",
    Misgiving.DEFOLIATE_NEVER: "{tree} is never to be stripped: a conifer lives on its needles. "
    "Leave every one that is left.",
    Misgiving.LAYER_AT_REST: "{tree} makes no roots while at rest: they come once its leaves are "
    "out and hard. Keep the moss damp, and out of hard frost.",
    Misgiving.SEVERED_LATE: "{tree} has fewer than eight weeks left before the frosts: keep its "
    "roots free of frost all winter.",
}


@dataclass(frozen=True, slots=True)
class Told:
    """What the keeper told about a work besides its kind."""

    roots_pct: float | None = None
    film: Film | None = None
    into: ContainerKind | None = None
    litres: float | None = None
    new_name: str | None = None


def work_named(name: str) -> WorkKind:
    """Return the kind of work; hyphens and spaces are the same; raises Fault."""
    return named("work", plain(name), {work.value: work for work in WorkKind})


def work_first(words: Sequence[str]) -> tuple[WorkKind, Sequence[str]]:
    """Split words into a work, which may have several, and the words after it; raises Fault."""
    works = {work.value for work in WorkKind}
    name, rest = first_name(words, lambda name: plain(name).casefold() in works)
    kind = work_named(name)
    if not rest:
        raise Fault(f"expected {typed(kind)} and then a tree, such as: did {typed(kind)} Ember")
    return kind, rest


def container_named(name: str) -> ContainerKind:
    """Return the kind of container; hyphens and spaces are the same; raises Fault."""
    return named("container", plain(name), {kind.value: kind for kind in ContainerKind})


def typed(kind: WorkKind) -> str:
    """Return a work as it is typed on a command line."""
    return kind.replace(" ", "-")


def note_work(
    store: Store,
    settings: Settings,
    trees: Sequence[Tree],
    kind: WorkKind,
    at: datetime,
    told: Told,
) -> str:
    """Record a work; return what it asks for, with one caution if the time is bad.

    Raises Fault for details that do not go together, and for a bag that is not there.
    """
    _check(trees, kind, told)
    journal = journal_at(settings, store, at)
    standing = [fold(tree, journal, at) for tree in trees]
    _need(kind, standing, settings, at)
    kept = store.checkpoints.before(at)
    against = [_against(settings, tree, kind, at, told, journal, kept) for tree in trees]
    works = [
        _work(one, kind, at, told, settings, risky=doubt is not None)
        for one, doubt in zip(standing, against, strict=True)
    ]
    made = [work.makes for work in works if work.makes]
    as_own = [
        work.model_copy(update={"tree": work.makes.name, "makes": None, "into": None})
        for work in works
        if work.makes
    ]
    with store.transaction():
        keep(store, [*works, *as_own, *_seen_on_parents(standing, works)])
        answered(store, settings, works)
    lines = [f"Noted for {listed(trees)}: {kind} on {day_words(at, settings)}."]
    lines += _unlayered(kind, standing)
    lines += [_new_tree(tree, settings) for tree in made]
    lines += _cautions([(made or trees)[i].name for i in range(len(trees))], against)
    first = (as_own or works)[0]
    kind_of_plant = species_of((made or trees)[0]).limits.kind
    lines += _asked(first, settings)
    return "\n".join(lines + expected_lines(first, kind_of_plant, settings))


def _seen_on_parents(standing: Sequence[TreeAt], works: Sequence[Work]) -> list[Sighting]:
    """A parent's last sighting, for the tree made of it: it has the same wood and leaves."""
    return [
        one.sighting.model_copy(update={"tree": work.makes.name})
        for one, work in zip(standing, works, strict=True)
        if work.makes and one.sighting
    ]


def _check(trees: Sequence[Tree], kind: WorkKind, told: Told) -> None:
    if told.film and kind is not WorkKind.BAG:
        raise Fault(f"--film {told.film}: goes with bag only, not with {kind}")
    if (told.into or told.litres) and not kind.does.opens_pot:
        raise Fault(f"--into and --litres go with work on roots, not with {kind}")
    if told.new_name is None:
        if kind is WorkKind.SEVER_LAYER and (told.into or told.litres):
            raise Fault("--into and --litres: name the tree that the layer became too, with --as")
        return
    if not kind.does.makes_tree:
        raise Fault(f"--as {told.new_name}: goes with sever-layer and divide, not with {kind}")
    if len(trees) != 1:
        raise Fault(f"--as {told.new_name}: name one tree, the one it comes from")


def _need(kind: WorkKind, standing: Sequence[TreeAt], settings: Settings, at: datetime) -> None:
    """Raise Fault if a tree lacks what the work is done to: most likely it is the wrong tree."""
    for one in standing:
        lacks = lacking(kind, one)
        if lacks:
            on = day_words(at, settings)
            raise Fault(f"{one.tree.name} had no {lacks} on {on}; record its {lacks} first")


def lacking(kind: WorkKind, standing: TreeAt) -> str | None:
    """Return what a tree needs on it for a work and lacks; None when nothing is missing."""
    last = standing.last(WorkKind.WIRE, WorkKind.UNWIRE)
    wired = last is not None and last.work is WorkKind.WIRE
    there = {On.BAG: standing.bag, On.LAYER: standing.layer, On.WIRE: wired or None}
    needs = kind.does.needs
    return needs if needs and there[needs] is None else None


def _work(
    one: TreeAt, kind: WorkKind, at: datetime, told: Told, settings: Settings, *, risky: bool
) -> Work:
    pot = _container(one.tree.container, told)
    makes = None if told.new_name is None else _made(one, kind, pot, told.new_name, settings)
    return Work(
        tree=one.tree.name,
        at=at,
        work=kind,
        roots_pct=told.roots_pct,
        film=told.film,
        into=None if makes else pot,
        makes=makes,
        risky=risky,
    )


def _container(before: Container, told: Told) -> Container | None:
    """The container it went into: as told, else like the one before; None if nothing was told."""
    if told.into is None and told.litres is None:
        return None
    kind = told.into or before.kind
    litres = told.litres or before.litres
    if told.litres is None and kind != before.kind and ContainerKind.BED in (kind, before.kind):
        if kind is not ContainerKind.BED:
            raise Fault(f"--into {kind}: how big is it? Give --litres, or --gallons")
        litres = BED_LITRES
    if told.into is None:
        return Container.model_validate({**before.model_dump(), "litres": litres})
    return Container(kind=kind, litres=litres, **MAKES[kind]._asdict())


def _made(
    one: TreeAt, kind: WorkKind, pot: Container | None, name: str, settings: Settings
) -> Tree:
    """The tree that a layer or a division becomes; it stands where its parent does."""
    try:
        name = _NAME.validate_python(name)
    except ValidationError:
        raise Fault(NO_NAME) from None
    if name.casefold() in {tree.name.casefold() for tree in settings.trees}:
        raise Fault(f"--as {name}: there is a tree of that name already")
    if name.casefold() in {HOME, *(spot.casefold() for spot in settings.spots)}:
        raise Fault(f"--as {name}: that is the name of a spot")
    parent, layer = one.tree, kind is WorkKind.SEVER_LAYER
    share = LAYER_SHARE if layer else 1.0
    if pot is None and layer:
        make = MAKES[ContainerKind.NURSERY_CAN]
        pot = Container(kind=ContainerKind.NURSERY_CAN, litres=LAYER_LITRES, **make._asdict())
    return parent.model_copy(
        update={
            "name": name,
            "container": pot or parent.container,
            "spot": one.spot,
            "height_cm": max(1.0, round(share * parent.height_cm)),
            "crown_cm": max(1.0, round(share * parent.crown_cm)),
            "parent": parent.name,
            # Limits of its kind and spot are laid on anew; the parent's own limits are not its own.
            "limits": OwnLimits(),
            "kin_limits": (),
            "act_from": None,
            "kill_from": None,
            "flowers_from": None,
        }
    )


def _against(
    settings: Settings,
    tree: Tree,
    kind: WorkKind,
    at: datetime,
    told: Told,
    journal: Sequence[Entry],
    kept: Mapping[str, Checkpoint],
) -> Misgiving | None:
    limits = species_of(tree).limits
    day = local_day(at, settings.garden.timezone)
    latitude = settings.garden.latitude
    stage = _stage(settings, tree, at, journal, kept.get(tree.name))
    stages = possible_stages(limits, day, latitude) if stage is None else (stage,)
    return misgiving(kind, told.roots_pct, limits, stages, day, latitude)


def _stage(
    settings: Settings,
    tree: Tree,
    at: datetime,
    journal: Sequence[Entry],
    kept: Checkpoint | None,
) -> Stage | None:
    """The stage a tree was at, from its state carried then; None when that is unknown."""
    if kept is None or at - kept.at > KNOWN_FOR:
        seen = fold(tree, journal, at).sighting
        return seen.stage if seen and at - seen.at <= SEEN_FOR else None
    try:
        state = states.from_text(kept.state)
    except ValueError:
        return None
    return stages_at(setting_of(settings), [tree], journal, state, at)[0]


def _new_tree(tree: Tree, settings: Settings) -> str:
    pot, units = tree.container, Units(settings.units)
    return (
        f"{tree.name} is a tree of its own now, from {tree.parent}: {units.volume(pot.litres)} "
        f"{pot.kind}, {units.length(tree.height_cm)} high, at {tree.spot}. "
        "If that is not so, write it into the configuration under that name."
    )


def _unlayered(kind: WorkKind, standing: Sequence[TreeAt]) -> list[str]:
    """A layer may be older than the journal, so severing it is noted, with a question."""
    bare = [one.tree for one in standing if one.layer is None]
    if kind is not WorkKind.SEVER_LAYER or not bare:
        return []
    return [f"No layer was noted on {listed(bare)} before: take this back if it is another tree."]


def _cautions(names: Sequence[str], against: Sequence[Misgiving | None]) -> list[str]:
    by_doubt: dict[Misgiving, list[str]] = {}
    for name, doubt in zip(names, against, strict=True):
        if doubt is not None:
            by_doubt.setdefault(doubt, []).append(name)
    return [CAUTIONS[doubt].format(tree=", ".join(own)) for doubt, own in by_doubt.items()]


def _asked(work: Work, settings: Settings) -> list[str]:
    care, units = care_of(work), Units(settings.units)
    lines = []
    if care and care.root_floor_c is not None:
        until = day_words(work.at + timedelta(weeks=care.root_weeks), settings)
        lines.append(
            f"Root ball no colder than {units.temp(care.root_floor_c)} until roots have taken, "
            f"not before {until}."
        )
    if care and care.shelter_weeks:
        until = day_words(work.at + timedelta(weeks=care.shelter_weeks), settings)
        lines.append(f"Out of strong sun and wind until {until}.")
    if work.work is WorkKind.START_LAYER:
        lines.append(LAYER_CARE)
    if work.work is WorkKind.OPEN_BAG:
        until = day_words(work.at + SHADE_AFTER_BAG, settings)
        lines.append(f"Out of strong sun until {until}; the bag off after a week.")
    return lines
