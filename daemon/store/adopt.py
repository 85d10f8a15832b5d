"""From which database a garden without one takes over what it knows.

Earlier versions kept all gardens of a user in one database. A garden takes a copy of it if that
knows the garden's place or one of its trees. And a garden whose file was moved has left its
database under another name. Both stay as they were.
"""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from underbench.daemon.store.database import StoreError, plain_errors
from underbench.daemon.store.store import Store, weather_place
from underbench.rules.garden.inventory import Garden

SHARED, OTHERS = "underbench.db", "*-????????.db"  # as settings name those of single gardens


def source_of(database: Path, garden: Garden, trees: Collection[str]) -> Path | None:
    """Return the database that a garden takes over as ``database``; None if it has one already, or
    if there is none that knows it.

    ``trees`` are the names of the garden's trees. Raises StoreError.
    """
    with plain_errors(database):
        if database.exists():
            return None
        near = [database.with_name(SHARED), *sorted(database.parent.glob(OTHERS))]
        return next((one for one in near if one.is_file() and _knows(one, garden, trees)), None)


def has_neighbour(database: Path) -> bool:
    """Return whether databases of other gardens lie beside ``database``, which is there itself."""
    others = database.parent.glob(OTHERS)
    return database.exists() and any(other != database for other in others)


def _knows(other: Path, garden: Garden, trees: Collection[str]) -> bool:
    try:
        with Store.copy(other) as store:
            if store.owner.known():
                return store.owner.left_by(garden.name)
            named = {entry.tree for entry in store.journal.entries()}
            return store.place() == weather_place(garden) or not named.isdisjoint(trees)
    except StoreError:  # a damaged neighbour is no garden's past, and stops nobody
        return False
