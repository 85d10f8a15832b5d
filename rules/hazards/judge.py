"""All hazards over all spans of a course: exposures and limits in, findings out."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from math import nan

import numpy as np
from numpy.typing import NDArray

from underbench.rules.course.course import Course
from underbench.rules.course.inputs import Setting
from underbench.rules.garden.inventory import Chance
from underbench.rules.garden.local_time import (
    NOON,
    Stretch,
    days,
    local_day,
    local_moment,
    nights,
    weeks,
)
from underbench.rules.hazards import cold_and_wind as protect
from underbench.rules.hazards import drought as watering
from underbench.rules.hazards import heat as shade
from underbench.rules.hazards import hot_bag as vent
from underbench.rules.hazards.darkness import dark_since, judge_dark
from underbench.rules.hazards.drought import judge_moss
from underbench.rules.hazards.findings import Finding, Hazard, Judged, Strength, find
from underbench.rules.limits.bearing import Bearing
from underbench.rules.weather.hourly import HOUR_S, Array
from underbench.rules.weather.spread import Site

AUTUMN, AUTUMN_IN_THE_SOUTH = (9, 6), (3, 12)  # months: from the first's to the second's start
A_NIGHT = timedelta(days=2)

NIGHTLY = protect.NIGHTLY
TOP_FROSTS = frozenset({Hazard.LEAF_FROST, Hazard.MOVING_SAP})
SHADY = frozenset({Hazard.SCORCH, Hazard.FIRST_SUN, Hazard.HOT_ROOTS})
BAGGED = frozenset({Hazard.HOT_BAG})
WATER = frozenset({Hazard.DRY})
SEASONAL = frozenset({Hazard.CHILL})
SLOW_SPAN = timedelta(days=90)  # told once after each wetting or move, of moss once more then
_JUDGES = (
    (SHADY, shade.judge),
    (BAGGED, vent.judge),
    (WATER, watering.judge),
)


def judge(setting: Setting, course: Course, site: Site, chance: Chance) -> list[Finding]:
    """Return every finding of ``course``, cold ones by hazard night, the rest by local day.

    Bags are judged by the week, so that one placement is told for the whole spell.
    A tropical's chill is one span from September to May, so that it is told once; in the warm
    season a cool night is a night like others.
    """
    trees = [fact.tree for fact in next(iter(course.conditions.values()))]
    found: list[Finding] = []
    for span, times, judged in outcomes(setting, course, site):
        found += find(judged, span, times, trees, chance)
    slow = [*_dry_moss(setting, course, chance), *_dark(course, chance)]
    return [*_one_frost_a_night(found), *slow]


def outcomes(
    setting: Setting, course: Course, site: Site
) -> Iterator[tuple[Stretch, NDArray[np.int64], Judged]]:
    """Yield each hazard judged over each of its spans, with the hours of the span (UTC seconds)."""
    for span, hazards in _spans(setting, course):
        times, judged = judged_in(setting, course, site, span, hazards)
        yield from ((span, times, one) for one in judged)


def _one_frost_a_night(found: list[Finding]) -> list[Finding]:
    """Leave one frost of the top to a tree and night: the stronger; of two alike, that on sap."""
    told: dict[tuple[str, datetime], Finding] = {}
    for one in found:
        if one.hazard in TOP_FROSTS:
            night = (one.tree, one.span.start)
            told[night] = max(told.get(night, one), one, key=_gravity)
    return [f for f in found if f.hazard not in TOP_FROSTS or f is told[(f.tree, f.span.start)]]


def _gravity(finding: Finding) -> tuple[int, bool]:
    return list(Strength).index(finding.strength), finding.hazard is Hazard.MOVING_SAP


def _dry_moss(setting: Setting, course: Course, chance: Chance) -> list[Finding]:
    """Return the layers whose moss is dry today, in a span that began with the wetting."""
    today, facts = next(iter(course.conditions.items()))
    found: list[Finding] = []
    for wetted in sorted({fact.moss.wetted_at for fact in facts if fact.moss}):
        own = [fact.moss if fact.moss and fact.moss.wetted_at == wetted else None for fact in facts]
        left = [moss.left if moss else nan for moss in own]
        judged = judge_moss(left, 1, bearings_on(setting, course, today))
        now = datetime.fromtimestamp(int(course.times[0]), tz=UTC)
        begun = wetted + max(0, (now - wetted) // SLOW_SPAN) * SLOW_SPAN
        span = Stretch(begun, begun + SLOW_SPAN)
        found += find(judged, span, course.times[:1], [fact.tree for fact in facts], chance)
    return found


def _dark(course: Course, chance: Chance) -> list[Finding]:
    """Return the trees that have been in the dark too long, in a span that began with their stay:
    who has been told to leave them in for three nights has not been told to worry."""
    facts = next(iter(course.conditions.values()))
    times, trees = course.times[:1], [fact.tree for fact in facts]
    stays = [dark_since(fact) for fact in facts]
    found: list[Finding] = []
    for begun in sorted({stay for stay in stays if stay}):
        own = [stay if stay == begun else None for stay in stays]
        span = Stretch(begun, begun + SLOW_SPAN)
        found += find(judge_dark(own, times), span, times, trees, chance)
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
    if hazards == BAGGED and span.end - span.start > A_NIGHT:
        return _day_by_day(setting, course, site, span)
    bounds = [span.start.timestamp(), span.end.timestamp()]
    first, past = np.searchsorted(course.times, bounds, side="right")
    hours = slice(int(first), int(past))
    times = course.times[hours]
    if not len(times):
        return times, []
    exposure = course.exposure.hours(hours)
    middle = datetime.fromtimestamp(int(times[len(times) // 2]), tz=UTC)
    bearings = bearings_on(setting, course, middle.date())
    judged = protect.judge(exposure, bearings, site, hazards)
    chill = protect.judge_chill if span.end - span.start > A_NIGHT else protect.judge_cool_night
    for group, judging in (*_JUDGES, (SEASONAL, chill)):
        if group & hazards:
            judged += judging(exposure, bearings, site)
    return times, [one for one in judged if one.hazard in hazards]


def _day_by_day(
    setting: Setting, course: Course, site: Site, span: Stretch
) -> tuple[NDArray[np.int64], list[Judged]]:
    """Bags over a week: heat adds up within a day only, but one placement answers all of it.

    The limit told is that of the last day, when the buds are furthest.
    """
    by_day = [
        (times, judged[0])
        for day in days(span.start, span.end, setting.garden.timezone)
        for times, judged in [judged_in(setting, course, site, day, BAGGED)]
        if len(times)
    ]
    if not by_day:
        return course.times[:0], []
    parts = [one for _, one in by_day]
    whole = replace(
        parts[-1],
        value=np.concatenate([one.value for one in parts], axis=2),
        harm=np.concatenate([one.harm for one in parts], axis=2),
        kill=np.concatenate([one.kill for one in parts], axis=2),
    )
    return np.concatenate([times for times, _ in by_day]), [whole]


def bearings_on(setting: Setting, course: Course, day: date) -> list[Bearing]:
    """Return the limits of each row on a UTC day, or on the nearest day the course knows."""
    nearest = min(course.conditions, key=lambda known: abs((known - day).days))
    return course.conditions.bearings(nearest, setting.species)


def _spans(setting: Setting, course: Course) -> Iterator[tuple[Stretch, frozenset[Hazard]]]:
    start = datetime.fromtimestamp(int(course.times[0]) - HOUR_S, tz=UTC)
    end = datetime.fromtimestamp(int(course.times[-1]), tz=UTC)
    zone = setting.garden.timezone
    by_day = SHADY | WATER if setting.routines else SHADY
    by_night = NIGHTLY if _cold_season(start, setting) else NIGHTLY | SEASONAL
    for night in nights(start, end, zone):
        yield night, by_night
    for day in days(start, end, zone):
        yield day, by_day
    for week in weeks(start, end, zone):
        yield week, BAGGED
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
