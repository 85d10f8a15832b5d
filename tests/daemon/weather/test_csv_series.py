"""Weather from a CSV file: units, the hour convention, and faults that are always reported."""

from __future__ import annotations

from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import psychrolib
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from underbench.daemon.weather.csv_series import COLUMNS, Series, SeriesFault, read_series
from underbench.rules.weather.hourly import VARIABLES

START = datetime(2024, 4, 20, tzinfo=UTC)
HEAD = "time,temperature_c,dew_point_c,wind_ms"


def line(hour: int, *values: Any) -> str:
    at = START + timedelta(hours=hour)
    return ",".join([f"{at:%Y-%m-%dT%H:%M}Z", *map(str, values or (10.0, 5.0, 2.0))])


@pytest.fixture
def read(tmp_path: Path, make: Any) -> Any:
    path = tmp_path / "weather.csv"

    def reading(*rows: str | bytes, head: str = HEAD) -> Series:
        lines = [row if isinstance(row, bytes) else row.encode() for row in (head, *rows)]
        path.write_bytes(b"\n".join(lines))
        return read_series(path, make.garden)

    return reading


def said(series: Series) -> str:
    return "\n".join(map(str, series.flags))


def test_every_column_arrives_in_the_unit_of_the_rules(read: Any) -> None:
    head = (
        f"{HEAD},gust_ms,shortwave_wm2,cloud_pct,precipitation_mm,pressure_hpa,snow_depth_cm,"
        "longwave_down_wm2"
    )
    row = (10.0, 5.0, 2.0, 4.0, 300.0, 75.0, 1.5, 987.0, 12.0, 310.0)
    series = read(*[line(h, *row) for h in range(3)], head=head)
    weather = series.weather
    found = {name: float(getattr(weather, name)[0, 1]) for name in VARIABLES}
    del found["diffuse_wm2"]
    assert found == pytest.approx(
        {
            "air_c": 10.0,
            "dew_c": 5.0,
            "wind_ms": 2.0,
            "gust_ms": 4.0,
            "global_wm2": 300.0,
            "cloud": 0.75,
            "rain_mm": 1.5,
            "pressure_kpa": 98.7,
            "snow_m": 0.12,
        }
    )
    assert series.not_used == ("longwave_down_wm2",)
    assert series.estimated == {}
    assert series.flags == ()


def test_times_are_the_hours_as_named_in_utc(read: Any) -> None:
    rows = ["2024-04-20T02:00+02:00,10,5,2", "2024-04-20T01:00,10,5,2", "2024-04-20 02:00Z,10,5,2"]
    expected = START.timestamp() + 3600 * np.arange(3)
    assert read(*rows).weather.times.tolist() == expected.tolist()


@pytest.mark.parametrize(("air_c", "humidity_pct"), [(20.0, 50.0), (-5.0, 80.0), (35.0, 15.0)])
def test_a_dew_point_comes_from_humidity(read: Any, air_c: float, humidity_pct: float) -> None:
    """Against psychrolib (ASHRAE 2017). The rules' Magnus form is within 0.1 K of it over
    water."""
    psychrolib.SetUnitSystem(psychrolib.SI)
    head = "time,temperature_c,relative_humidity_pct,wind_ms"
    weather = read(line(0, air_c, humidity_pct, 2), line(1, air_c, humidity_pct, 2), head=head)
    outside = psychrolib.GetTDewPointFromRelHum(air_c, humidity_pct / 100)
    # ASHRAE takes saturation over ice below 0 °C; humidities are reported over water (WMO No. 8).
    within = 0.1 if outside > 0 else 1.0
    assert weather.weather.dew_c[0, 0] == pytest.approx(outside, abs=within)


def test_a_dew_point_given_wins_and_humidity_fills_its_gaps(read: Any) -> None:
    head = f"{HEAD},relative_humidity_pct"
    series = read(line(0, 10, 5, 2, 100), line(1, 10, "", 2, 100), head=head)
    assert series.weather.dew_c[0] == pytest.approx([5.0, 10.0])


def test_impossible_readings_are_left_out_and_said_with_their_lines(read: Any) -> None:
    rows = [line(h) for h in range(8)]
    rows[2], rows[5] = line(2, 10, 5, 400), line(5, 1013, 5, 2)
    series = read(*rows)
    assert "wind_ms: impossible readings, left out: 1 (line 4)" in said(series)
    assert "temperature_c: impossible readings, left out: 1 (line 7)" in said(series)
    assert series.weather.air_c.max() == pytest.approx(10.0)
    assert series.estimated["wind_ms"] == 1


def test_impossible_humidity_and_a_dew_point_above_the_air_are_said(read: Any) -> None:
    head = "time,temperature_c,relative_humidity_pct,wind_ms"
    flooded = read(line(0, 10, 50, 2), line(1, 10, 700, 2), line(2, 10, 50, 2), head=head)
    assert "relative_humidity_pct: impossible readings, left out: 1 (line 3)" in said(flooded)
    moist = read(line(0), line(1, 10.0, 14.0, 2.0))
    assert "dew points above the air, set to the air: 1 (line 3)" in said(moist)
    assert (moist.weather.dew_c <= moist.weather.air_c).all()


def test_rows_twice_out_of_order_and_between_hours_are_said(read: Any) -> None:
    half = line(1).replace("01:00", "01:30")
    series = read(line(0), line(2, 8, 5, 2), line(1), half, line(2, 99, 5, 2), line(3))
    assert series.weather.hours == 4
    assert series.weather.air_c[0, 2] == 8.0
    for words in (
        "rows earlier than the one before, put in order: 1 (line 4)",
        "rows between whole hours, left out: 1 (line 5)",
        "rows for an hour already there, left out: 1 (line 6)",
    ):
        assert words in said(series)


def test_missing_hours_are_said_and_a_gap_of_days_is_not_known(read: Any) -> None:
    there = [h for h in range(24 * 5) if h != 7 and not 50 <= h < 80]
    series = read(*map(line, there))
    assert "hours without a row, named by the row before: 31 (lines 8, 50)" in said(series)
    assert np.flatnonzero(~series.known).tolist() == list(range(50, 80))
    assert series.estimated["temperature_c"] == 31


def test_what_is_not_there_is_estimated_and_counted(read: Any) -> None:
    series = read(line(0), line(1, 10, 5, "NA"), line(2))
    assert series.estimated["wind_ms"] == 1
    assert series.estimated["cloud_pct"] == series.weather.hours
    for name in VARIABLES:
        assert np.isfinite(getattr(series.weather, name)).all(), name


@pytest.mark.parametrize(
    ("head", "rows", "words"),
    [
        (HEAD, [], ": no rows"),
        (HEAD, [line(0).replace("00:00", "00:20")], ": no rows on a whole hour"),
        ("when,temperature_c,dew_point_c,wind_ms", [line(0)], ":1: no column 'time'"),
        ("time,temp_c,dew_point_c,wind_ms", [line(0)], "nearest is 'temp_c'"),
        ("time,temperature_c,wind_ms", [line(0)], "'dew_point_c' or 'relative_humidity_pct'"),
        ("time,temperature_c,wind_ms,wind_ms,dew_point_c", [line(0)], "'wind_ms' is there twice"),
        (HEAD, [line(0), line(1, "10,5", 5, 2)], ":3: 5 values, but the header names 4"),
        (HEAD, [line(0), line(1, 10, 5)], ":3: 3 values, but the header names 4"),
        (HEAD, [line(0), "", line(1, 10, "damp", 2)], ":4: dew_point_c: expected a number"),
        (HEAD, [line(0, "inf", 5, 2)], ":2: temperature_c: expected a number, not 'inf'"),
        (HEAD, [line(0), "20/04/2024 01:00,10,5,2"], ":3: time: expected UTC like"),
        (HEAD, [line(0), "0001-01-01T00:00+14:00,10,5,2"], ":3: time: expected UTC like"),
        (HEAD, [line(0), line(1), "2204-04-20T02:00Z,10,5,2"], ":4: time: the year 2204"),
        (HEAD, [line(0), b"2024-04-20T01:00Z,10\xff,5,2"], ":3: not text in UTF-8"),
        (HEAD, [line(0), '"2024-04-20T01:00Z,10,5,2'], "not a CSV file"),
        (HEAD, [line(0, 10, 5, "")], "no usable value of wind_ms"),
        ("", [], "empty"),
    ],
)
def test_what_cannot_be_read_stops_with_file_and_line(
    read: Any, head: str, rows: list[Any], words: str
) -> None:
    with pytest.raises(SeriesFault) as caught:
        read(*rows, head=head)
    text = str(caught.value)
    assert words in text
    assert "weather.csv" in text
    assert "\n" not in text


def test_a_file_that_is_not_there_or_is_a_folder(tmp_path: Path, make: Any) -> None:
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(SeriesFault, match="cannot be read"):
            read_series(path, make.garden)


def test_a_mark_at_the_start_and_windows_line_ends_are_fine(tmp_path: Path, make: Any) -> None:
    path = tmp_path / "weather.csv"
    path.write_bytes("\ufeff".encode() + "\r\n".join([HEAD, line(0), line(1)]).encode())
    assert read_series(path, make.garden).weather.hours == 2


CELL = st.one_of(
    st.floats(allow_nan=True, allow_infinity=True).map(repr),
    st.floats(-30, 40).map(repr),
    st.sampled_from(["", "NA", "-", "1e400", "٣", "0x1p3"]),
    st.text(max_size=5),
)
STAMP = st.one_of(
    st.integers(0, 60).map(lambda hour: line(hour).split(",", 1)[0]),
    st.datetimes().map(datetime.isoformat),
    st.text(max_size=12),
)
HEADS = st.one_of(
    st.just(["time", "temperature_c", "dew_point_c", "wind_ms"]),
    st.lists(st.sampled_from([*COLUMNS, "visibility", ""]), max_size=14),
)
SAFE = settings(suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow])


@SAFE
@given(HEADS, st.lists(st.tuples(STAMP, st.lists(CELL, min_size=2, max_size=13)), max_size=12))
def test_any_table_is_whole_and_finite_or_refused_in_one_line(
    read: Any, head: list[str], rows: list[tuple[str, list[str]]]
) -> None:
    lines = [",".join([at, *cells]) for at, cells in rows]
    whole_or_refused(lambda: read(*lines, head=",".join(head)))


@SAFE
@given(st.lists(st.tuples(st.integers(0, 99), *[st.floats(-120, 120)] * 3), min_size=1))
def test_any_numbers_are_made_whole(read: Any, rows: list[tuple[int, float, float, float]]) -> None:
    whole_or_refused(lambda: read(*[line(*row) for row in rows]))


@SAFE
@given(st.binary(max_size=200))
def test_any_bytes_are_refused_or_read(read: Any, content: bytes) -> None:
    whole_or_refused(lambda: read(line(0), content))


def whole_or_refused(reading: Any) -> None:
    series = None
    with suppress(SeriesFault):
        series = reading()
    if series is None:
        with pytest.raises(SeriesFault, match=r"\A[^\n]+\Z"):
            reading()
        return
    weather = series.weather
    assert (np.diff(weather.times) == 3600).all()
    for name in VARIABLES:
        assert np.isfinite(getattr(weather, name)).all(), name
    assert series.known.shape == weather.times.shape
