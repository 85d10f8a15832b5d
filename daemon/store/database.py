"""The state database's file: opening it, and its failures in plain words."""

from __future__ import annotations

import logging
import os
import sqlite3
import zlib
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, TypeVar

from sqlite_utils import Database

from underbench.daemon.faults import Fault
from underbench.daemon.store.migrations import MIGRATIONS

_PRIMARY_CODE = 0xFF  # SQLite keeps the kind of error in the low byte and detail above
_PLAIN_CAUSES = {
    sqlite3.SQLITE_FULL: "the disk is full",
    sqlite3.SQLITE_READONLY: "it is read-only, and notes must be written to it",
    sqlite3.SQLITE_CORRUPT: "it is damaged: put back a backup, or move it away to start afresh",
    sqlite3.SQLITE_NOTADB: "it is not a state database, or is damaged: put back a backup",
    sqlite3.SQLITE_BUSY: "another program is writing to it: try again in a moment",
    sqlite3.SQLITE_LOCKED: "another program is writing to it: try again in a moment",
    sqlite3.SQLITE_CANTOPEN: "it cannot be opened",
    sqlite3.SQLITE_IOERR: "the disk fails to read or write it",
}

_DAMAGED = _PLAIN_CAUSES[sqlite3.SQLITE_CORRUPT]
# What reading a damaged row may raise, once SQLite has given it out.
_MALFORMED = (AttributeError, LookupError, TypeError, ValueError)
UNREADABLE = (zlib.error, OSError, OverflowError, *_MALFORMED)

_T = TypeVar("_T")
_log = logging.getLogger("underbench")


class StoreError(Fault):
    """The state database cannot do what was asked; the text is one line for the keeper."""


class Opened:
    """An open state database. ``db`` is the connection underneath, for backups and tests."""

    def __init__(self, path: Path, db: Database) -> None:
        self.path = path
        self.db = db

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """Do all of the block, or nothing on any exception; join a transaction around it."""
        if self.db.conn.in_transaction:
            with self.db.atomic():
                yield
            return
        with plain_errors(self.path):
            # IMMEDIATE, because a plain BEGIN that reads and then writes fails at once, without
            # waiting, if another program wrote in between.
            self.db.execute("BEGIN IMMEDIATE")
        try:
            yield
            with plain_errors(self.path):
                self.db.commit()
        except BaseException:
            self.db.rollback()
            raise

    def _run(self, sql: str, values: list[Any]) -> None:
        with plain_errors(self.path):
            self.db.execute(sql, values)

    def _rows(self, sql: str, values: Sequence[Any] | dict[str, Any] = ()) -> list[dict[str, Any]]:
        with plain_errors(self.path):
            return list(self.db.query(sql, values))

    def _tuples(self, sql: str, values: Sequence[Any]) -> list[tuple[Any, ...]]:
        """Rows without names, for many rows at once."""
        with plain_errors(self.path):
            return list(self.db.execute(sql, values))

    def _readable(
        self, rows: Iterable[dict[str, Any]], read: Callable[[dict[str, Any]], _T], what: str
    ) -> list[_T]:
        """The rows as ``read`` reads them; one that cannot be read is passed over and logged."""
        found = []
        for row in rows:
            try:
                found.append(read(row))
            except UNREADABLE as error:
                _log.warning("%s: %s cannot be read (%s)", self.path, what, type(error).__name__)
        return found

    def _write(self, sql: str, rows: Sequence[Sequence[Any] | dict[str, Any]]) -> None:
        with plain_errors(self.path), self.db.atomic():
            self.db.conn.executemany(sql, rows)


def seconds(moment: datetime) -> int:
    """Return a moment as kept: whole UTC seconds. Raises ValueError without a timezone."""
    if moment.tzinfo is None:
        raise ValueError(f"a moment without a timezone: {moment}")
    return int(moment.timestamp() // 1)


def moment(seconds: int) -> datetime:
    """Return a kept moment, in UTC."""
    return datetime.fromtimestamp(seconds, tz=UTC)


def open_database(path: Path) -> Database:
    """Open the database at ``path``; make it (file 0600, its folder 0700) if there is none.

    Brings an older one up to date. Raises StoreError when it cannot, or finds a newer one.
    """
    with plain_errors(path):
        _make_private(path)
        return _brought_up(path, sqlite3.connect(path))


def copy_in_memory(path: Path) -> Database:
    """Return a copy of the database at ``path`` in memory, brought up to date there; an empty one
    where there is none. Raises StoreError as `open_database` does."""
    with plain_errors(path):
        connection = sqlite3.connect(":memory:")
        if path.exists():
            with read_only(path) as source:
                source.backup(connection)
        return _brought_up(path, connection)


def _brought_up(path: Path, connection: sqlite3.Connection) -> Database:
    """The database of a connection, brought up to date; the connection is closed on any error."""
    # A text that is damaged is then no error of the whole query, but one of its row.
    connection.text_factory = _text
    db = Database(connection, execute_plugins=False)
    try:
        _refuse_newer(path, db)
        db.execute("PRAGMA foreign_keys = ON")
        db.enable_wal()
        _migrate(db)
    except BaseException:
        db.close()
        raise
    return db


def _text(raw: bytes) -> str:
    return raw.decode("utf-8", "replace")


def copy_database(path: Path, to: Path) -> None:
    """Copy the database at ``path`` to a new file; the original is only read.

    Raises StoreError.
    """
    with plain_errors(path), closing(sqlite3.connect(to)) as target, read_only(path) as source:
        source.backup(target)


def read_only(path: Path) -> closing[sqlite3.Connection]:
    """Open a database that is only read, for a block."""
    return closing(sqlite3.connect(f"{path.resolve().as_uri()}?mode=ro", uri=True))


@contextmanager
def plain_errors(path: Path) -> Iterator[None]:
    """Turn errors of SQLite and the system in the block into a StoreError of one line."""
    try:
        yield
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", 0) & _PRIMARY_CODE
        raise StoreError(f"{path}: {_PLAIN_CAUSES.get(code, str(error))}") from error
    except UnicodeError as error:  # of a schema so damaged that SQLite's own words cannot be read
        raise StoreError(f"{path}: {_DAMAGED}") from error
    except OSError as error:
        raise StoreError(f"{path}: cannot be opened: {error.strerror or error}") from error


def _make_private(path: Path) -> None:
    if path.exists() and not path.is_file():
        raise StoreError(f"{path}: not a file, so nothing can be noted there")
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    # SQLite gives its side files the mode of this file.
    os.close(os.open(path, os.O_RDWR | os.O_CREAT, 0o600))


def _refuse_newer(path: Path, db: Database) -> None:
    with Database(memory=True, execute_plugins=False) as empty:
        known = {migration.name for migration in MIGRATIONS.pending(empty)}
    if {migration.name for migration in MIGRATIONS.applied(db)} - known:
        raise StoreError(
            f"{path}: written by a newer Underbench: update this one, or put back a backup"
        )


def _migrate(db: Database) -> None:
    if not MIGRATIONS.pending(db):
        return
    # Under the write lock: if two programs start together, one waits and then finds nothing to do.
    db.execute("BEGIN IMMEDIATE")
    MIGRATIONS.apply(db)
    db.commit()
