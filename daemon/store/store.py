"""The daemon's memory: one SQLite file. Every failure is a ``StoreError`` of one plain line.

A ``Store`` belongs to the thread that opened it; another thread opens its own. Moments go in with
a timezone, are kept as whole UTC seconds and come back in UTC.
"""

from __future__ import annotations

import zlib
from collections.abc import Iterable, Mapping
from dataclasses import fields
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Any, NamedTuple, Self

import numpy as np
from numpy.typing import NDArray
from pydantic import TypeAdapter, ValidationError

from underbench.daemon.store.database import (
    StoreError,
    copy_in_memory,
    moment,
    open_database,
    plain_errors,
    seconds,
)
from underbench.daemon.store.episodes import EpisodeRow
from underbench.daemon.store.guests import Guests
from underbench.daemon.store.kept_answers import Kept, Standing
from underbench.daemon.store.learning import Learning
from underbench.daemon.store.message_queue import Message, Post
from underbench.daemon.store.past_years import PastDays
from underbench.daemon.store.readings import Readings
from underbench.daemon.store.undo_log import Notebook
from underbench.rules.garden.journal import Entry
from underbench.rules.weather.hourly import HOUR_S, NEEDED, VARIABLES, Weather, from_columns

__all__ = ["Checkpoint", "Message", "Store", "StoreError"]

DAY_S = 24 * HOUR_S
A_NIGHT_S = 2 * DAY_S  # a longer span is a season, or a spell

_OF_A_PLACE = (
    "hour",
    "past_day",
    "checkpoint",
    "forecast",
    "source",
    "ensemble",
    "night_forecast",
    "learned",
)

_ENTRY: TypeAdapter[Entry] = TypeAdapter(Entry)


class Checkpoint(NamedTuple):
    """A tree's carried state at a moment, and what it was computed with."""

    at: datetime
    stamp: str
    state: str


_EPISODE_COLUMNS = tuple(f.name for f in fields(EpisodeRow))
# Annotations are plain text here, see the __future__ import.
_EPISODE_MOMENTS = {f.name for f in fields(EpisodeRow) if str(f.type).startswith("datetime")}


class Store(Post, Readings, Learning, Notebook, Guests, PastDays):
    """The state database. Open it with ``Store.open``; use it as a context manager.

    ``db`` is the connection underneath, for backups and tests. All methods raise StoreError.
    """

    @classmethod
    def open(cls, path: Path) -> Store:
        """Open the database at ``path``, made (file 0600, its folder 0700) where there is none.

        Brings an older database up to date. Raises StoreError also for a newer one.
        """
        return cls(path, open_database(path))

    @classmethod
    def copy(cls, path: Path) -> Store:
        """Open a copy of the database at ``path`` in memory: what is kept there is kept nowhere.

        Raises StoreError.
        """
        return cls(path, copy_in_memory(path))

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
                {"at": seconds(e.at), "tree": e.tree, "kind": e.kind, "entry": text}
                for e, text in texts
            ],
        )

    def entries(self, until: datetime | None = None) -> list[Entry]:
        """Return the journal up to and including ``until`` (None: all of it), oldest first.

        Entries of one moment come in the order in which they were added; those taken back are
        passed over.
        """
        rows = self._rows(
            "SELECT entry FROM journal WHERE undone_at IS NULL AND (:until IS NULL OR at <= :until)"
            " ORDER BY at, id",
            {"until": until and seconds(until)},
        )
        try:
            return [_ENTRY.validate_json(row["entry"]) for row in rows]
        except ValidationError as error:
            raise StoreError(
                f"{self.path}: a journal entry cannot be read: {error.errors()[0]['msg']}"
            ) from error

    def last_entry(self) -> int:
        """Return the number of the entry added last; 0 before any."""
        (row,) = self._rows("SELECT coalesce(max(id), 0) AS id FROM journal")
        return int(row["id"])

    def entries_after(self, number: int) -> list[Entry]:
        """Return the entries added after that one, in the order in which they were."""
        rows = self._rows("SELECT entry FROM journal WHERE id > ? ORDER BY id", (number,))
        return [_ENTRY.validate_json(row["entry"]) for row in rows]

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
        rows = self._tuples(
            f"SELECT at, {', '.join(VARIABLES)} FROM hour WHERE at > ? AND at <= ? ORDER BY at",
            (seconds(start), seconds(end)),
        )
        known = np.array([row[0] for row in rows], dtype=np.int64)
        times = np.arange(known[0], known[-1] + 1, HOUR_S) if rows else known
        values = np.full((len(VARIABLES), len(times)), np.nan)
        if rows:
            values[:, np.searchsorted(times, known)] = np.array(rows, dtype=float)[:, 1:].T
        return from_columns(times, dict(zip(VARIABLES, values, strict=True)))

    def known_hours(self, start: datetime, end: datetime) -> NDArray[np.int64]:
        """Return when (UTC seconds, in order) all that is needed is kept; start < time ≤ end."""
        there = " AND ".join(f"{name} IS NOT NULL" for name in NEEDED)
        rows = self._rows(
            f"SELECT at FROM hour WHERE at > ? AND at <= ? AND {there} ORDER BY at",
            (seconds(start), seconds(end)),
        )
        return np.array([row["at"] for row in rows], dtype=np.int64)

    # Checkpoints

    def keep_checkpoints(
        self, at: datetime, blobs: Mapping[str, str], stamp: Mapping[str, str]
    ) -> None:
        """Keep each tree's state (tree → text) and what it was computed with (tree → text).

        One a tree and UTC day: a later one of that day takes the place of the earlier.
        """
        when = seconds(at)
        self._write(
            "INSERT OR REPLACE INTO checkpoint (tree, day, at, stamp, state)"
            " VALUES (?, ?, ?, ?, ?)",
            [(tree, when // DAY_S, when, stamp[tree], blob) for tree, blob in blobs.items()],
        )

    def checkpoints(self, before: datetime) -> dict[str, Checkpoint]:
        """Return each tree's latest checkpoint at or before ``before``."""
        # With max(), SQLite takes the other columns from the row that holds it
        # (sqlite.org/lang_select.html, "bare columns in an aggregate query").
        rows = self._rows(
            "SELECT tree, max(at) AS at, stamp, state FROM checkpoint WHERE at <= ? GROUP BY tree",
            (seconds(before),),
        )
        return {r["tree"]: Checkpoint(moment(r["at"]), r["stamp"], r["state"]) for r in rows}

    def oldest_checkpoints(self) -> dict[str, Checkpoint]:
        """Return each tree's oldest checkpoint that is still kept."""
        rows = self._rows("SELECT tree, min(at) AS at, stamp, state FROM checkpoint GROUP BY tree")
        return {r["tree"]: Checkpoint(moment(r["at"]), r["stamp"], r["state"]) for r in rows}

    def forget_checkpoints(self, tree: str, after: datetime) -> None:
        """Forget a tree's checkpoints later than ``after``: its past turned out different."""
        self._write("DELETE FROM checkpoint WHERE tree = ? AND at > ?", [(tree, seconds(after))])

    def prune_checkpoints(self, older_than: datetime) -> None:
        """Forget checkpoints from before ``older_than``, but never a tree's latest one."""
        self._write(
            "DELETE FROM checkpoint WHERE at < ? AND at <"
            " (SELECT max(at) FROM checkpoint AS other WHERE other.tree = checkpoint.tree)",
            [(seconds(older_than),)],
        )

    # The last forecasts

    def keep_forecast(self, source: str, kept: Kept) -> None:
        """Keep a source's answer in place of its one before."""
        expires = None if kept.expires is None else seconds(kept.expires)
        self._write(
            "INSERT OR REPLACE INTO forecast"
            " (source, fetched_at, same_since, last_modified, expires, body)"
            " VALUES (?, ?, ?, ?, ?, ?)",
            [
                (
                    source,
                    seconds(kept.fetched_at),
                    seconds(kept.same_since),
                    kept.last_modified,
                    expires,
                    zlib.compress(kept.body),
                )
            ],
        )

    def last_forecast(self, source: str) -> Kept | None:
        """Return the kept answer of a source; None when there is none, or none that can be read,
        which is then forgotten."""
        rows = self._rows("SELECT * FROM forecast WHERE source = ?", (source,))
        found = self._readable(rows, _kept, f"the kept forecast of {source}")
        if rows and not found:
            self._write("DELETE FROM forecast WHERE source = ?", [(source,)])
        return found[0] if found else None

    def keep_standing(self, source: str, standing: Standing) -> None:
        """Keep how things stand with a source."""
        ask_at = None if standing.ask_at is None else seconds(standing.ask_at)
        doubted = None if standing.doubted_since is None else seconds(standing.doubted_since)
        said = " ".join(sorted(standing.said))
        self._write(
            "INSERT OR REPLACE INTO source (name, ask_at, why, said, doubted_since)"
            " VALUES (?, ?, ?, ?, ?)",
            [(source, ask_at, standing.why, said, doubted)],
        )

    def standing(self, source: str) -> Standing:
        """Return how things stand with a source; of an unknown one, well."""
        for row in self._rows("SELECT * FROM source WHERE name = ?", (source,)):
            ask_at, doubted = (
                None if at is None else moment(at) for at in (row["ask_at"], row["doubted_since"])
            )
            return Standing(ask_at, row["why"], frozenset(row["said"].split()), doubted)
        return Standing()

    def keep_ensemble(self, models: str, body: bytes, fetched_at: datetime) -> None:
        """Keep an ensemble's answer, and of which models it is, in place of the one before."""
        self._write(
            "INSERT OR REPLACE INTO ensemble (id, models, fetched_at, body) VALUES (1, ?, ?, ?)",
            [(models, seconds(fetched_at), zlib.compress(body))],
        )

    def last_ensemble(self, models: str) -> tuple[bytes, datetime] | None:
        """Return the kept answer of these models and when it was fetched; None without one, or
        without one that can be read, which is then forgotten."""
        rows = self._rows("SELECT body, fetched_at FROM ensemble WHERE models = ?", (models,))
        found = self._readable(
            rows,
            lambda row: (zlib.decompress(row["body"]), moment(row["fetched_at"])),
            "the kept ensemble",
        )
        if rows and not found:
            self._write("DELETE FROM ensemble WHERE models = ?", [(models,)])
        return found[0] if found else None

    # Episodes

    def episodes(self, since: datetime) -> list[EpisodeRow]:
        """Return the episodes whose span ends at or after ``since``, by span, tree, hazard."""
        rows = self._rows(
            "SELECT * FROM episode WHERE span_end >= ? ORDER BY span_start, tree, hazard",
            (seconds(since),),
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
        """Take a tree's hazards still ahead for untold: it stands otherwise than was thought.

        A night whose last bad hour is past has been; a season may bring more of the same.
        """
        self._write(
            "UPDATE episode SET told_at = NULL, told_strength = NULL"
            " WHERE tree = ? AND span_end > ? AND (until_at > ? OR span_end - span_start > ?)",
            [(tree, seconds(after), seconds(after), A_NIGHT_S)],
        )

    # The place all this is about

    def settle(self, place: str) -> None:
        """Take ``place`` for the one the weather is of. When it was another before, the hours, the
        checkpoints, the forecasts and what was learned of that one are forgotten; the journal
        stays."""
        kept = [row["words"] for row in self._rows("SELECT words FROM place")]
        if kept == [place]:
            return
        with self.transaction(), plain_errors(self.path):
            if kept:
                for table in _OF_A_PLACE:
                    self.db.execute(f"DELETE FROM {table}")
            self.db.execute("INSERT OR REPLACE INTO place (id, words) VALUES (1, ?)", [place])

    # Duties

    def last_done(self, name: str) -> datetime | None:
        """Return when a duty was last done; None for never."""
        for row in self._rows("SELECT done_at FROM duty WHERE name = ?", (name,)):
            return moment(row["done_at"])
        return None

    def done(self, name: str, at: datetime) -> None:
        """Note that a duty was done."""
        self._write(
            "INSERT OR REPLACE INTO duty (name, done_at) VALUES (?, ?)", [(name, seconds(at))]
        )

    def not_done(self, name: str, at: datetime) -> None:
        """Take back that a duty was done at that moment; done since, it stays so."""
        self._write("DELETE FROM duty WHERE name = ? AND done_at = ?", [(name, seconds(at))])

    # The page

    def page(self, name: str) -> tuple[str, datetime] | None:
        """Return what the page keeps under ``name`` and since when; None for nothing."""
        for row in self._rows("SELECT text, at FROM page WHERE name = ?", (name,)):
            return row["text"], moment(row["at"])
        return None

    def keep_page(self, name: str, text: str, at: datetime) -> None:
        """Keep a text for the page, in place of the one before."""
        self._write(
            "INSERT OR REPLACE INTO page (name, text, at) VALUES (?, ?, ?)",
            [(name, text, seconds(at))],
        )


def _kept(row: dict[str, Any]) -> Kept:
    return Kept(
        body=zlib.decompress(row["body"]),
        fetched_at=moment(row["fetched_at"]),
        same_since=moment(row["same_since"]),
        last_modified=row["last_modified"],
        expires=None if row["expires"] is None else moment(row["expires"]),
    )


def _with_seconds(row: dict[str, Any]) -> dict[str, Any]:
    return {k: seconds(v) if isinstance(v, datetime) else v for k, v in row.items()}


def _with_moments(row: dict[str, Any]) -> dict[str, Any]:
    return {k: moment(v) if v is not None and k in _EPISODE_MOMENTS else v for k, v in row.items()}
