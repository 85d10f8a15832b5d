"""A forecast ensemble laid on the central run: each member a weather that could happen here.

A member gives its departure from the mean of its own model's run. That departure is laid on the
central run, which is finer and set right for the garden; how much of the ensemble's own middle it
takes is learned there (`thermometer`). All departures of a member are taken
together, so that its clear sky, its cold night and its bright day are one weather. Where the
ensemble ends, they fade as dressed ones do, and `spread.dress` gives the spread that is then
lacking.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from underbench.rules.weather.fill_gaps import cloud_by_sun
from underbench.rules.weather.hourly import VARIABLES, Array, Weather, at_times
from underbench.rules.weather.spread import DEW_TO_AIR, MEMBERS, MEMORY_H
from underbench.rules.weather.sun import clear_sky_wm2, global_from_cloud_wm2

# Gust over mean wind. Without a limit, a calm central hour with one gust turns a breeze into a
# storm.
MOST_GUST_FACTOR = 3.0  # judgement; over land usually 1.5 to 2
# The order in which members meet the draws of the site. Of 4,000 seeds tried, this one leaves the
# least correlation with the members' numbers, for 20 to 122 members.
_ORDER_SEED = 3410
DARKEST_SHARE = 0.1  # of a clear sky's sun is left under the thickest cloud; judgement


def on_central(
    central: Weather,
    runs: Sequence[Weather],
    elevation_rad: Array,
    elevation_m: float,
    least: int = MEMBERS,
) -> Weather:
    """Return the members of ``runs`` as departures from ``central`` (one member, complete).

    ``runs`` holds one `Weather` (member, hour) a model, NaN where it knows nothing.
    ``elevation_rad`` (hour,) is the sun's at mid-hour. A run of few members is repeated until there
    are ``least``; `dress` tells the repeats apart. Rain is the member's own, because it has no
    other middle: an hour that is dry in the central run is wet in some members. Raises ValueError
    without runs.
    """
    whole = [_filled(at_times(run, central.times), elevation_rad, elevation_m) for run in runs]
    parts = [_departed(central, run, elevation_rad, elevation_m) for run in whole]
    joined = {name: np.concatenate([getattr(part, name) for part in parts]) for name in VARIABLES}
    count = len(joined["air_c"])
    # An order of our own. Models come one after the other and number their members in pairs; this
    # must have nothing to do with what is drawn of the site for each weather.
    order = (
        np.random.default_rng(_ORDER_SEED).permutation(count * max(1, -(-least // count))) % count
    )
    return Weather(times=central.times, **{name: v[order] for name, v in joined.items()})


def centre_c(runs: Sequence[Weather], times: NDArray[np.int64]) -> Array:
    """Return the middle of the models' own middles of air, °C (hour,); NaN where none reaches."""
    middles = np.array([_mean(at_times(run, times).air_c) for run in runs])
    return _mean(middles)


def variance_k2(runs: Sequence[Weather], times: NDArray[np.int64]) -> Array:
    """Return the variance (hour,) of all members' air, each less the mean of its own model."""
    apart = [_departure(at_times(run, times).air_c) for run in runs]
    return np.asarray(np.concatenate(apart).var(axis=0))


def _mean(values: Array) -> Array:
    """The mean of what is known along the first axis, NaN where nothing is."""
    known = np.isfinite(values)
    count = known.sum(axis=0)
    total = np.where(known, values, 0.0).sum(axis=0)
    return np.where(count > 0, total / np.maximum(count, 1), np.nan)


def _departed(central: Weather, run: Weather, elevation_rad: Array, elevation_m: float) -> Weather:
    """One model's members on the central run."""
    air_k = _departure(run.air_c)
    dew_k = _departure(run.dew_c) if np.isfinite(run.dew_c).any() else DEW_TO_AIR * air_k
    air_c = central.air_c + air_k
    wind_ms = np.maximum(central.wind_ms + _departure(run.wind_ms), 0.0)
    clear = clear_sky_wm2(elevation_rad, elevation_m)
    sun_wm2 = np.clip(
        central.global_wm2 + _departure(run.global_wm2),
        np.minimum(central.global_wm2, DARKEST_SHARE * clear),
        np.maximum(central.global_wm2, clear),
    )
    alike = np.zeros_like(air_k)
    return replace(
        central,
        air_c=air_c,
        dew_c=np.minimum(central.dew_c + dew_k, air_c),
        wind_ms=wind_ms,
        gust_ms=_gusts(central, wind_ms),
        cloud=np.clip(central.cloud + _departure(run.cloud), 0.0, 1.0),
        global_wm2=sun_wm2,
        # As in `dress`: fewer clouds bring more beam, not more sky light.
        diffuse_wm2=np.minimum(central.diffuse_wm2, sun_wm2),
        rain_mm=np.where(np.isfinite(run.rain_mm).all(axis=0), run.rain_mm, central.rain_mm),
        pressure_kpa=central.pressure_kpa + alike,
        snow_m=central.snow_m + alike,
    )


def _gusts(central: Weather, wind_ms: Array) -> Array:
    """The member's wind × the central run's gust factor, where there is one."""
    factor = np.clip(central.gust_ms / np.maximum(central.wind_ms, 0.1), 1.0, MOST_GUST_FACTOR)
    return np.maximum(central.gust_ms + factor * (wind_ms - central.wind_ms), wind_ms)


def _departure(values: Array) -> Array:
    """Each member less the mean of the members that know the hour; beyond them it fades."""
    known = np.isfinite(values)
    departure = np.where(known, values - _mean(values), 0.0)
    hours = np.arange(values.shape[1])
    last = np.maximum.accumulate(np.where(known, hours, -1), axis=1)
    carried = np.take_along_axis(departure, np.maximum(last, 0), axis=1)
    return np.where(last < 0, 0.0, carried * np.exp(-(hours - last) / MEMORY_H))


def _filled(run: Weather, elevation_rad: Array, elevation_m: float) -> Weather:
    """The run with cloud from sun, or sun from cloud, where a model has only one of them."""
    reached = np.isfinite(run.air_c)
    cloud = np.where(np.isnan(run.cloud), cloud_by_sun(run, elevation_rad, elevation_m), run.cloud)
    from_cloud = global_from_cloud_wm2(elevation_rad, cloud, elevation_m)
    sun_wm2 = np.where(np.isnan(run.global_wm2), from_cloud, run.global_wm2)
    return replace(
        run,
        cloud=np.where(reached, cloud, np.nan),
        global_wm2=np.where(reached, sun_wm2, np.nan),
        rain_mm=np.maximum(run.rain_mm, 0.0),
    )
