"""The database's file: it is private, holds nothing half, and every failure is one plain line."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import tempfile
import zlib
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from threading import Barrier, Thread

import pytest
from commanding import not_root

from underbench.daemon.store.kept_answers import Kept
from underbench.daemon.store.store import Message, Store, StoreError
from underbench.daemon.weather.openmeteo import NAME
from underbench.rules.garden.journal import Watering
from underbench.rules.hazards.findings import Strength

NOON = datetime(2031, 3, 9, 12, tzinfo=UTC)
DAY = timedelta(days=1)
WATERED = Watering(tree="Old Marrow", at=NOON)
MESSAGE = Message("frost 1", "Protect 2 trees", "Frost on open leaves.", Strength.ACT, NOON)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "state" / "underbench.db"


@pytest.fixture
def store(path: Path) -> Iterator[Store]:
    with Store.open(path) as opened:
        yield opened


# Opening and refusing


def test_only_its_owner_can_read_it(store: Store, path: Path) -> None:
    store.journal.add([WATERED])
    modes = {entry.name: entry.stat().st_mode & 0o777 for entry in path.parent.iterdir()}
    assert path.parent.stat().st_mode & 0o777 == 0o700
    assert len(modes) > 1  # the write-ahead log beside it
    assert set(modes.values()) == {0o600}


def test_several_may_open_a_new_one_together(path: Path) -> None:
    together, failures = Barrier(6), []

    def open_it() -> None:
        together.wait()
        try:
            Store.open(path).close()
        except StoreError as error:
            failures.append(str(error))

    threads = [Thread(target=open_it) for _ in range(6)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert failures == []


def test_a_newer_database_is_refused_and_left_alone(path: Path) -> None:
    with Store.open(path) as store:
        store.db.table("_sqlite_migrations").insert(
            {"migration_set": "underbench", "name": "9999_later", "applied_at": "2041-01-01"}
        )
    before = path.read_bytes()
    refused(lambda: Store.open(path), "newer Underbench")
    assert path.read_bytes() == before


def test_what_is_no_database_is_refused(tmp_path: Path) -> None:
    letter = tmp_path / "letter.txt"
    letter.write_text("Dear trees, it will be cold tonight. " * 40)
    refused(lambda: Store.open(letter), "not a state database")
    refused(lambda: Store.open(tmp_path), "not a file")
    refused(lambda: Store.open(letter / "underbench.db"), "cannot be opened")
    assert letter.read_text().startswith("Dear trees")


def test_a_damaged_database_is_told(path: Path) -> None:
    with Store.open(path) as store:
        store.journal.add([WATERED] * 500)
    with path.open("r+b") as file:  # all pages but the first, which holds the schema
        file.seek(4096)
        file.write(b"\xff" * (path.stat().st_size - 4096))

    def read() -> None:
        with Store.open(path) as store:
            store.journal.entries()

    refused(read, "damaged")


def test_a_read_only_database_is_told() -> None:
    # Not tmp_path: when root runs the tests, another user cannot reach it.
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "underbench.db"
        Store.open(path).close()
        path.chmod(0o444)
        Path(folder).chmod(0o555)
        with not_root():
            refused(lambda: Store.open(path), "Permission denied")
        Path(folder).chmod(0o755)


def test_a_disk_turned_read_only_is_told(store: Store) -> None:
    store.db.execute("PRAGMA query_only = ON")  # SQLite answers as for a read-only disk
    refused(lambda: store.journal.add([WATERED]), "read-only")


def test_a_full_disk_is_told_and_leaves_nothing_half(store: Store) -> None:
    store.journal.add([WATERED])
    pages = next(iter(store.db.query("PRAGMA page_count")))["page_count"]
    store.db.execute(f"PRAGMA max_page_count = {pages + 2}")

    def fill() -> None:
        with store.transaction():
            store.messages.queue(MESSAGE)
            store.answers.keep_forecast(NAME, Kept(os.urandom(1_000_000), NOON, NOON))

    refused(fill, "disk is full")
    assert store.messages.records(NOON - DAY) == []
    assert store.journal.entries() == [WATERED]
    assert store.messages.queue(MESSAGE)


def test_a_locked_database_is_told(store: Store, path: Path) -> None:
    store.db.execute("PRAGMA busy_timeout = 0")
    with Store.open(path) as other, other.transaction():
        other.journal.add([WATERED])
        refused(lambda: store.journal.add([WATERED]), "another program")
        assert store.journal.entries() == []
    assert store.journal.entries() == [WATERED]


def refused(call: Callable[[], object], why: str) -> None:
    with pytest.raises(StoreError, match=why) as caught:
        call()
    assert "\n" not in str(caught.value)


# Transactions


def test_an_exception_undoes_the_whole_transaction(store: Store) -> None:
    def fail() -> None:
        with store.transaction():
            store.journal.add([WATERED])
            with store.transaction():
                store.messages.queue(MESSAGE)
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fail()
    assert store.journal.entries() == []
    assert store.messages.records(NOON - DAY) == []


def test_a_kill_inside_a_transaction_leaves_nothing_half(path: Path) -> None:
    program = """
import sys
from pathlib import Path
from datetime import UTC, datetime
from underbench.daemon.store.store import Message, Store
from underbench.daemon.weather.openmeteo import NAME
from underbench.daemon.store.kept_answers import Kept
from underbench.rules.hazards.findings import Strength
from underbench.rules.garden.journal import Watering
now = datetime(2031, 3, 9, 12, tzinfo=UTC)
store = Store.open(Path(sys.argv[1]))
store.journal.add([Watering(tree="before", at=now)])
with store.transaction():
    store.journal.add([Watering(tree="within", at=now)] * 5000)
    store.answers.keep_forecast(NAME, Kept(bytes(range(256)) * 20000, now, now))
    store.messages.queue(Message("half", "t", "b", Strength.ACT, now))
    print("within", flush=True)
    sys.stdin.read()
"""
    env = {**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)}
    with subprocess.Popen(
        [sys.executable, "-c", program, str(path)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        env=env,
    ) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == b"within\n"
        child.send_signal(signal.SIGKILL)
    with Store.open(path) as store:
        assert [entry.tree for entry in store.journal.entries()] == ["before"]
        assert store.answers.last_forecast(NAME) is None
        assert store.messages.records(NOON - DAY) == []
        assert list(store.db.query("PRAGMA integrity_check")) == [{"integrity_check": "ok"}]


def test_the_forecast_of_the_version_before_is_kept_as_the_first_source_s(path: Path) -> None:
    with Store.open(path) as store:
        store.db.executescript(
            """
            DROP TABLE forecast;
            DROP TABLE source;
            CREATE TABLE forecast (
                id INTEGER PRIMARY KEY CHECK (id = 1),
                fetched_at INTEGER NOT NULL,
                body BLOB NOT NULL
            ) STRICT;
            DELETE FROM _sqlite_migrations WHERE name = '0003_sources';
            """
        )
        row = (int(NOON.timestamp()), zlib.compress(b"sky"))
        store.db.execute("INSERT INTO forecast VALUES (1, ?, ?)", row)
        store.db.conn.commit()
    with Store.open(path) as store:
        assert store.answers.last_forecast(NAME) == Kept(b"sky", NOON, NOON)
