"""Advice: its deadline, whether somebody is there, when trees go back, which nights are one run."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from functools import partial
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from astral import Observer
from astral.sun import sunset
from hypothesis import given
from hypothesis import strategies as st

from underbench.rules.advice.advice import Advice, advise, runs
from underbench.rules.advice.deadlines import back_again, do_by, tell_from
from underbench.rules.garden.inventory import HandsOn, Hours
from underbench.rules.garden.local_time import days, hands_on_between, nights
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards import (
    CHILL,
    DRY_POT,
    GALE,
    HOT_BAG,
    HOT_ROOTS,
    LEAF_FROST,
    ROOT_FROST,
    SCORCH,
)
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.hazard import Action, Hazard
from underbench.rules.limits.limit import Layer, Limit, MeasuredOn

ZONE = "Europe/Ljubljana"
LIMIT = Limit(MeasuredOn.LEAF, (Layer("class", -2.5, -4.5, "practice"),))
HOUR, DAY, MINUTE = timedelta(hours=1), timedelta(days=1), timedelta(minutes=1)
ALL_DAY = HandsOn(
    weekdays=(Hours(start=time(6), end=time(23)),), weekends=(Hours(start=time(6), end=time(23)),)
)
FRIDAY = date(2026, 4, 17)


def local(day: date, hour: int, minute: int = 0) -> datetime:
    return datetime.combine(day, time(hour, minute), ZoneInfo(ZONE)).astimezone(UTC)


def found(
    first_at: datetime,
    until_at: datetime,
    hazard: Hazard = LEAF_FROST,
    *,
    tree: str = "Ember",
    strength: Strength = Strength.ACT,
    chance: float = 0.8,
    kill_chance: float = 0.0,
) -> Finding:
    spans = (nights if hazard.action is Action.PROTECT else days)(first_at - MINUTE, first_at, ZONE)
    return Finding(
        tree=tree,
        hazard=hazard,
        span=spans[-1],
        first_at=first_at,
        until_at=until_at,
        worst_at=until_at,
        worst=-4.0,
        limit=LIMIT,
        chance=chance,
        kill_chance=kill_chance,
        strength=strength,
    )


def frost(evening: date, **given: Any) -> Finding:
    """A frost from two until six at night."""
    return found(local(evening + DAY, 2), local(evening + DAY, 6), **given)


def advice(make: Any, run: Sequence[Finding], now: datetime, hands_on: HandsOn) -> Advice:
    return advise(
        run, dict.fromkeys((f.tree for f in run), "top bench"), {}, make.garden, hands_on, now
    )


# ---- by when ------------------------------------------------------------------------------------


@pytest.mark.parametrize("evening", [FRIDAY, date(2026, 4, 18), date(2026, 10, 24)])
def test_frost_is_to_be_ready_for_at_sunset(make: Any, evening: date) -> None:
    """Sunset is checked against astral 3.2; preparing for frost by then is common practice."""
    garden = make.garden
    deadline, in_hand = do_by(frost(evening), garden, ALL_DAY, local(evening, 8))
    expected = sunset(Observer(garden.latitude, garden.longitude), date=evening, tzinfo=UTC)
    assert abs(deadline - expected) < 2 * MINUTE
    assert in_hand


def test_where_nobody_is_home_at_sunset_it_is_the_hours_before(make: Any) -> None:
    """On a January Wednesday sunset is before five, and the keeper is home from five. So the
    deadline is before leaving that morning."""
    wednesday = date(2026, 1, 14)
    deadline, in_hand = do_by(frost(wednesday), make.garden, make.hands_on, local(wednesday, 6))
    assert (deadline, in_hand) == (local(wednesday, 7, 30), True)


def test_told_too_late_for_sunset_there_is_still_the_evening(make: Any) -> None:
    wednesday = date(2026, 1, 14)
    deadline, in_hand = do_by(frost(wednesday), make.garden, make.hands_on, local(wednesday, 12))
    assert (deadline, in_hand) == (local(wednesday, 21), True)


def test_a_gale_at_night_is_for_the_daylight_before(make: Any) -> None:
    """Common practice, no source."""
    gale = found(local(FRIDAY + DAY, 3), local(FRIDAY + DAY, 9), GALE)
    deadline, _ = do_by(gale, make.garden, ALL_DAY, local(FRIDAY, 8))
    dusk = sunset(Observer(46.05, 14.51), date=FRIDAY, tzinfo=UTC)
    assert abs(deadline - dusk) < 2 * MINUTE


def test_a_gale_at_noon_is_for_the_morning(make: Any) -> None:
    gale = found(local(FRIDAY, 14), local(FRIDAY, 18), GALE)
    now = local(FRIDAY - DAY, 22)
    assert do_by(gale, make.garden, ALL_DAY, now) == (local(FRIDAY, 14), True)
    assert do_by(gale, make.garden, make.hands_on, now) == (local(FRIDAY, 7, 30), True)


@pytest.mark.parametrize("hazard", [HOT_BAG, SCORCH, HOT_ROOTS], ids=lambda one: one.key)
def test_heat_and_bags_are_seen_to_before_leaving_for_the_day(make: Any, hazard: Hazard) -> None:
    """Common practice, no source."""
    hot = found(local(FRIDAY, 13), local(FRIDAY, 16), hazard)
    now = local(FRIDAY - DAY, 20)
    assert do_by(hot, make.garden, make.hands_on, now) == (local(FRIDAY, 7, 30), True)


def test_nobody_there_is_said(make: Any) -> None:
    gone = make.away(FRIDAY, FRIDAY + 3 * DAY)
    cold = frost(FRIDAY)
    assert do_by(cold, make.garden, gone, local(FRIDAY, 8)) == (cold.first_at, False)
    told = advice(make, [cold], local(FRIDAY, 8), gone)
    assert not told.in_hand
    # A keeper who leaves on Friday can still do it on Thursday.
    deadline, in_hand = do_by(cold, make.garden, gone, local(FRIDAY - DAY, 12))
    assert (deadline, in_hand) == (local(FRIDAY - DAY, 21), True)


def test_a_deadline_is_never_in_the_past_nor_after_the_hazard(make: Any) -> None:
    cold = frost(FRIDAY)
    for hours in range(0, 20):
        now = local(FRIDAY, 6) + hours * HOUR
        for hands_on in (make.hands_on, ALL_DAY, make.away(FRIDAY, FRIDAY + DAY)):
            deadline, in_hand = do_by(cold, make.garden, hands_on, now)
            assert now <= deadline <= max(cold.first_at, now)
            if in_hand and deadline > now:
                assert hands_on_between(hands_on, deadline - MINUTE, deadline, ZONE)


def test_water_poured_two_days_before_does_not_count(make: Any) -> None:
    dry = found(local(FRIDAY + DAY, 15), local(FRIDAY + DAY, 20), DRY_POT)
    gone = make.away(FRIDAY, FRIDAY + 3 * DAY)
    deadline, in_hand = do_by(dry, make.garden, gone, local(FRIDAY - DAY, 12))
    assert (deadline, in_hand) == (dry.first_at, False)
    assert do_by(dry, make.garden, ALL_DAY, local(FRIDAY - DAY, 12))[1]


@pytest.mark.parametrize(("dry_at", "holds"), [(12, True), (13, False)])
def test_a_watering_holds_for_less_than_sixteen_hours(make: Any, dry_at: int, holds: bool) -> None:
    """Somebody is there until 21:00 and away the day after. Judgement, as for `WATER_HOLDS`."""
    day = FRIDAY + DAY
    dry = found(local(day, dry_at), local(day, 20), DRY_POT)
    expected = local(FRIDAY, 21) if holds else dry.first_at
    gone = make.away(day, day + DAY)
    assert do_by(dry, make.garden, gone, local(FRIDAY, 12)) == (expected, holds)


# ---- told from ----------------------------------------------------------------------------------


def test_told_in_the_hours_that_still_leave_time_to_carry(make: Any) -> None:
    deadline = local(FRIDAY, 19)
    told = partial(tell_from, garden=make.garden, hands_on=make.hands_on)
    # Twenty minutes fit in before the deadline, so it is told when that day's first hours begin.
    assert told(deadline, Strength.ACT, 20 * MINUTE) == local(FRIDAY, 6, 30)
    # The morning's hour before the deadline is too short, so it is told the evening before.
    assert told(local(FRIDAY, 6, 40), Strength.ACT, 20 * MINUTE) == local(FRIDAY - DAY, 17)


def test_danger_and_long_jobs_are_told_by_the_evening_before(make: Any) -> None:
    deadline = local(FRIDAY, 19)
    told = partial(tell_from, garden=make.garden, hands_on=make.hands_on)
    assert told(deadline, Strength.DANGER, 5 * MINUTE) == local(FRIDAY - DAY, 17)
    assert told(deadline, Strength.ACT, 31 * MINUTE) == local(FRIDAY - DAY, 17)
    assert told(deadline, Strength.ACT, 30 * MINUTE) == local(FRIDAY, 6, 30)


@given(minutes=st.integers(1, 900), hour=st.integers(0, 23), strength=st.sampled_from(Strength))
def test_what_is_told_leaves_the_time_it_takes(
    make: Any, minutes: int, hour: int, strength: Strength
) -> None:
    deadline, needed = local(FRIDAY, hour), minutes * MINUTE
    opens = tell_from(deadline, strength, needed, make.garden, make.hands_on)
    left = hands_on_between(make.hands_on, opens, deadline, ZONE)
    assert left[0].start == opens
    whole = hands_on_between(make.hands_on, deadline - 3 * DAY, deadline, ZONE)
    there_is = sum((s.end - s.start for s in whole), timedelta(0))
    assert sum((s.end - s.start for s in left), timedelta(0)) >= min(needed, there_is)


def test_to_somebody_away_it_is_told_as_soon_as_it_is_told_at_all(make: Any) -> None:
    gone = make.away(FRIDAY - 5 * DAY, FRIDAY + DAY)
    deadline = local(FRIDAY, 19)
    assert tell_from(deadline, Strength.ACT, MINUTE, make.garden, gone) == deadline - 3 * DAY


# ---- back again ---------------------------------------------------------------------------------


def test_trees_go_back_in_the_first_hands_on_hours_after_nine(make: Any) -> None:
    """Trees do not go out at dawn, when it is coldest: common practice, no source."""
    saturday_morning = back_again([frost(FRIDAY)], make.garden, make.hands_on)
    assert saturday_morning == local(FRIDAY + DAY, 9)
    thursday = FRIDAY - DAY
    assert back_again([frost(thursday)], make.garden, make.hands_on) == local(FRIDAY, 17)


def test_back_after_the_last_night_of_a_run(make: Any) -> None:
    run = [frost(FRIDAY + n * DAY) for n in (0, 1, 2)]
    monday = FRIDAY + 3 * DAY
    assert back_again(run, make.garden, make.hands_on) == local(monday, 17)


def test_a_frost_over_before_midnight_still_sends_them_back_by_day(make: Any) -> None:
    """Cloud comes in at eleven. Even so nobody carries trees out at half past six next morning."""
    thursday = FRIDAY - DAY
    early = found(local(thursday, 20), local(thursday, 23))
    assert back_again([early], make.garden, make.hands_on) == local(FRIDAY, 17)
    assert back_again([early], make.garden, ALL_DAY) == local(FRIDAY, 9)


def test_cold_that_lasts_past_nine_is_waited_for(make: Any) -> None:
    long = found(local(FRIDAY + DAY, 2), local(FRIDAY + DAY, 11))
    assert back_again([long], make.garden, ALL_DAY) == local(FRIDAY + DAY, 11)


def test_shade_comes_off_the_evening_its_last_hot_day_is_over(make: Any) -> None:
    hot = found(local(FRIDAY, 13), local(FRIDAY, 16), SCORCH)
    assert back_again([hot], make.garden, make.hands_on) == local(FRIDAY, 17)


def test_back_waits_for_somebody_to_come_home(make: Any) -> None:
    gone = make.away(FRIDAY + DAY, FRIDAY + 3 * DAY)
    assert back_again([frost(FRIDAY)], make.garden, gone) == local(FRIDAY + 4 * DAY, 6, 30)


@pytest.mark.parametrize("hazard", [DRY_POT, HOT_BAG, CHILL])
def test_nothing_goes_back_after_water_a_bag_or_a_winter_indoors(make: Any, hazard: Hazard) -> None:
    one = found(local(FRIDAY, 13), local(FRIDAY, 16), hazard)
    assert back_again([one], make.garden, make.hands_on) is None


# ---- runs ---------------------------------------------------------------------------------------


def test_cold_nights_that_follow_each_other_are_one_run(make: Any) -> None:
    cold = [frost(FRIDAY + n * DAY) for n in (5, 0, 1, 2)]
    assert [[f.first_at.day for f in run] for run in runs(cold)] == [[18, 19, 20], [23]]


def test_a_mild_night_between_two_of_frost_is_no_reason_to_carry_but_one_between_gales_is(
    make: Any,
) -> None:
    nights = (0, 2)
    assert len(runs([frost(FRIDAY + n * DAY) for n in nights])) == 1
    assert len(runs([frost(FRIDAY + n * DAY, hazard=GALE) for n in nights])) == 2


def test_other_trees_and_hazards_of_the_same_nights_belong_to_the_run() -> None:
    mixed = [
        frost(FRIDAY, tree="Ember"),
        frost(FRIDAY, tree="Lane", hazard=ROOT_FROST),
        frost(FRIDAY + DAY, tree="Heath"),
    ]
    assert [len(run) for run in runs(mixed)] == [3]
    assert runs([]) == []


def test_a_run_is_one_over_the_change_of_clocks() -> None:
    saturday = date(2026, 10, 24)
    assert len(runs([frost(saturday), frost(saturday + DAY)])) == 1
    hot = [
        found(local(day, 13), local(day, 16), SCORCH)
        for day in (date(2026, 3, 28), date(2026, 3, 29), date(2026, 3, 30))
    ]
    assert len(runs(hot)) == 1


# ---- the advice ---------------------------------------------------------------------------------


def test_trees_stand_in_order_of_risk(make: Any) -> None:
    run = [
        frost(FRIDAY, tree="Likely", chance=0.9),
        frost(FRIDAY, tree="Dying", strength=Strength.DANGER, chance=0.5, kill_chance=0.3),
        frost(FRIDAY, tree="Perhaps", chance=0.4),
    ]
    told = advice(make, run, local(FRIDAY, 8), make.hands_on)
    assert [job.tree for job in told.jobs] == ["Dying", "Likely", "Perhaps"]
    assert told.strength is Strength.DANGER
    assert told.lead.tree == "Dying"


def test_a_run_is_acted_on_by_its_first_night_and_ended_after_its_last(make: Any) -> None:
    run = [frost(FRIDAY), frost(FRIDAY + DAY, strength=Strength.DANGER, kill_chance=0.5)]
    told = advice(make, run, local(FRIDAY, 8), ALL_DAY)
    assert told.do_by.date() == FRIDAY
    assert told.back_at == local(FRIDAY + 2 * DAY, 9)
    assert len(told.jobs) == 1  # one tree, carried once
    assert set(told.findings) == set(run)
    assert told.lead == run[1]  # trees are carried in for this, whichever night it is


def test_what_is_done_anew_each_day_is_told_of_its_first(make: Any) -> None:
    run = [
        found(local(day, 13), local(day, 16), SCORCH, strength=strength)
        for day, strength in ((FRIDAY, Strength.ACT), (FRIDAY + DAY, Strength.DANGER))
    ]
    told = advice(make, run, local(FRIDAY, 6), ALL_DAY)
    assert told.lead == run[0]
    assert told.strength is Strength.DANGER


def test_the_soonest_deadline_of_a_night_that_can_be_kept_is_told(make: Any) -> None:
    """A gale comes in the afternoon before a deadly frost. Sunset is too late for the gale."""
    gale = found(local(FRIDAY, 16), local(FRIDAY, 18), GALE, tree="Heath")
    cold = frost(FRIDAY, strength=Strength.DANGER, kill_chance=0.5)
    now = local(FRIDAY - DAY, 22)
    told = advice(make, [gale, cold], now, make.hands_on)
    assert (told.do_by, told.in_hand) == do_by(gale, make.garden, make.hands_on, now)
    assert told.do_by < do_by(cold, make.garden, make.hands_on, now)[0]


def test_a_trifle_that_is_on_does_not_make_a_deadly_night_due_now(make: Any) -> None:
    trifle = frost(FRIDAY, tree="Heath")
    cold = frost(FRIDAY, strength=Strength.DANGER, kill_chance=0.5)
    now = local(FRIDAY, 15)
    on = replace(trifle, first_at=now)
    told = advice(make, [on, cold], now, make.hands_on)
    assert do_by(on, make.garden, make.hands_on, now) == (now, False)
    assert (told.do_by, told.in_hand) == do_by(cold, make.garden, make.hands_on, now)
    assert told.do_by > now


def test_among_equals_open_aftercare_comes_first(make: Any) -> None:
    run = [
        frost(FRIDAY, tree="Likely", chance=0.9),
        frost(FRIDAY, tree="Fresh", chance=0.5),
        frost(FRIDAY, tree="Dying", strength=Strength.DANGER, kill_chance=0.3),
    ]
    works = {"Fresh": make.work("Fresh", local(FRIDAY - 21 * DAY, 12), WorkKind.REPOT)}
    spots = dict.fromkeys((f.tree for f in run), "top bench")
    now = local(FRIDAY, 8)
    told = advise(run, spots, {}, make.garden, make.hands_on, now, works=works)
    assert [job.tree for job in told.jobs] == ["Dying", "Fresh", "Likely"]
    assert [job.work for job in told.jobs] == [None, works["Fresh"], None]


@pytest.mark.parametrize(("hours_after", "open_ended"), [(2, True), (30, False)])
def test_a_run_that_reaches_as_far_as_the_forecast_has_no_known_end(
    make: Any, hours_after: int, open_ended: bool
) -> None:
    cold = frost(FRIDAY)
    told = advise(
        [cold],
        {"Ember": "shed"},
        {},
        make.garden,
        make.hands_on,
        local(FRIDAY, 8),
        reaches=cold.until_at + hours_after * HOUR,
    )
    assert told.open_ended is open_ended
