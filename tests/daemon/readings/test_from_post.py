"""Readings in the body of a post, with a token, and whatever else may come."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from garden_toml import BENCH, EMBER, HEATH, PLACE, SHED
from hypothesis import given
from hypothesis import strategies as st
from pydantic import SecretStr

from underbench.daemon.config.problems import ConfigProblems
from underbench.daemon.config.settings import load
from underbench.daemon.readings.from_post import may_post, readings_in
from underbench.daemon.readings.parse import AHEAD, Known
from underbench.daemon.wording.reading_units import NoReading
from underbench.rules.garden.readings import Quantity, Reading

TOKEN = "moss-and-lichen-on-old-bark"
NOW = datetime(2027, 1, 15, 6, tzinfo=UTC)
GARDEN = PLACE + BENCH + SHED + EMBER + HEATH
KNOWN = Known("metric", ("top bench",), ("Ember",))


def taken(said: Any) -> list[Reading]:
    body = said if isinstance(said, bytes) else json.dumps(said).encode()
    return readings_in(body, KNOWN, NOW)


def test_one_reading_or_a_list_is_taken() -> None:
    two = [
        {"quantity": "root-ball", "tree": "ember", "value": "23F", "at": "2027-01-15T06:30+01:00"},
        {"quantity": "wind", "spot": "Top Bench", "value": 4, "at": "2027-01-14T23:00"},
    ]
    assert taken({"quantity": "air", "value": -2.5}) == [
        Reading(NOW, Quantity.AIR, -2.5, None, None, "post")
    ]
    assert taken(two) == [
        Reading(NOW - timedelta(minutes=30), Quantity.ROOT_BALL, -5.0, None, "Ember", "post"),
        Reading(NOW - timedelta(hours=7), Quantity.WIND, 4.0, "top bench", None, "post"),
    ]


@pytest.mark.parametrize("token", ["", "x", TOKEN[:-1], f"{TOKEN}x", TOKEN.upper(), "é\udcff"])
def test_without_the_token_nobody_may_post(token: str) -> None:
    ours = SecretStr(TOKEN)
    assert may_post(f"Bearer {TOKEN}", ours)
    assert may_post(f"bearer {TOKEN}", ours)
    assert not may_post(f"Basic {TOKEN}", ours)
    assert not may_post(f"Bearer {token}", ours)
    assert not may_post(TOKEN, ours)


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
def test_a_body_that_is_no_reading_gets_one_plain_line(said: Any, words: str) -> None:
    with pytest.raises(NoReading) as caught:
        taken(said)
    text = str(caught.value)
    assert len(text.splitlines()) == 1
    assert words in text
    assert len(text) < 300


VALUES = st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20)
NAMES = st.sampled_from(["at", "quantity", "spot", "tree", "value"]) | st.text(max_size=5)
GOOD = st.sampled_from(["air", "bag", "top bench", "Ember", "-2.5", "31F", "2027-01-15T05:00Z"])
BODIES = st.dictionaries(NAMES, GOOD | VALUES) | st.lists(st.dictionaries(NAMES, GOOD | VALUES))


@given(BODIES.map(lambda said: json.dumps(said).encode()) | st.binary(max_size=200))
def test_no_body_breaks_it_or_becomes_rubbish(body: bytes) -> None:
    try:
        found, line = taken(body), ""
    except NoReading as fault:
        found, line = [], str(fault)
    assert "\n" not in line
    for reading in found:
        assert reading.at <= NOW + AHEAD
        assert reading.spot in (None, "top bench")
        assert reading.tree in (None, "Ember")
        assert abs(reading.value) < 1e12


def test_a_file_that_still_listens_for_posts_is_told_where_they_go(tmp_path: Path) -> None:
    config = tmp_path / "garden.toml"
    text = f'{GARDEN}\n[readings]\nlisten = "127.0.0.1:8650"\n'
    config.write_text(text, encoding="utf-8")
    with pytest.raises(ConfigProblems) as caught:
        load(config, {"HOME": str(tmp_path)})
    assert str(caught.value) == (
        f"{config}:{len(text.splitlines())}: readings.listen: the page takes posts of readings now,"
        " at /readings: leave this line out, and under [page] write"
        ' listen = "127.0.0.1:8640"'
    )


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
