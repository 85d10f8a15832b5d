"""Which of the coming days suit which work on a tree, and why the others do not.

What speaks against a work when it is done (`underbench.rules.timing.misgiving`) speaks against
planning it too, so that the two never contradict each other; what the weathers ahead, open
aftercare and earlier jobs add comes on top. Common practice, no source, unless said.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from underbench.rules.aftercare import care_of, cuts_roots
from underbench.rules.journal import Stage, TreeAt, Work, WorkKind
from underbench.rules.limits import Condition, bearing
from underbench.rules.species import Kind, Species
from underbench.rules.timing import CHOP_UNTIL, ON_ROOTS, Misgiving, misgiving, northern_month
from underbench.rules.usual import Usual
from underbench.rules.weather import Array


class DryWork(StrEnum):
    """Work that wants dry, frost-free hours and leaves nothing to recover from."""

    SEAL_CUTS = "seal cuts"
    TREAT_DEAD_WOOD = "treat dead wood"


Planned = WorkKind | DryWork

# What is looked at when no work is named; the others go by the first of their kind.
USUAL_WORKS: tuple[Planned, ...] = (
    *(WorkKind.REPOT, WorkKind.CHOP, WorkKind.WIRE, WorkKind.DEFOLIATE),
    *(WorkKind.START_LAYER, WorkKind.SEVER_LAYER, WorkKind.BAG, *DryWork),
)
PLANNED: tuple[Planned, ...] = (
    *(WorkKind.REPOT, WorkKind.SLIP_POT, WorkKind.ROOT_PRUNE, WorkKind.DIVIDE, WorkKind.COLLECT),
    *(WorkKind.CHOP, WorkKind.HARD_PRUNE, WorkKind.WIRE, WorkKind.DEFOLIATE),
    *(WorkKind.START_LAYER, WorkKind.SEVER_LAYER, WorkKind.BAG, *DryWork),
)
MAJOR = (
    *ON_ROOTS,
    *(WorkKind.CHOP, WorkKind.HARD_PRUNE, WorkKind.DEFOLIATE, WorkKind.SEVER_LAYER),
)
DISTURBS_ROOTS = (*ON_ROOTS, WorkKind.SLIP_POT, WorkKind.SEVER_LAYER)
# Spring to the next spring is two years' jobs, spring to autumn one year's.
A_YEAR = timedelta(days=270)
LAYER_WEEKS = 6  # 6 to 10 weeks to roots (hardiness research §6.2); look from the sixth
SEVER_FREE_WEEKS = 8
SEVER_FROST_SHARE = 0.2  # of the years known: more and it is not offered; judgement
DEFOLIATE_MONTHS, LAYER_MONTHS, BAG_MONTHS = (6, 7), (4, 5, 6, 7), (2, 3, 4)
PRUNE_MONTHS = tuple(range(2, CHOP_UNTIL + 1))
TROPICAL_NIGHTS_C = (12.0, 15.0)  # colder: no root work on a tropical; not ideal
HOT_DAY_C = 30.0
WET_MM = 0.5  # in a day: more, and a cut or dead wood gets wet
LIKELY = 0.7  # share of the weathers from which a dry spell is called good, and half to try it
TRY = 0.5


class Suit(StrEnum):
    """How a day suits."""

    GOOD = "good"
    POOR = "poor"
    NO = "no"


class Why(StrEnum):
    """Why a day does not suit, beside the misgivings about the work itself."""

    NEVER_HERE = "not for this kind"
    LAYER_ON = "a layer is on it"
    BAG_ON = "a bag is on it"
    ROOTS_OPEN = "roots not taken"
    SECOND_JOB = "one major job a year"
    LAYER_YOUNG = "layer too young"
    FROST_WITHIN_WEEKS = "frost within eight weeks"
    ROOT_FROST = "frost at the roots"
    LATER_ROOT_FROST = "frost at the roots later"
    COLD_NIGHT = "cold nights"
    HOT = "heat"
    SOFT = "soft growth"
    EARLY = "early in the year"
    LATE = "late in the year"
    IN_LEAF = "in leaf"
    BRITTLE = "frost on the branches"
    WET = "rain"
    AIR_FROST = "frost"
    ONE_DRY_DAY = "one dry day"


@dataclass(frozen=True, slots=True)
class Day:
    """A coming day at a tree where it stands; arrays (member,).

    ``root_c``: coldest shell of the root ball from its morning through the second night after;
    ``later_root_c`` from then on as far as is known (NaN: nothing); ``low_c`` and ``high_c`` air of
    that day and night, ``later_low_c`` the coldest from its morning to the end of what is known;
    ``rain_24_mm``, ``rain_48_mm`` rain and ``low_24_c``, ``low_48_c`` coldest air so long from its
    morning on (NaN where not known so far).
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
class Against:
    """What speaks against a day: how much (``suit``), the value and the chance where it has one,
    and the earlier work it comes from. ``seasonal``: it is of the tree's year, not the weather."""

    why: Why | Misgiving
    suit: Suit = Suit.NO
    value: float | None = None
    chance: float | None = None
    work: Work | None = None
    seasonal: bool = False


@dataclass(frozen=True, slots=True)
class Verdict:
    """How one day suits one work; ``against`` the gravest that speaks against it, None if good."""

    day: date
    stage: Stage
    against: Against | None

    @property
    def suit(self) -> Suit:
        """How the day suits."""
        return Suit.GOOD if self.against is None else self.against.suit

    @property
    def in_season(self) -> bool:
        """Whether the tree's own year allows it, whatever the weather and the works before."""
        return self.against is None or not self.against.seasonal or self.suit is not Suit.NO


@dataclass(frozen=True, slots=True)
class Planning:
    """A tree for which work is planned. ``act_from``: the chance of frost at the roots from which
    no root work is offered; ``usual``: what earlier years brought, None where none is known;
    ``second_job``: one more major job in the same year is wanted."""

    species: Species
    standing: TreeAt
    latitude: float
    act_from: float
    usual: Usual | None = None
    second_job: bool = False


def applies(work: Planned, tree: Planning) -> bool:
    """Return whether a work can be meant for a tree at all: a layer to sever, a bag not yet on."""
    limits, at = tree.species.limits, tree.standing
    if work is WorkKind.SEVER_LAYER:
        return at.layer is not None
    if work is WorkKind.START_LAYER:
        return at.layer is None
    if work is WorkKind.BAG:
        return limits.bag.allowed and limits.leafless and at.bag is None
    if work is WorkKind.CHOP:
        return limits.hard_chop.ever
    if work is WorkKind.DEFOLIATE:
        return limits.kind in (Kind.BROADLEAF_DECIDUOUS, Kind.TROPICAL)
    return True


def verdicts(work: Planned, tree: Planning, days: Sequence[Day]) -> list[Verdict]:
    """Return how each of ``days`` suits ``work``, in their order."""
    return [
        Verdict(day.day, day.condition.stage, gravest(_against(work, tree, day))) for day in days
    ]


def gravest(found: Iterator[Against]) -> Against | None:
    """Return the first that rules a day out, else the first there is."""
    several = list(found)
    out = (one for one in several if one.suit is Suit.NO)
    return next(out, several[0] if several else None)


def _against(work: Planned, tree: Planning, day: Day) -> Iterator[Against]:
    """What speaks against it, the tree's year first, then earlier works, then the weather."""
    if isinstance(work, DryWork):
        yield from _dry(day)
        return
    if not applies(work, tree):
        yield Against(Why.NEVER_HERE, seasonal=True)
        return
    yield from _season(work, tree, day)
    yield from _earlier(work, tree, day)
    if work in DISTURBS_ROOTS:
        yield from _root_weather(work, tree, day)
    elif work is WorkKind.WIRE:
        yield from _some(day.low_c < 0, Why.BRITTLE, day.low_c, Suit.POOR, TRY)


def _season(work: WorkKind, tree: Planning, day: Day) -> Iterator[Against]:
    limits, stage = tree.species.limits, day.condition.stage
    doubt = misgiving(work, None, limits, (stage,), day.day, tree.latitude)
    if doubt is not None:
        yield Against(doubt, seasonal=True)
    month = northern_month(day.day, tree.latitude)
    if work is WorkKind.HARD_PRUNE:
        yield from _hard_pruning(stage, month)
    if work is WorkKind.WIRE and stage is Stage.LEAFING_OUT:
        yield Against(Why.SOFT, Suit.POOR, seasonal=True)
    if limits.kind is Kind.TROPICAL:
        yield from _in_growth(work, tree, day)
    elif work is WorkKind.DEFOLIATE and month not in DEFOLIATE_MONTHS:
        yield Against(_outside(month, DEFOLIATE_MONTHS), seasonal=True)
    elif work is WorkKind.START_LAYER and month not in LAYER_MONTHS:
        yield Against(_outside(month, LAYER_MONTHS), Suit.POOR, seasonal=True)
    if work is WorkKind.BAG and not _before_leaf(stage, month):
        yield Against(Why.IN_LEAF, seasonal=True)
    if work is WorkKind.SEVER_LAYER:
        yield from _severing(tree, day)


def _outside(month: int, months: tuple[int, ...]) -> Why:
    return Why.EARLY if month < months[0] else Why.LATE


def _in_growth(work: WorkKind, tree: Planning, day: Day) -> Iterator[Against]:
    """A tropical grows in its root work's months; at other times it makes little of a work."""
    grows = tree.species.limits.root_work.suits(day.condition.stage, day.day, tree.latitude)
    if work in (WorkKind.DEFOLIATE, WorkKind.START_LAYER) and not grows:
        yield Against(Why.LATE, Suit.POOR, seasonal=True)


def _before_leaf(stage: Stage, month: int) -> bool:
    return stage is Stage.BUD_SWELL or (stage is Stage.DORMANT and month in BAG_MONTHS)


def _hard_pruning(stage: Stage, month: int) -> Iterator[Against]:
    if stage in (Stage.LEAFING_OUT, Stage.EXTENDING):
        yield Against(Why.SOFT, Suit.POOR, seasonal=True)
    elif stage is not Stage.BUD_SWELL and month not in PRUNE_MONTHS:
        yield Against(_outside(month, PRUNE_MONTHS), Suit.POOR, seasonal=True)


def _severing(tree: Planning, day: Day) -> Iterator[Against]:
    """No frost in the eight weeks that first roots need: by the forecast, then by earlier years."""
    if tree.species.limits.kind is Kind.TROPICAL:
        return
    lows_c = day.later_low_c
    yield from _some(lows_c < 0, Why.FROST_WITHIN_WEEKS, lows_c, Suit.NO, tree.act_from)
    if tree.usual is None:
        return
    share = tree.usual.frost_share(day.day, SEVER_FREE_WEEKS)
    if share is not None and share > 0:
        suit = Suit.NO if share > SEVER_FROST_SHARE else Suit.POOR
        yield Against(Why.FROST_WITHIN_WEEKS, suit, chance=share, seasonal=True)


def _earlier(work: WorkKind, tree: Planning, day: Day) -> Iterator[Against]:
    care, at = day.condition.aftercare, tree.standing
    if work in DISTURBS_ROOTS and care.roots is not None:
        yield Against(Why.ROOTS_OPEN, work=care.roots)
    if work in ON_ROOTS and at.layer is not None:
        yield Against(Why.LAYER_ON, work=at.layer)
    if work in (*DISTURBS_ROOTS, WorkKind.DEFOLIATE) and care.bag is not None:
        yield Against(Why.BAG_ON)
    if work is WorkKind.SEVER_LAYER and at.layer is not None:
        age = day.day - at.layer.at.date()
        if age < timedelta(weeks=LAYER_WEEKS):
            yield Against(Why.LAYER_YOUNG, value=age.days / 7, work=at.layer)
    major = at.last(*MAJOR) if work in MAJOR and work is not WorkKind.SEVER_LAYER else None
    if major and not tree.second_job and day.day - major.at.date() < A_YEAR:
        yield Against(Why.SECOND_JOB, work=major)


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
    hot = day.high_c > HOT_DAY_C
    yield from _some(hot, Why.HOT, day.high_c, Suit.POOR, TRY, low=False)


def root_limit_c(work: WorkKind, tree: Planning, day: Day) -> float | None:
    """Return what the shell of the root ball bears once the work is done; None for a tropical,
    which cold air drives in sooner."""
    done = Work(tree=tree.standing.tree.name, at=tree.standing.at, work=work)
    asked = care_of(done)
    if asked is None or asked.root_floor_c is None or not cuts_roots(done):
        return None
    now = day.condition.aftercare
    floor_c = max(asked.root_floor_c, -np.inf if now.floor_c is None else now.floor_c)
    after = replace(now, roots=done, floor_c=floor_c)
    limit = bearing(tree.species, day.condition._replace(aftercare=after)).roots
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
    """One objection where enough weathers bring it, with their middle value."""
    share = float(hit.mean())
    if share > 0 and share >= from_share:
        yield Against(why, suit, float(np.median(values[hit])), share)


def _dry(day: Day) -> Iterator[Against]:
    """Dry and free of frost for two days is good, for one will do."""
    one, two = (_dry_share(day, hours) for hours in (24, 48))
    if one < TRY:
        wet, frosty = float((day.rain_24_mm > WET_MM).mean()), float((day.low_24_c <= 0).mean())
        if frosty > wet:
            yield Against(Why.AIR_FROST, value=float(np.median(day.low_24_c)), chance=frosty)
        else:
            yield Against(Why.WET, value=float(np.median(day.rain_24_mm)), chance=1 - one)
    elif two < LIKELY:
        yield Against(Why.ONE_DRY_DAY, Suit.POOR, chance=one)


def _dry_share(day: Day, hours: int) -> float:
    rain_mm = day.rain_24_mm if hours == 24 else day.rain_48_mm
    low_c = day.low_24_c if hours == 24 else day.low_48_c
    return float(((rain_mm <= WET_MM) & (low_c > 0)).mean())
