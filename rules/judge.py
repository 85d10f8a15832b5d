"""All hazards over all spans of a course: exposures and limits in, findings out."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from underbench.rules import protect, shade, vent, watering
from underbench.rules.course import Course, Setting
from underbench.rules.findings import Finding, Hazard, Judged, find
from underbench.rules.garden import Chance
from underbench.rules.hours import NOON, Stretch, days, local_day, local_moment, nights
from underbench.rules.limits import Bearing, bearing
from underbench.rules.members import Site
from underbench.rules.weather import HOUR_S, Array

AUTUMN, AUTUMN_IN_THE_SOUTH = (9, 6), (3, 12)  # months: from the first's to the second's start
A_NIGHT = timedelta(days=2)

NIGHTLY = frozenset(
    {
        Hazard.LEAF_FROST,
        Hazard.ROOT_FROST,
        Hazard.GALE,
        Hazard.DRY_WIND,
        Hazard.FROZEN_DRYING,
    }
)
SHADY = frozenset({Hazard.SCORCH, Hazard.FIRST_SUN, Hazard.HOT_ROOTS})
BAGGED = frozenset({Hazard.HOT_BAG})
DAILY = SHADY | BAGGED
WATER = frozenset({Hazard.DRY})
SEASONAL = frozenset({Hazard.CHILL})
_JUDGES = (
    (NIGHTLY, protect.judge),
    (SHADY, shade.judge),
    (BAGGED, vent.judge),
    (WATER, watering.judge),
)


def judge(setting: Setting, course: Course, site: Site, chance: Chance) -> list[Finding]:
    """Return every finding of ``course``, cold ones by hazard night, the rest by local day.

    A tropical's chill is one span from September to May, so that it is told once; in the warm
    season a cool night is a night like others.
    """
    trees = [fact.tree for fact in next(iter(course.conditions.values()))]
    found: list[Finding] = []
    for span, hazards in _spans(setting, course):
        times, judged = judged_in(setting, course, site, span, hazards)
        for one in judged:
            found += find(one, span, times, trees, chance)
    return found


def left_of(setting: Setting, course: Course, site: Site, finding: Finding) -> tuple[Array, Array]:
    """Return what is left of ``finding`` for each row of a course in which something was done.

    The share of members still harmed, and the worst value of the median member; shape (row,).
    """
    _, judged = judged_in(setting, course, site, finding.span, frozenset({finding.hazard}))
    one = judged[0]
    harmed = (one.harm | one.kill).any(axis=2).mean(axis=1)
    worst = one.value.min(axis=2) if one.low else one.value.max(axis=2)
    return harmed, np.median(worst, axis=1)


def judged_in(
    setting: Setting, course: Course, site: Site, span: Stretch, hazards: frozenset[Hazard]
) -> tuple[NDArray[np.int64], list[Judged]]:
    """Return the hours of ``course`` inside ``span`` and those of ``hazards`` judged over them."""
    bounds = [span.start.timestamp(), span.end.timestamp()]
    first, past = np.searchsorted(course.times, bounds, side="right")
    hours = slice(int(first), int(past))
    times = course.times[hours]
    if not len(times):
        return times, []
    exposure = course.exposure.hours(hours)
    middle = datetime.fromtimestamp(int(times[len(times) // 2]), tz=UTC)
    bearings = bearings_on(setting, course, middle.date())
    judged: list[Judged] = []
    chill = protect.judge_chill if span.end - span.start > A_NIGHT else protect.judge_cool_night
    for group, judging in (*_JUDGES, (SEASONAL, chill)):
        if group & hazards:
            judged += judging(exposure, bearings, site)
    return times, [one for one in judged if one.hazard in hazards]


def bearings_on(setting: Setting, course: Course, day: date) -> list[Bearing]:
    """Return the limits of each row on a UTC day, or on the nearest day the course knows."""
    nearest = min(course.conditions, key=lambda known: abs((known - day).days))
    return [bearing(setting.species[fact.tree.name], fact) for fact in course.conditions[nearest]]


def _spans(setting: Setting, course: Course) -> Iterator[tuple[Stretch, frozenset[Hazard]]]:
    start = datetime.fromtimestamp(int(course.times[0]) - HOUR_S, tz=UTC)
    end = datetime.fromtimestamp(int(course.times[-1]), tz=UTC)
    zone = setting.garden.timezone
    by_day = DAILY | WATER if setting.routines else DAILY
    by_night = NIGHTLY if _cold_season(start, setting) else NIGHTLY | SEASONAL
    for night in nights(start, end, zone):
        yield night, by_night
    for day in days(start, end, zone):
        yield day, by_day
    season = _cold_season(start, setting)
    if season is not None:
        yield season, SEASONAL


def _cold_season(moment: datetime, setting: Setting) -> Stretch | None:
    """September to May around ``moment`` (March to November in the south); None in between."""
    zone = setting.garden.timezone
    today = local_day(moment, zone)
    opens, closes = AUTUMN if setting.garden.latitude >= 0 else AUTUMN_IN_THE_SOUTH
    if closes <= today.month < opens or (opens < closes and not opens <= today.month < closes):
        return None
    year = today.year if today.month >= opens else today.year - 1
    last = year if closes > opens else year + 1
    first, end = date(year, opens, 1), date(last, closes, 1)
    return Stretch(local_moment(first, NOON, zone), local_moment(end, NOON, zone))
