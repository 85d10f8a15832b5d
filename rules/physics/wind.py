"""Wind at the bench, the drag on a crown, and the gust that tips or shifts a tree.

Everything broadcasts; ``crown`` is a `Crown` or an integer array of them, one per tree.
"""

from __future__ import annotations

from collections.abc import Sequence
from enum import IntEnum

import numpy as np
from numpy.typing import NDArray

from underbench.rules.garden.inventory import Wall
from underbench.rules.weather.air import Values, wind_at_m
from underbench.rules.weather.constants import GRAVITY_MS2, WATER_DENSITY_KG_M3
from underbench.rules.weather.hourly import Array


class Crown(IntEnum):
    """How a crown gives way to the wind."""

    EVERGREEN = 0
    BROADLEAF = 1
    LEAFLESS = 2


Crowns = Crown | NDArray[np.intp]

# Drag coefficient on the still-air silhouette: STILL_CD up to STIFF_MS, then falling with speed to
# the power -FOLD as the crown streams out. Set by eye to wind-tunnel figures at 20 m/s: conifers
# 0.22-0.47 (Rudnicki et al. 2004, Can. J. For. Res. 34), broadleaves 0.15-0.22 (Vollsinger et al.
# 2005, ibid. 35). From STREAMED_MS on, beyond which nothing was measured, it falls no further. Bare
# branches stop as much wind as a conifer of 0.3 of the area (judgement).
STILL_CD = np.array([0.60, 0.50, 0.60])
STIFF_MS = np.array([10.0, 5.0, 10.0])
FOLD = np.array([0.3, 0.7, 0.3])
STREAMED_MS = 20.0
AREA_SHARE = np.array([1.0, 1.0, 0.3])

AIR_DENSITY_KG_M3 = 1.25  # 10 °C at sea level
# A gust rocks the tree: the moment in a swing over that in a steady wind of the same speed.
SWING = 1.5  # judgement
FOOT_INSET_M = 0.01  # feet stand in from the edge; judgement
FRICTION = 0.4  # ceramic on wet wood; handbook value, from memory

# A moist mix of akadama and pumice: dry mass, and water between wilting and container capacity
# (see potwater). Judgement, from ordinary handbook values.
DRY_MIX_KG_M3 = 600.0
WILTED_WATER = 0.14
AVAILABLE_WATER = 0.24
# Wall and floor of a shallow pot are about 5 V^(2/3) of surface; mass per surface is thickness
# times density: ceramic 7 mm, plastic 1.5 mm, half of that for mesh, wood 18 mm. Judgement.
SURFACE_PER_VOLUME = 5.0
WALL_KG_M2 = {
    Wall.GLAZED: 15.4,
    Wall.UNGLAZED: 15.4,
    Wall.PLASTIC: 1.4,
    Wall.MESH: 0.7,
    Wall.WOOD: 9.0,
    Wall.NONE: 0.0,
}

# Freshly cut roots hold only by the weight of their ball. Growers' 10 m/s is for an ordinary tree:
# an evergreen 60 cm high and 40 cm wide in a pot of 3 L, 23 cm across. How far other trees may
# depart from it is judgement: the grip of roots varies more than this model knows.
ORDINARY_HEIGHT_M, ORDINARY_CROWN_M, ORDINARY_LITRES, ORDINARY_WIDTH_M = 0.60, 0.40, 3.0, 0.23
ROCKING_SHARES = (0.8, 1.5)

SILHOUETTE_SOLIDITY = 0.6  # share of its ellipse that a crown fills; judgement
CROWN_MIDDLE = 0.6  # of the height above the rim; judgement
CROWN_SHARE_OF_HEIGHT = 0.75  # the rest is bare trunk; judgement
TREE_KG_M3 = 15.0  # wood and leaf above the rim, per height × crown²; judgement


def bench_gust_ms(wind10_ms: Values, gust10_ms: Values, height_m: Values, shelter: Values) -> Array:
    """Return the gust, m/s, at ``height_m`` where ``shelter`` of the open-field wind arrives.

    The mean wind falls towards the ground (FAO-56 eq. 47). What a gust adds to it does not:
    turbulence is alike through the lowest tens of metres (surface-layer similarity).
    """
    added = np.maximum(np.asarray(gust10_ms, dtype=float) - wind10_ms, 0.0)
    return shelter * (wind_at_m(wind10_ms, height_m) + added)


def silhouette_m2(height_m: Values, crown_m: Values) -> Array:
    """Return a crown's still-air silhouette, m², from the tree's height and the crown's width."""
    ellipse = np.pi / 4.0 * CROWN_SHARE_OF_HEIGHT * np.asarray(height_m, dtype=float) * crown_m
    return np.asarray(SILHOUETTE_SOLIDITY * ellipse)


def standing_mass_kg(
    litres: Values, water_rel: Values, walls: Sequence[Wall], tree_kg: Values
) -> Array:
    """Return the mass, kg, of containers, mix and trees, shape (tree,).

    ``walls`` holds one wall per tree; ``water_rel`` runs from 0 (wilting) to 1 (full).
    """
    volume_m3 = np.asarray(litres, dtype=float) / 1000.0
    per_m2 = np.array([WALL_KG_M2[wall] for wall in walls])
    wall_kg = per_m2 * SURFACE_PER_VOLUME * np.cbrt(np.square(volume_m3))
    water = WILTED_WATER + AVAILABLE_WATER * np.asarray(water_rel, dtype=float)
    mix_kg = volume_m3 * (DRY_MIX_KG_M3 + WATER_DENSITY_KG_M3 * water)
    return np.asarray(mix_kg + wall_kg + tree_kg)


def tree_mass_kg(height_m: Values, crown_m: Values) -> Array:
    """Return a rough mass, kg, of the tree above its container."""
    out: Array = TREE_KG_M3 * np.asarray(height_m, dtype=float) * np.square(crown_m)
    return out


def crown_drag_n(gust_ms: Values, frontal_area_m2: Values, crown: Crowns) -> Array:
    """Return the drag, N, of a gust on a crown of still-air silhouette ``frontal_area_m2``."""
    gust = np.asarray(gust_ms, dtype=float)
    out: Array = _still_drag(frontal_area_m2, crown) * _streamed(gust, crown) * np.square(gust)
    return out


def _streamed(gust_ms: Array | float, crown: Crowns) -> Array:
    """Return the share of its still drag coefficient that a crown keeps as it streams out."""
    beyond_stiff = np.clip(gust_ms, STIFF_MS[crown], STREAMED_MS) / STIFF_MS[crown]
    return np.asarray(np.power(beyond_stiff, -FOLD[crown]))


def tipping_gust_ms(
    *,
    mass_kg: Values,
    base_m: Values,
    crown_height_m: Values,
    frontal_area_m2: Values,
    crown: Crowns,
) -> Array:
    """Return the gust, m/s at the crown, that brings a free-standing container down.

    It tips over its own edge or, where the tree is low for its width, slides off the bench; the
    lesser gust counts. ``base_m`` is the narrower width of the footprint. ``crown_height_m`` is the
    height of the crown's middle over what the container stands on. The drag of `crown_drag_n`,
    times ``SWING``, acts there; the weight at half the base (less the feet's inset), or friction,
    holds against it. The balance is solved in closed form. A low tree slides only in gales, beyond
    25 m/s.
    """
    half_base = np.maximum(np.asarray(base_m, dtype=float) / 2.0 - FOOT_INSET_M, 0.0)
    held = np.minimum(half_base / np.asarray(crown_height_m), FRICTION)  # of its weight
    bearable_n = mass_kg * GRAVITY_MS2 * held / SWING
    ratio = bearable_n / _still_drag(frontal_area_m2, crown)  # gust squared of a stiff crown
    stiff, fold = STIFF_MS[crown], FOLD[crown]
    streaming = np.power(ratio * np.power(stiff, -fold), 1.0 / (2.0 - fold))
    tips = np.where(ratio <= np.square(stiff), np.sqrt(ratio), streaming)
    beyond = np.sqrt(ratio / _streamed(STREAMED_MS, crown))
    return np.asarray(np.where(tips <= STREAMED_MS, tips, beyond))


def rocking_share(
    *, litres: Values, width_m: Values, height_m: Values, crown_m: Values, crown: Crowns
) -> Array:
    """Return the gust that rocks a tree on loose roots, over the gust that rocks an ordinary one.

    The moment of the crown's drag at the rim is set against the ball's weight (``litres`` of mix,
    half full, ``width_m`` across) at half its width. Drag grows with the square of the gust. The
    answer stays within ``ROCKING_SHARES``. No source; moments are balanced as in tipping.
    """
    ordinary = _rocking(
        ORDINARY_LITRES, ORDINARY_WIDTH_M, ORDINARY_HEIGHT_M, ORDINARY_CROWN_M, Crown.EVERGREEN
    )
    share = np.sqrt(ordinary / _rocking(litres, width_m, height_m, crown_m, crown))
    return np.asarray(np.clip(share, *ROCKING_SHARES))


def _rocking(
    litres: Values, width_m: Values, height_m: Values, crown_m: Values, crown: Crowns
) -> Array:
    """Return the moment of drag at the rim over that of the ball's weight, per gust squared."""
    drag = _still_drag(silhouette_m2(height_m, crown_m), crown)
    # Mix only: the wall stands still while the tree rocks in it.
    kg = standing_mass_kg(litres, 0.5, [Wall.NONE] * np.size(litres), 0.0)
    lever_m = CROWN_MIDDLE * np.asarray(height_m, dtype=float)
    return np.asarray(drag * lever_m / (kg * GRAVITY_MS2 * np.asarray(width_m) / 2.0))


def _still_drag(frontal_area_m2: Values, crown: Crowns) -> Array:
    """Return the drag over the gust squared, N/(m/s)², of a crown that does not give way."""
    area = AREA_SHARE[crown] * np.asarray(frontal_area_m2, dtype=float)
    return np.asarray(0.5 * AIR_DENSITY_KG_M3 * STILL_CD[crown] * area)
