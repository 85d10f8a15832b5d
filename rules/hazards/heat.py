"""Shade: scorched leaves, hot roots, and the first sun after a bag."""

from __future__ import annotations

from collections.abc import Sequence

from underbench.rules.hazards.findings import Action, Hazard, Judged, held, thresholds
from underbench.rules.limits.bearing import Bearing
from underbench.rules.limits.limit import Limit
from underbench.rules.physics.exposure import Exposure
from underbench.rules.weather.hourly import Array
from underbench.rules.weather.spread import Site

# Hours in a day above the limit before roots are hurt, or die: five to six hours at 40-42 °C in
# the chamber work (Martin, Ingram & Nell 1989, read in abstract); harm asked a little sooner.
HOT_ROOT_HOURS = (3, 6)
# Leaves were harmless after four hours at 35 °C and hurt at 40-45 °C (Hauck et al. 2025, read in
# abstract): an hour is not enough.
HOT_LEAF_HOURS = (2, 2)


def judge(exposure: Exposure, bearings: Sequence[Bearing], site: Site) -> list[Judged]:
    """Judge all hazards that ask for shade; arrays (tree, member, hour) of one span."""
    return [
        _hot(Hazard.SCORCH, exposure.leaf_c, [b.scorch for b in bearings], site, HOT_LEAF_HOURS),
        _hot(
            Hazard.HOT_ROOTS,
            exposure.shell_c,
            [b.hot_roots for b in bearings],
            site,
            HOT_ROOT_HOURS,
        ),
        _first_sun(exposure, [b.first_sun for b in bearings]),
    ]


def _hot(
    hazard: Hazard,
    value: Array,
    limits: Sequence[Limit | None],
    site: Site,
    hours: tuple[int, int],
) -> Judged:
    """Heat held for so many ``hours`` of the day before it harms, and before it kills."""
    harm, kill = thresholds(limits)
    # What is not known of a limit is told in the value: the two never contradict each other.
    value, (hurt_after, dead_after) = value - site.limit_shift_k[None, :, None], hours
    return Judged(
        hazard,
        Action.SHADE,
        value,
        harm=held(value > harm, hurt_after),
        kill=held(value > kill, dead_after),
        limits=limits,
        low=False,
    )


def _first_sun(exposure: Exposure, limits: Sequence[Limit | None]) -> Judged:
    harm, kill = thresholds(limits)
    sun = exposure.sun_wm2
    return Judged(Hazard.FIRST_SUN, Action.SHADE, sun, sun >= harm, sun >= kill, limits, low=False)
