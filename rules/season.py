"""Where a tree is in its year: warmth and chill of the days gone by, and the stage they mean.

Dates are northern; south of the equator everything lies half a year later.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from math import exp, inf

import numpy as np
from numpy.typing import NDArray

from underbench.rules.journal import Stage
from underbench.rules.species import HardinessClass, Kind

Array = NDArray[np.float64]

# Days are counted as if every month had 31 of them: whole numbers, and half a year is six months.
MONTH = 31
YEAR = 12 * MONTH


def _reckon(month: int, day: int) -> int:
    return MONTH * (month - 1) + day - 1


# Base of thermal time and limit of a chill day: Cannell & Smith 1983, J. Appl. Ecol. 20:951–963
# (abstract), who count chill from 1 November. Warmth needed falls off exponentially with chill
# days, towards the figure in species.toml. The rate is common practice, no source; it is kept
# gentler than any fit read of, so that it errs on the early side.
BASE_C = 5.0
CHILL_FROM = _reckon(11, 1)
CHILL_FADE_DAYS = 40.0
FULLY_CHILLED_DAYS = 120.0

BUD_SWELL_SHARE = 0.6  # of the warmth to leaf-out; common practice, no source
# Leaves reach full size over 200 °C·d (LPJ-GUESS v4.1, europe.ins, phengdd5ramp); 50 more to
# harden is common practice, no source.
EXPANSION_CD = 200.0
HARDENING_CD = EXPANSION_CD + 50.0

# Thermal sums are known to some 15 %: frost is judged as if leaves opened this much sooner.
EARLY_EDGE = 0.85

_DECIDUOUS = (
    Stage.DORMANT,
    Stage.BUD_SWELL,
    Stage.LEAFING_OUT,
    Stage.HARDENED,
    Stage.COLOURING,
)
_EVERGREEN = (Stage.DORMANT, Stage.EXTENDING, Stage.HARDENED)

STAGES: Mapping[Kind, tuple[Stage, ...]] = {
    Kind.BROADLEAF_DECIDUOUS: _DECIDUOUS,
    Kind.CONIFER_DECIDUOUS: _DECIDUOUS,
    Kind.BROADLEAF_EVERGREEN: _EVERGREEN,
    Kind.CONIFER_EVERGREEN: _EVERGREEN,
    Kind.TROPICAL: (Stage.HARDENED,),
}
"""The stages each kind goes through, in the order of its year."""

# Common practice, no source. For leaf fall the calendar does better than any model: DP3 paper 2025,
# Geosci. Model Dev. 18:6963.
NOTHING_STIRS_BEFORE = _reckon(1, 15)
OPEN_BY = _reckon(6, 10)
COLOURING_FROM = _reckon(10, 10)
DORMANT_FROM = _reckon(11, 15)

# Tops and roots harden late and lose it early: 5 K tenderer in October, November and March than in
# midwinter (design value of hardiness research §3.3; order after Lindström & Stattin 1994, Can. J.
# For. Res. 24:2477–2484). A month's value holds at its middle, straight lines between.
UNHARDENED_DAYS = (_reckon(2, 15), _reckon(3, 15), _reckon(11, 15), _reckon(12, 15))
UNHARDENED_K = (0.0, 5.0, 5.0, 0.0)


@dataclass(frozen=True, slots=True)
class Clock:
    """What the season has brought each tree up to and including the day ``through``.

    ``warmth_cd``: °C·d of daily mean air above 5 °C since 1 January; ``chill_days``: days with a
    mean of 5 °C or less since 1 November. Both of one shape, (tree,).
    """

    through: date
    warmth_cd: Array
    chill_days: Array


@dataclass(frozen=True, slots=True)
class Seen:
    """A stage as the keeper saw it on ``day``, and the tree's ``warmth_cd`` at the end of it."""

    stage: Stage
    day: date
    warmth_cd: float


def start_clock(through: date, trees: int) -> Clock:
    """Return a clock for ``trees`` trees that has counted no warmth up to ``through``.

    The chill before is unknown; they are taken as fully chilled, which opens buds soonest.
    """
    return Clock(through, np.zeros(trees), np.full(trees, FULLY_CHILLED_DAYS))


def advance_clock(clock: Clock, day: date, mean_c: Array, latitude: float) -> Clock:
    """Return the clock after ``day``, whose mean air at each tree was ``mean_c`` (°C, (tree,)).

    Days must come in order and a mean be known: raises ValueError otherwise.
    """
    if day <= clock.through:
        raise ValueError(f"{day} is already counted: the clock stands at {clock.through}")
    if np.isnan(mean_c).any():
        raise ValueError(f"no mean temperature for {day}")
    before, now = _days(clock.through, latitude), _days(day, latitude)
    same_season = before // YEAR == now // YEAR
    same_winter = (before - CHILL_FROM) // YEAR == (now - CHILL_FROM) // YEAR
    return Clock(
        through=day,
        warmth_cd=clock.warmth_cd * same_season + np.maximum(mean_c - BASE_C, 0.0),
        chill_days=clock.chill_days * same_winter + (mean_c <= BASE_C),
    )


def _days(day: date, latitude: float) -> int:
    """Reckoned days since 1 January of the year 0, half a year earlier in the south."""
    return YEAR * day.year + _reckon(day.month, day.day) - (YEAR // 2 if latitude < 0 else 0)


def stage_of(
    limits: HardinessClass,
    day: date,
    latitude: float,
    warmth_cd: float,
    seen: Seen | None = None,
    edge: float = 1.0,
    *,
    chill_days: float = FULLY_CHILLED_DAYS,
) -> Stage:
    """Return the stage a tree has reached on ``day``.

    ``warmth_cd`` and ``chill_days`` are its clock's, of the days before. Without a sighting buds
    swell at 0.6 of the warmth its leaves need to open and the leaves harden 250 °C·d after
    opening, within the calendar above. ``seen`` wins from its day to the end of its season:
    warmth and calendar then count on from there. A sighting of a stage its kind does not have is
    passed over.

    ``edge`` below 1 opens the buds after so much less warmth, and hardens the leaves no sooner:
    pass EARLY_EDGE to judge frost.
    """
    order = STAGES[limits.kind]
    if limits.leaf_out is None:
        return order[0]
    now = _days(day, latitude)
    start, since, gained_cd = Stage.DORMANT, now // YEAR * YEAR, warmth_cd
    if seen is not None and seen.stage in order and since <= _days(seen.day, latitude) <= now:
        start, since = seen.stage, _days(seen.day, latitude)
        gained_cd = warmth_cd - seen.warmth_cd
    elif now % YEAR < NOTHING_STIRS_BEFORE:
        return Stage.DORMANT
    due = [stage for stage, falls_on in _calendar(order) if since % YEAR < falls_on <= now % YEAR]
    at_rest = start is Stage.DORMANT and since % YEAR >= OPEN_BY  # leaves fell early
    if at_rest or Stage.DORMANT in due:
        return Stage.DORMANT
    leaf_out_cd = limits.leaf_out.value * (1.0 + exp(-chill_days / CHILL_FADE_DAYS))
    warmed = _by_warmth(order, start, gained_cd, leaf_out_cd, edge)
    return max([warmed, *due], key=order.index)


def _calendar(order: tuple[Stage, ...]) -> list[tuple[Stage, int]]:
    """What the calendar alone brings: the stage and the reckoned day of the year."""
    opening = order[order.index(Stage.HARDENED) - 1]
    colouring = [(Stage.COLOURING, COLOURING_FROM)] if Stage.COLOURING in order else []
    return [(opening, OPEN_BY), *colouring, (Stage.DORMANT, DORMANT_FROM)]


def _by_warmth(
    order: tuple[Stage, ...], start: Stage, gained_cd: float, leaf_out_cd: float, edge: float
) -> Stage:
    """Return the last stage that ``gained_cd`` of warmth since ``start`` leads to."""
    needed_cd = {
        Stage.DORMANT: 0.0,
        Stage.BUD_SWELL: BUD_SWELL_SHARE * leaf_out_cd,
        Stage.LEAFING_OUT: leaf_out_cd,
        Stage.EXTENDING: leaf_out_cd,
        Stage.HARDENED: leaf_out_cd + HARDENING_CD,
        Stage.COLOURING: inf,
    }
    reached = start
    for stage in order[order.index(start) + 1 :]:
        share = 1.0 if stage is Stage.HARDENED else edge
        if gained_cd >= share * (needed_cd[stage] - needed_cd[start]):
            reached = stage
    return reached


def unhardened_k(day: date, latitude: float) -> float:
    """Return the K by which dormant tops and mature roots are tenderer than in midwinter.

    To add to the midwinter limits of both; it never makes them tenderer than young roots, or than
    an evergreen's ripe leaf.
    """
    day_of_year = _days(day, latitude) % YEAR
    return float(np.interp(day_of_year, UNHARDENED_DAYS, UNHARDENED_K))
