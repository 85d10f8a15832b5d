"""How far tops are from midwinter hardiness: the calendar first, the days' warmth upon it.

Each day has a share of hardiness that its date and its mean temperature would bring if they lasted,
and tops follow it over some eight days. Leinonen, Repo, Hänninen & Burr 1995 (abstract) have this
form. For conifers it is that of Leinonen 1996 for *Pinus sylvestris*, in temperature and night
length, its figures from memory; no open series was at hand to check it.

For broadleaves a calendar stands for the night's length, and a warmer day takes so much from it.
Both were fitted, shrunk towards the calendar alone, to deaths of buds measured in two places:
'Merlot', 'Riesling' and 'Chardonnay' at Prosser for trees that open late, sweet cherry at
Summerland for those that open early (Houghton et al. 2023). `tests/bench/hardening.py` names the
data and prints the errors beside a plain calendar's.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from enum import IntEnum
from typing import Final

import numpy as np
from numpy.typing import NDArray

from underbench.rules.plants.species import HardinessClass, Kind
from underbench.rules.plants.stages import in_spring, rested, usual
from underbench.rules.weather.hourly import Array
from underbench.rules.weather.sun import daylight_hours

FOLLOWS_SHARE: Final = 0.12  # of the way to its day's share that a top goes in a day; fitted


class Hardens(IntEnum):
    """How a top hardens and softens: as which trees that were measured."""

    LATE = 0
    EARLY = 1
    CONIFER = 2


EARLY_LEAF_OUT_CD: Final = 120.0  # broadleaves that open by this warmth are early; judgement


@dataclass(frozen=True, slots=True)
class Course:
    """The share of hardiness missing on ``on`` (month, day) when days have 5 °C, and what a warmer
    kelvin adds to it on ``warmer_on``."""

    on: tuple[tuple[int, int], ...]
    at_5c: tuple[float, ...]
    warmer_on: tuple[tuple[int, int], ...]
    per_k: tuple[float, ...]


_ON = ((9, 1), (10, 1), (11, 1), (11, 16), (12, 1), (1, 1), (2, 1), (3, 1), (3, 16), (4, 1))
_WARMER_ON = ((9, 1), (11, 1), (1, 1), (3, 1), (4, 16))
# In kelvin 1 is 23.9 K for vines (the range of 'Cabernet Sauvignon' in Ferguson et al. 2014) and
# 12.5 K for cherries, from a cold midwinter to swelling buds.
LATE: Final = Course(
    (*_ON, (4, 16), (5, 1), (8, 1)),
    (0.69, 0.51, 0.32, 0.13, 0.13, 0.09, 0.15, 0.20, 0.34, 0.52, 0.79, 1.0, 1.0),
    _WARMER_ON,
    (0.0, 0.018, 0.008, 0.028, 0.0),
)
EARLY: Final = Course(
    (*_ON, (8, 1)),
    (1.0, 0.71, 0.51, 0.33, 0.22, 0.11, 0.29, 0.70, 1.0, 1.0, 1.0),
    _WARMER_ON,
    (0.0, 0.035, 0.016, 0.054, 0.0),
)
RESTING: Final = (1, 1)  # its figure holds in spring too until buds have had their chill

# Leinonen 1996, Annals of Botany 78: hardiness that temperature and night add between these ends,
# K.
COLD_C, COLD_ADDS_K = (10.0, -16.0), 47.0
NIGHT_H, NIGHT_ADDS_K = (10.0, 16.0), 18.5
# A class's own figure is reached in a winter of 0 °C; judgement.
FULL_K: Final = NIGHT_ADDS_K + COLD_ADDS_K * COLD_C[0] / (COLD_C[0] - COLD_C[1])

# From here on above what days of 0 °C would leave, warm days count as having set the sap moving. A
# fortnight at 7 °C or a week at 9 does it; judgement.
SAP_SHARE: Final = 0.125

# The usual share where no days are known, at the middle of a month: the calendar's 5 K of a range
# of some 15 K (design value of hardiness research §3.3), tender through the summer; judgement.
USUAL_ON = ((2, 15), (3, 15), (5, 1), (9, 1), (11, 15), (12, 15))
USUAL_SHARE = (0.05, 0.33, 1.0, 0.62, 0.33, 0.05)


def hardens_like(limits: HardinessClass) -> Hardens:
    """Return how the tops of a class harden."""
    if limits.kind in (Kind.CONIFER_EVERGREEN, Kind.CONIFER_DECIDUOUS):
        return Hardens.CONIFER
    early = limits.leaf_out is not None and limits.leaf_out.value <= EARLY_LEAF_OUT_CD
    return Hardens.EARLY if early else Hardens.LATE


def advance_faded(
    faded: Array,
    mean_c: Array,
    chill_days: Array,
    day: date,
    latitude: float,
    hardens: NDArray[np.intp],
) -> Array:
    """Return the share of hardiness missing after ``day``; arrays (tree,).

    ``faded`` is 0 in deepest midwinter and 1 where the tree bears no more than a swelling bud does.
    ``mean_c`` is the day's mean air at the tree, °C; ``chill_days`` is its clock's, worth 1 each
    (`stages.chill_worth`); ``hardens`` is
    each tree's :class:`Hardens`.
    """
    lasting = _lasting(mean_c, chill_days, day, latitude, hardens)
    return np.asarray(faded + FOLLOWS_SHARE * (lasting - faded))


def _lasting(
    mean_c: Array, chill_days: Array, day: date, latitude: float, hardens: NDArray[np.intp]
) -> Array:
    """The share that days like this one would leave missing if they lasted."""
    chilled = rested(chill_days, day, latitude) | ~np.array(in_spring(day, latitude))
    shares = [_broadleaf(course, mean_c, chilled, day, latitude) for course in (LATE, EARLY)]
    return np.asarray(np.choose(hardens, [*shares, _conifer(mean_c, day, latitude)]))


def _broadleaf(
    course: Course, mean_c: Array, chilled: NDArray[np.bool_], day: date, latitude: float
) -> Array:
    per_k = usual(course.warmer_on, course.per_k, day, latitude)
    at_rest = course.per_k[course.warmer_on.index(RESTING)]
    warmer = np.where(chilled, per_k, min(per_k, at_rest)) * (mean_c - 5.0)
    return np.clip(usual(course.on, course.at_5c, day, latitude) + warmer, 0.0, 1.0)


def _conifer(mean_c: Array, day: date, latitude: float) -> Array:
    night_h = 24.0 - float(daylight_hours(day.timetuple().tm_yday, latitude))
    cold = np.clip((COLD_C[0] - mean_c) / (COLD_C[0] - COLD_C[1]), 0.0, 1.0)
    dark = np.clip((night_h - NIGHT_H[0]) / (NIGHT_H[1] - NIGHT_H[0]), 0.0, 1.0)
    missing: Array = 1.0 - (COLD_ADDS_K * cold + NIGHT_ADDS_K * dark) / FULL_K
    return np.clip(missing, 0.0, 1.0)


def sap_moves(
    faded: Array, chill_days: Array, day: date, latitude: float, hardens: NDArray[np.intp]
) -> NDArray[np.bool_]:
    """Return whether warm days since midwinter have set the sap moving in bare wood."""
    waking = rested(chill_days, day, latitude) & in_spring(day, latitude)
    cold = _lasting(np.zeros_like(faded), chill_days, day, latitude, hardens)
    return np.asarray(waking & (faded - cold >= SAP_SHARE))


def usual_faded(day: date, latitude: float) -> float:
    """Return the share of hardiness usually missing on ``day``, if no days before are known."""
    return usual(USUAL_ON, USUAL_SHARE, day, latitude)
