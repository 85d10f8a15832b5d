"""The daemon is killed at any point, or kept from its database. Nothing is lost, and next to
nothing is sent twice."""

from __future__ import annotations

import os
import signal
import sqlite3
import subprocess
import sys
from collections.abc import Iterator
from datetime import timedelta
from functools import partial

import pytest
from commanding import COMMAND, EVENING, HEAD, Garden, fails, stamp
from forked import LONG_S
from garden_toml import EMBER, HEATH
from receiving import Receiver, receiving

from underbench.daemon.store.lock import WatchedAlready, watching_alone
from underbench.daemon.store.store import Store

DAY, MINUTE = timedelta(days=1), timedelta(minutes=1)
DIE = "import os, signal; die = lambda *a, **k: os.kill(os.getpid(), signal.SIGKILL); "
EPISODES = "from underbench.daemon.store.episodes import Episodes; Episodes"
MESSAGES = "from underbench.daemon.store.message_queue import Messages; Messages"
SERVICES = "from underbench.daemon.delivery.push_services import Services; Services"


@pytest.fixture
def phone() -> Iterator[Receiver]:
    with receiving() as server:
        yield server


def told_to(garden: Garden, *urls: str) -> None:
    listed = ", ".join(f'"{url}"' for url in urls)
    garden.write(HEAD + EMBER + HEATH + f"\n[telling]\nurls = [{listed}]\n")


def url(phone: Receiver) -> str:
    return phone.url("/phone").get_secret_value()


def kept_and_delivered(garden: Garden) -> list[str]:
    """The titles in the outbox. Asserts that all are delivered and the database is sound."""
    with Store.open(garden.database) as store:
        assert list(store.db.query("PRAGMA integrity_check")) == [{"integrity_check": "ok"}]
        records = store.messages.records(EVENING - DAY)
    for record in records:
        assert record.tries, record
        assert all(tries.delivered_at for tries in record.tries.values()), record
    return [record.message.title for record in records]


# Killed


@pytest.mark.parametrize(
    ("where", "before", "doubled"),
    [
        pytest.param(f"{EPISODES}.put = die; ", 0, 0, id="before the pass is kept"),
        pytest.param(f"{SERVICES}.send = die; ", 0, 0, id="as sending begins"),
        pytest.param(f"{MESSAGES}.delivered = die; ", 1, 1, id="before the yes is noted"),
    ],
)
def test_killed_on_the_way_it_tells_after_the_restart(
    garden: Garden, phone: Receiver, where: str, before: int, doubled: int
) -> None:
    told_to(garden, url(phone))
    killed = garden.command("once", "--at", stamp(EVENING), program=DIE + where + COMMAND)
    assert killed.returncode == -signal.SIGKILL, killed.stderr
    assert len(phone.got) == before
    for minutes in (2, 90):
        again = garden.do("once", "--at", stamp(EVENING + minutes * MINUTE))
        assert again.exit_code == 0, again.output
    queued = kept_and_delivered(garden)
    assert any(title.startswith("PROTECT 2 trees") for title in queued)
    got = phone.titles("/phone")
    assert sorted(set(got)) == sorted(queued)
    assert len(got) == len(queued) + doubled


def test_killed_while_a_service_hangs_it_tells_at_most_once_more(
    garden: Garden, phone: Receiver
) -> None:
    phone.hanging = {"/phone"}
    told_to(garden, url(phone))
    child = garden.started("once", "--at", stamp(EVENING))
    assert phone.asked.wait(LONG_S)
    child.kill()
    assert child.done().returncode == -signal.SIGKILL
    phone.hanging = set()
    phone.released.set()
    soon = garden.do("once", "--at", stamp(EVENING))  # the try is marked: it is not repeated yet
    assert soon.exit_code == 0, soon.output
    assert len(phone.got) == 1
    garden.do("once", "--at", stamp(EVENING + 2 * MINUTE))
    (title,) = kept_and_delivered(garden)
    assert phone.titles("/phone") == [title, title]


# Kept from the database


def test_a_locked_database_is_one_line_and_told_later(
    garden: Garden, phone: Receiver, monkeypatch: pytest.MonkeyPatch
) -> None:
    told_to(garden, url(phone))
    Store.open(garden.database).close()
    with sqlite3.connect(garden.database) as other, monkeypatch.context() as patched:
        # As after the wait of five seconds for the lock.
        connect = partial(sqlite3.connect, timeout=0)
        patched.setattr("underbench.daemon.store.database.sqlite3.connect", connect)
        other.execute("BEGIN IMMEDIATE")
        fails(garden.do("once", "--at", stamp(EVENING)), "another program is writing to it")
    other.close()
    assert phone.got == []
    garden.do("once", "--at", stamp(EVENING + 2 * MINUTE))
    assert phone.titles("/phone") == kept_and_delivered(garden) != []


def test_a_disk_full_in_a_pass_is_one_line_and_told_later(
    garden: Garden, phone: Receiver, monkeypatch: pytest.MonkeyPatch
) -> None:
    told_to(garden, url(phone))
    with Store.open(garden.database) as store:
        (pages,) = store.db.query("PRAGMA page_count")

    def small(path: object) -> sqlite3.Connection:
        opened = sqlite3.Connection(path)  # type: ignore[arg-type]
        opened.execute(f"PRAGMA max_page_count = {pages['page_count'] + 1}")
        return opened

    with monkeypatch.context() as patched:
        patched.setattr("underbench.daemon.store.database.sqlite3.connect", small)
        fails(garden.do("once", "--at", stamp(EVENING)), "the disk is full")
    assert phone.got == []
    garden.do("once", "--at", stamp(EVENING + 2 * MINUTE))
    assert phone.titles("/phone") == kept_and_delivered(garden) != []


# Two daemons


def test_a_second_daemon_says_so_and_leaves(garden: Garden) -> None:
    told_to(garden, "terminal://")
    with watching_alone(garden.database):
        line = fails(garden.do("run"), "another Underbench is already watching this garden")
        assert f"(database {garden.database})" in line
        assert not garden.database.exists()  # it was not even opened, which may bring it up to date
        assert garden.do("once", "--at", stamp(EVENING)).exit_code == 0  # it may run beside
    with watching_alone(garden.database):
        pass


def test_the_lock_ends_with_its_program_however_that_ends(garden: Garden) -> None:
    program = (
        "import sys; from pathlib import Path\n"
        "from underbench.daemon.store.lock import watching_alone\n"
        "with watching_alone(Path(sys.argv[1])): print('held', flush=True); sys.stdin.read()"
    )
    with subprocess.Popen(
        [sys.executable, "-c", program, str(garden.database)],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path)},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
    ) as child:
        assert child.stdout is not None
        assert child.stdout.readline() == b"held\n"
        with pytest.raises(WatchedAlready), watching_alone(garden.database):
            pass
        child.kill()
    with watching_alone(garden.database):
        lock = garden.database.with_name("underbench.db.lock")
        assert lock.stat().st_mode & 0o777 == 0o600
