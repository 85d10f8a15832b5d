"""Roots just cut that stand sodden, because it rains on and they draw little."""

from __future__ import annotations

from datetime import datetime
from math import inf

import numpy as np

from underbench.rules.garden.inventory import Wall
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards.hazard import Action, Due, Hazard, Help, Judged, Scene, Spans
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.layering import PRACTICE, dated
from underbench.rules.limits.limit import Layer, Limit, MeasuredOn
from underbench.rules.plants.species import Species

# Days of rain at the brim after which cut roots rot. A collected tree has the soil of its place
# about its roots, and fewer of them. Common practice, no source.
COLLECTED_DAYS, CUT_DAYS = 10.0, 14.0


def _since(condition: Condition) -> datetime | None:
    """When roots were cut that have not taken. Settled roots bear an autumn's rain, and a basket of
    mesh lets air in from all sides."""
    roots, wall = condition.aftercare.roots, condition.tree.container.wall
    return roots.at if roots and wall is not Wall.MESH else None


def _limit(_species: Species, condition: Condition) -> Limit | None:
    roots = condition.aftercare.roots
    if roots is None or _since(condition) is None:
        return None
    days = COLLECTED_DAYS if roots.work is WorkKind.COLLECT else CUT_DAYS
    return Limit(MeasuredOn.SODDEN, (Layer(f"after {dated(roots)}", days, inf, PRACTICE, roots),))


def _judge(scene: Scene) -> Judged:
    """Judge the days at the brim up to last midnight, the same for all members and hours."""
    harm, _ = scene.thresholds()
    days = np.array([one.sodden_days for one in scene.conditions])
    value = np.broadcast_to(days[:, None, None], (len(days), 1, len(scene.times)))
    return scene.judged(value, value >= harm, np.zeros(value.shape, dtype=bool))


SODDEN = Hazard(
    key="sodden",
    words="Sodden pots",
    short="sodden",
    limit_words="days of rain at the brim",
    hurts="roots",
    caution="No can until the top is dry.",
    action=Action.PROTECT,
    measured_on=MeasuredOn.SODDEN,
    low=False,
    spans=Spans.SINCE,
    due=Due.NEXT_VISIT,
    help=Help.ROOF,
    limit=_limit,
    judge=_judge,
    since=_since,
    returns=False,
    keeps_in=False,
)
