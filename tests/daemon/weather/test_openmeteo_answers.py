"""Open-Meteo's answers: what is believed, and what is refused."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta, timezone
from typing import Any

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underbench.daemon.weather.openmeteo import facts, parse
from underbench.daemon.weather.provider import BadAnswer

MIDNIGHT_S = int(datetime(2027, 2, 11, tzinfo=UTC).timestamp())


def body(hours: int = 3, **changes: Any) -> bytes:
    """An answer of few variables. ``changes`` replace hourly columns; None removes one."""
    hourly: dict[str, Any] = {
        "time": [MIDNIGHT_S + 3600 * i for i in range(hours)],
        "temperature_2m": [1.5] * hours,
        "dew_point_2m": [0.5] * hours,
        "wind_speed_10m": [2] * hours,
    }
    units = {
        "time": "unixtime",
        "temperature_2m": "°C",
        "dew_point_2m": "°C",
        "wind_speed_10m": "m/s",
    }
    top: dict[str, Any] = {"utc_offset_seconds": 0, "hourly_units": units, "hourly": hourly}
    top |= changes.pop("top", {})
    units |= changes.pop("units", {})
    hourly |= changes
    top["hourly"] = {name: values for name, values in hourly.items() if values is not None}
    return json.dumps(top).encode()


@pytest.mark.parametrize(
    ("ours", "theirs", "unit", "value", "expected"),
    [
        # Exact by definition (NIST SP 811, appendix B): mile/h, knot, inch, foot, °F.
        ("wind_ms", "wind_speed_10m", "km/h", 36.0, 10.0),
        ("wind_ms", "wind_speed_10m", "mp/h", 10.0, 4.4704),
        ("wind_ms", "wind_speed_10m", "kn", 36.0, 18.52),
        ("wind_ms", "wind_speed_10m", "m/s", 7.0, 7.0),
        ("gust_ms", "wind_gusts_10m", "km/h", 72.0, 20.0),
        ("air_c", "temperature_2m", "°F", 32.0, 0.0),
        ("air_c", "temperature_2m", "°F", -40.0, -40.0),
        ("dew_c", "dew_point_2m", "°F", 14.0, -10.0),
        ("rain_mm", "precipitation", "inch", 0.5, 12.7),
        ("rain_mm", "precipitation", "mm", 0.5, 0.5),
        ("snow_m", "snow_depth", "ft", 1.0, 0.3048),
        ("pressure_kpa", "surface_pressure", "hPa", 1013.25, 101.325),
        ("cloud", "cloud_cover", "%", 40, 0.4),
    ],
)
def test_units_are_those_the_answer_names(
    ours: str, theirs: str, unit: str, value: float, expected: float
) -> None:
    warm: dict[str, Any] = {
        "temperature_2m": [90.0] * 3,
        "units": {"temperature_2m": "°F", theirs: unit},
    }
    read = parse(body(**{**warm, theirs: [value] * 3}))
    np.testing.assert_allclose(getattr(read, ours), expected, rtol=1e-12, atol=1e-12)


def test_units_under_the_old_spelling_belong_to_data_under_the_new() -> None:
    answer = json.loads(body())
    answer["hourly_units"]["windspeed_10m"] = "km/h"
    del answer["hourly_units"]["wind_speed_10m"]
    assert parse(json.dumps(answer).encode()).wind_ms[0, 0] == pytest.approx(2 / 3.6)


def test_data_under_the_old_spelling_are_read() -> None:
    old = body(dew_point_2m=None, dewpoint_2m=[-1.0] * 3, units={"dewpoint_2m": "°C"})
    assert parse(old).dew_c[0].tolist() == [-1.0] * 3


def test_a_variable_of_undefined_unit_is_absent() -> None:
    read = parse(body(wind_gusts_10m=[None] * 3, units={"wind_gusts_10m": "undefined"}))
    assert np.isnan(read.gust_ms).all()


def test_one_place_in_an_array_is_read() -> None:
    assert parse(b"[" + body() + b"]").hours == 3


@pytest.mark.parametrize("hours_off", [-8, 0, 1, 11])
def test_local_times_are_moved_by_the_offset_of_the_answer(hours_off: int) -> None:
    zone = timezone(timedelta(hours=hours_off))
    stamps = [
        datetime.fromtimestamp(MIDNIGHT_S + 3600 * i, tz=zone).strftime("%Y-%m-%dT%H:%M")
        for i in range(3)
    ]
    read = parse(
        body(time=stamps, units={"time": "iso8601"}, top={"utc_offset_seconds": 3600 * hours_off})
    )
    assert read.times.tolist() == [MIDNIGHT_S, MIDNIGHT_S + 3600, MIDNIGHT_S + 7200]


@pytest.mark.parametrize(
    ("offset_s", "read_offset_s"),
    # open-meteo/open-meteo, ForecastapiQuery.swift: hours are read at (offset / 3600) * 3600, an
    # integer division (towards zero), and labelled with the whole offset. Adelaide, Kathmandu,
    # St John's.
    [(34200, 32400), (20700, 18000), (-12600, -10800)],
)
def test_zones_of_half_and_quarter_hours_are_read_where_the_service_reads_them(
    offset_s: int, read_offset_s: int
) -> None:
    stamps = ["2027-02-11T00:00", "2027-02-11T01:00", "2027-02-11T02:00"]
    iso = body(time=stamps, units={"time": "iso8601"}, top={"utc_offset_seconds": offset_s})
    unix = body(
        time=[MIDNIGHT_S - offset_s + 3600 * i for i in range(3)],
        top={"utc_offset_seconds": offset_s},
    )
    for answer in (iso, unix):
        assert parse(answer).times[0] == MIDNIGHT_S - read_offset_s


@pytest.mark.parametrize(
    ("air", "relative_humidity"), [(12, 60), (12, 95), (20, 35), (20, 80), (33, 20), (33, 95)]
)
def test_a_missing_dew_point_is_made_from_humidity(air: float, relative_humidity: float) -> None:
    # Reference: psychrolib, only above 0 °C. Below, it saturates over ice, the services over water.
    psychrolib.SetUnitSystem(psychrolib.SI)
    read = parse(
        body(
            temperature_2m=[air] * 3,
            dew_point_2m=None,
            relative_humidity_2m=[relative_humidity] * 3,
            units={"relative_humidity_2m": "%"},
        )
    )
    expected = psychrolib.GetTDewPointFromRelHum(air, relative_humidity / 100)
    np.testing.assert_allclose(read.dew_c, expected, atol=0.1)


@pytest.mark.parametrize("humidity", [100, 103])  # models let it run a little over
def test_humidity_fills_only_the_hours_without_a_dew_point(humidity: float) -> None:
    read = parse(
        body(
            dew_point_2m=[0.5, None, 0.5],
            relative_humidity_2m=[50, humidity, 50],
            units={"relative_humidity_2m": "%"},
        )
    )
    assert read.dew_c[0] == pytest.approx([0.5, 1.5, 0.5])  # at 100 % the dew point is the air's


@pytest.mark.parametrize("humidity", [0, -5, 900, None])
def test_impossible_humidity_makes_no_dew_point(humidity: float | None) -> None:
    read = parse(
        body(
            hours=9,
            dew_point_2m=[0.5] + [None] * 8,
            relative_humidity_2m=[humidity] * 9,
            units={"relative_humidity_2m": "%"},
        )
    )
    assert np.isnan(read.dew_c[0, 1:]).all()


def test_an_impossible_hour_is_a_gap_and_not_the_end_of_the_run() -> None:
    air = (
        [1.0] * 5 + [-100_000.0] * 5 + [2.0] * 5
    )  # issue 1600 of open-meteo/open-meteo: a sentinel
    read = parse(body(hours=15, temperature_2m=air, dew_point_2m=[0.0] * 15))
    assert np.isnan(read.air_c[0, 5:10]).all()
    assert read.air_c[0, 4] == 1.0
    assert read.air_c[0, 10] == 2.0


def test_one_wild_value_is_bridged() -> None:
    sun = [100.0, -500_000.0, 200.0]  # issue 1184 of open-meteo/open-meteo
    read = parse(body(shortwave_radiation=sun, units={"shortwave_radiation": "W/m²"}))
    assert read.global_wm2[0].tolist() == [100.0, 150.0, 200.0]


@pytest.mark.parametrize("literal", ["NaN", "Infinity", "-Infinity", "1e999", "null"])
def test_what_is_no_number_is_a_gap(literal: str) -> None:
    answer = body(hours=9, wind_speed_10m=[2] * 4 + ["?"] * 5)
    read = parse(answer.replace(b'"?"', literal.encode()))
    assert read.wind_ms[0, :4].tolist() == [2.0] * 4
    assert np.isnan(read.wind_ms[0, 4:]).all()


def test_nulls_at_the_end_stay_unknown() -> None:
    read = parse(body(hours=5, precipitation=[0, 0, 1, None, None], units={"precipitation": "mm"}))
    assert np.isnan(read.rain_mm[0, 3:]).all()


ISO = {"time": "iso8601"}


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        (b"", "empty"),
        (b" \n", "empty"),
        (b"<html><h1>502 Bad Gateway</h1></html>", "web page"),
        (body() + b"Unexpected error while streaming data: timeout", "broken or cut short"),
        (b"\xff\xfe\x00", "broken or cut short"),
        (b"[" * 200_000, "broken or cut short"),
        (b'{"error":true,"reason":"No data is available for this location"}', "No data is avail"),
        (b'{"reason":"Invalid timezone","error":true}', "Invalid timezone"),
        (b"[]", "one place"),
        (b"[" + body() + b"," + body() + b"]", "one place"),
        (b'"hello"', "one place"),
        (b"{}", "no hourly"),
        (b'{"hourly":[],"hourly_units":{}}', "no hourly"),
        (body(time=[]), "no hours"),
        (body(time=None), "no hours"),
        (body(time=[MIDNIGHT_S, MIDNIGHT_S + 3600, MIDNIGHT_S + 10800]), "hour by hour"),
        (body(time=[MIDNIGHT_S, MIDNIGHT_S, MIDNIGHT_S + 3600]), "hour by hour"),
        (body(time=[MIDNIGHT_S + 1800 + 3600 * i for i in range(3)]), "hour by hour"),
        (body(time=[1000 * (MIDNIGHT_S + 3600 * i) for i in range(3)]), "impossible times"),
        (body(time=[MIDNIGHT_S, None, MIDNIGHT_S + 7200]), "cannot be read"),
        (body(time=["yesterday", "today", "tomorrow"], units=ISO), "cannot be read"),
        (body(units=ISO), "cannot be read"),
        (body(units={"time": "fortnights"}), "cannot be read"),
        (body(top={"utc_offset_seconds": 900_000}), "UTC offset"),
        (body(top={"utc_offset_seconds": "GMT"}), "UTC offset"),
        (body(temperature_2m=[1.0, 2.0]), "not for every hour"),
        (body(temperature_2m="warm"), "not for every hour"),
        (body(temperature_2m=["1.0", "1.0", "1.0"]), "not all numbers"),
        (body(temperature_2m=[True, True, True]), "not all numbers"),
        (body(units={"wind_speed_10m": "Bft"}), "unknown unit: Bft"),
        (body(units={"wind_speed_10m": None}), "unknown unit"),
        (body(temperature_2m=[None] * 3), "no air temperature"),
        (body(temperature_2m=None), "no air temperature"),
        (body(dew_point_2m=None), "no dew point or humidity"),
        (body(units={"wind_speed_10m": "undefined"}), "no wind"),
        (body(wind_speed_10m=[9999] * 3), "no wind"),
    ],
)
def test_a_bad_answer_is_refused_in_one_clear_line(answer: bytes, said: str) -> None:
    with pytest.raises(BadAnswer, match=said) as caught:
        parse(answer)
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize("elevation", [-1e300, -431.0, 6001.0, 1e300])
def test_an_elevation_that_cannot_be_is_refused_in_one_line(elevation: float) -> None:
    with pytest.raises(BadAnswer, match="Open-Meteo sent an impossible elevation: ") as caught:
        facts(body(top={"elevation": elevation}))
    assert "\n" not in str(caught.value)


WHOLE = body(hours=4)


@given(st.integers(min_value=0, max_value=len(WHOLE) - 1))
def test_an_answer_cut_short_anywhere_is_refused(length: int) -> None:
    with pytest.raises(BadAnswer):
        parse(WHOLE[:length])


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(),
    lambda inner: st.lists(inner) | st.dictionaries(st.text(), inner),
    max_leaves=8,
)


@given(st.sampled_from(["hourly", "hourly_units", "utc_offset_seconds"]), JSON)
def test_any_odd_block_is_read_or_refused(key: str, value: Any) -> None:
    read_or_refused(body(top={key: value}))


@given(st.sampled_from(["time", "temperature_2m", "wind_speed_10m", "dew_point_2m"]), JSON)
def test_any_odd_column_is_read_or_refused(key: str, value: Any) -> None:
    read_or_refused(body(**{key: value}))


def read_or_refused(answer: bytes) -> None:
    try:
        weather = parse(answer)
    except BadAnswer:
        return
    assert np.isfinite(weather.air_c).any()
