"""Vent: a bag that gets too hot for what is in it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from underbench.rules.hazards.findings import Action, Hazard, Judged, held, thresholds
from underbench.rules.limits.bearing import Bearing
from underbench.rules.physics.exposure import Exposure
from underbench.rules.weather.spread import Site

HOT_BAG_HOURS = (3, 1)  # hours at the harm and at the kill limit; common practice, no source
# A bag this far from the air around it is known to 5 K, one nearer to it the better: what is not
# known (the wind over it, the sun on it) is all in the difference. Judgement.
UNKNOWN_FROM_K = 10.0


def judge(exposure: Exposure, bearings: Sequence[Bearing], site: Site) -> list[Judged]:
    """Judge bags, however far open; arrays (tree, member, hour) of one span.

    A hot bag's inside is known to about 5 K: each member carries its own share of that.
    """
    limits = [b.bag for b in bearings]
    harm, kill = thresholds(limits)
    unknown = np.minimum(np.abs(exposure.bag_c - exposure.air_c) / UNKNOWN_FROM_K, 1.0)
    inside = exposure.bag_c + unknown * site.bag_shift_k[None, :, None]
    hurt_after, dead_after = HOT_BAG_HOURS
    return [
        Judged(
            Hazard.HOT_BAG,
            Action.VENT,
            inside,
            harm=held(inside >= harm, hurt_after),
            kill=held(inside >= kill, dead_after),
            limits=limits,
            low=False,
        )
    ]
