"""Dressed members: a deterministic forecast turned into weathers that could happen.

Without an ensemble, the one run becomes twenty members. Their departures are correlated in time,
grow with lead, and are a fixed function of the hour they are *for*, so that the chance of a night
does not jump from pass to pass. The departures of one member belong together: a member with fewer
clouds has a colder night and a brighter day. An ensemble's members are given the spread they lack.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache

import numpy as np

from underbench.rules.weather.hourly import HOUR_S, Array, Weather

MEMBERS = 20
_SEED = 20_260_415
MEMORY_H = 18.0
# Departures are smooth: a critically damped second-order process (AR(2)), as correlated after 18
# and 24 hours as exp(-t / MEMORY_H). A night's departure is then of one piece, so that the lowest
# hour of a dressed night lies about the lowest of the run. With noise of one hour's roughness it
# lay 0.3 to 0.5 K below, as the lowest of many draws is lower than their middle.
SMOOTH_H = MEMORY_H / 2
TWILIGHT_RAD = np.radians(15.0)  # the sun's height, up and down, over which night comes; judgement
_DAY_S = 24 * HOUR_S
_CALM_MS = 0.5  # below this, a breath more or less is no spread
_FACTORS = 5  # temperature, cloud, wind, rain amount, rain at all

# Growth of error with lead, in days: value = at_once + growth * sqrt(days). Ordinary verification
# figures of 2 m temperature (about 1.3 K on day 1, 1.8 K on day 3), cloud and wind, from memory; a
# garden's own record replaces them. Night minima at St Louis in 2021 erred by 1.5 K at 24 h and
# 1.75 K at 48 h (open pairs, see tests/bench/forecast_error.py). With a spread that fits them, a
# year's replay missed just as many nights.
AIR_SPREAD_K = (0.7, 0.6)
CLOUD_SPREAD = (0.10, 0.12)
WIND_LOG_SPREAD = (0.12, 0.08)
RAIN_LOG_SPREAD = (0.30, 0.25)
DEW_TO_AIR = 0.7  # the dew point follows the air by this share
DRY_SHARE_PER_SQRT_DAY = 0.12  # members in which a forecast shower misses the garden
CLOUD_TO_NIGHT_AIR = 0.6  # share of the night's departure of air that comes with that of cloud


@dataclass(frozen=True, slots=True)
class Site:
    """What is not known of a site, drawn once per member; arrays of shape (member,).

    ``wind_share`` multiplies the spot's wind factor, ``sky_shift`` adds to its sky view,
    ``limit_shift_k`` adds to temperature limits, ``bag_shift_k`` adds to a bag's inside,
    ``use_share`` multiplies the water a pot uses.
    """

    wind_share: Array
    sky_shift: Array
    limit_shift_k: Array
    bag_shift_k: Array
    use_share: Array


# Judgement: shelter is known to about 25 %, sky view to 0.08, a tissue limit to 0.5 K. A bag's
# inside is known to 5 K and what a pot uses to 30 %, both at two standard deviations. A new number
# goes last, so that the draws of the others stay as they are.
_SITE_SPREAD = (0.25, 0.08, 0.5, 2.5, 0.15)


def known_site() -> Site:
    """Return the site as configured, for one member."""
    return Site(np.ones(1), np.zeros(1), np.zeros(1), np.zeros(1), np.ones(1))


def drawn_sites(count: int = MEMBERS) -> Site:
    """Return ``count`` draws of the site; mirrored pairs keep their mean at the known site."""
    half = np.random.default_rng([_SEED, 1]).standard_normal((len(_SITE_SPREAD), (count + 1) // 2))
    drawn = np.concatenate([half, -half], axis=1)[:, :count]
    wind, sky, limit, bag, use = drawn * np.array(_SITE_SPREAD)[:, None]
    return Site(np.exp(wind), sky, limit, bag, np.exp(use))


def dress(
    weather: Weather,
    now: datetime,
    daylight: np.ndarray,
    count: int = MEMBERS,
    air_lack_k: Array | None = None,
) -> Weather:
    """Return ``weather`` as members: ``count`` made of a single one, or as many as it has.

    ``daylight`` (hour,) says how far it is day, 0..1 (`daylight_share`); ``air_lack_k`` (hour,) is
    the standard deviation that the air lacks, as learned at the garden. Hours up to ``now`` get no
    spread. The median member stays close to the run itself (mirrored pairs).

    Members that differ already get only the rest. An ensemble is the spread of its own model's
    grid; at one place, and above all in its first two days, it is narrower than the errors made
    there (Gneiting et al. 2005, Monthly Weather Review 133, from memory; Baran et al. 2019, arXiv
    1811.05821, abstract read: ECMWF's at stations gains by calibration). So the two together are at
    least as wide as dressing alone.
    """
    root_days = np.sqrt(np.maximum(weather.times - now.timestamp(), 0.0) / _DAY_S)
    return _dressed(weather, root_days, daylight, count, air_lack_k)


def _dressed(
    weather: Weather,
    root_days: Array,
    daylight: np.ndarray,
    count: int,
    air_lack_k: Array | None = None,
) -> Weather:
    count = weather.members if weather.members > 1 else count
    noise = _departures(weather.times, count)
    cloud_lack = _lacking(CLOUD_SPREAD, root_days, weather.cloud)
    cloud = np.clip(weather.cloud + cloud_lack * noise[1], 0.0, 1.0)
    with_cloud = CLOUD_TO_NIGHT_AIR * (1.0 - np.asarray(daylight, dtype=float))
    air_noise = with_cloud * noise[1] + np.sqrt(1.0 - with_cloud**2) * noise[0]
    if air_lack_k is None:
        air_lack_k = _lacking(AIR_SPREAD_K, root_days, weather.air_c)
    lack_k = np.where(root_days > 0, air_lack_k, 0.0)
    air_departure = lack_k * air_noise
    air_c = weather.air_c + air_departure
    brighter = _cloud_transmission(cloud) / _cloud_transmission(weather.cloud)
    log_wind = np.log(np.maximum(weather.wind_ms, _CALM_MS))
    windier = np.exp(_lacking(WIND_LOG_SPREAD, root_days, log_wind) * noise[2])
    return replace(
        weather,
        air_c=air_c,
        dew_c=np.minimum(weather.dew_c + DEW_TO_AIR * air_departure, air_c),
        wind_ms=weather.wind_ms * windier,
        gust_ms=weather.gust_ms * windier,
        cloud=cloud,
        global_wm2=weather.global_wm2 * brighter,
        # Fewer clouds bring more beam, not more sky light.
        diffuse_wm2=np.minimum(weather.diffuse_wm2, weather.global_wm2 * brighter),
        rain_mm=_rain(weather.rain_mm, root_days, noise[3], noise[4]),
        pressure_kpa=weather.pressure_kpa + np.zeros_like(air_c),
        snow_m=weather.snow_m + np.zeros_like(air_c),
    )


def daylight_share(elevation_rad: Array) -> Array:
    """Return how far it is day, 0..1, by the sun's elevation. It comes and goes over some hours, so
    that a night's departure of air has no step at its ends."""
    share: Array = np.clip(0.5 + 0.5 * elevation_rad / TWILIGHT_RAD, 0.0, 1.0)
    return share


def no_brighter_than(weather: Weather, most_wm2: Array) -> Weather:
    """Return the weather with its sun held to ``most_wm2`` (member, hour). Thinning a cloud that
    was thin already, like high cirrus, gives no more than a clear sky."""
    sun_wm2 = np.minimum(weather.global_wm2, most_wm2)
    diffuse_wm2 = np.minimum(weather.diffuse_wm2, sun_wm2)
    return replace(weather, global_wm2=sun_wm2, diffuse_wm2=diffuse_wm2)


def _lacking(spread: tuple[float, float], root_days: Array, there: Array) -> Array:
    """The standard deviation (hour,) that members ``there`` (member, hour) lack."""
    grown = np.where(root_days > 0, spread[0] + spread[1] * root_days, 0.0)
    out: Array = np.sqrt(np.maximum(grown**2 - there.var(axis=0), 0.0))
    return out


def _rain(rain_mm: Array, root_days: Array, amount: Array, at_all: Array) -> Array:
    """Rain of members: their own, or more or less of the run's, or a miss."""
    wetter = np.exp(_lacking(RAIN_LOG_SPREAD, root_days, rain_mm) * amount)
    missed = at_all < _normal_quantile(DRY_SHARE_PER_SQRT_DAY * root_days)
    alike = np.ptp(rain_mm, axis=0) == 0
    return np.where(alike, np.where(missed, 0.0, rain_mm * wetter), rain_mm)


def _departures(times: np.ndarray, count: int) -> Array:
    """Unit-variance noise (factor, member, hour), a fixed function of the hour in UTC."""
    hours = times // HOUR_S
    half, first_day, last_day = (count + 1) // 2, int(hours[0]) // 24, int(hours[-1]) // 24
    days = [_departures_of(day, half) for day in range(first_day, last_day + 1)]
    smooth = np.concatenate(days, axis=-1)[..., (hours - first_day * 24).astype(int)]
    return np.concatenate([smooth, -smooth], axis=1)[:, :count]


@lru_cache(maxsize=64)  # the days of a forecast come again with each pass
def _departures_of(day: int, half: int) -> Array:
    """The noise of one UTC day, (factor, half the members, 24)."""
    white = np.concatenate([_white(before, half) for before in range(day - 3, day + 1)], axis=-1)
    back_h = np.arange(72)
    kernel = (1.0 + back_h) * np.exp(-back_h / SMOOTH_H)
    kernel /= np.sqrt((kernel**2).sum())
    first = white.shape[-1] - 24
    out: Array = sum(
        weight * white[..., first - back : first - back + 24] for back, weight in enumerate(kernel)
    )
    return out


@lru_cache(maxsize=64)
def _white(day: int, half: int) -> Array:
    return np.random.default_rng([_SEED, 2, day]).standard_normal((_FACTORS, half, 24))


def _cloud_transmission(cloud: Array) -> Array:
    """Share of clear-sky sun under ``cloud`` (Kasten & Czeplak 1980)."""
    return 1.0 - 0.75 * np.clip(cloud, 0.0, 1.0) ** 3.4


def _normal_quantile(share: Array) -> Array:
    """Standard normal value below which ``share`` (0..0.5) lies; Abramowitz & Stegun 26.2.22."""
    t = np.sqrt(-2.0 * np.log(np.clip(share, 1e-9, 0.5)))
    return -(t - (2.30753 + 0.27061 * t) / (1 + 0.99229 * t + 0.04481 * t**2))
