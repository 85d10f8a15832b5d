"""The water in a pot: what the crown draws, what the top and wall lose, what rain gives back.

A bucket between wilting point and container capacity. What is poured beyond capacity drains away
within the hour. Amounts are litres; 1 mm on 1 m² is 1 litre.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from underbench.rules.garden import Container
from underbench.rules.rootball import WATER_AVAILABLE, Ball
from underbench.rules.weather import Array

# Shares of the available water below which a crown closes its stomata and a top skins over; the
# FAO-56 form (eq. 84) with a pot's values. Judgement, no source.
CROWN_STRESSED_BELOW: Final = 0.4
TOP_DRIES_BELOW: Final = 0.6
TOP_OF_ET0: Final = 1.05  # bare wet surface: Ke's ceiling is 1.05 to 1.3 in FAO-56, from memory
WALL_OF_ET0: Final = 1.5  # an upright wet wall in the wind; judgement, no source
RAIN_REACHING_TOP: Final = 0.9  # the rest runs off rim and stem; judgement, no source
CROWN_HOLDS_MM: Final = 0.4  # on a crown in full leaf, 0.3 to 0.5; common practice, no source


def capacity_l(containers: Sequence[Container]) -> Array:
    """Return what each container holds between wilting and container capacity, litres (tree,)."""
    return WATER_AVAILABLE * np.array([one.litres for one in containers])


@dataclass(frozen=True, slots=True)
class WaterRun:
    """The water of an hourly run.

    ``rel`` (tree, member, hour) is the share 0..1 of the available water left at the end of each
    hour; ``gained_l`` what rain and can left in the pot in it, ``used_l`` what went. ``water_l``
    and ``on_crown_mm`` (tree, member) start the next run.
    """

    rel: Array
    gained_l: Array
    used_l: Array
    water_l: Array
    on_crown_mm: Array


def run_water(
    ball: Ball,
    water_l: Array,
    on_crown_mm: Array,
    *,
    capacity_l: Array,
    canopy_m2: Array,
    crop_factor: Array,
    et0_mm: Array,
    rain_mm: Array,
    watered: NDArray[np.bool_],
    roofed: NDArray[np.bool_],
    sun_share: Array,
    frozen_share: Array | float = 0.0,
) -> WaterRun:
    """Return the run of pots that start with ``water_l`` and wet crowns ``on_crown_mm``.

    Both are (tree, member). ``capacity_l``, ``canopy_m2``, ``crop_factor`` and ``roofed`` (no rain
    gets in) are (tree,), ``watered`` (tree, hour): filled to capacity as that hour begins. The rest
    broadcasts to (tree, member, hour); ``sun_share`` is how much of the sun reaches the top. What
    is frozen gives nothing up.
    """
    capacity, holds = capacity_l[:, None], CROWN_HOLDS_MM * np.minimum(crop_factor, 1.0)[:, None]
    shape = np.broadcast_shapes((*water_l.shape, watered.shape[-1]), np.shape(et0_mm))
    thawed = 1.0 - frozen_share
    crown_l = np.broadcast_to((crop_factor * canopy_m2)[:, None, None] * et0_mm * thawed, shape)
    top_l = np.broadcast_to(_top_m2(ball) * TOP_OF_ET0 * sun_share * et0_mm * thawed, shape)
    wall_l = np.broadcast_to(_wall_m2(ball) * WALL_OF_ET0 * et0_mm * thawed, shape)
    rain = np.broadcast_to(np.where(roofed[:, None, None], 0.0, rain_mm), shape)
    drying_mm = np.broadcast_to(et0_mm, shape)
    rel, gained, used = np.empty(shape), np.empty(shape), np.empty(shape)
    for hour in range(shape[-1]):
        before = water_l
        now = np.where(watered[:, None, hour], np.maximum(capacity, water_l), water_l)
        through_mm, on_crown_mm = _through_crown(
            on_crown_mm, rain[..., hour], drying_mm[..., hour], holds
        )
        onto_top = RAIN_REACHING_TOP * _top_m2(ball)[..., 0] * through_mm
        now = np.maximum(np.minimum(now + onto_top, capacity), now)
        wanted = _wanted_l(now / capacity, crown_l[..., hour], top_l[..., hour], wall_l[..., hour])
        water_l = now - np.minimum(wanted, now)
        rel[..., hour], gained[..., hour] = water_l / capacity, now - before
        used[..., hour] = now - water_l
    return WaterRun(rel, gained, used, water_l, on_crown_mm)


def _top_m2(ball: Ball) -> Array:
    return ball.top_m2[:, None, None]


def _wall_m2(ball: Ball) -> Array:
    return (ball.side_m2 * ball.side_wetness)[:, None, None]


def _through_crown(
    on_crown_mm: Array, rain_mm: Array, et0_mm: Array, holds_mm: Array
) -> tuple[Array, Array]:
    """Return the rain that falls through a crown and what it still holds when the hour is out."""
    wet_mm = on_crown_mm + rain_mm
    caught_mm = np.minimum(wet_mm, np.maximum(holds_mm, on_crown_mm))
    return wet_mm - caught_mm, np.maximum(caught_mm - et0_mm, 0.0)


def _wanted_l(rel: Array, crown_l: Array, top_l: Array, wall_l: Array) -> Array:
    """Return what the air would draw in an hour from a pot at ``rel``, litres."""
    crown = crown_l * np.minimum(rel / CROWN_STRESSED_BELOW, 1.0)
    surfaces = (top_l + wall_l) * np.minimum(rel / TOP_DRIES_BELOW, 1.0)
    return crown + surfaces
