"""Dressed members: one forecast turned into weathers that could happen."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from underbench.rules.weather.hourly import HOUR_S, VARIABLES, Array, Weather
from underbench.rules.weather.spread import (
    MEMBERS,
    daylight_share,
    drawn_sites,
    dress,
    known_site,
    no_brighter_than,
)
from underbench.rules.weather.sun import clear_sky_wm2, position

START = datetime(2026, 4, 17, tzinfo=UTC)
NOW = START + timedelta(hours=12)
HOURS = 240


@pytest.fixture(scope="module")
def plain(make: Any) -> Weather:
    run: Weather = make.weather(START, HOURS, cloud=0.5, rain_mm=0.4, gust_ms=4.0)
    return run


def daylight(make: Any, weather: Weather) -> Any:
    middles = weather.times - HOUR_S // 2
    return position(middles, make.garden.latitude, make.garden.longitude)[0] > 0


@pytest.fixture(scope="module")
def dressed(make: Any, plain: Weather) -> Weather:
    return dress(plain, NOW, daylight(make, plain))


def departures(members: Weather, run: Weather) -> Array:
    """The departures of the air, K, for hours ahead only (member, hour)."""
    return (members.air_c - run.air_c)[:, run.times > NOW.timestamp()]


def test_hours_gone_by_have_no_spread(plain: Weather, dressed: Weather) -> None:
    past = plain.times <= NOW.timestamp()
    for name in VARIABLES:
        members = getattr(dressed, name)
        assert members.shape == (MEMBERS, HOURS)
        assert members[:, past] == pytest.approx(
            np.broadcast_to(getattr(plain, name)[:, past], (MEMBERS, past.sum()))
        ), name
    assert (departures(dressed, plain).std(axis=0) > 0).all()


def test_mirrored_pairs_keep_the_mean(plain: Weather, dressed: Weather) -> None:
    assert dressed.air_c.mean(axis=0) == pytest.approx(plain.air_c[0])
    assert np.log(dressed.wind_ms).mean(axis=0) == pytest.approx(np.log(plain.wind_ms[0]))


def test_every_member_is_a_weather_that_could_be(dressed: Weather) -> None:
    assert (dressed.dew_c <= dressed.air_c).all()
    assert (dressed.gust_ms >= dressed.wind_ms).all()
    assert ((dressed.cloud >= 0) & (dressed.cloud <= 1)).all()
    assert (dressed.diffuse_wm2 <= dressed.global_wm2).all()
    assert (dressed.rain_mm >= 0).all()
    assert all(np.isfinite(getattr(dressed, name)).all() for name in VARIABLES)


def test_a_colder_member_is_drier_and_not_by_as_much(plain: Weather, dressed: Weather) -> None:
    """Its dew point follows its air less far: cold nights come with dry air, yet nearer to fog."""
    ahead = plain.times > NOW.timestamp()
    air_k, dew_k = (
        (m - p)[:, ahead] for m, p in ((dressed.air_c, plain.air_c), (dressed.dew_c, plain.dew_c))
    )
    colder = air_k < -0.1
    assert (dew_k[colder] < 0.0).all()
    assert (dew_k[colder] >= air_k[colder]).all()


def test_fog_stays_no_wetter_than_the_air(make: Any) -> None:
    """With dew point at the air, a member that grows colder must take its dew point down."""
    fog = make.weather(START, 96, dew_drop_k=0.0)
    members = dress(fog, NOW, daylight(make, fog))
    assert (members.dew_c <= members.air_c).all()


def test_a_later_pass_dresses_the_same_hour_in_the_same_noise(make: Any, plain: Weather) -> None:
    """Otherwise the chance of a night would jump from pass to pass for no reason."""
    later = plain.hours_at(slice(30, None))
    light = daylight(make, plain)
    first, again = dress(plain, NOW, light), dress(later, NOW, light[30:])
    for name in VARIABLES:
        assert np.array_equal(getattr(first, name)[:, 30:], getattr(again, name)), name


def test_nearer_to_the_hour_the_same_departures_have_only_shrunk(make: Any, plain: Weather) -> None:
    light = daylight(make, plain)
    nearer = dress(plain, NOW + timedelta(hours=48), light)
    far, near = (
        m.air_c[:, -24:] - plain.air_c[:, -24:] for m in (dress(plain, NOW, light), nearer)
    )
    shrunk = near / far
    assert (shrunk.max(axis=0) - shrunk.min(axis=0)) == pytest.approx(0.0, abs=1e-6)
    assert ((shrunk > 0.5) & (shrunk < 1.0)).all()


def test_spread_grows_with_lead(plain: Weather, dressed: Weather) -> None:
    """About 1.3 K on day 1 and more on day 3 (ordinary verification figures, from memory)."""
    by_day = departures(dressed, plain)[:, :216].reshape(MEMBERS, 9, 24).std(axis=(0, 2))
    assert by_day[:3].mean() < by_day[3:6].mean() < by_day[6:].mean()
    assert 0.6 < by_day[0] < 2.0


def test_departures_hang_together_in_time(make: Any, plain: Weather) -> None:
    """A member too cold in one hour is so in the next, and says little about three days on."""
    off = departures(dress(plain, NOW, np.ones(HOURS, dtype=bool)), plain)
    off = off / off.std(axis=0)
    assert np.corrcoef(off[:, :-1].ravel(), off[:, 1:].ravel())[0, 1] > 0.85
    assert abs(np.corrcoef(off[:, :-72].ravel(), off[:, 72:].ravel())[0, 1]) < 0.3


def test_the_clearer_member_has_the_colder_night_and_the_brighter_day(
    make: Any, plain: Weather, dressed: Weather
) -> None:
    light = daylight(make, plain)
    ahead = plain.times > NOW.timestamp()
    cloud = dressed.cloud - plain.cloud
    night = ahead & ~light
    cold = (dressed.air_c - plain.air_c)[:, night]
    assert np.corrcoef(cloud[:, night].ravel(), cold.ravel())[0, 1] > 0.4
    day = ahead & (plain.global_wm2[0] > 50)
    brighter = (dressed.global_wm2 / np.maximum(plain.global_wm2, 1))[:, day]
    assert np.corrcoef(cloud[:, day].ravel(), brighter.ravel())[0, 1] < -0.8


def test_thinning_high_cloud_gives_no_more_than_a_clear_sky(make: Any) -> None:
    """A sky full of cirrus lets 600 W/m² through; as thick cloud, its sun would be trebled."""
    cirrus = make.weather(START, 96, cloud=1.0)
    middles = cirrus.times - HOUR_S // 2
    sun = position(middles, make.garden.latitude, make.garden.longitude)[0]
    clear = clear_sky_wm2(sun, make.garden.elevation_m)
    cirrus = replace(cirrus, global_wm2=0.9 * clear[None, :])
    members = dress(cirrus, NOW, sun > 0)
    assert (members.global_wm2 > 1.5 * clear).any()
    held = no_brighter_than(members, clear)
    assert (held.global_wm2 <= clear).all()
    assert (held.diffuse_wm2 <= held.global_wm2).all()
    darker = members.global_wm2 <= clear
    assert np.array_equal(held.global_wm2[darker], members.global_wm2[darker])


def test_a_shower_may_miss_the_garden_and_the_likelier_the_further_off(
    plain: Weather, dressed: Weather
) -> None:
    missed = (dressed.rain_mm == 0)[:, plain.times > NOW.timestamp()].mean(axis=0)
    assert missed[:24].mean() < 0.15
    assert missed[:72].mean() < missed[144:].mean() < 0.5


@pytest.mark.parametrize("count", [1, 7, 20])
def test_as_many_members_as_asked(make: Any, plain: Weather, count: int) -> None:
    assert dress(plain, NOW, daylight(make, plain), count).members == count
    assert len(drawn_sites(count).wind_share) == count


def test_draws_of_the_site_balance_around_what_is_configured() -> None:
    site, known = drawn_sites(), known_site()
    assert np.log(site.wind_share).mean() == pytest.approx(np.log(known.wind_share[0]))
    for name in ("sky_shift", "limit_shift_k", "bag_shift_k"):
        assert getattr(site, name).mean() == pytest.approx(getattr(known, name)[0]), name
        assert getattr(site, name).std() > 0
    assert np.array_equal(site.wind_share, drawn_sites().wind_share)  # the same in every pass
    assert np.log(site.use_share).mean() == pytest.approx(0.0)
    assert known.use_share == 1.0


def test_a_bag_is_known_to_five_kelvin() -> None:
    """Nineteen in twenty within ±5 K; of twenty members some must lie past 3 K."""
    shift = np.abs(drawn_sites().bag_shift_k)
    assert 3.0 < shift.max() < 8.0


def test_a_new_unknown_of_the_site_leaves_the_draws_of_the_others() -> None:
    """The four were drawn so before water use was added."""
    half = np.random.default_rng([20_260_415, 1]).standard_normal((4, 10))
    wind, sky, limit, bag = np.concatenate([half, -half], axis=1)
    site = drawn_sites(20)
    assert np.array_equal(site.wind_share, np.exp(0.25 * wind))
    assert np.array_equal(site.sky_shift, 0.08 * sky)
    assert np.array_equal(site.limit_shift_k, 0.5 * limit)
    assert np.array_equal(site.bag_shift_k, 2.5 * bag)


def test_the_lowest_hour_of_a_dressed_night_lies_about_the_runs_own(
    make: Any, plain: Weather
) -> None:
    """The lowest of rough noise lies below its middle: members of it ran 0.4 K and more
    below the run. Errors as smooth as those of open forecasts
    (`tests/bench/forecast_error.py`) leave 0.1 to 0.3 K of that."""
    elevation = position(plain.times - HOUR_S // 2, make.garden.latitude, make.garden.longitude)[0]
    below = []
    for day in range(0, 360, 3):
        at = replace(plain, times=plain.times + day * 24 * HOUR_S)
        members = dress(at, NOW + day * timedelta(days=1), daylight_share(elevation))
        for night in (slice(24 * n, 24 * n + 16) for n in (2, 3, 4)):
            lowest = members.air_c[:, night].min(axis=1).mean()
            below.append(lowest - at.air_c[0, night].min())
    assert -0.25 < np.mean(below) < 0.05
