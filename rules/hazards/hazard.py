"""What a hazard is: everything there is to say of one way in which a tree comes to harm."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from underbench.rules.course.inputs import Setting
from underbench.rules.garden.local_time import Stretch
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.limit import Limit, MeasuredOn
from underbench.rules.physics.exposure import Exposure
from underbench.rules.plants.species import Species
from underbench.rules.weather.hourly import Array
from underbench.rules.weather.spread import Site

Mask = NDArray[np.bool_]
A_NIGHT = timedelta(days=2)  # a longer span is of a week, a season, or of what comes by days


class Action(StrEnum):
    """What the keeper is asked to do."""

    PROTECT = "protect"
    SHADE = "shade"
    VENT = "vent"
    WATER = "water"
    LIGHT = "light"


class Spans(StrEnum):
    """Over what a hazard is judged, and told as one."""

    NIGHT = "noon to noon"
    DAY = "a local day"
    WEEK = "a week, whose days are judged one by one"
    COLD_SEASON = "September to May (half a year on in the south), and between a night"
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
    WET_MOSS = "wet moss"
    LIGHT = "light"


@dataclass(frozen=True, slots=True)
class Scene:
    """What a hazard is judged on: exposures (tree, member, hour) over the hours of one ``span``,
    and for each tree its limit (None: the hazard does not apply), its condition and its species.

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
        """Return harm and kill as columns (tree, 1, 1); NaN, which nothing crosses, where None."""
        pairs = [(np.nan, np.nan) if one is None else (one.harm, one.kill) for one in self.limits]
        harm, kill = np.array(pairs, dtype=float).reshape(-1, 2).T
        return harm[:, None, None], kill[:, None, None]

    def judged(self, value: Array, harm: Mask, kill: Mask, thaw: Mask | None = None) -> Judged:
        """Return this scene as judged."""
        return Judged(self.hazard, value, harm, kill, self.limits, thaw)


@dataclass(frozen=True, slots=True)
class Judged:
    """One hazard judged over all trees, members and the hours of one span.

    ``value`` is what the limit is measured on, (tree, member, hour); ``harm`` and ``kill`` the
    hours at which harm or death is reached, same shape; ``limits`` one per tree, None where the
    hazard does not apply. ``thaw``: the hours in which sun falls on what froze (None: it does not
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


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Hazard:
    """One way in which a tree comes to harm.

    ``key`` names it in the database and in JSON, and never changes. In words: ``words`` as a
    message has it, ``words_on`` where these differ by what the limit is measured on, ``short`` for
    a table, ``limit_words`` for what the tree can bear, ``hurts`` what it hurts where that is not
    told by what it is measured on, ``caution`` at the end of its message.

    ``low``: lower values are worse. ``limit`` says what a tree bears (None: it does not apply),
    ``judge`` where it is crossed. ``asked``: whether this garden asks for it. ``since``: of
    ``Spans.SINCE``, when it began for a tree; None: it has not. ``rivals``: of the hazards that
    share this word only the gravest of a span is told.

    ``returns``: whether trees go back when it is over; ``stays_between``: whether they stay where
    they are between its nights; ``keeps_in``: whether it is a reason to leave a tree in that stands
    under cover, and ``told_at_home`` whether that is news; ``tells_sky``: whether its message says
    what sky is behind it.
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
    since: Callable[[Condition], datetime | None] = _never
    rivals: str = ""
    returns: bool = True
    stays_between: bool = True
    keeps_in: bool = True
    told_at_home: bool = True
    tells_sky: bool = False

    @property
    def is_frost(self) -> bool:
        """Whether it is frost, against which trees are covered."""
        return self.help is Help.COVER

    @property
    def by_days(self) -> bool:
        """Whether it comes on by days and not by hours."""
        return self.spans is Spans.SINCE

    @property
    def is_seasonal(self) -> bool:
        """Whether it is told once for a whole season."""
        return self.spans is Spans.COLD_SEASON


def sustained(mask: Mask, hours: int) -> Mask:
    """Return True at the hours where ``mask`` has held for ``hours`` hours running."""
    index = np.arange(1, mask.shape[-1] + 1)
    broken = np.maximum.accumulate(np.where(mask, 0, index), axis=-1)
    return mask & (index - broken >= hours)


def held(mask: Mask, hours: int) -> Mask:
    """Return True at the hours of ``mask`` from its ``hours``-th on, with breaks or without.

    What heat does adds up over a day even when a cloud comes between.
    """
    return mask & (np.cumsum(mask, axis=-1) >= hours)
