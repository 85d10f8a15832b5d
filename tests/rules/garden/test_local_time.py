"""Local time: hazard nights, hands-on hours and watering on the days the clocks change."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from underbench.rules.garden.inventory import Away, HandsOn, Hours, Routine, StandIn
from underbench.rules.garden.local_time import (
    Stretch,
    days,
    hands_on_between,
    local_day,
    local_moment,
    nights,
    quiet_until,
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
        (MELBOURNE, utc(2026, 4, 3, 3), [24, 25, 24]),  # summer time there ends on 5 April
        (MELBOURNE, utc(2026, 10, 2, 4), [24, 23, 24]),  # and begins on 4 October
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


def test_a_day_may_have_hours_of_its_own_or_none() -> None:
    own = {4: (Hours(start=time(5), end=time(6)),), 6: ()}  # Friday and Sunday
    found = hands_on_between(
        MORNING_AND_EVENING.model_copy(update={"own": own}),
        *(utc(2026, 1, 14), utc(2026, 1, 19)),
        LJUBLJANA,
    )
    assert [(span.start.day, on_clock(span.start, LJUBLJANA).hour) for span in found] == [
        *((14, 6), (14, 17), (15, 6), (15, 17), (16, 5), (17, 8)),
    ]


def stand_in(first: date, last: date, waters: bool = True) -> StandIn:
    return StandIn(
        name="Robin",
        days=(Away(first=first, last=last),),
        waters=waters,
        weekdays=(Hours(start=time(10), end=time(12)),),
        weekends=(),
    )


def with_stand_in(*, waters: bool = True) -> HandsOn:
    """Away from Monday 6 July to Sunday 12 July; Robin is there from Wednesday to Saturday."""
    away = (Away(first=date(2026, 7, 6), last=date(2026, 7, 12)),)
    robin = stand_in(date(2026, 7, 8), date(2026, 7, 11), waters)
    return MORNING_AND_EVENING.model_copy(update={"away": away, "stand_ins": (robin,)})


def test_days_with_a_stand_in_have_their_hours_and_not_the_keepers() -> None:
    found = hands_on_between(with_stand_in(), utc(2026, 7, 5), utc(2026, 7, 13, 12), LJUBLJANA)
    opens = [span.start.astimezone(ZoneInfo(LJUBLJANA)) for span in found]
    assert [(at.day, at.hour) for at in opens] == [(5, 8), (8, 10), (9, 10), (10, 10), (13, 6)]


def test_a_stand_in_takes_over_from_a_keeper_who_is_there() -> None:
    both = MORNING_AND_EVENING.model_copy(
        update={"stand_ins": (stand_in(date(2026, 7, 8), date(2026, 7, 8)),)}
    )
    found = hands_on_between(both, utc(2026, 7, 8), utc(2026, 7, 8, 20), LJUBLJANA)
    assert found == [Stretch(utc(2026, 7, 8, 8), utc(2026, 7, 8, 10))]


# ---- quiet hours --------------------------------------------------------------------------------

NIGHT = HandsOn(weekdays=(), weekends=(), quiet=(time(22), time(6)))
LONDON = "Europe/London"


def quiet_h(zone: str, evening: datetime, hands_on: HandsOn = NIGHT) -> float:
    """The number of hours that it stays quiet from a moment on."""
    until = quiet_until(hands_on, evening, zone)
    assert until is not None
    return (until - evening) / HOUR


@pytest.mark.parametrize(
    ("zone", "night", "hours"),
    [
        # Clocks in the EU change at 01:00 UTC on the last Sundays of March and October (Directive
        # 2000/84/EC); in Melbourne they follow the tz database's rules for Victoria.
        *((LJUBLJANA, SPRING - DAY, 7), (LJUBLJANA, AUTUMN - DAY, 9), (LJUBLJANA, SPRING, 8)),
        *((LONDON, SPRING - DAY, 7), (LONDON, AUTUMN - DAY, 9)),
        *((MELBOURNE, date(2026, 4, 4), 9), (MELBOURNE, date(2026, 10, 3), 7)),
    ],
)
def test_quiet_hours_keep_to_the_wall_clock_when_it_changes(
    zone: str, night: date, hours: float
) -> None:
    begins = local_moment(night, time(22), zone)
    assert quiet_h(zone, begins) == hours
    assert quiet_until(NIGHT, begins - timedelta(seconds=1), zone) is None
    assert quiet_until(NIGHT, begins + hours * HOUR, zone) is None


def test_quiet_hours_end_at_the_first_of_two_times_of_one_name() -> None:
    short = NIGHT.model_copy(update={"quiet": (time(22), time(2, 30))})
    begins = local_moment(AUTUMN - DAY, time(22), LJUBLJANA)
    assert quiet_h(LJUBLJANA, begins, short) == 4.5
    assert quiet_until(short, begins + 5.2 * HOUR, LJUBLJANA) is None  # 02:12 for the second time
    skipped = local_moment(SPRING - DAY, time(22), LJUBLJANA)  # 02:30 does not come
    assert quiet_h(LJUBLJANA, skipped, short) == 4.5
    assert quiet_until(short, skipped + 4.2 * HOUR, LJUBLJANA) is not None  # 03:12, as if 02:12


def test_quiet_hours_may_lie_within_a_day_or_not_be() -> None:
    noon = NIGHT.model_copy(update={"quiet": (time(13), time(15))})
    assert quiet_h(LJUBLJANA, utc(2026, 7, 1, 11), noon) == 2
    assert quiet_until(noon, utc(2026, 7, 1, 22), LJUBLJANA) is None
    never = NIGHT.model_copy(update={"quiet": (time(0), time(0))})
    assert [quiet_until(never, utc(2026, 7, 1, h), LJUBLJANA) for h in range(24)] == [None] * 24


def test_who_is_up_is_not_disturbed() -> None:
    early = HandsOn(
        weekdays=(Hours(start=time(5), end=time(5, 30)),), weekends=(), quiet=(time(22), time(6))
    )
    three = utc(2026, 7, 1, 1)
    assert quiet_until(early, three, LJUBLJANA) == three + 2 * HOUR
    assert quiet_until(early, three + 2 * HOUR, LJUBLJANA) is None
    assert quiet_until(early, three + 2.5 * HOUR, LJUBLJANA) == three + 3 * HOUR


CLOCKS = st.times().map(lambda t: t.replace(second=0, microsecond=0))


@given(
    quiet=st.tuples(CLOCKS, CLOCKS),
    up=st.lists(CLOCKS, min_size=2, max_size=2, unique=True).map(sorted),
    moment=st.datetimes(datetime(2026, 3, 28), datetime(2026, 3, 31))
    | st.datetimes(datetime(2026, 10, 24), datetime(2026, 10, 27)),
    share=st.floats(0, 1, exclude_max=True),
)
def test_it_is_quiet_until_it_is_not(
    quiet: tuple[time, time], up: list[time], moment: datetime, share: float
) -> None:
    """It stays quiet until then and not after; nobody is up meanwhile. The clocks change."""
    hours = (Hours(start=up[0], end=up[1]),)
    hands_on = HandsOn(weekdays=hours, weekends=hours, quiet=quiet)
    now = moment.replace(tzinfo=UTC)
    until = quiet_until(hands_on, now, LJUBLJANA)
    if until is None:
        return
    assert now < until <= now + 25 * HOUR
    between = now + share * (until - now)
    assert quiet_until(hands_on, between, LJUBLJANA) == until or between == until
    assert quiet_until(hands_on, until, LJUBLJANA) is None
    assert hands_on_between(hands_on, now, until, LJUBLJANA) == []


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


@pytest.mark.parametrize(("waters", "watered"), [(True, [5, 8, 9, 10, 11, 13]), (False, [5, 13])])
def test_a_stand_in_keeps_the_routine_up_if_they_water(waters: bool, watered: list[int]) -> None:
    daily = (Routine(times=(time(7),)),)
    hands_on = with_stand_in(waters=waters)
    found = waterings_between(daily, hands_on, utc(2026, 7, 5), utc(2026, 7, 14), LJUBLJANA)
    assert [moment.day for moment in found] == watered


def test_a_season_may_run_over_the_new_year() -> None:
    southern_summer = (Routine(times=(time(7),), first=(12, 1), last=(2, 28)),)
    found = waterings_between(
        southern_summer, MORNING_AND_EVENING, utc(2025, 11, 28), utc(2026, 3, 5), MELBOURNE
    )
    watered = [local_day(moment, MELBOURNE) for moment in found]
    assert (watered[0], watered[-1], len(watered)) == (date(2025, 12, 1), date(2026, 2, 28), 90)


SUMMER = Routine(times=(time(7),), first=(4, 1), last=(9, 30))
LOOKS = Routine(times=(time(12),), every_days=2, first=(10, 1), last=(3, 31), as_needed=True)


@pytest.mark.parametrize(
    ("routines", "month", "waters", "looks"),
    [
        ((SUMMER,), 7, 10, 0),
        ((SUMMER,), 1, 0, 10),  # no routine holds: whoever waters in summer looks in winter
        ((SUMMER, LOOKS), 1, 0, 5),
        ((), 1, 0, 0),  # without a routine nobody is taken to water
    ],
)
def test_in_winter_the_keeper_looks(
    routines: tuple[Routine, ...], month: int, waters: int, looks: int
) -> None:
    """Common practice, no source."""
    start = utc(2026, month, 5)
    spans = (routines, MORNING_AND_EVENING, start, start + 10 * DAY, LJUBLJANA)
    assert (len(waterings_between(*spans)), len(waterings_between(*spans, looks=True))) == (
        waters,
        looks,
    )


def test_nobody_looks_while_the_keeper_is_away() -> None:
    away = MORNING_AND_EVENING.model_copy(
        update={"away": (Away(first=date(2026, 1, 5), last=date(2026, 1, 20)),)}
    )
    start = utc(2026, 1, 6)
    assert waterings_between((SUMMER,), away, start, start + 9 * DAY, LJUBLJANA, looks=True) == []
