"""How often one garden asks its weather services in a day. The services count the requests."""

from __future__ import annotations

from collections import Counter
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from ensemble_service import MODEL, ensemble_body, hours_of, members_of
from openmeteo_service import Query, Reply, StandIn, serving

from underbench.daemon.outlook.outlook import fetch
from underbench.daemon.weather.archive import Archive
from underbench.daemon.weather.ensemble import EnsembleService
from underbench.daemon.weather.openmeteo import OpenMeteo
from underbench.daemon.weather.supply import Supply
from underbench.rules.weather.hourly import Weather

NOW = datetime(2024, 4, 23, 15, 10, tzinfo=UTC)
MOST_A_DAY = 60
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


class Services:
    """Forecast, archive and ensemble in one. ``down``: those that are overloaded."""

    def __init__(self, weather: Weather, down: frozenset[str]) -> None:
        self.now, self.asked = NOW, Counter[str]()
        self.down = down
        self._serve = serving(weather, lambda: self.now)
        week = hours_of(weather, NOW.replace(hour=0, minute=0), 8 * 24)
        self._members = ensemble_body({MODEL: members_of(week, 51)})

    def __call__(self, query: Query) -> bytes | Reply:
        kind = "ensemble" if "models" in query else "forecast"
        kind = "archive" if "start_date" in query else kind
        self.asked[kind] += 1
        if kind in self.down:
            return Reply(b"<html>503</html>", 503, "text/html")
        return self._members if kind == "ensemble" else self._serve(query)


def ask(lab: Any, now: datetime) -> None:
    """Ask as a pass does, and keep the hours that have passed."""
    supplied = fetch(lab.settings, lab.store, lab.supply, now)
    lab.store.hours.keep(supplied.weather.between(now - timedelta(days=93), now))


@pytest.mark.parametrize("down", ["", "ensemble archive"])
def test_a_day_of_hourly_passes_asks_less_than_sixty_times(
    labs: Any, spring: Weather, no_pauses: None, down: str
) -> None:
    """On this first day the months since autumn are asked for too."""
    lab = labs(TOML, spring)
    services = Services(spring, frozenset(down.split()))
    with StandIn(services) as server:
        asking = server.url, None, "", 5.0
        ensembles = EnsembleService(*asking, models=MODEL)
        lab.supply = Supply(
            OpenMeteo(*asking), lab.settings.garden, lab.store.answers, Archive(*asking), ensembles
        )
        for hour in range(24):
            services.now = NOW + timedelta(hours=hour)
            ask(lab, services.now)
    assert services.asked["forecast"] == 24
    assert services.asked["ensemble"] >= 4
    assert services.asked["archive"] >= 1
    assert services.asked.total() < MOST_A_DAY


def test_while_the_service_is_down_each_pass_asks_once(
    labs: Any, spring: Weather, no_pauses: None
) -> None:
    lab = labs(TOML, spring)
    services = Services(spring, frozenset())
    with StandIn(services) as server:
        asking = server.url, None, "", 5.0
        lab.supply = Supply(OpenMeteo(*asking), lab.settings.garden, lab.store.answers)
        ask(lab, NOW)
        services.asked.clear()
        services.down = frozenset(["forecast"])
        for hour in range(1, 25):
            ask(lab, NOW + timedelta(hours=hour))
    assert services.asked == {"forecast": 24}
