"""Whether a work suits a tree when it is done, and what speaks against it. Common practice.

Normal summer work is not scolded: a chop on hardened leaves, a layer started once leaves are open.
"""

from __future__ import annotations

from collections.abc import Collection
from datetime import date
from enum import StrEnum

from underbench.rules.garden.journal import Stage
from underbench.rules.garden.works import WorkKind
from underbench.rules.plants.species import HardinessClass, Kind, WorkSeason
from underbench.rules.plants.stages import STAGES

_CONIFERS = (Kind.CONIFER_EVERGREEN, Kind.CONIFER_DECIDUOUS)
# A layer severed after this month (half a year on in the south) meets frost within the eight weeks
# that its first roots need. Common practice, no source.
SEVER_UNTIL = CHOP_UNTIL = 8


class Misgiving(StrEnum):
    """What speaks against a work."""

    ROOTS_OUT_OF_SEASON = "roots cut out of season"
    ROOTS_TOO_MANY = "more roots cut than it bears"
    CHOP_NEVER = "never to be chopped"
    CHOP_OUT_OF_SEASON = "chopped out of season"
    BAG_NEVER = "never to be bagged"
    DEFOLIATED_SOFT = "defoliated before its leaves were hard"
    DEFOLIATE_NEVER = "never to be defoliated"
    LAYER_AT_REST = "a layer started while it is at rest"
    SEVERED_LATE = "severed too near the frosts"


def misgiving(
    work: WorkKind,
    roots_pct: float | None,
    limits: HardinessClass,
    stages: Collection[Stage],
    day: date,
    latitude: float,
) -> Misgiving | None:
    """Return the gravest thing that speaks against a work on ``day``; None when nothing does.

    ``stages`` are those the tree may have been at; a work that suits one of them is not scolded.
    """
    if work.does.on_roots:
        if not _suits(limits.root_work, stages, day, latitude):
            return Misgiving.ROOTS_OUT_OF_SEASON
        too_many = (roots_pct or 0.0) > limits.root_share_pct.value
        return Misgiving.ROOTS_TOO_MANY if too_many else None
    if work is WorkKind.CHOP:
        return _chop(limits, stages, day, latitude)
    if work is WorkKind.BAG:
        return None if limits.bag.allowed else Misgiving.BAG_NEVER
    if work is WorkKind.DEFOLIATE:
        return _defoliation(limits, stages)
    return _layer(work, limits, stages, day, latitude)


def possible_stages(limits: HardinessClass, day: date, latitude: float) -> tuple[Stage, ...]:
    """Return the stages that its kind may be at on ``day``, for days without known weather."""
    if limits.kind is Kind.TROPICAL:
        return STAGES[limits.kind]
    year = _DECIDUOUS_YEAR if limits.leafless else _EVERGREEN_YEAR
    return year[northern_month(day, latitude) - 1]


_REST, _SWELL, _OPEN = (Stage.DORMANT,), (Stage.DORMANT, Stage.BUD_SWELL), Stage.LEAFING_OUT
_SPRING = (Stage.DORMANT, Stage.BUD_SWELL, _OPEN)
_SUMMER, _AUTUMN = (Stage.HARDENED,), (Stage.HARDENED, Stage.COLOURING)
# By month, January first; wide in spring, because mild and cold places are weeks apart.
_DECIDUOUS_YEAR = (
    *(_REST, _SWELL, _SPRING, (Stage.BUD_SWELL, _OPEN), (_OPEN, Stage.HARDENED)),
    *(_SUMMER, _SUMMER, _SUMMER, _AUTUMN, _AUTUMN, (Stage.COLOURING, Stage.DORMANT), _REST),
)
_MOVING = (Stage.DORMANT, Stage.EXTENDING)
_EVERGREEN_YEAR = (
    *(_REST, _REST, _MOVING, _MOVING, (Stage.EXTENDING,), (Stage.EXTENDING, Stage.HARDENED)),
    *(_SUMMER, _SUMMER, _SUMMER, _SUMMER, (Stage.HARDENED, Stage.DORMANT), _REST),
)


def northern_month(day: date, latitude: float) -> int:
    """Return the month as the north has it; in the south it is half a year on."""
    return day.month if latitude >= 0 else (day.month + 5) % 12 + 1


def _suits(season: WorkSeason, stages: Collection[Stage], day: date, latitude: float) -> bool:
    return any(season.suits(stage, day, latitude) for stage in stages)


def _chop(
    limits: HardinessClass, stages: Collection[Stage], day: date, latitude: float
) -> Misgiving | None:
    if not limits.hard_chop.ever:
        return Misgiving.CHOP_NEVER
    # After that month, new shoots from the cut are still soft when the frost comes. A tropical is
    # always at this stage; its months say when it grows.
    hard = Stage.HARDENED in stages and limits.kind is not Kind.TROPICAL
    in_summer = hard and northern_month(day, latitude) <= CHOP_UNTIL
    fits = in_summer or _suits(limits.hard_chop, stages, day, latitude)
    return None if fits else Misgiving.CHOP_OUT_OF_SEASON


def _defoliation(limits: HardinessClass, stages: Collection[Stage]) -> Misgiving | None:
    if limits.kind in _CONIFERS:
        return Misgiving.DEFOLIATE_NEVER
    return None if Stage.HARDENED in stages else Misgiving.DEFOLIATED_SOFT


def _layer(
    work: WorkKind,
    limits: HardinessClass,
    stages: Collection[Stage],
    day: date,
    latitude: float,
) -> Misgiving | None:
    if limits.kind is Kind.TROPICAL:
        return None
    if work is WorkKind.START_LAYER and set(stages) <= {Stage.DORMANT, Stage.COLOURING}:
        return Misgiving.LAYER_AT_REST
    month = northern_month(day, latitude)
    late = month > SEVER_UNTIL or month < 3
    return Misgiving.SEVERED_LATE if work is WorkKind.SEVER_LAYER and late else None
