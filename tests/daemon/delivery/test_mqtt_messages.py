"""What a pass saw, on a real broker. It is retained, found by discovery, and gone with the tree."""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from broker import PASSWORD, USER, Broker, running, until
from hypothesis import given
from hypothesis import strategies as st
from paho.mqtt import subscribe
from paho.mqtt.client import Client, MQTTMessage
from ticking import GARDEN, ringing, ticking

from underbench.daemon.alerts.hourly_pass import run_pass
from underbench.daemon.commands.open_garden import supply_of
from underbench.daemon.config.reloading import Reloading
from underbench.daemon.config.settings import load
from underbench.daemon.delivery.mqtt_messages import SENSORS, Topics, slug
from underbench.daemon.delivery.mqtt_publisher import Publisher
from underbench.daemon.journal.mark_done import note_handled
from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.running.scheduler import Watch
from underbench.daemon.store.store import Store

END = "end-of/list"
BOTH = ("first/#", "second/#")
NOW = datetime(2024, 4, 23, 15, 10, tzinfo=UTC)


@pytest.fixture(scope="module")
def broker(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Broker]:
    with running(tmp_path_factory.mktemp("broker")) as made:
        yield made


@pytest.fixture
def outlook(garden: Any, broker: Broker) -> Outlook:
    """What a pass sees on the cold evening, in a garden that publishes."""
    secrets = garden.folder / "secrets"
    secrets.mkdir()
    (secrets / "publish_password").write_text(PASSWORD, encoding="utf-8")
    text = garden.config.read_text("utf-8")
    table = f'[publish]\nhost = "127.0.0.1"\nport = {broker.port}\nusername = "{USER}"\n'
    garden.config.write_text(text + table, encoding="utf-8")
    settings = load(garden.config, {})
    with Store.open(settings.store_path) as store:
        done = run_pass(settings, store, supply_of(settings, store), NOW, dry_run=True)
    return done.outlook


def kept(broker: Broker, topic: str) -> str:
    """The retained payload of one topic, which may be on its way."""
    found: dict[str, str] = {}
    come = until(lambda: found.update(retained(broker, topic)) or found, looks=100)
    assert come, f"nothing under {topic}"
    return found[topic]


def retained(broker: Broker, *under: str) -> dict[str, str]:
    """What the broker keeps, by topic. The topic asked for last ends the list."""
    auth: Any = {"username": USER, "password": PASSWORD}
    broker.publish(END, "here", retain=True)
    found: dict[str, str] = {}

    def take(client: Client, _data: object, message: MQTTMessage) -> None:
        if message.topic == END:
            client.disconnect()
        elif message.retain:
            found[message.topic] = message.payload.decode()

    subscribe.callback(take, [*under, END], hostname="127.0.0.1", port=broker.port, auth=auth)
    return found


@contextmanager
def watching(daemon: Any) -> Iterator[Watch]:
    """The daemon as it runs; it ends with the block, as what publishes runs in a thread."""
    watch = Watch(
        Reloading(daemon.config),
        lambda _settings: daemon.services,
        lambda: Store.open(daemon.settings.store_path),
        lambda _store: daemon.supply,
    )
    watch.begin()
    try:
        yield watch
    finally:
        watch.end(NOW + timedelta(hours=1))
        watch.close()


def test_a_tree_is_published_and_found_and_taken_away_when_it_is_lost(
    outlook: Outlook, broker: Broker
) -> None:
    publisher = Publisher(outlook.settings)
    publisher.start()
    try:
        publisher.publish(outlook)
        base = "underbench/orchard-end"
        assert until(lambda: kept(broker, f"{base}/available") == "online")
        state = json.loads(kept(broker, f"{base}/ember"))
        assert state["schema"] == 2
        assert (state["advice"], state["strength"]) == ("protect", "danger")
        assert state["leaf_min_c"] < state["air_min_c"] < 0
        topic = "homeassistant/sensor/underbench-orchard-end-ember/leaf_min_c/config"
        found = json.loads(kept(broker, topic))
        assert found["state_topic"] == f"{base}/ember"
        assert found["value_template"] == "{{ value_json.leaf_min_c }}"
        assert (found["unit_of_measurement"], found["device_class"]) == ("°C", "temperature")
        assert found["state_class"] == "measurement"
        assert found["origin"] == {"name": "Underbench"}
        assert {sensor.field for sensor in SENSORS} <= state.keys()
        lost = tuple(
            at.model_copy(update={"lost": at.lost or at.tree.name == "Ember"})
            for at in outlook.standing
        )
        publisher.publish(replace(outlook, standing=lost))
        assert not any("ember" in topic for topic in publisher._last)
        publisher.publish_jobs([])
        assert json.loads(kept(broker, f"{base}/to-do"))["to_do"] == "off"
        publisher.publish(replace(outlook, standing=lost))
        assert f"{base}/to-do" in publisher._last
        assert any("heath" in topic for topic in publisher._last)
    finally:
        publisher.stop()
    assert until(lambda: kept(broker, f"{base}/available") == "offline")


def test_a_changed_section_is_taken_up_and_what_stood_elsewhere_taken_away(
    tmp_path: Path, make: Any, broker: Broker
) -> None:
    weather = make.weather(NOW.replace(minute=0) - timedelta(days=10), 24 * 25, mean_c=12.0)
    with ringing() as phone, ticking(tmp_path, weather, phone) as daemon:
        table = f'[publish]\nhost = "127.0.0.1"\nport = {broker.port}\ndiscovery = ""\n'
        table += f'username = "{USER}"\ntopic = '
        (tmp_path / "secrets").mkdir()
        (tmp_path / "secrets" / "publish_password").write_text(PASSWORD, encoding="utf-8")
        daemon.config.write_text(f'{GARDEN}{table}"first"\n', encoding="utf-8")
        with watching(daemon) as watch:
            watch.tick(NOW)
            assert until(lambda: any(one.endswith("/heath") for one in retained(broker, *BOTH)))
            first = {one for one in retained(broker, *BOTH) if one.startswith("first/")}
            daemon.config.write_text(f'{GARDEN}{table}"second"\n', encoding="utf-8")
            watch.tick(NOW + timedelta(hours=1))
            second = {one.replace("first/", "second/", 1) for one in first}
            assert until(lambda: retained(broker, *BOTH).keys() >= second)
            assert not retained(broker, *BOTH).keys() & first


def test_what_is_to_do_is_one_entity_with_its_list_and_goes_out_at_once(
    tmp_path: Path, make: Any, broker: Broker
) -> None:
    """The section is added to a database of which the hour's pass is done; later the keeper says
    that the job is done."""
    daily = np.full(24 * 25, 9.0)
    daily[24 * 10 + 12 : 24 * 11 + 12] = -14.0
    weather = make.weather(NOW.replace(minute=0) - timedelta(days=10), len(daily), mean_c=daily)
    with ringing() as phone, ticking(tmp_path, weather, phone) as daemon:
        daemon.tick(NOW)
        table = f'[publish]\nhost = "127.0.0.1"\nport = {broker.port}\n'
        table += f'username = "{USER}"\ntopic = "third"\n'
        (tmp_path / "secrets").mkdir()
        (tmp_path / "secrets" / "publish_password").write_text(PASSWORD, encoding="utf-8")
        daemon.config.write_text(f"{GARDEN}{table}", encoding="utf-8")
        with watching(daemon) as watch:
            watch.tick(NOW + timedelta(minutes=20))
            assert json.loads(kept(broker, "third/orchard-end/heath"))["advice"] == "protect"
            told = json.loads(kept(broker, "third/orchard-end/to-do"))
            assert (told["to_do"], told["trees"]) == ("on", 1)
            (job,) = told["jobs"]
            assert (job["job"], job["trees"]) == ("PROTECT", ["Heath"])
            assert job["do_by"] == told["do_by"]
            topic = "homeassistant/binary_sensor/third-orchard-end/to_do/config"
            found = json.loads(kept(broker, topic))
            assert (
                found["state_topic"] == found["json_attributes_topic"] == "third/orchard-end/to-do"
            )
            with Store.open(daemon.settings.store_path) as store:
                note_handled(store, daemon.settings, [], NOW + timedelta(minutes=30))
            watch.tick(NOW + timedelta(minutes=31))
            assert until(
                lambda: json.loads(kept(broker, "third/orchard-end/to-do"))["to_do"] == "off"
            )


def test_no_tree_takes_the_topics_of_the_garden() -> None:
    topics = Topics("underbench", "Orchard End", ["Available", "To do", "To-do"])
    assert len({topics.available, topics.to_do, *map(topics.tree, ["Available", "To do"])}) == 4
    assert topics.slug("To-do") == "to-do-3"


def test_without_a_broker_nothing_is_published_and_nothing_fails(outlook: Outlook) -> None:
    nowhere = outlook.settings.model_copy(update={"publish": None})
    publisher = Publisher(nowhere)
    publisher.start()
    publisher.publish(outlook)
    publisher.stop()


def test_a_broker_that_is_away_is_said_once(
    outlook: Outlook, caplog: pytest.LogCaptureFixture
) -> None:
    assert outlook.settings.publish is not None
    table = outlook.settings.publish.model_copy(update={"port": 9})
    publisher = Publisher(outlook.settings.model_copy(update={"publish": table}))
    publisher.start()
    try:
        assert until(lambda: publisher.trouble)
        for _ in range(3):
            publisher.publish(outlook)
    finally:
        publisher.stop()
    said = [text for text in caplog.messages if text.startswith("publish:")]
    assert said == ["publish: the broker at 127.0.0.1:9 cannot be reached"]


@given(st.lists(st.text(min_size=1, max_size=12), unique=True, max_size=8))
def test_any_names_make_topics_of_their_own(names: list[str]) -> None:
    """A name holds no wildcard and no separator (MQTT 3.1.1, 4.7)."""
    topics = Topics("underbench", "Yard", names)
    made = [topics.tree(name) for name in names]
    assert len(set(made)) == len(names)
    assert all(topic.startswith("underbench/yard/") for topic in made)
    assert not any(set(topics.slug(name)) & set("/+#\0") for name in names)
    assert slug("Käfer & Söhne") == "kafer-sohne"
