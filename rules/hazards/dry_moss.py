"""The moss of a layer, which dries over days. When dry moss kills is not known."""

from __future__ import annotations

from datetime import datetime
from math import nan

import numpy as np

from underbench.rules.hazards.hazard import Action, Due, Hazard, Help, Judged, Scene, Spans
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.layering import for_all
from underbench.rules.limits.limit import Limit, MeasuredOn
from underbench.rules.plants.species import Species

MOSS_LEFT = (0.35, 0.0)  # dry to the touch; new roots die before the trunk does


def _limit(_species: Species, condition: Condition) -> Limit | None:
    return for_all(MeasuredOn.MOSS, MOSS_LEFT) if condition.moss else None


def _since(condition: Condition) -> datetime | None:
    return condition.moss.wetted_at if condition.moss else None


def _judge(scene: Scene) -> Judged:
    """Judge the moss's water on the day, the same for all members and hours."""
    harm, _ = scene.thresholds()
    left = np.array([one.moss.left if one.moss else nan for one in scene.conditions])
    value = np.broadcast_to(left[:, None, None], (len(left), 1, len(scene.times)))
    return scene.judged(value, value < harm, np.zeros(value.shape, dtype=bool))


DRY_MOSS = Hazard(
    key="dry-moss",
    caution="Look at the other layers too. Moss is told of once a week at most.",
    words="Moss of a layer drying out",
    short="dry moss",
    limit_words="water left in the layer's moss",
    action=Action.WATER,
    measured_on=MeasuredOn.MOSS,
    low=True,
    spans=Spans.SINCE,
    due=Due.NEXT_VISIT,
    help=Help.WET_MOSS,
    limit=_limit,
    judge=_judge,
    since=_since,
    returns=False,
)
