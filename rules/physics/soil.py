"""The ground below roots in the ground, as two more layers of the soil that holds them.

With the two halves of the roots' own soil they make four layers, about as thick as the four of the
Noah land surface model (10, 30, 60 and 100 cm: Chen & Dudhia 2001, Monthly Weather Review 129, from
memory). Heat is conducted from the middle of one to the middle of the next. Nothing passes below
the last: the year's wave is felt there, the day's is not.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from underbench.rules.physics.pots import GROUND_DEPTH_M, SOIL_WMK
from underbench.rules.weather.hourly import HOUR_S, Array

THICK_M: Final = (0.35, 1.0)
LAYERS: Final = len(THICK_M)
# From one layer's middle to the next is geometry. To the face geometry has 0.25; with 0.2 the upper
# half swings through the day as the exact wave does (tests/rules/physics/test_soil.py).
LAYER_TO_FACE, LAYER_TO_LAYER = 0.2, 2.0

# Garden soil: a loam at field capacity, FAO-56 (Allen et al. 1998) table 19, from memory. The soil
# round the roots waters it from below, so its heat does not follow the water that the tree has.
SOIL_DRY_J_M3K: Final = 1.1e6
SOIL_WATER: Final = 0.26
# A bed's face, chosen at Kings Creek in 2022 and checked there in 2023 (tests/bench/bed_soil.py):
# how wet it is, and what a thin mulch or moss keeps. Tall grass and its litter keep twice as
# much; a bed is judged barer than that, to err on the cold side.
SOIL_WETNESS: Final = 0.2
SOIL_COVER_M2K_W: Final = 0.08
AIR_HEAT_J_M3K: Final = 1210.0  # of a cubic metre at 20 °C
KARMAN: Final = 0.41
# With this width, warm ground's still film is that of a plane too wide to matter, 1.52 ΔT^(1/3)
# (Holman, from memory), at 10 K over the air.
PLUME_M: Final = 0.27
WIND_OVER_GROUND_M, DISPLACEMENT_M, ROUGHNESS_M = 0.3, 0.08, 0.0148

# Moist loam: half mineral, a quarter water; Campbell & Norman 1998, chapter 8, from memory. With
# `SOIL_WMK` its diffusivity is 0.43 mm²/s, and the day's wave falls to 1/e over 11 cm.
SOIL_J_M3K: Final = 2.1e6
# W/m²K from the middle of the roots' lower half to the first layer, and on to the second.
UPPER_WM2K: Final = SOIL_WMK / (0.25 * GROUND_DEPTH_M + 0.5 * THICK_M[0])
LOWER_WM2K: Final = SOIL_WMK / (0.5 * THICK_M[0] + 0.5 * THICK_M[1])


def hour_later_c(layers_c: Array, core_c: Array) -> Array:
    """Return the layers, °C (layer, tree, member), an hour on below soil at ``core_c``.

    The layers are slow, so an hour is one step.
    """
    down_wm2 = UPPER_WM2K * (core_c - layers_c[0])
    deeper_wm2 = LOWER_WM2K * (layers_c[0] - layers_c[1])
    gained_wm2 = np.stack([down_wm2 - deeper_wm2, deeper_wm2])
    capacity = SOIL_J_M3K * np.array(THICK_M)[:, None, None]
    return np.asarray(layers_c + gained_wm2 * HOUR_S / capacity)


def rough_wm2k(wind_ms: Array) -> Array:
    """Return forced convection, W/m²K, at open ground in wind ``wind_ms``, 0.3 m above it.

    FAO-56 (Allen et al. 1998) equation 4 over its reference surface: displacement 0.08 m, roughness
    0.0148 m for momentum and a tenth of that for heat. It does not know how large a bed is.
    """
    above_m = WIND_OVER_GROUND_M - DISPLACEMENT_M
    logs = np.log(above_m / ROUGHNESS_M) * np.log(above_m / (0.1 * ROUGHNESS_M))
    out: Array = AIR_HEAT_J_M3K * KARMAN**2 / logs * wind_ms
    return out
