"""Light: trees with leaves that stand in a dark shed. Figures are common practice, no source."""

from __future__ import annotations

from typing import Any

import pytest
from conftest import SPOTS
from spring_frosts import DAY, EVENING, HOUR, Labs, heard, in_leaf, move, spring

from underbench.rules.garden.inventory import SpotKind
from underbench.rules.garden.journal import Bag, Film, Opening, Stage
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
    ((at, one),) = dark(heard(garden, EVENING + DAY, 24 * 3, 8))
    assert one.message.title.startswith("LET OUT Ember by ")
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
    stood = Condition(
        make.tree(), stage, Aftercare(), 0.0, 20.0, spot=there, leafy_there_since=EVENING
    )
    species = catalogue().species["Acer palmatum"]
    assert (DARK.limit(species, stood) is not None) == needs_light
    assert DARK.since(stood) == (EVENING if kind is SpotKind.SHED else None)


@pytest.mark.parametrize(("dark", "needs_light"), [(False, False), (True, True), (None, True)])
def test_a_keeper_can_say_that_a_shed_has_a_window(
    make: Any, dark: bool | None, needs_light: bool
) -> None:
    shed = next(spot for spot in SPOTS.values() if spot.kind is SpotKind.SHED)
    there = shed.model_copy(update={"dark": dark})
    stood = Condition(
        make.tree(), Stage.HARDENED, Aftercare(), 0.0, 20.0, spot=there, leafy_there_since=EVENING
    )
    assert (DARK.limit(catalogue().species["Acer palmatum"], stood) is not None) == needs_light


def test_what_is_in_a_bag_has_no_leaves_to_feed(make: Any) -> None:
    bag = Bag(film=Film.CLEAR, opening=Opening.SHUT, since=EVENING)
    shed = next(spot for spot in SPOTS.values() if spot.kind is SpotKind.SHED)
    stump = Condition(
        make.tree(),
        Stage.EXTENDING,
        Aftercare(bag=bag),
        0.0,
        20.0,
        spot=shed,
        leafy_there_since=EVENING,
    )
    assert DARK.limit(catalogue().species["Acer palmatum"], stump) is None


@pytest.mark.parametrize(("name", "hours"), [("Taxus baccata", 28 * 24), ("Acer palmatum", None)])
def test_an_evergreen_at_rest_is_not_forgotten_in_the_dark(
    make: Any, name: str, hours: float | None
) -> None:
    """Four weeks; a bare tree in the cold bears months."""
    shed = next(spot for spot in SPOTS.values() if spot.kind is SpotKind.SHED)
    stood = Condition(
        make.tree(), Stage.DORMANT, Aftercare(), 0.0, 20.0, spot=shed, leafy_there_since=EVENING
    )
    limit = DARK.limit(catalogue().species[name], stood)
    assert (limit and limit.harm) == hours
