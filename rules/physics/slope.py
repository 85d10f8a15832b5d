"""The sun on a slope: what a frame's light catches.

Geometry and isotropic sky after Duffie & Beckman, *Solar Engineering of Thermal Processes*, 1.6 and
2.15 (Liu & Jordan 1963); from memory, checked against pvlib. Slopes face the equator.
"""

from __future__ import annotations

from typing import Final

import numpy as np

from underbench.rules.weather.hourly import Array

GROUND_ALBEDO: Final = 0.2  # handbook


def onto_slope_wm2(
    *,
    slope_rad: Array,
    beam_normal_wm2: Array,
    diffuse_wm2: Array,
    global_wm2: Array,
    elevation_rad: Array,
    from_equator_rad: Array,
) -> Array:
    """Return the sun, W/m², on a plane that slopes ``slope_rad`` towards the equator.

    ``from_equator_rad`` is the sun's azimuth less that of the equator. All broadcast together.
    """
    level = np.sin(elevation_rad) * np.cos(slope_rad)
    toward = np.cos(elevation_rad) * np.sin(slope_rad) * np.cos(from_equator_rad)
    facing = np.where(elevation_rad > 0, np.maximum(level + toward, 0.0), 0.0)
    sky_share = (1.0 + np.cos(slope_rad)) / 2.0
    out: Array = beam_normal_wm2 * facing + sky_share * diffuse_wm2
    out += (1.0 - sky_share) * GROUND_ALBEDO * global_wm2
    return out
