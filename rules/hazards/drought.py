"""Water: pots that the recorded routine will not keep going, and the moss of layers."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from underbench.rules.hazards.findings import Action, Hazard, Judged, sustained, thresholds
from underbench.rules.limits.bearing import Bearing
from underbench.rules.physics.exposure import Exposure
from underbench.rules.weather.spread import Site

DRY_HOURS = 2  # shorter than the model can tell
DEAD_DRY_HOURS = 12  # of a pot with next to nothing left; judgement, no source
FROZEN = 0.5


def judge(exposure: Exposure, bearings: Sequence[Bearing], _site: Site) -> list[Judged]:
    """Judge dry pots; arrays (tree, member, hour) of one span.

    The water in the exposure already counts the routine and the rain of each member. A frozen pot
    is left alone: it cannot be watered and hardly dries.
    """
    limits = [b.water for b in bearings]
    harm, kill = thresholds(limits)
    left, open_ground = exposure.water_left, exposure.frozen_share < FROZEN
    return [
        Judged(
            Hazard.DRY,
            Action.WATER,
            left,
            harm=sustained((left < harm) & open_ground, DRY_HOURS),
            kill=sustained((left < kill) & open_ground, DEAD_DRY_HOURS),
            limits=limits,
            low=True,
        )
    ]


def judge_moss(left: Sequence[float], hours: int, bearings: Sequence[Bearing]) -> Judged:
    """Judge the moss of layers on one day, of which ``left`` (tree,) is the water; NaN: no layer.

    It dries by days and is the same for all members; nothing is known of its death.
    """
    limits = [b.moss for b in bearings]
    harm, _ = thresholds(limits)
    value = np.broadcast_to(np.array(left)[:, None, None], (len(left), 1, hours))
    dry = value < harm
    return Judged(
        Hazard.DRY_MOSS, Action.WATER, value, dry, np.zeros_like(dry), limits=limits, low=True
    )
