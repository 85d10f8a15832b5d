"""What helps: the least remedy that suffices by the physics, or the best there is.

A way to help is another place for the same tree. The tree is run there through the same members and
judged by the same limits as for the hazard itself.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from typing import NamedTuple

from underbench.rules.advice import remedy as table
from underbench.rules.advice.remedy import Remedy
from underbench.rules.garden.inventory import (
    Container,
    ContainerKind,
    Means,
    Spot,
    SpotKind,
)
from underbench.rules.garden.journal import Opening
from underbench.rules.garden.local_time import Stretch
from underbench.rules.hazards.findings import Finding
from underbench.rules.hazards.hazard import Help
from underbench.rules.limits.limit import MeasuredOn
from underbench.rules.physics.cover import CoverKind
from underbench.rules.physics.places import Place, place_of

FLEECE_HOLDS_TO_MS = 10.0  # more wind than this carries fleece off; common practice
TWO_PEOPLE_OVER = 2.0  # pots this many times what the keeper lifts are not carried at all
SHELTER_KINDS = (
    SpotKind.UNDER_BENCH,
    SpotKind.PLUNGE_BED,
    SpotKind.COLD_FRAME,
    SpotKind.GREENHOUSE,
    SpotKind.SHED,
    SpotKind.GARAGE,
    SpotKind.CELLAR,
    SpotKind.COOL_ROOM,
    SpotKind.INDOORS,  # a night, not a week: the plan counts what warmth costs a tree at rest
)
WARM_KINDS = (SpotKind.GREENHOUSE, SpotKind.COOL_ROOM, SpotKind.INDOORS)
BEHIND_DOORS = (SpotKind.COLD_FRAME, SpotKind.GREENHOUSE, SpotKind.SHED, SpotKind.GARAGE)


@dataclass(frozen=True, slots=True)
class Way:
    """A remedy for one tree: the place it makes, and the spot whose room it takes.

    ``indoors``: behind a door that is opened by day. ``waterings``: when the tree is watered.
    ``not_before``: when the frost outside is over, before which no bag is opened (None: it is).
    ``opened``: when somebody is there to open it then (None: nobody, or there is no frost).
    """

    remedy: Remedy
    place: Place
    spot: str | None = None
    indoors: bool = False
    waterings: tuple[datetime, ...] = ()
    not_before: datetime | None = None
    opened: Stretch | None = None

    @property
    def words(self) -> str:
        """What to do."""
        return self.remedy.told(self.spot)


def portable(container: Container, means: Means) -> bool:
    """Return whether a tree in a container can be carried, by two people if need be."""
    light = container.litres <= TWO_PEOPLE_OVER * means.lift_litres
    return light and container.kind is not ContainerKind.BED


@dataclass(frozen=True, slots=True)
class Here:
    """What there is to help one tree with: where it stands, its container, its keeper's means.

    ``gust_ms``: gust at the bench in the span; in much wind fleece is no remedy. ``opening``: how
    far the tree's bag is open already. ``water_at``: when the tree can be watered, and when again
    if once is not enough.
    """

    home: Place
    container: Container
    spots: Mapping[str, Spot]
    means: Means
    gust_ms: float = 0.0
    opening: Opening = Opening.SHUT
    water_at: tuple[datetime, ...] = ()

    @property
    def portable(self) -> bool:
        """Whether the tree can be carried."""
        return portable(self.container, self.means)

    @property
    def layers(self) -> range:
        """How many layers of fleece can be put over the tree."""
        bare = self.home.cover is CoverKind.OPEN and self.gust_ms <= FLEECE_HOLDS_TO_MS
        return range(1, self.means.fleece_layers + 1 if bare else 1)


@dataclass(frozen=True, slots=True)
class Choice:
    """The way named for a tree. ``chance`` and ``left``: the chance of harm and the worst value
    under it."""

    way: Way
    suffices: bool
    chance: float
    left: float
    measured_on: MeasuredOn
    two_people: bool


@dataclass(frozen=True, slots=True)
class Trial:
    """How a tree fares under a remedy: the chance of harm that remains, and the worst value."""

    chance: float
    left: float


def candidates(help_: Help, here: Here) -> list[Way]:
    """Return the ways this garden has to help one tree, least effort first. There are none if only
    one thing can be done, which needs no trial."""
    ways = _WAYS.get(help_)
    return ways(here) if ways else []


def otherwise(finding: Finding) -> Remedy:
    """Return the remedy that is told when no way was tried."""
    if finding.hazard.help is Help.INDOORS:
        return table.INDOORS_FOR_SEASON if finding.span.is_long else table.INDOORS
    return _UNTRIED.get(finding.hazard.help, table.SHELTER)


def _against_cold(here: Here) -> list[Way]:
    home = here.home
    shut = [
        Way(shutting, replace(home, cover=c)) for c, v, shutting, _ in _GLASS if home.cover is v
    ]
    down = _down(here, table.GROUND)
    fleeces = [Way(table.COVERED[n, False], _under(home, n)) for n in here.layers]
    both = [
        Way(table.COVERED[n, True], _under(way.place, n)) for way in down for n in here.layers[-1:]
    ]
    return [*shut, *_tied(here), *down, *fleeces, *both, *_carried_off(here)]


def _under(place: Place, layers: int) -> Place:
    return place.with_cover(layers, on_ground=False)


class _Glass(NamedTuple):
    closed: CoverKind
    vented: CoverKind
    shut: Remedy
    open: Remedy


_GLASS = (
    _Glass(CoverKind.FRAME_SHUT, CoverKind.FRAME_VENTED, table.SHUT_FRAME, table.OPEN_FRAME),
    _Glass(
        CoverKind.GREENHOUSE_SHUT,
        CoverKind.GREENHOUSE_VENTED,
        table.SHUT_GREENHOUSE,
        table.OPEN_GREENHOUSE,
    ),
)


def _against_wind(here: Here) -> list[Way]:
    return [*_tied(here), *_down(here, table.LEE), *_carried_off(here)]


def _tied(here: Here) -> list[Way]:
    """Tie the tree down to what it stands on: straps stay for the season."""
    return [Way(table.TIE, here.home)] if can_be_tied(here.container, here.home) else []


def can_be_tied(pot: Container, place: Place) -> bool:
    """Return whether a pot that stands loose at a place can be tied down there."""
    return not (pot.tied or pot.kind is ContainerKind.BED or place.height_m <= 0)


def _down(here: Here, remedy: Remedy) -> list[Way]:
    """Set the tree down on the ground where it stands: less wind, a warmer foot."""
    home = here.home
    if not here.portable or home.height_m <= 0:
        return []
    return [Way(remedy, home.on_the_ground())]


def _carried_off(here: Here) -> list[Way]:
    return _shelters(here, SHELTER_KINDS) if here.portable else []


def _shelters(here: Here, kinds: Sequence[SpotKind]) -> list[Way]:
    fitting = [
        spot
        for spot in here.spots.values()
        if spot.kind in kinds
        and spot.room
        and (spot.max_litres is None or here.container.litres <= spot.max_litres)
    ]
    fitting.sort(key=lambda spot: kinds.index(spot.kind))
    return [
        Way(table.INTO_SPOT, place_of(spot), spot.name, indoors=spot.kind in BEHIND_DOORS)
        for spot in fitting
    ]


def _shading(here: Here) -> list[Way]:
    home = here.home
    opened = [
        Way(opening, replace(home, cover=v)) for c, v, _, opening in _GLASS if home.cover is c
    ]
    half = [Way(table.HALF_SHADE, home.under_cloth(CoverKind.HALF_SHADE))]
    cloth = half if here.means.shade_cloth and not home.has_cloth else []
    shade = [Way(table.FULL_SHADE, replace(home, cover=CoverKind.FULL_SHADE))]
    return [*opened, *cloth, *(shade if here.portable else [])]


def _venting(here: Here) -> list[Way]:
    """First shade, then the bag opened further, last the bag open in the deepest shade."""
    shading = _shading(here)
    further = [Way(remedy, here.home) for remedy in (table.SLIT_BAG, table.OPEN_BAG)]
    further = further[list(Opening).index(here.opening) :]
    both = [replace(way, remedy=table.BAG_AND[way.remedy]) for way in shading[-1:] if further]
    return [*shading, *further, *both]


def after_frost(
    ways: Sequence[Way],
    frost_ends: datetime | None,
    harm_from: datetime,
    there: Sequence[Stretch],
) -> list[Way]:
    """Return the ways with bags opened when the frost outside is over.

    If the frost lasts until harm begins, none is opened, and shade is what is left. So it is if
    nobody is ``there`` between the two, unless there is no shade either.
    """
    if frost_ends is None:
        return list(ways)
    shading = [way for way in ways if way.remedy.opening is None]
    if frost_ends >= harm_from or (shading and not there):
        return shading
    opened = there[0] if there else None
    return [
        way if way.remedy.opening is None else replace(way, not_before=frost_ends, opened=opened)
        for way in ways
    ]


def _watering(here: Here) -> list[Way]:
    """A watering, two of them, and either with shade."""
    shade = replace(here.home, cover=CoverKind.FULL_SHADE)
    ways = (
        *((table.WATER, here.home), (table.WATER_TWICE, here.home)),
        *((table.WATER_SHADE, shade), (table.WATER_TWICE_SHADE, shade)),
    )
    return [
        Way(remedy, place, waterings=here.water_at[: remedy.waters])
        for remedy, place in ways
        if remedy.waters <= len(here.water_at) and (here.portable or not remedy.carries)
    ]


_WAYS: dict[Help, Callable[[Here], list[Way]]] = {
    Help.COVER: _against_cold,
    Help.INDOORS: lambda here: _shelters(here, WARM_KINDS),
    Help.WINDBREAK: _against_wind,
    Help.SHADE: _shading,
    Help.VENT: _venting,
    Help.WATER: _watering,
}
_UNTRIED = {
    Help.WATER: table.WATER,
    Help.WATER_ONCE: table.WATER,
    Help.WET_MOSS: table.WET_MOSS,
    Help.LIGHT: table.LIGHT,
    Help.ROOF: table.ROOF,
}


def _misery(finding: Finding) -> Callable[[tuple[Way, Trial]], tuple[float, float]]:
    """How little a remedy helps: the chance of harm that remains, then the worst value."""
    sign = -1.0 if finding.hazard.low else 1.0
    return lambda pair: (pair[1].chance, sign * pair[1].left)


def choose(
    ordered: Sequence[tuple[Finding, Sequence[Way]]],
    trial: Callable[[int, int], Trial],
    containers: Mapping[str, Container],
    spots: Mapping[str, Spot],
    means: Means,
    act_from: Mapping[str, float],
) -> dict[str, Choice]:
    """Return the choice for each tree. ``ordered`` has the tree most at risk first; it is served
    first.

    ``trial(i, j)`` tells how finding i fares under its j-th way. Room in a shelter goes first to
    trees that it saves. The rest goes to trees that it only helps.
    """
    room = {spot.name: spot.room or 0 for spot in spots.values()}
    chosen: dict[str, Choice] = {}

    def serve(index: int, only_enough: bool) -> None:
        finding, ways = ordered[index]
        trials = [
            (way, trial(index, number))
            for number, way in enumerate(ways)
            if way.spot is None or room[way.spot] > 0
        ]
        enough = [pair for pair in trials if pair[1].chance < act_from[finding.tree]]
        if not trials or (only_enough and not enough):
            return
        way, outcome = enough[0] if enough else min(trials, key=_misery(finding))
        if way.spot:
            room[way.spot] -= 1
        heavy = way.remedy.carries and containers[finding.tree].litres > means.lift_litres
        kind = finding.limit.measured_on
        chosen[finding.tree] = Choice(way, bool(enough), outcome.chance, outcome.left, kind, heavy)

    for only_enough in (True, False):
        for index, (finding, _) in enumerate(ordered):
            if finding.tree not in chosen:
                serve(index, only_enough)
    return chosen
