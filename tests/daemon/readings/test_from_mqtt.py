"""Readings from a real MQTT broker: taken, refused, gone and back again."""

from __future__ import annotations

import json
import logging
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest
from broker import PASSWORD, USER, Broker, free_port, running, until
from garden_toml import BENCH, EMBER, HEATH, PLACE, SHED
from hypothesis import given
from hypothesis import strategies as st

from underbench.daemon.config.readings_table import TopicTable
from underbench.daemon.config.settings import Settings, load
from underbench.daemon.readings.from_mqtt import reading_in
from underbench.daemon.readings.intake import Intake
from underbench.daemon.readings.parse import Known
from underbench.daemon.store.store import Store
from underbench.daemon.wording.reading_units import NoReading
from underbench.rules.garden.readings import Quantity, Reading
from underbench.rules.weather.sensor_checks import POSSIBLE

KNOWN = Known("metric", ("top bench",), ("Ember",))
NOW = datetime(2027, 1, 15, 6, tzinfo=UTC)
TOPICS = """
[[readings.mqtt.topics]]
topic = "garden/bench"
quantity = "air"
spot = "top bench"

[[readings.mqtt.topics]]
topic = "garden/+/probe"
quantity = "root-ball"
tree = "Ember"
key = "probe.temperature"
unit = "F"
"""


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Broker]:
    with running(tmp_path_factory.mktemp("broker")) as one:
        yield one


def settings(folder: Path, port: int, password: str = PASSWORD) -> Settings:
    config = folder / "garden.toml"
    mqtt = f'[readings.mqtt]\nhost = "127.0.0.1"\nport = {port}\nusername = "{USER}"\n{TOPICS}'
    config.write_text(PLACE + BENCH + SHED + EMBER + HEATH + mqtt, encoding="utf-8")
    env = {"UNDERBENCH_STORE__PATH": "underbench.db", "HOME": str(folder)}
    return load(config, env | {"UNDERBENCH_READINGS__MQTT_PASSWORD": password})


class Listening:
    """A garden that listens, drained by hand until what is waited for is there."""

    def __init__(self, intake: Intake, store: Store) -> None:
        self.intake, self.store = intake, store

    def drained(self) -> list[Reading]:
        self.intake.drain(self.store, datetime.now(UTC))
        start = datetime(2020, 1, 1, tzinfo=UTC)
        return self.store.readings.between(None, start, datetime.now(UTC))

    def until(self, there: Callable[[list[Reading]], bool]) -> list[Reading]:
        assert until(lambda: there(self.drained()))
        return self.drained()

    def hears(self, broker: Broker, value: str = "1.5") -> None:
        """Publish until it comes: the broker tells nobody when somebody has subscribed."""

        def came(readings: list[Reading]) -> bool:
            broker.publish("garden/bench", value)
            return any(r.value == float(value) for r in readings)

        self.until(came)


@contextmanager
def listening(folder: Path, port: int, password: str = PASSWORD) -> Iterator[Listening]:
    told = settings(folder, port, password)
    intake = Intake(told)
    intake.start()
    try:
        with Store.open(told.store_path) as store:
            yield Listening(intake, store)
    finally:
        intake.stop()


def test_readings_come_from_the_broker_in_the_units_they_are_in(
    broker: Broker, tmp_path: Path
) -> None:
    with listening(tmp_path, broker.port) as garden:
        garden.hears(broker)
        broker.publish("garden/ember/probe", '{"probe": {"temperature": 23}, "battery": 3.1}')
        found = garden.until(lambda got: Quantity.ROOT_BALL in {r.quantity for r in got})
    assert {(r.quantity, r.spot, r.tree, round(r.value, 9)) for r in found} == {
        (Quantity.AIR, "top bench", None, 1.5),
        (Quantity.ROOT_BALL, None, "Ember", -5.0),  # exact: 23 °F is −5 °C
    }
    assert {r.source for r in found} == {"mqtt"}


def test_what_is_no_reading_is_said_once_and_costs_nothing(
    broker: Broker, tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    with listening(tmp_path, broker.port) as garden:
        garden.hears(broker)
        for rubbish in (b"\xff\xfe", "warm", "nan", "1e999", "x" * 5000):
            broker.publish("garden/bench", rubbish)
        garden.hears(broker, "-7.25")
        found = garden.drained()
    assert {r.value for r in found} == {1.5, -7.25}
    said = [text for text in caplog.messages if "garden/bench" in text]
    assert len(said) == 1
    assert "expected a number in UTF-8" in said[0]


def test_a_value_the_broker_kept_is_not_taken_for_one_of_now(
    broker: Broker, tmp_path: Path
) -> None:
    broker.publish("garden/bench", "-30", retain=True)
    try:
        with listening(tmp_path, broker.port) as garden:
            garden.hears(broker)
            assert {r.value for r in garden.drained()} == {1.5}
    finally:
        broker.publish("garden/bench", b"", retain=True)


def test_a_broker_that_goes_and_comes_back_is_said_once_and_heard_again(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    (tmp_path / "broker").mkdir()
    with running(tmp_path / "broker") as broker, listening(tmp_path, broker.port) as garden:
        garden.hears(broker)
        caplog.clear()
        broker.stop()
        assert until(lambda: garden.drained() and caplog.messages)
        for _ in range(5):
            garden.drained()
        assert len([text for text in caplog.messages if "is gone" in text]) == 1
        broker.start()
        garden.hears(broker, "2.5")


@pytest.mark.parametrize(
    ("password", "up", "words"),
    [("wrong", True, "refuses: Not authorized"), (PASSWORD, False, "cannot be reached")],
)
def test_a_broker_that_is_down_or_refuses_is_said_in_one_line(
    broker: Broker,
    tmp_path: Path,
    caplog: pytest.LogCaptureFixture,
    password: str,
    up: bool,
    words: str,
) -> None:
    with listening(tmp_path, broker.port if up else free_port(), password) as garden:
        assert until(lambda: [garden.drained(), *caplog.messages][1:] and words in caplog.text)
    assert caplog.text.count(words) == 1
    assert PASSWORD not in caplog.text


def test_without_the_library_one_line_says_what_to_install(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    monkeypatch.setitem(sys.modules, "paho.mqtt.client", None)
    with caplog.at_level(logging.WARNING), listening(tmp_path, 1) as garden:
        assert garden.drained() == []
    (line,) = caplog.messages
    assert "pip install '.[mqtt]'" in line


def outcome(payload: bytes, topic: TopicTable) -> Reading | str:
    """The reading in a payload, or the line that says why there is none."""
    try:
        return reading_in(payload, topic, KNOWN, NOW)
    except NoReading as fault:
        return str(fault)


@given(st.binary(max_size=300) | st.text(max_size=80).map(str.encode), st.booleans())
def test_no_payload_breaks_it_or_becomes_rubbish(payload: bytes, keyed: bool) -> None:
    key = "a.b" if keyed else None
    topic = TopicTable(topic="garden/x", quantity=Quantity.AIR, spot="top bench", key=key)
    found = outcome(payload, topic)
    if isinstance(found, str):
        assert "\n" not in found
    else:
        assert (found.at, found.spot, found.source) == (NOW, "top bench", "mqtt")
        assert abs(found.value) < float("inf")


JSON = st.recursive(
    st.none() | st.booleans() | st.floats() | st.integers() | st.text(max_size=10),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner),
    max_leaves=8,
)


@given(JSON)
def test_a_number_is_found_only_where_the_key_says(value: object) -> None:
    topic = TopicTable(topic="t", quantity=Quantity.WIND, key="a.b", unit="km/h")
    payload = json.dumps({"a": {"b": value}}).encode()
    low, high = POSSIBLE[Quantity.WIND]
    found = outcome(payload, topic)
    if isinstance(found, Reading):
        assert found.value >= 0
    else:
        number = isinstance(value, int | float) and not isinstance(value, bool)
        assert not (number and low <= value <= high)
