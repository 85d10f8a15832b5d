"""A bag that gets too hot for what is in it."""

from __future__ import annotations

from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from underbench.rules.garden.journal import Opening, Stage
from underbench.rules.hazards.hazard import Action, Due, Hazard, Help, Judged, Scene, Spans, held
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.layering import PRACTICE
from underbench.rules.limits.limit import Layer, Limit, MeasuredOn
from underbench.rules.plants.species import Species
from underbench.rules.weather.hourly import Array

BAG_DORMANT_C = (35.0, 42.0)
BAG_GREEN_C = (28.0, 35.0)
HOT_BAG_HOURS = (3, 1)  # hours at the harm and at the kill limit; common practice, no source
# A bag this many K from the air around it is known to 5 K. A nearer one is known better, because
# the unknown (the wind over the bag, the sun on it) is all in the difference. Judgement.
UNKNOWN_FROM_K = 10.0
# No bag is opened in frost: what grew in close, warm air has never felt it. That covers what any
# bagged tree bears, since no limit of frost is above freezing. Common practice, no source.
NO_FROST_C = 0.0
FROST_FROM = 0.1  # of the weathers


def _limit(_species: Species, condition: Condition) -> Limit | None:
    """Moving buds bear less than wood in close, steaming air. In an open bag the air moves."""
    bag = condition.aftercare.bag
    if bag is None:
        return None
    if condition.stage is Stage.DORMANT:
        what, pair = "bare wood under it", BAG_DORMANT_C
    elif bag.opening is Opening.OPEN:
        what, pair = "green in moving air", BAG_DORMANT_C
    else:
        what, pair = "buds moving under it", BAG_GREEN_C
    return Limit(MeasuredOn.BAG, (Layer(what, *pair, PRACTICE),))


def _judge(scene: Scene) -> Judged:
    """Judge bags, however far open. A hot bag's inside is known to about 5 K. Each member carries
    its own share of that error."""
    (harm, kill), felt = scene.thresholds(), scene.exposure
    unknown = np.minimum(np.abs(felt.bag_c - felt.air_c) / UNKNOWN_FROM_K, 1.0)
    inside_c = felt.bag_c + unknown * scene.site.bag_shift_k[None, :, None]
    hurt_after, dead_after = HOT_BAG_HOURS
    hurt, dead = held(inside_c >= harm, hurt_after), held(inside_c >= kill, dead_after)
    return scene.judged(inside_c, hurt, dead)


def frost_ends(
    air_c: Array, times: NDArray[np.int64], since: datetime, until: datetime
) -> datetime | None:
    """Return when the last frost between two moments is over; None if there is none.

    ``air_c``: air at the bag, shape (member, hour). ``times``: UTC seconds, shape (hour,).
    """
    between = (times >= since.timestamp()) & (times <= until.timestamp())
    frosty = ((air_c <= NO_FROST_C).mean(axis=0) >= FROST_FROM) & between
    if not frosty.any():
        return None
    return datetime.fromtimestamp(int(times[frosty][-1]), tz=UTC)


HOT_BAG = Hazard(
    key="hot-bag",
    words="Bag too hot",
    short="hot bag",
    limit_words="heat in the bag",
    action=Action.VENT,
    measured_on=MeasuredOn.BAG,
    low=False,
    spans=Spans.WEEK,  # one placement is told for the whole spell
    due=Due.LEAVING,
    help=Help.VENT,
    limit=_limit,
    judge=_judge,
    returns=False,
)
