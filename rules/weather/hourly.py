"""Hourly weather as arrays (member, hour): gaps, plausibility, joining, and dressed members.

A value at ``times[i]`` is for that instant; sums, means and the gust maximum are for the hour that
ends there. Missing is NaN, never zero.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

HOUR_S = 3600
LONGEST_BRIDGED_GAP_H = 3
LEAP_K = 10.0

# The widest values ever measured near the ground, with a little room. A value outside is a broken
# reading. Extremes: WMO World Weather & Climate Extremes Archive (from memory): 56.7 and -89.2 °C,
# gust 113 m/s, 305 mm rain in an hour; radiation: 1.25 × the solar constant for cloud edges.
PLAUSIBLE: dict[str, tuple[float, float]] = {
    "air_c": (-90.0, 60.0),
    "dew_c": (-100.0, 40.0),
    "wind_ms": (0.0, 80.0),
    "gust_ms": (0.0, 115.0),
    "cloud": (0.0, 1.0),
    "global_wm2": (-20.0, 1700.0),
    "diffuse_wm2": (-20.0, 1200.0),
    "rain_mm": (0.0, 310.0),
    "pressure_kpa": (45.0, 109.0),
    "snow_m": (0.0, 12.0),
}


@dataclass(frozen=True, slots=True)
class Weather:
    """Hourly weather for one place.

    ``times``: int64 UTC seconds, shape (hour,), one hour apart. The rest: float64 (member, hour).
    ``air_c`` and ``dew_c`` at 2 m; ``wind_ms`` at 10 m; ``gust_ms`` the hour's highest at 10 m;
    ``cloud`` 0..1; ``global_wm2`` and ``diffuse_wm2`` on the horizontal; ``rain_mm`` all
    precipitation as water; ``snow_m`` depth lying.
    """

    times: NDArray[np.int64]
    air_c: Array
    dew_c: Array
    wind_ms: Array
    gust_ms: Array
    cloud: Array
    global_wm2: Array
    diffuse_wm2: Array
    rain_mm: Array
    pressure_kpa: Array
    snow_m: Array

    @property
    def members(self) -> int:
        """How many weathers this holds."""
        return int(self.air_c.shape[0])

    @property
    def hours(self) -> int:
        """How many hours this holds."""
        return int(self.times.shape[0])

    def between(self, start: datetime, end: datetime) -> Weather:
        """Return the hours with start < time ≤ end: those that end inside the stretch."""
        low, high = np.searchsorted(self.times, [start.timestamp(), end.timestamp()], side="right")
        return self.hours_at(slice(int(low), int(high)))

    def hours_at(self, hours: slice) -> Weather:
        """Return the hours of a slice."""
        return Weather(
            times=self.times[hours], **{name: getattr(self, name)[:, hours] for name in VARIABLES}
        )


VARIABLES = tuple(f.name for f in fields(Weather) if f.name != "times")
# Without these nothing can be judged; the others can be estimated or done without.
NEEDED = ("air_c", "dew_c", "wind_ms")


def from_columns(times: NDArray[np.int64], columns: Mapping[str, Array]) -> Weather:
    """Return a one-member weather from columns of shape (hour,); absent columns become NaN.

    Raises ValueError for an unknown column or one whose length differs from ``times``.
    """
    unknown = sorted(set(columns) - set(VARIABLES))
    if unknown:
        raise ValueError(f"no such weather variable: {', '.join(unknown)}")
    lengths = {name: len(values) for name, values in columns.items() if len(values) != len(times)}
    if lengths:
        raise ValueError(f"{len(times)} times, but {lengths}")
    blank = np.full((1, len(times)), np.nan)
    return Weather(
        times=np.asarray(times, dtype=np.int64),
        **{
            name: np.asarray(columns[name], dtype=float)[None, :] if name in columns else blank
            for name in VARIABLES
        },
    )


def drop_implausible(weather: Weather) -> tuple[Weather, dict[str, int]]:
    """Return the weather with impossible values made gaps, and how many fell per variable.

    Hours are judged one by one, so one wild reading does not cost the run. A value is impossible
    outside `PLAUSIBLE`, and a temperature also where it leaps away from two neighbours that agree
    with each other. Radiation a little below zero (numerical noise of the models) becomes zero; a
    dew point above the air is set to the air.
    """
    dropped: dict[str, int] = {}
    kept: dict[str, Array] = {}
    for name, (low, high) in PLAUSIBLE.items():
        values = getattr(weather, name)
        possible = (values >= low) & (values <= high)
        wild = np.isfinite(values) & ~possible
        if name in ("air_c", "dew_c"):
            wild |= _leaping(np.where(possible, values, np.nan))
        if wild.any():
            dropped[name] = int(wild.sum())
        kept[name] = np.where(wild | ~np.isfinite(values), np.nan, values)
    for name in ("global_wm2", "diffuse_wm2"):
        kept[name] = np.maximum(kept[name], 0.0)
    too_moist = kept["dew_c"] > kept["air_c"]
    kept["dew_c"] = np.where(too_moist, kept["air_c"], kept["dew_c"])
    return Weather(times=weather.times, **kept), dropped


def _leaping(values: Array) -> NDArray[np.bool_]:
    """Single hours more than 10 K off both neighbours, which lie within 5 K of each other.

    Fronts and downslope winds move air by 10 K in an hour, but not there and back.
    """
    before, here, after = values[:, :-2], values[:, 1:-1], values[:, 2:]
    away = (np.abs(here - before) > LEAP_K) & (np.abs(here - after) > LEAP_K)
    out = np.zeros(values.shape, dtype=bool)
    out[:, 1:-1] = away & (np.abs(before - after) < LEAP_K / 2)
    return out


def bridge_gaps(weather: Weather, longest_h: int = LONGEST_BRIDGED_GAP_H) -> Weather:
    """Return the weather with inner gaps of up to ``longest_h`` hours drawn straight across.

    Longer gaps and the ends stay NaN: nobody knows what happened in them. Rain is never invented:
    a bridged rain gap is dry.
    """
    filled = {name: _bridge(getattr(weather, name), longest_h) for name in VARIABLES}
    lost_rain = np.isnan(weather.rain_mm) & np.isfinite(filled["rain_mm"])
    filled["rain_mm"] = np.where(lost_rain, 0.0, filled["rain_mm"])
    return Weather(times=weather.times, **filled)


def _bridge(values: Array, longest_h: int) -> Array:
    out = values.copy()
    for row in out:
        known = np.flatnonzero(np.isfinite(row))
        for gap in np.flatnonzero(np.diff(known) > 1).tolist():
            left, right = known[gap : gap + 2].tolist()
            if right - left <= longest_h + 1:
                row[left : right + 1] = np.linspace(row[left], row[right], right - left + 1)
    return out


def at_times(weather: Weather, times: NDArray[np.int64]) -> Weather:
    """Return the weather of ``times``, NaN where it has no such hour."""
    if not weather.hours:
        blank = np.full((weather.members, len(times)), np.nan)
        return Weather(times=times, **dict.fromkeys(VARIABLES, blank))
    place = (times - weather.times[0]) // HOUR_S
    there = (place >= 0) & (place < weather.hours)
    index = np.clip(place, 0, weather.hours - 1)
    return Weather(
        times=times,
        **{name: np.where(there, getattr(weather, name)[:, index], np.nan) for name in VARIABLES},
    )


def known_times(weather: Weather) -> NDArray[np.int64]:
    """Return the times of the hours for which all members know every needed variable."""
    known = np.isfinite([getattr(weather, name) for name in NEEDED]).all(axis=(0, 1))
    return weather.times[known]


def covered_until(weather: Weather, after: datetime) -> datetime | None:
    """Return the last hour up to which every needed variable is known without a break.

    Counted from the first whole hour after ``after``; None when that hour itself is missing.
    """
    known = np.ones(weather.hours, dtype=bool)
    for name in NEEDED:
        known &= np.isfinite(getattr(weather, name)).all(axis=0)
    first = int(np.searchsorted(weather.times, after.timestamp(), side="right"))
    if first >= weather.hours or weather.times[first] > after.timestamp() + HOUR_S:
        return None
    broken = np.flatnonzero(~known[first:])
    last = first + (int(broken[0]) if len(broken) else weather.hours - first) - 1
    if last < first:
        return None
    return datetime.fromtimestamp(int(weather.times[last]), tz=after.tzinfo)


def join(past: Weather, ahead: Weather) -> Weather:
    """Return past hours followed by those of ``ahead`` that come after the last past hour."""
    if not past.hours:
        return ahead
    cut = int(np.searchsorted(ahead.times, past.times[-1], side="right"))
    tail = ahead.hours_at(slice(cut, None))
    return Weather(
        times=np.concatenate([past.times, tail.times]),
        **{
            name: np.concatenate([getattr(past, name), getattr(tail, name)], axis=-1)
            for name in VARIABLES
        },
    )
