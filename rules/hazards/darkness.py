"""Trees in leaf, and evergreens at rest, that have stood in the dark for too long."""

from __future__ import annotations

from datetime import datetime
from math import inf

import numpy as np

from underbench.rules.hazards.hazard import Action, Due, Hazard, Help, Judged, Scene, Spans
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.layering import EVERGREEN
from underbench.rules.limits.limit import Layer, Limit, MeasuredOn
from underbench.rules.plants.species import Species
from underbench.rules.weather.hourly import HOUR_S

# A tree in leaf bears three days; a bare one in the cold bears months; an evergreen at rest in the
# cold bears four weeks (common practice, no source). The dark kills only after longer than anybody
# leaves a tree there.
IN_LEAF_FOR = Limit(MeasuredOn.DARK, (Layer("in leaf", 72.0, inf, "practice"),))
NEEDLES_FOR = Limit(MeasuredOn.DARK, (Layer("keeps its leaves", 672.0, inf, "practice"),))


def _since(condition: Condition) -> datetime | None:
    """The moment from which a tree that has leaves may have had no light. What is in a bag has no
    leaves yet."""
    dark = condition.spot is not None and condition.spot.is_dark
    return condition.leafy_there_since if dark and condition.aftercare.bag is None else None


def _limit(species: Species, condition: Condition) -> Limit | None:
    if _since(condition) is None:
        return None
    if condition.stage.in_leaf:
        return IN_LEAF_FOR
    return NEEDLES_FOR if species.limits.kind in EVERGREEN else None


def _judge(scene: Scene) -> Judged:
    """Judge the hours that trees have been in the dark, the same for all members."""
    harm, _ = scene.thresholds()
    stays = [_since(one) for one in scene.conditions]
    begun = np.array([np.nan if at is None else at.timestamp() for at in stays])
    hours = ((scene.times[None, :] - begun[:, None]) / HOUR_S)[:, None, :]
    return scene.judged(hours, hours >= harm, np.zeros(hours.shape, dtype=bool))


DARK = Hazard(
    key="dark",
    words="Leaves in the dark too long",
    short="dark",
    limit_words="leaves in the dark",
    action=Action.LIGHT,
    measured_on=MeasuredOn.DARK,
    low=False,
    spans=Spans.SINCE,
    due=Due.NEXT_MORNING,
    help=Help.LIGHT,
    limit=_limit,
    judge=_judge,
    since=_since,
    returns=False,
)
