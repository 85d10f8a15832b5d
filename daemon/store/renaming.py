"""Another name for a tree wherever the database has its name."""

from __future__ import annotations

import json
from typing import Any

from underbench.daemon.store.database import Opened


class Names(Opened):
    """The names under which trees stand in the database. All methods raise StoreError."""

    def known(self, tree: str) -> bool:
        """Return whether anything is kept of a tree of this name, whatever its case."""
        rows = self._rows(
            "SELECT tree FROM journal WHERE tree = :tree COLLATE NOCASE"
            " UNION SELECT tree FROM episode WHERE tree = :tree COLLATE NOCASE LIMIT 1",
            {"tree": tree},
        )
        return bool(rows)

    def rename(self, old: str, new: str) -> None:
        """Give a tree another name in all that is kept of it, but for messages that were sent."""
        with self.transaction():
            for table in ("episode", "checkpoint", "reading", "journal"):
                # The name of the table is one of those above.
                self._run(f"UPDATE {table} SET tree = ? WHERE tree = ? COLLATE NOCASE", [new, old])
            self._rewrite("journal", "entry", lambda entry: _in_entry(entry, old, new))
            self._rewrite("note", "answered", lambda rows: _in_note(rows, old, new))

    def _rewrite(self, table: str, column: str, change: Any) -> None:
        for row in self._rows(f"SELECT id, {column} AS text FROM {table}"):
            changed = change(held := json.loads(row["text"]))
            if changed != held:
                text = json.dumps(changed, ensure_ascii=False)
                self._run(f"UPDATE {table} SET {column} = ? WHERE id = ?", [text, row["id"]])


def _in_entry(entry: dict[str, Any], old: str, new: str) -> dict[str, Any]:
    """A journal entry with the new name: of its tree, and of the tree that a work made of it."""
    changed = entry | {"tree": _named(entry["tree"], old, new)}
    if made := entry.get("makes"):
        names = {key: _named(made.get(key), old, new) for key in ("name", "parent")}
        changed["makes"] = made | {key: name for key, name in names.items() if name is not None}
    return changed


def _in_note(answered: list[Any], old: str, new: str) -> list[Any]:
    return [one | {"key": [_named(one["key"][0], old, new), *one["key"][1:]]} for one in answered]


def _named(name: Any, old: str, new: str) -> Any:
    return new if isinstance(name, str) and name.casefold() == old.casefold() else name
