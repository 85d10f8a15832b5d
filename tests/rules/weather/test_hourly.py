"""Weather as arrays: impossible readings, gaps, joining."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underbench.rules.weather.hourly import (
    HOUR_S,
    LONGEST_BRIDGED_GAP_H,
    Weather,
    bridge_gaps,
    covered_until,
    drop_implausible,
    from_columns,
    join,
)

START = datetime(2026, 1, 10, tzinfo=UTC)
HOUR = timedelta(hours=1)


def weather(hours: int = 24, **columns: Any) -> Weather:
    times = int(START.timestamp()) + HOUR_S * np.arange(1, hours + 1)
    usual = {"air_c": [4.0] * hours, "dew_c": [1.0] * hours, "wind_ms": [2.0] * hours}
    return from_columns(times, {k: np.array(v) for k, v in {**usual, **columns}.items()})


def with_gap(first: int, length: int) -> Weather:
    air = [float(h) for h in range(24)]
    air[first : first + length] = [np.nan] * length
    return weather(air_c=air)


# ---- impossible readings ------------------------------------------------------------------------


def test_one_wild_reading_does_not_cost_the_run() -> None:
    """Loggers write 999 for "missing"; the hours beside it stay."""
    air = [4.0] * 24
    air[5] = 999.0
    kept, dropped = drop_implausible(weather(air_c=air))
    assert dropped == {"air_c": 1}
    assert np.flatnonzero(np.isnan(kept.air_c[0])).tolist() == [5]


@pytest.mark.parametrize(
    ("name", "value"),
    [("air_c", -89.2), ("air_c", 56.7), ("gust_ms", 113.0), ("rain_mm", 305.0)],
)
def test_the_records_of_the_earth_are_possible(name: str, value: float) -> None:
    """WMO World Weather & Climate Extremes Archive, from memory."""
    kept, dropped = drop_implausible(weather(1, **{name: [value]}))
    assert dropped == {}
    assert getattr(kept, name).tolist() == [[value]]


def test_infinite_is_missing() -> None:
    kept, _ = drop_implausible(weather(2, wind_ms=[np.inf, 3.0]))
    assert np.isnan(kept.wind_ms[0, 0])
    assert kept.wind_ms[0, 1] == 3.0


def test_dew_above_air_is_fog_and_light_below_zero_is_night() -> None:
    kept, dropped = drop_implausible(weather(1, air_c=[3.0], dew_c=[3.4], global_wm2=[-1.5]))
    assert dropped == {}
    assert kept.dew_c[0, 0] == 3.0
    assert kept.global_wm2[0, 0] == 0.0


def test_a_sensor_that_leaps_away_for_an_hour_is_not_believed() -> None:
    air = [4.0, 4.5, 21.0, 5.0, 5.5]
    kept, dropped = drop_implausible(weather(5, air_c=air))
    assert dropped == {"air_c": 1}
    assert np.flatnonzero(np.isnan(kept.air_c[0])).tolist() == [2]


@pytest.mark.parametrize(
    "air",
    [
        [21.0, 20.0, 8.0, 7.0, 6.5],
        [2.0, 11.0, 3.0, 2.0, 2.0],
        [3.0, 15.0, np.nan, 4.0, 4.0],
        [9.0, 9.0, 21.0, 3.0, 3.0],
    ],
)
def test_a_front_or_a_warm_wind_is_weather(air: list[float]) -> None:
    """Down by twelve kelvin and staying there; up by nine for an hour; up by twelve between hours
    that are far apart themselves."""
    _, dropped = drop_implausible(weather(5, air_c=air, dew_c=[-5.0] * 5))
    assert dropped == {}


# ---- gaps ---------------------------------------------------------------------------------------


@given(first=st.integers(1, 22), length=st.integers(1, 12))
def test_gaps_of_three_hours_are_drawn_across_and_no_longer_ones(first: int, length: int) -> None:
    length = min(length, 23 - first)
    bridged = bridge_gaps(with_gap(first, length)).air_c[0]
    if length <= LONGEST_BRIDGED_GAP_H == 3:
        assert bridged == pytest.approx(np.arange(24.0))
    else:
        assert np.isnan(bridged[first : first + length]).all()
        assert np.isfinite(bridged).sum() == 24 - length


def test_the_ends_are_never_invented() -> None:
    assert np.isnan(bridge_gaps(with_gap(0, 1)).air_c[0, 0])
    assert np.isnan(bridge_gaps(with_gap(23, 1)).air_c[0, 23])


def test_a_gap_in_a_downpour_is_dry_not_wet() -> None:
    rain = [8.0, np.nan, 8.0, *[0.0] * 21]
    assert bridge_gaps(weather(rain_mm=rain)).rain_mm[0, :3].tolist() == [8.0, 0.0, 8.0]


def test_bridging_leaves_the_original_alone() -> None:
    gappy = with_gap(4, 2)
    bridge_gaps(gappy)
    assert np.isnan(gappy.air_c[0, 4:6]).all()


# ---- how far it reaches -------------------------------------------------------------------------


def test_covered_until_the_first_break_in_what_is_needed() -> None:
    assert covered_until(weather(), START) == START + 24 * HOUR
    assert covered_until(with_gap(10, 1), START) == START + 10 * HOUR
    assert covered_until(with_gap(10, 1), START + 11 * HOUR) == START + 24 * HOUR
    # Nobody needs the cloud to be known.
    assert covered_until(weather(cloud=[np.nan] * 24), START) == START + 24 * HOUR


def test_not_covered_where_the_next_hour_is_missing() -> None:
    assert covered_until(with_gap(0, 1), START) is None
    assert covered_until(weather(), START + 24 * HOUR) is None
    assert covered_until(weather(), START - 2 * HOUR) is None


# ---- cutting and joining ------------------------------------------------------------------------


@given(cut=st.integers(0, 24))
def test_between_cuts_a_run_without_losing_or_doubling_an_hour(cut: int) -> None:
    whole = weather(air_c=[float(h) for h in range(24)])
    early = whole.between(START, START + cut * HOUR)
    late = whole.between(START + cut * HOUR, START + 24 * HOUR)
    assert (early.hours, late.hours) == (cut, 24 - cut)
    again = join(early, late)
    assert again.times.tolist() == whole.times.tolist()
    assert again.air_c.tolist() == whole.air_c.tolist()


def test_what_was_measured_wins_over_the_forecast_of_the_same_hour() -> None:
    past, ahead = weather(6, air_c=[1.0] * 6), weather(24, air_c=[9.0] * 24)
    assert join(past, ahead).air_c[0].tolist() == [1.0] * 6 + [9.0] * 18


@pytest.mark.parametrize("columns", [{"air_f": [1.0]}, {"cloud": [0.1, 0.2]}])
def test_columns_that_do_not_fit_are_refused(columns: dict[str, list[float]]) -> None:
    with pytest.raises(ValueError, match=r"no such weather variable: air_f|1 times, but"):
        weather(1, **columns)
