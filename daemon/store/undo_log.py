"""What was noted together, so that it can be taken back as a whole."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import asdict, dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from sqlite_utils import Database

from underbench.daemon.store.database import Opened, moment, seconds
from underbench.daemon.store.journal import Journal
from underbench.rules.garden.journal import Entry

_KEY = ("tree", "hazard", "span_start")
_Rows = Mapping[tuple[Any, ...], dict[str, Any]]


@dataclass(frozen=True, slots=True)
class Parted:
    """A tree that got another ``name``, or was taken ``out`` and is kept under it; ``was`` is the
    one before. ``before`` and ``after`` tell the garden's file then and since."""

    was: str
    name: str
    out: bool
    before: str
    after: str


@dataclass(slots=True)
class Noting:
    """A note while it is made; ``parted`` is what it does to a tree's name."""

    parted: Parted | None = None


@dataclass(frozen=True, slots=True)
class Note:
    """What one command or form noted. ``answered`` are the episodes it changed. Each has its
    ``key`` and the values of the changed columns, ``before`` and ``after``."""

    id: int
    noted_at: datetime
    undone_at: datetime | None
    entries: tuple[Entry, ...]
    answered: tuple[Mapping[str, Any], ...]
    parted: Parted | None = None

    @property
    def trees(self) -> set[str]:
        """The trees that it is about."""
        named = {self.parted.was, self.parted.name} if self.parted else set()
        seen_to = {one["key"][0] for one in self.answered}
        return {entry.tree for entry in self.entries} | seen_to | named

    @property
    def reopened(self) -> tuple[str, ...]:
        """The trees for which it said that a job is done."""
        done = [one for one in self.answered if one["before"].get("handled_at", 0) is None]
        return tuple(dict.fromkeys(one["key"][0] for one in done))

    @property
    def put_off(self) -> tuple[str, ...]:
        """The trees of which it said that they are not seen to tonight."""
        off = [one for one in self.answered if one["before"].get("reminded_at", 0) is None]
        return tuple(dict.fromkeys(one["key"][0] for one in off))


class Notes(Opened):
    """What the store knows about notes. All methods raise StoreError."""

    def __init__(self, path: Path, db: Database) -> None:
        super().__init__(path, db)
        self._journal = Journal(path, db)

    @contextmanager
    def noting(self, now: datetime) -> Iterator[Noting]:
        """Keep what the block adds, answers and parts with as one note; on an exception nothing."""
        with self.transaction():
            before, last = self._episode_rows(), self._journal.last_number()
            yield (made := Noting())
            changed = list(_changed(before, self._episode_rows()))
            if changed or made.parted or self._journal.last_number() > last:
                parted = json.dumps(asdict(made.parted)) if made.parted else None
                self._run(
                    "INSERT INTO note (noted_at, answered, parted) VALUES (?, ?, ?)",
                    [seconds(now), json.dumps(changed), parted],
                )
                self._run("UPDATE journal SET note = last_insert_rowid() WHERE id > ?", [last])

    def latest(self, most: int = -1) -> list[Note]:
        """Return at most ``most`` notes (-1: all), latest first, with those taken back."""
        return self._notes("ORDER BY id DESC LIMIT ?", [most])

    def last(self) -> Note | None:
        """Return the last note that was not taken back; None if there is none."""
        found = self._notes("WHERE undone_at IS NULL ORDER BY id DESC LIMIT 1", [])
        return found[0] if found else None

    def _notes(self, which: str, values: list[Any]) -> list[Note]:
        rows = self._rows(f"SELECT * FROM note {which}", values)
        entries = self._entries_of([row["id"] for row in rows])
        return [
            Note(
                row["id"],
                moment(row["noted_at"]),
                None if row["undone_at"] is None else moment(row["undone_at"]),
                tuple(entries.get(row["id"], ())),
                tuple(json.loads(row["answered"])),
                Parted(**json.loads(row["parted"])) if row["parted"] else None,
            )
            for row in rows
        ]

    def take_back(self, note: Note, now: datetime) -> None:
        """Mark a note as taken back, and give its episodes back their values. Values that something
        else has changed since stay."""
        with self.transaction():
            at = seconds(now)
            self._run("UPDATE note SET undone_at = ? WHERE id = ?", [at, note.id])
            self._run("UPDATE journal SET undone_at = ? WHERE note = ?", [at, note.id])
            for one in note.answered:
                for name, value in one["before"].items():
                    # The name is safe: it is a column's, as the database gave it.
                    self._run(
                        f"UPDATE episode SET {name} = ?"
                        f" WHERE tree = ? AND hazard = ? AND span_start = ? AND {name} IS ?",
                        [value, *one["key"], one["after"][name]],
                    )

    def _episode_rows(self) -> _Rows:
        return {
            tuple(row[name] for name in _KEY): row for row in self._rows("SELECT * FROM episode")
        }

    def _entries_of(self, notes: list[int]) -> dict[int, list[Entry]]:
        found: dict[int, list[Entry]] = {}
        for row in self._rows(
            "SELECT * FROM journal"
            " WHERE note IN (SELECT value FROM json_each(?)) AND NOT set_aside ORDER BY id",
            [json.dumps(notes)],
        ):
            found.setdefault(row["note"], []).extend(self._journal.read([row]))
        return found


def _changed(before: _Rows, after: _Rows) -> Iterable[dict[str, Any]]:
    for key, row in before.items():
        now = after.get(key, row)
        columns = [name for name, value in row.items() if now[name] != value]
        if columns:
            yield {
                "key": key,
                "before": {name: row[name] for name in columns},
                "after": {name: now[name] for name in columns},
            }
