"""The bench's erring forecasts are as far off as the pairs they are made from, and no further.

Source of the numbers: minima at St Louis as forecast by the US National Weather Service, 143 nights
of 2021; see tests/bench/forecast_error.py.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from bench.forecast_error import AHEAD_H, ErringForecast

from underbench.rules.weather.hourly import HOUR_S, VARIABLES, Array, Weather, from_columns

START = datetime(2021, 1, 1, tzinfo=UTC)
DAYS = 365
AHEAD = timedelta(days=5)
RMSE_K = {12: 1.51, 24: 1.54, 36: 1.65, 48: 1.75}
CORRELATED = {(24, 12): 0.87, (36, 24): 0.90, (48, 24): 0.89, (48, 12): 0.79}


@pytest.fixture(scope="module")
def year() -> Weather:
    """A year of equal days. Whatever differs from them in a forecast is its error."""
    hours = np.arange(1, DAYS * 24 + 1)
    day = np.sin((hours - 9) / 12 * np.pi)
    times = int(START.timestamp()) + HOUR_S * hours
    columns = {
        "air_c": 5 + 2.5 * day,
        "dew_c": np.full(hours.shape, 0.0),
        "wind_ms": np.full(hours.shape, 4.0),
        "gust_ms": np.full(hours.shape, 8.0),
        "cloud": np.full(hours.shape, 0.5),
        "global_wm2": np.maximum(0.0, 400 * day),
        "diffuse_wm2": np.maximum(0.0, 150 * day),
        "rain_mm": np.where(hours % 50 < 3, 1.0, 0.0),
        "pressure_kpa": np.full(hours.shape, 101.0),
        "snow_m": np.zeros(hours.shape),
    }
    return from_columns(times, columns)


@pytest.fixture(scope="module")
def by_lead(year: Weather) -> dict[int, Array]:
    """Errors of the night's minimum by lead before six in the morning, shape (night,)."""
    source = ErringForecast(year, 1)
    first, past = 10, DAYS - 3
    nights = [START + timedelta(days=day, hours=6) for day in range(first, past)]

    def minimum_c(weather: Weather, dawn: datetime) -> float:
        hours = weather.between(dawn - timedelta(hours=12), dawn + timedelta(hours=3))
        return float(hours.air_c.min())

    issued = {dawn - timedelta(hours=lead) for dawn in nights for lead in RMSE_K}
    told = {run: source.forecast(run) for run in sorted(issued)}
    return {
        lead: np.array(
            [
                minimum_c(told[dawn - timedelta(hours=lead)], dawn) - minimum_c(year, dawn)
                for dawn in nights
            ]
        )
        for lead in RMSE_K
    }


@pytest.mark.parametrize("lead", RMSE_K)
def test_errors_are_as_large_as_measured(by_lead: dict[int, Array], lead: int) -> None:
    assert np.sqrt((by_lead[lead] ** 2).mean()) == pytest.approx(RMSE_K[lead], rel=0.08)


@pytest.mark.parametrize("leads", CORRELATED)
def test_runs_agree_with_one_another_as_measured(
    by_lead: dict[int, Array], leads: tuple[int, int]
) -> None:
    """Within three standard errors of what was measured on 143 nights."""
    found = np.corrcoef(by_lead[leads[0]], by_lead[leads[1]])[0, 1]
    assert found == pytest.approx(CORRELATED[leads], abs=0.06)


def test_one_night_says_little_of_the_next(by_lead: dict[int, Array]) -> None:
    """Measured: -0.03 ± 0.08."""
    assert abs(np.corrcoef(by_lead[24][:-1], by_lead[48][1:])[0, 1]) < 0.16


def test_minima_are_a_little_too_cold_as_measured(by_lead: dict[int, Array]) -> None:
    """Measured: -0.2 ± 0.13 K at every lead."""
    for error in by_lead.values():
        assert error.mean() == pytest.approx(-0.2, abs=0.25)


def test_what_has_passed_is_what_was_observed(year: Weather) -> None:
    now = START + timedelta(days=20, hours=5)
    given = ErringForecast(year, 1).latest(now, past_days=2).weather
    seen = year.between(now - timedelta(days=2), now)
    for name in VARIABLES:
        past = getattr(given.between(now - timedelta(days=2), now), name)
        np.testing.assert_array_equal(past, getattr(seen, name))
    assert given.times[-1] == (now + timedelta(hours=AHEAD_H)).timestamp()
    assert np.abs(given.air_c[0, -24:] - year.air_c[0, :24]).max() > 0.1


def test_between_two_runs_the_forecast_stands(year: Weather) -> None:
    source = ErringForecast(year, 1)
    at = [START + timedelta(days=20, hours=hour) for hour in (6, 11, 12)]
    six, eleven, twelve = (source.forecast(now).between(at[2], at[2] + AHEAD) for now in at)
    np.testing.assert_array_equal(six.air_c, eleven.air_c)
    assert not np.array_equal(eleven.air_c, twelve.air_c)


def test_the_same_seed_gives_the_same_forecast(year: Weather) -> None:
    now = START + timedelta(days=100)
    one, same, other = (ErringForecast(year, seed).forecast(now) for seed in (1, 1, 2))
    for name in VARIABLES:
        np.testing.assert_array_equal(getattr(one, name), getattr(same, name))
    assert not np.array_equal(one.air_c, other.air_c)


def test_a_forecast_is_weather_that_could_be(year: Weather) -> None:
    given = ErringForecast(year, 1).forecast(START + timedelta(days=50))
    assert (given.dew_c <= given.air_c).all()
    assert (given.gust_ms >= given.wind_ms).all()
    assert (given.wind_ms > 0).all()
    assert ((given.cloud >= 0) & (given.cloud <= 1)).all()
    assert (given.rain_mm >= 0).all()
    assert (given.diffuse_wm2 <= given.global_wm2).all()
    assert all(np.isfinite(getattr(given, name)).all() for name in VARIABLES)
