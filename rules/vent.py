"""Vent: a bag that gets too hot for what is in it."""

from __future__ import annotations

from collections.abc import Sequence

from underbench.rules.exposure import Exposure
from underbench.rules.findings import Action, Hazard, Judged, held, thresholds
from underbench.rules.limits import Bearing
from underbench.rules.members import Site

HOT_BAG_HOURS = (3, 1)  # hours at the harm and at the kill limit; common practice, no source


def judge(exposure: Exposure, bearings: Sequence[Bearing], site: Site) -> list[Judged]:
    """Judge shut bags; arrays (tree, member, hour) of one span.

    A bag's inside is known to about 5 K: each member carries its own share of that.
    """
    limits = [b.bag for b in bearings]
    harm, kill = thresholds(limits)
    inside = exposure.bag_c + site.bag_shift_k[None, :, None]
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
