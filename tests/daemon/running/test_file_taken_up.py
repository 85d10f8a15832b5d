"""The daemon takes up the garden's file as it is now, whoever changed it."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from ticking import GARDEN, Daemon, Phone, ringing, ticking

from underbench.daemon.config.reloading import Reloading
from underbench.daemon.config.settings import Settings
from underbench.daemon.delivery.push_services import Services
from underbench.daemon.journal.garden_edit import add, seen
from underbench.daemon.running.scheduler import Watch
from underbench.daemon.store.store import Store

NOW = datetime(2024, 6, 20, 12, 5, tzinfo=UTC)
HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)
QUILL = {"name": "Quill", "species": "Acer palmatum", "litres": 2, "spot": "top bench"}
UNUSED = "THE GARDEN'S FILE CANNOT BE USED: what it said before still holds"


@pytest.fixture
def phone() -> Iterator[Phone]:
    with ringing() as made:
        yield made


@pytest.fixture
def daemon(tmp_path: Path, make: Any, phone: Phone) -> Iterator[Daemon]:
    weather = make.weather(NOW.replace(minute=0) - timedelta(days=10), 24 * 25, mean_c=12.0)
    with ticking(tmp_path, weather, phone) as made:
        yield made


@pytest.fixture
def watch(daemon: Daemon) -> Iterator[Watch]:
    path = daemon.settings.store_path
    made = Watch(
        Reloading(daemon.config),
        lambda _settings: daemon.services,
        lambda: Store.open(path),
        lambda _store: daemon.supply,
    )
    yield made
    made.close()


def watched(daemon: Daemon) -> set[str]:
    return set(daemon.store.checkpoints.oldest())


def test_a_tree_added_is_watched_from_the_next_pass(daemon: Daemon, watch: Watch) -> None:
    watch.tick(NOW)
    assert watched(daemon) == {"Heath"}
    add(daemon.config, "tree", QUILL, seen(daemon.config))
    watch.tick(NOW + HOUR)
    assert watched(daemon) == {"Heath", "Quill"}


def test_a_file_that_cannot_be_read_is_told_once_and_the_watch_goes_on(
    daemon: Daemon, watch: Watch, phone: Phone, caplog: pytest.LogCaptureFixture
) -> None:
    watch.tick(NOW)
    phone.titles()
    daemon.config.write_text(f"{GARDEN}litre = 3\n", encoding="utf-8")
    for after in (MINUTE, 2 * MINUTE, HOUR):
        watch.tick(NOW + after)
    assert phone.titles() == [UNUSED]
    (told,) = [one for one in daemon.store.messages.records(NOW) if one.message.title == UNUSED]
    assert "did you mean 'litres'?" in told.message.body
    assert [r.message for r in caplog.records if r.levelname == "ERROR" and "taken up" in r.message]
    assert daemon.store.duties.last_done("pass") == NOW + HOUR
    daemon.config.write_text(GARDEN, encoding="utf-8")
    watch.tick(NOW + HOUR + MINUTE)
    assert phone.titles() == []


def services_of(settings: Settings) -> Services:
    return Services(settings.telling.urls)


def write(daemon: Daemon, *urls: str, more: str = "") -> None:
    listed = ", ".join(f'"{url}"' for url in urls)
    telling = f"[telling]\nurls = [{listed}]\n"
    daemon.config.write_text(GARDEN + telling + more, encoding="utf-8")


@pytest.mark.parametrize(
    ("url", "why"),
    [
        ("jsno://s3cret@host", "no service has addresses that begin like this"),
        ("tgram://s3cret-token", "a part of this address is missing or wrong"),
    ],
)
def test_a_mistyped_address_is_told_to_the_one_before_once_and_nothing_is_taken_up(
    daemon: Daemon, phone: Phone, url: str, why: str
) -> None:
    write(daemon, phone.url)
    path = daemon.settings.store_path
    watch = Watch(
        Reloading(daemon.config, services_of),
        services_of,
        lambda: Store.open(path),
        lambda _store: daemon.supply,
    )
    watch.tick(NOW)
    phone.titles()
    quill = '[[tree]]\nname = "Quill"\nspecies = "Acer palmatum"\nlitres = 2\nspot = "top bench"\n'
    write(daemon, url, more=quill)
    for hours in (1, 2, 24, 26):  # a day later still once
        watch.tick(NOW + hours * HOUR)
    assert phone.titles() == [UNUSED]
    (told,) = [one for one in daemon.store.messages.records(NOW) if one.message.title == UNUSED]
    assert "telling.urls entry 1" in told.message.body
    assert why in told.message.body
    assert "s3cret" not in told.message.body
    assert watched(daemon) == {"Heath"}  # nothing else of that file is taken up
    write(daemon, phone.url, more=quill)
    watch.tick(NOW + 27 * HOUR)
    assert watched(daemon) == {"Heath", "Quill"}
    watch.close()
