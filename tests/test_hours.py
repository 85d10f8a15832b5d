"""Local time: hazard nights, hands-on hours and watering on the days the clocks change."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from underbench.rules.garden import Away, HandsOn, Hours, Routine
from underbench.rules.hours import (
    Stretch,
    days,
    hands_on_between,
    local_day,
    local_moment,
    nights,
    waterings_between,
)

LJUBLJANA, MELBOURNE, ADELAIDE = "Europe/Ljubljana", "Australia/Melbourne", "Australia/Adelaide"
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
SPRING, AUTUMN = date(2026, 3, 29), date(2026, 10, 25)  # Sundays on which European clocks change
MORNING_AND_EVENING = HandsOn(
    weekdays=(Hours(start=time(6, 30), end=time(7, 30)), Hours(start=time(17), end=time(21))),
    weekends=(Hours(start=time(8), end=time(21)),),
)


def utc(*parts: int) -> datetime:
    return datetime(*parts, tzinfo=UTC)  # type: ignore[misc, arg-type]


def lengths_h(spans: list[Stretch]) -> list[float]:
    return [(span.end - span.start) / HOUR for span in spans]


def on_clock(moment: datetime, zone: str) -> time:
    return moment.astimezone(ZoneInfo(zone)).time()


# ---- clocks -------------------------------------------------------------------------------------


def test_a_time_the_clocks_skip_is_an_hour_later() -> None:
    assert local_moment(SPRING, time(2, 30), LJUBLJANA) == utc(2026, 3, 29, 1, 30)
    assert on_clock(local_moment(SPRING, time(2, 30), LJUBLJANA), LJUBLJANA) == time(3, 30)


def test_the_local_day_is_not_the_utc_day() -> None:
    assert local_day(utc(2026, 7, 1, 22, 30), LJUBLJANA) == date(2026, 7, 2)
    assert local_day(utc(2026, 7, 1, 15), MELBOURNE) == date(2026, 7, 2)


# ---- hazard nights and days ---------------------------------------------------------------------


@pytest.mark.parametrize(
    ("zone", "start", "hours"),
    [
        (LJUBLJANA, utc(2026, 3, 27, 12), [24, 23, 24]),
        (LJUBLJANA, utc(2026, 10, 23, 12), [24, 25, 24]),
        (MELBOURNE, utc(2026, 4, 3, 3), [24, 25, 24]),  # theirs end on 5 April
        (MELBOURNE, utc(2026, 10, 2, 4), [24, 23, 24]),  # and begin on 4 October
    ],
)
def test_nights_run_from_noon_to_noon_by_the_wall_clock(
    zone: str, start: datetime, hours: list[float]
) -> None:
    found = nights(start, start + 60 * HOUR, zone)
    assert lengths_h(found) == hours
    assert {on_clock(bound, zone) for span in found for bound in (span.start, span.end)} == {
        time(12)
    }


def test_the_last_night_ends_at_noon_even_when_the_clocks_change_in_it() -> None:
    last = nights(utc(2026, 3, 27, 12), utc(2026, 3, 28, 18), LJUBLJANA)[-1]
    assert last == Stretch(utc(2026, 3, 28, 11), utc(2026, 3, 29, 10))


def test_a_night_under_way_counts_and_one_just_over_does_not() -> None:
    at_dawn = utc(2026, 1, 15, 5)
    assert nights(at_dawn, at_dawn + HOUR, LJUBLJANA) == [
        Stretch(utc(2026, 1, 14, 11), utc(2026, 1, 15, 11))
    ]
    noon = utc(2026, 1, 15, 11)
    assert nights(noon, noon + HOUR, LJUBLJANA)[0].start == noon


@pytest.mark.parametrize(
    ("start", "hours"),
    [(utc(2026, 3, 28, 12), [24, 23, 24]), (utc(2026, 10, 24, 12), [24, 25, 24])],
)
def test_days_have_the_hours_the_clock_gives_them(start: datetime, hours: list[float]) -> None:
    assert lengths_h(days(start, start + 48 * HOUR, LJUBLJANA)) == hours


def test_a_day_begun_half_an_hour_ago_counts_where_clocks_stand_on_the_half() -> None:
    """Adelaide is 10:30 ahead, so forecasts end at half past; on 5 April its day has 25 hours."""
    end = utc(2026, 4, 4, 14)
    assert on_clock(end, ADELAIDE) == time(0, 30)
    assert days(end - 6 * HOUR, end, ADELAIDE)[-1].start == end - HOUR / 2


@given(
    start=st.datetimes(datetime(2025, 1, 1), datetime(2027, 12, 31)).map(
        lambda t: t.replace(minute=0, second=0, microsecond=0, tzinfo=UTC)
    ),
    hours=st.integers(1, 130),
    zone=st.sampled_from([LJUBLJANA, MELBOURNE, ADELAIDE, "Pacific/Chatham", "America/St_Johns"]),
)
def test_nights_and_days_cover_every_hour_once(start: datetime, hours: int, zone: str) -> None:
    end = start + hours * HOUR
    for spans in (nights(start, end, zone), days(start, end, zone)):
        assert spans[0].start <= start
        assert spans[-1].end >= end
        assert all(a.end == b.start for a, b in pairwise(spans))
        assert all(span.end > start and span.start < end for span in spans)


# ---- hands-on hours -----------------------------------------------------------------------------


def test_hands_on_hours_keep_to_the_wall_clock_when_it_changes() -> None:
    for sunday, opens in ((SPRING, 6), (AUTUMN, 7)):
        start = local_moment(sunday, time(0), LJUBLJANA)
        found = hands_on_between(MORNING_AND_EVENING, start, start + 23 * HOUR, LJUBLJANA)
        assert [span.start.hour for span in found] == [opens]
        assert on_clock(found[0].end, LJUBLJANA) == time(21)


def test_hands_on_hours_of_a_working_day_are_cut_to_what_is_asked() -> None:
    found = hands_on_between(
        MORNING_AND_EVENING, utc(2026, 1, 14, 6), utc(2026, 1, 14, 18), LJUBLJANA
    )
    assert found == [
        Stretch(utc(2026, 1, 14, 6), utc(2026, 1, 14, 6, 30)),
        Stretch(utc(2026, 1, 14, 16), utc(2026, 1, 14, 18)),
    ]


def test_nobody_is_there_on_days_away_both_ends_included() -> None:
    away = MORNING_AND_EVENING.model_copy(
        update={"away": (Away(first=date(2026, 1, 14), last=date(2026, 1, 16)),)}
    )
    found = hands_on_between(away, utc(2026, 1, 13, 12), utc(2026, 1, 17, 12), LJUBLJANA)
    assert {local_day(span.start, LJUBLJANA) for span in found} == {
        date(2026, 1, 13),
        date(2026, 1, 17),
    }


# ---- watering -----------------------------------------------------------------------------------

THIRD_DAY = Routine(times=(time(7),), every_days=3)


@pytest.mark.parametrize("change", [SPRING, AUTUMN])
def test_every_third_day_is_three_days_apart_over_the_change_of_clocks(change: date) -> None:
    start = datetime.combine(change - 10 * DAY, time(0), tzinfo=UTC)
    found = waterings_between((THIRD_DAY,), MORNING_AND_EVENING, start, start + 20 * DAY, LJUBLJANA)
    watered = [local_day(moment, LJUBLJANA) for moment in found]
    assert len(watered) >= 6
    assert {b - a for a, b in pairwise(watered)} == {3 * DAY}
    assert {on_clock(moment, LJUBLJANA) for moment in found} == {time(7)}


@given(cut_h=st.integers(0, 480), every=st.integers(1, 7))
def test_watering_does_not_depend_on_when_it_is_asked(cut_h: int, every: int) -> None:
    """The pot must be just as wet whether a pass began at noon or at midnight."""
    routine = (Routine(times=(time(7), time(19, 30)), every_days=every),)
    start, end = utc(2026, 3, 20), utc(2026, 4, 9)
    cut = start + cut_h * HOUR

    def asked(first: datetime, last: datetime) -> list[datetime]:
        return waterings_between(routine, MORNING_AND_EVENING, first, last, LJUBLJANA)

    assert asked(start, cut) + asked(cut, end) == asked(start, end)


def test_nobody_waters_while_away() -> None:
    daily = (Routine(times=(time(7),)),)
    away = MORNING_AND_EVENING.model_copy(
        update={"away": (Away(first=date(2026, 7, 2), last=date(2026, 7, 3)),)}
    )
    found = waterings_between(daily, away, utc(2026, 7, 1), utc(2026, 7, 5), LJUBLJANA)
    assert [moment.day for moment in found] == [1, 4]


def test_a_season_may_run_over_the_new_year() -> None:
    southern_summer = (Routine(times=(time(7),), first=(12, 1), last=(2, 28)),)
    found = waterings_between(
        southern_summer, MORNING_AND_EVENING, utc(2025, 11, 28), utc(2026, 3, 5), MELBOURNE
    )
    watered = [local_day(moment, MELBOURNE) for moment in found]
    assert (watered[0], watered[-1], len(watered)) == (date(2025, 12, 1), date(2026, 2, 28), 90)
