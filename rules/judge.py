"""All hazards over all spans of a course: exposures and limits in, findings out."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta

import numpy as np

from underbench.rules import protect, shade, vent, watering
from underbench.rules.course import Course, Setting
from underbench.rules.findings import Finding, Judged, find
from underbench.rules.garden import Chance, Tree
from underbench.rules.hours import NOON, Stretch, days, local_day, local_moment, nights
from underbench.rules.limits import Bearing, bearing
from underbench.rules.members import Site
from underbench.rules.weather import HOUR_S

MIDSUMMER, HALF_YEAR_MONTHS = 7, 6


def judge(setting: Setting, course: Course, site: Site, chance: Chance) -> list[Finding]:
    """Return every finding of ``course``, cold ones by hazard night, the rest by local day.

    A tropical's chill is one span a cold season, so that it is told once.
    """
    start, end = _ends(course)
    zone, watered = setting.garden.timezone, bool(setting.routines)
    found: list[Finding] = []
    for night in nights(start, end, zone):
        found += _in_span(setting, course, site, chance, night, by_night=True)
    for day in days(start, end, zone):
        found += _in_span(setting, course, site, chance, day, by_night=False, watered=watered)
    season = _cold_season(start, setting)
    bearings = bearings_on(setting, course, start.date())
    judged = protect.judge_chill(course.exposure, bearings, site)
    return found + find(judged, season, course.times, _trees(course), chance)


def bearings_on(setting: Setting, course: Course, day: date) -> list[Bearing]:
    """Return the limits of each row on a UTC day, or on the nearest day the course knows."""
    nearest = min(course.conditions, key=lambda known: abs((known - day).days))
    return [
        bearing(setting.species[fact.tree.species], fact) for fact in course.conditions[nearest]
    ]


def _in_span(
    setting: Setting,
    course: Course,
    site: Site,
    chance: Chance,
    span: Stretch,
    *,
    by_night: bool,
    watered: bool = False,
) -> list[Finding]:
    bounds = [span.start.timestamp(), span.end.timestamp()]
    first, past = np.searchsorted(course.times, bounds, side="right")
    if first == past:
        return []
    hours = slice(int(first), int(past))
    exposure, times = course.exposure.hours(hours), course.times[hours]
    middle = datetime.fromtimestamp(int(times[len(times) // 2]), tz=UTC)
    bearings = bearings_on(setting, course, middle.date())
    judged: list[Judged] = []
    if by_night:
        judged = protect.judge(exposure, bearings, site)
    else:
        judged = [*shade.judge(exposure, bearings, site), *vent.judge(exposure, bearings, site)]
        judged += watering.judge(exposure, bearings) if watered else []
    trees = _trees(course)
    return [finding for one in judged for finding in find(one, span, times, trees, chance)]


def _trees(course: Course) -> Sequence[Tree]:
    return [fact.tree for fact in next(iter(course.conditions.values()))]


def _ends(course: Course) -> tuple[datetime, datetime]:
    first, last = int(course.times[0]) - HOUR_S, int(course.times[-1])
    return datetime.fromtimestamp(first, tz=UTC), datetime.fromtimestamp(last, tz=UTC)


def _cold_season(moment: datetime, setting: Setting) -> Stretch:
    """The year from midsummer to midsummer around ``moment``."""
    zone = setting.garden.timezone
    today = local_day(moment, zone)
    month = MIDSUMMER if setting.garden.latitude >= 0 else MIDSUMMER - HALF_YEAR_MONTHS
    year = today.year if today >= date(today.year, month, 1) else today.year - 1
    first = local_moment(date(year, month, 1), NOON, zone)
    return Stretch(first, first + timedelta(days=365))
