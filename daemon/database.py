"""The state database's file: opening it, its tables, and its failures in plain words.

One migration a change; a released one is never edited. Moments are UTC seconds.
"""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from sqlite_utils import Database, Migrations

from underbench.daemon.faults import Fault

_PRIMARY_CODE = 0xFF  # SQLite keeps the kind of error in the low byte, detail above it
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

MIGRATIONS = Migrations("underbench")


class StoreError(Fault):
    """The state database cannot do what was asked; the text is one line for the keeper."""


class Opened:
    """An open state database. ``db`` is the connection underneath, for backups and tests."""

    def __init__(self, path: Path, db: Database) -> None:
        self.path = path
        self.db = db

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """All of the block or, on any exception, nothing. Inside another one it joins that."""
        if self.db.conn.in_transaction:
            with self.db.atomic():
                yield
            return
        with plain_errors(self.path):
            # IMMEDIATE: a plain BEGIN that reads and then writes fails at once, without waiting,
            # when another program wrote in between.
            self.db.execute("BEGIN IMMEDIATE")
        try:
            yield
            with plain_errors(self.path):
                self.db.commit()
        except BaseException:
            self.db.rollback()
            raise

    def _rows(self, sql: str, values: Sequence[Any] | dict[str, Any] = ()) -> list[dict[str, Any]]:
        with plain_errors(self.path):
            return list(self.db.query(sql, values))

    def _write(self, sql: str, rows: Sequence[Sequence[Any] | dict[str, Any]]) -> None:
        with plain_errors(self.path), self.db.atomic():
            self.db.conn.executemany(sql, rows)


def seconds(moment: datetime) -> int:
    """Return a moment as it is kept: whole UTC seconds. Raises ValueError without a timezone."""
    if moment.tzinfo is None:
        raise ValueError(f"a moment without a timezone: {moment}")
    return int(moment.timestamp() // 1)


def moment(seconds: int) -> datetime:
    """Return a kept moment, in UTC."""
    return datetime.fromtimestamp(seconds, tz=UTC)


def open_database(path: Path) -> Database:
    """Open the database at ``path``, made (file 0600, its folder 0700) where there is none.

    Brings an older one up to date. Raises StoreError when it cannot, or finds a newer one.
    """
    with plain_errors(path):
        _make_private(path)
        db = Database(sqlite3.connect(path), execute_plugins=False)
        try:
            _refuse_newer(path, db)
            db.execute("PRAGMA foreign_keys = ON")
            db.enable_wal()
            _migrate(db)
        except BaseException:
            db.close()
            raise
    return db


def copy_database(path: Path, to: Path) -> None:
    """Copy the database at ``path`` to a new file; the original is only read.

    Raises StoreError.
    """
    with plain_errors(path), closing(sqlite3.connect(to)) as target:
        address = f"{path.resolve().as_uri()}?mode=ro"
        with closing(sqlite3.connect(address, uri=True)) as source:
            source.backup(target)


@contextmanager
def plain_errors(path: Path) -> Iterator[None]:
    """Turn what SQLite and the system raise in the block into a StoreError of one line."""
    try:
        yield
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", 0) & _PRIMARY_CODE
        raise StoreError(f"{path}: {_PLAIN_CAUSES.get(code, str(error))}") from error
    except OSError as error:
        raise StoreError(f"{path}: cannot be opened: {error.strerror or error}") from error


def _make_private(path: Path) -> None:
    if path.exists() and not path.is_file():
        raise StoreError(f"{path}: not a file, so nothing can be noted there")
    path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    # SQLite gives its side files the mode of this one.
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
    # Under the write lock, so that of two programs starting together one waits and then finds
    # nothing left to do.
    db.execute("BEGIN IMMEDIATE")
    MIGRATIONS.apply(db)
    db.commit()


@MIGRATIONS(name="0001_initial")
def _initial(db: Database) -> None:
    db.executescript(
        """
        CREATE TABLE journal (
            id INTEGER PRIMARY KEY,
            at INTEGER NOT NULL,
            tree TEXT NOT NULL,
            kind TEXT NOT NULL,
            entry TEXT NOT NULL
        ) STRICT;
        CREATE INDEX journal_at ON journal (at);

        CREATE TABLE hour (
            at INTEGER PRIMARY KEY CHECK (at % 3600 = 0),
            air_c REAL, dew_c REAL, wind_ms REAL, gust_ms REAL, cloud REAL,
            global_wm2 REAL, diffuse_wm2 REAL, rain_mm REAL, pressure_kpa REAL, snow_m REAL
        ) STRICT;

        CREATE TABLE checkpoint (
            tree TEXT NOT NULL,
            day INTEGER NOT NULL,
            at INTEGER NOT NULL,
            stamp TEXT NOT NULL,
            state TEXT NOT NULL,
            PRIMARY KEY (tree, day)
        ) STRICT;

        CREATE TABLE forecast (
            id INTEGER PRIMARY KEY CHECK (id = 1),
            fetched_at INTEGER NOT NULL,
            body BLOB NOT NULL
        ) STRICT;

        CREATE TABLE episode (
            tree TEXT NOT NULL,
            hazard TEXT NOT NULL,
            span_start INTEGER NOT NULL,
            span_end INTEGER NOT NULL,
            action TEXT NOT NULL,
            state TEXT NOT NULL,
            strength TEXT NOT NULL,
            told_strength TEXT,
            chance REAL NOT NULL,
            worst REAL NOT NULL,
            limit_value REAL NOT NULL,
            from_at INTEGER NOT NULL,
            until_at INTEGER NOT NULL,
            do_by INTEGER NOT NULL,
            first_seen INTEGER NOT NULL,
            told_at INTEGER,
            updated INTEGER NOT NULL,
            PRIMARY KEY (tree, hazard, span_start)
        ) STRICT;
        CREATE INDEX episode_span_end ON episode (span_end);

        CREATE TABLE message (
            id INTEGER PRIMARY KEY,
            key TEXT NOT NULL UNIQUE,
            title TEXT NOT NULL,
            body TEXT NOT NULL,
            strength TEXT NOT NULL,
            queued_at INTEGER NOT NULL
        ) STRICT;

        CREATE TABLE delivery (
            message TEXT NOT NULL REFERENCES message (key) ON DELETE CASCADE,
            service TEXT NOT NULL,
            attempts INTEGER NOT NULL,
            next_try INTEGER NOT NULL,
            delivered_at INTEGER,
            PRIMARY KEY (message, service)
        ) STRICT;

        CREATE TABLE place (
            id INTEGER PRIMARY KEY CHECK (id = 1),
            words TEXT NOT NULL
        ) STRICT;

        CREATE TABLE duty (
            name TEXT PRIMARY KEY,
            done_at INTEGER NOT NULL
        ) STRICT;
        """
    )


@MIGRATIONS(name="0002_alerts")
def _alerts(db: Database) -> None:
    """An episode's life after it was told; what a message is, whom it is for, how it fared."""
    db.executescript(
        """
        ALTER TABLE episode ADD COLUMN told_do_by INTEGER;
        ALTER TABLE episode ADD COLUMN told_worst REAL;
        ALTER TABLE episode ADD COLUMN told_limit REAL;
        ALTER TABLE episode ADD COLUMN told_chance REAL;
        ALTER TABLE episode ADD COLUMN remedy TEXT;
        ALTER TABLE episode ADD COLUMN into_spot TEXT;
        ALTER TABLE episode ADD COLUMN back_at INTEGER;
        ALTER TABLE episode ADD COLUMN handled_at INTEGER;
        ALTER TABLE episode ADD COLUMN reminded_at INTEGER;
        ALTER TABLE episode ADD COLUMN calm_since INTEGER;
        ALTER TABLE episode ADD COLUMN back_told_at INTEGER;
        ALTER TABLE episode ADD COLUMN asked_at INTEGER;
        ALTER TABLE message ADD COLUMN kind TEXT NOT NULL DEFAULT 'advice';
        ALTER TABLE message ADD COLUMN recipients TEXT NOT NULL DEFAULT '["keeper"]';
        ALTER TABLE message ADD COLUMN picture TEXT NOT NULL DEFAULT '';
        ALTER TABLE delivery ADD COLUMN tried_at INTEGER;
        ALTER TABLE delivery ADD COLUMN reason TEXT;
        """
    )


@MIGRATIONS(name="0005_ensemble")
def _ensemble(db: Database) -> None:
    """The last forecast ensemble, as it came."""
    db.executescript(
        """
        CREATE TABLE ensemble (
            id INTEGER PRIMARY KEY CHECK (id = 1),
            models TEXT NOT NULL,
            fetched_at INTEGER NOT NULL,
            body BLOB NOT NULL
        ) STRICT;
        """
    )


@MIGRATIONS(name="0004_readings")
def _readings(db: Database) -> None:
    """What the keeper's own thermometers said; how far the file they come in was read."""
    db.executescript(
        """
        CREATE TABLE reading (
            at INTEGER NOT NULL,
            quantity TEXT NOT NULL,
            spot TEXT NOT NULL,
            tree TEXT NOT NULL,
            source TEXT NOT NULL,
            value REAL NOT NULL,
            lowest REAL,
            PRIMARY KEY (at, quantity, spot, tree, source)
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE reading_file (
            path TEXT PRIMARY KEY,
            offset INTEGER NOT NULL,
            lines INTEGER NOT NULL,
            tail BLOB NOT NULL
        ) STRICT;
        """
    )


@MIGRATIONS(name="0003_sources")
def _sources(db: Database) -> None:
    """Each weather source's last answer with what it said of asking again, and how it stands."""
    db.executescript(
        """
        ALTER TABLE forecast RENAME TO only_forecast;
        CREATE TABLE forecast (
            source TEXT PRIMARY KEY,
            fetched_at INTEGER NOT NULL,
            same_since INTEGER NOT NULL,
            last_modified TEXT NOT NULL,
            expires INTEGER,
            body BLOB NOT NULL
        ) STRICT;
        INSERT INTO forecast
            SELECT 'Open-Meteo', fetched_at, fetched_at, '', NULL, body FROM only_forecast;
        DROP TABLE only_forecast;

        CREATE TABLE source (
            name TEXT PRIMARY KEY,
            ask_at INTEGER,
            why TEXT NOT NULL,
            said TEXT NOT NULL
        ) STRICT;
        """
    )


@MIGRATIONS(name="0006_learning")
def _learning(db: Database) -> None:
    """What was forecast for each night, and the correction learned from what came of it."""
    db.executescript(
        """
        CREATE TABLE night_forecast (
            night_end INTEGER NOT NULL,
            spot TEXT NOT NULL,
            lead_h INTEGER NOT NULL,
            coldest_at INTEGER NOT NULL,
            forecast_c REAL NOT NULL,
            corrected_c REAL NOT NULL,
            features TEXT NOT NULL,
            plain TEXT NOT NULL,
            members TEXT NOT NULL,
            PRIMARY KEY (night_end, spot, lead_h)
        ) STRICT, WITHOUT ROWID;

        CREATE TABLE learned (
            id INTEGER PRIMARY KEY CHECK (id = 1),
            until INTEGER NOT NULL,
            state TEXT NOT NULL
        ) STRICT;
        """
    )


@MIGRATIONS(name="0007_page")
def _page(db: Database) -> None:
    """What the page keeps by name: its password's hash, the key of its sessions, the last pass."""
    db.executescript(
        "CREATE TABLE page (name TEXT PRIMARY KEY, text TEXT NOT NULL, at INTEGER NOT NULL) STRICT;"
    )


@MIGRATIONS(name="0008_undo")
def _undo(db: Database) -> None:
    """What was noted together, and whether that was taken back; who has a link to look."""
    db.executescript(
        """
        CREATE TABLE note (
            id INTEGER PRIMARY KEY,
            noted_at INTEGER NOT NULL,
            undone_at INTEGER,
            answered TEXT NOT NULL
        ) STRICT;
        ALTER TABLE journal ADD COLUMN note INTEGER REFERENCES note (id);
        ALTER TABLE journal ADD COLUMN undone_at INTEGER;

        CREATE TABLE share (
            id INTEGER PRIMARY KEY,
            name TEXT NOT NULL,
            token_hash TEXT NOT NULL UNIQUE,
            made_at INTEGER NOT NULL,
            revoked_at INTEGER
        ) STRICT;
        """
    )


@MIGRATIONS(name="0009_past_days")
def _past_days(db: Database) -> None:
    """Days of years before the record, as an archive has them."""
    db.executescript(
        """
        CREATE TABLE past_day (
            day INTEGER PRIMARY KEY,
            mean_c REAL NOT NULL,
            low_c REAL NOT NULL
        ) STRICT;
        """
    )
