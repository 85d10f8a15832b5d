"""Where a tree stands, as numbers for the models: a spot, or a spot changed by a remedy."""

from __future__ import annotations

from dataclasses import dataclass

from underbench.rules.cover import CoverKind
from underbench.rules.garden import Spot, SpotKind, Standing

_COVER_OF = {
    SpotKind.COLD_FRAME: CoverKind.FRAME_SHUT,
    SpotKind.GREENHOUSE: CoverKind.GREENHOUSE_SHUT,
    SpotKind.SHED: CoverKind.SHED,
}


@dataclass(frozen=True, slots=True)
class Place:
    """A standing place. ``sun_from``/``sun_until`` local clock hours; ``sky_view`` and
    ``wind_factor`` shares of the open field's; ``height_m`` of the pot's foot above ground."""

    sky_view: float
    sun_from: float
    sun_until: float
    wind_factor: float
    height_m: float
    standing: Standing
    cover: CoverKind = CoverKind.OPEN


def place_of(spot: Spot) -> Place:
    """Return a spot as a place, with the cover its kind brings."""
    return Place(
        sky_view=spot.sky_view,
        sun_from=spot.sun_from,
        sun_until=spot.sun_until,
        wind_factor=spot.wind_factor,
        height_m=spot.height_cm / 100,
        standing=spot.standing,
        cover=_COVER_OF.get(spot.kind, CoverKind.OPEN),
    )
