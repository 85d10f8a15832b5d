"""The journal as kept: dated entries, added once and never changed."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from pydantic import TypeAdapter, ValidationError

from underbench.daemon.store.database import Opened, StoreError, seconds
from underbench.rules.garden.journal import Entry

_ENTRY: TypeAdapter[Entry] = TypeAdapter(Entry)


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

    def last_number(self) -> int:
        """Return the number of the last entry added; 0 before any."""
        (row,) = self._rows("SELECT coalesce(max(id), 0) AS id FROM journal")
        return int(row["id"])

    def after(self, number: int) -> list[Entry]:
        """Return the entries added after that number, in the order of adding."""
        rows = self._rows("SELECT entry FROM journal WHERE id > ? ORDER BY id", (number,))
        return [_ENTRY.validate_json(row["entry"]) for row in rows]
