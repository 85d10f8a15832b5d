"""Light: trees in leaf that stand in a dark shed. Figures are common practice, no source."""

from __future__ import annotations

from typing import Any

import pytest
from conftest import SPOTS
from spring_frosts import DAY, EVENING, HOUR, Labs, heard, in_leaf, move, spring

from underbench.rules.garden.inventory import SpotKind
from underbench.rules.garden.journal import Stage
from underbench.rules.hazards.darkness import DARK
from underbench.rules.hazards.hazard import Action
from underbench.rules.limits.aftercare import Aftercare
from underbench.rules.limits.condition import Condition
from underbench.rules.plants.species import catalogue


def dark(told: list[Any]) -> list[Any]:
    return [
        (at, one) for at, one in told if getattr(one, "advice", None) and one.advice.action is LIGHT
    ]


LIGHT = Action.LIGHT


def shut_in(labs: Labs, make: Any) -> Any:
    garden = in_leaf(labs, spring(make))
    move(garden, "shed", EVENING - DAY)
    return garden


def test_a_tree_in_leaf_is_let_out_of_the_dark_after_three_days_and_told_once(
    labs: Labs, make: Any
) -> None:
    garden = shut_in(labs, make)
    ((at, one),) = dark(heard(garden, EVENING + DAY, 24 * 3, 4))
    assert one.message.title.startswith("LET OUT 1 tree by ")
    assert "Out into open shade by day" in one.message.body
    assert one.advice.do_by.hour <= 10  # in the evening it would get no light
    assert EVENING + 2 * DAY <= at <= EVENING + 3 * DAY + 16 * HOUR


@pytest.mark.parametrize(
    ("stage", "kind", "needs_light"),
    [
        (Stage.LEAFING_OUT, SpotKind.SHED, True),
        (Stage.HARDENED, SpotKind.SHED, True),
        (Stage.DORMANT, SpotKind.SHED, False),
        (Stage.BUD_SWELL, SpotKind.SHED, False),
        (Stage.HARDENED, SpotKind.COLD_FRAME, False),
    ],
)
def test_only_a_tree_in_leaf_needs_light_and_counts_from_when_it_was_carried_in(
    make: Any, stage: Stage, kind: SpotKind, needs_light: bool
) -> None:
    """A tree carried out by day and in again counts anew."""
    there = next(spot for spot in SPOTS.values() if spot.kind is kind)
    stood = Condition(make.tree(), stage, Aftercare(), 0.0, 20.0, spot=there, there_since=EVENING)
    species = catalogue().species["Acer palmatum"]
    assert (DARK.limit(species, stood) is not None) == needs_light
    assert DARK.since is not None
    assert DARK.since(stood) == (EVENING if needs_light else None)
