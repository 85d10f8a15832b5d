"""Which of the coming days suit which work on a tree, and why the others do not.

A tree's own year comes first (`rules.planning.work_season`); the weathers ahead, open aftercare and
earlier jobs come on top. Common practice, no source, unless said.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta

import numpy as np
from numpy.typing import NDArray

from underbench.rules.garden.inventory import ContainerKind
from underbench.rules.garden.journal import Stage, TreeAt, Work
from underbench.rules.garden.works import WorkKind, works_that
from underbench.rules.hazards.root_frost import ROOT_FROST
from underbench.rules.limits.aftercare import care_of, cuts_roots
from underbench.rules.limits.condition import Condition
from underbench.rules.planning.misgivings import Misgiving
from underbench.rules.planning.past_years import Usual, usual_last_frost
from underbench.rules.planning.work_season import (
    Against,
    DryWork,
    Planned,
    Suit,
    Why,
    out_of_season,
)
from underbench.rules.plants.species import HardinessClass, Kind, Species
from underbench.rules.weather.hourly import Array

# The works looked at when none is named; the others follow the first of their kind.
USUAL_WORKS: tuple[Planned, ...] = (*works_that(lambda does: does.usual), *DryWork)
PLANNED: tuple[Planned, ...] = (*works_that(lambda does: does.planned), *DryWork)
MAJOR = works_that(lambda does: does.major)
# Roots cut in autumn and those cut in the next spring are one year's job.
HALF_YEAR = timedelta(days=182)
LAYER_WEEKS = 6  # 6 to 10 weeks to roots (hardiness research §6.2); look from the sixth
SEVER_FREE_WEEKS = 8
SPRING_DAYS = 180  # so long before the last frost it is spring's
SEVER_FROST_SHARE = 0.2  # of the years known; above this share it is not offered; judgement
# The edge of a root ball stays so much warmer than a night's lowest air; judgement. A thin pot on a
# bench stays less, a box on the ground more.
BALL_OVER_AIR_K = 2.0
TROPICAL_NIGHTS_C = (12.0, 15.0)  # below: no root work on a tropical; below: not ideal
HOT_DAY_C = 30.0
SCORCHING_C = 35.0  # bare bark and shoots burn; judgement
HARD_FROST_C = -5.0  # the edge of a large cut or ring dies back; judgement
BAG_SUN_C = 12.0  # on warmer days a bag stands in shade (hardiness research, bags)
RENEW_POTS = (WorkKind.REPOT, WorkKind.SLIP_POT)
STRIPPED = (Kind.BROADLEAF_DECIDUOUS, Kind.TROPICAL)
WET_MM = 0.5  # in a day; more wets a cut or dead wood
LIKELY = 0.7  # share of the weathers that makes a dry spell good; half of it is worth a try
TRY = 0.5


@dataclass(frozen=True, slots=True)
class Day:
    """A coming day at a tree where it stands; arrays (member,).

    ``root_c`` is the coldest shell of the root ball from the day's morning through the second night
    after; ``later_root_c`` is the coldest from then on, as far as is known (NaN: nothing).
    ``low_c`` and ``high_c`` are the air of that day and night; ``later_low_c`` is the coldest air
    from its morning to the end of what is known. ``rain_24_mm``, ``rain_48_mm``, ``low_24_c`` and
    ``low_48_c`` are rain and coldest air in so many hours from its morning on, or from now on for
    today (NaN where not known so far).
    """

    day: date
    condition: Condition
    root_c: Array
    later_root_c: Array
    low_c: Array
    high_c: Array
    later_low_c: Array
    rain_24_mm: Array
    rain_48_mm: Array
    low_24_c: Array
    low_48_c: Array


@dataclass(frozen=True, slots=True)
class Verdict:
    """How one day suits one work; ``against`` is the gravest objection, None if there is none."""

    day: date
    stage: Stage
    against: Against | None

    @property
    def suit(self) -> Suit:
        """How the day suits."""
        return Suit.GOOD if self.against is None else self.against.suit

    @property
    def in_season(self) -> bool:
        """Whether the tree's own year allows it, whatever the weather and earlier works say."""
        return self.against is None or not self.against.seasonal or self.suit is not Suit.NO


@dataclass(frozen=True, slots=True)
class Planning:
    """A tree for which work is planned.

    ``act_from`` is the chance of frost at the roots from which no root work is offered. ``usual``
    is what earlier years brought, None where none is known; ``elevation_m`` then tells how late the
    frosts go on. ``second_job`` allows one more major
    job in the same year.
    """

    species: Species
    standing: TreeAt
    latitude: float
    act_from: float
    usual: Usual | None = None
    second_job: bool = False
    elevation_m: float = 0.0


def inapplicable(work: Planned, tree: Planning) -> Why | Misgiving | None:
    """Return why a work makes no sense for a tree in any season; None if it does."""
    if isinstance(work, DryWork):
        return None
    return _lacks(work, tree.standing) or _never(work, tree.species.limits)


def _lacks(work: WorkKind, at: TreeAt) -> Why | None:
    """What the work needs, or must not find, on the tree or around its roots."""
    in_ground = at.tree.container.kind is ContainerKind.BED
    if work is WorkKind.SEVER_LAYER and at.layer is None:
        return Why.NO_LAYER
    if work is WorkKind.START_LAYER and at.layer is not None:
        return Why.LAYER_ON
    if work is WorkKind.BAG and at.bag is not None:
        return Why.BAG_ON
    if work is WorkKind.COLLECT and not in_ground:
        return Why.IN_CONTAINER
    return Why.IN_GROUND if work in RENEW_POTS and in_ground else None


def _never(work: WorkKind, limits: HardinessClass) -> Why | Misgiving | None:
    if work is WorkKind.BAG and not (limits.bag.allowed and limits.leafless):
        return Misgiving.BAG_NEVER
    if work is WorkKind.CHOP and not limits.hard_chop.ever:
        return Misgiving.CHOP_NEVER
    if work is WorkKind.DEFOLIATE and limits.kind not in STRIPPED:
        return Misgiving.DEFOLIATE_NEVER
    conifer = limits.kind in (Kind.CONIFER_DECIDUOUS, Kind.CONIFER_EVERGREEN)
    return Why.NOT_DIVIDED if work is WorkKind.DIVIDE and conifer else None


def verdicts(work: Planned, tree: Planning, days: Sequence[Day]) -> list[Verdict]:
    """Return how each of ``days`` suits ``work``, in their order."""
    return [
        Verdict(day.day, day.condition.stage, gravest(_against(work, tree, day))) for day in days
    ]


def gravest(found: Iterator[Against]) -> Against | None:
    """Return the first objection that rules a day out, or else the first of all."""
    several = list(found)
    out = (one for one in several if one.suit is Suit.NO)
    return next(out, several[0] if several else None)


def _against(work: Planned, tree: Planning, day: Day) -> Iterator[Against]:
    """Objections to a day: the tree's year first, then earlier works, then the weather."""
    if isinstance(work, DryWork):
        yield from _dry(day)
        return
    never = inapplicable(work, tree)
    if never is not None:
        yield Against(never, seasonal=True)
        return
    stage = day.condition.stage
    yield from out_of_season(work, tree.species.limits, stage, day.day, tree.latitude)
    if work is WorkKind.SEVER_LAYER:
        yield from _severing(tree, day)
    yield from _earlier(work, tree, day)
    yield from _root_weather(work, tree, day) if work.does.opens_pot else _air(work, day)


def _air(work: WorkKind, day: Day) -> Iterator[Against]:
    """What the air of the day and its night has against work on branches and leaves."""
    low_c, high_c = day.low_c, day.high_c
    if work is WorkKind.WIRE:
        yield from _some(low_c < 0, Why.BRITTLE, low_c, Suit.POOR, TRY)
    if work.does.cuts_back or work is WorkKind.START_LAYER:
        lows_c = day.later_low_c  # a wound is as open in the nights that follow
        yield from _some(lows_c < HARD_FROST_C, Why.AIR_FROST, lows_c, Suit.POOR, TRY)
    if work.does.cuts_back or work.does.strips or work is WorkKind.START_LAYER:
        yield from _some(high_c > SCORCHING_C, Why.HOT, high_c, Suit.POOR, TRY, low=False)
    if work is WorkKind.BAG:
        yield from _some(high_c > BAG_SUN_C, Why.BAG_SUN, high_c, Suit.POOR, TRY, low=False)


def _severing(tree: Planning, day: Day) -> Iterator[Against]:
    """Frost in the eight weeks that first roots need: by the forecast, then by earlier years."""
    if tree.species.limits.kind is Kind.TROPICAL:
        return
    lows_c = day.later_low_c
    yield from _some(lows_c < 0, Why.FROST_WITHIN_WEEKS, lows_c, Suit.NO, tree.act_from)
    share = tree.usual.frost_share(day.day, SEVER_FREE_WEEKS) if tree.usual else None
    if share is None:
        yield Against(Why.YEARS_UNKNOWN, Suit.POOR, seasonal=True)
    elif share > 0:
        suit = Suit.NO if share > SEVER_FROST_SHARE else Suit.POOR
        yield Against(Why.FROST_WITHIN_WEEKS, suit, chance=share, seasonal=True)


def _earlier(work: WorkKind, tree: Planning, day: Day) -> Iterator[Against]:
    care, at = day.condition.aftercare, tree.standing
    if work.does.opens_pot and care.roots is not None:
        yield Against(Why.ROOTS_OPEN, work=care.roots)
    if work.does.on_roots and at.layer is not None:
        yield Against(Why.LAYER_ON, work=at.layer)
    if (work.does.opens_pot or work.does.strips) and care.bag is not None:
        yield Against(Why.BAG_ON)
    if work is WorkKind.SEVER_LAYER and at.layer is not None:
        age = day.day - at.layer.at.date()
        if age < timedelta(weeks=LAYER_WEEKS):
            yield Against(Why.LAYER_YOUNG, value=age.days / 7, work=at.layer)
    if care.roots is not None and (work.does.cuts_back or work.does.strips):
        yield Against(Why.ROOTS_OPEN, work=care.roots)
    if care.roots is not None and work in (WorkKind.WIRE, WorkKind.START_LAYER):
        yield Against(Why.ROOTS_OPEN, Suit.POOR, work=care.roots)
    major = at.last(*MAJOR) if work.does.major and work is not WorkKind.SEVER_LAYER else None
    if major and not tree.second_job and _one_years(major, day.day, tree.latitude):
        yield Against(Why.SECOND_JOB, work=major)


def _one_years(major: Work, day: date, latitude: float) -> bool:
    """Whether a work on ``day`` falls into the same growing year as an earlier one. A growing year
    begins on 1 January, in the south on 1 July."""
    months_on = 0 if latitude >= 0 else 6
    years = [(12 * one.year + one.month - 1 + months_on) // 12 for one in (major.at.date(), day)]
    soon = major.work.does.on_roots and day - major.at.date() < HALF_YEAR
    return years[0] == years[1] or soon


def _root_weather(work: WorkKind, tree: Planning, day: Day) -> Iterator[Against]:
    if tree.species.limits.kind is Kind.TROPICAL:
        for night_c, suit in zip(TROPICAL_NIGHTS_C, (Suit.NO, Suit.POOR), strict=True):
            yield from _some(day.low_c < night_c, Why.COLD_NIGHT, day.low_c, suit, TRY)
    limit_c = root_limit_c(work, tree, day)
    if limit_c is not None:
        soon, later = day.root_c < limit_c, day.later_root_c < limit_c
        yield from _some(soon, Why.ROOT_FROST, day.root_c, Suit.NO, tree.act_from)
        at = tree.act_from
        yield from _some(later, Why.LATER_ROOT_FROST, day.later_root_c, Suit.POOR, at)
        if work is not WorkKind.SEVER_LAYER:
            yield from _root_frost_by_years(work, tree, day.day, limit_c)
    hot = day.high_c > HOT_DAY_C
    yield from _some(hot, Why.HOT, day.high_c, Suit.POOR, TRY, low=False)


def _root_frost_by_years(
    work: WorkKind, tree: Planning, day: date, limit_c: float
) -> Iterator[Against]:
    """Frost in the weeks that cut roots need to take: by earlier years, or else by latitude and
    height. It asks for shelter, and rules out no day."""
    care, below_c = work.does.care, limit_c - BALL_OVER_AIR_K
    weeks = care.root_weeks if care else 0.0
    share = tree.usual.frost_share(day, weeks, below_c) if tree.usual else None
    if share is None:
        last = usual_last_frost(tree.latitude, tree.elevation_m, below_c, day)
        if last - timedelta(days=SPRING_DAYS) < day < last:
            yield Against(Why.USUAL_LAST_FROST, Suit.POOR, until=last, seasonal=True)
    elif share > 0 and share >= tree.act_from:
        yield Against(
            Why.USUAL_ROOT_FROST, Suit.POOR, chance=share, seasonal=True, weeks=round(weeks)
        )


def root_limit_c(work: WorkKind, tree: Planning, day: Day) -> float | None:
    """Return what the shell of the root ball bears once the work is done. None for a tropical: cold
    air drives it in sooner."""
    done = Work(tree=tree.standing.tree.name, at=tree.standing.at, work=work)
    asked = care_of(done)
    if asked is None or asked.root_floor_c is None or not cuts_roots(done):
        return None
    now = day.condition.aftercare
    floor_c = max(asked.root_floor_c, -np.inf if now.floor_c is None else now.floor_c)
    after = replace(now, roots=done, floor_c=floor_c)
    limit = ROOT_FROST.limit(tree.species, day.condition._replace(aftercare=after))
    return None if limit is None else limit.harm


def _some(
    hit: NDArray[np.bool_],
    why: Why,
    values: Array,
    suit: Suit,
    from_share: float,
    *,
    low: bool = True,
) -> Iterator[Against]:
    """One objection if enough weathers bring it, with their middle value."""
    share = float(hit.mean())
    if share > 0 and share >= from_share:
        yield Against(why, suit, float(np.median(values[hit])), share)


def _dry(day: Day) -> Iterator[Against]:
    """Two days dry and free of frost are good; one day will do."""
    one, two = (_dry_share(day, hours) for hours in (24, 48))
    if one < TRY:
        wet, frosty = float((day.rain_24_mm > WET_MM).mean()), float((day.low_24_c <= 0).mean())
        if frosty > wet:
            yield Against(Why.AIR_FROST, value=float(np.median(day.low_24_c)), chance=frosty)
        else:
            yield Against(Why.WET, value=float(np.median(day.rain_24_mm)), chance=1 - one)
    elif two < LIKELY and np.isfinite(day.low_48_c).all():  # one dry day will do
        yield Against(Why.ONE_DRY_DAY, Suit.POOR, chance=one)


def _dry_share(day: Day, hours: int) -> float:
    rain_mm = day.rain_24_mm if hours == 24 else day.rain_48_mm
    low_c = day.low_24_c if hours == 24 else day.low_48_c
    return float(((rain_mm <= WET_MM) & (low_c > 0)).mean())
