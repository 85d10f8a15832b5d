"""How long a job takes. A job is told while there is time for it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import timedelta

from underbench.rules.garden.inventory import Means, Spot
from underbench.rules.garden.journal import TreeAt
from underbench.rules.hazards.hazard import Action


def time_for(
    trees: Iterable[TreeAt], action: Action, spots: Mapping[str, Spot], means: Means
) -> timedelta:
    """Return how long ``action`` takes for ``trees``, by their weight and where they stand.

    The remedy makes no difference: covering a tree takes about as long as carrying it. Source: the
    keeper's own minutes, else judgement.
    """
    return timedelta(minutes=sum(_minutes(at, action, spots, means) for at in trees))


def _minutes(at: TreeAt, action: Action, spots: Mapping[str, Spot], means: Means) -> float:
    if action is Action.WATER:
        return means.minutes.water
    if at.tree.container.litres > means.lift_litres:
        return means.minutes.heavy
    return spots[at.spot].minutes or means.minutes.carry
