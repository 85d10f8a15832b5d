"""When in a tree's year a work suits it, and what there is to say against a day.

What speaks against a work when it is done (`rules.planning.misgivings.misgiving`) also speaks
against planning it, so that the two never contradict each other. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from underbench.rules.garden.journal import Stage, Work
from underbench.rules.garden.works import WorkKind
from underbench.rules.planning.misgivings import CHOP_UNTIL, Misgiving, misgiving, northern_month
from underbench.rules.plants.species import HardinessClass, Kind


class DryWork(StrEnum):
    """Work that wants dry, frost-free hours and leaves nothing to recover from."""

    SEAL_CUTS = "seal cuts"
    TREAT_DEAD_WOOD = "treat dead wood"


Planned = WorkKind | DryWork

DEFOLIATE_MONTHS, LAYER_MONTHS, BAG_MONTHS = (6, 7), (4, 5, 6, 7), (2, 3, 4)
PRUNE_MONTHS = tuple(range(2, CHOP_UNTIL + 1))
GROWTH_WORKS = (WorkKind.DEFOLIATE, WorkKind.START_LAYER, WorkKind.HARD_PRUNE)


class Suit(StrEnum):
    """How a day suits."""

    GOOD = "good"
    POOR = "poor"
    NO = "no"


class Why(StrEnum):
    """Why a day does not suit, besides the misgivings about the work itself."""

    NO_LAYER = "no layer is on it"
    IN_GROUND = "it grows in the ground"
    IN_CONTAINER = "it grows in a container"
    NOT_DIVIDED = "not divided"
    LAYER_ON = "a layer is on it"
    BAG_ON = "a bag is on it"
    ROOTS_OPEN = "roots not taken"
    SECOND_JOB = "one major job a year"
    LAYER_YOUNG = "layer too young"
    YEARS_UNKNOWN = "no earlier year known"
    FROST_WITHIN_WEEKS = "frost within eight weeks"
    ROOT_FROST = "frost at the roots"
    LATER_ROOT_FROST = "frost at the roots later"
    USUAL_ROOT_FROST = "frost at the roots in earlier years"
    USUAL_LAST_FROST = "frost at the roots by latitude and height"
    COLD_NIGHT = "cold nights"
    HOT = "heat"
    BAG_SUN = "sun on a bag"
    BLEEDS = "bleeds at sap rise"
    SOFT = "soft growth"
    EARLY = "early in the year"
    LATE = "late in the year"
    IN_LEAF = "in leaf"
    BRITTLE = "frost on the branches"
    WET = "rain"
    AIR_FROST = "frost"
    ONE_DRY_DAY = "one dry day"


@dataclass(frozen=True, slots=True)
class Against:
    """What speaks against a day.

    ``suit`` says how much. ``value`` and ``chance`` are given where there are any, ``work`` is the
    earlier work it comes from. ``seasonal`` means that it comes from the tree's year, not from the
    weather. ``until``: the day until which it usually holds. ``weeks``: in how many weeks it came.
    """

    why: Why | Misgiving
    suit: Suit = Suit.NO
    value: float | None = None
    chance: float | None = None
    work: Work | None = None
    seasonal: bool = False
    until: date | None = None
    weeks: int = 0


def out_of_season(
    work: WorkKind, limits: HardinessClass, stage: Stage, day: date, latitude: float
) -> Iterator[Against]:
    """Yield what speaks against a work at ``stage`` on ``day`` in the tree's own year."""
    doubt = misgiving(work, None, limits, (stage,), day, latitude)
    if doubt is not None:
        yield Against(doubt, seasonal=True)
    month = northern_month(day, latitude)
    if work is WorkKind.HARD_PRUNE:
        yield from _hard_pruning(limits, stage, month)
    if work is WorkKind.WIRE and stage is Stage.LEAFING_OUT:
        yield Against(Why.SOFT, Suit.POOR, seasonal=True)
    if limits.kind is Kind.TROPICAL:
        yield from _in_growth(work, limits, month)
    elif work is WorkKind.DEFOLIATE and month not in DEFOLIATE_MONTHS:
        yield Against(_outside(month, DEFOLIATE_MONTHS), seasonal=True)
    elif work is WorkKind.START_LAYER and month not in LAYER_MONTHS:
        yield Against(_outside(month, LAYER_MONTHS), Suit.POOR, seasonal=True)
    if work is WorkKind.BAG and not _before_leaf(stage, month):
        yield Against(Why.IN_LEAF, seasonal=True)


def in_season(
    work: WorkKind, limits: HardinessClass, stage: Stage, day: date, latitude: float
) -> bool:
    """Return whether a tree's own year allows a work."""
    found = out_of_season(work, limits, stage, day, latitude)
    return all(one.suit is not Suit.NO for one in found)


def _outside(month: int, months: tuple[int, ...]) -> Why:
    return Why.EARLY if month < months[0] else Why.LATE


def _in_growth(work: WorkKind, limits: HardinessClass, month: int) -> Iterator[Against]:
    """A tropical grows in the months of its root work; at other times a work helps it little."""
    months = tuple(sorted(m for window in limits.root_work.windows for m in window.months))
    if work in GROWTH_WORKS and months and month not in months:
        yield Against(_outside(month, months), Suit.POOR, seasonal=True)


def _before_leaf(stage: Stage, month: int) -> bool:
    return stage is Stage.BUD_SWELL or (stage is Stage.DORMANT and month in BAG_MONTHS)


def _hard_pruning(limits: HardinessClass, stage: Stage, month: int) -> Iterator[Against]:
    if bleeds(limits) and stage in (Stage.DORMANT, Stage.BUD_SWELL):
        yield Against(Why.BLEEDS, Suit.POOR, seasonal=True)
    if stage in (Stage.LEAFING_OUT, Stage.EXTENDING):
        yield Against(Why.SOFT, Suit.POOR, seasonal=True)
    elif stage is not Stage.BUD_SWELL and month not in PRUNE_MONTHS:
        yield Against(_outside(month, PRUNE_MONTHS), Suit.POOR, seasonal=True)


def bleeds(limits: HardinessClass) -> bool:
    """Return whether a tree bleeds at sap rise, like birch, and is cut only in summer leaf."""
    windows = limits.hard_chop.windows
    spring = any(Stage.BUD_SWELL in window.stages for window in windows)
    return limits.leafless and limits.hard_chop.ever and not spring
