"""A forecast that may mislead: its age, what is used in its place, and for how long."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from met_service import MetService
from openmeteo_service import Query, Reply, StandIn, serving
from runs import run_of

from underbench.daemon.store.store import Store
from underbench.daemon.weather.metno import MetNorway
from underbench.daemon.weather.openmeteo import OpenMeteo
from underbench.daemon.weather.provider import Provider
from underbench.daemon.weather.supply import Supplied, Supply
from underbench.rules.garden.inventory import Garden
from underbench.rules.weather.hourly import HOUR_S, Weather, from_columns

NOW = datetime(2027, 2, 11, 9, 41, tzinfo=UTC)
HOUR = timedelta(hours=1)
PLACE = Garden(
    name="Quillfold", latitude=51.2, longitude=-2.5, elevation_m=143.0, timezone="Europe/London"
)
Spoilt = Callable[[bytes], bytes]


def weather() -> Weather:
    times = int(datetime(2027, 2, 1, tzinfo=UTC).timestamp()) + HOUR_S * np.arange(24 * 40)
    air = 4 + 3 * np.sin(np.arange(24 * 40) / 4)
    flat = np.ones(24 * 40)
    return from_columns(times, {"air_c": air, "dew_c": air - 2, "wind_ms": 2 * flat})


def elsewhere(body: bytes) -> bytes:
    return changed(body, latitude=68.0)  # 16.8 degrees of 111.2 km: 1868 km


def at_sea(body: bytes) -> bytes:
    return changed(body, elevation=0.0)


def changed(body: bytes, **facts: float) -> bytes:
    return json.dumps(json.loads(body) | facts).encode()


def in_fahrenheit(body: bytes) -> bytes:
    answer = json.loads(body)
    for name in ("temperature_2m", "dew_point_2m"):
        answer["hourly"][name] = [value * 1.8 + 32 for value in answer["hourly"][name]]
    return json.dumps(answer).encode()


class Service:
    """The first service on the loopback. Each run is a new one, unless the service is ``stuck``."""

    def __init__(self, folder: Path) -> None:
        self.now, self.stuck, self.down = NOW, False, False
        self.spoilt: Spoilt | None = None
        self.store = Store.open(folder / "state.db")
        self.second: Provider | None = None
        self.url = ""

    def __call__(self, query: Query) -> bytes | Reply:
        if self.down:
            return Reply(b"<html>no</html>", status=501, content_type="text/html")
        run = run_of(weather(), NOW if self.stuck else self.now)
        body = serving(run, lambda: self.now)(query)
        assert isinstance(body, bytes)
        return self.spoilt(body) if self.spoilt else body

    def hear(self, hours: int) -> Supplied:
        """What a program that has just started uses, so many hours after NOW."""
        self.now = NOW + hours * HOUR
        first = OpenMeteo(self.url, None, "", 5)
        return Supply(first, PLACE, self.store.answers, second=self.second).latest(
            self.now, past_days=2
        )


@pytest.fixture
def service(tmp_path: Path) -> Iterator[Service]:
    made = Service(tmp_path)
    with StandIn(made) as server:
        made.url = server.url
        yield made
    made.store.close()


def test_a_run_that_is_sent_again_and_again_grows_old(service: Service) -> None:
    service.stuck = True
    heard = [service.hear(hours) for hours in range(15)]
    assert [got.age for got in heard] == [hours * HOUR for hours in range(15)]
    assert {got.changed_at for got in heard} == {NOW}
    assert [got.fetched_at for got in heard] == [NOW + hours * HOUR for hours in range(15)]
    assert [bool(got.doubt) for got in heard] == [False] * 12 + [True] * 3
    assert heard[-1].doubt == "Open-Meteo has sent the same forecast for 14 h"
    assert heard[-1].doubted_for == 14 * HOUR
    service.stuck = False
    fresh = service.hear(15)
    assert (fresh.age, fresh.doubt, fresh.doubted_for) == (timedelta(0), "", timedelta(0))


def test_a_living_service_is_never_in_doubt(service: Service) -> None:
    assert not any(service.hear(hours).doubt for hours in range(30))


@pytest.mark.parametrize(
    ("spoilt", "said"),
    [
        (elsewhere, "sent weather for a place 1868 km from the garden"),
        (at_sea, "sent weather for 0 m, perhaps of the sea"),
    ],
)
def test_how_long_an_answer_has_been_in_doubt_is_known_over_restarts(
    service: Service, spoilt: Spoilt, said: str
) -> None:
    service.spoilt = spoilt
    heard = [service.hear(hours) for hours in range(14)]
    assert {got.doubt for got in heard} == {f"Open-Meteo {said}"}
    assert [got.doubted_for for got in heard] == [hours * HOUR for hours in range(14)]
    service.spoilt = None
    good = service.hear(14)
    assert (good.problem, good.doubt, good.doubted_for) == (None, "", timedelta(0))


@pytest.mark.parametrize(
    ("spoilt", "said"),
    [
        (elsewhere, "sent weather for a place 1868 km from the garden"),
        (in_fahrenheit, "sent air in °F and called it °C"),
    ],
)
def test_weather_of_elsewhere_does_not_take_the_place_of_the_gardens(
    service: Service, spoilt: Spoilt, said: str
) -> None:
    service.hear(0)
    service.spoilt = spoilt
    for hours in (1, 12, 30, 100):
        got = service.hear(hours)
        ahead = got.weather.between(service.now, service.now + 40 * HOUR)
        assert -0.01 < float(ahead.air_c.min()) < float(ahead.air_c.max()) < 8  # the garden's own
        assert (got.age, got.doubt) == (hours * HOUR, f"Open-Meteo {said}")
        assert got.problem is not None
        assert got.problem.startswith(f"Open-Meteo {said}; using the forecast from ")
    assert got.doubted_for == 100 * HOUR
    # The kept one no longer reaches two days ahead. So the new one is used, and called doubtful.
    assert service.hear(130).doubt == f"Open-Meteo {said}"
    service.spoilt = None
    good = service.hear(131)
    assert (good.age, good.problem, good.doubt) == (timedelta(0), None, "")


def test_a_wild_run_is_used_though_it_is_doubted(service: Service) -> None:
    """A front may bring as much. Then the new run is the one that warns of it."""
    service.hear(0)

    def with_a_leap(body: bytes) -> bytes:
        answer = json.loads(body)
        air = answer["hourly"]["temperature_2m"]
        answer["hourly"]["temperature_2m"] = [*air[:80], *(value - 25 for value in air[80:])]
        return json.dumps(answer).encode()

    service.spoilt = with_a_leap
    got = service.hear(1)
    assert got.doubt.startswith("Open-Meteo sent air that leaps by")
    assert float(got.weather.between(service.now, service.now + 48 * HOUR).air_c.min()) < -15


def test_an_outage_of_half_a_day_puts_what_is_kept_in_doubt(service: Service) -> None:
    service.hear(0)
    service.down = True
    assert service.hear(11).doubt == ""
    got = service.hear(13)
    assert got.doubt == "Open-Meteo has sent nothing newer for 13 h"
    assert got.problem is not None
    assert "using the forecast from 13 h ago" in got.problem
    assert got.notes == ()  # the same is not said twice
    assert got.doubted_for == 13 * HOUR


@pytest.mark.parametrize("spoilt", [elsewhere, at_sea, in_fahrenheit])
def test_with_a_second_source_that_one_is_used_at_once(service: Service, spoilt: Spoilt) -> None:
    with MetService(weather(), NOW) as met:
        service.second = MetNorway(met.url, "keeper@garden.invalid", 5)
        service.hear(0)
        service.spoilt, met.now = spoilt, NOW + HOUR
        got = service.hear(1)
    assert (got.source, got.problem, got.doubt) == ("MET Norway", None, "")
    assert got.doubted_for == timedelta(0)
