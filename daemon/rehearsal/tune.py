"""What other values of one of the keeper's limits would have brought in weather that is known.

The trees meant are rehearsed by themselves, once for each value. A harmed night is a night in which
a tree would have crossed today's limit where it belongs, without a word to its keeper. So milder
values show fewer messages and more harmed nights, and today's value is the measure of harm.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from functools import partial

import numpy as np
from numpy.typing import NDArray

from underbench.daemon.config.settings import Settings
from underbench.daemon.faults import Fault
from underbench.daemon.outlook.outlook import setting_of, species_of
from underbench.daemon.rehearsal.replay import Heard, Plan, Seen, pass_by_pass
from underbench.daemon.rehearsal.tuned_names import Meant
from underbench.rules.course.course import DAY_S, Conditions, Course, follow
from underbench.rules.course.inputs import Row, Setting
from underbench.rules.garden.inventory import Tree
from underbench.rules.garden.journal import Move
from underbench.rules.garden.local_time import A_MINUTE, hands_on_between
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
from underbench.rules.plants.species import Span
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
    unit: str = "°C"


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
    "gust_ms": Tunable(None, frozenset({GALE}), 2.0, -6.0, "m/s"),
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


def tune(planned: Plan, meant: Meant, limit: str, count: int, seen: Seen) -> Tuning:
    """Rehearse ``count`` values around today's. ``planned`` is of the whole garden.

    Raises Fault where the trees have no such limit yet, so that there is none to go by.
    """
    today, step = value_today(planned.settings, meant, limit), LIMITS[limit].step
    values = [today + step * (n - count // 2) for n in range(count)]
    setting, course = _at_home(planned, meant)
    first = planned.moments[0] - DAY
    harmed = {one for one in _harmed(setting, course, LIMITS[limit].hazards) if one[1] >= first}
    near = replace(planned, moments=_near(planned, setting, course, limit, values))
    tried = tuple(_tried(near, meant, limit, value, harmed, seen) for value in values)
    return Tuning(meant, limit, today, tried)


def _near(
    planned: Plan, setting: Setting, course: Course, limit: str, values: Sequence[float]
) -> tuple[datetime, ...]:
    """The passes around the nights that could come near the harshest of ``values``: only those as
    hands-on hours begin, when nearly all is told."""
    one = LIMITS[limit]
    harshest = max(values) if one.reach > 0 else min(values)
    nights = {
        night
        for _, night in _harmed(setting, _with(course, limit, harshest + one.reach), one.hazards)
    }
    days = {
        (night + n * DAY).date() for night in nights for n in range(-BEFORE_DAYS, AFTER_DAYS + 1)
    }
    return tuple(
        moment
        for moment in planned.moments
        if moment.date() in days and _opens(planned.settings, moment)
    )


def _opens(settings: Settings, moment: datetime) -> bool:
    """Whether somebody is there at a moment who was not an hour before."""
    hands_on, zone = settings.hands_on, settings.garden.timezone
    there, before = (
        bool(hands_on_between(hands_on, at, at + A_MINUTE, zone)) for at in (moment, moment - HOUR)
    )
    return there and not before


def most_leverage(planned: Plan, meant: Meant, count: int) -> str:
    """Return the limit whose crossed nights differ most between the least and the highest of
    ``count`` values. Raises Fault where none of them makes any difference."""
    setting, course = _at_home(planned, meant)
    differs = {}
    for limit in LIMITS:
        try:
            today = value_today(planned.settings, meant, limit)
        except Fault:
            continue
        step, hazards = LIMITS[limit].step, LIMITS[limit].hazards
        wide = step * (count // 2)
        less, more = (
            _harmed(setting, _with(course, limit, today + by), hazards) for by in (-wide, wide)
        )
        differs[limit] = sum(night >= planned.moments[0] - DAY for _, night in less ^ more)
    if not any(differs.values()):
        raise Fault(f"no limit of {meant.name} makes any difference in this weather")
    return max(differs, key=lambda limit: differs[limit])


def value_today(settings: Settings, meant: Meant, limit: str) -> float:
    """Return the value that holds for most of the trees meant: the keeper's own, else the
    species'. Raises Fault where there is neither."""
    values = (_value_of(settings, tree, limit) for tree in _trees(settings, meant))
    found = [value for value in values if value is not None]
    if not found:
        raise Fault(f"{meant.name} has no {limit} yet: set one in the file to go by")
    return max(found, key=found.count)


def _value_of(settings: Settings, tree: Tree, limit: str) -> float | None:
    own = [tree.limits, settings.spots[tree.spot].limits]
    own += [kin.limits for kin in reversed(tree.kin_limits)]
    for limits in own:
        value: float | None = getattr(limits, limit)
        if value is not None:
            return value
    field = LIMITS[limit].field
    pair = getattr(species_of(tree).limits, field) if field else None
    return pair.harm if isinstance(pair, Span) else None


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
    heard = list(pass_by_pass(tried, seen))
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


def _at_home(planned: Plan, meant: Meant) -> tuple[Setting, Course]:
    """The trees meant where they belong, through all of the weather; one member. The season's
    clocks need what was before the first pass."""
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
    return setting, follow(setting, rows, journal, begun, weather, known_site())


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
