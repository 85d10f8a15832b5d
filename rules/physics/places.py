"""Where a tree stands, as numbers for the models: a spot, or a spot changed by a remedy."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from math import inf

from underbench.rules.garden.inventory import (
    NO_DEPARTURE,
    Departure,
    Overhead,
    Spot,
    SpotKind,
    Standing,
    Surface,
)
from underbench.rules.physics.cover import COVERS, Cover, CoverKind, combined

_COVER_OF = {
    SpotKind.SHED: CoverKind.SHED,
    SpotKind.GARAGE: CoverKind.GARAGE,
    SpotKind.CELLAR: CoverKind.CELLAR,
    SpotKind.COOL_ROOM: CoverKind.COOL_ROOM,
    SpotKind.INDOORS: CoverKind.INDOORS,
}


@dataclass(frozen=True, slots=True)
class Place:
    """A standing place. ``sun_from``/``sun_until`` local clock hours; ``sky_view`` and
    ``wind_factor`` shares of the open field's; ``height_m`` of the pot's foot above ground;
    ``overhead`` stands over ``cover``, and no remedy takes it away; ``departs`` is how its air
    departs from the garden's; ``surface`` is the ground about it. A heater or the house keeps the
    air above ``keeps_above_c``."""

    sky_view: float
    sun_from: float
    sun_until: float
    wind_factor: float
    height_m: float
    standing: Standing
    cover: CoverKind = CoverKind.OPEN
    overhead: CoverKind = CoverKind.OPEN
    departs: Departure = NO_DEPARTURE
    surface: Surface = Surface.GRASS
    keeps_above_c: float = -inf

    @property
    def covers(self) -> Cover:
        """What is overhead and the cover beneath it, as one; the same object for the same two."""
        return _both(self.overhead, self.cover, self.keeps_above_c)

    def under_cloth(self, cloth: CoverKind) -> Place:
        """Return the place with shade cloth hung over it: over the glass where there is glass."""
        if self.cover is CoverKind.OPEN:
            return replace(self, cover=cloth)
        return replace(self, overhead=cloth)

    def on_the_ground(self) -> Place:
        """Return the place with the pot set down beside it: less wind, a warmer foot."""
        return replace(
            self,
            height_m=0.0,
            standing=Standing.GROUND,
            wind_factor=0.7 * self.wind_factor,
            sky_view=0.8 * self.sky_view,
        )

    def with_cover(self, layers: int, *, on_ground: bool) -> Place:
        """Return the place with so many ``layers`` of fleece over a tree, down on the ground or
        not. Fleece under glass or a roof of its own counts for nothing."""
        place = self.on_the_ground() if on_ground and self.height_m > 0 else self
        bare = self.cover is CoverKind.OPEN
        return replace(place, cover=FLEECE[layers]) if bare and layers else place

    @property
    def has_cloth(self) -> bool:
        """Whether half-shade cloth hangs over it."""
        return CoverKind.HALF_SHADE in (self.cover, self.overhead)

    def as_left(self, layers: int, *, on_ground: bool, cloth: bool) -> Place:
        """Return the place as its keeper left it: covered, and under half-shade cloth or not."""
        place = self.with_cover(layers, on_ground=on_ground)
        return place.under_cloth(CoverKind.HALF_SHADE) if cloth else place


FLEECE = {1: CoverKind.FLEECE_1, 2: CoverKind.FLEECE_2}


@cache
def _both(overhead: CoverKind, cover: CoverKind, keeps_above_c: float) -> Cover:
    return replace(combined(COVERS[overhead], COVERS[cover]), least_c=keeps_above_c)


# Frame lights are propped for the season once the mean of the days reaches this; common practice.
VENTED_FROM_C = 10.0
COLD_C = 0.0
_SHUT_AND_VENTED = {
    SpotKind.COLD_FRAME: (CoverKind.FRAME_SHUT, CoverKind.FRAME_VENTED),
    SpotKind.GREENHOUSE: (CoverKind.GREENHOUSE_SHUT, CoverKind.GREENHOUSE_VENTED),
}


_OVERHEAD = {
    Overhead.OPEN_SKY: CoverKind.OPEN,
    Overhead.LATH: CoverKind.LATH,
    Overhead.ROOF: CoverKind.ROOF,
}


def place_of(spot: Spot, mean_c: float = COLD_C) -> Place:
    """Return a spot as a place, with the cover its kind brings.

    ``mean_c`` is the mean air of the last ten days or so; it decides whether a frame stands shut or
    vented. The default is for shelter against cold: the frame is shut.
    """
    shut, vented = _SHUT_AND_VENTED.get(spot.kind, (CoverKind.OPEN, CoverKind.OPEN))
    glass = vented if mean_c >= VENTED_FROM_C else shut
    return Place(
        sky_view=spot.sky_view,
        sun_from=spot.sun_from,
        sun_until=spot.sun_until,
        wind_factor=spot.wind_factor,
        height_m=spot.height_cm / 100,
        standing=spot.standing,
        cover=_COVER_OF.get(spot.kind, glass),
        overhead=_OVERHEAD[spot.overhead],
        departs=spot.departs,
        surface=spot.surface,
        keeps_above_c=-inf if spot.keeps_above_c is None else spot.keeps_above_c,
    )
