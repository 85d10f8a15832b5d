"""Aftercare: what each work opens, for how long, and how works combine.

The weeks and floors are the project's horticultural defaults: common practice, no source.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from underbench.rules.garden.journal import Film, Work, fold
from underbench.rules.garden.works import WorkKind
from underbench.rules.limits.aftercare import (
    Aftercare,
    RootClock,
    cuts_roots,
    open_aftercare,
    roots_untaken,
)

DONE = datetime(2026, 3, 10, 14, 20, tzinfo=UTC)
DAY, WEEK = timedelta(days=1), timedelta(weeks=1)
WARM = 10_000.0  # root-zone degree-days enough for any roots


def work(kind: WorkKind, at: datetime = DONE, roots_pct: float | None = None) -> Work:
    return Work(tree="Ember", at=at, work=kind, roots_pct=roots_pct)


def care(
    make: Any,
    after: timedelta,
    *works: Work,
    warmth_cd: float = WARM,
    taken_before_s: float = 0.0,
    conifer: bool = False,
) -> Aftercare:
    return open_aftercare(
        fold(make.tree(), works, DONE + after), RootClock(warmth_cd, taken_before_s), conifer
    )


# ---- layers -------------------------------------------------------------------------------------


def test_a_stem_stays_ringed_until_the_layer_is_severed(make: Any) -> None:
    """Common practice, no source."""
    started = work(WorkKind.START_LAYER)
    severed = work(WorkKind.SEVER_LAYER, DONE + 10 * WEEK)
    assert care(make, 9 * WEEK, started, severed).girdled == started
    assert care(make, 11 * WEEK, started, severed).girdled is None
    again = work(WorkKind.START_LAYER, DONE + 12 * WEEK)
    assert care(make, 13 * WEEK, started, severed, again).girdled == again


# ---- roots --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "roots_pct", "floor_c", "weeks"),
    [
        (WorkKind.SLIP_POT, None, -3.0, 2),
        (WorkKind.REPOT, None, -1.0, 4),
        (WorkKind.REPOT, 25.0, -1.0, 4),
        (WorkKind.REPOT, 60.0, 0.0, 8),
        (WorkKind.ROOT_PRUNE, None, -1.0, 4),
        (WorkKind.DIVIDE, None, 0.0, 8),
    ],
)
def test_cut_roots_are_guarded_for_their_weeks_and_no_longer(
    make: Any, kind: WorkKind, roots_pct: float | None, floor_c: float, weeks: int
) -> None:
    """Common practice, no source."""
    done = work(kind, roots_pct=roots_pct)
    opened = care(make, weeks * WEEK - DAY, done)
    assert (opened.roots, opened.floor_c) == (done, floor_c)
    closed = care(make, weeks * WEEK, done)
    assert (closed.roots, closed.floor_c, closed.loose) == (None, None, False)


def test_a_floor_of_zero_is_a_floor(make: Any) -> None:
    opened = care(make, DAY, work(WorkKind.DIVIDE))
    assert opened.floor_c == 0.0
    assert opened.roots is not None


def test_in_cold_mix_roots_stay_open_past_their_weeks(make: Any) -> None:
    """New roots follow the thermometer, not the calendar. They close after a season at most."""
    repot = work(WorkKind.REPOT)
    assert care(make, 10 * WEEK, repot, warmth_cd=299.0).floor_c == -1.0
    assert care(make, 10 * WEEK, repot, warmth_cd=300.0).floor_c is None
    assert care(make, timedelta(days=241), repot, warmth_cd=0.0).floor_c is None


def test_roots_that_had_taken_before_the_next_work_stay_taken(make: Any) -> None:
    """A slip pot months after a repot asks for its own floor only."""
    repot, slip = work(WorkKind.REPOT), work(WorkKind.SLIP_POT, DONE + 20 * WEEK)
    later = 21 * WEEK
    taken = slip.at.timestamp()
    assert care(make, later, repot, slip, warmth_cd=5.0, taken_before_s=taken).floor_c == -3.0
    assert care(make, later, repot, slip, warmth_cd=5.0).floor_c == -1.0


def test_a_warm_spring_does_not_close_roots_before_their_weeks() -> None:
    assert roots_untaken(work(WorkKind.REPOT), DONE + 3 * WEEK, RootClock(WARM))


@pytest.mark.parametrize("kind", [WorkKind.COLLECT, WorkKind.SEVER_LAYER])
def test_first_winter_after_collecting_or_severing(make: Any, kind: WorkKind) -> None:
    """Common practice, no source."""
    january = datetime(2027, 1, 15, tzinfo=UTC) - DONE
    assert care(make, 2 * WEEK, work(kind)).floor_c == 0.0
    assert care(make, january, work(kind)).floor_c == -2.0
    assert care(make, january + 365 * DAY, work(kind)).floor_c is None


def test_a_collected_conifer_is_guarded_a_second_winter(make: Any) -> None:
    second = datetime(2028, 1, 15, tzinfo=UTC) - DONE
    collected = work(WorkKind.COLLECT)
    assert care(make, second, collected, conifer=True).floor_c == -2.0
    assert care(make, second + 365 * DAY, collected, conifer=True).floor_c is None
    assert care(make, second, work(WorkKind.SEVER_LAYER), conifer=True).floor_c is None


# ---- works together -----------------------------------------------------------------------------


def test_overlapping_works_go_by_the_stricter_whichever_came_last(make: Any) -> None:
    heavy, light = work(WorkKind.DIVIDE), work(WorkKind.SLIP_POT, DONE + WEEK)
    both = care(make, 9 * DAY, heavy, light, warmth_cd=0.0)
    assert (both.roots, both.floor_c) == (heavy, 0.0)
    heavy, light = work(WorkKind.DIVIDE, DONE + WEEK), work(WorkKind.SLIP_POT)
    assert care(make, 9 * DAY, heavy, light, warmth_cd=0.0).floor_c == 0.0


@given(
    kinds=st.lists(st.sampled_from(list(WorkKind)), min_size=1, max_size=5),
    extra=st.sampled_from(list(WorkKind)),
    days=st.integers(0, 500),
    warmth_cd=st.floats(0, 800),
)
def test_one_more_work_never_lowers_the_floor_or_ends_the_shelter(
    make: Any, kinds: list[WorkKind], extra: WorkKind, days: int, warmth_cd: float
) -> None:
    works = [work(kind, DONE + i * DAY) for i, kind in enumerate(kinds)]
    after = timedelta(days=days + len(works))
    before = care(make, after, *works, warmth_cd=warmth_cd)
    more = care(make, after, *works, work(extra, DONE + after), warmth_cd=warmth_cd)
    if before.floor_c is not None:
        assert more.floor_c is not None
        assert more.floor_c >= before.floor_c
    assert more.shelter is not None or before.shelter is None
    assert more.loose or not before.loose


def test_work_ahead_of_now_asks_for_nothing_yet(make: Any) -> None:
    assert care(make, -DAY, work(WorkKind.REPOT)) == Aftercare()


# ---- sun, wind and bags -------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("kind", "weeks"),
    [
        (WorkKind.SLIP_POT, 0),
        (WorkKind.WIRE, 2),
        (WorkKind.REPOT, 4),
        (WorkKind.DIVIDE, 8),
    ],
)
def test_shelter_closes_by_days_on_its_own(make: Any, kind: WorkKind, weeks: int) -> None:
    """Common practice, no source. Cold roots that are still open do not prolong it."""
    done = work(kind)
    assert care(make, weeks * WEEK, done, warmth_cd=0.0).shelter is None
    if weeks:
        assert care(make, weeks * WEEK - DAY, done).shelter == done


def test_fresh_roots_stand_loose_and_pruned_shoots_do_not(make: Any) -> None:
    rooted = [kind for kind in WorkKind if cuts_roots(work(kind))]
    assert {WorkKind.REPOT, WorkKind.COLLECT, WorkKind.SEVER_LAYER} <= set(rooted)
    assert all(care(make, DAY, work(kind)).loose for kind in rooted)
    assert not care(make, DAY, work(WorkKind.CHOP)).loose


@pytest.mark.parametrize("kind", [WorkKind.CHOP, WorkKind.HARD_PRUNE, WorkKind.UNBAG])
def test_what_sprouts_after_a_chop_or_out_of_a_bag_is_soft(make: Any, kind: WorkKind) -> None:
    assert care(make, 5 * WEEK, work(kind)).soft_shoots == work(kind)
    assert care(make, 9 * WEEK, work(kind)).soft_shoots is None


def test_a_bag_is_on_until_it_is_off_and_then_shade_is_due_for_ten_days(make: Any) -> None:
    """A bag is opened over seven to ten days: common practice, no source."""
    bag, unbag = work(WorkKind.BAG), work(WorkKind.UNBAG, DONE + 5 * DAY)
    assert care(make, 4 * DAY, bag, unbag).bag
    out = care(make, 14 * DAY, bag, unbag)
    assert (out.bag, out.after_bag) == (None, unbag)
    assert care(make, 16 * DAY, bag, unbag).after_bag is None
    assert care(make, 21 * DAY, bag, unbag, work(WorkKind.BAG, DONE + 20 * DAY)).bag


def test_leaves_get_used_to_the_sun_from_when_their_bag_is_opened(make: Any) -> None:
    """A bag is opened over 7 to 10 dull days and then taken off: common practice, no source. Taking
    it off starts nothing anew. Putting it on again ends the time of shade."""
    bag, opened = work(WorkKind.BAG), work(WorkKind.OPEN_BAG, DONE + 5 * DAY)
    unbag = work(WorkKind.UNBAG, DONE + 13 * DAY)
    assert care(make, 6 * DAY, bag, opened).after_bag == opened
    assert care(make, 14 * DAY, bag, opened, unbag).after_bag == opened
    assert care(make, 16 * DAY, bag, opened, unbag).after_bag is None
    again = work(WorkKind.BAG, DONE + 7 * DAY)
    assert care(make, 8 * DAY, bag, opened, again).after_bag is None
    assert care(make, 9 * DAY, bag, work(WorkKind.SLIT_BAG, DONE + DAY)).after_bag is None


def test_a_bag_worn_for_less_than_five_days_leaves_them_used_to_the_sun(make: Any) -> None:
    """Common practice, no source. An unbag without a bag before it says nothing of leaves
    either."""
    bag, off = work(WorkKind.BAG), work(WorkKind.UNBAG, DONE + 5 * DAY)
    assert care(make, 6 * DAY, bag, off).after_bag == off
    soon = work(WorkKind.UNBAG, DONE + 5 * DAY - timedelta(hours=1))
    assert care(make, 6 * DAY, bag, soon).after_bag is None
    assert care(make, 6 * DAY, off).after_bag is None
    later = work(WorkKind.BAG, DONE + 30 * DAY), work(WorkKind.UNBAG, DONE + 31 * DAY)
    assert care(make, 32 * DAY, bag, off, *later).after_bag is None  # the last bag counts
    shut_again = work(WorkKind.BAG, DONE + 3 * DAY)
    assert care(make, 6 * DAY, bag, shut_again, off).after_bag == off


def test_what_was_cut_back_before_its_bag_has_sprouted_in_it(make: Any) -> None:
    bag, off = work(WorkKind.BAG), work(WorkKind.UNBAG, DONE + 14 * DAY)
    chop = work(WorkKind.CHOP, DONE - DAY)
    assert care(make, 15 * DAY, chop, bag, off).sprouted_in_bag
    assert not care(make, 15 * DAY, bag, off).sprouted_in_bag
    assert not care(make, 15 * DAY, work(WorkKind.CHOP, DONE - 20 * WEEK), bag, off).sprouted_in_bag


def test_shoots_are_soft_in_an_open_bag_and_not_yet_judged_in_a_shut_one(make: Any) -> None:
    bag, opened = work(WorkKind.BAG), work(WorkKind.OPEN_BAG, DONE + 5 * DAY)
    assert care(make, 4 * DAY, work(WorkKind.CHOP), bag).soft_shoots is None
    assert care(make, 6 * DAY, bag, opened).soft_shoots == opened


def test_a_bag_goes_from_shut_to_slit_to_open_and_shuts_when_put_on_again(make: Any) -> None:
    clear = Work(tree="Ember", at=DONE, work=WorkKind.BAG, film=Film.CLEAR)
    slit, opened = work(WorkKind.SLIT_BAG, DONE + DAY), work(WorkKind.OPEN_BAG, DONE + 2 * DAY)
    later, again = work(WorkKind.SLIT_BAG, DONE + 3 * DAY), work(WorkKind.BAG, DONE + 4 * DAY)
    bags = [care(make, days * DAY, clear, slit, opened, later, again).bag for days in range(5)]
    assert [bag and bag.opening for bag in bags] == ["shut", "slit", "open", "open", "shut"]
    assert [bag and bag.film for bag in bags] == ["clear"] * 4 + ["dark"]
    assert care(make, 2 * DAY, slit, opened).bag is None
