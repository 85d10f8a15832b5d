"""The demo's weather, invented: a spring, an eventful week in April, and forecasts of it.

All of it is a fixed function of the hour, so that the demo tells the same story every time.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from math import pi, sin

import numpy as np

from underbench.rules.garden.inventory import Garden
from underbench.rules.weather.fill_gaps import complete
from underbench.rules.weather.hourly import HOUR_S, Array, Weather, from_columns

BEGINS = date(2026, 1, 15)  # 92 days and more before the week
WEEK = date(2026, 4, 20)
ENDS = date(2026, 5, 8)

COLDEST_UTC, WARMEST_UTC = 4.5, 14.0
QUARTERS_UTC = (3, 9, 15, 21)  # the middle of night, morning, afternoon and evening
LEAST_DEW_DROP_K = 0.3
RUN_EVERY_S = 6 * HOUR_S
PLAYED_DOWN_A_DAY, MOST_PLAYED_DOWN = 0.1, 0.4
RUN_TO_RUN_K = 0.2  # by which one run is the warmer, the next the colder, for each day of lead
DAY_S = 24 * HOUR_S

Quarters = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Day:
    """One UTC day: lowest and highest air, dew point (°C), and by quarter of the day cloud (0..1),
    wind and gust at 10 m (m/s) and rain (mm in an hour). ``words`` are for the reader."""

    words: str
    low_c: float
    high_c: float
    dew_c: float
    cloud: Quarters
    wind_ms: Quarters
    gust_ms: Quarters
    rain_mm: Quarters = (0, 0, 0, 0)


_DRY = (0.1, 0.1, 0.1, 0.1)
EVENTFUL = (
    Day("sunny, warm", 7, 21.5, 6, (0.1, 0, 0.05, 0.3), (1, 1.5, 2.5, 2), (3, 4, 6, 5)),
    Day(
        "a gale with showers", 9, 14, 7, (0.6, 0.8, 0.8, 0.9), (3, 4, 12, 8), (6, 7, 25, 15),
        (0, 0.2, 0.6, 0.8),
    ),
    Day(
        "mild, wet", 7.5, 12.5, 8, (1, 1, 0.95, 0.9), (4, 3, 3, 2), (8, 6, 6, 4),
        (1.2, 1.5, 0.8, 0.3),
    ),
    Day("clearing, cold air", 3, 9.5, -2, (0.8, 0.5, 0.2, 0), (3, 4, 3, 0.8), (6, 8, 7, 2)),
    Day("clear, cold", -2.5, 11, -3, (0, 0, 0.1, 0), (0.6, 1.5, 2, 0.7), (2, 4, 5, 2)),
    Day("clear, warmer", -1, 17, -1, (0, 0, 0.1, 0), (0.7, 1.5, 2.5, 1.5), (2, 4, 6, 4)),
    Day("sunny, breezy", 8, 24, 4, _DRY, (2, 4, 5, 3), (5, 8, 10, 6)),
    Day("sunny, breezy", 11, 26, 5, _DRY, (2.5, 4, 5, 3), (6, 8, 10, 6)),
    Day("sunny, breezy", 12, 25, 6, _DRY, (2.5, 4, 5, 3), (6, 8, 10, 6)),
)  # fmt: skip
USUAL = Day("fair", 5, 16, 5, (0.5, 0.5, 0.5, 0.5), (1.5, 2.5, 3.5, 2), (4, 6, 8, 5))


def day_of(day: date) -> Day:
    """Return the invented weather of a day."""
    number = (day - WEEK).days
    if number < 0:
        return _spring(number)
    return EVENTFUL[number] if number < len(EVENTFUL) else USUAL


def _spring(number: int) -> Day:
    """A day so many (below zero) before the week: warming, with spells of rain between."""
    mean_c = 11.0 + 0.095 * number + 2.5 * sin(2 * pi * number / 9.0)
    cloud = 0.5 - 0.45 * sin(2 * pi * number / 9.0 + 1.0)
    swing_k = 6.5 - 4.0 * cloud
    rain_mm = 0.6 if cloud > 0.75 else 0.0
    return Day(
        "", mean_c - swing_k, mean_c + swing_k, mean_c - swing_k, (cloud,) * 4,
        (1.5, 2.5, 3.5, 2.0), (4, 6, 8, 5), (rain_mm,) * 4,
    )  # fmt: skip


def truth(garden: Garden) -> Weather:
    """Return what the weather of the whole spring turns out to be."""
    days = [day_of(BEGINS + timedelta(n)) for n in range((ENDS - BEGINS).days)]
    return _weather(days, garden)


def usual(garden: Garden) -> Weather:
    """Return the same hours with a usual late-April day in place of each."""
    return _weather([USUAL] * (ENDS - BEGINS).days, garden)


def forecast(real: Weather, plain: Weather, now: datetime) -> Weather:
    """Return the run of a forecast that is the latest at ``now``: what was real until then, and
    beyond it the truth, the further ahead the more drawn towards what is usual.

    Made every six hours; every other run is a little warm, the ones between a little cold.
    """
    run, past_s = divmod(int(now.timestamp()), RUN_EVERY_S)
    lead_days = np.maximum(real.times - (now.timestamp() - past_s), 0.0) / DAY_S
    drawn = np.minimum(PLAYED_DOWN_A_DAY * lead_days, MOST_PLAYED_DOWN)
    wrong_k = RUN_TO_RUN_K * np.minimum(lead_days, 4.0) * (1 if run % 2 else -1)

    def between(name: str) -> Array:
        true: Array = getattr(real, name)
        return np.asarray(true + drawn * (getattr(plain, name) - true))

    air_c = between("air_c") + wrong_k
    return replace(
        real,
        air_c=air_c,
        dew_c=np.minimum(between("dew_c"), air_c),
        cloud=between("cloud"),
        wind_ms=between("wind_ms"),
        gust_ms=between("gust_ms"),
        rain_mm=between("rain_mm"),
        global_wm2=between("global_wm2"),
        diffuse_wm2=between("diffuse_wm2"),
    )


def _weather(days: list[Day], garden: Garden) -> Weather:
    first = int(datetime.combine(BEGINS, time(), UTC).timestamp())
    times = first + HOUR_S * np.arange(1, 24 * len(days) + 1)
    clock_h = (times - first) / HOUR_S
    quarters_h = [24 * n + hour for n in range(len(days)) for hour in QUARTERS_UTC]

    def column(name: str) -> Array:
        anchors = [value for day in days for value in getattr(day, name)]
        return np.asarray(np.interp(clock_h, quarters_h, anchors))

    noons_h = 24 * np.arange(len(days)) + 12
    dew_c = np.interp(clock_h, noons_h, [day.dew_c for day in days])
    air_c = _air_c(days, clock_h)
    columns = {name: column(name) for name in ("cloud", "wind_ms", "gust_ms", "rain_mm")}
    columns |= {"air_c": air_c, "dew_c": np.minimum(dew_c, air_c - LEAST_DEW_DROP_K)}
    return complete(from_columns(times, columns), garden)[0]


def _air_c(days: list[Day], clock_h: Array) -> Array:
    """Half a cosine from each dawn's lowest to the afternoon's highest, and down again."""
    hours = np.array([24 * n + h for n in range(len(days)) for h in (COLDEST_UTC, WARMEST_UTC)])
    turns = np.array([value for day in days for value in (day.low_c, day.high_c)], dtype=float)
    left = np.clip(np.searchsorted(hours, clock_h, side="right") - 1, 0, len(hours) - 2)
    gone = (clock_h - hours[left]) / (hours[left + 1] - hours[left])
    share = (1.0 - np.cos(pi * np.clip(gone, 0.0, 1.0))) / 2.0
    return np.asarray(turns[left] + share * (turns[left + 1] - turns[left]))
