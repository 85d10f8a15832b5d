"""Remedies: the least that suffices while there is room, and the truth if nothing suffices."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from underbench.rules.advice.remedies import (
    Choice,
    Here,
    Trial,
    Way,
    after_frost,
    candidates,
    choose,
    otherwise,
)
from underbench.rules.advice.remedy import FLEECE_1, INTO_SPOT, WATER
from underbench.rules.course.inputs import Row
from underbench.rules.garden.inventory import ContainerKind, Means, SpotKind, Wall
from underbench.rules.garden.journal import Opening, Stage
from underbench.rules.garden.local_time import Stretch
from underbench.rules.hazards import DRY_FREEZE, DRY_POT, GALE, HOT_BAG, LEAF_FROST, SCORCH
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.hazard import Hazard
from underbench.rules.hazards.judge import left_of
from underbench.rules.limits.limit import Layer, Limit, MeasuredOn
from underbench.rules.physics.cover import CoverKind
from underbench.rules.physics.places import place_of
from underbench.rules.weather.spread import known_site

NOON = datetime(2026, 4, 17, 10, tzinfo=UTC)
HOUR = timedelta(hours=1)
ALL_MEANS = Means(fleece_layers=2, shade_cloth=True)
CALM_MS = 2.0


def finding(tree: str = "Ember", hazard: Hazard = LEAF_FROST) -> Finding:
    return Finding(
        tree=tree,
        hazard=hazard,
        span=Stretch(NOON, NOON + 24 * HOUR),
        first_at=NOON + 16 * HOUR,
        until_at=NOON + 20 * HOUR,
        worst_at=NOON + 19 * HOUR,
        worst=-4.0,
        limit=Limit(MeasuredOn.LEAF, (Layer("class", -2.5, -4.5, "practice"),)),
        chance=0.8,
        kill_chance=0.0,
        strength=Strength.ACT,
    )


def offered(make: Any, gust_ms: float = CALM_MS, **given: Any) -> list[Way]:
    help_ = given.pop("hazard", LEAF_FROST).help
    asked = {
        "home": make.place(),
        "container": make.container(),
        "spots": make.spots,
        "means": ALL_MEANS,
        **given,
    }
    return candidates(help_, Here(**asked, gust_ms=gust_ms))


def words(remedies: list[Way]) -> list[str]:
    return [remedy.words for remedy in remedies]


# ---- what there is ------------------------------------------------------------------------------


def test_against_cold_least_effort_comes_first(make: Any) -> None:
    tied, *remedies = offered(make)
    assert tied.remedy.ties  # what is planned for is wind too
    kinds = [
        "down"
        if r.place.cover is CoverKind.OPEN and r.remedy.carries and not r.spot
        else r.spot or str(r.place.cover)
        for r in remedies
    ]
    assert kinds == [
        "down",
        "fleece, 1 layer",
        "fleece, 2 layers",
        "fleece, 2 layers",
        "under the bench",
        "shed",
    ]
    assert [r.remedy.carries for r in remedies] == [True, False, False, True, True, True]


@pytest.mark.parametrize(
    ("container", "height_m", "ties"),
    [
        ({}, 0.8, True),
        ({"tied": True}, 0.8, False),
        ({}, 0.0, False),  # nothing to tie it to
        ({"kind": ContainerKind.BED, "wall": Wall.NONE}, 0.8, False),
        ({"litres": 80.0}, 0.8, True),  # nobody lifts it
    ],
)
def test_against_wind_a_loose_pot_on_a_bench_is_tied_down_first(
    make: Any, container: dict[str, Any], height_m: float, ties: bool
) -> None:
    """Common practice, no source."""
    home = replace(make.place(), height_m=height_m)
    ways = offered(make, hazard=GALE, home=home, container=make.container(**container))
    assert [way.remedy.ties for way in ways[:1]] == ([True] if ties else [False] * len(ways[:1]))
    assert not any(way.remedy.ties for way in ways[1:])


def test_fleece_is_no_remedy_in_much_wind(make: Any) -> None:
    """Above 10 m/s trees are carried instead: common practice, no source."""
    covers = {way.place.cover for way in offered(make, gust_ms=10.5)}
    assert not covers & {CoverKind.FLEECE_1, CoverKind.FLEECE_2}
    assert CoverKind.FLEECE_1 in {r.place.cover for r in offered(make, gust_ms=9.5)}
    assert offered(make, gust_ms=10.5)  # carrying is still offered


def test_only_what_the_keeper_has_is_offered(make: Any) -> None:
    assert not any("fleece" in text for text in words(offered(make, means=Means(fleece_layers=0))))
    one = words(offered(make, means=Means(fleece_layers=1)))
    assert any("1 layer of fleece" in text for text in one)
    assert not any("2 layers" in text for text in one)
    assert [r.spot for r in offered(make, spots={}) if r.spot] == []


def test_a_pot_nobody_can_lift_is_not_carried(make: Any) -> None:
    """Two people carry twice what one can lift. A heavier pot stays where it is."""
    heavy = make.container(litres=31.0)
    assert not any(way.remedy.carries for way in offered(make, container=heavy))
    assert any(way.remedy.carries for way in offered(make, container=make.container(litres=29.0)))
    bed = make.container(kind=ContainerKind.BED, wall=Wall.NONE, litres=10.0)
    assert not any(way.remedy.carries for way in offered(make, container=bed))
    at = (datetime(2024, 7, 1, 7, tzinfo=UTC),)
    for container in (heavy, bed):
        ways = offered(make, hazard=DRY_POT, container=container, water_at=at)
        assert [way.remedy.key for way in ways] == ["water"]


def test_a_shelter_takes_no_pot_too_big_for_it(make: Any) -> None:
    """The invented shed takes 20 litres."""
    means = Means(lift_litres=30.0)
    into = {r.spot for r in offered(make, container=make.container(25.0), means=means)}
    assert "shed" not in into
    assert "under the bench" in into


def test_a_bench_is_no_shelter_and_a_full_one_neither(make: Any) -> None:
    full = {name: spot.model_copy(update={"room": 0}) for name, spot in make.spots.items()}
    assert not any(way.spot for way in offered(make, spots=full))
    assert all(make.spots[r.spot].kind is not SpotKind.BENCH for r in offered(make) if r.spot)


def test_a_tree_on_the_ground_is_not_set_down_again(make: Any) -> None:
    low = replace(make.place(), height_m=0.0)
    assert not any(text.startswith("Down") for text in words(offered(make, home=low)))


def test_no_bag_is_opened_in_frost(make: Any) -> None:
    """Common practice, no source."""
    ways = offered(make, hazard=HOT_BAG)
    at = NOON + 16 * HOUR
    there = [Stretch(at - HOUR / 2, at)]
    assert after_frost(ways, None, at, there) == ways
    later = after_frost(ways, at - HOUR, at, there)
    assert words(later) == words(ways)
    for way in later:
        opens = way.remedy.opening is not None
        assert way.not_before == (at - HOUR if opens else None)
        assert way.opened == (there[0] if opens else None)
    shade = after_frost(ways, at, at, [])
    assert [way.remedy.opening for way in shade] == [None] * len(shade)
    assert shade


def test_a_bag_that_nobody_can_open_after_the_frost_is_shaded_before(make: Any) -> None:
    ways, at = offered(make, hazard=HOT_BAG), NOON + 16 * HOUR
    assert after_frost(ways, at - HOUR, at, []) == after_frost(ways, at, at, [])
    opening = [way for way in ways if way.remedy.opening is not None]
    (last, *_) = after_frost(opening, at - HOUR, at, [])  # where there is no shade either
    assert (last.not_before, last.opened) == (at - HOUR, None)


def test_heat_asks_for_shade_and_a_bag_is_opened(make: Any) -> None:
    covers = [r.place.cover for r in offered(make, hazard=SCORCH)]
    assert covers == [CoverKind.HALF_SHADE, CoverKind.FULL_SHADE]
    bagged = offered(make, hazard=HOT_BAG)
    ways = [(r.words, r.remedy.opening) for r in bagged if r.remedy.opening]
    assert ways == [
        ("Slit the bag", Opening.SLIT),
        ("Open the bag", Opening.OPEN),
        ("Open the bag, and into full shade", Opening.OPEN),
    ]
    assert not any(r.remedy.opening for r in offered(make, hazard=SCORCH))
    slit = offered(make, hazard=HOT_BAG, opening=Opening.SLIT)
    assert {r.remedy.opening for r in slit if r.remedy.opening} == {Opening.OPEN}
    assert not any(r.remedy.opening for r in offered(make, hazard=HOT_BAG, opening=Opening.OPEN))


def test_no_remedy_takes_away_the_roof(make: Any) -> None:
    """What is overhead stays, whatever is put under it. The glass stays under shade cloth too."""
    roofed = replace(make.place(), overhead=CoverKind.ROOF)
    roof = roofed.covers
    for hazard in (LEAF_FROST, SCORCH, HOT_BAG, GALE):
        for way in offered(make, hazard=hazard, home=roofed):
            cover = way.place.covers
            if way.spot is None:
                assert way.place.overhead is CoverKind.ROOF
                assert cover.sky_share <= roof.sky_share
                assert cover.sun_share <= roof.sun_share
                assert cover.rain_share == 0.0
    framed = replace(make.place(), cover=CoverKind.FRAME_SHUT)
    hot = offered(make, hazard=SCORCH, home=framed)
    cloth = next(r.place for r in hot if "cloth" in r.words)
    assert (cloth.cover, cloth.overhead) == (CoverKind.FRAME_SHUT, CoverKind.HALF_SHADE)


def test_a_hot_frame_is_opened_before_anything_is_carried(make: Any) -> None:
    framed = replace(make.place(), cover=CoverKind.FRAME_SHUT)
    first = offered(make, hazard=SCORCH, home=framed)[0]
    assert (first.place.cover, first.remedy.carries) == (CoverKind.FRAME_VENTED, False)


# ---- which one is named -------------------------------------------------------------------------


def named(
    make: Any,
    chances: dict[str, list[float]],
    remedies: list[Way],
    *,
    lefts: list[float] | None = None,
    litres: float = 4.0,
    spots: Any = None,
    act_from: float = 0.3,
) -> dict[str, Choice]:
    """The choice if each tree's remedies leave these chances of harm."""
    ordered = [(finding(tree), remedies) for tree in chances]
    left = lefts or [0.0] * len(remedies)
    return choose(
        ordered,
        lambda i, j: Trial(list(chances.values())[i][j], left[j]),
        {tree: make.container(litres) for tree in chances},
        make.spots if spots is None else spots,
        Means(fleece_layers=1, lift_litres=15.0),
        dict.fromkeys(chances, act_from),
    )


@pytest.fixture(scope="module")
def three(make: Any) -> list[Way]:
    """Fleece, under the bench (room for two), the shed (room for one)."""
    return [
        Way(FLEECE_1, make.place()),
        *(Way(INTO_SPOT, make.place(name), name) for name in ("under the bench", "shed")),
    ]


@given(st.lists(st.floats(0, 1), min_size=3, max_size=3))
def test_the_least_that_suffices_is_named_else_the_best(
    make: Any, three: list[Way], chances: list[float]
) -> None:
    choice = named(make, {"Ember": chances}, three)["Ember"]
    enough = [j for j in range(3) if chances[j] < 0.3]
    assert choice.suffices == bool(enough)
    expected = enough[0] if enough else chances.index(min(chances))
    assert choice.way == three[expected]


def test_none_suffices_is_said_with_the_best_and_what_it_leaves(
    make: Any, three: list[Way]
) -> None:
    """At equal chances the remedy with the least cold is the best."""
    choice = named(make, {"Ember": [1.0, 1.0, 1.0]}, three, lefts=[-6.0, -3.5, -5.0])["Ember"]
    assert not choice.suffices
    assert choice.way.spot == "under the bench"
    assert (choice.left, choice.measured_on) == (-3.5, MeasuredOn.LEAF)


def test_a_careful_keeper_is_named_the_surer_remedy(make: Any, three: list[Way]) -> None:
    chances = {"Ember": [0.25, 0.04, 0.0]}
    assert named(make, chances, three)["Ember"].way.remedy is FLEECE_1
    careful = named(make, chances, three, act_from=0.1)["Ember"]
    assert careful.way.spot == "under the bench"


def test_room_runs_out_for_those_least_at_risk(make: Any, three: list[Way]) -> None:
    trees = {name: [1.0, 0.0, 0.0] for name in ("First", "Second", "Third", "Fourth")}
    chosen = named(make, trees, three)
    into = {tree: choice.way.spot for tree, choice in chosen.items()}
    assert into == {
        "First": "under the bench",
        "Second": "under the bench",
        "Third": "shed",
        "Fourth": None,
    }
    assert not chosen["Fourth"].suffices
    sheltered = named(make, {tree: [0.0, 0.0] for tree in trees}, three[1:])
    assert set(sheltered) == {"First", "Second", "Third"}  # nothing left to offer the fourth


def test_fleece_takes_no_room_from_others(make: Any, three: list[Way]) -> None:
    trees = {"Easy": [0.0, 0.0, 0.0], **{name: [1.0, 0.0, 0.0] for name in ("A", "B", "C")}}
    chosen = named(make, trees, three)
    assert all(choice.suffices for choice in chosen.values())


def test_what_is_too_heavy_for_one_says_two(make: Any, three: list[Way]) -> None:
    carried, covered = {"Ember": [1.0, 0.0, 0.0]}, {"Ember": [0.0, 0.0, 0.0]}
    assert named(make, carried, three, litres=20.0)["Ember"].two_people
    assert not named(make, carried, three, litres=14.0)["Ember"].two_people
    assert not named(make, covered, three, litres=20.0)["Ember"].two_people


# ---- with the physics ---------------------------------------------------------------------------


def test_a_pot_that_is_dry_before_a_frost_is_watered_and_no_more(make: Any) -> None:
    """A frozen pot takes no water at midday, and shade by night keeps none in: common practice."""
    assert offered(make, hazard=DRY_FREEZE) == []
    assert otherwise(finding(hazard=DRY_FREEZE)) is WATER


@pytest.mark.parametrize(("mean_c", "suffices"), [(5.4, True), (-12.0, False)])
def test_a_mild_frost_has_a_remedy_and_a_hard_one_in_leaf_has_none(
    make: Any, mean_c: float, suffices: bool
) -> None:
    """For open maple leaves the bench or fleece is worth a degree or two: common practice."""
    tree = make.tree(litres=2.0)
    start = NOON - 34 * HOUR
    weather = make.weather(start, 60, mean_c=mean_c, swing_k=6.0)
    journal = [make.seen("Ember", start - timedelta(days=2), Stage.LEAFING_OUT)]
    found = make.findings([tree], weather, journal)
    frost = next(f for f in found if f.hazard is LEAF_FROST and f.span.start == NOON - 24 * HOUR)
    outdoors = {name: spot for name, spot in make.spots.items() if name != "shed"}
    here = Here(place_of(make.spots[tree.spot]), tree.container, outdoors, ALL_MEANS, CALM_MS)
    remedies = candidates(frost.hazard.help, here)
    setting = make.setting([tree])
    course = make.follow(
        [tree],
        weather,
        journal,
        setting=setting,
        start=make.begin([tree] * len(remedies), mean_c),
        rows=[Row(tree, way.place, way.remedy.opening) for way in remedies],
    )
    chance, left = left_of(setting, course, known_site(), frost)
    choice = choose(
        [(frost, remedies)],
        lambda _, j: Trial(float(chance[j]), float(left[j])),
        {"Ember": tree.container},
        outdoors,
        ALL_MEANS,
        {"Ember": 0.3},
    )["Ember"]
    assert choice.suffices is suffices
    assert choice.left > frost.worst
    assert (choice.left >= frost.limit.harm) is suffices
    if suffices:
        assert all(chance[j] >= 0.3 for j in range(remedies.index(choice.way)))


# Water


def test_a_dry_pot_is_watered_again_or_shaded_and_each_way_says_what_it_does(make: Any) -> None:
    home, morning = make.place(), NOON - 4 * HOUR
    ways = offered(make, hazard=DRY_POT, home=home, water_at=(morning, NOON))
    assert ways[0].waterings == (morning,)  # the least: one can in the morning
    assert ways[0].place == home
    for way in ways:
        assert ("midday" in way.words) == (NOON in way.waterings)
        assert (
            ("shade" in way.words)
            == (way.place.cover is CoverKind.FULL_SHADE)
            == way.remedy.carries
        )
    assert len({way.words for way in ways}) == len(ways) == 4


def test_after_midday_nothing_is_left_for_midday(make: Any) -> None:
    ways = offered(make, hazard=DRY_POT, water_at=(NOON + HOUR,))
    assert [way.waterings for way in ways] == [(NOON + HOUR,)] * 2


def test_a_vented_frame_is_shut_against_frost_before_anything_is_carried(make: Any) -> None:
    home = place_of(make.spots["cold frame"], mean_c=15.0)
    first, *rest = offered(make, home=home)
    assert (first.words, first.place.cover) == ("Shut the cold frame", CoverKind.FRAME_SHUT)
    assert not any(one.words.startswith("Shut") for one in [*rest, *offered(make)])
