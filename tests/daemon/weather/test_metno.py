"""MET Norway is asked by its terms and read into hours named by their end."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
import responses
from met_service import UNITS

from underbench.daemon.weather.metno import MetNorway, facts, parse
from underbench.daemon.weather.provider import (
    BadAnswer,
    NotNow,
    SupplyError,
    Throttled,
    Unreachable,
)
from underbench.rules.garden.inventory import Garden
from underbench.rules.weather.air import pressure_kpa

URL = "https://met.invalid/locationforecast/2.0"
ASKED = f"{URL}/complete"
NOW = datetime(2027, 2, 11, 9, 41, tzinfo=UTC)
GARDEN = Garden(
    name="Quillfold",
    latitude=51.23459,
    longitude=-2.56789,
    elevation_m=143.4,
    timezone="Europe/London",
)
MODIFIED, EXPIRES = "Thu, 11 Feb 2027 09:20:11 GMT", "Thu, 11 Feb 2027 10:12:03 GMT"


def step(at: datetime, air_c: float, one: float | None = None, six: float | None = None) -> Any:
    details = {
        "air_temperature": air_c,
        "relative_humidity": 80.0,
        "wind_speed": 3.0,
        "cloud_area_fraction": 25.0,
        "air_pressure_at_sea_level": 1013.0,
    }
    data: dict[str, Any] = {"instant": {"details": details}}
    if one is not None:
        data["next_1_hours"] = {"details": {"precipitation_amount": one}}
    if six is not None:
        data["next_6_hours"] = {"details": {"precipitation_amount": six}}
    return {"time": f"{at:%Y-%m-%dT%H:%M:%SZ}", "data": data}


def written(steps: list[Any], **changed: Any) -> bytes:
    meta = {"updated_at": "2027-02-11T07:12:00Z", "units": {**UNITS, **changed}}
    return json.dumps(
        {
            "type": "Feature",
            "geometry": {"type": "Point", "coordinates": [-2.5678, 51.2345, 143]},
            "properties": {"meta": meta, "timeseries": steps},
        }
    ).encode()


NINE = datetime(2027, 2, 11, 9, tzinfo=UTC)


def at(hours: int) -> datetime:
    return NINE + timedelta(hours=hours)


# As in the recorded answers: the last hourly steps have no six-hourly sum, the last step no sum.
STEPS = [
    step(at(0), 4.0, 0.3, 1.8),
    step(at(1), 3.0, 0.0, 1.5),
    step(at(2), 2.0, 1.2),
    step(at(3), 1.0, None, 3.0),
    step(at(9), -5.0, None, 0.6),
    step(at(15), 1.0),
]
BODY = written(STEPS)


def asking() -> MetNorway:
    return MetNorway(URL, "keeper@garden.invalid", 5)


def test_sums_move_on_to_the_hour_that_ends_and_sixths_fill_the_tail() -> None:
    weather = parse(BODY)
    rain = weather.rain_mm[0]
    assert weather.times[0] == NINE.timestamp()
    assert np.isnan(rain[0])  # the hour before the first step is nobody's
    assert rain[1:4].tolist() == [0.3, 0.0, 1.2]
    np.testing.assert_allclose(rain[4:10], 0.5)
    np.testing.assert_allclose(rain[10:16], 0.1)


def test_instants_are_drawn_straight_through_the_tail() -> None:
    air = parse(BODY).air_c[0]
    assert air[:4].tolist() == [4.0, 3.0, 2.0, 1.0]
    np.testing.assert_allclose(air[3:10], [1, 0, -1, -2, -3, -4, -5])
    np.testing.assert_allclose(air[9:16], [-5, -4, -3, -2, -1, 0, 1])


def test_a_frost_between_two_steps_is_not_lost() -> None:
    steps = json.loads(json.dumps(STEPS))
    steps[4]["data"]["next_6_hours"]["details"] |= {
        "air_temperature_min": -8.0,
        "air_temperature_max": 1.0,
    }
    steps[0]["data"]["next_6_hours"]["details"] |= {"air_temperature_min": -30.0}
    air = parse(written(steps)).air_c[0]
    np.testing.assert_allclose(air[9:16], [-5, -6, -7, -8, -5, -2, 1])
    assert air[:9].min() == -4  # between hourly steps nothing is added


def test_steps_further_apart_than_six_hours_leave_a_gap() -> None:
    weather = parse(written([step(at(0), 4.0), step(at(1), 4.0), step(at(13), 4.0)]))
    assert np.isnan(weather.air_c[0, 2:13]).all()
    assert np.isfinite(weather.air_c[0, [0, 1, 13]]).all()


def test_what_it_lacks_is_missing_and_pressure_is_the_garden_s() -> None:
    weather = parse(BODY)
    for name in ("gust_ms", "global_wm2", "diffuse_wm2", "snow_m"):
        assert np.isnan(getattr(weather, name)).all()
    # FAO 56 eq. 7, of which sea level is 101.3 kPa
    np.testing.assert_allclose(weather.pressure_kpa, pressure_kpa(143.0), rtol=1e-6)
    # FAO 56 eqs. 11 and 10 by hand: 4 °C, 80 % is 0.6506 kPa, that saturates at 0.86 °C
    assert weather.dew_c[0, 0] == pytest.approx(0.86, abs=0.02)
    assert weather.cloud[0, 0] == 0.25


def test_gusts_and_dew_point_are_taken_where_they_are_sent() -> None:
    steps = json.loads(json.dumps(STEPS))
    details = steps[0]["data"]["instant"]["details"]
    details |= {"wind_speed_of_gust": 11.5, "dew_point_temperature": -1.0}
    weather = parse(written(steps, wind_speed_of_gust="m/s"))
    assert (weather.gust_ms[0, 0], weather.dew_c[0, 0]) == (11.5, -1.0)
    assert np.isnan(weather.gust_ms[0, 1])


def test_an_answer_says_where_it_is_for_and_when_it_was_made() -> None:
    told = facts(BODY)
    assert (told.latitude, told.longitude, told.elevation_m) == (51.2345, -2.5678, 143)
    assert told.made_at == datetime(2027, 2, 11, 7, 12, tzinfo=UTC)


@pytest.mark.parametrize(
    "bad",
    [
        b"",
        b"<html>down</html>",
        BODY[:300],
        b"[]",
        b'{"properties":{}}',
        written([]),
        written([{"time": "yesterday", "data": {}}]),
        written([STEPS[1], STEPS[0]]),
        written([step(NINE + timedelta(minutes=30), 4.0)]),
        written([{"time": "2027-02-11T09:00:00Z", "data": {}}]),
        written(STEPS, air_temperature="fahrenheit"),
        written([step(at(0), 4.0), step(at(9_000_000), 4.0)]),
    ],
)
def test_what_is_no_forecast_is_refused_in_one_line(bad: bytes) -> None:
    with pytest.raises(BadAnswer) as raised:
        parse(bad)
    assert "\n" not in str(raised.value)


@pytest.mark.parametrize("altitude", [-1e300, -431.0, 6001.0, 1e300])
def test_an_elevation_that_cannot_be_is_refused_in_one_line(altitude: float) -> None:
    answer = json.loads(written(STEPS))
    answer["geometry"]["coordinates"][2] = altitude
    with pytest.raises(BadAnswer, match="MET Norway sent an impossible elevation: ") as raised:
        parse(json.dumps(answer).encode())
    assert "\n" not in str(raised.value)


@responses.activate
def test_it_is_asked_by_its_terms() -> None:
    responses.get(ASKED, body=BODY, headers={"Last-Modified": MODIFIED, "Expires": EXPIRES})
    answer = asking().fetch(GARDEN, 92, 7, NOW)
    request: Any = responses.calls[0].request
    # Cut, not rounded: 51.23459 is 51.2345
    assert request.params == {"lat": "51.2345", "lon": "-2.5678", "altitude": "143"}
    agent = request.headers["User-Agent"].decode()
    assert agent.startswith("Underbench/")
    assert agent.endswith("(+keeper@garden.invalid)")
    assert "If-Modified-Since" not in request.headers
    assert (answer.body, answer.last_modified) == (BODY, MODIFIED)
    assert answer.expires == datetime(2027, 2, 11, 10, 12, 3, tzinfo=UTC)


def test_four_decimals_stay_the_four_they_are() -> None:
    with responses.RequestsMock() as service:
        service.get(ASKED, body=BODY)
        whole = GARDEN.model_copy(update={"latitude": 46.0511, "longitude": 14.5089})
        asking().fetch(whole, 0, 7, NOW)
        request: Any = service.calls[0].request
    assert (request.params["lat"], request.params["lon"]) == ("46.0511", "14.5089")


@responses.activate
def test_what_is_held_is_asked_after_and_may_be_unchanged() -> None:
    responses.get(ASKED, status=304, headers={"Expires": EXPIRES})
    answer = asking().fetch(GARDEN, 0, 7, NOW, held=MODIFIED)
    request: Any = responses.calls[0].request
    assert request.headers["If-Modified-Since"] == MODIFIED
    assert (answer.unchanged, answer.last_modified) == (True, MODIFIED)
    assert answer.expires == datetime(2027, 2, 11, 10, 12, 3, tzinfo=UTC)


@responses.activate
def test_a_version_that_is_to_end_is_used_and_said_loudly(
    caplog: pytest.LogCaptureFixture,
) -> None:
    responses.get(ASKED, status=203, body=BODY)
    assert asking().fetch(GARDEN, 0, 7, NOW).body == BODY
    assert [record.levelname for record in caplog.records] == ["ERROR"]
    assert "update Underbench" in caplog.text


@pytest.mark.parametrize(
    ("status", "kind", "said"),
    [
        (400, BadAnswer, "refused (HTTP 400)"),
        (403, NotNow, "set the weather contact"),
        (404, BadAnswer, "refused (HTTP 404)"),
        (422, NotNow, "no forecast for this place"),
        (429, Throttled, "too many requests"),
        (499, BadAnswer, "refused (HTTP 499)"),
        (501, Unreachable, "down or overloaded"),
        (503, Unreachable, "down or overloaded"),
    ],
)
@responses.activate
def test_each_refusal_is_one_plain_line(
    status: int, kind: type[SupplyError], said: str, no_pauses: None
) -> None:
    responses.get(ASKED, status=status, body="<html><b>No</b></html>")
    with pytest.raises(kind) as raised:
        asking().fetch(GARDEN, 0, 7, NOW)
    assert said in str(raised.value)
    assert "<" not in str(raised.value)
    if isinstance(raised.value, NotNow):
        assert raised.value.retry_at >= NOW + timedelta(hours=1)
        assert len(responses.calls) == 1


@responses.activate
def test_a_redirect_is_followed() -> None:
    there = "https://elsewhere.invalid/complete"
    responses.get(ASKED, status=302, headers={"Location": there})
    responses.get(there, body=BODY)
    assert asking().fetch(GARDEN, 0, 7, NOW).body == BODY


@responses.activate
@pytest.mark.parametrize("text", ["", "soon", "Thu, 99 Feb"])
def test_an_expiry_that_cannot_be_read_is_none(text: str) -> None:
    responses.get(ASKED, body=BODY, headers={"Expires": text})
    assert asking().fetch(GARDEN, 0, 7, NOW).expires is None
