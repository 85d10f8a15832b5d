"""Forecasts that err as real ones do, made from what was observed.

Every six hours a new run is issued; in between the last one stands. The error of an hour has three
parts: one that all runs share (place, site and what no model knows), one of each run's own, and one
that shrinks as the hour comes nearer: every run learns something that the one before did not know.
So runs agree with one another far more than with the truth, as real ones do.

Air, measured on open pairs: forecasts of the night's minimum at St Louis, issued by the US National
Weather Service 12, 24, 36 and 48 hours before, with what was observed; 143 nights, 30 January to
11 April and 7 October to 17 December 2021 (GitHub speegled/weather_forecasts,
data/email_data_expanded.csv at commit 397669bd; the TidyTuesday data of 20 December 2022):

    lead        12 h    24 h    36 h    48 h
    RMSE        1.51    1.54    1.65    1.75 K      bias -0.2 ± 0.13 K
    same night, errors correlated   24/12 0.87   36/24 0.90   48/24 0.89   48/12 0.79
    a night and the next of one run                24/48 -0.03   12/36 0.02

All 167 US cities of that data, highs and lows, all four leads: MAE 2.32 and its spread 2.12 °F
(published summary), which is an RMSE of 1.75 K. How errors fade through the hours of one run:
forecasts for 24 hours at Vancouver, six days of January 2012 (GitHub WFRT/verif, examples/kf.txt),
correlated 0.31 over 6 h and 0.23 over 12 h. Beyond two days the growth is carried on as a straight
line of the variance: 2.3 K on day six; unmeasured.

Wind: MET Norway at 50 stations, September 2026 (GitHub Stranden1/weather-forecast-verification,
FINDINGS_2026-09-26.md): MAE 1.39 m/s at one day, 1.54 at two, much the same in light and strong
wind; RMSE = 1.25 MAE as of a normal error. Its split into parts is that of the air. Cloud, the
shift of rain in time and its amount: from memory.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache

import numpy as np

from underbench.daemon.weather.supply import Supplied
from underbench.rules.garden.inventory import Garden
from underbench.rules.weather.hourly import HOUR_S, VARIABLES, Array, Weather

RUN_EVERY_H = 6
AHEAD_H = 7 * 24
# The lowest hour of an erring night is the one that errs most to the cold; so much warmer, and its
# minimum is as far off as measured.
BIAS_K = 0.35
MEMORY_H = 5.0  # errors correlate (1 + t/T) exp(-t/T): 0.66 over 6 h, 0.31 over 12, 0.05 over 24
CLOUD_TO_NIGHT_AIR = 0.6  # as in rules/weather/spread.py
GUST_SHARE = 1.6  # a wind error of 1 m/s is one of so many in the gust
DEW_SHARE = 0.7  # as in rules/weather/spread.py
LEAST_WIND_MS = 0.3
_AIR, _CLOUD, _WIND, _RAIN_TIME, _RAIN = range(5)
_SHARED, _OWN, _LEARNT = range(3)


@dataclass(frozen=True, slots=True)
class Spread:
    """Variance of an error: the part all runs share, a run's own, and the growth a day ahead."""

    shared: float
    own: float
    per_day: float


AIR_K2 = Spread(1.80, 0.15, 0.55)
WIND_M2S2 = Spread(2.15, 0.18, 0.69)
CLOUD = Spread(0.022, 0.003, 0.0235)
RAIN_TIME_H2 = Spread(4.0, 0.5, 4.5)
RAIN_LOG = Spread(0.10, 0.02, 0.05)


class Observed:
    """The months before, as an archive has them."""

    def __init__(self, weather: Weather) -> None:
        self._weather = weather

    def between(self, garden: Garden, first: date, last: date, now: datetime) -> Weather:
        """Return the hours of the UTC days from ``first`` to ``last`` that are over by ``now``."""
        begins, ends = (datetime.combine(day, time(), UTC) for day in (first, last))
        return self._weather.between(
            begins - timedelta(hours=1), min(ends + timedelta(days=1), now)
        )


class ErringForecast:
    """Gives each pass what really happened until now, and an erring forecast after that.

    ``observed``: one member, complete. The same ``seed`` gives the same forecasts.
    """

    ensembles = None

    def __init__(self, observed: Weather, seed: int) -> None:
        self._observed, self._seed = observed, seed
        self.archive = Observed(observed)
        self._first_h = int(observed.times[0]) // HOUR_S
        self._run_of = lru_cache(maxsize=1)(self._run)
        self._noise_of = lru_cache(maxsize=1024)(self._noise)

    def latest(self, now: datetime, past_days: int) -> Supplied:
        """Return the weather around ``now``, as the daemon asks for it."""
        weather = self.forecast(now).between(
            now - timedelta(days=past_days), now + timedelta(hours=AHEAD_H)
        )
        return Supplied(weather, now, now, timedelta(0), None, "the series", "Weather from a file")

    def forecast(self, now: datetime) -> Weather:
        """Return the observed hours up to ``now``, and those after as the last run has them."""
        run_h = int(now.timestamp()) // HOUR_S // RUN_EVERY_H * RUN_EVERY_H
        past = self._observed.times <= now.timestamp()
        run, seen = self._run_of(run_h), self._observed
        return Weather(
            times=seen.times,
            **{v: np.where(past, getattr(seen, v), getattr(run, v)) for v in VARIABLES},
        )

    def _run(self, run_h: int) -> Weather:
        """The run issued at ``run_h`` (hours since 1970), over the whole series."""
        seen = self._observed
        day = seen.global_wm2[0] > 0
        air, cloudy = self._error(_AIR, AIR_K2, run_h), self._error(_CLOUD, AIR_K2, run_h)
        night = CLOUD_TO_NIGHT_AIR * cloudy + np.sqrt(1 - CLOUD_TO_NIGHT_AIR**2) * air
        ahead = seen.times > run_h * HOUR_S
        warmer = np.where(ahead, BIAS_K + np.where(day, air, night), 0.0)
        windier = self._error(_WIND, WIND_M2S2, run_h)
        wind = np.maximum(seen.wind_ms + windier, LEAST_WIND_MS)
        air_c = seen.air_c + warmer
        return replace(
            self._cloudier(run_h),
            air_c=air_c,
            dew_c=np.minimum(seen.dew_c + DEW_SHARE * warmer, air_c),
            wind_ms=wind,
            gust_ms=np.maximum(seen.gust_ms + GUST_SHARE * windier, wind),
            rain_mm=self._rain(run_h),
        )

    def _cloudier(self, run_h: int) -> Weather:
        """The observed weather under the run's cloud; a year without cloud stays without it."""
        seen = self._observed
        if not seen.cloud.any():
            return seen
        cloud = np.clip(seen.cloud + self._error(_CLOUD, CLOUD, run_h), 0.0, 1.0)
        sun = seen.global_wm2 * _transmission(cloud) / _transmission(seen.cloud)
        return replace(
            seen, cloud=cloud, global_wm2=sun, diffuse_wm2=np.minimum(seen.diffuse_wm2, sun)
        )

    def _rain(self, run_h: int) -> Array:
        """Rain that comes early or late, and more or less of it."""
        late_h = np.rint(self._error(_RAIN_TIME, RAIN_TIME_H2, run_h)).astype(int)
        hours = np.clip(np.arange(self._observed.hours) - late_h, 0, self._observed.hours - 1)
        return self._observed.rain_mm[:, hours] * np.exp(self._error(_RAIN, RAIN_LOG, run_h))

    def _error(self, factor: int, spread: Spread, run_h: int) -> Array:
        """The run's error of one factor in each hour of the series, shape (hour,); 0 before it."""
        hours = self._observed.hours
        since = run_h - self._first_h
        at = slice(max(since + 1, 0), min(since + 1 + AHEAD_H, hours))
        error = np.zeros(hours)
        error[at] = np.sqrt(spread.shared) * self._noise_of(factor, _SHARED, 0, hours)[at]
        parts = [(_OWN, run_h, np.sqrt(spread.own))]
        step = np.sqrt(spread.per_day * RUN_EVERY_H / 24)
        parts += [(_LEARNT, later, step) for later in range(run_h, run_h + AHEAD_H, RUN_EVERY_H)]
        for part, begins_h, size in parts:
            start = begins_h - self._first_h + 1
            there = slice(max(start, 0), min(start + AHEAD_H, at.stop))
            noise = self._noise_of(factor, part, begins_h, AHEAD_H)
            error[there] += size * noise[there.start - start : max(there.stop - start, 0)]
        return error

    def _noise(self, factor: int, part: int, begins_h: int, hours: int) -> Array:
        """Unit-variance noise, smooth in time."""
        kernel = np.arange(1.0, 12 * MEMORY_H)
        kernel *= np.exp(-kernel / MEMORY_H)
        kernel /= np.sqrt((kernel**2).sum())
        rng = np.random.default_rng([self._seed, factor, part, begins_h])
        white = rng.standard_normal(hours + len(kernel) - 1)
        return np.convolve(white, kernel, mode="valid")


def _transmission(cloud: Array) -> Array:
    """Share of clear-sky sun under ``cloud`` (Kasten & Czeplak 1980)."""
    return np.asarray(1.0 - 0.75 * cloud**3.4)
