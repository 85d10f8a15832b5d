"""Episodes as a pass leaves them once they are told."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

from underbench.daemon.store.episodes import EpisodeRow

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
NOW = datetime(2024, 4, 23, 15, tzinfo=UTC)  # 17:00 in the garden
NIGHT_ENDS = NOW + 19 * HOUR  # noon of the day after, by the garden's clock


def told(tree: str, ends: datetime = NIGHT_ENDS, **given: Any) -> EpisodeRow:
    """A frost told an hour ago, in the night that ends at ``ends``."""
    values: dict[str, Any] = {
        "tree": tree,
        "hazard": "leaf-frost",
        "span_start": ends - 24 * HOUR,
        "span_end": ends,
        "action": "protect",
        "state": "told",
        "strength": "act",
        "told_strength": "act",
        "chance": 0.8,
        "worst": -3.0,
        "limit_value": -2.5,
        "from_at": ends - 9 * HOUR,
        "until_at": ends - 5 * HOUR,
        "do_by": ends - 16 * HOUR,
        "first_seen": NOW - HOUR,
        "told_at": NOW - HOUR,
        "told_do_by": ends - 16 * HOUR,
        "updated": NOW - HOUR,
    }
    return EpisodeRow(**values | given)
