"""The one-page sheet for whoever looks after the garden: what stands where, and what to do when.

It asks for the same as the messages do. The cautions are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from underbench.daemon.config.settings import Settings
from underbench.daemon.journal.noting import day_words
from underbench.daemon.wording.units import Units
from underbench.rules.advice.remedies import SHELTER_KINDS, WARM_KINDS
from underbench.rules.garden.inventory import Routine
from underbench.rules.garden.journal import Opening, Stage, TreeAt
from underbench.rules.limits.aftercare import care_of

SOFT = (Stage.LEAFING_OUT.value, Stage.EXTENDING.value)
A_YEAR = ((1, 1), (12, 31))

SIGNS = (
    ("PROTECT", "Before the time it names: down on the ground, fleece, or in, as it says. Fleece "
     "has to reach the ground and stay clear of leaves. No fleece in a gale: carry instead."),
    ("SHADE", "Into open shade by the time named; open a shut frame or greenhouse. Wet the pot."),
    ("VENT", "A tree in a bag: shade it first, then slit or open the bag, as it says."),
    ("WATER", "Feel the mix with a finger. If it is dry, water till it drains."),
    ("LET OUT", "Out of the dark, into open shade by day; in again before a cold night."),
    ("STILL TO DO", "The same job once more: time is short."),
    ("STAND DOWN", "Not needed after all: leave the trees as they are."),
    ("BACK OUT", "Carry home what you carried in."),
)  # fmt: skip
CAUTIONS = (
    "A tree is not worth a back: heavy pots take two people, with straight backs.",
    "Clear and grit the path before dark. Carry nothing over ice.",
    "No flame, paraffin or gas heater in a closed frame, shed or greenhouse: fire, bad air.",
    "A frozen root ball is no alarm by itself: leave it, out of sun and wind. No heat.",
    "Prune nothing, feed nothing, repot nothing.",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Standing:
    """A spot, the trees on it, and the tender ones by reason."""

    spot: str
    trees: tuple[str, ...]
    tender: Mapping[str, Sequence[str]]


@dataclass(frozen=True, slots=True)
class Sheet:
    """What the sheet says, in words."""

    garden: str
    made: str
    hours: tuple[str, ...]
    spots: tuple[Standing, ...]
    shelters: tuple[str, ...]
    help: tuple[str, ...]
    watering: tuple[str, ...]
    signs: Sequence[tuple[str, str]] = SIGNS
    cautions: Sequence[str] = CAUTIONS


def sheet_of(
    settings: Settings, standing: Sequence[TreeAt], stages: Mapping[str, str], now: datetime
) -> Sheet:
    """Return the sheet as of ``now``. ``stages`` are by tree, as far as known."""
    alive = [at for at in standing if not at.lost]
    return Sheet(
        garden=settings.garden.name,
        made=day_words(now, settings),
        hours=tuple(_stand_ins(settings, now)),
        spots=tuple(_spots(settings, alive, stages, now)),
        shelters=tuple(_shelters(settings)),
        help=tuple(_help(settings)),
        watering=tuple(_routine(routine) for routine in settings.routines),
    )


def _spots(
    settings: Settings, standing: Sequence[TreeAt], stages: Mapping[str, str], now: datetime
) -> Iterator[Standing]:
    for spot in settings.spots:
        here = [at for at in standing if at.spot == spot]
        if here:
            why: dict[str, list[str]] = {}
            for at in here:
                for reason in _tender(at, stages, settings, now):
                    why.setdefault(reason, []).append(at.tree.name)
            yield Standing(spot, tuple(at.tree.name for at in here), why)


def _tender(
    at: TreeAt, stages: Mapping[str, str], settings: Settings, now: datetime
) -> Iterator[str]:
    units = Units(settings.units)
    if stages.get(at.tree.name) in SOFT:
        yield f"{stages[at.tree.name]}, tender in frost and in dry wind"
    for work in at.works:
        care = care_of(work)
        until = work.at + timedelta(weeks=max(care.root_weeks, care.shelter_weeks)) if care else now
        if care and until > now:
            asks = []
            if care.root_floor_c is not None:
                asks.append(f"root ball no colder than {units.temp(care.root_floor_c)}")
            if care.shelter_weeks:
                asks.append("out of strong sun and wind")
            told = f"{work.work} on {day_words(work.at, settings)}"
            yield f"{told}, {', '.join(asks)}" if asks else told
    if at.bag:
        shut = "" if at.bag.opening is Opening.SHUT else f", {at.bag.opening}"
        yield f"in a {at.bag.film} bag{shut}, never in hot sun"
    if at.layer:
        yield "a layer is rooting on it, keep its moss damp and do not lift it by that branch"
    if at.tree.container.litres > settings.means.lift_litres:
        yield f"heavy ({units.volume(at.tree.container.litres)}), two people"


def _shelters(settings: Settings) -> Iterator[str]:
    for spot in settings.spots.values():
        if spot.kind in (*SHELTER_KINDS, *WARM_KINDS):
            kind = f" ({spot.kind})" if spot.kind.value not in spot.name else ""
            room = f", room for {spot.room}" if spot.room is not None else ""
            yield f"{spot.name}{kind}{room}"


def _help(settings: Settings) -> Iterator[str]:
    layers = settings.means.fleece_layers
    if layers:
        yield f"Fleece, {'one layer' if layers == 1 else 'two layers'}, is kept:"
    if settings.means.shade_cloth:
        yield "Shade cloth is kept:"
    yield "The key and the tap are:"


def _routine(routine: Routine) -> str:
    times = " and ".join(f"{time:%H:%M}" for time in routine.times)
    often = "Each day" if routine.every_days == 1 else f"Every {routine.every_days} days"
    if routine.as_needed:
        often = f"{often}, only what is dry and not frozen,"
    season = ""
    if (routine.first, routine.last) != A_YEAR:
        season = f", {_day(routine.first)} to {_day(routine.last)}"
    return f"{often} at {times}{season}."


def _day(day: tuple[int, int]) -> str:
    return f"{day[1]} {datetime(2000, *day):%B}"


def _stand_ins(settings: Settings, now: datetime) -> Iterator[str]:
    for one in settings.hands_on.stand_ins:
        days = [stretch for stretch in one.days if stretch.last >= now.date()]
        told = ", ".join(f"{s.first.day} {s.first:%B} to {s.last.day} {s.last:%B}" for s in days)
        if told:
            yield f"{one.name}: {told}" + ("" if one.waters else " (does not water)")
