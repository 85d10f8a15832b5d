"""Readings in the daemon's tick, what is said of sensors, and what ``check`` shows of them."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from commanding import Garden
from ticking import GARDEN, Daemon, Phone, ringing, ticking

from underbench.daemon.config.reloading import Reloading
from underbench.daemon.delivery.mqtt_publisher import Publisher
from underbench.daemon.readings.intake import Intake
from underbench.daemon.readings.sensor_report import sensor_lines
from underbench.daemon.running.scheduler import Watch
from underbench.daemon.store.duties import LAST_PASS
from underbench.daemon.store.store import Store
from underbench.rules.garden.readings import Quantity, Reading

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
NOW = datetime(2024, 4, 20, 15, 10, tzinfo=UTC)
MIDNIGHT = NOW.replace(hour=0, minute=0)
TOKEN = "moss-and-lichen-on-old-bark"


@pytest.fixture
def phone() -> Iterator[Phone]:
    with ringing() as server:
        yield server


@pytest.fixture
def daemon(tmp_path: Path, make: Any, phone: Phone) -> Iterator[Daemon]:
    """Ten mild days, and as many to come."""
    with ticking(tmp_path, make.weather(MIDNIGHT - 10 * DAY, 480, mean_c=12.0), phone) as made:
        yield made


def watching(daemon: Daemon, folder: Path) -> Watch:
    """The worker of the garden, which has a file of readings."""
    config, path = folder / "garden.toml", daemon.settings.store_path
    config.write_text(f'{GARDEN}\n[readings]\nfile = "readings.csv"\n', encoding="utf-8")
    return Watch(
        Reloading(config),
        lambda _settings: daemon.services,
        lambda: Store.open(path),
        lambda _store: daemon.supply,
    )


def test_a_tick_takes_in_what_the_file_has_and_runs_its_pass(
    daemon: Daemon, tmp_path: Path
) -> None:
    at = NOW - HOUR
    (tmp_path / "readings.csv").write_text(f"at,quantity,value\n{at.isoformat()},air,11\n")
    watch = watching(daemon, tmp_path)
    watch.tick(NOW)
    watch.close()
    assert daemon.store.readings.between(None, at - HOUR, NOW) == [
        Reading(at, Quantity.AIR, 11.0, None, None, "file")
    ]
    assert daemon.store.duties.last_done(LAST_PASS) == NOW


def test_a_fault_of_ours_in_taking_readings_costs_no_pass(
    daemon: Daemon, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: Any
) -> None:
    def breaks(*_args: object) -> int:
        raise ZeroDivisionError("secret")

    monkeypatch.setattr(Intake, "drain", breaks)
    watch = watching(daemon, tmp_path)
    watch.tick(NOW)
    watch.close()
    assert daemon.store.duties.last_done(LAST_PASS) == NOW
    (line,) = [text for text in caplog.messages if "readings failed" in text]
    assert "ZeroDivisionError" in line
    assert "secret" not in line


def test_of_what_a_device_sends_between_two_ticks_the_last_is_kept_but_all_of_the_rain(
    daemon: Daemon,
) -> None:
    """A temperature replaces the one before it; rain adds up."""
    intake = Intake(daemon.settings)
    for minute, value in enumerate((0.2, 0.4, 0.6)):
        for quantity in (Quantity.AIR, Quantity.RAIN):
            at = NOW + minute * timedelta(minutes=1)
            intake._put(Reading(at, quantity, value, None, None, "mqtt"))
    intake.drain(daemon.store, NOW + HOUR)
    found = daemon.store.readings.between(None, NOW - HOUR, NOW + HOUR)
    assert [one.value for one in found if one.quantity is Quantity.RAIN] == [0.2, 0.4, 0.6]
    assert [one.value for one in found if one.quantity is Quantity.AIR] == [0.6]


def fed(store: Store, values: Any, start: datetime, quantity: Quantity = Quantity.AIR) -> None:
    store.readings.add(
        Reading(start + n * HOUR, quantity, float(value), "top bench", None, "mqtt")
        for n, value in enumerate(values)
    )


def test_a_stuck_sensor_is_said_once_over_days_and_restarts_and_again_when_it_is_stuck_anew(
    daemon: Daemon, caplog: pytest.LogCaptureFixture
) -> None:
    weather = daemon.sky.weather
    daemon.store.hours.keep(weather)
    start = MIDNIGHT - 9 * DAY
    true_c = weather.air_c[0, 24 : 24 + 9 * 24]
    values = true_c.copy()
    values[24:72] = values[24]  # for two days, and then it was seen to; and once more
    values[150:190] = values[150]
    fed(daemon.store, values, start)
    for hour in range(24, 9 * 24):
        if hour % 24 == 0:
            intake = Intake(daemon.settings)
        intake.drain(daemon.store, start + hour * HOUR)
    said = [text for text in caplog.messages if "top bench" in text]
    assert len(said) == 2
    assert said[0].startswith("readings: air at top bench (mqtt): set aside: it shows the same")


def test_a_silent_sensor_is_said_once(daemon: Daemon, caplog: pytest.LogCaptureFixture) -> None:
    fed(daemon.store, np.arange(24) / 10, MIDNIGHT - 2 * DAY)
    intake = Intake(daemon.settings)
    for hour in range(48):
        intake.drain(daemon.store, MIDNIGHT - DAY + hour * HOUR)
    said = [text for text in caplog.messages if "top bench" in text]
    assert said == ["readings: air at top bench (mqtt): nothing has come for 7 hours"]
    assert sensor_lines(daemon.store, "metric", MIDNIGHT + DAY) == [
        "air at top bench (mqtt): 2.3 °C, 2 days ago; nothing has come for 49 hours"
    ]
    assert sensor_lines(daemon.store, "metric", MIDNIGHT + 20 * DAY) == []


def test_check_shows_each_source_and_the_last_reading_of_each_sensor(
    garden: Garden, monkeypatch: pytest.MonkeyPatch
) -> None:
    text = garden.config.read_text(encoding="utf-8")
    text += '\n[readings]\nfile = "r.csv"\n[readings.mqtt]\n'
    text += 'host = "127.0.0.1"\n[[readings.mqtt.topics]]\ntopic = "a/b"\nquantity = "air"\n'
    garden.config.write_text(text, encoding="utf-8")
    garden.do("reading", "-2.5", "air", "top bench")
    monkeypatch.setitem(sys.modules, "paho.mqtt.client", None)
    said = garden.do("check")
    assert said.exit_code == 2
    lines = [line for line in said.stdout.splitlines() if "reading" in line]
    assert [line.replace(f"{garden.folder}/", "") for line in lines] == [
        "BAD  readings: r.csv: there is no such file",
        "BAD  readings: readings.mqtt needs paho-mqtt: .venv/bin/pip install '.[mqtt]'",
        "note reading: air at top bench (command): −2.5 °C, 0 min ago",
    ]
    monkeypatch.undo()
    (garden.folder / "r.csv").write_text("at,quantity,value\nnow,air,1\n", encoding="utf-8")
    monkeypatch.setenv("UNDERBENCH_READINGS__TOKEN", TOKEN)
    lines = [line for line in garden.do("check").stdout.splitlines() if " readings:" in line]
    assert [line[:4].strip() for line in lines] == ["ok", "note", "ok"]
    assert "r.csv can be read, but not" in lines[0]
    assert "'now': expected a moment such as" in lines[0]
    assert "the page that takes posts needs [page] listen" in lines[1]
    assert TOKEN not in "".join(lines)
    text += '[page]\nlisten = "127.0.0.1:8640"\n'
    garden.config.write_text(text, encoding="utf-8")
    assert "posts are taken by the page, at 127.0.0.1:8640/readings" in garden.do("check").stdout


@pytest.mark.parametrize(
    ("section", "words"),
    [
        ('fil = "r.csv"', "did you mean 'file'?"),
        ('[readings.mqtt]\nhost = "h"', "readings.mqtt.topics: missing"),
        (
            '[readings.mqtt]\nhost = "h"\ntopics = [{topic = "a#", quantity = "air"}]',
            'expected a topic, in which "+" is a level of its own and "#" the last',
        ),
        (
            '[readings.mqtt]\nhost = "h"\ntopics = [{topic = "a", quantity = "sap"}]',
            "expected 'air', 'air-min'",
        ),
        (
            '[readings.mqtt]\nhost = "h"\ntopics = [{topic = "a", quantity = "bag"}]',
            "of bag: give the tree it is measured at",
        ),
        (
            '[readings.mqtt]\nhost = "h"\ntopics = [{topic = "a", quantity = "rain", unit = "C"}]',
            "expected one for rain: mm, in",
        ),
        (
            '[readings.mqtt]\nhost = "h"\n'
            'topics = [{topic = "a", quantity = "air", spot = "tip bench"}]',
            "no [[spot]] is named so (did you mean 'top bench'?)",
        ),
    ],
)
def test_a_slip_in_the_section_gets_a_line_with_its_place(
    garden: Garden, section: str, words: str
) -> None:
    text = garden.config.read_text(encoding="utf-8")
    garden.config.write_text(f"{text}\n[readings]\n{section}\n", encoding="utf-8")
    done = garden.do("trees")
    assert (done.exit_code, done.stdout) == (2, "")
    assert f"{garden.config}:" in done.stderr
    assert words in done.stderr
    assert "Traceback" not in done.stderr


def published(watch: Watch, at: datetime) -> Reading:
    """A reading that came from the broker, and waits."""
    reading = Reading(at, Quantity.AIR, 3.0, None, None, "mqtt")
    watch._intake._put(reading)
    return reading


def test_a_change_of_the_file_loses_no_reading_and_keeps_what_knows_of_hanging_services(
    daemon: Daemon, tmp_path: Path
) -> None:
    watch = watching(daemon, tmp_path)
    watch.tick(NOW)
    services = watch._services
    reading = published(watch, NOW)
    config = tmp_path / "garden.toml"
    config.write_text(config.read_text("utf-8") + "# a word\n", encoding="utf-8")
    watch.tick(NOW + timedelta(minutes=1))
    assert reading in daemon.store.readings.between(None, NOW - HOUR, NOW)
    assert watch._services is services
    last = published(watch, NOW + timedelta(minutes=2))
    watch.end(NOW + timedelta(minutes=3))
    watch.close()
    assert last in daemon.store.readings.between(None, NOW - HOUR, NOW + HOUR)


def test_a_fault_of_ours_in_publishing_is_no_fault_of_the_pass(
    daemon: Daemon, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, caplog: Any
) -> None:
    def breaks(*_args: object) -> None:
        raise ZeroDivisionError("secret")

    monkeypatch.setattr(Publisher, "publish", breaks)
    watch = watching(daemon, tmp_path)
    watch.tick(NOW)
    watch.close()
    assert daemon.store.duties.last_done(LAST_PASS) == NOW
    assert daemon.phone.titles() == []  # and no "NO FORECAST"
    (line,) = [text for text in caplog.messages if "publishing failed" in text]
    assert "secret" not in line
