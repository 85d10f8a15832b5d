"""The journal as kept: dated entries, added once and never changed."""

from __future__ import annotations

import logging
from collections.abc import Iterable
from datetime import datetime
from typing import Any

from pydantic import TypeAdapter, ValidationError

from underbench.daemon.store.database import Opened, seconds
from underbench.rules.garden.journal import Entry

_ENTRY: TypeAdapter[Entry] = TypeAdapter(Entry)
_log = logging.getLogger("underbench")


class Journal(Opened):
    """Entries in the state database. All methods raise StoreError."""

    def add(self, entries: Iterable[Entry]) -> None:
        """Add entries to the journal: all of them or none.

        Raises ValueError for an entry that would not read back, because it would make the whole
        journal unreadable.
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

        Entries of one moment come in the order in which they were added. Those taken back are left
        out.
        """
        rows = self._rows(
            "SELECT * FROM journal WHERE undone_at IS NULL AND NOT set_aside"
            " AND (:until IS NULL OR at <= :until) ORDER BY at, id",
            {"until": until and seconds(until)},
        )
        return self.read(rows)

    def last_number(self) -> int:
        """Return the number of the last entry added; 0 before any."""
        (row,) = self._rows("SELECT coalesce(max(id), 0) AS id FROM journal")
        return int(row["id"])

    def after(self, number: int) -> list[Entry]:
        """Return the entries added after that number, in the order of adding."""
        rows = self._rows(
            "SELECT * FROM journal WHERE id > ? AND NOT set_aside ORDER BY id", (number,)
        )
        return self.read(rows)

    def set_aside(self) -> list[str]:
        """Return which entries cannot be read and are left out, in words."""
        return [_words(row) for row in self._rows("SELECT * FROM journal WHERE set_aside")]

    def read(self, rows: Iterable[dict[str, Any]]) -> list[Entry]:
        """Return the entries of rows. One that cannot be read is set aside, and logged once."""
        found = []
        for row in rows:
            try:
                found.append(_ENTRY.validate_json(row["entry"]))
            except ValidationError:
                _log.warning("%s: %s cannot be read and is left out", self.path, _words(row))
                self._write("UPDATE journal SET set_aside = 1 WHERE id = ?", [(row["id"],)])
        return found


def _words(row: dict[str, Any]) -> str:
    return f"journal entry {row['id']} ({row['kind']}, {row['tree']})"
