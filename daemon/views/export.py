"""``underbench export``: the garden, the journal and the messages, for other programs."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from underbench.daemon.config.settings import Settings
from underbench.daemon.store.store import Store
from underbench.daemon.wording.json_form import document, part
from underbench.rules.garden.inventory import Tree
from underbench.rules.garden.journal import fold

THE_BEGINNING = datetime(1970, 1, 1, tzinfo=UTC)


def as_json(settings: Settings, store: Store, now: datetime) -> str:
    """Return everything as JSON. ``settings`` hold the trees that works made too. Raises
    StoreError."""
    messages = (record.message for record in store.messages.records(THE_BEGINNING))
    body = {
        "made_at": now,
        "garden": settings.garden,
        "trees": [_tree(tree, store, now) for tree in settings.trees],
        "journal": store.journal.entries(),
        "episodes": store.episodes.since(THE_BEGINNING),
        "told": [
            {"at": one.queued_at, **part(one, "kind", "strength", "to", "title", "body")}
            for one in messages
        ],
    }
    return document(body)


def _tree(tree: Tree, store: Store, now: datetime) -> dict[str, Any]:
    at = fold(tree, store.journal.entries(now), now)
    return {**dict(at.tree), "home_spot": tree.spot, "spot": at.spot, "lost": at.lost}
