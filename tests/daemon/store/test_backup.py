"""Copies of the database are made while it is written to, and put back with nothing lost."""

from __future__ import annotations

import shutil
from datetime import timedelta
from pathlib import Path

import pytest
from commanding import EVENING, NOTED, Garden, fails
from sqlite_utils import Database

from underbench.daemon.store.backup import back_up, put_back
from underbench.daemon.store.duties import LAST_PASS
from underbench.daemon.store.lock import watching_alone
from underbench.daemon.store.store import Store


@pytest.fixture(autouse=True)
def noted(garden: Garden) -> None:
    garden.note()


def kept(path: Path) -> list[object]:
    with Store.open(path) as store:
        return list(store.journal.entries())


def test_a_copy_holds_what_was_noted_though_somebody_is_writing(
    garden: Garden, tmp_path: Path
) -> None:
    copy = tmp_path / "copies" / "one.db"
    with Store.open(garden.database) as other, other.transaction():
        other.journal.add([NOTED.model_copy(update={"tree": "Ember"})])
        done = garden.do("backup", str(copy))
    assert done.exit_code == 0, done.output
    assert str(copy) in done.stdout
    assert kept(copy) == [NOTED]
    assert len(kept(garden.database)) == 2
    assert copy.stat().st_mode & 0o777 == 0o600
    assert [path.name for path in copy.parent.iterdir()] == ["one.db"]


def test_a_copy_is_not_written_over(garden: Garden, tmp_path: Path) -> None:
    copy = tmp_path / "one.db"
    copy.write_text("precious", encoding="utf-8")
    done = garden.do("backup", str(copy))
    assert (done.exit_code, copy.read_text(encoding="utf-8")) == (2, "precious")
    assert done.stderr.strip() == f"{copy}: is there already, and is not written over"


def test_what_is_put_back_is_there_and_what_was_there_is_kept(
    garden: Garden, tmp_path: Path
) -> None:
    copy = tmp_path / "one.db"
    garden.do("backup", str(copy))
    with Store.open(garden.database) as store:
        store.journal.add([NOTED.model_copy(update={"tree": "Ember"})])
    done = garden.do("restore", str(copy))
    assert done.exit_code == 0, done.output
    assert kept(garden.database) == [NOTED]
    (before,) = tmp_path.glob("underbench.db.before-*")
    assert before.name in done.stdout
    assert len(kept(before)) == 2
    assert not list(tmp_path.glob("*.half*"))


def test_what_a_crash_left_beside_the_database_does_not_come_upon_the_copy(tmp_path: Path) -> None:
    """SQLite would read the old database's write-ahead log into the restored one."""
    live, crashed, copy = (tmp_path / name / "state.db" for name in ("live", "crashed", "copy"))
    crashed.parent.mkdir()
    with Store.open(live) as store:
        store.journal.add([NOTED])
        back_up(live, copy)
        store.journal.add([NOTED.model_copy(update={"tree": "Ember"})])
        for side in ("", "-wal", "-shm"):
            shutil.copy(f"{live}{side}", f"{crashed}{side}")
    before = put_back(copy, crashed, EVENING)
    assert kept(crashed) == [NOTED]
    assert before is not None
    assert len(kept(before)) == 2


def test_nothing_is_put_back_under_a_running_daemon(garden: Garden, tmp_path: Path) -> None:
    copy = tmp_path / "one.db"
    garden.do("backup", str(copy))
    with watching_alone(garden.database):
        done = garden.do("restore", str(copy))
    assert done.exit_code == 2
    assert "already watching" in done.stderr
    assert garden.intact()


@pytest.mark.parametrize("bad", [b"", b"not a database at all, but words" * 200])
def test_what_is_no_copy_is_refused_and_nothing_changes(
    garden: Garden, tmp_path: Path, bad: bytes
) -> None:
    copy = tmp_path / "one.db"
    copy.write_bytes(bad)
    done = garden.do("restore", str(copy))
    assert done.exit_code == 2
    assert len(done.stderr.splitlines()) == 1
    assert garden.intact()


@pytest.mark.parametrize("command", ["backup", "restore"])
def test_a_name_that_is_too_long_is_one_line(garden: Garden, command: str) -> None:
    fails(garden.do(command, "x" * 300), "cannot be opened: File name too long")
    assert kept(garden.database) == [NOTED]


def test_a_damaged_copy_is_refused(garden: Garden, tmp_path: Path) -> None:
    copy = tmp_path / "one.db"
    garden.do("backup", str(copy))
    whole = bytearray(copy.read_bytes())
    whole[8192:12288] = b"\xff" * 4096
    copy.write_bytes(whole)
    done = garden.do("restore", str(copy))
    assert done.exit_code == 2
    assert "damaged" in done.stderr
    assert garden.intact()


def test_a_copy_from_a_newer_underbench_is_refused(garden: Garden, tmp_path: Path) -> None:
    copy = tmp_path / "one.db"
    garden.do("backup", str(copy))
    db = Database(copy)
    db["_sqlite_migrations"].insert(  # type: ignore[union-attr]
        {"migration_set": "underbench", "name": "9999_later", "applied_at": "2099-01-01"}
    )
    db.close()
    done = garden.do("restore", str(copy))
    assert done.exit_code == 2
    assert "newer Underbench" in done.stderr
    assert garden.intact()


def test_alive_goes_by_the_last_good_pass(garden: Garden, monkeypatch: pytest.MonkeyPatch) -> None:
    class Clock:
        @staticmethod
        def now(_zone: object) -> object:
            return EVENING

    monkeypatch.setattr("underbench.daemon.commands.machine.datetime", Clock)
    assert garden.do("alive").exit_code == 1
    for hours, code, words in [(2.9, 0, "2 h ago"), (3.1, 1, "3 h ago"), (-1, 1, "set back")]:
        with Store.open(garden.database) as store:
            store.duties.done(LAST_PASS, EVENING - timedelta(hours=hours))
        done = garden.do("alive")
        assert (done.exit_code, words in done.stdout) == (code, True), done.output
