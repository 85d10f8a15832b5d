"""The daemon's memory: one SQLite file. Every failure is a ``StoreError`` of one plain line.

A ``Store`` belongs to the thread that opened it; another thread opens its own. Moments go in with
a timezone, are kept as whole UTC seconds and come back in UTC.
"""

from __future__ import annotations

import json
import zlib
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, fields
from datetime import UTC, datetime, timedelta
from pathlib import Path
from types import TracebackType
from typing import Any, NamedTuple, Self

import numpy as np
from pydantic import TypeAdapter, ValidationError
from sqlite_utils import Database

from underbench.daemon.database import StoreError, open_database, plain_errors
from underbench.rules.findings import Strength
from underbench.rules.journal import Entry
from underbench.rules.weather import HOUR_S, VARIABLES, Weather, from_columns

__all__ = ["Checkpoint", "Due", "EpisodeRow", "Message", "Store", "StoreError"]

DAY_S = 24 * HOUR_S
LONGEST_BODY = 1000  # characters; the tightest of the common push services takes 1,024
STALE_AFTER = timedelta(hours=24)  # a warning older than this misleads more than it helps

_ENTRY: TypeAdapter[Entry] = TypeAdapter(Entry)


@dataclass(frozen=True, slots=True)
class Message:
    """One message for the keeper's phone; ``key`` makes it unique for ever.

    Raises ValueError for an empty body or one longer than 1,000 characters, which push services
    would cut.
    """

    key: str
    title: str
    body: str
    strength: Strength
    queued_at: datetime

    def __post_init__(self) -> None:
        if not 0 < len(self.body) <= LONGEST_BODY:
            raise ValueError(f"a message has 1 to {LONGEST_BODY} characters, not {len(self.body)}")


class Due(NamedTuple):
    """A message one service has yet to take, and how often it was tried there."""

    message: Message
    service: str
    attempts: int


class Checkpoint(NamedTuple):
    """A tree's carried state at a moment, and what it was computed with."""

    at: datetime
    stamp: str
    state: str


@dataclass(frozen=True, slots=True)
class EpisodeRow:
    """One hazard of one tree in one span, through its life. ``told_*`` are None until told."""

    tree: str
    hazard: str
    span_start: datetime
    span_end: datetime
    action: str
    state: str
    strength: str
    told_strength: str | None
    chance: float
    worst: float
    limit_value: float
    from_at: datetime
    until_at: datetime
    do_by: datetime
    first_seen: datetime
    told_at: datetime | None
    updated: datetime


_EPISODE_COLUMNS = tuple(f.name for f in fields(EpisodeRow))
# Annotations are plain text here, see the __future__ import.
_EPISODE_MOMENTS = {f.name for f in fields(EpisodeRow) if str(f.type).startswith("datetime")}


class Store:
    """The state database. Open it with ``Store.open``; use it as a context manager.

    ``db`` is the connection underneath, for backups and tests. All methods raise StoreError.
    """

    def __init__(self, path: Path, db: Database) -> None:
        self.path = path
        self.db = db

    @classmethod
    def open(cls, path: Path) -> Store:
        """Open the database at ``path``, made (file 0600, its folder 0700) where there is none.

        Brings an older database up to date. Raises StoreError also for a newer one.
        """
        return cls(path, open_database(path))

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the database; what was not committed is gone."""
        self.db.close()

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

    # The journal

    def add(self, entries: Iterable[Entry]) -> None:
        """Add entries to the journal: all of them or none.

        Raises ValueError for one that would not read back: it would close the whole journal.
        """
        texts = [(e, e.model_dump_json()) for e in entries]
        for _, text in texts:
            _ENTRY.validate_json(text)
        self._write(
            "INSERT INTO journal (at, tree, kind, entry) VALUES (:at, :tree, :kind, :entry)",
            [
                {"at": _seconds(e.at), "tree": e.tree, "kind": e.kind, "entry": text}
                for e, text in texts
            ],
        )

    def entries(self, until: datetime | None = None) -> list[Entry]:
        """Return the journal up to and including ``until`` (None: all of it), oldest first.

        Entries of one moment come in the order in which they were added.
        """
        rows = self._rows(
            "SELECT entry FROM journal WHERE :until IS NULL OR at <= :until ORDER BY at, id",
            {"until": until and _seconds(until)},
        )
        try:
            return [_ENTRY.validate_json(row["entry"]) for row in rows]
        except ValidationError as error:
            raise StoreError(
                f"{self.path}: a journal entry cannot be read: {error.errors()[0]['msg']}"
            ) from error

    # Weather as used

    def keep_hours(self, weather: Weather) -> None:
        """Keep the hours of a one-member weather. A value once kept is never changed: only gaps
        are filled. Hours of which nothing is known are passed over.

        Raises ValueError for more than one member.
        """
        if weather.members != 1:
            raise ValueError(f"one past is kept, not {weather.members}")
        values = np.column_stack([getattr(weather, name)[0] for name in VARIABLES])
        rows = [
            (int(at), *(None if np.isnan(value) else float(value) for value in row))
            for at, row in zip(weather.times, values, strict=True)
            if not np.isnan(row).all()
        ]
        heal = ", ".join(f"{name} = coalesce(hour.{name}, excluded.{name})" for name in VARIABLES)
        self._write(
            f"INSERT INTO hour (at, {', '.join(VARIABLES)})"
            f" VALUES (?{', ?' * len(VARIABLES)}) ON CONFLICT (at) DO UPDATE SET {heal}",
            rows,
        )

    def hours(self, start: datetime, end: datetime) -> Weather:
        """Return the kept hours with start < time ≤ end, from the first known to the last known.

        Hours missing between those are NaN; no hours at all give a weather of none.
        """
        rows = self._rows(
            "SELECT * FROM hour WHERE at > ? AND at <= ? ORDER BY at",
            (_seconds(start), _seconds(end)),
        )
        known = np.array([row["at"] for row in rows], dtype=np.int64)
        times = np.arange(known[0], known[-1] + 1, HOUR_S) if rows else known
        columns = {name: np.full(len(times), np.nan) for name in VARIABLES}
        for name, column in columns.items():
            column[np.searchsorted(times, known)] = np.array([r[name] for r in rows], dtype=float)
        return from_columns(times, columns)

    # Checkpoints

    def keep_checkpoints(
        self, at: datetime, blobs: Mapping[str, str], stamp: Mapping[str, str]
    ) -> None:
        """Keep each tree's state (tree → text) and what it was computed with (tree → text).

        One a tree and UTC day: a later one of that day takes the place of the earlier.
        """
        seconds = _seconds(at)
        self._write(
            "INSERT OR REPLACE INTO checkpoint (tree, day, at, stamp, state)"
            " VALUES (?, ?, ?, ?, ?)",
            [(tree, seconds // DAY_S, seconds, stamp[tree], blob) for tree, blob in blobs.items()],
        )

    def checkpoints(self, before: datetime) -> dict[str, Checkpoint]:
        """Return each tree's latest checkpoint at or before ``before``."""
        # With max(), SQLite takes the other columns from the row that holds it
        # (sqlite.org/lang_select.html, "bare columns in an aggregate query").
        rows = self._rows(
            "SELECT tree, max(at) AS at, stamp, state FROM checkpoint WHERE at <= ? GROUP BY tree",
            (_seconds(before),),
        )
        return {r["tree"]: Checkpoint(_moment(r["at"]), r["stamp"], r["state"]) for r in rows}

    def oldest_checkpoints(self) -> dict[str, Checkpoint]:
        """Return each tree's oldest checkpoint that is still kept."""
        rows = self._rows("SELECT tree, min(at) AS at, stamp, state FROM checkpoint GROUP BY tree")
        return {r["tree"]: Checkpoint(_moment(r["at"]), r["stamp"], r["state"]) for r in rows}

    def forget_checkpoints(self, tree: str, after: datetime) -> None:
        """Forget a tree's checkpoints later than ``after``: its past turned out different."""
        self._write("DELETE FROM checkpoint WHERE tree = ? AND at > ?", [(tree, _seconds(after))])

    def prune_checkpoints(self, older_than: datetime) -> None:
        """Forget checkpoints from before ``older_than``, but never a tree's latest one."""
        self._write(
            "DELETE FROM checkpoint WHERE at < ? AND at <"
            " (SELECT max(at) FROM checkpoint AS other WHERE other.tree = checkpoint.tree)",
            [(_seconds(older_than),)],
        )

    # The last forecast

    def keep_forecast(self, body: bytes, fetched_at: datetime) -> None:
        """Keep a provider's answer in place of the one before."""
        self._write(
            "INSERT OR REPLACE INTO forecast (id, fetched_at, body) VALUES (1, ?, ?)",
            [(_seconds(fetched_at), zlib.compress(body))],
        )

    def last_forecast(self) -> tuple[bytes, datetime] | None:
        """Return the kept answer and when it was fetched; None when there is none."""
        for row in self._rows("SELECT body, fetched_at FROM forecast"):
            return zlib.decompress(row["body"]), _moment(row["fetched_at"])
        return None

    # Episodes

    def episodes(self, since: datetime) -> list[EpisodeRow]:
        """Return the episodes whose span ends at or after ``since``, by span, tree, hazard."""
        rows = self._rows(
            "SELECT * FROM episode WHERE span_end >= ? ORDER BY span_start, tree, hazard",
            (_seconds(since),),
        )
        return [EpisodeRow(**_with_moments(row)) for row in rows]

    def put_episodes(self, rows: Iterable[EpisodeRow]) -> None:
        """Keep episodes, in place of those of the same tree, hazard and span start."""
        self._write(
            f"INSERT OR REPLACE INTO episode ({', '.join(_EPISODE_COLUMNS)})"
            f" VALUES (:{', :'.join(_EPISODE_COLUMNS)})",
            [_with_seconds({n: getattr(row, n) for n in _EPISODE_COLUMNS}) for row in rows],
        )

    def untell(self, tree: str, after: datetime) -> None:
        """Take a tree's hazards that end later for untold: it stands otherwise than was thought."""
        self._write(
            "UPDATE episode SET told_at = NULL, told_strength = NULL"
            " WHERE tree = ? AND span_end > ?",
            [(tree, _seconds(after))],
        )

    # The outbox

    def queue(self, message: Message) -> bool:
        """Put a message into the outbox; False when its key was there before."""
        added = self._rows(
            "INSERT INTO message (key, title, body, strength, queued_at)"
            " VALUES (:key, :title, :body, :strength, :queued_at)"
            " ON CONFLICT (key) DO NOTHING RETURNING key",
            _with_seconds(asdict(message)),
        )
        return bool(added)

    def undelivered(self, now: datetime, services: Iterable[str]) -> list[Due]:
        """Return what each of ``services`` has yet to take and may be tried now, oldest first.

        Messages older than a day are left alone.
        """
        rows = self._rows(
            """
            SELECT message.*, service.value AS service, coalesce(attempts, 0) AS attempts
            FROM message CROSS JOIN json_each(:services) AS service
            LEFT JOIN delivery
                ON delivery.message = message.key AND delivery.service = service.value
            WHERE queued_at > :oldest AND delivered_at IS NULL AND coalesce(next_try, 0) <= :now
            ORDER BY message.id
            """,
            {
                "services": json.dumps(list(services)),
                "oldest": _seconds(now - STALE_AFTER),
                "now": _seconds(now),
            },
        )
        return [Due(_message(row), row["service"], row["attempts"]) for row in rows]

    def trying(self, due: Due, next_try: datetime) -> None:
        """Count a try before it is made. Until ``next_try`` nobody else takes the message up, and
        a crash in the middle of sending cannot send it again at once."""
        self._write(
            "INSERT INTO delivery (message, service, attempts, next_try) VALUES (?, ?, 1, ?)"
            " ON CONFLICT (message, service)"
            " DO UPDATE SET attempts = attempts + 1, next_try = excluded.next_try",
            [(due.message.key, due.service, _seconds(next_try))],
        )

    def delivered(self, due: Due, at: datetime) -> None:
        """Note that the service took the message: it is not tried there again."""
        self._write(
            "UPDATE delivery SET delivered_at = ? WHERE message = ? AND service = ?",
            [(_seconds(at), due.message.key, due.service)],
        )

    # The place all this is about

    def settle(self, place: str) -> None:
        """Take ``place`` for the one the weather is of. When it was another before, the hours, the
        checkpoints and the forecast kept for that one are forgotten; the journal stays."""
        kept = [row["words"] for row in self._rows("SELECT words FROM place")]
        if kept == [place]:
            return
        with self.transaction(), plain_errors(self.path):
            if kept:
                for table in ("hour", "checkpoint", "forecast"):
                    self.db.execute(f"DELETE FROM {table}")
            self.db.execute("INSERT OR REPLACE INTO place (id, words) VALUES (1, ?)", [place])

    # Duties

    def last_done(self, name: str) -> datetime | None:
        """Return when a duty was last done; None for never."""
        for row in self._rows("SELECT done_at FROM duty WHERE name = ?", (name,)):
            return _moment(row["done_at"])
        return None

    def done(self, name: str, at: datetime) -> None:
        """Note that a duty was done."""
        self._write(
            "INSERT OR REPLACE INTO duty (name, done_at) VALUES (?, ?)", [(name, _seconds(at))]
        )

    def _rows(self, sql: str, values: Sequence[Any] | dict[str, Any] = ()) -> list[dict[str, Any]]:
        with plain_errors(self.path):
            return list(self.db.query(sql, values))

    def _write(self, sql: str, rows: Sequence[Sequence[Any] | dict[str, Any]]) -> None:
        with plain_errors(self.path), self.db.atomic():
            self.db.conn.executemany(sql, rows)


def _seconds(moment: datetime) -> int:
    if moment.tzinfo is None:
        raise ValueError(f"a moment without a timezone: {moment}")
    return int(moment.timestamp() // 1)


def _moment(seconds: int) -> datetime:
    return datetime.fromtimestamp(seconds, tz=UTC)


def _with_seconds(row: dict[str, Any]) -> dict[str, Any]:
    return {k: _seconds(v) if isinstance(v, datetime) else v for k, v in row.items()}


def _with_moments(row: dict[str, Any]) -> dict[str, Any]:
    return {k: _moment(v) if v is not None and k in _EPISODE_MOMENTS else v for k, v in row.items()}


def _message(row: dict[str, Any]) -> Message:
    return Message(
        row["key"], row["title"], row["body"], Strength(row["strength"]), _moment(row["queued_at"])
    )
