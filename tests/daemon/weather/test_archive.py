"""The weather since autumn is asked of the archive once and kept. A pass does without if that
fails."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from openmeteo_service import StandIn, serving

from underbench.daemon.config.file import WeatherSource
from underbench.daemon.outlook.checkpoints import unknown_days
from underbench.daemon.weather.archive import Archive, autumn_known, bring_autumn
from underbench.daemon.weather.provider import Unreachable
from underbench.daemon.weather.supply import Supply
from underbench.rules.garden.inventory import Garden
from underbench.rules.weather.hourly import Weather

Labs = Callable[..., Any]
DAY = timedelta(days=1)
NOW = datetime(2025, 12, 12, 15, 10, tzinfo=UTC)  # 93 days before: 10 September
AUTUMN = datetime(2025, 9, 1, tzinfo=UTC)
TOML = """
[garden]
name = "Orchard End"
latitude = 46.05
longitude = 14.51
elevation_m = 300
timezone = "Europe/Ljubljana"

[[spot]]
name = "top bench"
kind = "bench"

[[tree]]
name = "Ember"
species = "Acer palmatum"
litres = 4
spot = "top bench"
"""


@pytest.fixture(scope="module")
def winter(make: Any) -> Weather:
    """Weather from August on. Only from November it is cold enough for chill days."""
    days = 135
    daily = np.repeat(np.where(np.arange(days) < 76, 9.0, 3.0), 24)
    weather: Weather = make.weather(datetime(2025, 8, 17, tzinfo=UTC), len(daily), mean_c=daily)
    return weather


class Past:
    """An archive that has ``weather``, or is down. It records what it is asked."""

    def __init__(self, weather: Weather | None) -> None:
        self.weather = weather
        self.asked: list[tuple[date, date]] = []

    def between(self, garden: Garden, first: date, last: date, now: datetime) -> Weather:
        self.asked.append((first, last))
        if self.weather is None:
            raise Unreachable("the weather service at nowhere.example cannot be reached")
        start = datetime(first.year, first.month, first.day, tzinfo=UTC) - timedelta(hours=1)
        return self.weather.between(start, start + (last - first + DAY))


def watched(labs: Labs, weather: Weather, past: Past) -> Any:
    lab = labs(TOML, weather)
    lab.supply = Supply(lab.sky, lab.settings.garden, lab.store.answers, past)
    return lab


def test_a_first_start_in_winter_counts_its_chill_from_autumn(labs: Labs, winter: Weather) -> None:
    """Chill days of 3 °C from November (by hand: 1 November to 11 December is 41)."""
    past = Past(winter)
    state = watched(labs, winter, past).run(NOW).outlook.state
    assert past.asked == [(AUTUMN.date(), (NOW - 93 * DAY).date())]  # the forecast has the rest
    assert state.chill_days.tolist() == [41]


def test_it_is_asked_once(labs: Labs, winter: Weather) -> None:
    past = Past(winter)
    lab = watched(labs, winter, past)
    for hours in (0, 1, 30):
        lab.run(NOW + timedelta(hours=hours), dry_run=hours == 1)
    assert len(past.asked) == 1


def test_without_an_answer_trees_count_as_chilled_and_it_is_asked_again_next_day(
    labs: Labs, winter: Weather
) -> None:
    past = Past(None)
    lab = watched(labs, winter.between(NOW - 22 * DAY, NOW + 15 * DAY), past)
    for hours in (0, 20):  # the forecast reaches back to November
        state = lab.run(NOW + timedelta(hours=hours)).outlook.state
        assert state.chill_days[0] > 100
    assert len(past.asked) == 1
    past.weather = winter
    later = lab.run(NOW + timedelta(hours=25)).outlook.state
    assert len(past.asked) == 2
    assert later.chill_days.tolist() == [42]  # walked again, from autumn


def test_in_autumn_the_forecast_reaches_back_far_enough(labs: Labs, winter: Weather) -> None:
    past = Past(winter)
    watched(labs, winter, past).run(datetime(2025, 11, 20, 12, tzinfo=UTC))
    assert past.asked == []


def test_the_southern_autumn_is_in_march(labs: Labs, winter: Weather) -> None:
    past = Past(None)
    lab = labs(TOML, winter)
    garden = lab.settings.garden.model_copy(update={"latitude": -38.0})
    bring_autumn(
        lab.store, garden, past, winter.hours_at(slice(0)), datetime(2026, 8, 20, tzinfo=UTC)
    )
    assert past.asked == [(date(2026, 3, 1), date(2026, 8, 14))]


def test_the_archive_is_asked_in_its_own_words(labs: Labs, winter: Weather) -> None:
    """``start_date`` and ``end_date`` at /v1/archive, UTC: the service's documentation."""
    asked: list[dict[str, str]] = []
    serve = serving(winter, lambda: NOW)

    def answer(query: dict[str, str]) -> Any:
        asked.append(query)
        return serve(query)

    lab = labs(TOML, winter)
    with StandIn(answer) as service:
        archive = Archive(service.url, None, "", 5.0)
        brought = winter.between(datetime(2025, 9, 19, 23, tzinfo=UTC), NOW)
        bring_autumn(lab.store, lab.settings.garden, archive, brought, NOW)
    (query,) = asked
    assert (query["start_date"], query["end_date"]) == ("2025-09-01", "2025-09-19")
    assert (query["timezone"], query["timeformat"]) == ("GMT", "unixtime")
    assert "past_days" not in query
    kept = lab.store.hours.between(AUTUMN - DAY, NOW)
    assert kept.times[0] == AUTUMN.timestamp()
    assert kept.times[-1] == datetime(2025, 9, 19, 23, tzinfo=UTC).timestamp()
    assert autumn_known(lab.store, lab.settings.garden, NOW)


def punched(lab: Any, first: datetime, last: datetime) -> None:
    """Take the hours from first to last out of the kept record."""
    span = (first.timestamp(), last.timestamp())
    with lab.store.transaction():
        lab.store.db.execute("DELETE FROM hour WHERE at BETWEEN ? AND ?", span)


def test_holes_in_the_record_are_filled_with_just_those_days(labs: Labs, winter: Weather) -> None:
    """Three days of October and three weeks of November are missing. After that the chill is as
    without a hole."""
    past = Past(winter)
    lab = watched(labs, winter, past)
    lab.run(NOW)
    past.asked.clear()
    punched(lab, datetime(2025, 10, 3, 5, tzinfo=UTC), datetime(2025, 10, 6, 12, tzinfo=UTC))
    punched(lab, datetime(2025, 11, 2, tzinfo=UTC), datetime(2025, 11, 23, 1, tzinfo=UTC))
    state = lab.run(NOW + DAY).outlook.state
    assert past.asked == [
        (date(2025, 10, 3), date(2025, 10, 6)),
        (date(2025, 11, 2), date(2025, 11, 23)),
    ]
    assert state.chill_days.tolist() == [42]
    record = lab.store.hours.known(AUTUMN - timedelta(hours=1), NOW)
    assert (np.diff(record) == 3600).all()
    lab.run(NOW + 2 * DAY)
    assert len(past.asked) == 2


def test_a_machine_off_for_a_hundred_days_asks_for_what_the_forecast_does_not_reach(
    labs: Labs, winter: Weather
) -> None:
    past = Past(winter)
    lab = watched(labs, winter, past)
    lab.run(datetime(2025, 9, 3, 6, 20, tzinfo=UTC))
    assert past.asked == []
    assert lab.run(NOW).outlook.state.chill_days.tolist() == [41]
    assert past.asked == [(date(2025, 9, 3), date(2025, 9, 10))]


def test_trees_walked_across_a_hole_are_walked_again(labs: Labs, winter: Weather) -> None:
    """They end in the state without a hole (forecasts have three decimals, the archive all)."""
    whole = watched(labs, winter, Past(winter))
    whole.run(NOW)
    lab = labs(TOML, winter, "two")
    down = Past(None)
    lab.supply = Supply(lab.sky, lab.settings.garden, lab.store.answers, down)
    lab.run(NOW)
    punched(lab, datetime(2025, 11, 2, tzinfo=UTC), datetime(2025, 11, 23, tzinfo=UTC))
    for tree in lab.settings.trees:
        lab.store.checkpoints.forget(tree.name, datetime.fromtimestamp(0, tz=UTC))
    lab.run(NOW + timedelta(hours=1))  # it walks across the hole, like the day before
    down.weather = winter
    states = [one.run(NOW + DAY).outlook.state for one in (lab, whole)]
    for name in ("chill_days", "warmth_cd", "water_l", "ball_c", "deep_c"):
        mended, unbroken = (getattr(state, name) for state in states)
        assert mended == pytest.approx(unbroken, abs=1e-3), name


def test_a_hole_that_the_archive_has_too_is_asked_for_once_a_day_and_costs_no_walk(
    labs: Labs, winter: Weather
) -> None:
    bad = winter.air_c.copy()
    gone = (winter.times >= datetime(2025, 11, 25, tzinfo=UTC).timestamp()) & (
        winter.times <= datetime(2025, 11, 28, tzinfo=UTC).timestamp()
    )
    bad[:, gone] = np.nan
    past = Past(replace(winter, air_c=bad))
    lab = watched(labs, winter, past)
    lab.run(NOW)
    punched(lab, datetime(2025, 11, 25, tzinfo=UTC), datetime(2025, 11, 28, tzinfo=UTC))
    kept = lab.count("checkpoint")
    past.asked.clear()
    for hour in (24, 36, 48):
        lab.run(NOW + timedelta(hours=hour))
    assert past.asked == [(date(2025, 11, 25), date(2025, 11, 28))] * 2
    assert lab.count("checkpoint") >= kept


def test_a_record_in_shreds_is_mended_a_few_holes_a_day(labs: Labs, winter: Weather) -> None:
    past = Past(winter)
    lab = watched(labs, winter, past)
    lab.run(NOW)
    for day in range(3, 25, 4):
        punched(lab, datetime(2025, 10, day, tzinfo=UTC), datetime(2025, 10, day, 9, tzinfo=UTC))
    past.asked.clear()
    lab.run(NOW + DAY)
    assert len(past.asked) == 4
    lab.run(NOW + 2 * DAY)
    assert len(past.asked) == 6


def test_a_hole_of_the_last_days_is_the_forecasts_to_fill(labs: Labs, winter: Weather) -> None:
    """The archive is five days late. A few missing hours are no hole at all."""
    past = Past(winter)
    lab = watched(labs, winter, past)
    lab.run(NOW)
    past.asked.clear()
    punched(lab, NOW - 4 * DAY, NOW - 3 * DAY)
    punched(lab, datetime(2025, 11, 25, tzinfo=UTC), datetime(2025, 11, 25, 3, tzinfo=UTC))
    hour = NOW.replace(minute=0)
    assert unknown_days(lab.store, hour) == 5
    lab.run(NOW + timedelta(hours=25))
    assert unknown_days(lab.store, hour + timedelta(hours=25)) == 2
    assert past.asked == []


def test_only_a_known_service_has_an_archive_of_its_own() -> None:
    assert WeatherSource().archive == "https://archive-api.open-meteo.com"
    assert WeatherSource(base_url="http://127.0.0.1:8080").archive is None
    own = WeatherSource(base_url="http://127.0.0.1:8080", archive_url="http://127.0.0.1:8081")
    assert own.archive == "http://127.0.0.1:8081"


def test_check_says_when_the_autumn_is_unknown(
    garden: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The fixture's service has no archive. A forecast without past days stands for a day in
    winter, on whichever day this runs."""
    monkeypatch.setattr("underbench.daemon.weather.archive.MOST_PAST_DAYS", 0)
    assert "note season: the weather since autumn is not known" in garden.do("check").output
