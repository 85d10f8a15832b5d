"""What follows a told job, in tables: the stand-down, the return, the question. The rows and the
outlook are bare values."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from bare_outlook import found, outlook_of, standing
from bare_plans import HOME, planned
from told_rows import DAY, HOUR, NIGHT_ENDS, NOW, told

from underbench.daemon.alerts.call_off_and_return import (
    asking,
    going_back,
    stand_downs,
    tied_down_for,
)
from underbench.daemon.alerts.episodes import told_beside, untold
from underbench.daemon.store.episodes import EASED, FORESEEN, OVER, TOLD, EpisodeRow, Key, key_of
from underbench.rules.advice.remedy import TIE
from underbench.rules.garden.inventory import HandsOn, Hours
from underbench.rules.garden.journal import Fate, Move, Outcome, Stage
from underbench.rules.hazards.chill import CHILL
from underbench.rules.hazards.dry_wind import DRY_WIND
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.gale import GALE
from underbench.rules.hazards.hazard import Hazard
from underbench.rules.hazards.leaf_frost import LEAF_FROST
from underbench.rules.hazards.root_frost import ROOT_FROST
from underbench.rules.hazards.scorch import SCORCH

TUESDAY, WEDNESDAY = (date(2024, 4, day) for day in (23, 24))
MINUTE = timedelta(minutes=1)
SHED = "shed"


def on_all_days(*hours: tuple[int, int]) -> HandsOn:
    """Hands-on hours, the same on each day."""
    own = tuple(Hours(start=time(first), end=time(last)) for first, last in hours)
    return HandsOn(weekdays=own, weekends=own)


HALF = (Hours(start=time(6, 30), end=time(7)),)  # no pass may come in it
HALF_HOURS = HandsOn(weekdays=HALF, weekends=HALF)
ALL_DAY, TWICE_A_DAY, EVENINGS = (
    on_all_days((6, 21)),
    on_all_days((6, 8), (17, 21)),
    on_all_days((17, 21)),
)


def at(day: date, hour: int, minute: int = 0) -> datetime:
    """A moment by the garden's clock."""
    return datetime.combine(day, time(hour, minute), ZoneInfo("Europe/Ljubljana"))


def by_key(rows: Iterable[EpisodeRow]) -> dict[Key, EpisodeRow]:
    return {key_of(row): row for row in rows}


# Called off


MILDER = told("Ember", state=EASED)  # told by 16:00, due at 20:00 on Tuesday, harm from 3:00


def off(make: Any, rows: Sequence[EpisodeRow], now: datetime = NOW, spot: str = "") -> list[Any]:
    """The trees of each stand-down at ``now``."""
    outlook = outlook_of(make, trees=[standing(make, spot=spot), standing(make, "Heath")], now=now)
    return [
        [placed.tree for placed in one.trees] for one, _ in stand_downs(outlook, by_key(rows), {})
    ]


@pytest.mark.parametrize(
    ("given", "now", "called_off"),
    [
        ({}, NOW, True),
        ({"state": TOLD}, NOW, False),
        ({"state": OVER}, NOW, False),
        ({"told_at": None}, NOW, False),
        ({"told_do_by": None}, NOW, False),
        ({"handled_at": NOW}, NOW, False),  # done, and noted
        ({"action": "shade"}, NOW, True),
        ({"action": "vent"}, NOW, True),
        ({"action": "water"}, NOW, False),
        # After its deadline the job counts as done, and the return was told with it.
        ({}, at(TUESDAY, 20) - MINUTE, True),
        ({}, at(TUESDAY, 20), False),
        ({"told_do_by": at(WEDNESDAY, 12)}, MILDER.from_at - MINUTE, False),  # 2:59: it is quiet
        ({"told_do_by": at(WEDNESDAY, 12), "from_at": at(TUESDAY, 21)}, at(TUESDAY, 21), False),
        ({"tree": "Sold"}, NOW, False),
    ],
)
def test_a_job_told_and_no_longer_needed_is_called_off_before_it_is_due(
    make: Any, given: dict[str, Any], now: datetime, called_off: bool
) -> None:
    assert off(make, [replace(MILDER, **given)], now) == ([["Ember"]] if called_off else [])


def test_who_has_carried_a_tree_in_hears_when_it_goes_back_instead(make: Any) -> None:
    assert off(make, [MILDER], spot=SHED) == []


def another(nights: float = 1, **given: Any) -> EpisodeRow:
    """The row of a later night."""
    return told("Ember", NIGHT_ENDS + nights * DAY, **given)


@pytest.mark.parametrize(
    ("other", "still_asked"),
    [
        (another(), True),
        (another(told_at=None, state=FORESEEN), True),  # yet to be told, and to be acted on
        (another(told_at=None, state=FORESEEN, strength="notice"), False),
        (another(strength="notice"), True),  # told once, and not eased yet
        (another(state=EASED), False),
        (another(state=OVER), False),
        (another(-1, state=TOLD), False),  # its last bad hour is past
        (replace(another(), action="shade"), False),
        (replace(another(), tree="Heath"), False),
        (another(1.5), True),  # thirteen hours between two nights are one run
        (another(1.6), False),
        (replace(MILDER, hazard="gale", state=TOLD), True),
    ],
)
def test_it_is_not_called_off_while_another_night_asks_for_the_same(
    make: Any, other: EpisodeRow, still_asked: bool
) -> None:
    assert off(make, [MILDER, other]) == ([] if still_asked else [["Ember"]])


@pytest.mark.parametrize(("path", "called_off"), [((HOME, HOME), True), ((HOME, SHED), False)])
def test_it_is_not_called_off_while_the_plan_moves_the_tree(
    make: Any, path: tuple[str, ...], called_off: bool
) -> None:
    outlook = outlook_of(make, trees=[standing(make)])
    plans = {"Ember": planned(*path)}
    assert bool(stand_downs(outlook, by_key([MILDER]), plans)) is called_off


def test_each_action_is_called_off_once_for_all_its_trees(make: Any) -> None:
    rows = [MILDER, replace(MILDER, tree="Heath"), replace(MILDER, action="shade", hazard="leaf")]
    outlook = outlook_of(make, trees=[standing(make), standing(make, "Heath")])
    rows[2] = replace(rows[2], hazard=SCORCH.key)
    found_off = stand_downs(outlook, by_key(rows), {})
    assert [(one.action.value, len(own)) for one, own in found_off] == [
        ("protect", 2),
        ("shade", 1),
    ]


# Back


PAST = told("Ember", state=OVER, into_spot=SHED)  # its last bad hour was 7:00 on Wednesday
CARRIED_AT, NINE = NOW + HOUR, at(WEDNESDAY, 9)


def back(
    make: Any,
    rows: Sequence[EpisodeRow] = (PAST,),
    now: datetime = NINE,
    *,
    findings: Sequence[Finding] = (),
    carried_at: datetime | None = CARRIED_AT,
    stage: Stage = Stage.LEAFING_OUT,
    hands_on: HandsOn = ALL_DAY,
    path: tuple[str, ...] = (HOME, HOME),
    at_home: float = 0.0,
) -> Any:
    """What goes back at ``now`` if the tree stands in the shed and is planned to be at ``path``.
    ``at_home``: its chance of harm there. Without a path there is no plan, as for a tropical."""
    moves = [make.moved("Ember", carried_at, SHED)] if carried_at else []
    outlook = outlook_of(
        make,
        trees=[standing(make, spot=SHED, since=carried_at)],
        now=now,
        at_home=findings,
        journal=moves,
        stage=stage,
        hands_on=hands_on,
    )
    plans = {"Ember": planned(*path, here=SHED, harm={HOME: at_home, SHED: 0.9})} if path else {}
    return going_back(outlook, by_key(rows), plans)


@pytest.mark.parametrize(
    ("given", "goes"),
    [
        ({}, True),
        ({"path": (HOME, SHED)}, False),  # it would go in again
        ({"path": (SHED, HOME)}, False),  # not yet
        ({"path": (SHED, SHED)}, False),
        ({"at_home": 0.29}, True),
        ({"at_home": 0.3}, False),  # it is harmed either way
        ({"now": at(WEDNESDAY, 6, 30), "stage": Stage.DORMANT}, True),  # sunrise is at 5:59
        ({"now": at(WEDNESDAY, 20, 30)}, False),  # and sets at 20:01
        ({"hands_on": TWICE_A_DAY, "now": at(WEDNESDAY, 7)}, True),
        ({"hands_on": TWICE_A_DAY, "now": at(WEDNESDAY, 18)}, True),
        ({"hands_on": TWICE_A_DAY, "now": at(WEDNESDAY, 18), "stage": Stage.DORMANT}, False),
        ({"hands_on": HALF_HOURS, "now": at(WEDNESDAY, 7), "stage": Stage.DORMANT}, True),
        ({"hands_on": EVENINGS, "now": at(WEDNESDAY, 18)}, True),
        ({"hands_on": HandsOn(weekdays=(), weekends=())}, False),  # nobody is there
        ({"rows": [replace(PAST, told_at=None)]}, False),
        ({"rows": [replace(PAST, back_told_at=NOW)]}, False),
        ({"rows": [replace(PAST, action="shade")]}, False),
        ({"rows": []}, False),
        # The keeper took it in without being asked, or long after the night it was told for.
        ({"carried_at": None}, False),
        ({"carried_at": NOW - 13 * HOUR - MINUTE}, False),
        ({"carried_at": NOW - 13 * HOUR}, True),  # moved first, told within twelve hours
        ({"carried_at": NIGHT_ENDS + DAY}, True),
        ({"carried_at": NIGHT_ENDS + DAY + MINUTE}, False),
    ],
)
def test_a_tree_goes_back_by_day_when_its_plan_has_it_at_home_for_good(
    make: Any, given: dict[str, Any], goes: bool
) -> None:
    assert (back(make, **given) is not None) is goes


@pytest.mark.parametrize(
    ("first_at", "given", "goes"),
    [
        (2 * DAY, {}, False),
        (2 * DAY + MINUTE, {}, True),
        (DAY, {"strength": Strength.NOTICE}, True),
        (DAY, {"hazard": DRY_WIND}, True),
        (DAY, {"hazard": SCORCH}, True),
        (DAY, {"hazard": GALE}, False),
        (DAY, {"tree": "Heath"}, True),
    ],
)
def test_a_tropical_is_not_carried_out_for_a_day_or_two(
    make: Any, first_at: timedelta, given: dict[str, Any], goes: bool
) -> None:
    coming = found(**{"first_at": at(WEDNESDAY, 9) + first_at, **given})
    assert (back(make, findings=[coming], path=()) is not None) is goes


@pytest.mark.parametrize(
    ("days", "goes"), [(44, False), (46, True)], ids=["before its middle", "after"]
)
def test_a_tropical_stays_in_through_the_first_half_of_the_cold(
    make: Any, days: int, goes: bool
) -> None:
    begun = at(WEDNESDAY, 12) - days * DAY
    season = replace(
        PAST,
        hazard=CHILL.key,
        span_start=begun,
        span_end=begun + 90 * DAY,
        told_at=begun,
        state=EASED,
    )
    assert (back(make, [season], carried_at=begun, path=()) is not None) is goes


@pytest.mark.parametrize(
    ("on_ground", "hazard", "days", "goes"),
    [
        (True, DRY_WIND, 3, False),
        (False, DRY_WIND, 3, True),
        (True, GALE, 3, False),
        (False, GALE, 3, True),  # it is tied down when the gale comes
        (False, GALE, 1, False),
        (False, LEAF_FROST, 3, False),
    ],
)
def test_wind_at_home_keeps_a_tree_down_but_not_in_the_dark(
    make: Any, on_ground: bool, hazard: Hazard, days: int, goes: bool
) -> None:
    spot, key = (HOME, "ground-lee") if on_ground else (SHED, SHED)
    stands = standing(make, spot=spot, since=CARRIED_AT).model_copy(update={"on_ground": on_ground})
    move = Move(tree="Ember", at=CARRIED_AT, spot=spot, on_ground=on_ground)
    ahead = found(hazard=hazard, first_at=NINE + days * DAY)
    outlook = outlook_of(
        make, trees=[stands], now=NINE, at_home=[ahead], journal=[move], hands_on=ALL_DAY
    )
    plans = {"Ember": planned(HOME, HOME, here=key, harm={HOME: 0.0, key: 0.0})}
    assert (going_back(outlook, by_key([PAST]), plans) is not None) is goes


def test_who_goes_back_before_a_gale_is_tied_down_there(make: Any) -> None:
    trees = [standing(make, spot=SHED, since=CARRIED_AT)]
    gale = found(hazard=GALE, first_at=NINE + 3 * DAY)
    outlook = outlook_of(
        make,
        trees=trees,
        now=NINE,
        at_home=[gale],
        journal=[make.moved("Ember", CARRIED_AT, SHED)],
        hands_on=ALL_DAY,
    )
    plans = {"Ember": planned(HOME, HOME, here=SHED, harm={HOME: 0.0, SHED: 0.0})}
    found_back = going_back(outlook, by_key([PAST]), plans)
    assert found_back is not None
    said = found_back[0]
    assert said.tie == ("Ember",)
    assert said.quiet_until == outlook.reaches  # tied down, it bears that gale
    assert tied_down_for(said, outlook) == [gale]
    row = told_beside(another(hazard=GALE.key, told_at=None, told_strength=None), NINE, TIE.key)
    assert not untold(gale, row)


def test_a_dead_tree_is_left_where_it_is(make: Any) -> None:
    lost = standing(make, spot=SHED, since=CARRIED_AT).model_copy(update={"lost": True})
    moves = [make.moved("Ember", CARRIED_AT, SHED)]
    outlook = outlook_of(make, trees=[lost], now=NINE, journal=moves, hands_on=ALL_DAY)
    assert going_back(outlook, by_key([PAST]), {}) is None


@pytest.mark.parametrize(("stage", "goes"), [(Stage.LEAFING_OUT, True), (Stage.DORMANT, False)])
def test_a_leaf_does_not_wait_under_fleece_for_a_week(make: Any, stage: Stage, goes: bool) -> None:
    on = Move(tree="Ember", at=CARRIED_AT, spot=HOME, layers=2)
    covered = standing(make, since=CARRIED_AT).model_copy(update={"layers": 2})
    outlook = outlook_of(
        make, trees=[covered], now=NINE, journal=[on], stage=stage, hands_on=ALL_DAY
    )
    plans = {"Ember": planned(HOME, here="fleece-2", harm={HOME: 0.0, "fleece-2": 0.0})}
    row = replace(PAST, into_spot=None, remedy="fleece-2")
    other = replace(PAST, tree="Heath", back_told_at=NINE - 3 * DAY)
    assert (going_back(outlook, by_key([row, other]), plans) is not None) is goes


@pytest.mark.parametrize(
    ("told_back", "stage", "goes"),
    [
        (at(WEDNESDAY, 6), Stage.LEAFING_OUT, False),
        (at(WEDNESDAY, 20) - 2 * DAY, Stage.LEAFING_OUT, False),
        (at(WEDNESDAY, 20) - 3 * DAY, Stage.LEAFING_OUT, True),  # it stands in the dark
        (at(TUESDAY, 20), Stage.DORMANT, False),
        (at(WEDNESDAY, 20) - 13 * DAY, Stage.DORMANT, False),
        (at(WEDNESDAY, 20) - 14 * DAY, Stage.DORMANT, True),
    ],
)
def test_trees_at_rest_are_sent_back_once_in_two_weeks_and_those_that_want_light_sooner(
    make: Any, told_back: datetime, stage: Stage, goes: bool
) -> None:
    other = replace(PAST, tree="Heath", back_told_at=told_back)
    assert (back(make, [PAST, other], stage=stage) is not None) is goes


@pytest.mark.parametrize(
    ("inside_h", "stage", "shade"),
    [(25, Stage.LEAFING_OUT, True), (24, Stage.LEAFING_OUT, False), (48, Stage.DORMANT, False)],
)
def test_leaves_that_were_in_the_dark_for_a_day_go_into_shade_first(
    make: Any, inside_h: int, stage: Stage, shade: bool
) -> None:
    now = at(WEDNESDAY, 9)
    rows = [replace(PAST, told_at=now - 2 * DAY)]
    found_back = back(make, rows, carried_at=now - inside_h * HOUR, stage=stage)
    assert found_back is not None
    assert bool(found_back[0].shade_first) is shade


def test_who_goes_back_after_danger_is_asked_about_with_it(make: Any) -> None:
    """Everything told of the tree is then settled, also for the nights ahead."""
    deadly, kept_in = replace(PAST, told_strength="danger"), another(state=EASED)
    found_back = back(make, [deadly, kept_in])
    assert found_back is not None
    said, settled, asked = found_back
    assert (said.asked, asked) == (("Ember",), [deadly])
    assert settled == [deadly, kept_in]


# How did they come through?


DEADLY = told("Ember", told_strength="danger", state=OVER)
SHOWS = DEADLY.until_at + DAY


def outcome(night: date, tree: str = "Ember") -> Outcome:
    return Outcome(tree=tree, at=NIGHT_ENDS, fate=Fate.FINE, night=night)


def question(
    make: Any,
    rows: Sequence[EpisodeRow] = (DEADLY,),
    now: datetime = SHOWS,
    *,
    spot: str = "",
    journal: Sequence[Any] = (),
    hands_on: HandsOn = ALL_DAY,
) -> Any:
    trees = [standing(make, spot=spot), standing(make, "Heath")]
    outlook = outlook_of(make, trees=trees, now=now, journal=journal, hands_on=hands_on)
    return asking(outlook, by_key(rows))


@pytest.mark.parametrize(
    ("given", "asked"),
    [
        ({}, True),
        ({"now": SHOWS - MINUTE}, False),  # it would not show yet
        ({"hands_on": HandsOn(weekdays=(), weekends=())}, False),
        ({"rows": [replace(DEADLY, told_strength="act")]}, False),
        ({"rows": [replace(DEADLY, state=EASED)]}, False),
        ({"rows": [replace(DEADLY, asked_at=SHOWS)]}, False),
        ({"rows": [replace(DEADLY, asked_at=SHOWS - 9 * DAY)]}, False),  # once, not once a week
        ({"journal": [outcome(TUESDAY)]}, False),  # of the night that began then
        ({"journal": [outcome(TUESDAY - DAY)]}, True),
        ({"journal": [outcome(WEDNESDAY)]}, False),
        ({"journal": [outcome(TUESDAY, "Heath")]}, True),
        ({"rows": [replace(DEADLY, hazard=CHILL.key)]}, False),  # it was taken in before it showed
        ({"spot": SHED}, False),  # the keeper is asked about it when it goes back
    ],
)
def test_after_a_danger_the_keeper_is_asked_once_it_would_show(
    make: Any, given: dict[str, Any], asked: bool
) -> None:
    assert (question(make, **given) is not None) is asked


@pytest.mark.parametrize(("days", "asked"), [(6.9, False), (7, True)])
def test_the_keeper_is_asked_once_a_week(make: Any, days: float, asked: bool) -> None:
    other = replace(DEADLY, tree="Heath", asked_at=SHOWS - days * DAY)
    assert (question(make, [DEADLY, other]) is not None) is asked


def test_it_waits_for_trees_that_are_still_in_for_the_same(make: Any) -> None:
    """The keeper is asked about all together, when those trees go back."""
    inside = replace(DEADLY, tree="Heath")
    trees = [standing(make), standing(make, "Heath", SHED, CARRIED_AT)]
    moved = [make.moved("Heath", CARRIED_AT, SHED)]
    outlook = outlook_of(make, trees=trees, now=SHOWS, journal=moved, hands_on=ALL_DAY)
    assert asking(outlook, by_key([DEADLY, inside])) is None
    assert asking(outlook, by_key([DEADLY])) is not None


def test_the_question_names_the_worst_and_the_last_night(make: Any) -> None:
    roots = told(
        "Heath",
        NIGHT_ENDS - DAY,
        told_strength="danger",
        state=OVER,
        hazard=ROOT_FROST.key,
        chance=0.95,
    )
    found_question = question(make, [DEADLY, roots])
    assert found_question is not None
    said, rows = found_question
    assert (said.hazard, said.night) == (ROOT_FROST, TUESDAY)
    assert sorted(said.trees) == ["Ember", "Heath"]
    assert len(rows) == 2
