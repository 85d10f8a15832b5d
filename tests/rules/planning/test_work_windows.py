"""Windows for work: what is never offered, whatever the weather; and that words agree with `did`.

Facts of the trade: common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underbench.rules.garden.inventory import ContainerKind
from underbench.rules.garden.journal import Entry, Stage, Work, fold
from underbench.rules.garden.works import WorkKind, works_that
from underbench.rules.limits.aftercare import RootClock, open_aftercare
from underbench.rules.limits.condition import Condition
from underbench.rules.planning.misgivings import misgiving
from underbench.rules.planning.past_years import PastDay, Usual
from underbench.rules.planning.work_season import DryWork, Suit, Why
from underbench.rules.planning.work_windows import (
    PLANNED,
    Day,
    Planning,
    Verdict,
    inapplicable,
    root_limit_c,
    verdicts,
)
from underbench.rules.plants.species import Kind, catalogue
from underbench.rules.plants.stages import STAGES

MEMBERS, LATITUDE, ACT_FROM = 20, 50.0, 0.3
SPECIES = sorted(catalogue().species)
MILD, NEVER_TAKEN, DAY = 8.0, RootClock(0.0), timedelta(days=1)
DISTURBS_ROOTS = works_that(lambda does: does.opens_pot)
WORKS = [work for work in PLANNED if isinstance(work, WorkKind)]


def tree_of(make: Any, species: str, at: datetime, *entries: Entry, **more: Any) -> Planning:
    standing = fold(make.tree(species=species), entries, at)
    known = catalogue().species[species]
    return Planning(known, standing, LATITUDE, ACT_FROM, **{"usual": frostless(), **more})


def day_of(tree: Planning, on: date, stage: Stage, low_c: Any = MILD, **more: Any) -> Day:
    low_c = np.broadcast_to(np.asarray(low_c, dtype=float), (MEMBERS,))
    care = open_aftercare(tree.standing, NEVER_TAKEN, tree.species.limits.kind in CONIFERS)
    dry = np.zeros(MEMBERS)
    values = {
        "root_c": low_c,
        "later_root_c": low_c,
        "low_c": low_c,
        "high_c": low_c + 8,
        "later_low_c": low_c,
        "rain_24_mm": dry,
        "rain_48_mm": dry,
        "low_24_c": low_c,
        "low_48_c": low_c,
    }
    return Day(on, Condition(tree.standing.tree, stage, care, 0.0, 20.0), **{**values, **more})


CONIFERS = (Kind.CONIFER_EVERGREEN, Kind.CONIFER_DECIDUOUS)


def noon(on: date) -> datetime:
    return datetime(on.year, on.month, on.day, 12, tzinfo=UTC)


def one(work: Any, tree: Planning, day: Day) -> Verdict:
    (found,) = verdicts(work, tree, [day])
    return found


def planned(make: Any, work: Any, species: str, stage: Stage, on: date, **more: Any) -> Verdict:
    tree = tree_of(make, species, noon(on))
    return one(work, tree, day_of(tree, on, stage, **more))


@st.composite
def cases(draw: st.DrawFn) -> tuple[str, Stage, date, WorkKind, list[float], int]:
    """Any species at any of its stages on any day, before works and weathers of any kind."""
    species = draw(st.sampled_from(SPECIES))
    stage = draw(st.sampled_from(STAGES[catalogue().species[species].limits.kind]))
    on = draw(st.dates(date(2026, 1, 1), date(2026, 12, 31)))
    lows = draw(st.lists(st.floats(-15, 20), min_size=MEMBERS, max_size=MEMBERS))
    return species, stage, on, draw(st.sampled_from(WORKS)), lows, draw(st.integers(1, 200))


@given(case=cases())
def test_nothing_is_offered_that_speaks_against_itself(make: Any, case: Any) -> None:
    """Nothing is offered that `did` would answer with a caution. So there is no root work in frost,
    or in full leaf where a tree resents it, and no severing before a frost."""
    species, stage, on, work, lows, _ = case
    started = Work(tree="Ember", at=noon(on) - 60 * DAY, work=WorkKind.START_LAYER)
    entries = [started] if work is WorkKind.SEVER_LAYER else []
    tree = tree_of(make, species, noon(on), *entries)
    day = day_of(tree, on, stage, lows)
    found = one(work, tree, day)
    if found.suit is Suit.NO:
        return
    limits, frosty = tree.species.limits, np.array(lows)
    assert misgiving(work, None, limits, (stage,), on, LATITUDE) is None
    if work in DISTURBS_ROOTS:
        limit_c = root_limit_c(work, tree, day)
        assert limit_c is None or (frosty < limit_c).mean() < ACT_FROM
    if work is WorkKind.SEVER_LAYER and limits.kind is not Kind.TROPICAL:
        assert (frosty < 0).mean() < ACT_FROM


@given(case=cases())
def test_no_root_work_inside_another_root_works_aftercare(make: Any, case: Any) -> None:
    species, stage, on, work, _, days = case
    before = Work(tree="Ember", at=noon(on) - days * DAY, work=WorkKind.REPOT)
    tree = tree_of(make, species, noon(on), before, second_job=True)
    found = one(work, tree, day_of(tree, on, stage))
    if work in DISTURBS_ROOTS and work is not WorkKind.SEVER_LAYER:
        assert found.suit is Suit.NO


@given(case=cases(), frost=st.integers(0, 80))
def test_no_severing_with_a_usual_frost_inside_eight_weeks(
    make: Any, case: Any, frost: int
) -> None:
    species, stage, on, _, _, _ = case
    started = Work(tree="Ember", at=noon(on) - 60 * DAY, work=WorkKind.START_LAYER)
    past = {date(2025, 1, 1) + n * DAY: PastDay(12.0, 6.0) for n in range(500)}
    past[on.replace(year=2025) + frost * DAY] = PastDay(1.0, -2.0)
    tree = tree_of(make, species, noon(on), started, usual=Usual(past, LATITUDE))
    found = one(WorkKind.SEVER_LAYER, tree, day_of(tree, on, stage))
    if frost < 56 and tree.species.limits.kind is not Kind.TROPICAL:
        assert found.suit is Suit.NO


def frostless() -> Usual:
    days = [date(2025, 1, 1) + n * DAY for n in range(500)]
    return Usual({day: PastDay(12.0, 6.0) for day in days}, LATITUDE)


# Single cases.


def test_a_mild_day_at_bud_swell_is_good(make: Any) -> None:
    found = planned(make, WorkKind.REPOT, "Acer palmatum", Stage.BUD_SWELL, date(2026, 3, 20))
    assert found.suit is Suit.GOOD


def test_frost_after_the_second_night_leaves_a_day_poor(make: Any) -> None:
    frost = np.full(MEMBERS, -3.0)
    found = planned(
        *(make, WorkKind.REPOT, "Acer palmatum", Stage.BUD_SWELL, date(2026, 3, 20)),
        later_root_c=frost,
    )
    assert found.suit is Suit.POOR
    assert found.against
    assert found.against.why is Why.LATER_ROOT_FROST


def usual_with(frosts: int, low_c: float) -> Usual:
    """Ten years, ``frosts`` of them with a night of ``low_c`` on 5 March."""
    days = {date(2016, 1, 1) + n * DAY: PastDay(6.0, 2.0) for n in range(3653)}
    days |= {date(2016 + n, 3, 5): PastDay(1.0, low_c) for n in range(frosts)}
    return Usual(days, LATITUDE)


@pytest.mark.parametrize(
    ("work", "species", "on", "frosts", "low_c", "suit"),
    [
        (WorkKind.REPOT, "Acer buergerianum", date(2026, 2, 16), 9, -6.0, Suit.POOR),
        (WorkKind.REPOT, "Pinus sylvestris", date(2026, 2, 16), 9, -6.0, Suit.POOR),
        (WorkKind.REPOT, "Acer buergerianum", date(2026, 2, 16), 2, -6.0, Suit.GOOD),
        (WorkKind.REPOT, "Acer buergerianum", date(2026, 2, 16), 9, -2.0, Suit.GOOD),  # air only
        (WorkKind.REPOT, "Acer buergerianum", date(2026, 3, 20), 9, -6.0, Suit.GOOD),  # behind it
        (WorkKind.SLIP_POT, "Acer buergerianum", date(2026, 2, 16), 9, -6.0, Suit.GOOD),  # 2 weeks
    ],
)
def test_roots_just_cut_want_weeks_without_frost_by_earlier_years(
    make: Any,
    work: WorkKind,
    species: str,
    on: date,
    frosts: int,
    low_c: float,
    suit: Suit,
) -> None:
    """Four weeks after a repot, eight after a heavy cut: common practice, no source."""
    tree = tree_of(make, species, noon(on), usual=usual_with(frosts, low_c))
    found = one(work, tree, day_of(tree, on, Stage.DORMANT))
    assert found.suit is suit
    if suit is Suit.POOR:
        assert found.against
        assert (found.against.why, found.against.chance) == (Why.USUAL_ROOT_FROST, frosts / 10)


@pytest.mark.parametrize(
    ("latitude", "elevation_m", "on", "suit"),
    [
        (47.4, 430.0, date(2026, 2, 16), Suit.POOR),  # Zurich
        (47.4, 430.0, date(2026, 4, 12), Suit.GOOD),
        (47.4, 1200.0, date(2026, 4, 12), Suit.POOR),
        (36.0, 20.0, date(2026, 3, 1), Suit.GOOD),
        (-47.4, 430.0, date(2026, 8, 16), Suit.POOR),  # half a year on
    ],
)
def test_where_no_year_is_known_latitude_and_height_say_how_late_frosts_go_on(
    make: Any, latitude: float, elevation_m: float, on: date, suit: Suit
) -> None:
    """Judgement, no source."""
    place = {"latitude": latitude, "elevation_m": elevation_m}
    tree = replace(tree_of(make, "Acer palmatum", noon(on), usual=None), **place)
    found = one(WorkKind.REPOT, tree, day_of(tree, on, Stage.BUD_SWELL))
    assert found.suit is suit
    if suit is Suit.POOR:
        assert found.against
        assert found.against.why is Why.USUAL_LAST_FROST


def test_what_established_roots_bear_is_no_weather_for_cut_ones(make: Any) -> None:
    """Mature roots of this maple bear −5 °C at the shell, cut ones −1 °C."""
    frost = np.full(MEMBERS, -2.0)
    found = planned(
        *(make, WorkKind.REPOT, "Acer palmatum", Stage.BUD_SWELL, date(2026, 3, 20)), low_c=frost
    )
    assert found.against
    assert found.against.why is Why.ROOT_FROST
    assert found.against.value == -2.0
    assert found.against.chance == 1.0


def test_one_major_job_a_year_unless_told(make: Any) -> None:
    on = date(2026, 6, 20)
    before = Work(tree="Ember", at=noon(date(2026, 3, 10)), work=WorkKind.CHOP)
    tree = tree_of(make, "Acer palmatum", noon(on), before)
    day = day_of(tree, on, Stage.HARDENED)
    found = one(WorkKind.DEFOLIATE, tree, day)
    assert found.against
    assert found.against.why is Why.SECOND_JOB
    assert found.against.work == before
    assert one(WorkKind.DEFOLIATE, replace(tree, second_job=True), day).suit is Suit.GOOD


@pytest.mark.parametrize(
    ("before", "done"),
    [(WorkKind.CHOP, date(2025, 3, 25)), (WorkKind.DEFOLIATE, date(2025, 7, 5)),
     (WorkKind.HARD_PRUNE, date(2025, 8, 10))],
)  # fmt: skip
def test_the_next_springs_job_is_another_years(make: Any, before: WorkKind, done: date) -> None:
    on, work = date(2026, 3, 10), Work(tree="Ember", at=noon(done), work=before)
    tree = tree_of(make, "Acer palmatum", noon(on), work)
    assert one(WorkKind.REPOT, tree, day_of(tree, on, Stage.BUD_SWELL)).suit is Suit.GOOD


def test_a_southern_year_of_work_runs_from_july(make: Any) -> None:
    stripped = Work(tree="Ember", at=noon(date(2026, 1, 10)), work=WorkKind.DEFOLIATE)
    tree = tree_of(make, "Acer palmatum", noon(date(2026, 9, 10)), stripped)
    south = replace(tree, latitude=-LATITUDE)
    assert one(WorkKind.REPOT, south, day_of(tree, date(2026, 9, 10), Stage.BUD_SWELL)).suit is (
        Suit.GOOD
    )
    assert one(WorkKind.CHOP, south, day_of(tree, date(2026, 2, 10), Stage.HARDENED)).suit is (
        Suit.NO
    )


def test_roots_cut_in_autumn_are_left_until_another_season(make: Any) -> None:
    on = date(2026, 2, 10)
    work = Work(tree="Ember", at=noon(date(2025, 9, 10)), work=WorkKind.ROOT_PRUNE)
    tree = tree_of(make, "Pinus sylvestris", noon(on), work)
    assert one(WorkKind.REPOT, tree, day_of(tree, on, Stage.DORMANT)).suit is Suit.NO


@given(case=cases())
def test_no_leaf_or_branch_is_taken_while_roots_have_not(make: Any, case: Any) -> None:
    species, stage, on, work, _, days = case
    before = Work(tree="Ember", at=noon(on) - days * DAY, work=WorkKind.COLLECT)
    tree = tree_of(make, species, noon(on), before, second_job=True)
    assert one(work, tree, day_of(tree, on, stage)).suit is not Suit.GOOD


@pytest.mark.parametrize(
    ("work", "stage", "on", "weather"),
    [
        (WorkKind.CHOP, Stage.DORMANT, date(2026, 3, 5), {"low_c": -11.0}),
        (WorkKind.HARD_PRUNE, Stage.DORMANT, date(2026, 3, 5), {"low_c": -11.0}),
        (WorkKind.CHOP, Stage.DORMANT, date(2026, 3, 5), {"later_low_c": np.full(MEMBERS, -6.0)}),
        (WorkKind.START_LAYER, Stage.HARDENED, date(2026, 5, 5), {"low_c": -6.0}),
        (WorkKind.DEFOLIATE, Stage.HARDENED, date(2026, 6, 15), {"low_c": 31.0}),
        (WorkKind.START_LAYER, Stage.HARDENED, date(2026, 6, 15), {"low_c": 31.0}),
        (WorkKind.BAG, Stage.DORMANT, date(2026, 3, 20), {"low_c": 8.0}),
    ],
)
def test_hard_frost_and_heat_are_no_weather_for_cuts_nor_sun_for_a_bag(
    make: Any, work: WorkKind, stage: Stage, on: date, weather: Any
) -> None:
    """Highs are 8 K above these lows."""
    found = planned(make, work, "Acer palmatum", stage, on, **weather)
    assert found.suit is Suit.POOR
    mild = planned(make, work, "Acer palmatum", stage, on, low_c=3.0)
    assert mild.suit is Suit.GOOD


@pytest.mark.parametrize(
    ("work", "species", "container", "why"),
    [
        (WorkKind.REPOT, "Acer palmatum", ContainerKind.BED, Why.IN_GROUND),
        (WorkKind.COLLECT, "Acer palmatum", ContainerKind.POT, Why.IN_CONTAINER),
        (WorkKind.DIVIDE, "Pinus sylvestris", ContainerKind.POT, Why.NOT_DIVIDED),
        (WorkKind.SEVER_LAYER, "Acer palmatum", ContainerKind.POT, Why.NO_LAYER),
        (WorkKind.COLLECT, "Acer palmatum", ContainerKind.BED, None),
        (WorkKind.REPOT, "Acer palmatum", ContainerKind.POT, None),
    ],
)
def test_a_work_is_offered_where_it_can_be_meant(
    make: Any, work: WorkKind, species: str, container: ContainerKind, why: Why | None
) -> None:
    tree = tree_of(make, species, noon(date(2026, 3, 5)))
    own = tree.standing.tree.container.model_copy(update={"kind": container})
    stands = tree.standing.tree.model_copy(update={"container": own})
    there = replace(tree, standing=tree.standing.model_copy(update={"tree": stands}))
    assert inapplicable(work, there) is why


def test_a_birch_is_not_cut_when_it_bleeds(make: Any) -> None:
    on = date(2026, 3, 20)
    found = planned(make, WorkKind.HARD_PRUNE, "Betula pendula", Stage.BUD_SWELL, on, low_c=3.0)
    assert found.against is not None
    assert found.against.why is Why.BLEEDS


@pytest.mark.parametrize(("month", "why"), [(2, Why.EARLY), (11, Why.LATE)])
def test_a_tropical_is_too_early_before_its_months_and_too_late_after(
    make: Any, month: int, why: Why
) -> None:
    on = date(2026, month, 10)
    found = planned(make, WorkKind.DEFOLIATE, "Ficus microcarpa", Stage.HARDENED, on, low_c=18.0)
    assert found.against is not None
    assert found.against.why is why


def test_a_second_dry_day_not_known_yet_is_not_called_wet(make: Any) -> None:
    found = planned(
        *(make, DryWork.SEAL_CUTS, "Acer palmatum", Stage.DORMANT, date(2026, 3, 5)),
        rain_48_mm=np.full(MEMBERS, np.nan),
        low_48_c=np.full(MEMBERS, np.nan),
    )
    assert found.suit is Suit.GOOD


@pytest.mark.parametrize(("weeks", "suit"), [(3, Suit.NO), (5.9, Suit.NO), (6.1, Suit.GOOD)])
def test_a_layer_is_looked_at_from_the_sixth_week(make: Any, weeks: float, suit: Suit) -> None:
    on = date(2026, 7, 20)
    started = Work(tree="Ember", at=noon(on) - weeks * 7 * DAY, work=WorkKind.START_LAYER)
    tree = tree_of(make, "Acer palmatum", noon(on), started, usual=frostless())
    assert one(WorkKind.SEVER_LAYER, tree, day_of(tree, on, Stage.HARDENED)).suit is suit


def test_where_no_year_is_known_a_layer_is_not_called_safe_to_sever(make: Any) -> None:
    on = date(2026, 8, 30)
    started = Work(tree="Ember", at=noon(on) - 90 * DAY, work=WorkKind.START_LAYER)
    tree = tree_of(make, "Acer palmatum", noon(on), started, usual=None)
    found = one(WorkKind.SEVER_LAYER, tree, day_of(tree, on, Stage.HARDENED))
    assert found.suit is Suit.POOR
    assert found.against is not None
    assert found.against.why is Why.YEARS_UNKNOWN


@pytest.mark.parametrize(
    ("night_c", "suit"), [(9.0, Suit.NO), (13.5, Suit.POOR), (17.0, Suit.GOOD)]
)
def test_a_tropical_wants_warm_nights(make: Any, night_c: float, suit: Suit) -> None:
    on = date(2026, 7, 1)
    found = planned(make, WorkKind.REPOT, "Ficus microcarpa", Stage.HARDENED, on, low_c=night_c)
    assert found.suit is suit


@pytest.mark.parametrize(
    ("rain", "low_c", "suit"),
    [
        ((0.0, 0.0), 4.0, Suit.GOOD),
        ((0.0, 3.0), 4.0, Suit.POOR),
        ((3.0, 3.0), 4.0, Suit.NO),
        ((0.0, 0.0), -1.0, Suit.NO),
    ],
)
@pytest.mark.parametrize("work", list(DryWork))
def test_cuts_and_dead_wood_want_one_dry_day_without_frost_better_two(
    make: Any, work: DryWork, rain: tuple[float, float], low_c: float, suit: Suit
) -> None:
    one_day, two_days = (np.full(MEMBERS, mm) for mm in rain)
    found = planned(
        *(make, work, "Juniperus chinensis", Stage.HARDENED, date(2026, 7, 1)),
        low_c=low_c,
        rain_24_mm=one_day,
        rain_48_mm=two_days,
    )
    assert found.suit is suit


def test_an_air_frost_later_in_the_forecast_keeps_a_layer_on(make: Any) -> None:
    on = date(2026, 5, 10)
    started = Work(tree="Ember", at=noon(on) - 300 * DAY, work=WorkKind.START_LAYER)
    tree = tree_of(make, "Acer palmatum", noon(on), started, usual=frostless())
    mild, frost = day_of(tree, on, Stage.LEAFING_OUT), np.full(MEMBERS, -0.2)
    assert one(WorkKind.SEVER_LAYER, tree, mild).suit is Suit.GOOD
    found = one(WorkKind.SEVER_LAYER, tree, replace(mild, later_low_c=frost))
    assert found.against is not None
    assert found.against.why is Why.FROST_WITHIN_WEEKS
