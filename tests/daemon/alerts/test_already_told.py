"""What an earlier message covers already, on bare rows and findings."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from types import SimpleNamespace
from typing import Any

import pytest
from bare_outlook import found, outlook_of, standing
from told_rows import DAY, HOUR, NIGHT_ENDS, NOW, told

from underbench.daemon.alerts.already_told import awaited, outgrown, promised
from underbench.daemon.store.episodes import EASED, OVER, EpisodeRow, key_of
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.gale import GALE
from underbench.rules.hazards.hazard import Action, Hazard
from underbench.rules.hazards.hot_bag import HOT_BAG
from underbench.rules.hazards.hot_roots import HOT_ROOTS
from underbench.rules.hazards.leaf_frost import LEAF_FROST
from underbench.rules.hazards.moving_sap import MOVING_SAP
from underbench.rules.hazards.root_frost import ROOT_FROST
from underbench.rules.hazards.scorch import SCORCH

A_SECOND = timedelta(seconds=1)
SHED, HOME = "shed", "top bench"
NEXT_ENDS = NIGHT_ENDS + DAY
NEXT_NIGHT = found(ends=NEXT_ENDS)
TILL_AFTER = told("Ember", back_at=NEXT_ENDS)  # for the first night, until after the next


def of(hazard: Hazard, **given: Any) -> Finding:
    return found(ends=NEXT_ENDS, hazard=hazard, **given)


def row_of(hazard: Hazard, **given: Any) -> EpisodeRow:
    return replace(TILL_AFTER, hazard=hazard.key, action=hazard.action.value, **given)


def is_promised(
    make: Any, row: EpisodeRow, finding: Finding = NEXT_NIGHT, spot: str = HOME, **given: Any
) -> bool:
    outlook = outlook_of(make, **given)
    return promised(outlook, finding, standing(make, spot=spot), [row])


@pytest.mark.parametrize(
    ("given", "covered"),
    [
        ({}, True),
        ({"back_at": NEXT_NIGHT.first_at + A_SECOND}, True),
        ({"back_at": NEXT_NIGHT.first_at}, False),
        ({"back_at": None}, False),
        ({"back_told_at": NOW}, False),  # sent back: the tree may be outside
        ({"told_at": None}, False),
        ({"action": Action.SHADE.value}, False),
        # It is told because it is worse than told before.
        ({"told_strength": "notice"}, False),
        ({"told_worst": NEXT_NIGHT.worst + 2.0}, False),
        ({"told_worst": NEXT_NIGHT.worst + 1.9}, True),
    ],
)
def test_who_was_told_until_later_does_not_hear_of_the_nights_between(
    make: Any, given: dict[str, Any], covered: bool
) -> None:
    assert is_promised(make, replace(TILL_AFTER, **given)) is covered


def test_danger_is_told_to_who_was_told_to_act(make: Any) -> None:
    assert not is_promised(make, TILL_AFTER, replace(NEXT_NIGHT, strength=Strength.DANGER))


@pytest.mark.parametrize(
    ("told_of", "next_one", "spot", "covered"),
    [
        (LEAF_FROST, MOVING_SAP, HOME, True),
        (LEAF_FROST, ROOT_FROST, HOME, False),  # fleece warms no pot
        (LEAF_FROST, ROOT_FROST, SHED, True),
        (ROOT_FROST, ROOT_FROST, HOME, True),
        (ROOT_FROST, LEAF_FROST, HOME, False),
        (GALE, LEAF_FROST, HOME, False),
        (GALE, LEAF_FROST, SHED, False),
        (SCORCH, HOT_ROOTS, HOME, True),
        (HOT_BAG, SCORCH, HOME, False),  # another action
    ],
)
def test_what_helps_against_one_helps_against_its_like(
    make: Any, told_of: Hazard, next_one: Hazard, spot: str, covered: bool
) -> None:
    assert is_promised(make, row_of(told_of), of(next_one), spot) is covered


@pytest.mark.parametrize(
    ("where", "after", "covered"),
    [
        (HOME, HOUR / 2, False),  # taken home since: the tree is in the open again
        (HOME, timedelta(0), False),
        (HOME, -HOUR, True),
        (SHED, HOUR / 2, True),
    ],
)
def test_a_tree_taken_home_since_hears_of_what_is_still_to_come(
    make: Any, where: str, after: timedelta, covered: bool
) -> None:
    assert TILL_AFTER.told_at is not None
    moved = make.moved("Ember", TILL_AFTER.told_at + after, where)
    assert is_promised(make, TILL_AFTER, journal=[moved]) is covered


def test_a_promise_is_of_the_trees_own(make: Any) -> None:
    assert not promised(outlook_of(make), NEXT_NIGHT, standing(make), [])


@pytest.mark.parametrize(
    ("hazard", "told_worst", "worst", "grown"),
    [
        (LEAF_FROST, -3.0, -5.0, True),
        (LEAF_FROST, -3.0, -4.9, False),
        (ROOT_FROST, -3.0, -5.0, True),
        (LEAF_FROST, None, -9.0, False),
        (SCORCH, 44.0, 41.0, False),
        (GALE, 20.0, 15.0, False),
    ],
)
def test_two_kelvin_colder_than_told_the_help_named_may_not_be_enough(
    hazard: Hazard, told_worst: float | None, worst: float, grown: bool
) -> None:
    row = told("Ember", told_worst=told_worst)
    assert outgrown(found(hazard=hazard, worst=worst), row) is grown
    assert not outgrown(found(hazard=hazard, worst=worst), None)


TO_THE_SHED = told("Ember", into_spot=SHED)


@pytest.mark.parametrize(
    ("given", "spot", "waits"),
    [
        ({}, HOME, True),
        ({}, SHED, False),
        ({}, "cold frame", True),
        ({"into_spot": None}, HOME, False),
        ({"told_at": None}, HOME, False),
        ({"back_told_at": NOW}, HOME, False),
        ({"state": EASED}, HOME, False),
        ({"state": OVER}, HOME, False),
        ({"tree": "Sold"}, HOME, False),
    ],
)
def test_the_room_told_to_a_tree_is_kept_for_it_until_it_is_there(
    make: Any, given: dict[str, Any], spot: str, waits: bool
) -> None:
    row = replace(TO_THE_SHED, **given)
    outlook = outlook_of(make, trees=[standing(make, spot=spot)])
    assert awaited(outlook, {key_of(row): row}) == ({"Ember": SHED} if waits else {})


def test_no_room_is_kept_for_a_lost_tree(make: Any) -> None:
    lost = standing(make).model_copy(update={"lost": True})
    outlook = SimpleNamespace(standing=(lost,))
    assert awaited(outlook, {key_of(TO_THE_SHED): TO_THE_SHED}) == {}
