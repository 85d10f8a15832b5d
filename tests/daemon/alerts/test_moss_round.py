"""The moss of layers is told of once a week, all dry ones together."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import Any

import pytest
from garden_toml import EMBER
from spring_frosts import DAY, EVENING, GARDEN, Labs, in_leaf

from underbench.daemon.alerts.moss_round import ROUNDS_APART
from underbench.rules.garden.journal import Watering, Work
from underbench.rules.garden.works import WorkKind

PLUME = EMBER.replace("Ember", "Plume")
MORNING = EVENING.replace(hour=5)


def moss_told(garden: Any, days: Sequence[int]) -> list[tuple[int, set[str]]]:
    """The days on which moss was told of, and the trees."""
    found = []
    for day in days:
        for one in garden.run(MORNING + day * DAY).told:
            if "Moss" in one.message.body:
                found.append((day, {job.tree for job in one.advice.jobs}))
    return found


def start_layer(tree: str, at: datetime) -> Work:
    return Work(tree=tree, at=at, work=WorkKind.START_LAYER)


@pytest.fixture
def warm(labs: Labs, make: Any) -> Any:
    hour = MORNING.replace(minute=0)
    weather = make.weather(hour - 30 * DAY, 24 * 60, mean_c=16.0, swing_k=4.0)
    return in_leaf(labs, weather, GARDEN + PLUME)


def test_layers_that_dry_days_apart_are_told_of_together_a_week_later(warm: Any) -> None:
    long_ago = MORNING - 28 * DAY
    warm.store.journal.add([start_layer("Ember", long_ago), start_layer("Plume", long_ago)])
    warm.store.journal.add([Watering(tree="Plume", at=MORNING - 15 * DAY, moss=True)])
    (first, trees), *later = moss_told(warm, (0, 1, 3, 6, 7, 8))
    assert (first, trees) == (0, {"Ember"})
    assert later == [(ROUNDS_APART // timedelta(days=1), {"Plume"})]
