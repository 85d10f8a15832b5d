"""How a garden comes by a database of its own, where all gardens of one user shared one before.

A garden takes a copy of the shared one when that knows the garden's place or one of its trees. The
shared one stays as it is, for the other gardens.
"""

from __future__ import annotations

from collections.abc import Collection
from pathlib import Path

from underbench.daemon.store.backup import copy_once
from underbench.daemon.store.database import plain_errors
from underbench.daemon.store.store import Store, weather_place
from underbench.rules.garden.inventory import Garden

SHARED = "underbench.db"


def adopt(database: Path, garden: Garden, trees: Collection[str]) -> bool:
    """Copy the shared database to ``database`` if it knows the garden; return whether it did.

    ``trees`` are the names of the garden's trees. Nothing is copied over a database that is there
    already, nor from one that belongs to a garden. Raises StoreError.
    """
    shared = database.with_name(SHARED)
    with plain_errors(database):
        if database.exists() or not shared.is_file():
            return False
    return _knows(shared, garden, trees) and copy_once(shared, database)


def _knows(shared: Path, garden: Garden, trees: Collection[str]) -> bool:
    with Store.copy(shared) as store:
        if store.owner.known():
            return False
        named = {entry.tree for entry in store.journal.entries()}
        return store.place() == weather_place(garden) or not named.isdisjoint(trees)
