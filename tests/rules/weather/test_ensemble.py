"""An ensemble on the central run: weathers that could be, each consistent in itself."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from ensemble_service import members_of
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from underbench.rules.weather.ensemble import on_central
from underbench.rules.weather.hourly import HOUR_S, VARIABLES, Array, Weather
from underbench.rules.weather.spread import MEMBERS, drawn_sites, dress
from underbench.rules.weather.sun import clear_sky_wm2, position

START = datetime(2026, 4, 17, 18, tzinfo=UTC)
HOURS = 120


@pytest.fixture(scope="module")
def central(make: Any) -> Weather:
    run: Weather = make.weather(START, HOURS, cloud=0.5, gust_ms=4.0, wind_ms=2.5)
    return run


@pytest.fixture(scope="module")
def sun(make: Any, central: Weather) -> Array:
    middles = central.times - HOUR_S // 2
    elevation: Array = position(middles, make.garden.latitude, make.garden.longitude)[0]
    return elevation


@pytest.fixture(scope="module")
def coarse(make: Any) -> Weather:
    """An ensemble warmer, windier and cloudier than the garden's own run, like a coarse grid."""
    run = make.weather(START, HOURS, cloud=0.6, mean_c=11.0, wind_ms=4.0)
    return members_of(run, 51)


def laid(central: Weather, sun: Array, *runs: Weather) -> Weather:
    return on_central(central, runs, sun, 300.0)


def test_as_many_weathers_as_members_around_the_central_run(
    central: Weather, sun: Array, coarse: Weather
) -> None:
    out = laid(central, sun, coarse)
    assert out.members == 51
    assert out.air_c.mean(axis=0) == pytest.approx(central.air_c[0])
    assert out.air_c.std(axis=0) == pytest.approx(coarse.air_c.std(axis=0))
    assert out.wind_ms.mean(axis=0) == pytest.approx(central.wind_ms[0], abs=0.05)
    # A clear sky lets no more through, so the brightest members are cut a little.
    assert out.global_wm2.mean(axis=0) == pytest.approx(central.global_wm2[0], rel=0.05)


def test_models_are_each_measured_from_their_own_mean(
    central: Weather, sun: Array, coarse: Weather
) -> None:
    """A model 6 K too cold at this place must not make half of the weathers frosty."""
    cold = replace(coarse, air_c=coarse.air_c - 6.0, dew_c=coarse.dew_c - 6.0)
    one, both = laid(central, sun, coarse), laid(central, sun, coarse, cold)
    assert both.members == 102
    assert np.sort(both.air_c[:, 9]) == pytest.approx(np.sort(one.air_c[:, 9]).repeat(2))


def test_the_clear_member_is_the_cold_night_and_the_bright_day(
    central: Weather, sun: Array, coarse: Weather
) -> None:
    """Nothing is shuffled: a member with less cloud has the colder night and more sun."""
    out = dress(laid(central, sun, coarse), START, sun > 0)
    night, day = sun < -0.1, sun > 0.3
    cloud = out.cloud - out.cloud.mean(axis=0)
    cold = (out.air_c - out.air_c.mean(axis=0))[:, night]
    bright = (out.global_wm2 - out.global_wm2.mean(axis=0))[:, day]
    assert np.corrcoef(cloud[:, night].ravel(), cold.ravel())[0, 1] > 0.6
    assert np.corrcoef(cloud[:, day].ravel(), bright.ravel())[0, 1] < -0.6


def test_gusts_are_the_members_wind_times_the_central_runs_factor(
    central: Weather, sun: Array, coarse: Weather
) -> None:
    """4.0 over 2.5 m/s."""
    out = laid(central, sun, coarse)
    blowing = out.wind_ms > 0
    assert out.gust_ms[blowing] == pytest.approx(1.6 * out.wind_ms[blowing])


def test_one_gust_in_a_calm_hour_makes_no_storm_of_a_breeze(
    make: Any, sun: Array, coarse: Weather
) -> None:
    calm = make.weather(START, HOURS, wind_ms=0.2, gust_ms=6.0)
    assert laid(calm, sun, coarse).gust_ms.max() < 6.0 + 3.0 * np.ptp(coarse.wind_ms)
    assert laid(calm, sun, coarse).gust_ms.max() < 25.0


def test_a_dry_hour_is_wet_in_some_weathers_and_a_wet_one_dry(
    make: Any, sun: Array, coarse: Weather
) -> None:
    for central_mm in (0.0, 2.0):
        central = make.weather(START, HOURS, rain_mm=central_mm)
        out = dress(laid(central, sun, coarse), START, sun > 0)
        assert ((out.rain_mm > 0).mean(axis=0) == pytest.approx(25 / 51)) is True
        assert out.rain_mm.min() == 0.0


def test_without_dew_points_they_go_with_the_air(
    central: Weather, sun: Array, coarse: Weather
) -> None:
    """ICON-EU-EPS has none."""
    dry = replace(coarse, dew_c=np.full_like(coarse.dew_c, np.nan))
    out = laid(central, sun, dry)
    colder = out.air_c < central.air_c - 0.5
    assert (out.dew_c < central.dew_c)[colder].all()
    assert (out.dew_c <= out.air_c).all()


def test_a_model_without_cloud_has_it_from_its_sun(
    central: Weather, sun: Array, coarse: Weather
) -> None:
    blind = replace(coarse, cloud=np.full_like(coarse.cloud, np.nan))
    out, full = laid(central, sun, blind), laid(central, sun, coarse)
    night = sun < -0.1
    assert np.corrcoef(out.cloud[:, night].ravel(), full.cloud[:, night].ravel())[0, 1] > 0.7


def test_beyond_its_horizon_the_departures_fade_and_dressing_takes_over(
    central: Weather, sun: Array, coarse: Weather
) -> None:
    """Two days of members, five of forecast: no jump, and no less spread than without."""
    short = coarse.hours_at(slice(0, 48))
    bare = laid(central, sun, short)
    off = bare.air_c - central.air_c
    assert np.abs(off[:, 48] - off[:, 47]).max() < 0.1 * np.abs(off[:, 47]).max()
    assert np.abs(off[:, -1]).max() < 0.05 * np.abs(off[:, 47]).max()
    out, plain = dress(bare, START, sun > 0), dress(central, START, sun > 0, 51)
    late = slice(-24, None)
    ratio = out.air_c[:, late].std(axis=0) / plain.air_c[:, late].std(axis=0)
    assert ratio == pytest.approx(1.0, abs=0.1)
    assert np.array_equal(out.rain_mm[:, late] == 0, plain.rain_mm[:, late] == 0)


@pytest.mark.parametrize("spread_k", [0.1, 0.5, 1.0, 4.0])
def test_a_narrow_ensemble_is_widened_to_the_errors_made_and_a_wide_one_left(
    make: Any, central: Weather, sun: Array, spread_k: float
) -> None:
    run = make.weather(START, HOURS, cloud=0.5, mean_c=9.0)
    own = members_of(run, 51, spread_k)
    out, plain = (
        dress(one, START, sun > 0, 51).air_c.std(axis=0).mean()
        for one in (laid(central, sun, own), central)
    )
    alone = own.air_c.std(axis=0).mean()
    assert out == pytest.approx(max(plain, alone), rel=0.12)


def test_few_members_are_gone_through_again(central: Weather, sun: Array, coarse: Weather) -> None:
    """With three members a chance would come in thirds."""
    few = Weather(coarse.times, **{name: getattr(coarse, name)[:3] for name in VARIABLES})
    out = dress(laid(central, sun, few), START, sun > 0)
    assert MEMBERS <= out.members < MEMBERS + 3
    assert len(np.unique(out.air_c[:, 5])) == out.members


def test_hours_outside_the_ensemble_keep_the_central_run(
    central: Weather, sun: Array, coarse: Weather
) -> None:
    """An ensemble kept since yesterday starts earlier; one of tomorrow starts later."""
    later = coarse.hours_at(slice(30, None))
    out = laid(central, sun, later)
    assert (out.air_c[:, :30] == central.air_c[:, :30]).all()
    earlier = replace(coarse, times=coarse.times - 6 * HOUR_S)
    departures = coarse.air_c[:, 6] - coarse.air_c[:, 6].mean()
    assert np.sort(laid(central, sun, earlier).air_c[:, 0]) == pytest.approx(
        np.sort(central.air_c[0, 0] + departures)
    )


@pytest.mark.parametrize("count", [31, 40, 51, 91])
def test_site_draws_have_nothing_to_do_with_the_members_number(
    make: Any, central: Weather, sun: Array, count: int
) -> None:
    """Members are numbered in some order of the model's perturbations, often in pairs."""
    number = np.arange(float(count))
    warm = np.repeat(number[:, None], HOURS, axis=1)
    numbered = replace(members_of(central, count), air_c=warm)
    out = laid(central, sun, numbered)
    number = (out.air_c - central.air_c)[:, 0] - (out.air_c - central.air_c)[:, 0].min()
    site = drawn_sites(count)
    for name in ("wind_share", "sky_shift", "limit_shift_k", "bag_shift_k", "use_share"):
        draws = getattr(site, name)
        assert len(draws) == count
        for order in (number, np.rint(number) % 2):  # one in twenty is beyond this by pure chance
            assert abs(np.corrcoef(order, draws)[0, 1]) < 2.0 / count**0.5, name


VALUES = st.floats(-60.0, 60.0, width=32) | st.just(float("nan"))


@given(
    air=arrays(float, (5, 48), elements=VALUES),
    dew=arrays(float, (5, 48), elements=VALUES),
    wind=arrays(float, (5, 48), elements=st.floats(0.0, 60.0) | st.just(float("nan"))),
    cloud=arrays(float, (5, 48), elements=st.floats(0.0, 1.0) | st.just(float("nan"))),
    sun_wm2=arrays(float, (5, 48), elements=st.floats(0.0, 1400.0) | st.just(float("nan"))),
    rain=arrays(float, (5, 48), elements=st.floats(0.0, 50.0) | st.just(float("nan"))),
)
def test_whatever_comes_every_member_could_be(
    central: Weather,
    sun: Array,
    air: Array,
    dew: Array,
    wind: Array,
    cloud: Array,
    sun_wm2: Array,
    rain: Array,
) -> None:
    gone = np.full_like(air, np.nan)
    run = Weather(
        times=central.times[:48],
        **dict.fromkeys(VARIABLES, gone)
        | {"air_c": air, "dew_c": dew, "wind_ms": wind, "cloud": cloud}
        | {"global_wm2": sun_wm2, "rain_mm": rain},
    )
    bare = on_central(central, [run], sun, 300.0, least=5)
    assert bare.air_c.mean(axis=0)[np.isfinite(air).all(axis=0).nonzero()] == pytest.approx(
        central.air_c[0, :48][np.isfinite(air).all(axis=0)], abs=1e-9
    )
    out = dress(bare, START - timedelta(hours=1), sun > 0)
    assert all(np.isfinite(getattr(out, name)).all() for name in VARIABLES)
    assert (out.dew_c <= out.air_c).all()
    assert (out.gust_ms >= out.wind_ms).all()
    assert (out.wind_ms >= 0).all()
    assert ((out.cloud >= 0) & (out.cloud <= 1)).all()
    assert (out.rain_mm >= 0).all()
    assert (out.global_wm2 >= 0).all()
    dark = (clear_sky_wm2(sun, 300.0) == 0) & (central.global_wm2[0] == 0)
    assert (out.global_wm2[:, dark] == 0).all()
    assert (out.diffuse_wm2 <= out.global_wm2).all()
