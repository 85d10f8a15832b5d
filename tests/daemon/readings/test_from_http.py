"""Readings by POST: over a real socket, with a token, and whatever else may come."""

from __future__ import annotations

import json
import socket
from collections.abc import Iterator, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
import requests
from broker import free_port
from garden_toml import BENCH, EMBER, HEATH, PLACE, SHED
from hypothesis import given
from hypothesis import strategies as st
from pydantic import SecretStr

from underbench.daemon.config.problems import ConfigProblems
from underbench.daemon.config.settings import load
from underbench.daemon.readings import from_http as reading_post
from underbench.daemon.readings.from_http import LARGEST_BODY, Taker
from underbench.daemon.readings.intake import Intake
from underbench.daemon.readings.parse import AHEAD, Known
from underbench.daemon.store.store import Store
from underbench.rules.garden.readings import Quantity, Reading

TOKEN = "moss-and-lichen-on-old-bark"
NOW = datetime(2027, 1, 15, 6, tzinfo=UTC)
GARDEN = PLACE + BENCH + SHED + EMBER + HEATH


class Desk:
    """A `Taker` and what it was given."""

    def __init__(self, room: bool = True) -> None:
        self.got: list[Reading] = []
        self._room = room
        known = Known("metric", ("top bench",), ("Ember",))
        self.taker = Taker(SecretStr(TOKEN), known, self._put)

    def _put(self, readings: Sequence[Reading]) -> bool:
        self.got += readings if self._room else []
        return self._room

    def post(self, said: Any, token: str = TOKEN) -> tuple[int, str]:
        body = said if isinstance(said, bytes) else json.dumps(said).encode()
        return self.taker.take_post(body, token, NOW)


def test_one_reading_or_a_list_is_taken() -> None:
    desk = Desk()
    assert desk.post({"quantity": "air", "value": -2.5}) == (202, "taken: 1")
    two = [
        {"quantity": "root-ball", "tree": "ember", "value": "23F", "at": "2027-01-15T06:30+01:00"},
        {"quantity": "wind", "spot": "Top Bench", "value": 4, "at": "2027-01-14T23:00"},
    ]
    assert desk.post(two) == (202, "taken: 2")
    assert desk.got == [
        Reading(NOW, Quantity.AIR, -2.5, None, None, "post"),
        Reading(NOW - timedelta(minutes=30), Quantity.ROOT_BALL, -5.0, None, "Ember", "post"),
        Reading(NOW - timedelta(hours=7), Quantity.WIND, 4.0, "top bench", None, "post"),
    ]


@pytest.mark.parametrize("token", ["", "x", TOKEN[:-1], f"{TOKEN}x", TOKEN.upper(), "é\udcff"])
def test_without_the_token_nothing_is_taken(token: str) -> None:
    desk = Desk()
    assert desk.post({"quantity": "air", "value": 1}, token)[0] == 401
    assert desk.got == []


@pytest.mark.parametrize(
    ("said", "words"),
    [
        (b"", "expected JSON"),
        (b"\xff\xfe\x00", "expected JSON"),
        (b"[" * 60000, "expected JSON"),
        (b'{"quantity": "air", "value": NaN}', "expected a number"),
        (b'{"quantity": "air", "value": 1e400}', "expected a number"),
        (b'{"quantity": "air", "value": ' + b"9" * 5000 + b"}", "expected"),
        ("air", "expected a reading such as"),
        ({"value": 1}, "expected one of air"),
        ({"quantity": "air"}, "expected a number"),
        ({"quantity": "air", "value": True}, "expected a number"),
        ({"quantity": "air", "value": [1]}, "expected a number"),
        ({"quantity": "air", "value": 1, "at": 5}, "at: expected text"),
        ({"quantity": "air", "value": 1, "at": "soon"}, "expected a moment such as"),
        ({"quantity": "air", "value": 1, "at": "0001-01-01T00:00+14:00"}, "expected a moment"),
        ({"quantity": "air", "value": 1, "at": "1969-12-31T00:00"}, "since 1970"),
        ({"quantity": "air", "value": 1, "at": "2027-01-15T07:00"}, "not one to come"),
        ({"quantity": "air", "value": 1, "spot": "top bensh"}, 'did you mean "top bench"?'),
        ({"quantity": "bag", "value": 1}, "expected the tree"),
        ({"quantity": "air", "value": 1, "unit": "F"}, "'unit': expected only at, quantity"),
        ([{"quantity": "air", "value": 1}, {"quantity": "ear", "value": 1}], "reading 2: "),
        ([{"quantity": "air", "value": 1}] * 1001, "1000 readings or fewer"),
    ],
)
def test_a_body_that_is_no_reading_gets_one_plain_line_and_is_taken_in_no_part(
    said: Any, words: str
) -> None:
    desk = Desk()
    status, text = desk.post(said)
    assert (status, len(text.splitlines())) == (400, 1)
    assert words in text
    assert len(text) < 300
    assert desk.got == []


def test_with_no_room_it_says_so() -> None:
    assert Desk(room=False).post({"quantity": "air", "value": 1})[0] == 503


VALUES = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20)
NAMES = st.sampled_from(["at", "quantity", "spot", "tree", "value"]) | st.text(max_size=5)
GOOD = st.sampled_from(["air", "bag", "top bench", "Ember", "-2.5", "31F", "2027-01-15T05:00Z"])
BODIES = st.dictionaries(NAMES, GOOD | VALUES) | st.lists(st.dictionaries(NAMES, GOOD | VALUES))


@given(BODIES.map(lambda said: json.dumps(said).encode()) | st.binary(max_size=200))
def test_no_body_breaks_it_or_becomes_rubbish(body: bytes) -> None:
    desk = Desk()
    status, text = desk.post(body)
    assert (status in (202, 400), len(text.splitlines())) == (True, 1)
    for reading in desk.got:
        assert reading.at <= NOW + AHEAD
        assert reading.spot in (None, "top bench")
        assert reading.tree in (None, "Ember")
        assert abs(reading.value) < 1e12


# The server


class Port:
    """A garden whose intake listens; ``ask`` posts to it."""

    def __init__(self, folder: Path, host: str = "127.0.0.1") -> None:
        self.port = free_port()
        config = folder / "garden.toml"
        config.write_text(
            f'{GARDEN}\n[readings]\nlisten = "{host}:{self.port}"\n', encoding="utf-8"
        )
        env = {"UNDERBENCH_STORE__PATH": "underbench.db", "HOME": str(folder)}
        self.settings = load(config, env | {"UNDERBENCH_READINGS__TOKEN": TOKEN})
        self.intake = Intake(self.settings)
        self.url = f"http://{host}:{self.port}/"

    def ask(self, **options: Any) -> requests.Response:
        headers = {"Authorization": f"Bearer {TOKEN}", "Connection": "close"}
        return requests.post(self.url, timeout=20, **{"headers": headers, **options})

    def raw(self, said: bytes) -> bytes:
        with socket.create_connection(("127.0.0.1", self.port), timeout=20) as line:
            line.sendall(said)
            answer = b""
            while more := line.recv(4096):
                answer += more
        return answer


@pytest.fixture
def port(tmp_path: Path) -> Iterator[Port]:
    one = Port(tmp_path)
    one.intake.start()
    yield one
    one.intake.stop()


def test_what_was_posted_is_kept_at_the_next_tick_and_once(port: Port) -> None:
    at = datetime.now(UTC).replace(microsecond=0) - timedelta(hours=1)
    said = {"quantity": "air", "spot": "top bench", "value": -2.5, "at": at.isoformat()}
    for _ in range(2):
        answer = port.ask(json=said)
        assert (answer.status_code, answer.text) == (202, "taken: 1\n")
    with Store.open(port.settings.store_path) as store:
        assert port.intake.drain(store, datetime.now(UTC)) == 1
        assert port.intake.drain(store, datetime.now(UTC)) == 0
        kept = store.readings.between(Quantity.AIR, at - timedelta(1), at)
    assert kept == [Reading(at, Quantity.AIR, -2.5, "top bench", None, "post")]


def test_the_server_refuses_in_plain_words(port: Port) -> None:
    assert port.ask(json={}, headers={"Authorization": "Bearer wrong"}).status_code == 401
    assert port.ask(json={}, headers={}).status_code == 401
    assert port.ask(data=b"{").status_code == 400
    assert port.ask(data=b" " * (LARGEST_BODY + 1)).status_code == 413
    assert b"411" in port.raw(b"POST / HTTP/1.0\r\n\r\n").splitlines()[0]
    assert b"411" in port.raw(b"POST / HTTP/1.0\r\nContent-Length: -5\r\n\r\n").splitlines()[0]
    long = b"POST / HTTP/1.0\r\nContent-Length: " + b"9" * 5000 + b"\r\n\r\n"
    assert b"413" in port.raw(long).splitlines()[0]
    assert b"501" in port.raw(b"GET / HTTP/1.0\r\n\r\n").splitlines()[0]
    assert port.raw(b"\x16\x03\x01\xff\n\n")
    assert port.ask(json={"quantity": "air", "value": 1}).status_code == 202


def newer_kind() -> bool:
    """Whether this machine has the loopback address of IPv6."""
    try:
        socket.create_server(("::1", 0), family=socket.AF_INET6).close()
    except OSError:
        return False
    return True


@pytest.mark.skipif(not newer_kind(), reason="this machine has no IPv6")
def test_an_address_of_the_newer_kind_is_listened_at(tmp_path: Path) -> None:
    one = Port(tmp_path, "[::1]")
    one.intake.start()
    try:
        assert one.ask(json={"quantity": "air", "value": 1}).status_code == 202
    finally:
        one.intake.stop()


def test_one_who_says_nothing_more_is_cut_off_and_the_next_is_answered(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(reading_post, "REQUEST_S", 0.2)
    one = Port(tmp_path)
    one.intake.start()
    try:
        with socket.create_connection(("127.0.0.1", one.port), timeout=20) as line:
            line.sendall(b"POST / HTTP/1.0\r\nContent-Length: 10\r\n\r\n{")
            assert one.ask(json={"quantity": "air", "value": 1}).status_code == 202
    finally:
        one.intake.stop()


def test_a_port_that_another_has_is_said_once_and_taken_when_it_is_free(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    one = Port(tmp_path)
    with Store.open(one.settings.store_path) as store:
        with socket.create_server(("127.0.0.1", one.port)):
            one.intake.start()
            for _ in range(3):
                one.intake.drain(store, datetime.now(UTC))
        assert [text for text in caplog.messages if "no readings are taken at" in text] == [
            f"readings: no readings are taken at 127.0.0.1:{one.port}: Address already in use"
        ]
        one.intake.drain(store, datetime.now(UTC))
    try:
        assert one.ask(json={"quantity": "air", "value": 1}).status_code == 202
    finally:
        one.intake.stop()


def test_without_a_token_nothing_listens(tmp_path: Path, caplog: pytest.LogCaptureFixture) -> None:
    config = tmp_path / "garden.toml"
    port = free_port()
    config.write_text(f'{GARDEN}\n[readings]\nlisten = "127.0.0.1:{port}"\n', encoding="utf-8")
    intake = Intake(load(config, {"HOME": str(tmp_path)}))
    intake.start()
    intake.stop()
    with pytest.raises(OSError, match="refused"):
        socket.create_connection(("127.0.0.1", port), timeout=5)
    (line,) = caplog.messages
    assert "put one into readings_token in the secrets folder" in line


@pytest.mark.parametrize("name", ["token", "mqtt_password"])
def test_a_secret_in_the_file_is_refused_and_not_repeated(tmp_path: Path, name: str) -> None:
    config = tmp_path / "garden.toml"
    config.write_text(f'{GARDEN}\n[readings]\n{name} = "{TOKEN}"\n', encoding="utf-8")
    with pytest.raises(ConfigProblems) as caught:
        load(config, {"HOME": str(tmp_path)})
    assert f"belongs in the secrets folder, as readings_{name}, not here" in str(caught.value)
    assert TOKEN not in str(caught.value)


def test_a_token_in_the_secrets_folder_is_read_and_a_short_one_refused(tmp_path: Path) -> None:
    config, secrets = tmp_path / "garden.toml", tmp_path / "secrets"
    secrets.mkdir()
    config.write_text(GARDEN, encoding="utf-8")
    env = {"HOME": str(tmp_path), "UNDERBENCH_SECRETS_DIR": str(secrets)}
    (secrets / "readings_token").write_text(f"{TOKEN}\n", encoding="utf-8")
    token = load(config, env).readings.token
    assert token is not None
    assert token.get_secret_value() == TOKEN
    (secrets / "readings_token").write_text("brief", encoding="utf-8")
    with pytest.raises(ConfigProblems, match="expected 16 characters or more") as caught:
        load(config, env)
    assert "brief" not in str(caught.value)
