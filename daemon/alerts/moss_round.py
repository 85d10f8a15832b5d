"""The moss of layers is told of as a round: all that are dry, once a week."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from underbench.daemon.store.episodes import EpisodeRow
from underbench.rules.advice.advice import Advice
from underbench.rules.hazards.dry_moss import DRY_MOSS

# Moss loses about half its water in one or two weeks of summer (`rules/physics/moss.py`), so a
# layer that dries days after the others can wait for the next round.
ROUNDS_APART = timedelta(days=7)


def moss_waits(advice: Advice, episodes: Iterable[EpisodeRow], now: datetime) -> bool:
    """Return whether an advice is of moss alone, and moss was told of less than a week before."""
    if any(finding.hazard is not DRY_MOSS for finding in advice.findings):
        return False
    told = (row.told_at for row in episodes if row.hazard == DRY_MOSS.key and row.told_at)
    return any(at < now < at + ROUNDS_APART for at in told)
