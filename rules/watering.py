"""Water: pots that the recorded routine will not keep going."""

from __future__ import annotations

from collections.abc import Sequence

from underbench.rules.exposure import Exposure
from underbench.rules.findings import Action, Hazard, Judged, sustained, thresholds
from underbench.rules.limits import Bearing
from underbench.rules.members import Site

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
