"""When: by when to act, from when to tell it, and when trees may go back."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, time, timedelta

from underbench.rules.garden.inventory import Garden, HandsOn
from underbench.rules.garden.local_time import (
    A_MINUTE,
    NOON,
    Stretch,
    hands_on_between,
    local_day,
    local_moment,
)
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.hazard import Due
from underbench.rules.weather.sun import sunrise_sunset

LOOK_BACK = timedelta(days=3)
BACK_OUT_FROM = time(9)
LEAVING = time(9)  # "before leaving for the day", where no morning hands-on hours are recorded
LONG_JOB = timedelta(minutes=30)
ALREADY = timedelta(hours=1)  # a hazard this near counts as on: its first bad hour may have begun
WATER_HOLDS = timedelta(hours=16)  # a pot about to run dry has used up any earlier watering
DAYS_WAIT = timedelta(days=2)


def do_by(
    finding: Finding, garden: Garden, hands_on: HandsOn, now: datetime
) -> tuple[datetime, bool]:
    """Return by when to act, and whether somebody is there then.

    The trade's deadlines are: frost, sunset; heat and bags, before leaving for the day; gale, the
    daylight before. The trade's deadline holds if it falls in hands-on hours. Otherwise the end of
    the last hands-on hours before it holds, or of those before the hazard itself. Without any, it
    is the hazard's onset, and False. A hazard that is on is due now. A pot is not watered so early
    that the water is used up by then.
    """
    due = finding.hazard.due
    if due in (Due.NEXT_VISIT, Due.NEXT_MORNING):
        soon = hands_on_between(hands_on, now, now + DAYS_WAIT, garden.timezone)
        if due is Due.NEXT_MORNING:
            soon = _mornings(soon, garden.timezone) or soon
        return (soon[0].end, True) if soon else (now + DAYS_WAIT, False)
    if finding.first_at - now <= ALREADY:
        return now, bool(hands_on_between(hands_on, now, now + ALREADY, garden.timezone))
    ideal = max(_trade_deadline(finding, garden), now)
    since = max(finding.first_at - WATER_HOLDS, now) if due is Due.WATERING else now
    for limit in (min(ideal, finding.first_at), finding.first_at):
        open_hours = hands_on_between(hands_on, since, limit, garden.timezone)
        if open_hours:
            return open_hours[-1].end, True
    onset = finding.first_at
    if due is Due.WATERING:  # nobody else is asked to water in the dark
        onset = min(onset, _daylight_before(onset, garden))
    return max(onset, now), False


def _mornings(open_hours: Sequence[Stretch], timezone: str) -> list[Stretch]:
    """The parts before noon of hands-on hours: a tree let out in the evening gets no light."""
    noons = [local_moment(local_day(h.start, timezone), NOON, timezone) for h in open_hours]
    return [
        Stretch(hours.start, min(hours.end, noon))
        for hours, noon in zip(open_hours, noons, strict=True)
        if hours.start < noon
    ]


def _trade_deadline(finding: Finding, garden: Garden) -> datetime:
    if finding.hazard.due is Due.SUNSET:
        return _sunset_of(finding, garden)
    if finding.hazard.due is Due.DAYLIGHT:
        return _daylight_before(finding.first_at, garden)
    first_day = local_day(finding.first_at, garden.timezone)
    leaving = local_moment(first_day, LEAVING, garden.timezone)
    return min(leaving, finding.first_at)


def _sunset_of(finding: Finding, garden: Garden) -> datetime:
    """The sunset of the hazard night. Frost just after dawn still belongs to that night."""
    evening = local_day(finding.span.start, garden.timezone)
    _, sunset = sunrise_sunset(evening, garden.latitude, garden.longitude)
    return finding.first_at if sunset is None else min(sunset, finding.first_at)


def _daylight_before(moment: datetime, garden: Garden) -> datetime:
    """The last daylight before ``moment``: by day the moment itself, by night the sunset before."""
    day = local_day(moment, garden.timezone)
    for back in range(3):
        sunrise, sunset = sunrise_sunset(
            day - timedelta(days=back), garden.latitude, garden.longitude
        )
        if sunrise is None or sunset is None:
            return moment
        if sunrise < moment:
            return min(sunset, moment)
    return moment


def tell_from(
    deadline: datetime,
    strength: Strength,
    needed: timedelta,
    garden: Garden,
    hands_on: HandsOn,
) -> datetime:
    """Return from when a job that takes ``needed`` is told.

    It is told from the first hands-on hours of the deadline's day, if that day has enough of them.
    Otherwise it is told from the latest earlier hours that leave enough. Danger, and a job of over
    half an hour, is told by the evening before. If nobody is there in the three days before, it is
    told three days ahead.
    """
    zone = garden.timezone
    open_hours = hands_on_between(hands_on, deadline - LOOK_BACK, deadline, zone)
    if not open_hours:
        return deadline - LOOK_BACK
    day, opens = local_day(deadline, zone), _enough_from(open_hours, needed).start
    if local_day(opens, zone) == day:
        opens = next(hours.start for hours in open_hours if local_day(hours.start, zone) == day)
    eve = [hours.start for hours in open_hours if local_day(hours.start, zone) < day]
    waits = strength is not Strength.DANGER and needed <= LONG_JOB
    return opens if waits or not eve else min(opens, eve[-1])


def _enough_from(open_hours: Sequence[Stretch], needed: timedelta) -> Stretch:
    """The latest stretch from which there is enough time; the first if there never is."""
    left = timedelta(0)
    for hours in reversed(open_hours):
        left += hours.end - hours.start
        if left >= needed:
            return hours
    return open_hours[0]


def back_again(run: Sequence[Finding], garden: Garden, hands_on: HandsOn) -> datetime | None:
    """Return when trees may go back after a run. This is the first hands-on moment after nine
    o'clock on the run's last morning, and after its last bad hour.

    None where nothing goes back: water, a bag, a tropical in for the cold season.
    """
    passing = [f for f in run if f.hazard.returns]
    if not passing:
        return None
    last, ends = max(f.until_at for f in passing), max(f.span.end for f in passing)
    return back_after(last, ends, garden, hands_on)


def back_after(last: datetime, night_ends: datetime, garden: Garden, hands_on: HandsOn) -> datetime:
    """Return the first hands-on moment after ``last``, and after nine o'clock on the morning of the
    night that ends at ``night_ends``."""
    day = local_day(night_ends - A_MINUTE, garden.timezone)
    earliest = max(last, local_moment(day, BACK_OUT_FROM, garden.timezone))
    after = hands_on_between(hands_on, earliest, earliest + timedelta(days=7), garden.timezone)
    return after[0].start if after else earliest
