"""The plan of a tree, on bare values: against every sequence of places, and in tables."""

from __future__ import annotations

from dataclasses import replace
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st

from underbench.rules.garden.inventory import Spot, SpotKind, Standing
from underbench.rules.garden.journal import Stage
from underbench.rules.planning.plan import (
    TIE,
    Prospect,
    Wanted,
    Weights,
    after_at_home,
    after_inside,
    cheapest,
    moving,
    share_of_cold,
    shared,
    strain,
)

NIGHTS = 4
PLAIN = Weights()
HOME, SHED, FRAME = "home", "shed", "frame"
shares = st.floats(0, 1)
unsure = st.floats(0, PLAIN.sure / 2)  # two of them are not as good as certain
costs, ways = st.floats(0, 2), st.floats(0.05, 1)


def place(key: str, harm: float | tuple[float, ...] = 0.0, **given: object) -> Prospect:
    nights = harm if isinstance(harm, tuple) else (harm,) * NIGHTS
    values = {"kill": (0.0,) * len(nights), "days": (0.0,) * len(nights), **given}
    return Prospect(key, nights, **values)  # type: ignore[arg-type]


def shed(harm: float | tuple[float, ...] = 0.0, **given: object) -> Prospect:
    return place(SHED, harm, **{"reach": 0.5, "after": 0.5, "days": (0.01,) * NIGHTS, **given})


@st.composite
def gardens(draw: st.DrawFn) -> tuple[Prospect, ...]:
    def one(key: str) -> Prospect:
        nights = [tuple(draw(shares) for _ in range(NIGHTS)) for _ in range(3)]
        reach = 0.0 if key == HOME else draw(ways)
        return Prospect(key, *nights, reach=reach, after=draw(costs))

    return tuple(one(key) for key in (HOME, SHED, FRAME)[: draw(st.integers(1, 3))])


def costs_of(places: tuple[Prospect, ...], start: str) -> dict[tuple[str, ...], float]:
    """What every sequence of places costs, reckoned one by one."""
    by_key = {one.key: one for one in places}
    found = {}
    for path in product(by_key, repeat=NIGHTS):
        total, at, came_home = by_key[path[-1]].after, start, False
        for night, key in enumerate(path):
            total += moving(by_key[at], by_key[key], PLAIN) + by_key[key].cost(night, PLAIN)
            total += PLAIN.changed * (came_home and at == HOME != key)
            came_home |= at != HOME == key
            at = key
        found[path] = total
    return found


@given(gardens())
def test_no_sequence_of_places_is_cheaper_than_the_plan(places: tuple[Prospect, ...]) -> None:
    """Exact: the least of all sequences, but for costs that count as the same each night."""
    plan, every = cheapest(places, HOME, PLAIN), costs_of(places, HOME)
    same = (NIGHTS + 1) * TIE  # one for rounding
    assert plan.cost == pytest.approx(min(every.values()), abs=same)
    assert every[plan.path] == pytest.approx(plan.cost, abs=same)
    assert plan.cost <= plan.stay_cost + same


@given(gardens(), unsure)
def test_more_harm_at_home_never_keeps_a_tree_out_longer(
    places: tuple[Prospect, ...], more: float
) -> None:
    """Exact: what every night at home costs more, the plan has no more of such nights."""
    first, *others = places
    home = replace(first, harm=tuple(h / 3 for h in first.harm))
    worse = replace(home, harm=tuple(h + more for h in home.harm))
    before = cheapest((home, *others), HOME, PLAIN)
    after = cheapest((worse, *others), HOME, PLAIN)
    # Plans of the same cost may differ, so it is their costs that are compared.
    nights = after.path.count(HOME) - before.path.count(HOME)
    rise = more / PLAIN.act_from
    assert nights <= 0 or nights * rise <= 1e-6


@given(gardens(), st.integers(0, NIGHTS - 1), shares)
def test_a_night_that_gets_worse_at_home_is_not_spent_there_anew(
    places: tuple[Prospect, ...], night: int, more: float
) -> None:
    home, *others = places
    harm = tuple(h + more * (n == night) for n, h in enumerate(home.harm))
    worse = replace(home, harm=harm)
    before = cheapest(places, HOME, PLAIN).path[night]
    after = cheapest((worse, *others), HOME, PLAIN)
    if before != HOME and after.path[night] == HOME:
        assert costs_of((worse, *others), HOME)[after.path] == pytest.approx(
            min(c for p, c in costs_of(places, HOME).items() if p[night] != HOME)
        )


@given(gardens())
def test_no_tree_goes_to_a_place_where_it_fares_no_better(places: tuple[Prospect, ...]) -> None:
    """A place that is worse in every night is not taken from a better one."""
    home = places[0]
    worse = replace(home, key="worse", harm=tuple(h + 0.1 for h in home.harm))
    assert "worse" not in cheapest((*places, worse), HOME, PLAIN).path


@given(gardens())
def test_no_tree_moves_between_places_that_are_alike(places: tuple[Prospect, ...]) -> None:
    home = places[0]
    twin = replace(home, key="twin")
    assert "twin" not in cheapest((*places, twin), HOME, PLAIN).path


# Tables


@pytest.mark.parametrize(
    ("harm", "path"),
    [
        ((0.0, 0.0, 0.0, 0.0), "hhhh"),
        ((0.0, 0.2, 0.0, 0.0), "hhhh"),  # less than a trip
        ((0.0, 0.9, 0.0, 0.0), "hshh"),  # in for the night, and out
        ((0.9, 0.0, 0.9, 0.0), "sssh"),  # one mild night between two is not worth the carrying
        ((0.0, 0.0, 0.9, 0.9), "hhss"),
        ((0.1, 0.1, 0.9, 0.9), "ssss"),  # it goes in anyway, so it goes before the doubtful nights
        ((0.2, 0.2, 0.2, 0.2), "ssss"),  # many small chances add up
    ],
)
def test_a_tree_is_in_for_the_nights_that_are_worth_a_trip(
    harm: tuple[float, ...], path: str
) -> None:
    places = (place(HOME, harm), shed(days=(0.03,) * NIGHTS, after=0.6))
    assert "".join(key[0] for key in cheapest(places, HOME, PLAIN).path) == path


def test_winter_keeps_a_tree_in_through_a_mild_week() -> None:
    """At the end of the forecast it goes in again for sure, if it went home."""
    for cold_share, stays in ((1.0, True), (0.0, False)):
        home = place(HOME, after=after_at_home(cold_share))
        inside = shed(after=after_inside(cold_share, 0.01, 0.5))
        assert cheapest((home, inside), SHED, PLAIN).stays is stays


@pytest.mark.parametrize(("fails", "into"), [(0.0, FRAME), (0.1, FRAME), (0.5, SHED)])
def test_a_tree_at_rest_goes_where_it_can_stay_for_the_winter(fails: float, into: str) -> None:
    """The nearer place is enough for tonight; cold that it does not keep out is yet to come."""
    near = after_inside(1.0, 0.01, 0.3, PLAIN.changed * fails)
    frame = place(FRAME, reach=0.3, after=near, days=(0.01,) * NIGHTS)
    inside = shed(after=after_inside(1.0, 0.01, 0.5))
    places = (place(HOME, 0.9, after=after_at_home(1.0)), frame, inside)
    assert cheapest(places, HOME, PLAIN).path == (into,) * NIGHTS


def test_a_tree_is_not_sent_by_way_of_its_home_to_another_shelter() -> None:
    """It would stand bare for a night, and its keeper would be told twice in vain."""
    fleece = place("fleece", (0.9, 0.9, 0.9, 0.9), reach=0.3, after=0.3)
    ground = place("ground", (0.9, 0.9, 0.4, 0.9), reach=0.5, after=0.5)
    plan = cheapest((place(HOME, 0.9, after=1.0), fleece, ground), "fleece", PLAIN)
    assert plan.stays


def test_an_olive_in_the_shed_is_not_carried_to_where_it_is_colder() -> None:
    """Issue: at −12 °C the shed harms it too, and under the bench it would die."""
    inside = shed(0.9)
    bench = place("under the bench", 1.0, kill=(0.7,) * NIGHTS, reach=0.5, after=0.5)
    home = place(HOME, 1.0, kill=(1.0,) * NIGHTS)
    assert cheapest((home, inside, bench), SHED, PLAIN).stays


def test_a_tree_is_not_carried_between_shelters_for_little() -> None:
    """A frame that is a little better draws a tree from home, but not one that is in the shed."""
    frame = place(FRAME, 0.0, reach=0.5, after=0.5, days=(0.01,) * NIGHTS)
    places = (place(HOME, 0.9), shed(0.05), frame)
    assert cheapest(places, HOME, PLAIN).path == (FRAME,) * NIGHTS
    assert cheapest(places, SHED, PLAIN).path == (SHED,) * NIGHTS
    much = (place(HOME, 0.9), shed(0.3), frame)
    assert cheapest(much, SHED, PLAIN).path == (FRAME,) * NIGHTS


def test_a_start_that_is_no_place_is_refused() -> None:
    with pytest.raises(ValueError, match="no such place"):
        cheapest((place(HOME),), SHED, PLAIN)


# Room


def wants(harm: float, start: str = HOME, under: float = 0.0) -> Wanted:
    return Wanted((place(HOME, harm), shed(under, roomed=True)), start, PLAIN)


def test_room_goes_to_the_tree_for_which_it_does_most() -> None:
    trees = {"a little": wants(0.5), "much": wants(0.9), "nothing": wants(1.0, under=1.0)}
    for room, inside in ((0, set()), (1, {"much"}), (2, {"much", "a little"})):
        plans = shared(trees, {SHED: room})
        assert {name for name, plan in plans.items() if SHED in plan.path} == inside


def test_a_tree_keeps_its_room_and_leaves_it_to_another() -> None:
    trees = {"inside": wants(0.5, start=SHED), "outside": wants(0.9)}
    assert shared(trees, {SHED: 0})["inside"].stays
    assert shared(trees, {SHED: 0})["outside"].stays
    trees["inside"] = wants(0.0, start=SHED)
    assert trees["inside"].plan().path == (HOME,) * NIGHTS


# What the weeks after cost


@pytest.mark.parametrize(
    ("lows_c", "limit_c", "share"),
    [((), -2.0, 0.5), ((-2.0,), -2.0, 0.5), ((-20.0,), -2.0, 1.0), ((9.0, -15.0), -2.0, 0.5)],
)
def test_earlier_years_say_whether_cold_is_to_come(
    lows_c: tuple[float, ...], limit_c: float, share: float
) -> None:
    assert share_of_cold(lows_c, limit_c, PLAIN) == pytest.approx(share, abs=1e-3)


def spot_of(kind: SpotKind) -> Spot:
    return Spot(
        name=kind,
        kind=kind,
        sky_view=0.5,
        sun_from=9.0,
        sun_until=17.0,
        wind_factor=0.5,
        standing=Standing.BENCH,
        height_cm=80.0,
    )


@pytest.mark.parametrize(
    ("kind", "stage", "evergreen", "days", "dearer_than"),
    [
        (SpotKind.SHED, Stage.EXTENDING, False, 0, (SpotKind.COLD_FRAME, Stage.EXTENDING)),
        (SpotKind.SHED, Stage.EXTENDING, False, 3, (SpotKind.SHED, Stage.EXTENDING)),
        (SpotKind.SHED, Stage.DORMANT, True, 0, (SpotKind.SHED, Stage.DORMANT)),
        (SpotKind.INDOORS, Stage.DORMANT, False, 0, (SpotKind.SHED, Stage.DORMANT)),
        (SpotKind.INDOORS, Stage.DORMANT, False, 0, (SpotKind.COOL_ROOM, Stage.DORMANT)),
        (SpotKind.CELLAR, Stage.EXTENDING, False, 0, (SpotKind.COOL_ROOM, Stage.EXTENDING)),
        (SpotKind.GARAGE, Stage.DORMANT, True, 0, (SpotKind.PLUNGE_BED, Stage.DORMANT)),
    ],
)
def test_a_day_costs_what_it_lacks_in_light_or_rest(
    kind: SpotKind,
    stage: Stage,
    evergreen: bool,
    days: int,
    dearer_than: tuple[SpotKind, Stage],
) -> None:
    """Common practice, no source: leaves want light, a tree at rest wants the cold."""
    other = strain(spot_of(dearer_than[0]), dearer_than[1])
    assert strain(spot_of(kind), stage, evergreen=evergreen, days=days) > other
