"""The sun and the sky: position, day length, shortwave and longwave radiation arriving.

Equation numbers are those of FAO Irrigation and Drainage Paper 56 (Allen et al. 1998) unless said
otherwise. Longitude is positive east throughout. ``times`` are int64 UTC seconds; for the mean of
an hour pass its middle. Cloud is the covered share of the sky, 0..1. NaN in gives NaN out.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from underbench.rules.weather.air import Values
from underbench.rules.weather.constants import (
    KELVIN,
    SIGMA_WM2K4,
    SOLAR_CONSTANT_MJ_M2MIN,
    SOLAR_CONSTANT_WM2,
)
from underbench.rules.weather.hourly import Array

Times = NDArray[np.int64]

J2000_S = 946_728_000  # 2000-01-01 12:00 UTC
HALF_HOUR_RAD = np.pi / 24.0
# Upper limb on the horizon: 34' of refraction and 16' of solar radius, as almanacs have it.
HORIZON_RAD = np.radians(-0.833)
HAZY_SHARE = 0.9  # of the clear-sky formula; from here a sky counts as clear
THICK = 0.84  # of the sky's window that a whole cover fills: Monteith & Unsworth, from memory
LOWEST_TELLING_RAD = np.radians(5.0)  # a sun lower than this tells nothing of cloud; judgement
CROSSING_SWEEPS = 4  # the second already moves it by seconds only


def day_of_year(times: Times) -> Array:
    """Return the day of the year in UTC, 1 on 1 January, as float64 of the shape of ``times``."""
    days = np.asarray(times, dtype="datetime64[s]").astype("datetime64[D]")
    return np.asarray((days - days.astype("datetime64[Y]")).astype(float) + 1.0)


def position(times: Times, latitude_deg: Values, longitude_deg: Values) -> tuple[Array, Array]:
    """Return the sun's true elevation and its azimuth from north through east, radians.

    Michalsky 1988, Solar Energy 40: the Astronomical Almanac's low-precision formulas, good to
    0.01° for 1950-2050. No refraction: add half a degree when asking whether it can be seen.
    """
    declination, hour_angle = _declination_and_hour_angle(times, longitude_deg)
    latitude = np.radians(latitude_deg)
    sin_d, cos_d = np.sin(declination), np.cos(declination)
    sin_elevation = np.sin(latitude) * sin_d + np.cos(latitude) * cos_d * np.cos(hour_angle)
    north = np.cos(latitude) * sin_d - np.sin(latitude) * cos_d * np.cos(hour_angle)
    azimuth = np.arctan2(-cos_d * np.sin(hour_angle), north) % (2.0 * np.pi)
    return np.arcsin(np.clip(sin_elevation, -1.0, 1.0)), azimuth


def _declination_and_hour_angle(times: Times, longitude_deg: Values) -> tuple[Array, Array]:
    days = (np.asarray(times, dtype=np.int64) - J2000_S) / 86_400.0
    anomaly = np.radians(357.528 + 0.9856003 * days)
    mean_longitude = 280.460 + 0.9856474 * days
    ecliptic = np.radians(mean_longitude + 1.915 * np.sin(anomaly) + 0.020 * np.sin(2.0 * anomaly))
    obliquity = np.radians(23.439 - 0.0000004 * days)
    ascension = np.arctan2(np.cos(obliquity) * np.sin(ecliptic), np.cos(ecliptic))
    declination = np.arcsin(np.sin(obliquity) * np.sin(ecliptic))
    utc_hour = (np.asarray(times, dtype=np.int64) % 86_400) / 3600.0
    sidereal_hour = 6.697375 + 0.0657098242 * days + utc_hour
    hour_angle = np.radians(15.0 * sidereal_hour + np.asarray(longitude_deg)) - ascension
    return declination, (hour_angle + np.pi) % (2.0 * np.pi) - np.pi


@lru_cache(maxsize=512)  # a pass asks for the same few days again and again
def sunrise_sunset(
    day: date, latitude_deg: float, longitude_deg: float
) -> tuple[datetime | None, datetime | None]:
    """Return sunrise and sunset, UTC, around the solar noon of ``day``; None if there is none.

    The day is that of the sun at this longitude. Where a country's clock runs a day off its
    longitude (Tonga, the Line Islands) ask for the day before.
    """
    noon = datetime.combine(day, time(12), tzinfo=UTC) - timedelta(hours=longitude_deg / 15.0)
    rise = _horizon_crossing(noon, latitude_deg, longitude_deg, side=-1)
    return rise, _horizon_crossing(noon, latitude_deg, longitude_deg, side=1)


def _horizon_crossing(
    noon: datetime, latitude_deg: float, longitude_deg: float, side: int
) -> datetime | None:
    """Return when the sun crosses the horizon before (side -1) or after (1) about ``noon``."""
    latitude = np.radians(latitude_deg)
    when = noon
    for _ in range(CROSSING_SWEEPS):
        at = np.array(round(when.timestamp()), dtype=np.int64)
        declination, hour_angle = _declination_and_hour_angle(at, longitude_deg)
        needed = np.sin(HORIZON_RAD) - np.sin(latitude) * np.sin(declination)
        cosine = needed / (np.cos(latitude) * np.cos(declination))
        if not -1.0 < cosine < 1.0:
            return None
        late_rad = side * float(np.arccos(cosine)) - float(hour_angle)
        when += timedelta(hours=late_rad * 12.0 / np.pi)
    return when.replace(microsecond=0)


def declination_rad(day_of_year: Values) -> Array:
    """Return the solar declination, radians, of a day of the year (eq. 24)."""
    out: Array = 0.409 * np.sin(2.0 * np.pi * np.asarray(day_of_year, float) / 365.0 - 1.39)
    return out


def sun_distance_factor(day_of_year: Values) -> Array:
    """Return the inverse relative distance to the sun, squared: dr of eq. 23."""
    out: Array = 1.0 + 0.033 * np.cos(2.0 * np.pi * np.asarray(day_of_year, float) / 365.0)
    return out


def _sunset_angle(day_of_year: Values, latitude_deg: Values) -> Array:
    """Return the sunset hour angle, radians (eq. 25); 0 in polar night, pi in polar day."""
    product = -np.tan(np.radians(latitude_deg)) * np.tan(declination_rad(day_of_year))
    out: Array = np.arccos(np.clip(product, -1.0, 1.0))
    return out


def daylight_hours(day_of_year: Values, latitude_deg: Values) -> Array:
    """Return the hours of possible sunshine of a day (eq. 34)."""
    return 24.0 / np.pi * _sunset_angle(day_of_year, latitude_deg)


def daily_extraterrestrial_mj(day_of_year: Values, latitude_deg: Values) -> Array:
    """Return the radiation at the top of the atmosphere, MJ/m² a day on the horizontal (eq. 21)."""
    sunset = _sunset_angle(day_of_year, latitude_deg)
    latitude, declination = np.radians(latitude_deg), declination_rad(day_of_year)
    up = sunset * np.sin(latitude) * np.sin(declination)
    across = np.cos(latitude) * np.cos(declination) * np.sin(sunset)
    per_day = 24.0 * 60.0 / np.pi * SOLAR_CONSTANT_MJ_M2MIN * sun_distance_factor(day_of_year)
    out: Array = per_day * (up + across)
    return out


def hourly_extraterrestrial_mj(times: Times, latitude_deg: Values, longitude_deg: Values) -> Array:
    """Return the radiation at the top of the atmosphere, MJ/m² in the hour around ``times``.

    Eqs. 28-33. The hour is cut off at sunrise and sunset, which the paper's text leaves out, so
    that the hours add up to the day of `daily_extraterrestrial_mj`.
    """
    day = day_of_year(times)
    latitude, declination = np.radians(latitude_deg), declination_rad(day)
    middle, sunset = _solar_angle(times, longitude_deg), _sunset_angle(day, latitude_deg)
    cut = np.where(sunset < np.pi, sunset, np.inf)  # the midnight sun is never cut off
    start = np.clip(middle - HALF_HOUR_RAD, -cut, cut)
    end = np.clip(middle + HALF_HOUR_RAD, -cut, cut)
    up = (end - start) * np.sin(latitude) * np.sin(declination)
    across = np.cos(latitude) * np.cos(declination) * (np.sin(end) - np.sin(start))
    per_day = 12.0 * 60.0 / np.pi * SOLAR_CONSTANT_MJ_M2MIN * sun_distance_factor(day)
    out: Array = per_day * (up + across)
    return out


def _solar_angle(times: Times, longitude_deg: Values) -> Array:
    """Return the solar hour angle, radians, -pi..pi (eqs. 31-33, in UTC and east longitude)."""
    b = 2.0 * np.pi * (day_of_year(times) - 81.0) / 364.0
    correction_h = 0.1645 * np.sin(2.0 * b) - 0.1255 * np.cos(b) - 0.025 * np.sin(b)
    utc_hour = (np.asarray(times, dtype=np.int64) % 86_400) / 3600.0
    solar_hour = utc_hour + np.asarray(longitude_deg) / 15.0 + correction_h
    out: Array = (solar_hour % 24.0 - 12.0) * np.pi / 12.0
    return out


def clear_sky_wm2(elevation_rad: Values, elevation_m: Values) -> Array:
    """Return global radiation on the horizontal under a clear sky, W/m²; 0 with the sun down.

    Haurwitz 1945, J. Meteorology 2: unlike eq. 37 it holds for a low sun. It grows with height
    above the sea as eq. 37 does.
    """
    sine = np.sin(elevation_rad)
    above = np.maximum(sine, 1e-3)  # the exponent; at 0.06° it has long been zero
    at_sea_level = 1098.0 * np.maximum(sine, 0.0) * np.exp(-0.059 / above)
    out: Array = at_sea_level * (1.0 + 2e-5 / 0.75 * np.asarray(elevation_m, dtype=float))
    return out


def clear_share(cloud: Values) -> Array:
    """Return the share of clear-sky global radiation that comes through ``cloud``.

    Kasten & Czeplak 1980, Solar Energy 24: 1 - 0.75 c^3.4, on the yearly mean of all cloud types.
    """
    out: Array = 1.0 - 0.75 * np.power(np.asarray(cloud, dtype=float), 3.4)
    return out


def global_from_cloud_wm2(elevation_rad: Values, cloud: Values, elevation_m: Values) -> Array:
    """Return global radiation on the horizontal, W/m², when only the cloud cover is known."""
    return clear_sky_wm2(elevation_rad, elevation_m) * clear_share(cloud)


def cloud_from_global(global_wm2: Values, elevation_rad: Values, elevation_m: Values) -> Array:
    """Return the cover, 0..1, of the thick cloud that dims to ``global_wm2``; NaN with the sun too
    low.

    For what cloud does to longwave: Crawford & Duchon 1999, J. Appl. Meteorology 38, take the share
    of the sun that is missing for the share of the sky's window that cloud fills. `clear_share`
    cannot be inverted for it. A thin high cloud that takes 22 % of the sun covers 70 % there, and
    sends hardly any longwave. From 0.9 of the clear-sky figure the sky counts as clear. Haze takes
    the rest (0.93 is the upper tenth of the hours of London 2012, in supy's sample data), and on a
    frosty night a clear sky is the careful guess.
    """
    clear_wm2 = clear_sky_wm2(elevation_rad, elevation_m)
    share = np.asarray(global_wm2, dtype=float) / np.maximum(clear_wm2, 1.0)
    cover = np.clip((1.0 - share / HAZY_SHARE) / THICK, 0.0, 1.0)
    return np.where(np.asarray(elevation_rad) > LOWEST_TELLING_RAD, cover, np.nan)


def diffuse_from_global_wm2(
    global_wm2: Values, elevation_rad: Values, day_of_year: Values
) -> Array:
    """Return the diffuse part of global radiation, W/m²; all of it with the sun down.

    Erbs, Klein & Duffie 1982, Solar Energy 28, on the hourly clearness index.
    """
    outside = SOLAR_CONSTANT_WM2 * sun_distance_factor(day_of_year) * np.sin(elevation_rad)
    glow = np.asarray(global_wm2, dtype=float)
    kt = np.clip(glow / np.maximum(outside, 1.0), 0.0, 1.0)
    middle = 0.9511 + kt * (-0.1604 + kt * (4.388 + kt * (-16.638 + kt * 12.336)))
    share = np.where(kt <= 0.22, 1.0 - 0.09 * kt, np.where(kt <= 0.80, middle, 0.165))
    return np.where(outside > 0.0, share * glow, glow)


def sky_emissivity(air_c: Values, vapour_kpa: Values) -> Array:
    """Return the emissivity of a clear sky seen from the ground.

    Prata 1996, Q. J. R. Meteorological Society 122. Screen air and vapour pressure stand for the
    whole column: the scatter on one night is about 0.03.
    """
    kelvin = np.asarray(air_c, dtype=float) + KELVIN
    water_cm = 465.0 * np.asarray(vapour_kpa, dtype=float) / kelvin
    out: Array = 1.0 - (1.0 + water_cm) * np.exp(-np.sqrt(1.2 + 3.0 * water_cm))
    return out


def longwave_down_wm2(air_c: Values, vapour_kpa: Values, cloud: Values) -> Array:
    """Return longwave radiation from the whole sky, W/m².

    Cloud fills the clear sky's window as in Monteith & Unsworth, Principles of Environmental
    Physics: e = (1 - 0.84 c) e_clear + 0.84 c.
    """
    kelvin = np.asarray(air_c, dtype=float) + KELVIN
    covered = THICK * np.asarray(cloud, dtype=float)
    emissivity = (1.0 - covered) * sky_emissivity(air_c, vapour_kpa) + covered
    return emissivity * SIGMA_WM2K4 * np.square(np.square(kelvin))
