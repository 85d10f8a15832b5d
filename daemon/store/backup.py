"""Copies of the state database: made while the daemon runs, put back while it is stopped."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from underbench.daemon.store.database import (
    Opened,
    StoreError,
    copy_database,
    open_database,
    plain_errors,
    read_only,
)
from underbench.daemon.store.lock import watching_alone


def back_up(database: Path, to: Path) -> None:
    """Copy ``database`` to the new file ``to`` (0600), as it is at one moment.

    The daemon may run. Nothing is left behind when it fails. Raises StoreError, also when ``to``
    exists already.
    """
    if not _is_file(database):
        raise StoreError(f"{database}: no such database: there is nothing to copy yet")
    with plain_errors(to):
        there = to.exists()
    if there:
        raise StoreError(f"{to}: is there already, and is not written over")
    with _new_file(to) as half:
        copy_database(database, half)
        _check(half)


def put_back(copy: Path, database: Path, now: datetime) -> Path | None:
    """Put ``copy`` in the place of ``database`` and return where the replaced one is kept.

    None if there was none. An older copy is brought up to date. The copy is read and tried first.
    Raises StoreError, and WatchedAlready while a daemon runs.
    """
    if not _is_file(copy):
        raise StoreError(f"{copy}: no such file")
    with watching_alone(database), _new_file(database) as half:
        copy_database(copy, half)
        _check(half)
        open_database(half).close()  # refuses a newer one
        return _moved_away(database, now)


def write_again(opened: Opened) -> bool:
    """Write an open database, whose file is no longer there, to its place again, and close it.

    Where another one with something in it has taken the place, that one stays, and False is
    returned. Where it cannot be written it stays open, as nothing else holds what it holds; then
    raises StoreError.
    """
    path = opened.path
    if _is_file(path) and not _is_blank(path):
        opened.db.close()
        return False
    with _new_file(path) as half:
        with plain_errors(path), closing(sqlite3.connect(half)) as target:
            opened.db.conn.backup(target)
        opened.db.close()
        _without_side_files(path)
    return True


def _is_blank(path: Path) -> bool:
    """Whether a database was only made, as by a page that looked into it, and never used."""
    with plain_errors(path), read_only(path) as db:
        tables = {row[0] for row in db.execute("SELECT name FROM sqlite_master")}
        used = tables & {"journal", "checkpoint", "hour", "message"}
        return not any(db.execute(f"SELECT 1 FROM {table} LIMIT 1").fetchone() for table in used)


def _is_file(path: Path) -> bool:
    with plain_errors(path):  # a name may be too long to ask for
        return path.is_file()


def _moved_away(database: Path, now: datetime) -> Path | None:
    if not database.exists():
        return None
    before = database.with_name(f"{database.name}.before-{now:%Y%m%dT%H%M%S}")
    with _new_file(before) as half:
        copy_database(database, half)  # takes along what its side file holds
    _without_side_files(database)
    return before


def _without_side_files(path: Path) -> None:
    for side in ("-wal", "-shm"):
        path.with_name(path.name + side).unlink(missing_ok=True)


def copy_once(database: Path, to: Path) -> bool:
    """Copy the database into the new file ``to``; return False if that is there by then.

    Raises StoreError.
    """
    with plain_errors(to), TemporaryDirectory(dir=to.parent, prefix="copy-") as folder:
        half = Path(folder) / to.name
        half.touch(mode=0o600)
        copy_database(database, half)
        try:
            os.link(half, to)  # never over a file that another command made meanwhile
        except FileExistsError:
            return False
    return True


@contextmanager
def _new_file(path: Path) -> Iterator[Path]:
    """A file beside ``path`` for the block to fill; it takes that name if all goes well."""
    half = path.with_name(f"{path.name}.half")
    with plain_errors(path):
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        half.unlink(missing_ok=True)
        os.close(os.open(half, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600))
        try:
            yield half
            half.replace(path)
        finally:
            half.unlink(missing_ok=True)
            _without_side_files(half)


def _check(path: Path) -> None:
    """Raise StoreError for a damaged file or one that is no state database."""
    with plain_errors(path), closing(sqlite3.connect(path)) as db:
        found = [row[0] for row in db.execute("PRAGMA integrity_check")]
        tables = {row[0] for row in db.execute("SELECT name FROM sqlite_master")}
    if found != ["ok"]:
        raise StoreError(f"{path}: it is damaged: {found[0]}")
    if "journal" not in tables:
        raise StoreError(f"{path}: it is not a state database of Underbench")
