"""``underbench export``: what the garden is, what was noted, what was told, for other programs.

Moments are ISO 8601 in UTC, quantities SI with the unit in the name. JSON holds one
object: ``schema``, ``made_at``, ``garden``, and the lists ``trees``, ``journal``, ``episodes`` and
``told``. CSV (RFC 4180) holds one of the lists; what is no text, number or moment is JSON in its
cell.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict
from datetime import UTC, datetime
from typing import Any

from underbench.daemon.config.settings import Settings
from underbench.daemon.store.store import Store
from underbench.daemon.wording.json_form import SCHEMA, iso
from underbench.rules.garden.journal import fold

TABLES = ("trees", "journal", "episodes", "told")
THE_BEGINNING = datetime(1970, 1, 1, tzinfo=UTC)
# What a spreadsheet takes for a formula (OWASP, CSV Injection, from memory).
_FORMULA = ("=", "+", "-", "@", "\t", "\r")
Rows = list[dict[str, Any]]


def as_json(settings: Settings, store: Store, now: datetime) -> str:
    """Return everything; raises StoreError."""
    tables = {name: _table(settings, store, now, name) for name in TABLES}
    head = {"schema": SCHEMA, "made_at": iso(now), "garden": settings.garden.model_dump()}
    return json.dumps(head | tables, ensure_ascii=False, indent=2, default=_plain) + "\n"


def as_csv(settings: Settings, store: Store, now: datetime, table: str) -> str:
    """Return one of ``TABLES``; a text that a spreadsheet would take for a formula begins with an
    apostrophe. Raises StoreError."""
    rows = _table(settings, store, now, table)
    out = io.StringIO()
    writer = csv.DictWriter(out, _columns(rows))
    writer.writeheader()
    writer.writerows({name: _cell(value) for name, value in row.items()} for row in rows)
    return out.getvalue()


def _table(settings: Settings, store: Store, now: datetime, name: str) -> Rows:
    """The rows of a table; ``settings`` with the trees that works made."""
    if name == "trees":
        return list(_trees(settings, store, now))
    if name == "journal":
        return [entry.model_dump(mode="json", exclude_none=True) for entry in store.entries()]
    if name == "episodes":
        return [asdict(row) for row in store.episodes(THE_BEGINNING)]
    return [
        {
            "at": record.message.queued_at,
            "kind": record.message.kind,
            "strength": record.message.strength.value,
            "to": list(record.message.to),
            "title": record.message.title,
            "body": record.message.body,
        }
        for record in store.records(THE_BEGINNING)
    ]


def _trees(settings: Settings, store: Store, now: datetime) -> Iterable[dict[str, Any]]:
    journal = store.entries(now)
    for tree in settings.trees:
        at = fold(tree, journal, now)
        yield at.tree.model_dump(mode="json", exclude_none=True) | {
            "home_spot": tree.spot,
            "spot": at.spot,
            "lost": at.lost,
        }


def _columns(rows: Sequence[Mapping[str, Any]]) -> list[str]:
    return list(dict.fromkeys(name for row in rows for name in row))


def _cell(value: Any) -> Any:
    if isinstance(value, dict | list | bool):
        return json.dumps(value, ensure_ascii=False, default=_plain)
    if isinstance(value, datetime):
        return value.isoformat()
    if isinstance(value, str) and value.startswith(_FORMULA):
        return f"'{value}"
    return value


def _plain(value: Any) -> str:
    """A moment as text, in UTC."""
    if isinstance(value, datetime):
        return value.isoformat()
    raise TypeError(f"{type(value).__name__} is not exported")
