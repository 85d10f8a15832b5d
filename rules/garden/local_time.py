"""Local time: hands-on hours, hazard nights and the watering routine, as UTC moments."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from underbench.rules.garden.inventory import HandsOn, Routine

_MONDAY = 0
NOON = time(12)
LONG_AGO = datetime.min.replace(tzinfo=UTC)
A_NIGHT = timedelta(days=2)  # what is judged as one night or day never lasts so long
A_MINUTE = timedelta(minutes=1)  # a span ends with its last local day, or within it


@dataclass(frozen=True, slots=True)
class Stretch:
    """A stretch of time in UTC: start excluded, end included, as weather hours end."""

    start: datetime
    end: datetime

    @property
    def is_long(self) -> bool:
        """Whether it is more than a night or a day: a week, a season, or what comes over days."""
        return self.end - self.start > A_NIGHT


def local_moment(day: date, clock: time, timezone: str) -> datetime:
    """Return a local clock time as UTC. A time that daylight saving skips moves an hour on."""
    return datetime.combine(day, clock, tzinfo=ZoneInfo(timezone)).astimezone(UTC)


def local_day(moment: datetime, timezone: str) -> date:
    """Return the local calendar day of a moment."""
    return moment.astimezone(ZoneInfo(timezone)).date()


def _days(
    start: datetime, end: datetime, timezone: str, before: int = 0, after: int = 0
) -> Iterator[date]:
    """The local days from start to end, plus ``before`` and ``after`` more days."""
    day = local_day(start, timezone) - timedelta(days=before)
    last = local_day(end, timezone) + timedelta(days=after)
    while day <= last:
        yield day
        day += timedelta(days=1)


def hands_on_between(
    hands_on: HandsOn, start: datetime, end: datetime, timezone: str
) -> list[Stretch]:
    """Return the stretches in [start, end] when somebody can carry trees, in order, cut to fit."""
    found = []
    for day in _days(start, end, timezone):
        for hours in hands_on.anybody(day):
            opens = max(local_moment(day, hours.start, timezone), start)
            closes = min(local_moment(day, hours.end, timezone), end)
            if opens < closes:
                found.append(Stretch(opens, closes))
    return found


def nights(start: datetime, end: datetime, timezone: str) -> list[Stretch]:
    """Return the hazard nights that touch (start, end]: local noon to local noon."""
    around = _days(start, end, timezone, before=1, after=1)
    return _touching(start, end, [local_moment(day, NOON, timezone) for day in around])


def days(start: datetime, end: datetime, timezone: str) -> list[Stretch]:
    """Return the local days, midnight to midnight, that touch (start, end]."""
    around = _days(start, end, timezone, after=1)
    return _touching(start, end, [local_moment(day, time(0), timezone) for day in around])


def weeks(start: datetime, end: datetime, timezone: str) -> list[Stretch]:
    """Return the local weeks, Monday to Monday, that touch (start, end]."""
    around = _days(start, end, timezone, before=6, after=7)
    mondays = [day for day in around if day.weekday() == _MONDAY]
    return _touching(start, end, [local_moment(day, time(0), timezone) for day in mondays])


def _touching(start: datetime, end: datetime, bounds: list[datetime]) -> list[Stretch]:
    spans = [Stretch(a, b) for a, b in pairwise(bounds)]
    return [span for span in spans if span.end > start and span.start < end]


def waterings_between(
    routines: tuple[Routine, ...],
    hands_on: HandsOn,
    start: datetime,
    end: datetime,
    timezone: str,
    *,
    looks: bool = False,
) -> list[datetime]:
    """Return the moments in (start, end] at which the recorded routine waters.

    With ``looks`` they are those at which the keeper looks and waters only what is dry: those of a
    routine as needed, and noon on days that no routine holds for. Nobody who waters in summer
    leaves dry pots alone in winter.

    Days on which nobody keeps it up are days without water. "Every third day" counts from a fixed
    day of the calendar, so the answer is the same whenever it is asked.
    """
    moments = []
    for day in _days(start, end, timezone):
        if not hands_on.watered(day):
            continue
        today = [routine for routine in routines if _in_season(routine, day)]
        for routine in (one for one in today if one.as_needed is looks):
            if day.toordinal() % routine.every_days == 0:
                moments += [local_moment(day, clock, timezone) for clock in routine.times]
        if looks and routines and not today:
            moments.append(local_moment(day, NOON, timezone))
    return sorted({moment for moment in moments if start < moment <= end})


def _in_season(routine: Routine, day: date) -> bool:
    today, first, last = (day.month, day.day), routine.first, routine.last
    return first <= today <= last if first <= last else today >= first or today <= last


def quiet_until(hands_on: HandsOn, moment: datetime, timezone: str) -> datetime | None:
    """Return when the quiet hours around ``moment`` end; None outside them.

    Hours in which somebody can carry trees are never quiet, because that person is up.
    """
    begins, ends = hands_on.quiet
    overnight = timedelta(days=ends < begins)
    for day in _days(moment, moment, timezone, before=1):
        until = local_moment(day + overnight, ends, timezone)
        if local_moment(day, begins, timezone) <= moment < until:
            up = hands_on_between(hands_on, moment, until, timezone)
            until = up[0].start if up else until
            return until if until > moment else None
    return None
