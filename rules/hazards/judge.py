"""All hazards over all spans of a course: exposures and limits in, findings out."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta

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
from underbench.rules.hazards import HAZARDS
from underbench.rules.hazards.bearing import Bearing, bearing
from underbench.rules.hazards.findings import Finding, Strength, find
from underbench.rules.hazards.hazard import Hazard, Judged, Scene, Spans
from underbench.rules.limits.condition import Condition
from underbench.rules.physics.exposure import Exposure
from underbench.rules.plants.species import Species
from underbench.rules.weather.hourly import HOUR_S, Array
from underbench.rules.weather.spread import Site

AUTUMN, AUTUMN_IN_THE_SOUTH = (9, 6), (3, 12)  # months: from the first's to the second's start
SLOW_SPAN = timedelta(days=90)  # a hazard that comes on over days is told once in each such span


def judge(setting: Setting, course: Course, site: Site, chance: Chance) -> list[Finding]:
    """Return every finding of ``course``: each hazard over each of its spans.

    Of rival hazards only the gravest is kept for a tree and span.
    """
    trees = [fact.tree for fact in next(iter(course.conditions.values()))]
    found: list[Finding] = []
    for span, times, judged in outcomes(setting, course, site):
        found += find(judged, span, times, trees, chance)
    return [*_without_rivals(found), *_begun(setting, course, site, chance)]


def outcomes(
    setting: Setting, course: Course, site: Site
) -> Iterator[tuple[Stretch, NDArray[np.int64], Judged]]:
    """Yield each hazard of the weather judged over each of its spans, with the span and its hours
    (UTC seconds)."""
    for span, hazards in _spans(setting, course):
        for times, judged in judged_over(setting, course, site, span, hazards):
            yield span, times, judged


def rivals_of(hazard: Hazard) -> list[Hazard]:
    """Return the rivals of ``hazard``, itself among them. Only the gravest of them is told."""
    if not hazard.rivals:
        return [hazard]
    return [one for one in HAZARDS.values() if one.rivals == hazard.rivals]


def _without_rivals(found: list[Finding]) -> list[Finding]:
    """Keep one of several rivals for a tree and span: the strongest. Of two equally strong ones the
    later in the table is kept."""
    told: dict[tuple[str, datetime, str], Finding] = {}
    for one in found:
        if one.hazard.rivals:
            told[_ring(one)] = max(told.get(_ring(one), one), one, key=_gravity)
    return [f for f in found if not f.hazard.rivals or f is told[_ring(f)]]


def _ring(finding: Finding) -> tuple[str, datetime, str]:
    return finding.tree, finding.span.start, finding.hazard.rivals


def _gravity(finding: Finding) -> tuple[int, int]:
    order = list(HAZARDS)
    return list(Strength).index(finding.strength), order.index(finding.hazard.key)


def _begun(setting: Setting, course: Course, site: Site, chance: Chance) -> list[Finding]:
    """Return the findings that have come on over days until now. Each span begins when the hazard
    began. The hours ahead are not judged: whoever is told to leave trees in the dark for three
    nights is not warned of it."""
    times, found = course.times[:1], list[Finding]()
    now = datetime.fromtimestamp(int(times[0]), tz=UTC)
    cut = _cut_at(setting, course, Stretch(now, now), slice(0, 1))
    for hazard in _over(setting, Spans.SINCE):
        scene = _scene(cut, hazard, site)
        judged, since = hazard.judge(scene), [hazard.since(one) for one in scene.conditions]
        for begun in sorted({one for one in since if one}):
            start = begun + max(0, (now - begun) // SLOW_SPAN) * SLOW_SPAN
            own = np.array([one == begun for one in since])[:, None, None]
            mine = replace(judged, harm=judged.harm & own, kill=judged.kill & own)
            trees = [one.tree for one in scene.conditions]
            found += find(mine, Stretch(start, start + SLOW_SPAN), times, trees, chance)
    return found


def left_of(
    setting: Setting,
    course: Course,
    site: Site,
    finding: Finding,
    done: Sequence[datetime | None] = (),
) -> tuple[Array, Array]:
    """Return what is left of ``finding`` for each row of a course in which something was done.

    These are the share of members still harmed, and the worst value of the median member; shape
    (row,). ``done``: when it was done in each row (None, or without any: before the span). What was
    harmed until then is not held against it. Raises ValueError where the course has no hour of the
    finding's span.
    """
    times, one = judged_in(setting, course, site, finding.span, finding.hazard)
    if one is None:
        raise ValueError(f"{finding.span}: no hour of it is in the course")
    since_s = [at.timestamp() if at else 0.0 for at in done] or [0.0]
    counts = (times[None, :] > np.array(since_s)[:, None])[:, None, :]
    harmed = ((one.harm | one.kill) & counts).any(axis=2).mean(axis=1)
    beside = np.inf if one.hazard.low else -np.inf
    value = np.where(counts, one.value, beside)
    worst = value.min(axis=2) if one.hazard.low else value.max(axis=2)
    return harmed, np.median(worst, axis=1)


def judged_in(
    setting: Setting, course: Course, site: Site, span: Stretch, hazard: Hazard
) -> tuple[NDArray[np.int64], Judged | None]:
    """Return the hours of ``course`` inside ``span``, and ``hazard`` judged over them. The second
    is None if there are no hours."""
    for times, judged in judged_over(setting, course, site, span, [hazard]):
        return times, judged
    return course.times[:0], None


def judged_over(
    setting: Setting, course: Course, site: Site, span: Stretch, hazards: Sequence[Hazard]
) -> Iterator[tuple[NDArray[np.int64], Judged]]:
    """Yield the hours of ``course`` inside ``span`` and each of some hazards judged over them.
    Nothing is yielded if there are no hours."""
    cut = _cut(setting, course, span)
    for hazard in hazards if cut else ():
        if hazard.spans is Spans.WEEK and span.is_long:
            yield _day_by_day(setting, course, site, span, hazard)
        elif cut:
            yield cut.times, hazard.judge(_scene(cut, hazard, site))


@dataclass(frozen=True, slots=True)
class _Cut:
    """The hours of a course inside a span, cut once for all hazards. Its conditions are those of
    the day of the middle hour."""

    span: Stretch
    times: NDArray[np.int64]
    exposure: Exposure
    conditions: Sequence[Condition]
    species: Sequence[Species]


def _cut(setting: Setting, course: Course, span: Stretch) -> _Cut | None:
    """None where the course has no hours of the span."""
    bounds = [span.start.timestamp(), span.end.timestamp()]
    first, past = np.searchsorted(course.times, bounds, side="right").tolist()
    return _cut_at(setting, course, span, slice(first, past)) if past > first else None


def _cut_at(setting: Setting, course: Course, span: Stretch, hours: slice) -> _Cut:
    times = course.times[hours]
    conditions = _conditions_on(course, _day_of(int(times[len(times) // 2])))
    species = [setting.species[one.tree.name] for one in conditions]
    return _Cut(span, times, course.exposure.hours(hours), conditions, species)


def _scene(cut: _Cut, hazard: Hazard, site: Site) -> Scene:
    limits = [hazard.limit(*pair) for pair in zip(cut.species, cut.conditions, strict=True)]
    what = cut.conditions, cut.species, site, cut.span, cut.times
    return Scene(hazard, cut.exposure, limits, *what)


def _day_by_day(
    setting: Setting, course: Course, site: Site, span: Stretch, hazard: Hazard
) -> tuple[NDArray[np.int64], Judged]:
    """A hazard over a week. Heat adds up within a day only, but one placement answers the week.

    The limit told is that of the last day, when the buds are furthest.
    """
    by_day = [
        found
        for day in days(span.start, span.end, setting.garden.timezone)
        for found in judged_over(setting, course, site, day, [hazard])
    ]
    parts = [one for _, one in by_day]
    whole = replace(
        parts[-1],
        value=np.concatenate([one.value for one in parts], axis=2),
        harm=np.concatenate([one.harm for one in parts], axis=2),
        kill=np.concatenate([one.kill for one in parts], axis=2),
    )
    return np.concatenate([times for times, _ in by_day]), whole


def bearings_on(setting: Setting, course: Course, day: date) -> list[Bearing]:
    """Return the limits of each row on a UTC day, or on the nearest day the course knows."""
    conditions = _conditions_on(course, day)
    return [bearing(setting.species[one.tree.name], one) for one in conditions]


def _conditions_on(course: Course, day: date) -> Sequence[Condition]:
    return course.conditions[min(course.conditions, key=lambda known: abs((known - day).days))]


def _day_of(seconds: int) -> date:
    return datetime.fromtimestamp(seconds, tz=UTC).date()


def _over(setting: Setting, spans: Spans) -> list[Hazard]:
    """The hazards judged over such spans that this garden asks for."""
    return [one for one in HAZARDS.values() if one.spans is spans and one.asked(setting)]


def _spans(setting: Setting, course: Course) -> Iterator[tuple[Stretch, list[Hazard]]]:
    start = datetime.fromtimestamp(int(course.times[0]) - HOUR_S, tz=UTC)
    end = datetime.fromtimestamp(int(course.times[-1]), tz=UTC)
    zone, season = setting.garden.timezone, _cold_season(start, setting)
    by_night, seasonal = _over(setting, Spans.NIGHT), _over(setting, Spans.COLD_SEASON)
    for night in nights(start, end, zone):
        yield night, by_night if season else by_night + seasonal
    for day in days(start, end, zone):
        yield day, _over(setting, Spans.DAY)
    for week in weeks(start, end, zone):
        yield week, _over(setting, Spans.WEEK)
    if season is not None:
        yield season, seasonal


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
