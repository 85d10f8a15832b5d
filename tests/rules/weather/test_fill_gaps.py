"""What a source leaves out is estimated on the careful side, and named."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest

from underbench.rules.weather.fill_gaps import complete
from underbench.rules.weather.hourly import HOUR_S, VARIABLES, Weather, from_columns

START = datetime(2026, 6, 20, tzinfo=UTC)
BARE = ("air_c", "dew_c", "wind_ms")


def columns(hours: int = 48) -> dict[str, np.ndarray]:
    clock = np.arange(1, hours + 1) % 24
    air_c = 18.0 - 6.0 * np.cos((clock - 4) / 12 * np.pi)
    return {
        "air_c": air_c,
        "dew_c": air_c - 6.0,
        "wind_ms": np.full(hours, 2.5),
        "gust_ms": np.full(hours, 6.0),
        "cloud": np.full(hours, 0.4),
        "global_wm2": np.maximum(600 * np.sin((clock - 6) / 12 * np.pi), 0.0),
        "diffuse_wm2": np.maximum(200 * np.sin((clock - 6) / 12 * np.pi), 0.0),
        "rain_mm": np.full(hours, 0.2),
        "pressure_kpa": np.full(hours, 98.0),
        "snow_m": np.zeros(hours),
    }


def weather(given: dict[str, np.ndarray]) -> Weather:
    hours = len(next(iter(given.values())))
    times = int(START.timestamp()) + HOUR_S * np.arange(1, hours + 1)
    return from_columns(times, given)


def test_what_is_known_is_left_alone(make: Any) -> None:
    given = columns()
    whole, estimated = complete(weather(given), make.garden)
    assert estimated == frozenset()
    for name, values in given.items():
        assert getattr(whole, name)[0] == pytest.approx(values), name


def test_the_bare_three_are_enough_and_the_rest_is_said_to_be_a_guess(make: Any) -> None:
    whole, estimated = complete(weather({name: columns()[name] for name in BARE}), make.garden)
    assert estimated == frozenset(VARIABLES) - set(BARE)
    for name in VARIABLES:
        assert np.isfinite(getattr(whole, name)).all(), name
    assert (whole.cloud == 0).all()  # a clear sky: the careful guess on a frosty night
    assert (whole.rain_mm == 0).all()
    assert (whole.gust_ms >= whole.wind_ms).all()
    assert (whole.diffuse_wm2 <= whole.global_wm2).all()


def test_estimated_sun_is_dark_at_night_and_bright_at_noon(make: Any) -> None:
    """Haurwitz's clear sky at 67° is 0.92 x 1098 x exp(-0.059 / 0.92) = 950 W/m², by hand."""
    whole, _ = complete(weather({name: columns()[name] for name in BARE}), make.garden)
    hours = (whole.times // HOUR_S) % 24
    assert (whole.global_wm2[0, (hours >= 21) | (hours <= 2)] == 0).all()
    assert whole.global_wm2[0, hours == 11] == pytest.approx(950, rel=0.05)


def test_pressure_from_height(make: Any) -> None:
    """FAO-56 table 2.1 of annex 2, from memory: 300 m is 97.8 kPa."""
    whole, _ = complete(weather({name: columns()[name] for name in BARE}), make.garden)
    assert whole.pressure_kpa == pytest.approx(97.8, abs=0.05)


def test_a_lost_day_repeats_the_day_before_and_a_lost_start_the_nearest(make: Any) -> None:
    given = columns(72)
    given["air_c"][24:] = np.nan
    given["dew_c"][:3] = np.nan
    whole, estimated = complete(weather(given), make.garden)
    assert estimated == {"air_c", "dew_c"}
    assert whole.air_c[0, 24:48] == pytest.approx(given["air_c"][:24])
    assert whole.air_c[0, 48:] == pytest.approx(given["air_c"][:24])
    assert whole.dew_c[0, :3] == pytest.approx(np.minimum(given["dew_c"][3], given["air_c"][:3]))


def test_a_guess_never_contradicts_what_is_known(make: Any) -> None:
    """No hour has a gust below the wind, more diffuse light than light, or dew above the air."""
    given = columns()
    given["gust_ms"][:] = 1.0
    given["diffuse_wm2"][:] = 900.0
    given["dew_c"][:] = 30.0
    whole, _ = complete(weather(given), make.garden)
    assert (whole.gust_ms >= whole.wind_ms).all()
    assert (whole.diffuse_wm2 <= whole.global_wm2).all()
    assert (whole.dew_c <= whole.air_c).all()


def test_completing_twice_changes_nothing(make: Any) -> None:
    once, _ = complete(weather({name: columns()[name] for name in BARE}), make.garden)
    twice, estimated = complete(once, make.garden)
    assert estimated == frozenset()
    for name in VARIABLES:
        assert np.array_equal(getattr(once, name), getattr(twice, name)), name


def test_without_any_air_nothing_can_be_judged(make: Any) -> None:
    given = columns()
    given["air_c"][:] = np.nan
    with pytest.raises(ValueError, match="no air_c in the whole weather"):
        complete(weather(given), make.garden)


def test_cloud_comes_from_the_sun_and_lasts_the_night(make: Any) -> None:
    given = columns()
    del given["cloud"], given["diffuse_wm2"]
    given["global_wm2"] = 1.5 * given["global_wm2"]
    bright, _ = complete(weather(given), make.garden)
    dull, estimated = complete(
        weather(given | {"global_wm2": 0.2 * given["global_wm2"]}), make.garden
    )
    assert "cloud" in estimated
    night = slice(22, 27)  # 22:00 to 02:00 UTC
    assert (dull.cloud[0, night] > 0.9).all()
    assert (dull.cloud >= bright.cloud).all()
    assert bright.cloud[0, 11] < 0.3  # noon


def test_a_day_without_sun_readings_tells_of_no_cloud_but_its_neighbours_hours(make: Any) -> None:
    given = columns(96)
    del given["cloud"], given["diffuse_wm2"]
    dull = 0.1 * given["global_wm2"]
    dull[24:72] = np.nan
    whole, _ = complete(weather(given | {"global_wm2": dull}), make.garden)
    assert (whole.cloud[0, [12, 84]] > 0.9).all()
    assert (whole.cloud[0, 40:56] == 0).all()
