"""Broken input of every kind gives one clear line or a sound answer, never a traceback.

The cases are the same each time. ``FUZZ_EXAMPLES=5000`` tries as many others. A case that such a
search found is mended and stands here as an example.
"""

from __future__ import annotations

import json
import os
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import responses
from click.testing import CliRunner
from commanding import fails
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st
from openmeteo_service import openmeteo_body
from series_csv import write_series

from underbench.daemon.commands.cli import main
from underbench.daemon.faults import Fault
from underbench.daemon.weather.csv_series import SeriesFault, read_series
from underbench.daemon.weather.gazetteer import URL, NotAnswered, look_up
from underbench.daemon.weather.openmeteo import parse
from underbench.daemon.weather.supply import BadAnswer
from underbench.rules.weather.hourly import HOUR_S, PLAUSIBLE, Weather

SEARCH = int(os.environ.get("FUZZ_EXAMPLES", "0"))
FUZZ = settings(
    derandomize=not SEARCH,
    max_examples=SEARCH or 50,
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
START = datetime(2027, 4, 20, tzinfo=UTC)
EXAMPLES = {
    path.stem: path.read_text(encoding="utf-8")
    for path in sorted((Path(__file__).parents[2] / "config_examples").glob("*.toml"))
    if path.stem != "club_yard"  # four hundred trees: slow, and no other words
}

# The keeper's file: an example's lines are broken, swapped, doubled, given odd values or bytes.

ODD_NUMBERS = ("0", "-1", "1e400", "-1e400", "nan", "inf", "1" * 400, "1" * 5000, "1e-320", "0x_f")
ODD_VALUES = (
    *ODD_NUMBERS,
    "true",
    '""',
    '"\\u0000"',
    '"\\n"',
    "'''a\nb'''",
    "[]",
    "[[]]",
    "{}",
    "{ a = { b = [1] } }",
    "2027-04-20",
    "2027-04-20T25:00",
    "[" * 3000,
    "[" * 3000 + "]" * 3000,
    '"' + "x" * 9000 + '"',
)
TEXT = st.text(st.characters(exclude_characters="/~", exclude_categories=["Cs"]), max_size=12)
QUOTED = TEXT.map(lambda text: json.dumps(text, ensure_ascii=False))
VALUES = st.sampled_from(ODD_VALUES) | QUOTED | st.floats().map(str) | st.integers().map(str)


def with_value(line: str, value: str) -> str:
    return f"{line.partition('=')[0]}= {value}"


def with_key(line: str, key: str) -> str:
    return f"{key} ={line.partition('=')[2]}"


@st.composite
def gardens(draw: Any) -> bytes:
    """An example garden with up to three spoilt lines, maybe cut short."""
    text = EXAMPLES[draw(st.sampled_from(sorted(EXAMPLES)))]
    lines = [line for line in text.split("\n") if line.strip() and line[0] != "#"]
    for _ in range(draw(st.integers(1, 3))):
        at = draw(st.integers(0, len(lines) - 1))
        line = lines[at]
        spoilt = st.one_of(
            VALUES.map(lambda value, line=line: with_value(line, value)),
            (TEXT | QUOTED).map(lambda key, line=line: with_key(line, key)),
            st.sampled_from(lines).map(lambda other, line=line: f"{line}\n{other}"),
            TEXT.map(lambda junk, line=line: f"{line}\n{junk}"),
            st.just(""),
        )
        lines[at] = draw(spoilt)
    raw = "\n".join(lines).encode()
    return raw[: draw(st.integers(0, len(raw)))] if draw(st.integers(0, 4)) == 0 else raw


@FUZZ
@given(gardens())
@example(EXAMPLES["first_garden"].replace("latitude = ", f"latitude = {'[' * 3000}").encode())
@example(EXAMPLES["first_garden"].replace("latitude = ", f"latitude = {'1' * 5000}").encode())
@example(EXAMPLES["first_garden"].replace("[garden]", f"[garden]\nunits = {'1' * 400}").encode())
def test_any_garden_file_is_read_or_refused_by_lines_that_name_it(
    tmp_path: Path, garden: bytes
) -> None:
    read_or_named(tmp_path, garden)


@pytest.mark.parametrize("path", ["\\u0000", "a\\u0000.db", "\\n", "garden.toml", "."])
def test_a_database_that_can_be_none_is_refused_by_a_line(path: str, tmp_path: Path) -> None:
    """The search leaves the database's path alone: random paths must not be opened."""
    config = tmp_path / "garden.toml"
    config.write_text(f'{EXAMPLES["first_garden"]}\n[store]\npath = "{path}"\n', "utf-8")
    line = fails(CliRunner().invoke(main, ["--config", str(config), "trees"]))
    assert line.startswith(str(tmp_path))


def read_or_named(folder: Path, garden: bytes) -> None:
    config = folder / "garden.toml"
    config.write_bytes(garden)
    env = {"XDG_STATE_HOME": str(folder), "UNDERBENCH_STORE__PATH": str(folder / "fuzz.db")}
    done = CliRunner().invoke(main, ["--config", str(config), "trees", "--json"], env=env)
    assert done.exception is None or isinstance(done.exception, SystemExit), done.exception
    assert done.exit_code in (0, 2)
    if done.exit_code == 0:
        assert json.loads(done.stdout)["trees"]
        return
    for line in done.stderr.splitlines():
        assert line.startswith(f"{config}"), line


# The weather service's answer.

NASTY = st.one_of(
    st.none(),
    st.booleans(),
    st.floats(),
    st.sampled_from([10**400, -(10**19), 2**63, 1e308, "", "NaN", "2027-04-20T00:00", [], {}]),
    st.text(max_size=5),
    st.lists(st.floats() | st.none(), max_size=4),
)


def an_answer(make: Any) -> Any:
    """Two days in the provider's form."""
    weather = make.weather(START, 48)
    return json.loads(openmeteo_body(weather, latitude=51.0, longitude=0.5, elevation_m=30.0))


def paths(value: Any) -> list[tuple[Any, ...]]:
    """The way to each place in a JSON value. A few hours of a column stand for all."""
    found: list[tuple[Any, ...]] = []
    keys = value.keys() if isinstance(value, dict) else range(min(len(value), 3))
    for key in keys:
        found.append((key,))
        if isinstance(value[key], dict | list):
            found += [(key, *way) for way in paths(value[key])]
    return found


def spoil(answer: Any, way: tuple[Any, ...], change: str, value: Any) -> None:
    """Change one place of an answer: remove it, double it, or give it another value."""
    *before, last = way
    for key in before:
        answer = answer[key] if _has(answer, key) else {}
    if not _has(answer, last):
        return
    if change == "drop":
        del answer[last]
    elif change == "double" and isinstance(answer, list):
        answer.insert(last, answer[last])
    else:
        answer[last] = value


def _has(value: Any, key: Any) -> bool:
    if isinstance(value, list):
        return isinstance(key, int) and key < len(value)
    return isinstance(value, dict) and key in value


@FUZZ
@given(st.data())
def test_any_answer_of_the_weather_service_is_sound_or_refused(make: Any, data: Any) -> None:
    answer = an_answer(make)
    for _ in range(data.draw(st.integers(1, 3))):
        way = data.draw(st.sampled_from(paths(answer) or [("hourly",)]))
        change = data.draw(st.sampled_from(["drop", "double", "change", "change"]))
        spoil(answer, way, change, data.draw(NASTY))
    raw = bytearray(json.dumps(answer).encode())
    for at in data.draw(st.lists(st.integers(0, len(raw) - 1), max_size=2)):
        raw[at] = data.draw(st.integers(0, 255))
    sound_or_refused(bytes(raw))


def sound_or_refused(raw: bytes) -> None:
    weather = refused_or(BadAnswer, lambda: parse(raw))
    if isinstance(weather, Weather):
        plausible(weather)


def refused_or(kind: type[Fault], read: Callable[[], Any]) -> Any:
    """What is read, or the one line that refuses it."""
    try:
        return read()
    except kind as refused:
        line = str(refused)
    assert len(line.splitlines()) == 1
    return line


def plausible(weather: Weather) -> None:
    """Whether the weather is hourly, and no value is beyond what was measured near the ground."""
    assert (np.diff(weather.times) == HOUR_S).all()
    for name, (low, high) in PLAUSIBLE.items():
        values = getattr(weather, name)
        assert ((values >= low) & (values <= high) | np.isnan(values)).all(), name
        assert not np.isinf(values).any()
    moist = np.isfinite(weather.dew_c) & np.isfinite(weather.air_c)
    assert (weather.dew_c <= weather.air_c + 1e-9)[moist].all()


@FUZZ
@example([{"latitude": 10**400, "longitude": 0.5}])
@given(st.lists(NASTY | st.fixed_dictionaries({"latitude": NASTY, "longitude": NASTY}), max_size=3))
def test_any_answer_of_the_place_name_service_is_read_or_one_line(results: list[Any]) -> None:
    with responses.RequestsMock() as service:
        service.get(URL, body=json.dumps({"results": results}))
        found = refused_or(NotAnswered, lambda: look_up("Reed End"))
    assert isinstance(found, str) or len(found) == len(results)


# A weather series as CSV.

CELLS = st.sampled_from(
    ["", "NA", "-", "1e400", "nan", "-0", "9" * 400, '"', "1,5", "1;5", "١", "\x00", "2027-04-20"]
)


@FUZZ
@given(st.data())
def test_any_series_is_whole_and_sound_or_refused_in_one_line(
    tmp_path: Path, make: Any, data: Any
) -> None:
    path = tmp_path / "weather.csv"
    write_series(path, make.weather(START, 72))
    rows = [line.split(",") for line in path.read_text("utf-8").splitlines()]
    for _ in range(data.draw(st.integers(1, 4))):
        row = data.draw(st.sampled_from(rows))
        if row:
            row[data.draw(st.integers(0, len(row) - 1))] = data.draw(CELLS | TEXT)
    raw = "\n".join(",".join(row) for row in rows).encode()
    cut = data.draw(st.none() | st.integers(0, len(raw)))
    path.write_bytes(raw[:cut])
    series = refused_or(SeriesFault, lambda: read_series(path, make.garden))
    if isinstance(series, str):
        assert series.startswith(str(path))
        return
    plausible(series.weather)
    for name in PLAUSIBLE:
        assert np.isfinite(getattr(series.weather, name)).all(), name
