"""Light: trees in leaf that stand in a dark shed. Figures are common practice, no source."""

from __future__ import annotations

from typing import Any

import pytest
from spring_frosts import DAY, EVENING, HOUR, Labs, heard, in_leaf, move, spring

from underbench.daemon.journal.noting import keep
from underbench.rules.garden.journal import Sighting, Stage
from underbench.rules.hazards.hazard import Action


def dark(told: list[Any]) -> list[Any]:
    return [
        (at, one) for at, one in told if getattr(one, "advice", None) and one.advice.action is LIGHT
    ]


LIGHT = Action.LIGHT
THREE_DAYS_AND_MORE = 24 * 5


def shut_in(labs: Labs, make: Any) -> Any:
    garden = in_leaf(labs, spring(make))
    move(garden, "shed", EVENING - DAY)
    return garden


def test_a_tree_in_leaf_is_let_out_of_the_dark_after_three_days_and_told_once(
    labs: Labs, make: Any
) -> None:
    garden = shut_in(labs, make)
    ((at, one),) = dark(heard(garden, EVENING, THREE_DAYS_AND_MORE, 3))
    assert one.message.title.startswith("LET OUT 1 tree by ")
    assert "Out into open shade by day" in one.message.body
    assert one.advice.do_by.hour <= 10  # in the evening it would get no light
    assert EVENING + 2 * DAY <= at <= EVENING + 3 * DAY + 16 * HOUR


@pytest.mark.parametrize("stage", [Stage.DORMANT, Stage.BUD_SWELL])
def test_without_leaves_it_may_stand_in_the_dark(labs: Labs, make: Any, stage: Stage) -> None:
    garden = shut_in(labs, make)
    keep(garden.store, [Sighting(tree="Ember", at=EVENING - DAY, stage=stage)])
    assert dark(heard(garden, EVENING, THREE_DAYS_AND_MORE, 3)) == []


def test_a_tree_that_was_out_by_day_begins_anew(labs: Labs, make: Any) -> None:
    garden = shut_in(labs, make)
    heard(garden, EVENING, 20, 4)
    move(garden, "home", EVENING + 20 * HOUR)
    move(garden, "shed", EVENING + 28 * HOUR)
    assert dark(heard(garden, EVENING + 29 * HOUR, 40, 3)) == []
