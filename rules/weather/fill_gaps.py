"""Estimates of what a source leaves out: fills every hour of every variable and names the guessed.

Radiation comes from cloud. Cloud comes from radiation, carried through the night; without radiation
the sky is clear, the careful guess on a frosty night. Gusts come from the mean wind, pressure from
height. Hours that nobody knows repeat the day before.
"""

from __future__ import annotations

import numpy as np

from underbench.rules.garden.inventory import Garden
from underbench.rules.weather.air import pressure_kpa
from underbench.rules.weather.hourly import HOUR_S, NEEDED, Array, Weather
from underbench.rules.weather.sun import (
    cloud_from_global,
    day_of_year,
    diffuse_from_global_wm2,
    global_from_cloud_wm2,
    position,
)

GUST_FACTOR = 1.7  # hourly gust over hourly mean wind at 10 m over land; from memory, 1.5 to 2
DAY_H = 24
LONGEST_CARRIED_H = 12  # from the last or next sun; judgement: a long night's middle


def complete(weather: Weather, garden: Garden) -> tuple[Weather, frozenset[str]]:
    """Return the weather with nothing missing, and the variables that were partly estimated.

    Raises ValueError where a needed variable (air, dew point, wind) is missing throughout.
    """
    estimated: set[str] = set()

    def known(name: str, guess: Array) -> Array:
        values = getattr(weather, name)
        missing = np.isnan(values)
        if missing.any():
            estimated.add(name)
        return np.where(missing, guess, values)

    needed = {name: _persisted(getattr(weather, name), name) for name in NEEDED}
    estimated |= {name for name in NEEDED if np.isnan(getattr(weather, name)).any()}
    elevation, _ = position(weather.times - HOUR_S // 2, garden.latitude, garden.longitude)
    cloud = known("cloud", cloud_by_sun(weather, elevation, garden.elevation_m))
    sun = known("global_wm2", global_from_cloud_wm2(elevation, cloud, garden.elevation_m))
    split = diffuse_from_global_wm2(sun, elevation, day_of_year(weather.times))
    diffuse = np.minimum(known("diffuse_wm2", split), sun)
    blank = np.zeros_like(weather.air_c)
    complete_weather = Weather(
        times=weather.times,
        air_c=needed["air_c"],
        dew_c=np.minimum(needed["dew_c"], needed["air_c"]),
        wind_ms=needed["wind_ms"],
        gust_ms=np.maximum(known("gust_ms", GUST_FACTOR * needed["wind_ms"]), needed["wind_ms"]),
        cloud=cloud,
        global_wm2=sun,
        diffuse_wm2=diffuse,
        rain_mm=known("rain_mm", blank),
        pressure_kpa=known("pressure_kpa", blank + pressure_kpa(garden.elevation_m)),
        snow_m=known("snow_m", blank),
    )
    return complete_weather, frozenset(estimated)


def cloud_by_sun(weather: Weather, elevation_rad: Array, elevation_m: float) -> Array:
    """Cloud from the day's radiation, drawn across the night; clear where no radiation is known."""
    told = cloud_from_global(weather.global_wm2, elevation_rad, elevation_m)
    out, hours = np.zeros_like(told), np.arange(weather.hours)
    for row, values in zip(out, told, strict=True):
        known = np.flatnonzero(np.isfinite(values))
        if len(known):
            row[:] = np.interp(hours, known, values[known])
            after = np.minimum(np.searchsorted(known, hours), len(known) - 1)
            near = np.minimum(np.abs(known[after] - hours), np.abs(hours - known[after - 1]))
            row[near > LONGEST_CARRIED_H] = 0.0
    return out


def _persisted(values: Array, name: str) -> Array:
    """Repeat the same hour of the day before (or after, at the start) where a value is missing."""
    if np.isnan(values).all():
        raise ValueError(f"no {name} in the whole weather")
    out = values.copy()
    for row in out:
        for hour in np.flatnonzero(np.isnan(row)):
            earlier = row[hour - DAY_H] if hour >= DAY_H else np.nan
            row[hour] = earlier if np.isfinite(earlier) else _nearest(row, int(hour))
    return out


def _nearest(row: Array, hour: int) -> float:
    known = np.flatnonzero(np.isfinite(row))
    return float(row[known[np.abs(known - hour).argmin()]])
