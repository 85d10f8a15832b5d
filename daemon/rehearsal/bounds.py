"""What could be found of trees through weeks of weather that is known, whichever pass looks at it.

The members of a pass lie between the run itself and the run with the spread of the longest lead.
Both are followed from one pass through the weeks after it. What is felt does not grow quite evenly
with the spread, so half as many members as are told of are enough here.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, time, timedelta

import numpy as np
from numpy.typing import NDArray

from underbench.daemon.alerts.episodes import RELEASE
from underbench.daemon.outlook.members import bounds_of
from underbench.daemon.outlook.outlook import AHEAD, Outlook, courses
from underbench.daemon.outlook.worst_hazard import chances_of
from underbench.rules.course.course import Course
from underbench.rules.garden.inventory import Tree
from underbench.rules.garden.local_time import Stretch
from underbench.rules.hazards import HAZARDS
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.hazard import Hazard, Judged, Mask, Spans
from underbench.rules.hazards.judge import SLOW_SPAN, judged_in, outcomes
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.limit import Limit
from underbench.rules.weather.hourly import Array, Weather
from underbench.rules.weather.spread import MEMBERS, Site, drawn_sites

SLACK = 0.5
SLOW_SLACK = 0.05  # of the water that moss holds
DAY = timedelta(days=1)
Hours = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Possible:
    """A finding at its worst, from its first hour in any weather to its last. ``sure``: the hours
    (UTC seconds) for which every pass finds it, and does not take it for eased; none of what comes
    on by days."""

    finding: Finding
    sure: Hours


def possible(
    outlook: Outlook, series: Weather, rows: Sequence[int], until: datetime
) -> dict[str, list[Possible]]:
    """Return, by tree, what the passes until ``until`` could find of the trees at ``rows`` of an
    outlook: where they stand and where they belong, if nothing more is noted of them.

    ``series``: one member, complete. What is only worth a notice is left out.
    """
    hour = outlook.now.replace(minute=0, second=0, microsecond=0)
    run = series.between(hour, until + AHEAD)
    found: dict[str, dict[tuple[str, str, datetime], Possible]] = {}
    if not run.hours:
        return {}
    standing = [outlook.standing[row] for row in rows]
    state = outlook.state.take(rows)
    members, site = bounds_of(run, outlook.settings.garden, AHEAD), _both(drawn_sites())
    followed = courses(outlook.setting, standing, outlook.journal, state, members, site)
    for course in filter(None, followed):
        for one in (*_by_weather(outlook, course, site), *_by_days(outlook, course, site)):
            own = found.setdefault(one.finding.tree, {})
            own[one.finding.key] = _joined(own.get(one.finding.key, one), one)
    return {tree: list(own.values()) for tree, own in found.items()}


def _both(site: Site) -> Site:
    """The draws of the site for either bound."""
    names = ("wind_share", "sky_shift", "limit_shift_k", "bag_shift_k", "use_share")
    return Site(*(np.tile(getattr(site, name), 2) for name in names))


def _joined(one: Possible, other: Possible) -> Possible:
    mine, too = one.finding, other.finding
    return replace(
        one,
        finding=replace(
            mine,
            first_at=min(mine.first_at, too.first_at),
            until_at=max(mine.until_at, too.until_at),
            worst=min(mine.worst, too.worst),
            strength=too.strength if mine.strength is Strength.ACT else mine.strength,
        ),
    )


def _by_weather(outlook: Outlook, course: Course, site: Site) -> Iterator[Possible]:
    trees = [fact.tree for fact in next(iter(course.conditions.values()))]
    chances = np.array([chances_of(outlook, tree) for tree in trees]).T
    for span, times, judged in outcomes(outlook.setting, course, site):
        harm = judged.harm | judged.kill
        strong = _share(judged.kill) >= SLACK * chances[1]
        for row in np.flatnonzero(strong | (_share(harm) >= SLACK * chances[0])).tolist():
            limit = judged.limits[row]
            if limit is not None:
                strength = Strength.DANGER if strong[row] else Strength.ACT
                in_both = np.mean(harm[row, :MEMBERS] & harm[row, MEMBERS:], axis=0)
                sure = times[np.asarray(in_both >= RELEASE * chances[0, row])]
                yield Possible(_finding(judged, row, span, times, trees[row], strength), sure)


def _share(harm: Mask) -> NDArray[np.float64]:
    """The share of members (tree,) that either bound harms."""
    by_member: Mask = np.asarray(harm.any(axis=2))
    return np.asarray((by_member[:, :MEMBERS] | by_member[:, MEMBERS:]).mean(axis=1))


def _finding(
    judged: Judged, row: int, span: Stretch, times: Hours, tree: Tree, strength: Strength
) -> Finding:
    bad = np.flatnonzero(np.any(judged.harm[row] | judged.kill[row], axis=0))
    value, limit = judged.value[row], judged.limits[row]
    worst = float(np.nanmin(value) if judged.hazard.low else np.nanmax(value))
    first, last = (datetime.fromtimestamp(int(times[hour]), tz=UTC) for hour in bad[[0, -1]])
    what = tree.name, judged.hazard, span, first, last, first
    assert limit is not None
    return Finding(*what, worst, limit, 1.0, 1.0, strength)


def _by_days(outlook: Outlook, course: Course, site: Site) -> Iterator[Possible]:
    """What comes on by days, and is much the same in all weathers."""
    for hazard in (one for one in HAZARDS.values() if one.spans is Spans.SINCE):
        for day, facts in course.conditions.items():
            begins = datetime.combine(day, time(), UTC)
            a_day = Stretch(begins, begins + DAY)
            _, judged = judged_in(outlook.setting, course, site, a_day, hazard)
            since = [hazard.since(fact) for fact in facts]
            if judged is None or not any(since):
                continue
            for fact, begun, limit, value in zip(
                facts, since, judged.limits, judged.value, strict=True
            ):
                if begun and limit and _is_near(hazard, limit, value):
                    yield _slow(fact, hazard, begun, begins, limit)


def _is_near(hazard: Hazard, limit: Limit, value: Array) -> bool:
    if hazard.low:
        return bool((value < limit.harm + SLOW_SLACK).any())
    return bool((value >= limit.harm).any())


def _slow(
    fact: Condition, hazard: Hazard, begun: datetime, day: datetime, limit: Limit
) -> Possible:
    start = begun + max(0, (day - begun) // SLOW_SPAN) * SLOW_SPAN
    span = Stretch(start, start + SLOW_SPAN)
    what = fact.tree.name, hazard, span, day, day + DAY, day
    finding = Finding(*what, 0.0, limit, 1.0, 0.0, Strength.ACT)
    return Possible(finding, np.empty(0, dtype=np.int64))
