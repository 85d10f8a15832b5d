"""A database deleted under the running daemon: the next tick notices, saves it and says so."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from ticking import Daemon, Phone, ringing, ticking

from underbench.daemon.config.reloading import Reloading
from underbench.daemon.running.scheduler import Watch
from underbench.daemon.store import backup
from underbench.daemon.store.duties import LAST_PASS
from underbench.daemon.store.store import Store, StoreError
from underbench.rules.garden.journal import Watering

NOW = datetime(2024, 6, 20, 12, 5, tzinfo=UTC)
HOUR, MINUTE = timedelta(hours=1), timedelta(minutes=1)
NOTED = Watering(tree="Heath", at=NOW - HOUR)


@pytest.fixture
def phone() -> Iterator[Phone]:
    with ringing() as made:
        yield made


@pytest.fixture
def daemon(tmp_path: Path, make: Any, phone: Phone) -> Iterator[Daemon]:
    weather = make.weather(NOW.replace(minute=0) - timedelta(days=10), 24 * 25, mean_c=12.0)
    folder = tmp_path / "state"
    folder.mkdir()
    with ticking(folder, weather, phone) as made:
        made.store.journal.add([NOTED])
        made.store.close()  # only the daemon has it open now
        yield made


@pytest.fixture
def watch(daemon: Daemon) -> Iterator[Watch]:
    def supply(store: Store) -> Any:
        return type(daemon.supply)(daemon.sky, daemon.settings.garden, store.answers)

    path = daemon.settings.store_path
    made = Watch(
        Reloading(daemon.config),
        lambda _settings: daemon.services,
        lambda: Store.open(path),
        supply,
    )
    made.tick(NOW)
    daemon.phone.titles()
    yield made
    made.close()


def kept(path: Path) -> tuple[list[Any], datetime | None]:
    with Store.open(path) as store:
        assert list(store.db.query("PRAGMA integrity_check")) == [{"integrity_check": "ok"}]
        return store.journal.entries(), store.duties.last_done(LAST_PASS)


def with_its_side_files(path: Path) -> None:
    for side in ("", "-wal", "-shm"):
        path.with_name(path.name + side).unlink(missing_ok=True)


def alone(path: Path) -> None:
    path.unlink()


def looked_into_since(path: Path) -> None:
    """Open the database as the page does for each request. That makes one if there is none."""
    with_its_side_files(path)
    Store.open(path).close()


@pytest.mark.parametrize("lost", [alone, with_its_side_files, looked_into_since])
def test_a_deleted_database_is_put_back_and_that_is_said_once(
    daemon: Daemon, watch: Watch, lost: Any
) -> None:
    path = daemon.settings.store_path
    lost(path)
    watch.tick(NOW + MINUTE)
    assert daemon.phone.titles() == ["THE DATABASE WAS DELETED: it is put back"]
    assert kept(path) == ([NOTED], NOW)
    watch.tick(NOW + HOUR)
    assert daemon.phone.titles() == []
    assert kept(path) == ([NOTED], NOW + HOUR)
    assert path.stat().st_mode & 0o777 == 0o600


def test_so_is_its_whole_folder(daemon: Daemon, watch: Watch) -> None:
    path = daemon.settings.store_path
    text = daemon.config.read_text(encoding="utf-8")
    shutil.rmtree(path.parent)
    path.parent.mkdir()
    daemon.config.write_text(text, encoding="utf-8")
    watch.tick(NOW + MINUTE)
    assert "THE DATABASE WAS DELETED: it is put back" in daemon.phone.titles()
    assert kept(path)[0] == [NOTED]


def test_another_database_in_its_place_is_taken_up_and_that_is_said(
    daemon: Daemon, watch: Watch
) -> None:
    path = daemon.settings.store_path
    other = path.with_name("other.db")
    with Store.open(other) as store:
        store.journal.add([NOTED, NOTED.model_copy(update={"at": NOW})])
    with_its_side_files(path)
    other.rename(path)
    watch.tick(NOW + MINUTE)
    assert daemon.phone.titles() == ["THE DATABASE WAS DELETED: another is in its place"]
    assert len(kept(path)[0]) == 2


def test_where_it_cannot_be_put_back_it_is_kept_until_there_is_room(
    daemon: Daemon, watch: Watch, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(_path: Path) -> Any:
        raise StoreError("the disk is full")

    path = daemon.settings.store_path
    with monkeypatch.context() as no_room:
        no_room.setattr(backup, "_new_file", full)
        with_its_side_files(path)
        for minutes in (1, 2, 70):
            watch.tick(NOW + minutes * MINUTE)
            assert not path.exists()
        assert daemon.phone.titles() == ["UNDERBENCH CANNOT WRITE: watch the weather yourself"]
    watch.tick(NOW + 71 * MINUTE)
    assert "THE DATABASE WAS DELETED: it is put back" in daemon.phone.titles()
    assert kept(path)[0] == [NOTED]
