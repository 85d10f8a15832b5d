"""Times and days as a keeper writes them: of the clock, of the calendar, of the year."""

from __future__ import annotations

import re
from datetime import date, time
from typing import Annotated, Any

from pydantic import BeforeValidator

from underbench.rules.garden.inventory import Away, Hours

_DAY = 24 * 60  # minutes
_CLOCK = re.compile(r"([01]?\d|2[0-4]):([0-5]\d)")
_SPAN = re.compile(rf"{_CLOCK.pattern}\s*[-–]\s*{_CLOCK.pattern}")


def _two_clocks(value: Any) -> tuple[int, int] | None:
    """Return two clock times in minutes, in either order; None where ``value`` is no such pair."""
    found = _SPAN.fullmatch(value.strip()) if isinstance(value, str) else None
    if not found:
        return None
    start, end = (
        int(hour) * 60 + int(minute) for hour, minute in (found.group(1, 2), found.group(3, 4))
    )
    return (start, end) if max(start, end) <= _DAY else None


def _span_minutes(value: Any) -> tuple[int, int]:
    found = _two_clocks(value)
    if found and found[0] < found[1]:
        return found
    raise ValueError('expected two times of one day, the earlier first, such as "08:00-18:00"')


def _sun(value: Any) -> tuple[float, float]:
    """Local clock hours of sun; no sun is a stretch of length zero."""
    if value == "none":
        return (12.0, 12.0)
    try:
        start, end = _span_minutes(value)
    except ValueError as error:
        raise ValueError(f'{error}, or "none"') from None
    return start / 60, end / 60


def _hours(value: Any) -> Hours:
    start, end = _span_minutes(value)
    # A clock time cannot say 24:00, and nobody needs the last minute of a day.
    end = min(end, _DAY - 1)
    return Hours(start=time(*divmod(start, 60)), end=time(*divmod(end, 60)))


def _quiet(value: Any) -> tuple[time, time]:
    """Local clock times, mostly over midnight; no quiet hours are a stretch of length zero."""
    if value == "none":
        return time(0), time(0)
    found = _two_clocks(value)
    start, end = (time(*divmod(minutes % _DAY, 60)) for minutes in found or (0, 0))
    if start == end:
        raise ValueError('expected two times, such as "22:00-06:00", or "none"')
    return start, end


def _clock(value: Any) -> time:
    found = _CLOCK.fullmatch(value.strip()) if isinstance(value, str) else None
    if found and int(found[1]) < 24:
        return time(int(found[1]), int(found[2]))
    raise ValueError('expected a time of day, such as "07:00"')


def _away(value: Any) -> Away:
    try:
        first, last = (date.fromisoformat(day.strip()) for day in value.split(" to "))
    except (AttributeError, ValueError):
        raise ValueError('expected two dates, such as "2027-04-20 to 2027-04-24"') from None
    if last < first:
        raise ValueError("the first day comes after the last")
    return Away(first=first, last=last)


def _day_of_year(value: Any) -> tuple[int, int]:
    try:
        month, day = (int(part) for part in value.split("-"))
        date(2000, month, day)  # a leap year: 29 February is a day
    except (AttributeError, ValueError):
        raise ValueError('expected month-day, such as "04-01"') from None
    return month, day


Clock = Annotated[time, BeforeValidator(_clock)]
Sun = Annotated[tuple[float, float], BeforeValidator(_sun)]
Quiet = Annotated[tuple[time, time], BeforeValidator(_quiet)]
HoursList = tuple[Annotated[Hours, BeforeValidator(_hours)], ...]
DaysList = tuple[Annotated[Away, BeforeValidator(_away)], ...]
DayOfYear = Annotated[tuple[int, int], BeforeValidator(_day_of_year)]
