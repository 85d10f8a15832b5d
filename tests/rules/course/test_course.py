"""The course: a run cut anywhere meets the same hours; the journal changes it in time."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st

from underbench.rules.course.course import Course
from underbench.rules.course.inputs import Setting
from underbench.rules.garden.inventory import Routine, Tree
from underbench.rules.garden.journal import Entry, Stage
from underbench.rules.garden.works import WorkKind
from underbench.rules.physics import exposure as exposures
from underbench.rules.physics import state as states
from underbench.rules.physics.exposure import EXPOSED, Exposure
from underbench.rules.physics.state import State
from underbench.rules.weather.hourly import Weather
from underbench.rules.weather.spread import drawn_sites, dress

START = datetime(2026, 3, 25, tzinfo=UTC)  # European clocks change on the fifth day
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
HOURS = 9 * 24
STATE = tuple(f.name for f in fields(State))


@dataclass(frozen=True)
class Spell:
    """Nine days: a freeze, then warm dry wind; a move in and out, repots, a can of water."""

    make: Any
    trees: Sequence[Tree]
    weather: Weather
    journal: Sequence[Entry]
    setting: Setting
    start: State

    def follow(
        self, start: State, first: int, last: int, rows: Sequence[int] = (0, 1, 2)
    ) -> Course:
        course: Course = self.make.follow(
            [self.trees[row] for row in rows],
            self.weather.hours_at(slice(first, last)),
            self.journal,
            setting=self.setting,
            start=start,
        )
        return course


@pytest.fixture(scope="module")
def spell(make: Any) -> Spell:
    trees = [
        make.tree("Ember", litres=1.5),
        make.tree("Heath", "Pinus sylvestris", litres=15.0),
        make.tree("Lane", "Carpinus betulus", litres=0.4),
    ]
    mean_c = np.interp(np.arange(HOURS), [0, 50, 100, 140, HOURS], [2, -9, -7, 14, 19])
    weather = make.weather(START, HOURS, mean_c=mean_c, dew_drop_k=6.0, wind_ms=3.0)
    journal = [
        # Its two weeks end in the middle of the seventh day; the roots have taken by then.
        make.work("Heath", START + 6.6 * DAY - 14 * DAY, WorkKind.SLIP_POT),
        make.work("Ember", START + 150.4 * HOUR, WorkKind.REPOT),
        make.moved("Heath", START + 40 * HOUR, "shed"),
        make.moved("Heath", START + 130.7 * HOUR, "top bench"),
        make.seen("Lane", START + 50 * HOUR, Stage.BUD_SWELL),
        make.work("Lane", START + 60 * HOUR, WorkKind.BAG),
        make.work("Lane", START + 170.1 * HOUR, WorkKind.UNBAG),
        make.watered("Lane", START + 180.3 * HOUR),
    ]
    setting = make.setting(trees, (Routine(times=(time(7),), every_days=3),))
    start = replace(make.begin(trees, 4.0), root_warmth_cd=np.array([400.0, 400.0, 10.0]))
    return Spell(make, trees, weather, journal, setting, start)


@pytest.fixture(scope="module")
def whole(spell: Spell) -> Course:
    return spell.follow(spell.start, 0, HOURS)


def read_back(state: State) -> State:
    return states.join([states.from_text(states.to_text(state, row)) for row in range(state.trees)])


def assert_same_hours(one: Exposure, other: Exposure) -> None:
    for name in EXPOSED:
        assert np.array_equal(getattr(one, name), getattr(other, name), equal_nan=True), name


def assert_same_state(one: State, other: State) -> None:
    for name in STATE:
        assert np.array_equal(getattr(one, name), getattr(other, name)), name


# ---- restart ------------------------------------------------------------------------------------


def test_the_spell_has_all_that_could_go_wrong(whole: Course) -> None:
    """Without this the tests below would prove little."""
    frozen, left = whole.exposure.frozen_share, whole.exposure.water_left
    assert (frozen.max(axis=2) == 1).all()
    assert (frozen.min(axis=2) == 0).all()
    assert left[2].min() < 0.3
    assert np.isfinite(whole.exposure.bag_c[2]).sum() == 111
    before, after = (
        whole.conditions[day][1].aftercare for day in (date(2026, 3, 31), date(2026, 4, 1))
    )
    assert before.roots is not None
    assert after.roots is None


@given(cuts=st.lists(st.integers(1, HOURS - 1), min_size=1, max_size=3, unique=True))
@example(cuts=[160])  # roots taken since the midnight before
@settings(max_examples=12)
def test_stopped_at_any_hour_and_read_back_it_goes_on_to_the_last_bit(
    spell: Spell, whole: Course, cuts: list[int]
) -> None:
    state, parts = spell.start, []
    edges = [0, *sorted(cuts), HOURS]
    for first, last in pairwise(edges):
        course = spell.follow(state, first, last)
        parts.append(course.exposure)
        state = read_back(course.end)
    assert_same_hours(exposures.join(parts), whole.exposure)
    assert_same_state(state, whole.end)


@pytest.mark.parametrize("cut", [7, 12, 23, 24, 25])
def test_a_frame_is_propped_at_the_same_hour_however_the_run_is_cut(make: Any, cut: int) -> None:
    """Ten days' mean air passes 10 °C in the middle of the first day."""
    trees, weather = [make.tree(spot="cold frame")], make.weather(START, 72, mean_c=19.0)
    start = make.begin(trees, 9.7)
    whole = make.follow(trees, weather, start=start)
    first = make.follow(trees, weather.hours_at(slice(0, cut)), start=start)
    rest = make.follow(trees, weather.hours_at(slice(cut, 72)), start=read_back(first.end))
    assert_same_hours(exposures.join([first.exposure, rest.exposure]), whole.exposure)
    assert_same_state(rest.end, whole.end)
    over_k = whole.exposure.air_c[0, 0] - weather.air_c[0]
    assert over_k[:24].max() > over_k[24:].max() + 5


def test_every_checkpoint_leads_to_the_same_end(spell: Spell, whole: Course) -> None:
    assert [moment for moment, _ in whole.midnights] == [START + n * DAY for n in range(1, 9)]
    for moment, state in whole.midnights:
        first = int((moment - START) / HOUR)
        again = spell.follow(read_back(state), first, HOURS)
        assert_same_hours(again.exposure, whole.exposure.hours(slice(first, HOURS)))
        assert_same_state(again.end, whole.end)


def test_a_checkpoint_taken_at_new_year_keeps_the_first_days_warmth(make: Any) -> None:
    """The season's sum begins anew on 1 January; reading it back must not do so again."""
    start = datetime(2025, 12, 30, tzinfo=UTC)
    trees, weather = [make.tree()], make.weather(start, 120, mean_c=12.0)
    whole = make.follow(trees, weather)
    moment, state = whole.midnights[2]
    assert moment == datetime(2026, 1, 2, tzinfo=UTC)
    assert state.warmth_cd == pytest.approx([7.0], abs=0.01)  # 12 - 5, of one day
    again = make.follow(trees, weather.between(moment, start + 5 * DAY), start=state)
    assert_same_state(again.end, whole.end)


def test_a_tree_does_not_depend_on_which_others_are_followed(spell: Spell, whole: Course) -> None:
    for row in range(3):
        alone = spell.follow(spell.start.take([row]), 0, HOURS, rows=[row])
        assert_same_hours(alone.exposure, whole.exposure.take([row]))
        assert_same_state(alone.end, whole.end.take([row]))


def test_members_share_a_past_and_a_calm_member_is_the_run_itself(make: Any) -> None:
    trees, weather = [make.tree()], make.weather(START, 72)
    past = make.follow(trees, weather.hours_at(slice(0, 24)))
    ahead = weather.hours_at(slice(24, 72))
    dressed = dress(ahead, START + DAY, np.ones(48, dtype=bool))
    many = make.follow(trees, dressed, start=past.end, site=drawn_sites(dressed.members))
    assert many.exposure.leaf_c.shape == (1, 20, 48)
    assert many.exposure.leaf_c[0, :, 30].std() > 0.3
    one = make.follow(trees, ahead, start=past.end)
    assert np.median(many.exposure.leaf_c[0], axis=0) == pytest.approx(
        one.exposure.leaf_c[0, 0], abs=2.0
    )


def test_only_one_past_has_many_futures(make: Any) -> None:
    """A state that has come through some weathers goes on through as many, and no others."""
    trees, weather = [make.tree()], make.weather(START, 24)
    dressed = dress(weather, START, np.ones(24, dtype=bool), 6)
    end = make.follow(trees, dressed, site=drawn_sites(6)).end
    assert end.fork(6) is end
    with pytest.raises(ValueError, match="6 members has no 51"):
        end.fork(51)


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"ball_c": "warm"}'])
def test_a_broken_checkpoint_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="not a tree's state"):
        states.from_text(text)


# ---- the journal --------------------------------------------------------------------------------


def test_a_move_counts_from_the_hour_after_it(spell: Spell, whole: Course) -> None:
    staying = replace(spell, journal=[e for e in spell.journal if e.kind != "move"])
    stayed = staying.follow(spell.start, 0, HOURS).exposure
    same = stayed.leaf_c[1, 0] == whole.exposure.leaf_c[1, 0]
    assert np.flatnonzero(~same)[0] == 40
    assert (whole.exposure.wind_ms[1, 0, 40:131] < 0.2).all()  # in the shed
    assert (whole.exposure.wind_ms[1, 0, 131:] > 1.0).all()


def test_a_can_of_water_fills_the_pot_it_was_noted_for_and_no_other(make: Any) -> None:
    start = datetime(2026, 7, 6, tzinfo=UTC)
    trees = [make.tree("Ember"), make.tree("Lane")]
    weather = make.weather(start, 72, mean_c=22.0, dew_drop_k=9.0)
    course = make.follow(trees, weather, [make.watered("Ember", start + 43.3 * HOUR)])
    left = course.exposure.water_left[:, 0]
    assert left[0, 42] < 0.4
    assert left[0, 43] > 0.9
    assert np.array_equal(left[0, :43], left[1, :43])
    assert left[1, 43:].max() < 0.4


def test_root_work_starts_the_clock_of_the_roots_again(spell: Spell, whole: Course) -> None:
    """The repot is at 06:24 on the seventh day, so that day counts from seven, above 6 °C."""
    kept = dict(whole.midnights)
    assert kept[START + 6 * DAY].root_warmth_cd[0] > 400
    grown = np.clip(whole.exposure.shell_c[0, 0, 151:168] - 6.0, 0.0, 14.0).sum() / 24
    assert grown > 1
    assert kept[START + 7 * DAY].root_warmth_cd[0] == pytest.approx(grown)
    assert whole.end.root_warmth_cd[1] > 400  # another's work


def test_entries_of_trees_not_followed_change_nothing(make: Any) -> None:
    trees, weather = [make.tree()], make.weather(START, 48)
    foreign = [make.work("Somebody else's", START + 7.2 * HOUR, WorkKind.REPOT)]
    plain, noted = make.follow(trees, weather), make.follow(trees, weather, foreign)
    assert_same_hours(plain.exposure, noted.exposure)
    assert_same_state(plain.end, noted.end)


# ---- season -------------------------------------------------------------------------------------


def test_summer_is_in_december_south_of_the_equator(make: Any) -> None:
    tree, start = make.tree(), datetime(2026, 12, 15, tzinfo=UTC)
    stages = {}
    for garden in (make.garden, make.south):
        weather = make.weather(start, 24, mean_c=12.0, garden=garden)
        course = make.follow([tree], weather, setting=make.setting([tree], garden=garden))
        stages[garden.name] = course.conditions[start.date()][0].stage
    assert stages == {"Orchard End": Stage.DORMANT, "Gum Flat": Stage.LEAFING_OUT}


def test_leaves_are_guarded_as_if_they_opened_a_little_sooner(make: Any) -> None:
    """Thermal sums are known to some 15 %: leaves may be open a tenth short of leaf-out."""
    trees, weather = [make.tree()], make.weather(START, 24)
    needed_cd = make.setting(trees).species["Ember"].limits.leaf_out.value
    stages = []
    for share in (0.7, 0.95):
        start = replace(
            make.begin(trees), warmth_cd=np.array([share * needed_cd]), chill_days=np.array([120.0])
        )
        course = make.follow(trees, weather, start=start)
        stages.append(course.conditions[START.date()][0].stage)
    assert stages == [Stage.BUD_SWELL, Stage.LEAFING_OUT]


def test_a_sighting_holds_from_the_day_it_was_made(make: Any) -> None:
    journal = [make.seen("Ember", START + 30 * HOUR, Stage.LEAFING_OUT)]
    course = make.follow([make.tree()], make.weather(START, 96, mean_c=4.0, swing_k=2.0), journal)
    stages = [course.conditions[(START + n * DAY).date()][0].stage for n in range(4)]
    assert stages == [Stage.DORMANT, *[Stage.LEAFING_OUT] * 3]


def test_a_tree_that_leafs_out_in_its_quarters_has_had_leaves_there_from_then(make: Any) -> None:
    went_in, opened = START - 90 * DAY, START + 50 * HOUR
    journal = [
        *(make.moved(name, went_in, "shed") for name in ("Ember", "Heath")),
        make.seen("Ember", opened, Stage.LEAFING_OUT),
    ]
    trees = [make.tree("Ember"), make.tree("Heath", "Pinus sylvestris")]
    course = make.follow(trees, make.weather(START, 120, mean_c=4.0, swing_k=2.0), journal)
    ember, heath = course.conditions[(START + 4 * DAY).date()]
    assert opened - DAY <= ember.leafy_there_since <= opened
    assert heath.leafy_there_since == went_in


def test_a_warm_season_lets_a_repot_rest_when_the_next_work_is_done(make: Any) -> None:
    """A slip pot does not hold roots open that have long taken; it does hold others open."""
    tree = make.tree("Ember", litres=3.0)
    slip = START + 40 * DAY
    journal = [
        make.work("Ember", START + 2 * DAY, WorkKind.REPOT),
        make.work("Ember", slip, WorkKind.SLIP_POT),
    ]

    def floor_after(mean_c: float) -> float | None:
        weather = make.weather(START, 43 * 24, mean_c=mean_c)
        course = make.follow([tree], weather, journal)
        floor: float | None = course.conditions[(slip + 2 * DAY).date()][0].aftercare.floor_c
        return floor

    assert floor_after(16.0) == -3.0
    assert floor_after(-4.0) == -1.0
