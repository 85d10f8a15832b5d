"""What follows works: by warmth, closed by what is noted, said once; and what lived."""

from __future__ import annotations

import json
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from commanding import DAY, HEAD, Garden, fails, stamp
from garden_toml import EMBER, HEATH
from hypothesis import given
from hypothesis import strategies as st
from spring_frosts import GARDEN, Labs

from underbench.daemon.alerts.scheduled_messages import say
from underbench.daemon.planning.seasons import wilson
from underbench.daemon.store.store import Store
from underbench.rules.garden.inventory import Container, ContainerKind, Tree
from underbench.rules.garden.journal import Fate, Outcome, Stage, TreeAt, Work
from underbench.rules.garden.works import WorkKind
from underbench.rules.limits.aftercare import RootClock
from underbench.rules.planning.follow_up import Expected, FollowUp, Held, asks, expected
from underbench.rules.plants.species import Kind
from underbench.rules.weather.hourly import Weather

APRIL = datetime(2024, 4, 1, 9, tzinfo=UTC)
MARCH = datetime(2024, 3, 28, 8, tzinfo=UTC)
HOUR = timedelta(hours=1)
NOON = datetime(2024, 4, 20, 10, tzinfo=UTC)
BROADLEAF, PINE = Kind.BROADLEAF_DECIDUOUS, Kind.CONIFER_EVERGREEN
UNTAKEN, TAKEN = RootClock(0.0), RootClock(900.0)


def works(*kinds: tuple[WorkKind, int]) -> tuple[Work, ...]:
    return tuple(Work(tree="Ember", at=APRIL + n * DAY, work=kind) for kind, n in kinds)


def standing(
    *kinds: tuple[WorkKind, int],
    days: int = 60,
    lost: bool = False,
    container: ContainerKind = ContainerKind.POT,
) -> TreeAt:
    own = Container.model_construct(kind=container, litres=4)
    tree = Tree.model_construct(name="Ember", spot="bench", container=own)
    return TreeAt.model_construct(
        tree=tree, at=APRIL + days * DAY, spot="bench", works=works(*kinds), lost=lost
    )


def open_on(
    tree: TreeAt, mean_c: float, kind: Kind = BROADLEAF, clock: RootClock = UNTAKEN
) -> dict[FollowUp, Expected]:
    days = {date(2024, 1, 1) + n * DAY: mean_c for n in range(360)}
    found = asks(tree, kind, clock, Stage.HARDENED, 46.0)
    return {ask.what: expected(ask, days, tree.at.date(), 46.0) for ask in found}


@given(mean_c=st.floats(-10, 35), warmer_k=st.floats(0, 10), days=st.integers(0, 300))
def test_warmth_only_brings_it_nearer(mean_c: float, warmer_k: float, days: int) -> None:
    today = (APRIL + days * DAY).date()
    (ask,) = asks(standing((WorkKind.WIRE, 0), days=days), BROADLEAF, UNTAKEN, Stage.HARDENED, 46.0)
    known = {date(2023, 1, 1) + n * DAY: mean_c for n in range(1000)}
    warm = {day: value + warmer_k for day, value in known.items()}
    cool, hot = (expected(ask, one, today, 46.0) for one in (known, warm))
    assert hot.gained_cd >= cool.gained_cd
    assert hot.due or not cool.due
    if cool.last is not None:
        assert hot.last is not None
        assert hot.last <= cool.last


# Weeks as growers name them: common practice, no source.


@pytest.mark.parametrize(
    ("mean_c", "soonest", "latest"),
    [(16.0, 5, 8), (22.0, 3, 5)],
)
def test_wire_on_a_maple_is_checked_within_weeks_and_sooner_in_heat(
    mean_c: float, soonest: int, latest: int
) -> None:
    def due(days: int) -> bool:
        tree = standing((WorkKind.WIRE, 0), days=days)
        return open_on(tree, mean_c)[FollowUp.CHECK_WIRE].due

    assert not due(7 * soonest - 1)
    assert due(7 * latest)


def test_a_pine_is_given_longer_and_winter_brings_nothing() -> None:
    wired = standing((WorkKind.WIRE, 0), days=56)
    assert open_on(wired, 16.0)[FollowUp.CHECK_WIRE].due
    assert not open_on(wired, 16.0, PINE)[FollowUp.CHECK_WIRE].due
    cold = open_on(standing((WorkKind.WIRE, 0), days=90), 3.0)[FollowUp.CHECK_WIRE]
    assert cold.gained_cd == 0.0
    assert not cold.due


def test_a_tree_fattened_in_the_ground_is_looked_at_sooner() -> None:
    """Field-grown branches thicken within a month of spring: common practice, no source."""

    def due(days: int, container: ContainerKind) -> bool:
        tree = standing((WorkKind.WIRE, 0), days=days, container=container)
        return open_on(tree, 16.0)[FollowUp.CHECK_WIRE].due

    assert due(28, ContainerKind.BED)
    assert due(28, ContainerKind.POND_BASKET)
    assert not due(28, ContainerKind.TRAINING_BOX)
    assert due(35, ContainerKind.TRAINING_BOX)
    assert not due(35, ContainerKind.POT)


@pytest.mark.parametrize("look", [WorkKind.CHECK_WIRE, WorkKind.CHECK])
def test_a_look_starts_it_anew_and_unwiring_ends_it(look: WorkKind) -> None:
    looked = standing((WorkKind.WIRE, 0), (look, 55), days=56)
    assert not open_on(looked, 16.0)[FollowUp.CHECK_WIRE].due
    later = standing((WorkKind.WIRE, 0), (look, 55), days=75)
    assert open_on(later, 16.0)[FollowUp.CHECK_WIRE].due
    assert open_on(standing((WorkKind.WIRE, 0), (WorkKind.UNWIRE, 55)), 16.0) == {}


def test_a_look_at_one_thing_is_none_at_another() -> None:
    both = ((WorkKind.WIRE, 0), (WorkKind.START_LAYER, 0), (WorkKind.CHECK_WIRE, 69))
    found = open_on(standing(*both, days=70), 16.0)
    assert not found[FollowUp.CHECK_WIRE].due
    assert found[FollowUp.LOOK_IN_MOSS].due
    assert found[FollowUp.SUPPORT_LIMB].due


def test_the_forecast_says_more_of_the_next_days_than_the_years_gone_by() -> None:
    tree = standing((WorkKind.WIRE, 0), days=30)
    (ask,) = asks(tree, BROADLEAF, UNTAKEN, Stage.HARDENED, 46.0)
    today = tree.at.date()
    usual = {date(2023, 1, 1) + n * DAY: 15.0 for n in range((today - date(2023, 1, 1)).days)}
    hot = {today + n * DAY: 30.0 for n in range(6)}
    as_usual, as_forecast = (
        expected(ask, days, today, 46.0).first for days in (usual, usual | hot)
    )
    # A day at 15 °C brings 10 °C·d, one at 30 °C brings 25: six of these spare nine of the others.
    assert as_usual
    assert as_forecast == as_usual - 9 * DAY


def test_a_layer_wants_a_support_at_once_and_a_look_after_weeks() -> None:
    young = open_on(standing((WorkKind.START_LAYER, 0), days=1), 17.0)
    assert young[FollowUp.SUPPORT_LIMB].due
    assert not young[FollowUp.LOOK_IN_MOSS].due
    supported = standing((WorkKind.START_LAYER, 0), (WorkKind.SUPPORT_LIMB, 1), days=30)
    assert {what: one.due for what, one in open_on(supported, 17.0).items()} == {
        FollowUp.LOOK_IN_MOSS: False
    }
    assert open_on(standing((WorkKind.START_LAYER, 0), days=70), 17.0)[FollowUp.LOOK_IN_MOSS].due
    assert open_on(
        standing((WorkKind.START_LAYER, 0), (WorkKind.SEVER_LAYER, 69)), 17.0
    ).keys() <= {FollowUp.FIRST_FEED}


def test_an_opened_bag_is_to_come_off_after_a_week() -> None:
    """Common practice, no source."""
    assert FollowUp.LOOK_UNDER_BAG in open_on(standing((WorkKind.BAG, 0)), 14.0)

    def opened(days: int) -> Expected:
        tree = standing((WorkKind.BAG, 0), (WorkKind.OPEN_BAG, 9), (WorkKind.CHECK, 10), days=days)
        return open_on(tree, 14.0)[FollowUp.TAKE_BAG_OFF]

    assert not opened(12).due
    assert opened(12).first == (APRIL + 16 * DAY).date()
    assert opened(16).due
    off = ((WorkKind.BAG, 0), (WorkKind.OPEN_BAG, 9), (WorkKind.UNBAG, 16))
    assert open_on(standing(*off), 14.0) == {}


def test_a_lost_tree_asks_for_nothing() -> None:
    assert open_on(standing((WorkKind.BAG, 0), (WorkKind.WIRE, 0), lost=True), 14.0) == {}


def test_feed_waits_for_roots_to_take_and_is_given_once() -> None:
    repotted = standing((WorkKind.REPOT, 0))
    assert not open_on(repotted, 16.0)[FollowUp.FIRST_FEED].due
    assert open_on(repotted, 16.0, clock=TAKEN)[FollowUp.FIRST_FEED].due
    assert open_on(standing((WorkKind.REPOT, 0), (WorkKind.FEED, 59)), 16.0, clock=TAKEN) == {}


def test_wire_put_on_in_stages_goes_by_the_oldest() -> None:
    staged = standing((WorkKind.WIRE, 0), (WorkKind.WIRE, 40), days=56)
    assert open_on(staged, 16.0)[FollowUp.CHECK_WIRE].due
    anew = standing((WorkKind.WIRE, 0), (WorkKind.UNWIRE, 30), (WorkKind.WIRE, 40), days=56)
    assert not open_on(anew, 16.0)[FollowUp.CHECK_WIRE].due


def test_a_look_noted_for_the_day_of_the_work_counts() -> None:
    at_once = standing((WorkKind.START_LAYER, 0), (WorkKind.SUPPORT_LIMB, 0), days=1)
    assert FollowUp.SUPPORT_LIMB not in open_on(at_once, 16.0)


def test_who_slits_a_bag_has_looked_under_it() -> None:
    slit = standing((WorkKind.BAG, 0), (WorkKind.SLIT_BAG, 9), days=10)
    assert not open_on(slit, 14.0)[FollowUp.LOOK_UNDER_BAG].due


def test_a_warm_room_brings_growth_whatever_the_garden_has() -> None:
    tree = standing((WorkKind.WIRE, 0), days=40)
    (ask,) = asks(tree, BROADLEAF, UNTAKEN, Stage.HARDENED, 46.0)
    cold = {date(2024, 1, 1) + n * DAY: 0.0 for n in range(360)}
    room = Held(APRIL.date() + 5 * DAY, 18.0)
    outside, inside = (expected(ask, cold, tree.at.date(), 46.0, held) for held in (None, room))
    assert outside.gained_cd == 0.0
    assert inside.gained_cd == pytest.approx(35 * 13.0)
    assert inside.due


def test_a_tropical_is_fed_in_any_month() -> None:
    repotted = standing((WorkKind.REPOT, 0), days=220)  # early November
    due = open_on(repotted, 20.0, Kind.TROPICAL, TAKEN)[FollowUp.FIRST_FEED].due
    assert due
    assert not open_on(repotted, 20.0, clock=TAKEN)[FollowUp.FIRST_FEED].due


# Commands and round-up


def test_a_tree_with_a_layer_says_what_it_feels(garden: Garden) -> None:
    garden.do("did", "start-layer", "Ember", "--on", "2024-04-10")
    assert "water left in the layer's moss" in shown(garden, "feels", "Ember")


def shown(garden: Garden, *words: str) -> str:
    done = garden.do(*words, "--at", stamp(NOON))
    assert done.exit_code == 0, done.output
    return done.stdout


def test_follow_ups_lists_and_did_closes(garden: Garden) -> None:
    garden.write(HEAD + EMBER + HEATH)
    garden.do("did", "start-layer", "Ember", "--on", "2024-04-10")
    garden.do("did", "wire", "Heath", "--on", "2024-04-10")
    told = shown(garden, "follow-ups")
    (support,) = [line for line in told.splitlines() if "support" in line]
    assert "now" in support
    assert "check the wire" in told
    found = json.loads(shown(garden, "follow-ups", "--json"))["follow_ups"]
    assert {one["what"] for one in found} == {
        FollowUp.SUPPORT_LIMB, FollowUp.LOOK_IN_MOSS, FollowUp.CHECK_WIRE
    }  # fmt: skip
    assert "did support-limb" in support
    garden.do("did", "support-limb", "Ember", "--on", "2024-04-15")
    garden.do("did", "unwire", "Heath", "--on", "2024-04-15")
    assert [
        one["what"] for one in json.loads(shown(garden, "follow-ups", "--json"))["follow_ups"]
    ] == [FollowUp.LOOK_IN_MOSS]


def test_a_round_up_says_it_once(labs: Labs, make: Any) -> None:
    weather: Weather = make.weather(MARCH - 3 * DAY, 24 * 30, mean_c=9.0)
    garden = labs(GARDEN + '[telling]\nround_up = "09:00"\n' + EMBER, weather)
    garden.store.journal.add([Work(tree="Ember", at=MARCH - DAY, work=WorkKind.START_LAYER)])
    said = []
    for days in range(3):
        now = MARCH + days * DAY
        (message,) = say(garden.run(now), garden.settings, garden.store, now)
        assert len(message.body.splitlines()) <= 6
        said += [line for line in message.body.splitlines() if "limb" in line]
    assert said == ["Support the girdled limb: Ember (start layer 27 Mar)."]


def test_a_look_left_out_is_asked_for_twice_more_and_no_oftener(labs: Labs, make: Any) -> None:
    """Wire forgotten in June has bitten by August: common practice, no source."""
    weather: Weather = make.weather(MARCH - 3 * DAY, 24 * 160, mean_c=20.0)
    garden = labs(GARDEN + '[telling]\nround_up = "09:00"\n' + EMBER, weather)
    garden.store.journal.add([Work(tree="Ember", at=MARCH - DAY, work=WorkKind.WIRE)])
    said = []
    for days in (30, 39, 40, 49, 50, 60):
        now = MARCH + days * DAY
        (message,) = say(garden.run(now), garden.settings, garden.store, now)
        said += [days for line in message.body.splitlines() if "Check the wire" in line]
    assert said == [30, 40, 50]  # 150 °C·d more, 15 a day


# What lived


@pytest.mark.parametrize(
    ("lived", "cases", "low", "high"),
    [(10, 10, 0.722, 1.0), (0, 10, 0.0, 0.278), (5, 10, 0.237, 0.763)],
)
def test_the_interval_is_wilsons(lived: int, cases: int, low: float, high: float) -> None:
    """Ten of ten, none and five of ten at 95 %: figures of statistics tables, from memory."""
    assert wilson(lived, cases) == (pytest.approx(low, abs=5e-4), pytest.approx(high, abs=5e-4))


def test_seasons_say_what_lived_and_how_few_cases(garden: Garden) -> None:
    assert "No work can be judged yet" in shown(garden, "seasons")
    with Store.open(garden.database) as store:
        old = NOON - timedelta(days=60)
        store.journal.add(
            [Work(tree=name, at=old, work=WorkKind.REPOT) for name in ("Ember", "Heath")]
        )
        lost = NOON - DAY
        store.journal.add([Outcome(tree="Ember", at=lost, fate=Fate.LOST, night=lost.date())])
    told = shown(garden, "seasons")
    assert "0 of 1; too few to say" in told
    assert "not known of 1: nothing was noted since" in told
    garden.do("seen", "extending", "Heath", "--on", f"{NOON:%Y-%m-%d}")
    assert "1 of 1; too few to say" in shown(garden, "seasons")


def test_seasons_tell_of_chops_and_bags(garden: Garden) -> None:
    old = NOON - timedelta(days=60)
    with Store.open(garden.database) as store:
        store.journal.add(
            [Work(tree="Ember", at=old, work=work) for work in (WorkKind.CHOP, WorkKind.BAG)]
        )
    garden.do("seen", "leafing-out", "Ember", "--on", f"{NOON:%Y-%m-%d}")
    groups = json.loads(shown(garden, "seasons", "--json"))["groups"]
    assert {one["work"]: one["lived"] for one in groups} == {"chop": 1, "bag": 1}


@pytest.mark.parametrize(
    ("work", "lacks"),
    [("check-bag", "bag"), ("check-moss", "layer"), ("support-limb", "layer"),
     ("check-wire", "wire"), ("unwire", "wire")],
)  # fmt: skip
def test_what_is_not_on_a_tree_is_not_looked_at(garden: Garden, work: str, lacks: str) -> None:
    said = fails(garden.do("did", work, "Ember", "--on", "2024-04-13"))
    assert f"Ember had no {lacks} on 13 April 2024" in said


def test_a_layer_older_than_the_journal_is_severed_with_a_word(garden: Garden) -> None:
    done = garden.do("did", "sever-layer", "Ember", "--on", "2024-04-13")
    assert done.exit_code == 0
    assert "No layer was noted on Ember before" in done.stdout


def test_seasons_as_json_give_a_range_from_five_known_cases_on(garden: Garden) -> None:
    old = NOON - timedelta(days=60)
    with Store.open(garden.database) as store:
        for n in range(6):
            store.journal.add([Work(tree="Heath", at=old + n * HOUR, work=WorkKind.REPOT)])
    (unheard,) = json.loads(shown(garden, "seasons", "--json"))["groups"]
    assert (unheard["cases"], unheard["judged"], unheard["low"]) == (6, 0, None)
    garden.do("did", "wire", "Heath", "--on", "2024-04-19")
    groups = json.loads(shown(garden, "seasons", "--json"))["groups"]
    (repotted,) = [one for one in groups if one["work"] == "repot"]
    assert (repotted["judged"], repotted["lived"]) == (6, 6)
    low, high = repotted["low"], repotted["high"]
    assert (low, high) == pytest.approx((0.610, 1.0), abs=5e-4)  # Wilson, six of six


def test_seasons_say_what_came_from_what(garden: Garden) -> None:
    garden.do("did", "divide", "Ember", "--as", "Spark", "--on", "2024-03-20")
    assert "From Ember: Spark." in shown(garden, "seasons")


@pytest.mark.parametrize("words", [("did", "unwirre", "Ember"), ("follow-ups", "--at", "soon")])
def test_bad_words_are_one_clear_line(garden: Garden, words: tuple[str, ...]) -> None:
    if words[0] == "did":
        assert "unwire" in fails(garden.do(*words))
    else:
        assert garden.do(*words).exit_code == 2
