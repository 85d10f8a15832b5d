"""Copies of the state database: made while the daemon runs, put back while it is stopped."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import datetime
from pathlib import Path

from underbench.daemon.store.database import StoreError, copy_database, open_database, plain_errors
from underbench.daemon.store.lock import watching_alone


def back_up(database: Path, to: Path) -> None:
    """Copy ``database`` to the new file ``to`` (0600), as it is at one moment.

    The daemon may run. Nothing is left behind when it fails. Raises StoreError, also when ``to``
    exists already.
    """
    if not database.is_file():
        raise StoreError(f"{database}: no such database: there is nothing to copy yet")
    if to.exists():
        raise StoreError(f"{to}: is there already, and is not written over")
    with _new_file(to) as half:
        copy_database(database, half)
        _check(half)


def put_back(copy: Path, database: Path, now: datetime) -> Path | None:
    """Put ``copy`` in the place of ``database`` and return where the replaced one is kept.

    None if there was none. An older copy is brought up to date. The copy is read and tried first.
    Raises StoreError, and WatchedAlready while a daemon runs.
    """
    if not copy.is_file():
        raise StoreError(f"{copy}: no such file")
    with watching_alone(database), _new_file(database) as half:
        copy_database(copy, half)
        _check(half)
        open_database(half).close()  # refuses a newer one
        return _moved_away(database, now)


def _moved_away(database: Path, now: datetime) -> Path | None:
    if not database.exists():
        return None
    before = database.with_name(f"{database.name}.before-{now:%Y%m%dT%H%M%S}")
    with _new_file(before) as half:
        copy_database(database, half)  # takes along what its side file holds
    for side in ("-wal", "-shm"):
        database.with_name(database.name + side).unlink(missing_ok=True)
    return before


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
            for left in (half, *(half.with_name(half.name + side) for side in ("-wal", "-shm"))):
                left.unlink(missing_ok=True)


def _check(path: Path) -> None:
    """Raise StoreError for a damaged file or one that is no state database."""
    with plain_errors(path), closing(sqlite3.connect(path)) as db:
        found = [row[0] for row in db.execute("PRAGMA integrity_check")]
        tables = {row[0] for row in db.execute("SELECT name FROM sqlite_master")}
    if found != ["ok"]:
        raise StoreError(f"{path}: it is damaged: {found[0]}")
    if "journal" not in tables:
        raise StoreError(f"{path}: it is not a state database of Underbench")
