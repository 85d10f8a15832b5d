"""What an earlier message covers already, on bare rows, findings and plans."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest
from bare_advice import advice, choice, job
from bare_outlook import found, outlook_of, standing
from bare_plans import HOME, SHED, planned
from told_rows import DAY, HOUR, NIGHT_ENDS, NOW, told

from underbench.daemon.alerts.already_told import (
    covered,
    done_already,
    is_in_for_season,
    is_to_tell,
    promised,
)
from underbench.daemon.outlook.plans import TreePlan, told_places
from underbench.daemon.store.episodes import EASED, HANDLED, OVER, EpisodeRow, key_of
from underbench.rules.advice.remedy import BAG_AND, FULL_SHADE, OPEN_FRAME, Remedy
from underbench.rules.garden.journal import Work
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards.findings import Strength
from underbench.rules.hazards.gale import GALE
from underbench.rules.hazards.hazard import Hazard
from underbench.rules.hazards.hot_bag import HOT_BAG
from underbench.rules.hazards.hot_roots import HOT_ROOTS
from underbench.rules.hazards.leaf_frost import LEAF_FROST
from underbench.rules.hazards.scorch import SCORCH

A_SECOND = timedelta(seconds=1)
NEXT_ENDS = NIGHT_ENDS + DAY
TONIGHT, NEXT_NIGHT = found(), found(ends=NEXT_ENDS)
FLEECE = "fleece-2"


def row_of(hazard: Hazard, **given: Any) -> EpisodeRow:
    till_after = told("Ember", back_at=NEXT_ENDS)  # for the first day, until after the next
    return replace(till_after, hazard=hazard.key, action=hazard.action.value, **given)


@pytest.mark.parametrize(
    ("given", "covers"),
    [
        ({}, True),
        ({"back_at": NEXT_NIGHT.first_at + A_SECOND}, True),
        ({"back_at": NEXT_NIGHT.first_at}, False),
        ({"back_at": None}, False),
        ({"back_told_at": NOW}, False),
        ({"told_at": None}, False),
        ({"told_strength": "notice"}, False),  # it is told because it is worse than told before
    ],
)
def test_who_shades_a_tree_for_days_does_not_hear_of_the_days_between(
    given: dict[str, Any], covers: bool
) -> None:
    shade = found(ends=NEXT_ENDS, hazard=SCORCH)
    assert promised(shade, [replace(row_of(SCORCH), **given)]) is covers
    assert not promised(shade, [])


@pytest.mark.parametrize(
    ("days_ago", "remedy", "covers"),
    [
        (13, "open-frame", True),
        (14, "open-frame", False),
        (13, "open-greenhouse", True),
        (13, "indoors", True),
        (14, "indoors", False),
        (13, "full-shade", False),
    ],
)
def test_what_is_done_on_each_such_day_of_two_weeks_is_told_once_in_them(
    days_ago: int, remedy: str, covers: bool
) -> None:
    shade = found(ends=NEXT_ENDS, hazard=SCORCH)
    told_at = shade.first_at - days_ago * DAY
    row = row_of(SCORCH, remedy=remedy, told_at=told_at, back_at=told_at + DAY)
    assert promised(shade, [row]) is covers


@pytest.mark.parametrize(
    ("remedy", "handled_at", "covers"),
    [
        ("indoors", NOW, True),
        ("indoors", None, False),  # who did not do it hears that it gets worse
        ("full-shade", NOW, True),
        ("half-shade", NOW, False),
    ],
)
def test_who_does_the_same_on_each_such_day_does_it_on_the_worse_ones_too(
    remedy: str, handled_at: datetime | None, covers: bool
) -> None:
    deadly = found(ends=NEXT_ENDS, hazard=SCORCH, strength=Strength.DANGER)
    row = row_of(SCORCH, remedy=remedy, told_strength="act", handled_at=handled_at)
    assert promised(deadly, [row]) is covers


@pytest.mark.parametrize(
    ("given", "indoors"),
    [
        ({}, True),
        ({"handled_at": None}, False),  # it may be outside yet
        ({"told_at": None}, False),  # it was moved since
        ({"remedy": "indoors"}, False),  # for a night
        ({"remedy": "into-spot", "into_spot": SHED}, False),  # there it is watched
        ({"span_end": NOW}, False),
    ],
)
def test_a_tropical_in_a_room_that_the_file_lacks_is_in_until_the_season_ends(
    given: dict[str, Any], indoors: bool
) -> None:
    row = told("Fig", remedy="indoors-for-season", handled_at=NOW - HOUR, span_end=NOW + 90 * DAY)
    assert is_in_for_season([replace(row, **given)], NOW) is indoors


@pytest.mark.parametrize(
    ("remedy", "handled_at", "covers"),
    [
        ("half-shade", None, True),
        ("half-shade", NOW, False),  # what is found under cloth that is up, cloth does not help
        ("full-shade", None, False),
    ],
)
def test_cloth_that_is_left_up_is_told_once(
    remedy: str, handled_at: datetime | None, covers: bool
) -> None:
    row = row_of(SCORCH, remedy=remedy, back_at=None, handled_at=handled_at)
    assert promised(found(ends=NEXT_ENDS, hazard=SCORCH), [row]) is covers


@pytest.mark.parametrize(
    ("told_of", "next_one", "covers"),
    [
        (SCORCH, HOT_ROOTS, True),
        (HOT_BAG, HOT_BAG, True),
        (HOT_BAG, SCORCH, False),
        (LEAF_FROST, GALE, False),  # to be protected from both, and not by the same
    ],
)
def test_shade_for_leaves_is_shade_for_the_pot(
    told_of: Hazard, next_one: Hazard, covers: bool
) -> None:
    assert promised(found(ends=NEXT_ENDS, hazard=next_one), [row_of(told_of)]) is covers


@pytest.mark.parametrize(
    ("given", "spot", "opened"),
    [
        ({}, "cold frame", True),
        ({}, "greenhouse", False),
        ({"handled_at": None}, "cold frame", False),  # nobody said that it is opened
        ({"told_at": NOW - 14 * DAY}, "cold frame", False),
        ({"remedy": "full-shade"}, "cold frame", False),
    ],
)
def test_a_frame_that_is_opened_for_one_tree_is_opened_for_all(
    make: Any, given: dict[str, Any], spot: str, opened: bool
) -> None:
    row = replace(row_of(SCORCH, remedy="open-frame", handled_at=NOW), told_at=NOW - DAY)
    sun = found("Heath", hazard=SCORCH)
    advised = advice(job(sun, choice(OPEN_FRAME), "cold frame"), back_at=None)
    outlook = outlook_of(make, trees=[standing(make, spot=spot)])
    assert bool(done_already(advised, [replace(row, **given)], outlook)) is opened


@pytest.mark.parametrize(
    ("since", "given", "remedy", "done"),
    [
        (None, {}, FULL_SHADE, True),
        (None, {}, BAG_AND[FULL_SHADE], False),  # shade alone will not do
        (None, {"handled_at": None}, FULL_SHADE, False),
        (None, {"remedy": "open-bag"}, FULL_SHADE, False),
        ("moved", {}, FULL_SHADE, False),
        ("bagged", {}, FULL_SHADE, False),  # anew
    ],
)
def test_a_bag_in_full_shade_is_left_there(
    make: Any, since: str | None, given: dict[str, Any], remedy: Remedy, done: bool
) -> None:
    row = replace(row_of(HOT_BAG, remedy="full-shade", handled_at=NOW - 9 * DAY), back_at=None)
    bag = advice(job(found(hazard=HOT_BAG), choice(remedy), HOME), back_at=None)
    later = {
        "moved": make.moved("Ember", NOW - DAY, HOME),
        "bagged": Work(tree="Ember", at=NOW - DAY, work=WorkKind.BAG),
    }
    outlook = outlook_of(make, journal=[later[since]] if since else [])
    assert bool(done_already(bag, [replace(row, **given)], outlook)) is done


def test_a_bag_for_which_full_shade_will_not_do_is_told_of(make: Any) -> None:
    """Frost outside keeps it shut, so there is nothing but shade; somebody has to look at it."""
    row = replace(row_of(HOT_BAG, remedy="full-shade", handled_at=NOW), back_at=None)
    best = choice(FULL_SHADE, suffices=False)
    bag = advice(job(found(hazard=HOT_BAG), best, HOME), back_at=None)
    assert done_already(bag, [row], outlook_of(make)) == frozenset()


# Where the keeper was told to bring a tree


TO_THE_SHED = told("Ember", into_spot=SHED)


@pytest.mark.parametrize(
    ("given", "place"),
    [
        ({}, SHED),
        ({"into_spot": None, "remedy": FLEECE}, FLEECE),
        ({"into_spot": None, "remedy": "ground-lee"}, "ground"),
        ({"into_spot": None}, None),
        ({"told_at": None}, None),
        ({"back_told_at": NOW}, HOME),  # sent back: it may be outside
        ({"state": EASED}, None),
        ({"state": OVER}, None),
        ({"action": "shade"}, None),
    ],
)
def test_a_tree_is_taken_to_be_where_it_was_told_to_be(
    make: Any, given: dict[str, Any], place: str | None
) -> None:
    rows = [replace(TO_THE_SHED, **given)]
    assert told_places(outlook_of(make), rows).get("Ember") == place


@pytest.mark.parametrize(("after", "place"), [(HOUR, None), (-HOUR, SHED)])
def test_a_tree_moved_since_is_where_it_was_moved_to(
    make: Any, after: timedelta, place: str | None
) -> None:
    assert TO_THE_SHED.told_at is not None
    moved = make.moved("Ember", TO_THE_SHED.told_at + after, HOME)
    outlook = outlook_of(make, journal=[moved])
    assert told_places(outlook, [TO_THE_SHED]).get("Ember") == place


# What is news


UNTOLD = replace(TO_THE_SHED, told_at=None, told_strength=None, told_do_by=None)


@pytest.mark.parametrize(
    ("plan", "row", "tells"),
    [
        (planned(SHED), UNTOLD, True),
        (planned(SHED, start=SHED), TO_THE_SHED, False),
        (planned("cold frame", start=SHED), TO_THE_SHED, False),  # it fares no better there
        # Colder than the fleece told holds; but within hours nobody is told two things.
        (planned(SHED, start=FLEECE), replace(TO_THE_SHED, told_at=NOW - 12 * HOUR), True),
        (planned(SHED, start=FLEECE), replace(TO_THE_SHED, told_at=NOW - 11 * HOUR), False),
        (planned(SHED, start=FLEECE), TO_THE_SHED, False),
        (planned(SHED, start=FLEECE), replace(TO_THE_SHED, handled_at=NOW), True),
        (planned(SHED, here=SHED), UNTOLD, False),
        # Told and not done, it is told again when it is worse than told.
        (planned(SHED, start=SHED), replace(TO_THE_SHED, told_strength="notice"), True),
    ],
)
def test_it_is_news_that_a_tree_is_to_be_elsewhere(
    plan: TreePlan, row: EpisodeRow, tells: bool
) -> None:
    own = [row, told("Ember", NIGHT_ENDS - DAY, handled_at=NOW)]
    assert is_to_tell(TONIGHT, row, own, plan, NOW) is tells


def test_a_told_plan_is_not_changed_when_the_night_is_on() -> None:
    plan = planned(SHED, start=FLEECE)
    row = told("Ember", remedy=FLEECE, told_at=NOW - DAY)
    for before, tells in ((HOUR, False), (2 * HOUR, True)):
        assert is_to_tell(TONIGHT, row, [row], plan, TONIGHT.first_at - before) is tells


@pytest.mark.parametrize(
    ("before", "tells"),
    [
        (None, True),
        (told("Ember", NIGHT_ENDS - DAY), False),
        (told("Ember", NIGHT_ENDS - DAY, told_at=NOW - 60 * DAY), True),
        (told("Ember", NIGHT_ENDS - DAY, told_at=NOW - 59 * DAY), False),
        (told("Ember", NIGHT_ENDS - DAY, told_strength="notice"), True),
        (told("Ember", NIGHT_ENDS - DAY, hazard="gale"), False),
        (told("Ember", NIGHT_ENDS - DAY, hazard="scorch", action="shade"), True),
        # Weeks ago the tree could be carried in, and was.
        (told("Ember", NIGHT_ENDS - DAY, into_spot=SHED, handled_at=NOW), True),
        (told("Ember", NIGHT_ENDS - DAY, remedy="shelter"), False),
    ],
)
def test_that_nothing_here_helps_is_said_once_in_two_months(
    before: EpisodeRow | None, tells: bool
) -> None:
    own = [UNTOLD, *([before] if before else [])]
    assert is_to_tell(TONIGHT, UNTOLD, own, planned(HOME), NOW) is tells


# What was told and done holds


@pytest.mark.parametrize(
    ("plan", "told_row", "holds"),
    [
        (planned(SHED, SHED, here=SHED), TO_THE_SHED, True),
        (planned(SHED, SHED, start=SHED), TO_THE_SHED, False),  # it is not there yet
        (planned(SHED, HOME, here=SHED), TO_THE_SHED, False),
        (planned(FLEECE, FLEECE, start=FLEECE), told("Ember", remedy=FLEECE), False),
        (
            planned(FLEECE, FLEECE, start=FLEECE),
            told("Ember", remedy=FLEECE, handled_at=NOW),
            True,
        ),
    ],
)
def test_a_stay_goes_on_from_night_to_night_without_a_word(
    make: Any, plan: TreePlan, told_row: EpisodeRow, holds: bool
) -> None:
    later = replace(UNTOLD, span_start=NEXT_NIGHT.span.start, span_end=NEXT_ENDS)
    spot = plan.here
    outlook = outlook_of(make, trees=[standing(make, spot=spot)], at_home=[NEXT_NIGHT])
    rows = {key_of(row): row for row in (told_row, later)}
    kept = covered(outlook, rows, {"Ember": plan})
    assert [(row.told_at, row.state) for row in kept] == ([(NOW, HANDLED)] if holds else [])


def test_danger_is_told_to_who_was_told_to_act() -> None:
    deadly = replace(TONIGHT, strength=Strength.DANGER)
    assert is_to_tell(deadly, TO_THE_SHED, [TO_THE_SHED], planned(SHED, start=SHED), NOW)
