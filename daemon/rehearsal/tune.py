"""What other values of one of the keeper's limits would have brought in weather that is known.

The trees meant are rehearsed by themselves, once for each value. A harmed night is a night in which
a tree would have crossed today's limit where it belongs, without a word to its keeper. So milder
values show fewer messages and more harmed nights, and today's value is the measure of harm.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from functools import partial

import numpy as np
from numpy.typing import NDArray

from underbench.daemon.config.settings import Settings
from underbench.daemon.faults import Fault
from underbench.daemon.journal.borne import figure_now
from underbench.daemon.outlook.garden_now import setting_of
from underbench.daemon.rehearsal.replay import (
    Heard,
    Plan,
    Seen,
    opening_hours,
    rehearse,
)
from underbench.daemon.rehearsal.tuned_names import Meant
from underbench.rules.course.course import DAY_S, Conditions, Course, follow
from underbench.rules.course.inputs import Row, Setting
from underbench.rules.garden.inventory import Tree
from underbench.rules.garden.journal import Move
from underbench.rules.hazards.chill import CHILL
from underbench.rules.hazards.cold_air import COLD_AIR
from underbench.rules.hazards.gale import GALE
from underbench.rules.hazards.hazard import Hazard
from underbench.rules.hazards.hot_roots import HOT_ROOTS
from underbench.rules.hazards.judge import outcomes
from underbench.rules.hazards.leaf_frost import LEAF_FROST
from underbench.rules.hazards.moving_sap import MOVING_SAP
from underbench.rules.hazards.root_frost import ROOT_FROST
from underbench.rules.hazards.scorch import SCORCH
from underbench.rules.limits.condition import Condition
from underbench.rules.physics import state as states
from underbench.rules.physics.pot_water import capacity_l
from underbench.rules.weather.spread import known_site

Night = tuple[str, datetime]
DAY, HOUR = timedelta(days=1), timedelta(hours=1)
BEFORE_DAYS, AFTER_DAYS = 6, 4  # as far as a forecast looks; until what went in is out again


@dataclass(frozen=True, slots=True)
class Tunable:
    """One of the keeper's limits: the species' figure that it replaces, what it decides, the step
    between two values, and by how much a value would have to be harsher that no member of a
    forecast crosses where the run itself does not come so near."""

    field: str | None
    hazards: frozenset[Hazard]
    step: float
    reach: float = 6.0


_TOPS = frozenset({LEAF_FROST, MOVING_SAP})
LIMITS: Mapping[str, Tunable] = {
    "leaf_frost_c": Tunable("leaf_frost", _TOPS, 0.5),
    "bud_frost_c": Tunable("bud_frost", _TOPS, 0.5),
    "hardened_frost_c": Tunable("hardened_frost", _TOPS, 1.0),
    "dormant_tops_c": Tunable("dormant_tops", _TOPS, 2.0),
    "root_frost_c": Tunable("roots_mature", frozenset({ROOT_FROST}), 1.0),
    "air_min_c": Tunable("air_min", frozenset({COLD_AIR, CHILL}), 1.0),
    "leaf_hot_c": Tunable("leaf_hot", frozenset({SCORCH}), 1.0, -6.0),
    "root_hot_c": Tunable("roots_hot", frozenset({HOT_ROOTS}), 1.0, -6.0),
    "gust_ms": Tunable(None, frozenset({GALE}), 2.0, -6.0),
}


@dataclass(frozen=True, slots=True)
class Outcome:
    """What one value would have brought."""

    value: float
    messages: int
    carries: int
    harmed_nights: int


@dataclass(frozen=True, slots=True)
class Tuning:
    """All values of one limit, least first; ``today`` is the one that holds now."""

    meant: Meant
    limit: str
    today: float
    outcomes: tuple[Outcome, ...]


@dataclass(frozen=True, slots=True)
class Case:
    """The trees that are tuned: what they feel where they belong, through all of the weather.
    ``planned`` is of the whole garden."""

    planned: Plan
    meant: Meant
    setting: Setting
    course: Course

    def crossed(self, limit: str, value: float) -> set[Night]:
        """Return the trees and spans in which ``value`` would be crossed since the first pass."""
        first, hazards = self.planned.moments[0] - DAY, LIMITS[limit].hazards
        found = _harmed(self.setting, _with(self.course, limit, value), hazards)
        return {one for one in found if one[1] >= first}


def tune(case: Case, limit: str, count: int, seen: Seen) -> Tuning:
    """Rehearse ``count`` values around today's.

    Raises Fault where the trees have no such limit yet, so that there is none to go by.
    """
    today, step = value_today(case.planned.settings, case.meant, limit), LIMITS[limit].step
    values = [today + step * (n - count // 2) for n in range(count)]
    harmed = case.crossed(limit, today)
    near = replace(case.planned, moments=_near(case, limit, values))
    tried = tuple(_tried(near, case.meant, limit, value, harmed, seen) for value in values)
    return Tuning(case.meant, limit, today, tried)


def _near(case: Case, limit: str, values: Sequence[float]) -> tuple[datetime, ...]:
    """The passes around the nights that could come near the harshest of ``values``: those as
    hands-on hours begin, when nearly all is told, and all of a day without any."""
    one, moments = LIMITS[limit], case.planned.moments
    harshest = max(values) if one.reach > 0 else min(values)
    days = {
        (night + n * DAY).date()
        for _, night in case.crossed(limit, harshest + one.reach)
        for n in range(-BEFORE_DAYS, AFTER_DAYS + 1)
    }
    zone, hands_on = case.planned.zone, case.planned.settings.hands_on
    opens = opening_hours(moments[0] - HOUR, moments[-1], hands_on, zone.key)
    attended = {moment.date() for moment in opens}
    return tuple(
        moment
        for moment in moments
        if moment.date() in days and (moment in opens or moment.date() not in attended)
    )


def most_leverage(case: Case, count: int) -> str:
    """Return the limit whose crossed nights differ most between the least and the highest of
    ``count`` values. Raises Fault where none of them makes any difference."""
    differs = {}
    for limit, one in LIMITS.items():
        with suppress(Fault):  # there is no such limit to go by
            today, wide = value_today(case.planned.settings, case.meant, limit), count // 2
            less, more = (case.crossed(limit, today + n * one.step) for n in (-wide, wide))
            differs[limit] = len(less ^ more)
    if not any(differs.values()):
        raise Fault(f"no limit of {case.meant.name} makes any difference in this weather")
    return max(differs, key=lambda limit: differs[limit])


def value_today(settings: Settings, meant: Meant, limit: str) -> float:
    """Return the value that holds for most of the trees meant: the keeper's own, else the
    species'. Raises Fault where there is neither."""
    field = LIMITS[limit].field
    values = (figure_now(settings, tree, limit, field) for tree in _trees(settings, meant))
    found = [value for value in values if value is not None]
    if not found:
        raise Fault(f"{meant.name} has no {limit} yet: set one in the file to go by")
    return max(found, key=found.count)


def _trees(settings: Settings, meant: Meant) -> list[Tree]:
    return [tree for tree in settings.trees if tree.name in meant.trees]


def _limited(tree: Tree, limit: str, value: float) -> Tree:
    return tree.model_copy(update={"limits": tree.limits.model_copy(update={limit: value})})


def _tried(
    planned: Plan, meant: Meant, limit: str, value: float, harmed: set[Night], seen: Seen
) -> Outcome:
    trees = tuple(_limited(tree, limit, value) for tree in _trees(planned.settings, meant))
    settings = planned.settings.model_copy(update={"trees": trees})
    tried = replace(planned, settings=settings)
    heard = list(rehearse(tried, seen))
    mine = [one for one in heard if _hazards(one) & LIMITS[limit].hazards]
    jobs = [job for one in mine if one.advice for job in one.advice.jobs]
    carries = sum(job.choice is not None and job.choice.way.remedy.carries for job in jobs)
    return Outcome(value, len(mine), carries, len(harmed - set(_told(mine, harmed))))


def _hazards(one: Heard) -> set[Hazard]:
    return {finding.hazard for finding in one.advice.findings} if one.advice else set()


def _told(heard: Sequence[Heard], harmed: set[Night]) -> Iterator[Night]:
    """The harmed nights of which the keeper was told, or through which a tree was still helped."""
    for one in heard:
        for job in one.advice.jobs if one.advice else ():
            first = min(finding.span.start for finding in job.findings)
            last = max(finding.span.end for finding in job.findings)
            back_at = one.advice.back_at if one.advice else None
            until = max(last, back_at or last)
            yield from (n for n in harmed if n[0] == job.tree and first <= n[1] < until)


def case_of(planned: Plan, meant: Meant) -> Case:
    """Return the case of the trees meant; one member. The season's clocks need what was before the
    first pass."""
    trees = _trees(planned.settings, meant)
    setting = setting_of(planned.settings)
    journal = [entry for entry in planned.journal.entries if not isinstance(entry, Move)]
    weather = planned.series.weather
    weather = weather.hours_at(
        slice(0, int((weather.times <= planned.moments[-1].timestamp()).sum()))
    )
    begun = states.begin(
        capacity_l([tree.container for tree in trees]), float(weather.air_c[0, :24].mean())
    )
    rows = [Row(tree) for tree in trees]
    course = follow(setting, rows, journal, begun, weather, known_site())
    return Case(planned, meant, setting, course)


def _with(course: Course, limit: str, value: float) -> Course:
    """The same course with other limits: what trees feel does not depend on them."""
    known = course.conditions

    def on(day: date) -> tuple[Condition, ...]:
        return tuple(f._replace(tree=_limited(f.tree, limit, value)) for f in known[day])

    return replace(course, conditions=Conditions({day: partial(on, day) for day in known}))


def _harmed(setting: Setting, course: Course, hazards: frozenset[Hazard]) -> set[Night]:
    """The trees and spans in which a limit is crossed."""
    names = [fact.tree.name for fact in next(iter(course.conditions.values()))]
    found: set[Night] = set()
    for span, times, judged in outcomes(setting, course, known_site()):
        if judged.hazard in hazards:
            harm = (judged.harm | judged.kill)[:, 0]
            for row in np.flatnonzero(harm.any(axis=1)).tolist():
                starts = _days(times[harm[row]]) if span.is_long else [span.start]
                found |= {(names[row], start) for start in starts}
    return found


def _days(times: NDArray[np.int64]) -> list[datetime]:
    """The UTC days of hours: each counts for a night in what lasts a season."""
    days = np.unique((times - 1) // DAY_S).tolist()
    return [datetime.fromtimestamp(day * DAY_S, UTC) for day in days]
