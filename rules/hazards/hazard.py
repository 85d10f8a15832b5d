"""What a hazard is: all that is known of one way in which a tree comes to harm."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from underbench.rules.course.inputs import Setting
from underbench.rules.garden.inventory import Chance, Tree
from underbench.rules.garden.local_time import Stretch
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.limit import Limit, MeasuredOn
from underbench.rules.physics.exposure import Exposure
from underbench.rules.plants.species import Species
from underbench.rules.weather.hourly import Array
from underbench.rules.weather.spread import Site

Mask = NDArray[np.bool_]


class Action(StrEnum):
    """What the keeper is asked to do."""

    PROTECT = "protect"
    SHADE = "shade"
    VENT = "vent"
    WATER = "water"
    LIGHT = "light"


class Spans(StrEnum):
    """The span over which a hazard is judged, and told as one."""

    NIGHT = "noon to noon"
    DAY = "a local day"
    WEEK = "a week, whose days are judged one by one"
    COLD_SEASON = "September to May (half a year on in the south); in summer, noon to noon"
    SINCE = "since it began"


class Due(StrEnum):
    """By when the trade acts."""

    SUNSET = "sunset"
    DAYLIGHT = "the daylight before"
    LEAVING = "before leaving for the day"
    WATERING = "not so early that the water is used up by then"
    NEXT_VISIT = "the next time somebody is there"
    NEXT_MORNING = "the next morning somebody is there"


class Help(StrEnum):
    """What kind of help there is; ``rules.advice.remedies`` knows the ways of each."""

    COVER = "cover"
    INDOORS = "indoors"
    WINDBREAK = "windbreak"
    SHADE = "shade"
    VENT = "vent"
    WATER = "water"
    WATER_ONCE = "water once"
    WET_MOSS = "wet moss"
    ROOF = "roof"
    LIGHT = "light"


@dataclass(frozen=True, slots=True)
class Scene:
    """What a hazard is judged on: exposures (tree, member, hour) over the hours of one ``span``.

    Each tree has its limit (None: the hazard does not apply), its condition and its species.
    ``times``: UTC seconds, shape (hour,).
    """

    hazard: Hazard
    exposure: Exposure
    limits: Sequence[Limit | None]
    conditions: Sequence[Condition]
    species: Sequence[Species]
    site: Site
    span: Stretch
    times: NDArray[np.int64]

    def thresholds(self) -> tuple[Array, Array]:
        """Return harm and kill as columns (tree, 1, 1). Without a limit they are NaN, which nothing
        crosses."""
        pairs = [(np.nan, np.nan) if one is None else (one.harm, one.kill) for one in self.limits]
        harm, kill = np.array(pairs, dtype=float).reshape(-1, 2).T
        return harm[:, None, None], kill[:, None, None]

    def judged(self, value: Array, harm: Mask, kill: Mask, thaw: Mask | None = None) -> Judged:
        """Return this scene as judged."""
        return Judged(self.hazard, value, harm, kill, self.limits, thaw)


@dataclass(frozen=True, slots=True)
class Judged:
    """One hazard judged over all trees, members and the hours of one span.

    ``value`` is what the limit is measured on, (tree, member, hour). ``harm`` and ``kill`` are the
    hours at which harm or death is reached, same shape. ``limits`` has one per tree, None where the
    hazard does not apply. ``thaw``: the hours in which sun falls on what froze (None: that does not
    matter).
    """

    hazard: Hazard
    value: Array
    harm: Mask
    kill: Mask
    limits: Sequence[Limit | None]
    thaw: Mask | None = None


def _always(_setting: Setting) -> bool:
    return True


def _never(_condition: Condition) -> None:
    return None


def act_from(tree: Tree, chance: Chance) -> float:
    """Return the chance of harm from which the keeper acts for a tree."""
    return chance.act_from if tree.act_from is None else tree.act_from


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hazard:
    """One way in which a tree comes to harm.

    ``key`` names the hazard in the database and in JSON, and never changes. ``words`` stand in a
    message, or ``words_on`` where these differ by what the limit is measured on. ``short`` stands
    in a table. ``limit_words`` say what the tree can bear. ``hurts`` says what is hurt, where the
    measure does not tell it. ``caution`` ends the message.

    ``low``: lower values are worse. ``limit`` returns what a tree bears (None: the hazard does not
    apply). ``judge`` finds where that limit is crossed. ``asked``: whether this garden asks for the
    hazard. ``acts_from``: the chance of it from which the keeper acts for a tree. ``since``, for
    ``Spans.SINCE``: when the hazard began for a tree (None: it has not). ``rivals``: of the hazards
    that share this word only the gravest of a span is told.

    ``returns``: trees go back when the hazard is over. ``stays_between``: trees stay where they are
    between its nights. ``keeps_in``: it is a reason to leave a tree under cover.
    """

    key: str
    words: str
    words_on: Mapping[MeasuredOn, str] = field(default_factory=dict)
    short: str
    limit_words: str
    hurts: str = ""
    caution: str = ""
    action: Action
    measured_on: MeasuredOn
    low: bool
    spans: Spans
    due: Due
    help: Help
    limit: Callable[[Species, Condition], Limit | None]
    judge: Callable[[Scene], Judged]
    asked: Callable[[Setting], bool] = _always
    acts_from: Callable[[Tree, Chance], float] = act_from
    since: Callable[[Condition], datetime | None] = _never
    rivals: str = ""
    returns: bool = True
    stays_between: bool = True
    keeps_in: bool = True

    @property
    def is_frost(self) -> bool:
        """Whether the hazard is frost, against which trees are covered."""
        return self.help is Help.COVER

    @property
    def by_days(self) -> bool:
        """Whether the hazard comes on over days and not over hours."""
        return self.spans is Spans.SINCE

    @property
    def is_seasonal(self) -> bool:
        """Whether the hazard is told once for a whole season."""
        return self.spans is Spans.COLD_SEASON


def sustained(mask: Mask, hours: int) -> Mask:
    """Return True at the hours where ``mask`` has held for ``hours`` hours running."""
    index = np.arange(1, mask.shape[-1] + 1)
    broken = np.maximum.accumulate(np.where(mask, 0, index), axis=-1)
    return mask & (index - broken >= hours)


def held(mask: Mask, hours: int) -> Mask:
    """Return True at the hours of ``mask`` from its ``hours``-th on, with breaks or without.

    The harm of heat adds up over a day, even when a cloud comes between.
    """
    return mask & (np.cumsum(mask, axis=-1) >= hours)
