"""Plans of real trees through the physics: one frosty night in spring, and one cold week."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from spring_frosts import DAY, EVENING, GARDEN, HOUR, Labs, in_leaf, move, spring

from underbench.daemon.outlook.plans import TreePlan
from underbench.daemon.outlook.prospects import keys_of
from underbench.rules.advice.remedy import FLEECE_2, TIE
from underbench.rules.garden.journal import Move

HOME, SHED = "top bench", "shed"
MILD = (13.0,) * 6  # nights without a thought of frost
GALE_MS = 32.0


def plan_of(garden: Any) -> TreePlan:
    planned: TreePlan = garden.run(EVENING, dry_run=True).plans["Ember"]
    return planned


def test_a_tree_in_leaf_goes_in_for_a_frosty_night_and_out_again(labs: Labs, make: Any) -> None:
    planned = plan_of(in_leaf(labs, spring(make, 0.0, *MILD)))
    assert planned.start == planned.here == HOME
    assert planned.plan.path[0] == SHED
    assert planned.plan.path[-1] == HOME


def test_frost_is_worse_at_home_than_in_the_shed_and_a_dark_day_costs(
    labs: Labs, make: Any
) -> None:
    of = plan_of(in_leaf(labs, spring(make, 2.0))).of
    places = {one.key: one for one in of.places}
    assert places[HOME].harm[0] > 0.9
    assert places[SHED].harm[0] < 0.1
    assert min(places[SHED].days) > max(places[HOME].days)
    assert np.isfinite([one.after for one in of.places]).all()
    assert places[SHED].roomed
    assert not places[HOME].roomed


@pytest.mark.parametrize(("nights", "inside"), [(MILD, False), ((0.0, 0.0), True)])
def test_a_tree_under_cover_stays_while_cold_is_ahead(
    labs: Labs, make: Any, nights: tuple[float, ...], inside: bool
) -> None:
    garden = in_leaf(labs, spring(make, *nights))
    move(garden, SHED, EVENING - DAY + HOUR)
    planned = plan_of(garden)
    assert (planned.plan.path[0] == SHED) is inside
    assert planned.goes_home is not inside


@pytest.mark.parametrize(("nights", "off"), [(MILD, True), ((2.0, 2.0), False)])
def test_fleece_that_is_on_is_a_place_and_comes_off_when_the_cold_is_over(
    labs: Labs, make: Any, nights: tuple[float, ...], off: bool
) -> None:
    garden = in_leaf(labs, spring(make, *nights))
    garden.store.journal.add([Move(tree="Ember", at=EVENING - DAY, spot=HOME, layers=2)])
    planned = plan_of(garden)
    assert (planned.here, planned.home) == (FLEECE_2.key, HOME)
    assert planned.goes_home is off
    fleece, bare = (planned.of.trials[key].harm[0] for key in (FLEECE_2.key, HOME))
    assert (fleece < bare) is not off


@pytest.mark.parametrize(("wind_ms", "holds"), [(1.0, True), (14.0, False)])
def test_fleece_that_is_on_is_carried_off_by_wind(
    labs: Labs, make: Any, wind_ms: float, holds: bool
) -> None:
    """Over 10 m/s; common practice, no source. Under the fleece it blows less."""
    weather = spring(make, 2.0, 2.0)
    weather = replace(
        weather,
        wind_ms=np.full_like(weather.wind_ms, wind_ms),
        gust_ms=np.full_like(weather.gust_ms, 1.7 * wind_ms),
    )
    garden = in_leaf(labs, weather)
    garden.store.journal.add([Move(tree="Ember", at=EVENING - DAY, spot=HOME, layers=2)])
    trials = plan_of(garden).of.trials
    fleece, bare = trials[FLEECE_2.key].harm[0], trials[HOME].harm[0]
    assert bare > 0.2
    assert bool(fleece < bare) is holds


def test_nothing_is_planned_where_nothing_threatens(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make))
    assert garden.run(EVENING, dry_run=True).plans == {}


def test_a_night_that_ends_before_the_next_whole_hour_is_no_night_ahead(
    labs: Labs, make: Any
) -> None:
    """Where clocks are half an hour off, local noon parts an hour of the weather."""
    kolkata = GARDEN.replace("Europe/Ljubljana", "Asia/Kolkata")
    garden = in_leaf(labs, spring(make, -2.0, -2.0, -2.0), kolkata)
    before_noon = EVENING.replace(hour=6, minute=10)  # 11:40
    planned: TreePlan = garden.run(before_noon, dry_run=True).plans["Ember"]
    assert planned.of.nights[0].start == before_noon.replace(minute=30)
    assert len(planned.plan.path) == len(planned.of.nights)


@pytest.mark.parametrize(
    ("left", "offered"),
    [({}, True), ({"layers": 2}, False), ({"spot": "greenhouse"}, False), ({"tied": True}, False)],
)
def test_straps_are_offered_where_a_tree_belongs_and_stands_bare(
    labs: Labs, make: Any, left: dict[str, Any], offered: bool
) -> None:
    """On staging they would look like a place that costs nothing, and the tree never went home."""
    greenhouse = '\n[[spot]]\nname = "greenhouse"\nkind = "greenhouse"\nheight_cm = 80\n'
    garden = in_leaf(labs, spring(make, *MILD), GARDEN + greenhouse)
    garden.store.journal.add([Move(tree="Ember", at=EVENING - DAY, **{"spot": HOME, **left})])
    outlook = garden.run(EVENING, dry_run=True).outlook
    assert (TIE.key in keys_of(outlook, 0)) is offered


def test_wind_does_not_keep_a_tree_from_where_it_is_tied_down(labs: Labs, make: Any) -> None:
    calm = spring(make, *MILD)
    garden = in_leaf(labs, replace(calm, gust_ms=np.full_like(calm.gust_ms, GALE_MS)))
    loose = plan_of(garden)
    move(garden, SHED, EVENING - DAY + HOUR)
    away = plan_of(garden)
    assert loose.of.trials[HOME].harm[0] > 0.5
    assert away.of.trials[HOME].harm[0] < 0.1
    assert away.goes_home
