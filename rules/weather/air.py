"""Moist air near the ground: vapour pressure, dew, frost and wet bulb, pressure, wind profile.

Equation numbers are those of FAO Irrigation and Drainage Paper 56 (Allen et al. 1998) unless said
otherwise. Everything broadcasts over arrays of any shape; scalars are welcome. NaN in gives NaN
out; nothing raises.
"""

from __future__ import annotations

import numpy as np

from underbench.rules.weather.constants import GAS_CONSTANT_DRY_J_KGK, KELVIN
from underbench.rules.weather.hourly import Array

Values = Array | float

LEAST_VAPOUR_KPA = 1e-6  # dew point near -103 °C: drier than any air on earth, and has a logarithm
PSYCHROMETRIC_PER_K = 0.665e-3  # cp / (0.622 lambda), rounded as eq. 8 prints it
PSYCHROMETER_PER_K = 0.000662  # ventilated (Asmann type) psychrometer; eq. 16
LOWEST_PROFILE_M = 0.2  # eq. 47 is zero at 0.095 m, inside the grass it was made for
WET_BULB_SWEEPS = 6  # from 50 °C and bone-dry air the error is below 0.001 K after six


def saturation_kpa(t_c: Values) -> Array:
    """Return the saturation vapour pressure over water, kPa, at ``t_c`` °C (eq. 11).

    Below 0 °C the water is supercooled, because dew points and humidities are reported so.
    """
    t = np.asarray(t_c, dtype=float)
    out: Array = 0.6108 * np.exp(17.27 * t / (t + 237.3))
    return out


def saturation_ice_kpa(t_c: Values) -> Array:
    """Return the saturation vapour pressure over ice, kPa, at ``t_c`` ≤ 0 °C.

    Snyder & de Melo-Abreu 2005, Frost protection (FAO); constants from memory.
    """
    t = np.asarray(t_c, dtype=float)
    out: Array = 0.6108 * np.exp(21.875 * t / (t + 265.5))
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


def frost_point_c(vapour_kpa: Values) -> Array:
    """Return the temperature, °C, at which ``vapour_kpa`` saturates over ice.

    Inverts `saturation_ice_kpa`; means something only where the answer is at or below 0 °C.
    """
    b = np.log(np.maximum(vapour_kpa, LEAST_VAPOUR_KPA) / 0.6108) / 21.875
    out: Array = 265.5 * b / (1.0 - b)
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


def vapour_from_wet_bulb_kpa(dry_c: Values, wet_c: Values, pressure_kpa: Values) -> Array:
    """Return the actual vapour pressure, kPa, from a ventilated psychrometer (eqs. 15 and 16)."""
    depression_k = np.asarray(dry_c, dtype=float) - wet_c
    return saturation_kpa(wet_c) - PSYCHROMETER_PER_K * pressure_kpa * depression_k


def wet_bulb_c(air_c: Values, vapour_kpa: Values, pressure_kpa: Values) -> Array:
    """Return the wet-bulb temperature, °C: `vapour_from_wet_bulb_kpa` solved by Newton's method.

    The bulb is wet with water, supercooled below 0 °C.
    """
    psychrometric = PSYCHROMETER_PER_K * np.asarray(pressure_kpa, dtype=float)
    balance = vapour_kpa + psychrometric * air_c
    # The balance is convex and rises with the bulb, so Newton never overshoots from the dry bulb.
    wet = np.asarray(air_c, dtype=float) + np.zeros_like(balance)
    for _ in range(WET_BULB_SWEEPS):
        excess = saturation_kpa(wet) + psychrometric * wet - balance
        wet = wet - excess / (slope_kpa_k(wet) + psychrometric)
    return wet


def pressure_kpa(elevation_m: Values) -> Array:
    """Return the standard atmosphere's pressure, kPa, at ``elevation_m`` (eq. 7)."""
    out: Array = 101.3 * np.power((293.0 - 0.0065 * np.asarray(elevation_m, float)) / 293.0, 5.26)
    return out


def psychrometric_kpa_k(pressure_kpa: Values) -> Array:
    """Return the psychrometric constant, kPa/K (eq. 8)."""
    return PSYCHROMETRIC_PER_K * np.asarray(pressure_kpa, dtype=float)


def air_density_kg_m3(air_c: Values, pressure_kpa: Values) -> Array:
    """Return the density of dry air, kg/m³ (ideal gas; moist air is up to 2 % lighter)."""
    kelvin = np.asarray(air_c, dtype=float) + KELVIN
    return np.asarray(1000.0 * pressure_kpa / (GAS_CONSTANT_DRY_J_KGK * kelvin))


def wind_at_m(wind10_ms: Values, height_m: Values) -> Array:
    """Return the mean wind, m/s, at ``height_m`` over open short grass, from that at 10 m (eq. 47).

    Heights under 0.2 m get the wind at 0.2 m; shelter is the caller's.
    """
    height = np.maximum(height_m, LOWEST_PROFILE_M)
    share: Array = np.log(67.8 * height - 5.42) / np.log(67.8 * 10.0 - 5.42)
    return share * wind10_ms
