"""The weather service on the loopback, read like the real one."""

from __future__ import annotations

import json
from datetime import UTC, datetime

import numpy as np
import pytest
import requests
from openmeteo_service import Reply, StandIn, openmeteo_body, serving

from underbench.daemon.weather.openmeteo import OpenMeteo, parse
from underbench.rules.garden.inventory import Garden
from underbench.rules.weather.hourly import VARIABLES, Weather, from_columns

MIDNIGHT_S = int(datetime(2027, 2, 11, tzinfo=UTC).timestamp())
NOW = datetime(2027, 2, 11, 9, 41, tzinfo=UTC)
GARDEN = Garden(
    name="Quillfold", latitude=51.23456, longitude=-2.5, elevation_m=143.0, timezone="Europe/London"
)


def invented(hours: int = 72, start_s: int = MIDNIGHT_S) -> Weather:
    hour = np.arange(hours, dtype=float)
    air = 3 + 4 * np.sin(hour / 24 * 2 * np.pi)
    sun = np.maximum(0, 300 * np.sin((hour - 6) / 12 * np.pi))
    return from_columns(
        start_s + 3600 * np.arange(hours),
        {
            "air_c": air,
            "dew_c": air - 2,
            "wind_ms": 2 + hour % 3,
            "gust_ms": 5 + hour % 4,
            "cloud": (hour % 5) / 4,
            "global_wm2": sun,
            "diffuse_wm2": sun / 3,
            "rain_mm": np.where(hour % 7 == 0, 0.4, 0.0),
            "pressure_kpa": np.full(hours, 99.7),
            "snow_m": np.zeros(hours),
        },
    )


@pytest.mark.parametrize("unixtime", [True, False])
def test_a_whole_answer_is_read_back(unixtime: bool) -> None:
    weather = invented()
    read = parse(openmeteo_body(weather, 51.2, -2.5, 143, unixtime=unixtime))
    np.testing.assert_array_equal(read.times, weather.times)
    for name in VARIABLES:
        # the stand-in writes three decimals of the service's unit
        np.testing.assert_allclose(getattr(read, name), getattr(weather, name), atol=6e-4)


def test_the_stand_in_serves_the_days_asked_for() -> None:
    first_s = MIDNIGHT_S - 10 * 86400
    with StandIn(serving(invented(hours=24 * 30, start_s=first_s), lambda: NOW)) as service:
        asking = OpenMeteo(service.url, None, "", 5)
        read = parse(asking.fetch(GARDEN, 2, 3, NOW).body)
        everything = parse(asking.fetch(GARDEN, 92, 16, NOW).body)
    assert (read.times[0], read.hours) == (MIDNIGHT_S - 2 * 86400, 24 * 5)
    assert (everything.times[0], everything.hours) == (first_s, 24 * 26)


def test_the_stand_in_is_an_ordinary_web_server() -> None:
    with StandIn(lambda query: Reply(b"<p>down</p>", 502, "text/html")) as service:
        reply = requests.get(service.url + "/v1/forecast", timeout=5)
        elsewhere = requests.get(service.url + "/v1/elsewhere", timeout=5)
    assert (reply.status_code, reply.text) == (502, "<p>down</p>")
    assert reply.headers["Content-Type"] == "text/html"
    assert (elsewhere.status_code, elsewhere.json()["error"]) == (404, True)


def test_the_stand_in_writes_gaps_as_null_and_missing_variables_as_undefined() -> None:
    air = np.array([1.0, np.nan, 2.0])
    times = MIDNIGHT_S + 3600 * np.arange(3)
    answer = json.loads(openmeteo_body(from_columns(times, {"air_c": air}), 51.2, -2.5, 143))
    assert answer["hourly"]["temperature_2m"] == [1.0, None, 2.0]
    assert answer["hourly"]["snow_depth"] == [None] * 3
    assert answer["hourly_units"]["snow_depth"] == "undefined"
