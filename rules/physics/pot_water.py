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

from underbench.rules.garden.inventory import Container
from underbench.rules.physics.pots import GROUND_DEPTH_M, Ball, in_ground
from underbench.rules.physics.rootball import WATER_AVAILABLE
from underbench.rules.weather.hourly import Array

# Shares of the available water below which a crown closes its stomata and a top skins over; the
# FAO-56 form (eq. 84) with a pot's values. Judgement, no source.
CROWN_STRESSED_BELOW: Final = 0.4
TOP_DRIES_BELOW: Final = 0.6
TOP_OF_ET0: Final = 1.05  # bare wet surface: Ke's ceiling is 1.05 to 1.3 in FAO-56, from memory
WALL_OF_ET0: Final = 1.5  # an upright wet wall in the wind; judgement, no source
RAIN_REACHING_TOP: Final = 0.9  # the rest runs off rim and stem; judgement, no source
# FAO-56 table 19, loam 0.13 to 0.18 (read from memory), and the shallow end of table 22 for orchard
# trees, 1 to 2 m (from memory).
LOAM_WATER: Final = 0.15
ROOTED_M: Final = 1.0
FROZEN_SHUT: Final = 0.5  # share of its water frozen: a can runs off over the rim; judgement
CROWN_HOLDS_MM: Final = 0.4  # on a crown in full leaf, 0.3 to 0.5; common practice, no source


def capacity_l(containers: Sequence[Container]) -> Array:
    """Return what each container holds between wilting and container capacity, litres (tree,).

    A tree in the ground draws on all the soil below its bed (FAO-56 eq. 82); ``litres`` are only
    the uppermost 25 cm. Freshly planted roots do not reach down there; that is left out.
    """
    litres = np.array([one.litres for one in containers])
    ground = np.array([in_ground(one) for one in containers])
    bed_m2 = litres / 1000.0 / GROUND_DEPTH_M
    below_l = 1000.0 * LOAM_WATER * ROOTED_M * bed_m2
    return np.where(ground, below_l, WATER_AVAILABLE * litres)


@dataclass(frozen=True, slots=True)
class WaterRun:
    """The water of an hourly run.

    ``rel`` (tree, member, hour) is the share 0..1 of the available water left at the end of each
    hour; ``gained_l`` is what rain and can left in the pot in that hour, ``used_l`` what the pot
    gave up. ``water_l`` and ``on_crown_mm`` (tree, member) start the next run.
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
    watered: NDArray[np.bool_] | Array,
    roofed: NDArray[np.bool_],
    sun_share: float,
    use_share: Array | float = 1.0,
    frozen_share: Array | float = 0.0,
    stand: NDArray[np.intp] | None = None,
) -> WaterRun:
    """Return the run of pots that start with ``water_l`` and wet crowns ``on_crown_mm``.

    Both are (tree, member). ``capacity_l``, ``canopy_m2``, ``crop_factor`` and ``roofed`` (no rain
    gets in) are (tree,). ``watered`` (tree, hour) is the share of capacity below which a pot is
    filled as the hour begins: 1 where it is watered in any case, 0 where it is not. A frozen pot
    takes no water. The rest broadcasts to (tree, member, hour); ``et0_mm`` to (stand, member, hour)
    where ``stand`` (tree,) gives each tree's stand. ``sun_share`` is the share of the sun that
    reaches the top. ``use_share`` (member,) is what a pot uses over what this model says. Frozen
    water is not given up.
    """
    capacity, holds = capacity_l[:, None], CROWN_HOLDS_MM * np.minimum(crop_factor, 1.0)[:, None]
    hours, shape = watered.shape[-1], water_l.shape
    by_tree = et0_mm if stand is None else et0_mm.take(stand, axis=0)
    drying, ice, rain = (_hours_first(values, hours) for values in (by_tree, frozen_share, rain_mm))
    poured = [bool(one.any()) for one in watered.T]
    rained = [bool((one > 0.0).any()) for one in rain]
    reach = np.where(roofed, 0.0, 1.0)[:, None]
    crown_m2 = (crop_factor * canopy_m2)[:, None] * use_share
    bare_m2 = ball.top_m2[:, None] * TOP_OF_ET0 * sun_share + WALL_OF_ET0 * _wet_wall_m2(ball)
    bare_m2 = bare_m2 * use_share
    rel, gained, used = np.empty((3, hours, *shape))
    for hour in range(hours):
        before, now = water_l, water_l
        if poured[hour]:
            low = (now < watered[:, None, hour] * capacity) & (ice[hour] < FROZEN_SHUT)
            now = np.where(low, capacity, now)
        et0 = drying[hour]
        if rained[hour] or on_crown_mm.any():
            through_mm, on_crown_mm = _through_crown(on_crown_mm, reach * rain[hour], et0, holds)
            onto_top = RAIN_REACHING_TOP * ball.top_m2[:, None] * through_mm
            now = np.maximum(np.minimum(now + onto_top, capacity), now)
        wanted = _wanted_l(now / capacity, crown_m2, bare_m2) * (et0 * (1.0 - ice[hour]))
        np.subtract(now, np.minimum(wanted, now), out=rel[hour])
        water_l = rel[hour].copy()
        np.subtract(now, before, out=gained[hour])
        np.subtract(now, water_l, out=used[hour])
        rel[hour] /= capacity
    rel, gained, used = (np.moveaxis(values, 0, -1) for values in (rel, gained, used))
    return WaterRun(rel, gained, used, water_l, on_crown_mm)


def _hours_first(values: Array | float, hours: int) -> Array:
    given = np.asarray(values, dtype=float)
    return np.moveaxis(np.broadcast_to(given, (*given.shape[:-1], hours)), -1, 0)


def _wet_wall_m2(ball: Ball) -> Array:
    return (ball.side_m2 * ball.side_wetness)[:, None]


def _through_crown(
    on_crown_mm: Array, rain_mm: Array, et0_mm: Array, holds_mm: Array
) -> tuple[Array, Array]:
    """Return the rain that falls through a crown and what the crown still holds after the hour."""
    wet_mm = on_crown_mm + rain_mm
    caught_mm = np.minimum(wet_mm, np.maximum(holds_mm, on_crown_mm))
    return wet_mm - caught_mm, np.maximum(caught_mm - et0_mm, 0.0)


def _wanted_l(rel: Array, crown_m2: Array, bare_m2: Array) -> Array:
    """Return what each mm of reference evapotranspiration draws from a pot at ``rel``, litres."""
    crown: Array = np.minimum(rel / CROWN_STRESSED_BELOW, 1.0) * crown_m2
    crown += np.minimum(rel / TOP_DRIES_BELOW, 1.0) * bare_m2
    return crown
