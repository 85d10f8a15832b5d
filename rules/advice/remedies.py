"""What helps: the least remedy that the physics shows suffices, or the best there is.

A remedy is another place for the same tree. It is judged by running the tree there through the
same members and the same limits as the hazard itself.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from underbench.rules.garden.inventory import (
    Container,
    ContainerKind,
    Means,
    Spot,
    SpotKind,
    Standing,
)
from underbench.rules.garden.journal import Opening
from underbench.rules.hazards.findings import Finding
from underbench.rules.hazards.hazard import Help
from underbench.rules.limits.limit import MeasuredOn
from underbench.rules.physics.cover import CoverKind
from underbench.rules.physics.places import Place, place_of

FLEECE_HOLDS_TO_MS = 10.0  # in more wind than this fleece is carried off; common practice
TWO_PEOPLE_OVER = 2.0  # pots this many times what the keeper lifts are not carried at all
SHELTER_KINDS = (SpotKind.UNDER_BENCH, SpotKind.COLD_FRAME, SpotKind.GREENHOUSE, SpotKind.SHED)
WARM_KINDS = (SpotKind.GREENHOUSE, SpotKind.INDOORS)
BEHIND_DOORS = (SpotKind.COLD_FRAME, SpotKind.GREENHOUSE, SpotKind.SHED)


@dataclass(frozen=True, slots=True)
class Remedy:
    """One way to help: the words for it, the place it makes, the spot whose room it takes.

    ``indoors``: behind a door that is opened by day; ``opening`` how far its bag is opened;
    ``waterings`` when it is watered.
    """

    words: str
    place: Place
    takes_room_in: str | None = None
    carries: bool = False
    opening: Opening | None = None
    indoors: bool = False
    waterings: tuple[datetime, ...] = ()


@dataclass(frozen=True, slots=True)
class Choice:
    """The remedy named for a tree; ``chance`` of harm and worst value ``left`` under it."""

    remedy: Remedy
    suffices: bool
    chance: float
    left: float
    measured_on: MeasuredOn
    two_people: bool


@dataclass(frozen=True, slots=True)
class Trial:
    """How a tree fares under a remedy: the chance of harm left, and the worst value."""

    chance: float
    left: float


def candidates(
    finding: Finding,
    home: Place,
    container: Container,
    spots: Mapping[str, Spot],
    means: Means,
    gust_ms: float,
    opening: Opening = Opening.SHUT,
) -> list[Remedy]:
    """Return the remedies this garden has for a finding, least effort first.

    ``gust_ms``: at the bench in the span; in much wind fleece is no remedy. ``opening``: how far
    the bag of a bagged tree is open already.
    """
    if gust_ms > FLEECE_HOLDS_TO_MS:
        means = means.model_copy(update={"fleece_layers": 0})
    portable = (
        container.litres <= TWO_PEOPLE_OVER * means.lift_litres
        and container.kind is not ContainerKind.BED
    )
    if finding.hazard.help is Help.INDOORS:
        return _shelters(spots, container, WARM_KINDS)
    shelters = _shelters(spots, container, SHELTER_KINDS) if portable else []
    if finding.hazard.help is Help.COVER:
        return [*_cold_in_place(home, means, portable), *shelters]
    if finding.hazard.help in (Help.SHADE, Help.VENT):
        shading = _shading(home, means, portable)
        bag = _bag_opened(home, shading, opening) if finding.hazard.help is Help.VENT else []
        return [*shading, *bag]
    if finding.hazard.help is Help.WINDBREAK:
        low = [_down(home, ", out of the wind")] if portable and home.height_m > 0 else []
        return [*low, *shelters]
    return []  # there is one thing to do, and it needs no trial


def waterings(home: Place, do_by: datetime, midday: datetime) -> list[Remedy]:
    """Return what helps a pot that runs dry: a watering, two of them, and either with shade."""
    shade = replace(home, cover=CoverKind.FULL_SHADE)
    ways = [
        Remedy("Check, and water till it drains", home, waterings=(do_by,)),
        Remedy("Check, and water till it drains; again at midday", home, waterings=(do_by, midday)),
        Remedy(
            "Water till it drains, then into full shade", shade, carries=True, waterings=(do_by,)
        ),
        Remedy(
            "Water till it drains, then into full shade; water again at midday",
            shade,
            carries=True,
            waterings=(do_by, midday),
        ),
    ]
    return [way for way in ways if len(way.waterings) == 1 or do_by < midday]


def _cold_in_place(home: Place, means: Means, portable: bool) -> list[Remedy]:
    down = [_down(home)] if portable and home.height_m > 0 else []
    fleeces = [
        Remedy(f"Cover with {_layers(layers)} of fleece, clear of the leaves, weighted", place)
        for layers in range(1, means.fleece_layers + 1 if home.cover is CoverKind.OPEN else 1)
        for place in [replace(home, cover=_FLEECE[layers])]
    ]
    both = [
        Remedy(
            f"Down on the ground under {_layers(means.fleece_layers)} of fleece",
            replace(remedy.place, cover=_FLEECE[means.fleece_layers]),
            carries=True,
        )
        for remedy in down
        if means.fleece_layers
    ]
    shut = [
        Remedy(f"Shut the {home.cover.split(',')[0]}", replace(home, cover=closed))
        for closed, vented in _VENTED.items()
        if home.cover is vented
    ]
    return [*shut, *down, *fleeces, *both]


_FLEECE = {1: CoverKind.FLEECE_1, 2: CoverKind.FLEECE_2}


def _layers(count: int) -> str:
    return "1 layer" if count == 1 else f"{count} layers"


def _down(home: Place, why: str = "") -> Remedy:
    """Set down on the ground where it stands: less wind, a warmer foot."""
    low = replace(
        home,
        height_m=0.0,
        standing=Standing.GROUND,
        wind_factor=0.7 * home.wind_factor,
        sky_view=0.8 * home.sky_view,
    )
    return Remedy(f"Down on the ground{why}", low, carries=True)


def _shelters(
    spots: Mapping[str, Spot], container: Container, kinds: Sequence[SpotKind]
) -> list[Remedy]:
    fitting = [
        spot
        for spot in spots.values()
        if spot.kind in kinds
        and spot.room
        and (spot.max_litres is None or container.litres <= spot.max_litres)
    ]
    fitting.sort(key=lambda spot: kinds.index(spot.kind))
    return [
        Remedy(
            _going_to(spot),
            place_of(spot),
            takes_room_in=spot.name,
            carries=True,
            indoors=spot.kind in BEHIND_DOORS,
        )
        for spot in fitting
    ]


def _going_to(spot: Spot) -> str:
    if spot.name.casefold().startswith("under"):
        return spot.name[0].upper() + spot.name[1:]
    return f"Into the {spot.name}"


def _shading(home: Place, means: Means, portable: bool) -> list[Remedy]:
    cloth = [Remedy("Half-shade cloth over", home.under_cloth(CoverKind.HALF_SHADE))]
    shade = [Remedy("Into full shade", replace(home, cover=CoverKind.FULL_SHADE), carries=True)]
    opened = [
        Remedy(f"Open the {home.cover.split(',')[0]}", replace(home, cover=vented))
        for shut, vented in _VENTED.items()
        if home.cover is shut
    ]
    return [*opened, *(cloth if means.shade_cloth else []), *(shade if portable else [])]


_VENTED = {
    CoverKind.FRAME_SHUT: CoverKind.FRAME_VENTED,
    CoverKind.GREENHOUSE_SHUT: CoverKind.GREENHOUSE_VENTED,
}


def _bag_opened(home: Place, shading: Sequence[Remedy], opening: Opening) -> list[Remedy]:
    """A bag further open than ``opening``, and last both open and in the deepest shade."""
    ways = list(_OPENINGS.items())[list(Opening).index(opening) :]
    further = [Remedy(words, home, opening=to) for words, to in ways]
    both = [
        replace(shade, words=f"Open the bag, and {_lower(shade.words)}", opening=Opening.OPEN)
        for shade in shading[-1:]
        if further
    ]
    return [*further, *both]


_OPENINGS = {"Slit the bag": Opening.SLIT, "Open the bag": Opening.OPEN}


def opening_of(words: str) -> Opening | None:
    """Return how far a remedy, told in these words, opens the bag; None where it leaves it."""
    return next((to for first, to in _OPENINGS.items() if words.startswith(first)), None)


def _lower(words: str) -> str:
    return words[0].lower() + words[1:]


def _misery(finding: Finding) -> Callable[[tuple[Remedy, Trial]], tuple[float, float]]:
    """How little a remedy helps: chance of harm left, then how bad the worst value still is."""
    sign = -1.0 if finding.hazard.low else 1.0
    return lambda pair: (pair[1].chance, sign * pair[1].left)


def choose(
    ordered: Sequence[tuple[Finding, Sequence[Remedy]]],
    trial: Callable[[int, int], Trial],
    containers: Mapping[str, Container],
    spots: Mapping[str, Spot],
    means: Means,
    act_from: Mapping[str, float],
) -> dict[str, Choice]:
    """Return the choice for each tree; ``ordered`` is most at risk first and is served first.

    ``trial(i, j)`` tells how finding i fares under its j-th remedy. Room in a shelter is counted
    down as it is given away, first to trees that it saves, what is left to those it only helps.
    """
    room = {spot.name: spot.room or 0 for spot in spots.values()}
    chosen: dict[str, Choice] = {}

    def serve(index: int, only_enough: bool) -> None:
        finding, remedies = ordered[index]
        trials = [
            (remedy, trial(index, number))
            for number, remedy in enumerate(remedies)
            if remedy.takes_room_in is None or room[remedy.takes_room_in] > 0
        ]
        enough = [pair for pair in trials if pair[1].chance < act_from[finding.tree]]
        if not trials or (only_enough and not enough):
            return
        remedy, outcome = enough[0] if enough else min(trials, key=_misery(finding))
        if remedy.takes_room_in:
            room[remedy.takes_room_in] -= 1
        heavy = remedy.carries and containers[finding.tree].litres > means.lift_litres
        kind = finding.limit.measured_on
        chosen[finding.tree] = Choice(
            remedy, bool(enough), outcome.chance, outcome.left, kind, heavy
        )

    for only_enough in (True, False):
        for index, (finding, _) in enumerate(ordered):
            if finding.tree not in chosen:
                serve(index, only_enough)
    return chosen
