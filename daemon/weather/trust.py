"""What is wrong with an answer that looks like a forecast, and what can still be made of it.

Pure functions over the weather read and what the answer says of itself. A variable that cannot be
true (radiation by night, none all day) is made missing, so that it is estimated and named. Air for
another elevation is corrected. Everything else makes the answer doubtful, and another source is
asked.

Reading has already made impossible values gaps (`drop_implausible`). More than a few of them cut
the hours ahead short, and `LEAST_AHEAD` then finds too few. Only its elevation shows that a cell
lies at sea, and a service that echoes the elevation asked for hides it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from math import cos, radians

import numpy as np
from numpy.typing import NDArray

from underbench.daemon.weather.provider import Facts
from underbench.rules.garden.inventory import Garden
from underbench.rules.weather.hourly import HOUR_S, NEEDED, VARIABLES, Array, Weather, at_times
from underbench.rules.weather.sun import position

# Two nights: with less ahead, a message comes too late for a keeper to prepare.
LEAST_AHEAD = timedelta(hours=48)
# Models run at least every 6 h, so by then two runs in a row have brought nothing.
SAME_FOR = timedelta(hours=12)
# A sound answer's run was seen to be 10 h old (recorded answers outside northern Europe).
RUN_OLDEST = timedelta(hours=14)
FARTHEST_KM = 30.0  # global models' cells are 25 km wide: their middle lies within 18 km
KM_PER_DEGREE = 111.2
SEA_M, LAND_M = 1.0, 30.0
ELEVATION_OFF_M = 150.0
LAPSE_K_M = 0.0065  # ICAO standard atmosphere
JUMP_K = 15.0  # in an hour, and it stays; fronts and downslope winds bring some 10
NIGHT_RAD = radians(-6.0)  # with the mid-hour sun so low, the whole hour is dark
DAY_RAD = radians(10.0)
DARK_WM2, LIT_WM2 = 5.0, 20.0
LIT_NIGHT_H = 3
SUN_SECONDS_PER_DEGREE = 240
DAY_S = 86_400
BACKED = timedelta(days=2)


@dataclass(frozen=True, slots=True)
class Doubt:
    """Something found wrong. ``kind`` stays the same from hour to hour. ``words`` follow the
    source's name in a sentence. A ``grave`` doubt is a reason to ask another source."""

    kind: str
    words: str
    grave: bool


def examined(
    weather: Weather, facts: Facts, garden: Garden, now: datetime
) -> tuple[Weather, tuple[Doubt, ...]]:
    """Return the weather, with what cannot be true corrected or made missing, and every doubt."""
    weather, height = at_elevation(weather, facts, garden)
    weather, light = without_false_light(weather, garden)
    doubts = (far(facts, garden), at_sea(facts, garden), height, jump(weather, now), light)
    old = old_run(facts, now)
    return weather, tuple(doubt for doubt in (*doubts, old) if doubt)


def far(facts: Facts, garden: Garden) -> Doubt | None:
    """Doubt an answer for a place more than `FARTHEST_KM` from the garden."""
    if facts.latitude is None or facts.longitude is None:
        return None
    north = facts.latitude - garden.latitude
    east = (facts.longitude - garden.longitude + 180.0) % 360.0 - 180.0
    km = KM_PER_DEGREE * float(np.hypot(north, east * cos(radians(garden.latitude))))
    if km <= FARTHEST_KM:
        return None
    return Doubt("far", f"sent weather for a place {km:.0f} km from the garden", grave=True)


def at_sea(facts: Facts, garden: Garden) -> Doubt | None:
    """Doubt an answer for sea level when the garden lies well above."""
    if facts.elevation_m is None or facts.elevation_m > SEA_M or garden.elevation_m < LAND_M:
        return None
    words = f"sent weather for {facts.elevation_m:.0f} m, perhaps of the sea"
    return Doubt("sea", words, grave=True)


def at_elevation(weather: Weather, facts: Facts, garden: Garden) -> tuple[Weather, Doubt | None]:
    """Return the weather with air and dew point brought to the garden's elevation.

    `LAPSE_K_M` brings them from the answer's elevation, if it is more than `ELEVATION_OFF_M` off.
    Both services bring air to the elevation asked for and repeat it; another elevation in the
    answer means that they did not.
    """
    if facts.elevation_m is None or abs(facts.elevation_m) > 9000:
        return weather, None
    above_m = garden.elevation_m - facts.elevation_m
    if abs(above_m) <= ELEVATION_OFF_M:
        return weather, None
    colder_k = LAPSE_K_M * above_m
    words = (
        f"sent weather for {facts.elevation_m:.0f} m, the garden lies at "
        f"{garden.elevation_m:.0f} m: air taken {abs(colder_k):.1f} K "
        f"{'colder' if colder_k > 0 else 'warmer'}"
    )
    moved = replace(weather, air_c=weather.air_c - colder_k, dew_c=weather.dew_c - colder_k)
    return moved, Doubt("elevation", words, grave=False)


def jump(weather: Weather, now: datetime) -> Doubt | None:
    """Doubt air that leaps by more than `JUMP_K` in an hour of the coming two days, and stays.

    A leap there and back within an hour is one wild reading, which was left out before.
    """
    ahead = weather.between(now - timedelta(hours=1), now + LEAST_AHEAD)
    if ahead.hours < 2:
        return None
    leaps = np.abs(np.diff(ahead.air_c, axis=1)).max(axis=0)
    if not (leaps > JUMP_K).any():
        return None
    most_k = float(np.nanmax(leaps))
    return Doubt("jump", f"sent air that leaps by {most_k:.0f} K in an hour", grave=True)


def without_false_light(weather: Weather, garden: Garden) -> tuple[Weather, Doubt | None]:
    """Return the weather without impossible radiation. All radiation goes when several night hours
    are lit. A day's goes when the whole day is dark."""
    elevation, _ = position(weather.times - HOUR_S // 2, garden.latitude, garden.longitude)
    sun = weather.global_wm2
    lit = ((sun > LIT_WM2) & (elevation < NIGHT_RAD)).any(axis=0)
    if lit.sum() >= LIT_NIGHT_H:
        words = "sent sunshine by night: sunshine is estimated from cloud"
        return _unlit(weather, np.ones(weather.hours, bool)), Doubt("light", words, grave=False)
    dark = _dark_days(sun, elevation > DAY_RAD, weather.times, garden.longitude)
    if not dark.any():
        return weather, None
    words = "sent whole days without any light: sunshine is estimated from cloud there"
    return _unlit(weather, dark), Doubt("light", words, grave=False)


def _dark_days(
    sun: Array, up: NDArray[np.bool_], times: NDArray[np.int64], longitude: float
) -> NDArray[np.bool_]:
    """The hours of solar days with three hours of sun or more above the horizon and none seen."""
    solar_s = times - HOUR_S // 2 + int(longitude * SUN_SECONDS_PER_DEGREE)
    days, index = np.unique(solar_s // DAY_S, return_inverse=True)
    known = np.isfinite(sun).all(axis=0)
    counted = np.bincount(index, weights=up & known, minlength=len(days))
    shone = np.bincount(index, weights=up & known & (sun > DARK_WM2).any(axis=0))
    out: NDArray[np.bool_] = ((counted >= LIT_NIGHT_H) & (shone == 0))[index]
    return out


def _unlit(weather: Weather, hours: NDArray[np.bool_]) -> Weather:
    return replace(
        weather,
        global_wm2=np.where(hours, np.nan, weather.global_wm2),
        diffuse_wm2=np.where(hours, np.nan, weather.diffuse_wm2),
    )


def old_run(facts: Facts, now: datetime) -> Doubt | None:
    """Doubt an answer whose run was made more than `RUN_OLDEST` ago."""
    if facts.made_at is None or now - facts.made_at <= RUN_OLDEST:
        return None
    hours = (now - facts.made_at) / timedelta(hours=1)
    return Doubt("run", f"sent a forecast made {hours:.0f} h ago", grave=True)


def repeated(same_since: datetime, now: datetime) -> Doubt | None:
    """Doubt a source that has sent the same values for more than `SAME_FOR`."""
    if now - same_since <= SAME_FOR:
        return None
    hours = (now - same_since) / timedelta(hours=1)
    return Doubt("same", f"has sent the same forecast for {hours:.0f} h", grave=True)


def same_values(before: Weather, after: Weather, now: datetime) -> bool:
    """Return whether two answers agree to the digit in all needed values of the coming day.

    Bodies cannot be compared: they carry the moment they were made, and begin later each day.
    """
    old, new = (one.between(now, now + timedelta(days=1)) for one in (before, after))
    if not new.hours or not np.array_equal(old.times, new.times):
        return False
    pairs = ((getattr(old, name), getattr(new, name)) for name in NEEDED)
    return all(np.array_equal(a, b, equal_nan=True) for a, b in pairs)


def with_past(weather: Weather, earlier: Weather, now: datetime) -> Weather:
    """Return the weather with missing hours up to ``now`` filled from an earlier answer.

    A source may begin at the hour in which it is asked. Hours are filled no further back than
    `BACKED`: hours once kept stay, and of older hours the archive or the forecast's own past days
    know more than an old forecast did.
    """
    past = earlier.between(now - BACKED, now)
    if not past.hours:
        return weather
    first = min(int(past.times[0]), int(weather.times[0]))
    times = np.arange(first, int(weather.times[-1]) + HOUR_S, HOUR_S, dtype=np.int64)
    own, theirs = at_times(weather, times), at_times(past, times)
    return Weather(
        times=times,
        **{
            name: np.where(np.isnan(getattr(own, name)), getattr(theirs, name), getattr(own, name))
            for name in VARIABLES
        },
    )
