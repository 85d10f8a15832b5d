"""Where a tree is in its year: warmth and chill of the days gone by, and the stage they mean.

Dates are northern; south of the equator everything lies half a year later.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from math import exp, inf

import numpy as np
from numpy.typing import NDArray

from underbench.rules.garden.journal import Stage
from underbench.rules.plants.species import HardinessClass, Kind

Array = NDArray[np.float64]

# Days are counted as if every month had 31 of them: whole numbers, and half a year is six months.
DAY = timedelta(days=1)
MONTH = 31
YEAR = 12 * MONTH


def _reckon(month: int, day: int) -> int:
    return MONTH * (month - 1) + day - 1


# Base of thermal time and limit of a chill day: Cannell & Smith 1983, J. Appl. Ecol. 20:951–963
# (abstract); they count chill from 1 November. The warmth needed falls off exponentially with chill
# days; the figure in species.toml holds at FULLY_CHILLED_DAYS. The rate was fitted to leaf-out seen
# by cameras in 63 American woods with sites left out (tests/bench/phenology.py), and took 16 days
# from the error for a German cherry orchard that the fit had not seen.
BASE_C = 5.0
CHILL_FROM = _reckon(11, 1)
CHILL_FADE_DAYS = 80.0
FULLY_CHILLED_DAYS = 120.0
# Less and more chill than these shares tell no more. Ninety-five of a hundred seasons of those
# woods had the lower one, few the upper.
CHILL_SHARES = (0.5, 1.5)
# Days of chill after which warmth moves a bud at all: some 1,000 hours, the trade's round figure
# (common practice, no source); fewer in a kind that needs less. Buds rest until the chill is
# counted anew each autumn.
RESTED_CHILL_DAYS = 40.0
AUTUMN_FROM = _reckon(9, 1)

# A tree seen dormant has at most this share of the warmth to its next stage; judgement.
STILL_DORMANT_SHARE = 0.9
BUD_SWELL_SHARE = 0.6  # of the warmth to leaf-out; common practice, no source
# Leaves reach full size over 200 °C·d (LPJ-GUESS v4.1, europe.ins, phengdd5ramp). Another 50 to
# harden are common practice, no source.
EXPANSION_CD = 200.0
HARDENING_CD = EXPANSION_CD + 50.0

# Thermal sums are known to some 15 %, so frost is judged as if leaves opened this much sooner.
EARLY_EDGE, LATE_EDGE = 0.85, 1.15

# One look at a tree says little: only half of the deviation counts as its own pace; judgement.
LEARNT_SHARE = 0.5
SEEN_SOON_CD = 0.75 * EXPANSION_CD  # larger leaves are no news of the day they opened; judgement
PACES = (0.5, 2.0)  # a tree farther off was mistaken for another; judgement

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

# Roots harden late and soften early. They are 5 K tenderer in October, November and March than in
# midwinter (design value of hardiness research §3.3; order after Lindström & Stattin 1994, Can. J.
# For. Res. 24:2477–2484). A month's value holds at its middle; straight lines join the months. Tops
# follow the days themselves: see hardening.py.
UNHARDENED_DAYS = (_reckon(2, 15), _reckon(3, 15), _reckon(11, 15), _reckon(12, 15))
UNHARDENED_K = (0.0, 5.0, 5.0, 0.0)


@dataclass(frozen=True, slots=True)
class Clock:
    """What the season has brought each tree up to and including the day ``through``.

    ``warmth_cd``: °C·d of daily mean air above 5 °C since 1 January; ``chill_days``: days with a
    mean of 5 °C or less since 1 November. Both are (tree,).
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


def advance_clock(clock: Clock, day: date, mean_c: Array, latitude: float) -> Clock:
    """Return the clock after ``day``, whose mean air at each tree was ``mean_c`` (°C, (tree,)).

    Raises ValueError when days come out of order or a mean is unknown.
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


def chill_worth(limits: HardinessClass) -> float:
    """Return what a day of chill is worth to a kind: 1 where it needs FULLY_CHILLED_DAYS."""
    return FULLY_CHILLED_DAYS / limits.chill.value if limits.chill else 1.0


def rested(chill_days: Array, day: date, latitude: float) -> NDArray[np.bool_]:
    """Return whether buds had the chill that ends their rest, so that warmth moves them.

    ``chill_days`` are worth 1 each (`chill_worth`).
    """
    today = _days(day, latitude) % YEAR
    return (chill_days >= RESTED_CHILL_DAYS) & (not AUTUMN_FROM <= today < CHILL_FROM)


def in_spring(day: date, latitude: float) -> bool:
    """Return whether ``day`` is from 1 January (1 July in the south) until every tree is open."""
    return _days(day, latitude) % YEAR < OPEN_BY


def last_autumn(day: date, latitude: float) -> date:
    """Return the latest first of September (March in the south) up to ``day``."""
    month = 9 if latitude >= 0 else 3
    return date(day.year if day.month >= month else day.year - 1, month, 1)


@lru_cache(maxsize=4096)  # every tree asks the calendar on every day
def usual(on: Sequence[tuple[int, int]], values: Sequence[float], day: date, lat: float) -> float:
    """Return what a calendar of northern (month, day) and ``values`` says for ``day``."""
    days = [_reckon(*one) for one in on]
    return float(np.interp(_days(day, lat) % YEAR, days, values, period=YEAR))


def stage_of(
    limits: HardinessClass,
    day: date,
    latitude: float,
    warmth_cd: float,
    seen: Seen | None = None,
    edge: float = 1.0,
    *,
    chill_days: float = FULLY_CHILLED_DAYS,
    pace: float = 1.0,
) -> Stage:
    """Return the stage a tree has reached on ``day``.

    ``warmth_cd`` and ``chill_days`` are its clock's, of the days before. Without a sighting, buds
    swell at 0.6 of the warmth that opens the leaves, and leaves harden 250 °C·d after opening, both
    within the calendar above. ``seen`` wins from its day to the end of its season; warmth and
    calendar count on from there. A sighting of a stage that its kind does not have is ignored.

    ``pace`` is the warmth that this tree needs over what its kind needs, as sightings of earlier
    years taught (`learnt_pace`). ``edge`` below 1 opens the buds after so much less warmth and
    hardens the leaves no sooner; pass EARLY_EDGE to judge frost.
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
    leaf_out_cd = pace * _leaf_out_cd(limits, limits.leaf_out.value, chill_days)
    if seen is not None and start is Stage.DORMANT and since == _days(seen.day, latitude):
        share = BUD_SWELL_SHARE if Stage.BUD_SWELL in order else 1.0
        gained_cd += min(seen.warmth_cd, STILL_DORMANT_SHARE * edge * share * leaf_out_cd)
    warmed = _by_warmth(order, start, gained_cd, leaf_out_cd, edge)
    return max([warmed, *due], key=order.index)


def _leaf_out_cd(limits: HardinessClass, chilled_cd: float, chill_days: float) -> float:
    worth = chill_worth(limits)
    least, most = CHILL_SHARES
    counted = min(max(chill_days * worth / FULLY_CHILLED_DAYS, least), max(most / worth, 1.0))
    return chilled_cd * exp((1.0 - counted) * FULLY_CHILLED_DAYS / CHILL_FADE_DAYS)


def learnt_pace(
    limits: HardinessClass, seen: Seen, chill_days: float, pace: float, lat: float
) -> float:
    """Return a tree's pace after a sighting in spring; ``pace`` is its pace before.

    A sighting says that the warmth so far was enough for its stage and not for the next. It teaches
    only where that contradicts what was expected, and then by half (in ratio). Open leaves that are
    seen within SEEN_SOON_CD of the expected warmth count as seen on their day. A keeper who looks
    later than that teaches nothing. Other stages and seasons teach nothing.
    """
    order, today = STAGES[limits.kind], _days(seen.day, lat) % YEAR
    if limits.leaf_out is None or not NOTHING_STIRS_BEFORE <= today < OPEN_BY:
        return pace
    opening_cd = _leaf_out_cd(limits, limits.leaf_out.value, chill_days)
    needed_cd = {Stage.DORMANT: 0.0, order[order.index(Stage.HARDENED) - 1]: opening_cd}
    if Stage.BUD_SWELL in order:
        needed_cd[Stage.BUD_SWELL] = BUD_SWELL_SHARE * opening_cd
    if seen.stage not in needed_cd or seen.warmth_cd <= 0.0:
        return pace
    later = [cd for cd in needed_cd.values() if cd > needed_cd[seen.stage]]
    least = seen.warmth_cd / min(later) if later else 0.0
    most = seen.warmth_cd / needed_cd[seen.stage] if needed_cd[seen.stage] else inf
    if not later and seen.warmth_cd - pace * opening_cd <= SEEN_SOON_CD:
        least = most
    shown = min(max(pace, least), most)
    return float(np.clip(pace * (shown / pace) ** LEARNT_SHARE, *PACES))


@dataclass(frozen=True, slots=True)
class StageRange:
    """The stage that judging uses, and what is likely.

    ``stage`` is at the early edge. ``coming`` is the next stage, or ``stage`` itself while it is
    not likely yet. ``first``, ``likely`` and ``last`` are the days on which it is reached at the
    early edge, in the middle and at the late edge; None beyond the days known ahead.
    """

    stage: Stage
    coming: Stage | None
    first: date | None
    likely: date | None
    last: date | None


def stage_range(
    limits: HardinessClass,
    day: date,
    latitude: float,
    warmth_cd: float,
    seen: Seen | None,
    means_c: Sequence[float],
    *,
    chill_days: float,
    pace: float,
) -> StageRange:
    """Return the stage on ``day`` and when the coming one is reached, as a range of days.

    ``means_c`` is the daily mean air of ``day`` and the days after, forecast or usual, °C.
    """

    def on(ahead: int, edge: float) -> Stage:
        gained_cd = sum(max(mean_c - BASE_C, 0.0) for mean_c in means_c[:ahead])
        then = day + ahead * DAY
        season = _days(then, latitude) // YEAR - _days(day, latitude) // YEAR
        warmth = 0.0 if season else warmth_cd + gained_cd
        return stage_of(
            limits, then, latitude, warmth, seen, edge, chill_days=chill_days, pace=pace
        )

    edges = (EARLY_EDGE, 1.0, LATE_EDGE)
    runs = [[on(ahead, edge) for ahead in range(len(means_c) + 1)] for edge in edges]
    stage = runs[0][0]
    ahead = [after for after in runs[0] if after is not stage]
    coming = stage if any(run[0] is not stage for run in runs) else next(iter(ahead), None)
    reached = [next((i for i, one in enumerate(run) if one is coming), None) for run in runs]
    first, likely, last = (None if i is None else day + i * DAY for i in reached)
    return StageRange(stage, coming, first, likely, last)


def _calendar(order: tuple[Stage, ...]) -> list[tuple[Stage, int]]:
    """The stages that the calendar alone brings, each with its reckoned day of the year."""
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
    """Return the K by which mature roots are tenderer than in midwinter.

    Add it to their midwinter limit; it never makes them tenderer than young roots.
    """
    day_of_year = _days(day, latitude) % YEAR
    return float(np.interp(day_of_year, UNHARDENED_DAYS, UNHARDENED_K))
