"""Databases of earlier versions are brought up to date with nothing lost.

Each file is the dump of a database from two cold days in an invented garden. It is named after the
last migration of the version that wrote it. Older hours were left out for size.
"""

from __future__ import annotations

import os
import signal
import sqlite3
from contextlib import closing
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from commanding import FROST_DAY, Garden, stamp
from garden_toml import BENCH, EMBER, HANDS_ON, HEATH, PLACE

from underbench.daemon.store.migrations import MIGRATIONS
from underbench.daemon.store.store import Store
from underbench.rules.garden.journal import Outcome, Watering, Work

DUMPS = sorted((Path(__file__).parents[2] / "old_databases").glob("*.sql"))
NEXT_DAY = FROST_DAY + timedelta(hours=39)


@pytest.fixture(params=DUMPS, ids=lambda path: path.stem)
def dump(request: pytest.FixtureRequest) -> Path:
    path = request.param
    assert isinstance(path, Path)
    return path


@pytest.fixture
def old(dump: Path, garden: Garden) -> Garden:
    """The garden of that time, with its database."""
    garden.write(PLACE + HANDS_ON + BENCH + EMBER + HEATH)
    with closing(sqlite3.connect(garden.database)) as db:
        db.executescript(dump.read_text(encoding="utf-8"))
    return garden


def counted(path: Path) -> dict[str, int]:
    tables = ("journal", "hour", "checkpoint", "episode", "message", "delivery")
    with closing(sqlite3.connect(path)) as db:
        return {name: db.execute(f"SELECT count(*) FROM {name}").fetchone()[0] for name in tables}


def test_nothing_is_lost_and_all_reads_back(old: Garden, dump: Path) -> None:
    before = counted(old.database)
    with Store.open(old.database) as store:
        assert not MIGRATIONS.pending(store.db)
        entries = store.journal.entries()
        assert store.episodes.since(FROST_DAY - timedelta(days=9))
        (told,) = store.messages.records(FROST_DAY - timedelta(days=9))
        assert told.message.title.startswith("PROTECT 1 tree")
        assert told.tries
    assert {Work, Watering} <= {type(entry) for entry in entries}
    assert (Outcome in {type(entry) for entry in entries}) == (dump.stem >= "0002")
    assert counted(old.database) == before
    assert min(before.values()) > 0


@pytest.mark.parametrize("dump", [DUMPS[-1]])  # what earlier ones did not know
def test_what_was_taken_back_stays_so_and_readings_are_there(old: Garden) -> None:
    with Store.open(old.database) as store:
        watered = {entry.tree for entry in store.journal.entries() if isinstance(entry, Watering)}
        assert watered == {"Heath"}  # that of Ember was taken back
        (reading,) = store.readings.between(None, FROST_DAY - timedelta(days=9), NEXT_DAY)
        assert reading.value == -2.5


def test_the_garden_is_watched_on(old: Garden, make: Any) -> None:
    old.service.now = NEXT_DAY
    old.service.weather = make.weather(FROST_DAY - timedelta(days=5), 24 * 14, mean_c=0.0)
    done = old.do("once", "--json", "--at", stamp(NEXT_DAY))
    assert done.exit_code == 0, done.output
    shown = old.do("told", "--at", stamp(NEXT_DAY))
    assert "PROTECT 1 tree" in shown.stdout


@pytest.mark.parametrize("steps", [5, 40, 120, 300, 800])
def test_killed_while_it_is_brought_up_to_date_nothing_is_lost(old: Garden, steps: int) -> None:
    before = counted(old.database)
    killed = os.fork()
    if killed == 0:
        connect = sqlite3.connect

        def dying(*args: Any, **named: Any) -> sqlite3.Connection:
            made: sqlite3.Connection = connect(*args, **named)
            made.set_progress_handler(lambda: os.kill(os.getpid(), signal.SIGKILL), steps)
            return made

        sqlite3.connect = dying  # type: ignore[assignment]
        Store.open(old.database)
        os._exit(0)  # it was through before
    assert os.WIFSIGNALED(os.waitpid(killed, 0)[1])
    with Store.open(old.database) as store:
        assert not MIGRATIONS.pending(store.db)
        assert list(store.db.query("PRAGMA integrity_check")) == [{"integrity_check": "ok"}]
    assert counted(old.database) == before
