"""Limits: which figure holds at a stage, what moves it, and its trail."""

from __future__ import annotations

from datetime import UTC, datetime
from math import inf
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from underbench.rules.garden.inventory import Tree
from underbench.rules.garden.journal import Bag, Film, Flower, Opening, Stage, Work
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards.bearing import Bearing, bearing
from underbench.rules.limits.aftercare import Aftercare
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.limit import Limit, MeasuredOn
from underbench.rules.plants.species import Species, catalogue
from underbench.rules.plants.stages import STAGES

KINDS = sorted(catalogue().species)
HARDY = [name for name in KINDS if catalogue().species[name].limits.air_min is None]
DONE = datetime(2026, 3, 10, 14, tzinfo=UTC)
NO_CARE = Aftercare()


def species(name: str) -> Species:
    return catalogue().species[name]


def work(kind: WorkKind) -> Work:
    return Work(tree="Ember", at=DONE, work=kind)


def bag(opening: Opening = Opening.SHUT) -> Bag:
    return Bag(film=Film.DARK, opening=opening, since=DONE)


def cared(floor_c: float, **more: Any) -> Aftercare:
    return Aftercare(roots=work(WorkKind.REPOT), floor_c=floor_c, **more)


def bears(
    tree: Tree,
    stage: Stage,
    care: Aftercare = NO_CARE,
    unhardened_k: float = 0.0,
    tip_gust_ms: float = 20.0,
) -> Bearing:
    return bearing(species(tree.species), Condition(tree, stage, care, unhardened_k, tip_gust_ms))


def there(limit: Limit | None) -> Limit:
    assert limit is not None
    return limit


def pair(limit: Limit | None) -> tuple[float, float]:
    return there(limit).harm, there(limit).kill


# ---- frost on tops ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "stage", "limits", "measured"),
    [
        ("Acer palmatum", Stage.LEAFING_OUT, (-2.5, -4.5), MeasuredOn.LEAF),
        ("Acer palmatum", Stage.BUD_SWELL, (-4, -7), MeasuredOn.BUD),
        ("Acer palmatum", Stage.DORMANT, (-15, -25), MeasuredOn.WOOD),
        ("Acer palmatum", Stage.COLOURING, (-15, -25), MeasuredOn.WOOD),
        ("Carpinus betulus", Stage.LEAFING_OUT, (-3.5, -6), MeasuredOn.LEAF),
        ("Betula pendula", Stage.LEAFING_OUT, (-4, -7), MeasuredOn.LEAF),
        ("Pinus sylvestris", Stage.EXTENDING, (-5.5, -10), MeasuredOn.LEAF),
    ],
)
def test_frost_goes_by_what_is_out(
    make: Any, name: str, stage: Stage, limits: tuple[float, float], measured: MeasuredOn
) -> None:
    """The design's table: common practice, no source ."""
    frost = there(bears(make.tree(species=name), stage).get("leaf-frost"))
    assert pair(frost) == limits
    assert frost.measured_on is measured


@given(name=st.sampled_from(HARDY))
def test_new_growth_is_the_tenderest_and_midwinter_the_hardiest(make: Any, name: str) -> None:
    tree, order = make.tree(species=name), STAGES[species(name).limits.kind]
    by_stage = {stage: pair(bears(tree, stage).get("leaf-frost"))[0] for stage in order}
    for growing in (Stage.LEAFING_OUT, Stage.EXTENDING):
        assert by_stage.get(growing, 0.0) >= max(by_stage.values()) or growing not in by_stage
    assert by_stage.get(Stage.DORMANT, min(by_stage.values())) == min(by_stage.values())


def test_soft_shoots_are_a_kelvin_and_a_half_tenderer(make: Any) -> None:
    """Common practice, no source."""
    soft = Aftercare(soft_shoots=work(WorkKind.CHOP))
    frost = there(bears(make.tree(), Stage.LEAFING_OUT, soft).get("leaf-frost"))
    assert pair(frost) == (-1.0, -3.0)
    assert "chop on 2026-03-10" in frost.trail[-1].what
    bare = bears(make.tree(), Stage.DORMANT, soft).get("leaf-frost")
    assert pair(bare) == (-15, -25)  # no shoots to hurt


def test_leaves_on_roots_just_cut_are_tenderer_by_less_than_soft_shoots(make: Any) -> None:
    """Judgement, as for `CUT_ROOTS_K`. It is never added to what soft shoots lack."""
    shelter, shoots = work(WorkKind.REPOT), work(WorkKind.CHOP)
    cut = there(bears(make.tree(), Stage.LEAFING_OUT, Aftercare(shelter=shelter)).get("leaf-frost"))
    assert pair(cut) == pytest.approx((-2.5 + 0.7, -4.5 + 0.7))
    assert cut.trail[-1].what == "aftercare: repot on 2026-03-10"
    both = Aftercare(shelter=shelter, soft_shoots=shoots)
    assert pair(bears(make.tree(), Stage.LEAFING_OUT, both).get("leaf-frost")) == (-1.0, -3.0)
    bare = bears(make.tree(), Stage.DORMANT, Aftercare(shelter=shelter)).get("leaf-frost")
    assert pair(bare) == (-15, -25)  # no leaves to hurt


@pytest.mark.parametrize(
    ("name", "flower", "harm"),
    [
        ("Prunus mume", Flower.BUD, -4.4),
        ("Prunus mume", Flower.OPEN, -2.8),
        ("Malus sylvestris", Flower.OPEN, -2.2),
        ("Prunus serrulata", Flower.FRUIT, -2.2),
    ],
)
def test_open_flowers_die_where_swelling_buds_live(
    make: Any, name: str, flower: Flower, harm: float
) -> None:
    """T10 of WSU Extension's bud charts as MSU Extension gives them. It never kills the tree."""
    tree = make.tree(species=name)
    condition = Condition(tree, Stage.BUD_SWELL, NO_CARE, 0.0, 20.0, flower=flower)
    held = bearing(species(name), condition)
    assert pair(held.get("flower-frost")) == (harm, -inf)
    assert harm > pair(held.get("leaf-frost"))[0]


def test_without_flowers_no_frost_on_flowers(make: Any) -> None:
    assert "flower-frost" not in bears(make.tree(species="Prunus mume"), Stage.BUD_SWELL)
    maple = Condition(make.tree(), Stage.BUD_SWELL, NO_CARE, 0.0, 20.0, flower=Flower.OPEN)
    assert "flower-frost" not in bearing(species("Acer palmatum"), maple)


# ---- roots --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "limits"),
    [
        ("Acer palmatum", (-5, -10)),
        ("Acer buergerianum", (-3, -7)),
        ("Larix kaempferi", (-10, -15)),
    ],
)
def test_established_roots_in_midwinter(make: Any, name: str, limits: tuple[float, float]) -> None:
    """The design's table; common practice, no source."""
    roots = there(bears(make.tree(species=name), Stage.DORMANT).get("root-frost"))
    assert (pair(roots), roots.measured_on) == (limits, MeasuredOn.SHELL)


def test_cut_roots_bear_no_less_than_their_floor_and_die_three_below(make: Any) -> None:
    roots = there(bears(make.tree(), Stage.DORMANT, cared(-1.0)).get("root-frost"))
    assert pair(roots) == (-1.0, -4.0)
    assert roots.trail[-1].what == "aftercare: repot on 2026-03-10"


def test_a_floor_of_zero_is_ice_at_the_roots(make: Any) -> None:
    """A floor of 0 °C means no ice. While water freezes, a hundredth of a degree is no harm."""
    assert pair(bears(make.tree(), Stage.DORMANT, cared(0.0)).get("root-frost")) == (-0.3, -3.0)


def test_roots_are_tenderer_in_october_than_in_january_but_no_more_than_young_ones(
    make: Any,
) -> None:
    """Order after Lindström & Stattin 1994, Can. J. For. Res. 24:2477-2484 (abstract)."""
    january, october = (
        there(bears(make.tree(), Stage.DORMANT, NO_CARE, k).get("root-frost")) for k in (0.0, 5.0)
    )
    assert january.harm < october.harm <= 0.0
    assert january.kill < october.kill <= -3.0


@given(
    name=st.sampled_from(HARDY),
    stage=st.sampled_from(list(Stage)),
    floor_c=st.sampled_from([-3.0, -2.0, -1.0, 0.0]),
    unhardened_k=st.floats(0, 5),
    tip_gust_ms=st.floats(4, 99),
    own=st.fixed_dictionaries(
        {},
        optional={
            "root_frost_c": st.floats(-20, 2),
            "leaf_frost_c": st.floats(-10, 2),
            "leaf_hot_c": st.floats(30, 50),
            "gust_ms": st.floats(3, 40),
        },
    ),
)
def test_aftercare_never_makes_a_tree_hardier(
    make: Any,
    name: str,
    stage: Stage,
    floor_c: float,
    unhardened_k: float,
    tip_gust_ms: float,
    own: dict[str, float],
) -> None:
    if stage not in STAGES[species(name).limits.kind]:
        return
    tree = make.tree(species=name, limits=own)
    recovered = bears(tree, stage, NO_CARE, unhardened_k, tip_gust_ms)
    repot, chop = work(WorkKind.REPOT), work(WorkKind.CHOP)
    care = cared(floor_c, shelter=repot, loose=True, soft_shoots=chop)
    tended = bears(tree, stage, care, unhardened_k, tip_gust_ms)
    for cold in ("leaf-frost", "root-frost"):
        before, after = pair(recovered.get(cold)), pair(tended.get(cold))
        assert after[0] >= before[0]
        assert after[1] >= before[1]
    assert pair(tended["gale"]) <= pair(recovered["gale"])
    if recovered.get("scorch") is not None:
        assert pair(tended.get("scorch")) <= pair(recovered.get("scorch"))


@given(name=st.sampled_from(KINDS), stage=st.sampled_from(list(Stage)), k=st.floats(0, 5))
def test_death_lies_beyond_harm(make: Any, name: str, stage: Stage, k: float) -> None:
    if stage not in STAGES[species(name).limits.kind]:
        return
    for care in (NO_CARE, cared(0.0), cared(-3.0), Aftercare(bag=bag())):
        held = bears(make.tree(species=name), stage, care, k)
        for cold in (held.get("leaf-frost"), held.get("root-frost"), held.get("chill")):
            assert cold is None or cold.kill < cold.harm
        assert held["gale"].kill > held["gale"].harm
        assert held["hot-roots"].kill > held["hot-roots"].harm


# ---- the trail ----------------------------------------------------------------------------------


def test_the_trail_of_a_root_limit_runs_from_class_to_aftercare(make: Any) -> None:
    tree = make.tree(limits={"root_frost_c": -2.0})
    roots = there(bears(tree, Stage.DORMANT, cared(-1.0), unhardened_k=3.0).get("root-frost"))
    steps = [layer.what for layer in roots.trail]
    assert steps == [
        "class japanese maple",
        "season",
        "own limit",
        "aftercare: repot on 2026-03-10",
    ]
    assert [layer.harm for layer in roots.trail] == pytest.approx([-5.0, -3.8, -2.0, -1.0])
    assert all(layer.source for layer in roots.trail)


def test_the_trail_names_the_species_where_it_overrides_its_class(make: Any) -> None:
    overriding = [s for s in catalogue().species.values() if len(s.said("leaf_frost")) > 1]
    assert overriding
    for one in overriding:
        stage = next(
            s for s in (Stage.LEAFING_OUT, Stage.EXTENDING) if s in STAGES[one.limits.kind]
        )
        frost = there(bears(make.tree(species=one.name), stage).get("leaf-frost"))
        assert [layer.what for layer in frost.trail[:2]] == [f"class {one.hardiness}", one.name]


def test_a_keepers_own_figure_is_taken_on_what_it_was_given_for(make: Any) -> None:
    tree = make.tree(limits={"leaf_frost_c": -1.0, "root_hot_c": 34.0, "air_min_c": 3.0})
    held = bears(tree, Stage.LEAFING_OUT)
    assert there(held.get("leaf-frost")).harm == -1.0
    assert held["hot-roots"].harm == 34.0
    air = there(held.get("cold-air"))
    assert (air.harm, air.measured_on) == (3.0, MeasuredOn.AIR)
    assert held.get("chill") is None  # a hardy tree is told by the night, not for the season
    # A figure for leaves says nothing of bare wood.
    assert there(bears(tree, Stage.DORMANT).get("leaf-frost")).harm == -15.0


def test_an_own_limit_may_make_a_tree_hardier_than_the_book(make: Any) -> None:
    tree = make.tree(limits={"leaf_frost_c": -6.0})
    frost = there(bears(tree, Stage.LEAFING_OUT).get("leaf-frost"))
    assert frost.harm == -6.0
    assert frost.kill < -6.0


def test_a_keepers_figure_is_of_harm_and_moves_no_kill_unless_it_is_hardier(make: Any) -> None:
    """A keeper's wish to be told sooner makes nothing kill sooner."""
    for own, of, kill in (
        ({"leaf_frost_c": -1.0}, "leaf-frost", -4.5),  # the class's −2.5 and −4.5
        ({"leaf_frost_c": -6.0}, "leaf-frost", -8.0),
        ({"root_frost_c": 1.0}, "root-frost", -10.0),
        ({"gust_ms": 5.0}, "gale", 20.0),  # 12 and 20: it tips at 20
        ({"gust_ms": 30.0}, "gale", 38.0),
    ):
        limit = bears(make.tree(limits=own), Stage.LEAFING_OUT)[of]
        assert limit.kill == pytest.approx(kill)
        assert limit.trail[-1].what == "own limit"
    usual, own_hot = (
        bears(make.tree(limits=limits), Stage.LEAFING_OUT)
        for limits in ({}, {"leaf_hot_c": 30.0, "root_hot_c": 30.0})
    )
    assert there(own_hot.get("scorch")).kill == there(usual.get("scorch")).kill
    assert own_hot["hot-roots"].kill == usual["hot-roots"].kill


def test_an_air_figure_of_the_keeper_kills_only_what_its_class_says_air_kills(make: Any) -> None:
    fig = make.tree(species="Ficus microcarpa", limits={"air_min_c": 15.0})
    assert pair(bears(fig, Stage.HARDENED).get("chill")) == (15.0, pair_of_class(fig)[1])
    rated = fig.model_copy(update={"hardiness": "RHS H1c"})
    held = there(bears(rated, Stage.HARDENED).get("chill"))
    assert held.kill == next(one.kill for one in held.trail if one.what.startswith("rated"))
    heath = make.tree(limits={"air_min_c": 4.0})
    assert pair(bears(heath, Stage.DORMANT).get("cold-air")) == (4.0, -inf)


def pair_of_class(tree: Tree) -> tuple[float, float]:
    plain = tree.model_copy(update={"limits": type(tree.limits)()})
    return pair(bears(plain, Stage.HARDENED).get("chill"))


def test_the_first_sun_is_only_for_leaves_that_came_under_the_bag(make: Any) -> None:
    """Common practice, no source: a bare stump has no leaves, and an evergreen's ripe leaves have
    met the sun."""
    aired = Aftercare(after_bag=work(WorkKind.UNBAG))
    cut = Aftercare(after_bag=aired.after_bag, sprouted_in_bag=True)
    maple, pine, fig = (
        make.tree(species=name)
        for name in ("Acer palmatum", "Pinus sylvestris", "Ficus microcarpa")
    )
    for tree, stage, care, due in (
        (maple, Stage.DORMANT, aired, False),
        (maple, Stage.BUD_SWELL, cut, False),
        (maple, Stage.LEAFING_OUT, aired, True),
        (maple, Stage.HARDENED, aired, True),
        (pine, Stage.HARDENED, aired, False),
        (pine, Stage.EXTENDING, aired, True),
        (fig, Stage.HARDENED, aired, False),
        (fig, Stage.HARDENED, cut, True),
    ):
        assert (bears(tree, stage, care).get("first-sun") is not None) is due, (tree.species, stage)


# ---- what applies to whom -----------------------------------------------------------------------


def test_hazards_are_asked_only_of_trees_they_can_hurt(make: Any) -> None:
    bare, leafy = (bears(make.tree(), stage) for stage in (Stage.DORMANT, Stage.LEAFING_OUT))
    assert bare.get("scorch") is None  # leafless trees need no shade; common practice
    assert leafy.get("scorch") is not None
    assert (bare.get("dry-wind"), leafy.get("dry-wind") is not None) == (None, True)
    assert bears(make.tree(), Stage.HARDENED).get("dry-wind") is None
    assert (
        bare.get("frozen-drying") is None
    )  # an established hardy tree may stand frozen for weeks, silently
    assert (
        bears(make.tree(species="Pinus sylvestris"), Stage.DORMANT).get("frozen-drying") is not None
    )
    assert bare.get("chill") is None
    fig = bears(make.tree(species="Ficus microcarpa"), Stage.HARDENED)
    assert pair(fig.get("chill"))[0] == 12.0  # it goes in long before any frost
    assert (fig.get("leaf-frost"), fig.get("root-frost")) == (None, None)


def test_a_bag_bears_less_heat_once_green_shows(make: Any) -> None:
    """Common practice, no source."""
    bagged = Aftercare(bag=bag())
    assert bears(make.tree(), Stage.DORMANT).get("hot-bag") is None
    assert pair(bears(make.tree(), Stage.DORMANT, bagged).get("hot-bag")) == (35.0, 42.0)
    assert pair(bears(make.tree(), Stage.BUD_SWELL, bagged).get("hot-bag")) == (28.0, 35.0)
    slit, opened = (Aftercare(bag=bag(how)) for how in (Opening.SLIT, Opening.OPEN))
    assert pair(bears(make.tree(), Stage.BUD_SWELL, slit).get("hot-bag")) == (28.0, 35.0)
    assert pair(bears(make.tree(), Stage.BUD_SWELL, opened).get("hot-bag")) == (35.0, 42.0)


@pytest.mark.parametrize(("tied", "holds_ms"), [(False, 10.0), (True, 15.0)])
def test_a_fresh_repot_holds_less_wind_loose_than_tied(
    make: Any, tied: bool, holds_ms: float
) -> None:
    """Common practice, no source."""
    tree = make.tree(tied=tied)
    fresh = bears(tree, Stage.DORMANT, cared(-1.0, loose=True), tip_gust_ms=99.0)
    assert fresh["gale"].harm == holds_ms
    assert bears(tree, Stage.DORMANT, tip_gust_ms=99.0)["gale"].harm > 50


def test_a_tree_that_no_measured_gust_tips_has_no_such_limit_but_may_rock_loose(make: Any) -> None:
    """No gust on record is stronger than 113.2 m/s, Barrow Island 1996 (WMO; from memory)."""
    tree, fresh = make.tree(), cared(-1.0, loose=True)
    for tip_ms, told in ((113.0, True), (187.0, False), (inf, False)):
        assert ("gale" in bears(tree, Stage.DORMANT, tip_gust_ms=tip_ms)) is told
        assert pair(bears(tree, Stage.DORMANT, fresh, tip_gust_ms=tip_ms)["gale"]) == (10.0, 20.0)


# ---- wind on loose and ringed stems ------------------------------------------------------------


def gust(tree: Tree, care: Aftercare, rocking_share: float) -> tuple[float, float]:
    fact = Condition(tree, Stage.HARDENED, care, 0.0, 40.0, rocking_share)
    return pair(bearing(species(tree.species), fact)["gale"])


def test_how_soon_loose_roots_rock_goes_by_the_crown(make: Any) -> None:
    """10 m/s for an ordinary tree, 15 tied in: common practice, no source."""
    loose, tied = make.tree(), make.tree(tied=True)
    assert gust(loose, Aftercare(loose=True), 1.0) == (10.0, 20.0)
    assert gust(loose, Aftercare(loose=True), 0.8) == (8.0, 16.0)
    assert gust(tied, Aftercare(loose=True), 1.2) == pytest.approx((18.0, 36.0))


def test_a_ringed_stem_is_propped_in_wind_and_the_stricter_figure_holds(make: Any) -> None:
    """Common practice, no source; the figures are judgement."""
    ringed = Aftercare(girdled=work(WorkKind.START_LAYER))
    assert gust(make.tree(), ringed, 1.0) == (14.0, 25.0)
    assert gust(make.tree(), Aftercare(girdled=ringed.girdled, loose=True), 1.0) == (10.0, 20.0)
    limit = bearing(species("Acer palmatum"), Condition(make.tree(), Stage.HARDENED, ringed, 0, 40))
    assert limit["gale"].work == ringed.girdled
