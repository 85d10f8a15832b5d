"""Which readings to set aside, and why: impossible, in another unit, spiking, stuck; dead sensors.

Nothing is deleted: a reading is only set aside, and judged anew whenever more is known. The kinds
of check (plausible value, time consistency, persistence) are those of WMO-No. 488's "Guidelines on
quality control procedures for data from automatic weather stations" (Zahumenský 2004), read at
second hand. Its limits are for screened instruments sampled each minute (persistence: 0.1 K in an
hour); a garden's sensors come each hour or so and in steps of up to a degree, so ours are wider and
lean on the forecast for comparison: common sense, no source.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from enum import StrEnum
from itertools import groupby, pairwise
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from underbench.rules.garden.readings import Quantity, Reading
from underbench.rules.weather.hourly import LEAP_K, PLAUSIBLE, Array, Weather

# Zahumenský 2004 (second hand): air -80..60 °C, surfaces -80..80 °C, wind up to 75 m/s. Its 40 mm
# of rain is for a minute; here a gauge may be emptied once a day (record of a day: 1825 mm, WMO
# World Weather & Climate Extremes Archive, from memory). A much-used digital thermometer shows 85
# °C when just switched on; others show -127 °C when the wire is off (from memory). Under glass and
# in a pot no plant would live beyond these: judgement.
POSSIBLE: dict[Quantity, tuple[float, float]] = {
    Quantity.AIR: PLAUSIBLE["air_c"],
    Quantity.AIR_MIN: PLAUSIBLE["air_c"],
    Quantity.BENCH_SURFACE: (-80.0, 80.0),
    Quantity.ROOT_BALL: (-50.0, 60.0),
    Quantity.BAG: (-50.0, 70.0),
    Quantity.FRAME: (-50.0, 70.0),
    Quantity.RAIN: (0.0, 2000.0),
    Quantity.WIND: (0.0, 75.0),
}


class Reach(NamedTuple):
    """How far a quantity may lie above the warmest air of the hours before in full sun, and below
    the coldest one, K; and how many hours it remembers."""

    above_k: float
    below_k: float
    hours: float


# Judgement: closed glass in full sun comes to 25 or 30 K above the air, a black pot's wall to 20 or
# 25, dry dark wood to 40; a bench in a clear night is 10 K colder than the air.
REACH = {
    Quantity.BENCH_SURFACE: Reach(40.0, 12.0, 3.0),
    Quantity.ROOT_BALL: Reach(25.0, 3.0, 24.0),
    Quantity.BAG: Reach(30.0, 5.0, 3.0),
    Quantity.FRAME: Reach(30.0, 5.0, 12.0),
}
FULL_SUN_WM2 = 1000.0
# How far one may lie from the middle of two or more others of its kind within the hour, K.
# Air is left out: it is measured in the open and under glass, and `learned` watches it in the open.
ALIKE_K = {Quantity.ROOT_BALL: 15.0, Quantity.BAG: 20.0, Quantity.FRAME: 20.0}
ALIKE_WITHIN = timedelta(hours=1)
LEAST_OTHERS = 2
IN_AIR = (Quantity.AIR, Quantity.AIR_MIN)

FAR_OFF_K, AGREES_K = 10.0, 5.0  # more than forecasts err, and less
SPIKE_WITHIN = timedelta(hours=3)
LONGEST_SPIKE = 3  # readings
STUCK_AFTER, STUCK_WHILE_K, STUCK_READINGS = timedelta(hours=6), 5.0, 4
STUCK_WHILE_MS = 4.0
STUCK_NIGHTS = 2
WINDY_MS, WINDY_READINGS = 4.0, 12
TOO_WINDY = 1.6  # no bench has so much more wind than 10 m over open ground
MS_PER_KMH = 1 / 3.6
DEAD_AFTER, DEAD_MISSED, KNOWN_READINGS = timedelta(hours=3), 6, 5
NIGHT = timedelta(hours=24)


class Aside(StrEnum):
    """Why a reading is set aside."""

    IMPOSSIBLE = "impossible"
    FAHRENHEIT = "°F taken for °C"
    CELSIUS = "°C taken for °F"
    KMH = "km/h taken for m/s"
    BEYOND = "not possible in that weather"
    UNLIKE = "unlike its neighbours"
    SPIKE = "away and back"
    STUCK = "stuck"


class Sensor(NamedTuple):
    """What a run of readings comes from."""

    quantity: Quantity
    spot: str | None
    tree: str | None
    source: str


@dataclass(frozen=True, slots=True)
class Judged:
    """One sensor's readings, oldest first.

    ``aside`` says why each is set aside (None: it is good). ``dead_since`` says since when nothing
    more has come (None: the sensor is alive, or nobody can tell).
    """

    sensor: Sensor
    readings: tuple[Reading, ...]
    aside: tuple[Aside | None, ...]
    dead_since: datetime | None

    @property
    def good(self) -> list[Reading]:
        """The readings that are not set aside."""
        return [r for r, why in zip(self.readings, self.aside, strict=True) if why is None]


def trusted(readings: Iterable[Reading], weather: Weather, now: datetime) -> list[Reading]:
    """Return the readings that are not set aside, oldest first."""
    good = [reading for one in judge(readings, weather, now) for reading in one.good]
    return sorted(good, key=lambda reading: reading.at)


def judge(readings: Iterable[Reading], weather: Weather, now: datetime) -> list[Judged]:
    """Judge the readings of each sensor against ``weather``, as used or forecast for those hours.

    Of several members the middle counts. Where the weather has no hours, nothing is compared.
    """
    by_sensor: defaultdict[Sensor, list[Reading]] = defaultdict(list)
    for r in readings:
        by_sensor[Sensor(r.quantity, r.spot, r.tree, r.source)].append(r)
    told = Told(weather)
    alone = [
        _judged(sensor, tuple(sorted(found, key=lambda r: r.at)), told, now)
        for sensor, found in by_sensor.items()
    ]
    return [_beside(one, [other for other in alone if other is not one]) for one in alone]


def _judged(sensor: Sensor, readings: tuple[Reading, ...], told: Told, now: datetime) -> Judged:
    aside: dict[int, Aside] = {}
    # The order matters: another unit may be why a value is impossible, and an impossible value is
    # no neighbour to compare with.
    for check in (_other_unit, _impossible, _beyond, _spikes, _stuck):
        left = [(n, r) for n, r in enumerate(readings) if n not in aside]
        numbers, rest = [n for n, _ in left], [r for _, r in left]
        aside |= {numbers[n]: why for n, why in check(sensor.quantity, rest, told)}
    whys = tuple(aside.get(n) for n in range(len(readings)))
    return Judged(sensor, readings, whys, _dead_since(sensor, readings, now))


def _beside(one: Judged, others: Sequence[Judged]) -> Judged:
    """The same, with readings set aside that lie far from the middle of their neighbours'."""
    most_k = ALIKE_K.get(one.sensor.quantity)
    alike = [other for other in others if other.sensor.quantity is one.sensor.quantity]
    if most_k is None or len(alike) < LEAST_OTHERS:
        return one
    at_s = np.array([reading.at.timestamp() for reading in one.readings])
    near = np.array([_nearest(other, at_s) for other in alike])
    heard = np.isfinite(near).sum(axis=0) >= LEAST_OTHERS
    middle = np.nanmedian(np.where(heard, near, 0.0), axis=0)
    off = heard & (np.abs([reading.value for reading in one.readings] - middle) > most_k)
    whys = zip(one.aside, off.tolist(), strict=True)
    return replace(one, aside=tuple(why or (Aside.UNLIKE if far else None) for why, far in whys))


def _nearest(other: Judged, at_s: Array) -> Array:
    """The good value of another sensor nearest to each moment; NaN if that is too far off."""
    good = other.good
    if not good:
        return np.full(len(at_s), np.nan)
    times = np.array([reading.at.timestamp() for reading in good])
    after = np.clip(np.searchsorted(times, at_s), 1, max(len(times) - 1, 1))
    later = np.minimum(after, len(times) - 1)
    nearer = np.where(at_s - times[after - 1] <= np.abs(times[later] - at_s), after - 1, later)
    found = np.array([reading.value for reading in good])[nearer]
    within = np.abs(times[nearer] - at_s) <= ALIKE_WITHIN.total_seconds()
    return np.where(within, found, np.nan)


class Told:
    """Air, wind and sun by the weather, to compare readings with; NaN where it has none."""

    def __init__(self, weather: Weather) -> None:
        self._times = weather.times.astype(float)
        self._air_c = np.median(weather.air_c, axis=0)
        self._wind_ms = np.median(weather.wind_ms, axis=0)
        self._sun_wm2 = np.median(weather.global_wm2, axis=0)

    def of(self, quantity: Quantity, readings: Sequence[Reading]) -> Array:
        """Return what the weather has for each reading, shape (reading,)."""
        if quantity is Quantity.AIR_MIN:
            return np.array([self._range(self._air_c, r.at - NIGHT, r.at)[0] for r in readings])
        hours = self._wind_ms if quantity is Quantity.WIND else self._air_c
        at = np.array([r.at.timestamp() for r in readings])
        if not len(self._times):
            return np.full(len(at), np.nan)
        return np.asarray(np.interp(at, self._times, hours, left=np.nan, right=np.nan))

    def moved(self, quantity: Quantity, start: datetime, end: datetime) -> float:
        """Return by how much the weather moved in between; NaN where it has no hours."""
        hours = self._wind_ms if quantity is Quantity.WIND else self._air_c
        low, high = self._range(hours, start, end)
        return high - low

    def reach(self, reading: Reading) -> tuple[float, float]:
        """Return between what the weather lets a pot, a bench or a glass come; NaN without it."""
        of, end = REACH[reading.quantity], reading.at + timedelta(hours=1)
        low_c, high_c = self._range(self._air_c, reading.at - timedelta(hours=of.hours), end)
        _, sun_wm2 = self._range(self._sun_wm2, reading.at - timedelta(hours=of.hours), end)
        sun = 1.0 if np.isnan(sun_wm2) else min(1.0, sun_wm2 / FULL_SUN_WM2)
        return low_c - of.below_k - FAR_OFF_K, high_c + of.above_k * sun + FAR_OFF_K

    def _range(self, hours: Array, start: datetime, end: datetime) -> tuple[float, float]:
        within = (self._times >= start.timestamp()) & (self._times <= end.timestamp())
        found = hours[within & np.isfinite(hours)]
        return (float(found.min()), float(found.max())) if len(found) else (np.nan, np.nan)


Found = Iterator[tuple[int, Aside]]


def _impossible(quantity: Quantity, readings: Sequence[Reading], _told: Told) -> Found:
    low, high = POSSIBLE[quantity]
    for n, reading in enumerate(readings):
        if not low <= reading.value <= high:
            yield n, Aside.IMPOSSIBLE


def _beyond(quantity: Quantity, readings: Sequence[Reading], told: Told) -> Found:
    """Readings that no sun, and no clear night, brings about in the weather there was."""
    if quantity not in REACH:
        return
    for n, reading in enumerate(readings):
        low, high = told.reach(reading)
        if reading.value < low or reading.value > high:
            yield n, Aside.BEYOND


def _other_unit(quantity: Quantity, readings: Sequence[Reading], told: Told) -> Found:
    """Readings that fit the weather only in the other unit.

    Air is far from what the weather had, and close to it in the other unit. Wind is more than any
    garden has in that weather, and possible in the other unit. mph for m/s cannot be told from a
    windy bench.
    """
    values, weather = np.array([r.value for r in readings]), told.of(quantity, readings)
    if quantity is Quantity.WIND:
        windy = weather >= WINDY_MS
        if windy.sum() >= WINDY_READINGS:
            share = float(np.median(values[windy] / weather[windy]))
            if TOO_WINDY < share < TOO_WINDY / MS_PER_KMH:
                yield from ((n, Aside.KMH) for n in range(len(readings)))
    elif quantity in IN_AIR:
        far = np.abs(values - weather) > FAR_OFF_K
        meant = {Aside.FAHRENHEIT: (values - 32) / 1.8, Aside.CELSIUS: values * 1.8 + 32}
        for why, as_meant in meant.items():
            found = np.flatnonzero(far & (np.abs(as_meant - weather) < AGREES_K))
            off = np.abs(values - weather) >= AGREES_K
            yield from ((n, why) for n in _with_those_between(readings, found.tolist(), off))


def _with_those_between(
    readings: Sequence[Reading], found: Sequence[int], off: NDArray[np.bool_]
) -> Iterator[int]:
    """``found``, and readings that are off between two of them a day apart or less. Where both
    scales come close, or the weather errs, the unit is still the same."""
    yield from found
    for first, last in pairwise(found):
        if readings[last].at - readings[first].at <= NIGHT:
            yield from (n for n in range(first + 1, last) if off[n])


def _spikes(quantity: Quantity, readings: Sequence[Reading], _told: Told) -> Found:
    """Up to three readings that leap farther than air ever goes there and back (see `hourly`).

    Surfaces, bags and frames are not judged: sun breaks through, and lids are lifted.
    """
    if quantity not in (Quantity.AIR, Quantity.ROOT_BALL):
        return
    before = 0
    while before < len(readings) - 2:
        after = _back(readings, before)
        yield from ((n, Aside.SPIKE) for n in range(before + 1, after))
        before = after


def _back(readings: Sequence[Reading], before: int) -> int:
    """The number of the reading that is back after a spike that follows ``before``, or the next."""
    start = readings[before]
    for after in range(before + 2, min(before + LONGEST_SPIKE + 2, len(readings))):
        end = readings[after]
        if end.at - start.at > SPIKE_WITHIN:
            break
        between = [r.value for r in readings[before + 1 : after]]
        back = abs(end.value - start.value) < LEAP_K / 2
        away = min(min(abs(v - start.value), abs(v - end.value)) for v in between)
        if back and away > LEAP_K:
            return after
    return before + 1


def _stuck(quantity: Quantity, readings: Sequence[Reading], told: Told) -> Found:
    """Readings unchanged to the digit while the weather moved; the first of them was true.

    When a night's minimum comes again to the digit and the weather's does not, nobody reset the
    thermometer.
    """
    if quantity is Quantity.RAIN:
        return
    for run in _unchanged(readings):
        first, last = readings[run[0]], readings[run[-1]]
        if quantity is Quantity.AIR_MIN:
            lowest = told.of(quantity, [readings[n] for n in run])
            stuck = len(run) >= STUCK_NIGHTS and bool(np.ptp(lowest) >= STUCK_WHILE_K)
        else:
            long = len(run) >= STUCK_READINGS and last.at - first.at >= STUCK_AFTER
            enough = STUCK_WHILE_MS if quantity is Quantity.WIND else STUCK_WHILE_K
            stuck = (
                long
                and not _may_rest(quantity, first.value)
                and told.moved(quantity, first.at, last.at) >= enough
            )
        if stuck:
            yield from ((n, Aside.STUCK) for n in run[1:])


def _may_rest(quantity: Quantity, value: float) -> bool:
    """Whether a value may stay for long: a calm bench, a root ball that freezes through. Water and
    ice together stay at 0 °C."""
    if quantity is Quantity.WIND:
        return value == 0.0
    return quantity is Quantity.ROOT_BALL and abs(value) <= 1.0


def _unchanged(readings: Sequence[Reading]) -> Iterator[list[int]]:
    for _, run in groupby(range(len(readings)), key=lambda n: readings[n].value):
        yield list(run)


def _dead_since(sensor: Sensor, readings: Sequence[Reading], now: datetime) -> datetime | None:
    """When a device was last heard, if by its own rhythm it should have been heard since. A keeper
    may read a thermometer when they like."""
    if sensor.source == "command" or len(readings) < KNOWN_READINGS:
        return None
    gaps = sorted(after.at - before.at for before, after in pairwise(readings))
    usual, last = gaps[len(gaps) // 2], readings[-1].at
    return last if now - last > max(DEAD_MISSED * usual, DEAD_AFTER) else None
