"""The weather since autumn: asked once of the archive, kept, and done without where it fails."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from underbench.daemon.config_file import WeatherSource
from underbench.daemon.weather.archive import Archive, autumn_known, bring_autumn
from underbench.daemon.weather.standin import StandIn, serving
from underbench.daemon.weather.supply import Supply, Unreachable
from underbench.rules.garden import Garden
from underbench.rules.weather import Weather

Labs = Callable[..., Any]
DAY = timedelta(days=1)
NOW = datetime(2026, 2, 20, 15, 10, tzinfo=UTC)
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
    """From August: cold enough for a chill day only from the New Year on."""
    days = 205
    daily = np.repeat(np.where(np.arange(days) < 137, 9.0, 3.0), 24)
    weather: Weather = make.weather(datetime(2025, 8, 17, tzinfo=UTC), len(daily), mean_c=daily)
    return weather


class Past:
    """An archive that has ``weather``, or is down; it notes what it is asked."""

    def __init__(self, weather: Weather | None) -> None:
        self.weather = weather
        self.asked: list[tuple[date, date]] = []

    def between(self, garden: Garden, first: date, last: date, now: datetime) -> Weather:
        self.asked.append((first, last))
        if self.weather is None:
            raise Unreachable("the weather service at nowhere.example cannot be reached")
        start = datetime(first.year, first.month, first.day, tzinfo=UTC)
        return self.weather.between(start, start + (last - first + DAY))


def watched(labs: Labs, weather: Weather, past: Past) -> Any:
    lab = labs(TOML, weather)
    lab.supply = Supply(lab.sky, lab.settings.garden, lab.store, past)
    return lab


def test_a_first_start_in_winter_counts_its_chill_from_autumn(labs: Labs, winter: Weather) -> None:
    """Chill days of 3 °C from the New Year (by hand: 1 January to 19 February is 50)."""
    past = Past(winter)
    state = watched(labs, winter, past).run(NOW).outlook.state
    assert past.asked == [(AUTUMN.date(), (NOW - 92 * DAY).date())]
    assert state.chill_days.tolist() == [50]


def test_it_is_asked_once(labs: Labs, winter: Weather) -> None:
    past = Past(winter)
    lab = watched(labs, winter, past)
    for hours in (0, 1, 30, 72):
        lab.run(NOW + timedelta(hours=hours), dry_run=hours == 1)
    assert len(past.asked) == 1


def test_without_an_answer_trees_count_as_chilled_and_it_is_asked_again_next_day(
    labs: Labs, winter: Weather
) -> None:
    past = Past(None)
    lab = watched(labs, winter, past)
    for hours in (0, 1, 20):
        state = lab.run(NOW + timedelta(hours=hours)).outlook.state
        assert state.chill_days[0] > 100
    assert len(past.asked) == 1
    past.weather = winter
    later = lab.run(NOW + timedelta(hours=25)).outlook.state
    assert len(past.asked) == 2
    assert later.chill_days.tolist() == [51]  # walked again, from autumn


def test_in_autumn_the_forecast_reaches_back_far_enough(labs: Labs, winter: Weather) -> None:
    past = Past(winter)
    watched(labs, winter, past).run(datetime(2025, 11, 20, 12, tzinfo=UTC))
    assert past.asked == []


def test_the_southern_autumn_is_in_march(labs: Labs, winter: Weather) -> None:
    past = Past(None)
    lab = labs(TOML, winter)
    garden = lab.settings.garden.model_copy(update={"latitude": -38.0})
    bring_autumn(lab.store, garden, past, datetime(2026, 8, 20, tzinfo=UTC))
    assert past.asked == [(date(2026, 3, 1), date(2026, 5, 20))]


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
        bring_autumn(lab.store, lab.settings.garden, archive, NOW)
    (query,) = asked
    assert (query["start_date"], query["end_date"]) == ("2025-09-01", "2025-11-20")
    assert (query["timezone"], query["timeformat"]) == ("GMT", "unixtime")
    assert "past_days" not in query
    kept = lab.store.hours(AUTUMN - DAY, NOW)
    assert kept.times[0] == AUTUMN.timestamp()
    assert kept.times[-1] == datetime(2025, 11, 20, 23, tzinfo=UTC).timestamp()
    assert autumn_known(lab.store, lab.settings.garden, NOW)


def test_only_a_known_service_has_an_archive_of_its_own() -> None:
    assert WeatherSource().archive == "https://archive-api.open-meteo.com"
    assert WeatherSource(base_url="http://127.0.0.1:8080").archive is None
    own = WeatherSource(base_url="http://127.0.0.1:8080", archive_url="http://127.0.0.1:8081")
    assert own.archive == "http://127.0.0.1:8081"


def test_check_says_when_the_autumn_is_unknown(
    garden: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The fixture's own service has no archive; a forecast that reaches no day back stands for a
    day in winter, whichever day this runs on."""
    monkeypatch.setattr("underbench.daemon.weather.archive.MOST_PAST_DAYS", 0)
    assert "note season: the weather since autumn is not known" in garden.do("check").output
