"""What is found wrong with an answer, and how it is then used."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from underbench.daemon.weather.provider import Facts
from underbench.daemon.weather.trust import aged, examined, mislabelled, same_values, with_past
from underbench.rules.garden.inventory import Garden
from underbench.rules.weather.hourly import HOUR_S, Weather, from_columns
from underbench.rules.weather.sun import clear_sky_wm2, position

NOW = datetime(2027, 4, 11, 9, 41, tzinfo=UTC)
GARDEN = Garden(
    name="Quillfold", latitude=51.2, longitude=-2.5, elevation_m=143.0, timezone="Europe/London"
)
HERE = Facts(51.25, -2.5, 143.0, NOW - timedelta(hours=10))
HOUR = timedelta(hours=1)


def sunny(longitude: float = GARDEN.longitude) -> Weather:
    """A clear April in which the air follows the sun."""
    times = int(datetime(2027, 4, 9, tzinfo=UTC).timestamp()) + HOUR_S * np.arange(240)
    elevation, _ = position(times - HOUR_S // 2, GARDEN.latitude, longitude)
    sun = clear_sky_wm2(elevation, GARDEN.elevation_m)
    flat = np.ones(240)
    columns = {"air_c": 4 + sun / 60, "dew_c": 0 * flat, "wind_ms": 2 * flat, "cloud": 0 * flat}
    return from_columns(times, {**columns, "global_wm2": sun, "diffuse_wm2": sun / 5})


def kinds(weather: Weather, facts: Facts = HERE) -> set[str]:
    return {doubt.kind for doubt in examined(weather, facts, GARDEN, NOW)[1]}


def test_a_sound_answer_is_left_as_it_is() -> None:
    weather, doubts = examined(sunny(), HERE, GARDEN, NOW)
    assert doubts == ()
    assert weather.air_c.tolist() == sunny().air_c.tolist()
    assert np.isfinite(weather.global_wm2).all()


@pytest.mark.parametrize(
    ("facts", "kind"),
    [
        (replace(HERE, latitude=51.6), "far"),  # 0.4 degrees of 111 km: 44 km
        (replace(HERE, longitude=-2.0), "far"),  # 0.5 of 111 km * cos 51 degrees: 35 km
        (replace(HERE, elevation_m=0.0), "sea"),
        (replace(HERE, elevation_m=643.0), "elevation"),
        (replace(HERE, made_at=NOW - 15 * HOUR), "run"),
    ],
)
def test_what_an_answer_says_of_itself_is_held_to_the_garden(facts: Facts, kind: str) -> None:
    assert kinds(sunny(), facts) == {kind}


def test_across_the_date_line_is_near() -> None:
    fiji = GARDEN.model_copy(update={"longitude": 179.95, "latitude": -17.0})
    near = replace(HERE, latitude=-17.0, longitude=-179.95)
    assert not any(d.kind == "far" for d in examined(sunny(), near, fiji, NOW)[1])


def test_air_of_a_mountain_is_brought_down_by_the_standard_lapse() -> None:
    # ICAO standard atmosphere: 6.5 K a kilometre; 500 m are 3.25 K
    weather, (doubt,) = examined(sunny(), replace(HERE, elevation_m=643.0), GARDEN, NOW)
    np.testing.assert_allclose(weather.air_c - sunny().air_c, 3.25)
    np.testing.assert_allclose(weather.dew_c - sunny().dew_c, 3.25)
    assert not doubt.grave
    assert "3.2 K warmer" in doubt.words or "3.3 K warmer" in doubt.words


def test_air_that_leaps_and_stays_is_doubted() -> None:
    late = sunny().times > (NOW + 20 * HOUR).timestamp()
    leapt = replace(sunny(), air_c=sunny().air_c + np.where(late, 18.0, 0.0))
    assert kinds(leapt) == {"jump"}
    # A front can bring 10 K in an hour: common practice, no source.
    front = replace(sunny(), air_c=sunny().air_c - np.where(late, 10.0, 0.0))
    assert kinds(front) == set()


def test_sunshine_by_night_is_not_believed() -> None:
    weather, (doubt,) = examined(sunny(longitude=110.0), HERE, GARDEN, NOW)
    assert doubt.kind == "light"
    assert not doubt.grave
    assert np.isnan(weather.global_wm2).all()
    assert np.isfinite(weather.air_c).all()


def test_days_without_light_are_not_believed_and_the_others_kept() -> None:
    # open-meteo/open-meteo issues 787 and 1004: nulls that became 0 at midday
    from_day = sunny().times > datetime(2027, 4, 13, tzinfo=UTC).timestamp()
    dark = replace(sunny(), global_wm2=np.where(from_day, 0.0, sunny().global_wm2))
    weather, (doubt,) = examined(dark, HERE, GARDEN, NOW)
    assert doubt.kind == "light"
    missing = np.isnan(weather.global_wm2[0])
    assert missing[from_day].mean() > 0.9
    assert not missing[~from_day].any()


def test_a_polar_night_is_no_fault() -> None:
    north = GARDEN.model_copy(update={"latitude": 70.0})
    dark = replace(sunny(), global_wm2=0 * sunny().global_wm2)
    winter = replace(dark, times=dark.times + 255 * 24 * HOUR_S)
    assert not examined(winter, Facts(), north, NOW)[1]


def test_the_same_values_are_known_again_though_the_body_begins_later() -> None:
    later = sunny().hours_at(slice(24, None))
    assert same_values(sunny(), later, NOW)
    assert not same_values(sunny(), replace(later, air_c=later.air_c + 0.1), NOW)
    assert aged(NOW - 12 * HOUR, NOW, NOW) is None
    doubt = aged(NOW - 13 * HOUR, NOW, NOW)
    assert doubt is not None
    assert (doubt.grave, "same forecast for 13 h" in doubt.words) == (True, True)


def test_a_source_that_falls_silent_is_not_said_to_repeat_itself() -> None:
    doubt = aged(NOW - 13 * HOUR, NOW - 12 * HOUR, NOW)
    assert doubt is not None
    assert (doubt.grave, doubt.words) == (True, "has sent nothing newer for 13 h")


def test_fahrenheit_called_celsius_is_known_by_the_answer_before() -> None:
    later = sunny().between(NOW - HOUR, NOW + 60 * HOUR)
    fahrenheit = replace(later, air_c=later.air_c * 1.8 + 32)  # 0 °C is 32 °F, 100 °C is 212 °F
    doubt = mislabelled(sunny(), fahrenheit)
    assert doubt is not None
    assert doubt.grave
    assert mislabelled(sunny(), later) is None
    # The other way round the earlier one was wrong, and the new one is not to blame.
    assert mislabelled(fahrenheit, sunny()) is None
    # A change of weather is no change of units. Judgement: means of runs differ by no more.
    assert mislabelled(sunny(), replace(later, air_c=later.air_c - 8.0)) is None
    # Without a common hour nothing can be said.
    assert mislabelled(sunny().between(NOW - 9 * HOUR, NOW - 2 * HOUR), fahrenheit) is None


def test_hours_gone_by_come_from_the_answer_before() -> None:
    ahead = sunny().between(NOW - HOUR, NOW + 60 * HOUR)
    ahead = replace(ahead, rain_mm=np.full_like(ahead.air_c, np.nan))
    wet = replace(sunny(), rain_mm=np.full_like(sunny().air_c, 0.4), air_c=sunny().air_c + 5)
    joined = with_past(ahead, wet, NOW)
    past = joined.times <= NOW.timestamp()
    assert joined.times[0] == datetime(2027, 4, 9, 10, tzinfo=UTC).timestamp()  # two days back
    assert (joined.rain_mm[0, past] == 0.4).all()
    assert np.isnan(joined.rain_mm[0, ~past]).all()
    assert joined.air_c[0, ~past].tolist() == ahead.between(NOW, NOW + 60 * HOUR).air_c[0].tolist()
    assert joined.air_c[0, past][-1] == ahead.air_c[0, 0]
