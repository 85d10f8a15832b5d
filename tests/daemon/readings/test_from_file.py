"""A watched CSV file: appended to, cut off, rotated, full of rubbish; and the daemon killed."""

from __future__ import annotations

import os
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from garden_toml import BENCH, EMBER, HEATH, PLACE, SHED
from hypothesis import given
from hypothesis import strategies as st

from underbench.daemon.config.settings import load
from underbench.daemon.readings.from_file import AT_ONCE, Unreadable, read_added
from underbench.daemon.readings.intake import Intake
from underbench.daemon.readings.parse import AHEAD, Known
from underbench.daemon.store.readings import FilePlace, Readings
from underbench.daemon.store.store import Store, StoreError
from underbench.rules.garden.readings import Quantity, Reading

KNOWN = Known("metric", ("top bench",), ("Ember",))
NOW = datetime(2027, 1, 15, 12, tzinfo=UTC)
BEGIN = FilePlace(0, 0, b"")
HEADER = "at,quantity,spot,value\n"
GARDEN = PLACE + BENCH + SHED + EMBER + HEATH + '\n[readings]\nfile = "log/readings.csv"\n'


class Logged:
    """A garden whose readings are logged into a file, drained by hand."""

    def __init__(self, folder: Path) -> None:
        config, self.path = folder / "garden.toml", folder / "log" / "readings.csv"
        self.path.parent.mkdir()
        config.write_text(GARDEN, encoding="utf-8")
        self.settings = load(config, {"UNDERBENCH_STORE__PATH": "underbench.db"})
        self.restart()

    def restart(self) -> None:
        """Begin anew with nothing but the file and the database."""
        self.intake, self.now = Intake(self.settings), NOW

    def write(self, text: str | bytes, mode: str = "ab") -> None:
        with self.path.open(mode) as file:
            file.write(text if isinstance(text, bytes) else text.encode())

    def drain(self) -> int:
        with Store.open(self.settings.store_path) as store:
            return self.intake.drain(store, self.now)

    def values(self) -> list[float]:
        with Store.open(self.settings.store_path) as store:
            return [one.value for one in store.readings.between(None, NOW - timedelta(30), NOW)]


@pytest.fixture
def logged(tmp_path: Path) -> Logged:
    return Logged(tmp_path)


def line(hour: int, value: object) -> str:
    return f"2027-01-15T{hour:02}:00Z,air,top bench,{value}\n"


def test_the_file_is_read_on_from_where_it_was_left(logged: Logged) -> None:
    logged.write(HEADER + line(1, -1) + line(2, -2))
    assert (logged.drain(), logged.drain()) == (2, 0)
    logged.write(line(3, -3) + line(4, -4)[:-9])
    assert logged.drain() == 1
    logged.restart()
    logged.write(line(4, -4)[-9:])  # the logger was cut off in mid-line, and went on
    assert logged.drain() == 1
    assert logged.values() == [-1, -2, -3, -4]


def rotated(logged: Logged) -> None:
    logged.path.rename(logged.path.with_suffix(".1"))
    logged.write(HEADER + line(5, -5))


def emptied(logged: Logged) -> None:
    logged.write(HEADER + line(5, -5), "wb")


def emptied_and_longer(logged: Logged) -> None:
    logged.write(HEADER + line(5, -5) + "".join(line(6, -6) for _ in range(50)), "wb")


def put_back(logged: Logged) -> None:
    logged.path.unlink()
    logged.write(HEADER + line(1, -1) + line(2, -2) + line(5, -5))


@pytest.mark.parametrize("change", [rotated, emptied, emptied_and_longer, put_back])
def test_another_file_in_its_place_is_read_from_its_start(
    logged: Logged, change: Callable[[Logged], None]
) -> None:
    logged.write(HEADER + line(1, -1) + line(2, -2))
    logged.drain()
    change(logged)
    logged.drain()
    assert [value for value in logged.values() if value != -6] == [-1, -2, -5]


def test_a_bad_line_is_named_once_and_the_others_are_kept(
    logged: Logged, caplog: pytest.LogCaptureFixture
) -> None:
    logged.write(HEADER + line(1, -1) + "\n" + line(2, "cold") + line(3, -3))
    logged.write(b"\xff\xfe,air,,1\n" + b'2027-01-15T04:00Z,"air,,1\n' + b"x" * 9000 + b"\n")
    logged.write("2027-01-15T04:00Z,air,1\n" + line(25, 1) + line(13, 1) + line(5, -5))
    logged.drain()
    logged.drain()
    assert logged.values() == [-1, -3, -5]
    assert [text.split(": ", 1) for text in caplog.messages] == [
        [
            f"{logged.path}:4",
            "'cold': expected a number, such as -2.5, alone or with its unit (C, F)",
        ],
        [f"{logged.path}:6", "expected text in UTF-8, with commas between"],
        [f"{logged.path}:7", "expected text in UTF-8, with commas between"],
        [f"{logged.path}:8", "expected one reading a line, this is very long"],
        [f"{logged.path}:9", "expected 4 cells (at,quantity,spot,value), found 3"],
        [f"{logged.path}", "2 more lines are no readings"],
    ]


@pytest.mark.parametrize(
    "header", ["", "when,what\n", "at,quantity,spot\n", "at,at,quantity,value\n", '"at,value\n']
)
def test_a_header_that_is_none_is_said_once(
    logged: Logged, caplog: pytest.LogCaptureFixture, header: str
) -> None:
    logged.write(header + line(1, -1))
    assert (logged.drain(), logged.drain()) == (0, 0)
    (said,) = caplog.messages
    assert f"{logged.path}:1: " in said
    assert "expected a header of at,quantity,spot,value" in said


def test_a_file_that_is_not_there_is_said_once_and_read_when_it_comes(
    logged: Logged, caplog: pytest.LogCaptureFixture
) -> None:
    assert (logged.drain(), logged.drain()) == (0, 0)
    assert [text.split(": ")[-1] for text in caplog.messages] == ["there is no such file"]
    logged.write(HEADER[:4])  # just being begun
    assert logged.drain() == 0
    logged.write(HEADER[4:] + line(1, -1))
    assert logged.drain() == 1
    assert len(caplog.messages) == 1


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    with pytest.raises(Unreadable, match="no such file"):
        read_added(tmp_path / "pipe", BEGIN, KNOWN, NOW)


def test_columns_in_any_order_with_windows_ends_and_a_byte_order_mark(tmp_path: Path) -> None:
    path = tmp_path / "r.csv"
    path.write_bytes(
        '\ufeffValue,At,Tree,Quantity\r\n"23 F",2027-01-15T07:30+01:00,Ember,root-ball\r\n'.encode()
    )
    added = read_added(path, BEGIN, KNOWN, NOW)
    at = datetime(2027, 1, 15, 6, 30, tzinfo=UTC)
    assert added.readings == [Reading(at, Quantity.ROOT_BALL, -5.0, None, "Ember", "file")]


def test_a_long_file_is_read_in_pieces_and_whole(tmp_path: Path) -> None:
    path = tmp_path / "r.csv"
    start = datetime(2026, 1, 1, tzinfo=UTC)
    moments = [start + timedelta(minutes=10 * n) for n in range(36_000)]
    path.write_text(HEADER + "".join(f"{at.isoformat()},air,,{at.minute}\n" for at in moments))
    assert path.stat().st_size > AT_ONCE
    place, found = BEGIN, []
    while place.offset < path.stat().st_size:
        added = read_added(path, place, KNOWN, NOW)
        assert not added.complaints
        place, found = added.place, [*found, *added.readings]
    assert [one.at for one in found] == moments
    assert place.lines == len(moments) + 1


def test_a_flood_without_line_ends_is_passed_over(tmp_path: Path) -> None:
    path = tmp_path / "r.csv"
    path.write_bytes(HEADER.encode() + b"0" * (2 * AT_ONCE) + b"\n" + line(1, -1).encode())
    place, found = BEGIN, []
    for _ in range(5):
        added = read_added(path, place, KNOWN, NOW)
        place, found = added.place, [*found, *added.readings]
    assert [one.value for one in found] == [-1]


def test_killed_between_the_readings_and_the_place_neither_is_kept(
    logged: Logged, monkeypatch: pytest.MonkeyPatch
) -> None:
    def dies(*_args: object) -> None:
        raise KeyboardInterrupt

    logged.write(HEADER + line(1, -1))
    with monkeypatch.context() as patched:
        patched.setattr(Readings, "keep_file_place", dies)
        with pytest.raises(KeyboardInterrupt):
            logged.drain()
    assert logged.values() == []
    assert logged.drain() == 1


def test_a_store_that_fails_loses_nothing_of_the_file(
    logged: Logged, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fails(*_args: object) -> None:
        raise StoreError("the disk is full")

    logged.write(HEADER + line(1, -1))
    with monkeypatch.context() as patched:
        patched.setattr(Readings, "keep_file_place", fails)
        with pytest.raises(StoreError):
            logged.drain()
    assert logged.drain() == 1


CELLS = st.sampled_from(
    ["2027-01-15T01:00Z", "air", "bag", "top bench", "Ember", "-2.5", "31F", ""]
)
LINES = st.lists(st.lists(CELLS | st.text(max_size=8), max_size=6).map(",".join), max_size=8)


@given(LINES.map("\n".join).map(str.encode) | st.binary(max_size=200))
def test_no_content_breaks_it_or_becomes_rubbish(
    tmp_path_factory: pytest.TempPathFactory, content: bytes
) -> None:
    path = tmp_path_factory.getbasetemp() / "fuzz.csv"
    path.write_bytes(b"at,quantity,spot,tree,value\n" + content + b"\n")
    added = read_added(path, BEGIN, KNOWN, NOW)
    assert all(len(text.splitlines()) == 1 for text in added.complaints)
    assert added.place.offset == path.stat().st_size
    for reading in added.readings:
        assert reading.at <= NOW + AHEAD
        assert reading.spot in (None, "top bench")
        assert reading.tree in (None, "Ember")
        assert abs(reading.value) < float("inf")


@given(st.lists(st.integers(1, 60), max_size=12))
def test_however_it_is_cut_each_line_is_read_once(
    tmp_path_factory: pytest.TempPathFactory, cuts: list[int]
) -> None:
    path = tmp_path_factory.getbasetemp() / "cuts.csv"
    content = (HEADER + "".join(line(hour, hour) for hour in range(10))).encode()
    path.write_bytes(b"")
    place, found = BEGIN, []
    for cut in (*cuts, len(content)):
        done = path.stat().st_size
        with path.open("ab") as file:
            file.write(content[done : done + cut])
        added = read_added(path, place, KNOWN, NOW)
        place, found = added.place, [*found, *added.readings]
    assert [one.value for one in found] == list(range(10))
