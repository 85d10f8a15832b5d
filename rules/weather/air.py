"""Moist air near the ground: vapour pressure, dew point, pressure, wind profile.

Equation numbers are those of FAO Irrigation and Drainage Paper 56 (Allen et al. 1998) unless said
otherwise. Everything broadcasts over arrays of any shape; scalars are welcome. NaN in gives NaN
out; nothing raises.
"""

from __future__ import annotations

import numpy as np

from underbench.rules.weather.hourly import Array

Values = Array | float

LEAST_VAPOUR_KPA = 1e-6  # dew point near -103 °C: drier than any air on earth, and has a logarithm
PSYCHROMETRIC_PER_K = 0.665e-3  # cp / (0.622 lambda), rounded as eq. 8 prints it
LOWEST_PROFILE_M = 0.2  # eq. 47 is zero at 0.095 m, inside the grass it was made for


def saturation_kpa(t_c: Values) -> Array:
    """Return the saturation vapour pressure over water, kPa, at ``t_c`` °C (eq. 11).

    Below 0 °C the water is supercooled, because dew points and humidities are reported so.
    """
    t = np.asarray(t_c, dtype=float)
    out: Array = 0.6108 * np.exp(17.27 * t / (t + 237.3))
    return out


def slope_kpa_k(t_c: Values) -> Array:
    """Return the slope of the saturation curve over water, kPa/K, at ``t_c`` °C (eq. 13)."""
    return slope_of(saturation_kpa(t_c), t_c)


def slope_of(saturated_kpa: Array, t_c: Values) -> Array:
    """Return `slope_kpa_k` from the saturation vapour pressure at ``t_c``, known already."""
    out: Array = 4098.0 * saturated_kpa / np.square(np.asarray(t_c, dtype=float) + 237.3)
    return out


def dew_point_c(vapour_kpa: Values) -> Array:
    """Return the temperature, °C, at which ``vapour_kpa`` saturates over water (eq. 11)."""
    b = np.log(np.maximum(vapour_kpa, LEAST_VAPOUR_KPA) / 0.6108) / 17.27
    out: Array = 237.3 * b / (1.0 - b)
    return out


def vapour_kpa(air_c: Values, rh_pct: Values) -> Array:
    """Return the actual vapour pressure, kPa, from relative humidity over water (eq. 10)."""
    return saturation_kpa(air_c) * rh_pct / 100.0


def relative_humidity_pct(air_c: Values, dew_c: Values) -> Array:
    """Return the relative humidity over water, %, from air and dew point (eqs. 10 and 14)."""
    return 100.0 * saturation_kpa(dew_c) / saturation_kpa(air_c)


def vpd_kpa(air_c: Values, dew_c: Values) -> Array:
    """Return the vapour pressure deficit of the air, kPa, never below zero."""
    out: Array = np.maximum(saturation_kpa(air_c) - saturation_kpa(dew_c), 0.0)
    return out


def pressure_kpa(elevation_m: Values) -> Array:
    """Return the standard atmosphere's pressure, kPa, at ``elevation_m`` (eq. 7)."""
    out: Array = 101.3 * np.power((293.0 - 0.0065 * np.asarray(elevation_m, float)) / 293.0, 5.26)
    return out


def psychrometric_kpa_k(pressure_kpa: Values) -> Array:
    """Return the psychrometric constant, kPa/K (eq. 8)."""
    return PSYCHROMETRIC_PER_K * np.asarray(pressure_kpa, dtype=float)


def wind_at_m(wind10_ms: Values, height_m: Values) -> Array:
    """Return the mean wind, m/s, at ``height_m`` over open short grass, from that at 10 m (eq. 47).

    Heights under 0.2 m get the wind at 0.2 m; shelter is the caller's.
    """
    height = np.maximum(height_m, LOWEST_PROFILE_M)
    share: Array = np.log(67.8 * height - 5.42) / np.log(67.8 * 10.0 - 5.42)
    return share * wind10_ms
