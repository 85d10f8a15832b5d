"""Reference evapotranspiration by Penman-Monteith, of a day and of an hour.

Equation numbers are those of FAO Irrigation and Drainage Paper 56 (Allen et al. 1998). The hour
uses the drag coefficients of the ASCE Standardized Reference Evapotranspiration Equation (2005),
with which 24 hours add up to the day; FAO-56's own 0.34 is kept for its worked example.
Everything broadcasts; NaN in gives NaN out.
"""

from __future__ import annotations

import numpy as np

from underbench.rules.weather.air import Values, psychrometric_kpa_k, saturation_kpa, slope_kpa_k
from underbench.rules.weather.hourly import Array
from underbench.rules.weather.sun import clear_share

ALBEDO = 0.23  # grass; eq. 38
SIGMA_MJ_DAY = 4.903e-9  # MJ/K⁴m² a day; eq. 39
FAO_KELVIN = 273.16  # as printed in eq. 39
MM_PER_MJ = 0.408  # eqs. 6 and 20
MJ_PER_WH = 0.0036

ASCE_DRAG = (0.24, 0.96)  # by day, by night
FAO_DRAG = (0.34, 0.34)
SOIL_SHARE = (0.1, 0.5)  # of net radiation, by day and by night; eqs. 45 and 46

# Below this, an hour's ratio of measured to clear-sky radiation says little about cloud. ASCE 2005
# uses the ratio only while the sun is above 0.3 rad, which is about this much clear-sky radiation.
LOW_SUN_MJ = 0.8


def clear_sky_mj(extraterrestrial_mj: Values, elevation_m: Values) -> Array:
    """Return clear-sky global radiation, MJ/m², of an hour or a day (eq. 37)."""
    through = 0.75 + 2e-5 * np.asarray(elevation_m, dtype=float)
    return through * extraterrestrial_mj


def net_shortwave_mj(global_mj: Values) -> Array:
    """Return net shortwave radiation, MJ/m² (eq. 38)."""
    return (1.0 - ALBEDO) * np.asarray(global_mj, dtype=float)


def net_longwave_daily_mj(
    t_min_c: Values, t_max_c: Values, vapour_kpa: Values, clearness: Values
) -> Array:
    """Return net outgoing longwave radiation, MJ/m² a day (eq. 39); ``clearness`` is Rs/Rso."""
    warm = np.power(np.asarray(t_max_c, float) + FAO_KELVIN, 4)
    cold = np.power(np.asarray(t_min_c, float) + FAO_KELVIN, 4)
    return SIGMA_MJ_DAY * (warm + cold) / 2.0 * _humid_and_cloudy(vapour_kpa, clearness)


def net_longwave_hourly_mj(air_c: Values, vapour_kpa: Values, clearness: Values) -> Array:
    """Return net outgoing longwave radiation, MJ/m² an hour (eq. 39 as in Example 19)."""
    fourth = np.power(np.asarray(air_c, float) + FAO_KELVIN, 4)
    return SIGMA_MJ_DAY / 24.0 * fourth * _humid_and_cloudy(vapour_kpa, clearness)


def _humid_and_cloudy(vapour_kpa: Values, clearness: Values) -> Array:
    cloudy = 1.35 * np.clip(clearness, 0.3, 1.0) - 0.35  # limits: ASCE 2005, eq. 45
    out: Array = (0.34 - 0.14 * np.sqrt(vapour_kpa)) * cloudy
    return out


def clearness(global_mj: Values, clear_mj: Values, cloud: Values) -> Array:
    """Return an hour's Rs/Rso for the longwave term: measured by day, from cloud by night.

    ``clear_mj`` is the hour's `clear_sky_mj`. FAO-56 carries the late afternoon's ratio through
    the night because it knows no better; a forecast knows the night's own cloud.
    """
    clear = np.asarray(clear_mj, dtype=float)
    seen = global_mj / np.maximum(clear, LOW_SUN_MJ)
    return np.where(clear >= LOW_SUN_MJ, np.minimum(seen, 1.0), clear_share(cloud))


def daily_mm(
    *,
    t_min_c: Values,
    t_max_c: Values,
    vapour_kpa: Values,
    wind2_ms: Values,
    net_radiation_mj: Values,
    pressure_kpa: Values,
    soil_heat_mj: Values = 0.0,
) -> Array:
    """Return the reference evapotranspiration, mm a day (eq. 6); ``wind2_ms`` at 2 m.

    Saturation is the mean over the two extremes (eq. 12), not saturation at the mean.
    """
    mean_c = (np.asarray(t_min_c, dtype=float) + t_max_c) / 2.0
    saturated = (saturation_kpa(t_min_c) + saturation_kpa(t_max_c)) / 2.0
    return _penman_monteith_mm(
        mean_c,
        available_mj=np.asarray(net_radiation_mj, dtype=float) - soil_heat_mj,
        deficit_kpa=saturated - vapour_kpa,
        wind2_ms=wind2_ms,
        pressure_kpa=pressure_kpa,
        numerator=900.0,
        drag=0.34,
    )


def hourly_mm(
    *,
    air_c: Values,
    vapour_kpa: Values,
    wind2_ms: Values,
    global_wm2: Values,
    clearness: Values,
    pressure_kpa: Values,
    drag: tuple[float, float] = ASCE_DRAG,
) -> Array:
    """Return the reference evapotranspiration, mm an hour (eq. 53), never below zero.

    ``clearness`` is Rs/Rso (see `clearness`); ``drag`` holds the coefficients by day and by night.
    It is day while net radiation is positive. Dew, the negative part, does not reach a pot.
    """
    incoming = net_shortwave_mj(np.asarray(global_wm2, dtype=float) * MJ_PER_WH)
    net = incoming - net_longwave_hourly_mj(air_c, vapour_kpa, clearness)
    by_day = net > 0.0
    out = _penman_monteith_mm(
        air_c,
        available_mj=net * (1.0 - np.where(by_day, *SOIL_SHARE)),
        deficit_kpa=saturation_kpa(air_c) - vapour_kpa,
        wind2_ms=wind2_ms,
        pressure_kpa=pressure_kpa,
        numerator=37.0,
        drag=np.where(by_day, *drag),
    )
    return np.maximum(out, 0.0)


def _penman_monteith_mm(
    air_c: Values,
    *,
    available_mj: Array,
    deficit_kpa: Array,
    wind2_ms: Values,
    pressure_kpa: Values,
    numerator: float,
    drag: Values,
) -> Array:
    slope, gamma = slope_kpa_k(air_c), psychrometric_kpa_k(pressure_kpa)
    aired = gamma * numerator / (np.asarray(air_c, dtype=float) + 273.0) * wind2_ms * deficit_kpa
    return (MM_PER_MJ * slope * available_mj + aired) / (slope + gamma * (1.0 + drag * wind2_ms))
