"""The species table: every number sourced, published ones reproduced, names found."""

from __future__ import annotations

from datetime import date

import pytest

from underbench.rules.garden.journal import Stage
from underbench.rules.plants.species import (
    Figure,
    Kind,
    Span,
    Species,
    catalogue,
    hardiness_class,
    read_catalogue,
)
from underbench.rules.plants.species_lookup import find
from underbench.rules.plants.stages import unhardened_k

CLASSES = list(catalogue().classes.values())
LIMITS = [*CLASSES, *{id(one.limits): one.limits for one in catalogue().with_cultivars}.values()]
HARDY = [limits for limits in LIMITS if limits.kind is not Kind.TROPICAL]
LEAFLESS = [limits for limits in LIMITS if limits.leafless]
EVERGREEN = [limits for limits in LIMITS if limits.hardened_frost is not None]
NORTH = 50.0

SMALL = """
[classes.birch]
kind = "broadleaf deciduous"
leaf_frost = { harm = -4, kill = -7, source = "book" }
bud_frost = { harm = -6, kill = -10, source = "book" }
dormant_tops = { harm = -30, kill = -40, source = "book" }
roots_young = { harm = 0, kill = -3, source = "book" }
roots_mature = { harm = -10, kill = -15, source = "book" }
roots_hardening_k = { value = 5, source = "book" }
roots_hot = { harm = 38, kill = 42, source = "book" }
leaf_hot = { harm = 40, kill = 45, source = "book" }
water_left = { harm = 0.15, kill = 0.03, source = "book" }
leaf_width = { value = 0.03, source = "book" }
kc_leaf = { value = 1.1, source = "book" }
leaf_out = { value = 100, source = "book" }
root_work = { windows = [{ stages = ["bud swell"] }, { months = [3] }], source = "book" }
root_share_pct = { value = 40, source = "book" }
hard_chop = { windows = [], source = "book" }
bag = { allowed = true, source = "book" }

[species."Betula inventa"]
class = "birch"
common = ["invented birch"]
leaf_out = { value = 90, source = "book" }
cultivars."Inventa Nana".leaf_out = { value = 80, source = "book" }
cultivars.Plain = {}

[sources.book]
reference = "An invented book."
read = "common practice"
"""


def known(name: str) -> Species:
    species = find(name)
    assert species is not None, name
    return species


def fahrenheit(pair: Span | None) -> tuple[float, float]:
    assert pair is not None
    return pair.harm * 1.8 + 32, pair.kill * 1.8 + 32


# ---- the table itself ---------------------------------------------------------------------------


def test_a_species_lays_its_own_numbers_over_its_class() -> None:
    small = read_catalogue(SMALL)
    species = small.species["Betula inventa"]
    assert [who for who, _ in species.said("leaf_out")] == ["class birch", "Betula inventa"]
    assert species.limits.leaf_out is not None
    assert species.limits.leaf_out.value == 90
    assert species.limits.leaf_frost == small.classes["birch"].leaf_frost
    assert species.hardiness == "birch"


def test_a_cultivar_lays_its_own_over_its_species() -> None:
    species = read_catalogue(SMALL).species["Betula inventa"]
    nana, plain = species.cultivars["Inventa Nana"], species.cultivars["Plain"]
    said = [(who, fact.value) for who, fact in nana.said("leaf_out") if isinstance(fact, Figure)]
    assert said == [
        ("class birch", 100),
        ("Betula inventa", 90),
        ("Betula inventa 'Inventa Nana'", 80),
    ]
    assert nana.limits.leaf_frost == species.limits.leaf_frost
    assert plain.limits == species.limits
    assert plain.name == "Betula inventa 'Plain'"


@pytest.mark.parametrize(
    ("written", "instead", "complaint"),
    [
        ('kill = -7, source = "book" }', "kill = -7 }", "source"),
        ("value = 90, source", "value = 90, origin", "source"),
        ('kill = -7, source = "book"', 'kill = -7, source = "hearsay"', "no such source"),
        ('windows = [], source = "book"', 'windows = [], source = "hearsay"', "no such source"),
        ('allowed = true, source = "book"', "allowed = true", "source"),
        (
            '"Inventa Nana".leaf_out = { value = 80, source = "book" }',
            '"Inventa Nana".leaf_out = { value = 80 }',
            "source",
        ),
        ("months = [3]", "months = [13]", "less than or equal to 12"),
        ('value = 90, source = "book"', 'value = 90, source = ""', "no such source"),
        ('read = "common practice"', 'read = "somewhere"', "read"),
        ("harm = -4, kill = -7", "harm = -4, kill = -3", "kill must lie beyond harm"),
        ("harm = 38, kill = 42", "harm = 38, kill = 37", "kill must lie beyond harm"),
        ("harm = 0, kill = -3", "harm = -11, kill = -14", "young roots"),
        ("harm = 0, kill = -3", "harm = 0, kill = -16", "young roots"),
        ('class = "birch"', 'class = "brich"', "no such hardiness class: brich"),
        ("\nleaf_out = { value = 90", "\nleafout = { value = 90", "leafout"),
        ('"broadleaf deciduous"', '"broadleaf evergreen"', "bud_frost: not for this kind"),
        ('"broadleaf deciduous"', '"tropical"', "for this kind"),
        ("\nleaf_out = { value = 100", "\nnew_leaf_gust = { value = 8", "leaf_out: needed"),
        ("\nleaf_out = { value = 90", "\nnew_leaf_gust = { value = 8", "go together"),
    ],
)
def test_a_faulty_table_is_refused(written: str, instead: str, complaint: str) -> None:
    assert written in SMALL
    with pytest.raises(ValueError, match=complaint):
        read_catalogue(SMALL.replace(written, instead))


def test_no_source_is_listed_that_no_number_names() -> None:
    named = {fact.source for limits in LIMITS for fact in limits.facts.values()}
    assert set(catalogue().sources) == named


def test_the_table_is_of_the_size_asked_for() -> None:
    assert len(catalogue().classes) >= 20
    assert len(catalogue().species) >= 85
    assert {one.hardiness for one in catalogue().species.values()} == set(catalogue().classes)


def test_a_class_is_found_by_name() -> None:
    found = hardiness_class("Oak and Beech")
    assert found is catalogue().classes["oak and beech"]
    assert hardiness_class("granite") is None


# ---- published values ---------------------------------------------------------------------------


def test_apple_pear_and_apricot_follow_the_bud_tables() -> None:
    """T10/T90, °F: WSU EB0913, EB0978 (Penn State Extension), EB1240 (Michigan State Extension)."""
    apple, pear = known("Malus domestica").limits, known("Crataegus monogyna").limits
    apricot = known("Prunus mume").limits
    assert fahrenheit(apple.bud_frost) == pytest.approx((18, 10), abs=0.1)  # green tip
    assert fahrenheit(apple.leaf_frost) == pytest.approx((28, 25), abs=0.1)  # full bloom
    assert fahrenheit(pear.bud_frost) == pytest.approx((20, 6), abs=0.1)  # blossom buds exposed
    assert fahrenheit(pear.leaf_frost) == pytest.approx((25, 19), abs=0.1)  # first white
    assert fahrenheit(apricot.bud_frost) == pytest.approx((22, 9), abs=0.1)  # calyx red
    assert fahrenheit(apricot.leaf_frost) == pytest.approx((27, 24), abs=0.1)  # in the shuck


def test_tenderness_rises_from_dormant_wood_to_open_leaf() -> None:
    """T10 and T90 rise from first swelling to post-bloom: FAO 2005, Frost Protection, fig. 4.1."""
    for limits in LEAFLESS:
        assert limits.bud_frost is not None, limits.name
        for colder, warmer in (
            (limits.dormant_tops, limits.bud_frost),
            (limits.bud_frost, limits.leaf_frost),
        ):
            assert colder.harm < warmer.harm, limits.name
            assert colder.kill < warmer.kill, limits.name


def test_early_leafing_trees_bear_more_frost_than_late_ones() -> None:
    """Rank at flushing, and emerging leaves die between −3.5 and −8.3 °C: Vitasse, Lenz, Hoch &
    Körner 2014, J. Ecology (abstract); hawthorn, birch, beech in the order of Murray, Cannell &
    Smith 1989, J. Appl. Ecol. 26:693–700 (abstract)."""
    early_to_late = ["Crataegus monogyna", "Betula pendula", "Carpinus betulus", "Fagus sylvatica"]
    limits = [known(name).limits for name in early_to_late]
    warmth = [each.leaf_out.value for each in limits if each.leaf_out is not None]
    kills = [each.leaf_frost.kill for each in limits]
    assert warmth == sorted(warmth)
    assert kills == sorted(kills)
    assert all(-8.3 <= kill <= -3.5 for kill in kills)


def test_larch_opens_between_hawthorn_and_birch() -> None:
    """Classes 5, 4 and 3 of Murray, Cannell & Smith 1989 (abstract)."""
    names = ["Crataegus monogyna", "Larix decidua", "Betula pendula", "Fagus sylvatica"]
    warmth = [figure.value for n in names if (figure := known(n).limits.leaf_out) is not None]
    assert len(warmth) == len(names)
    assert warmth == sorted(warmth)


def test_mature_roots_die_within_the_published_range() -> None:
    """38 woody ornamentals −5.0 to −23.3 °C: Havis 1976, HortScience 11:385–386 (abstract);
    Picea abies to −25: Lindström & Stattin 1994, Can. J. For. Res. 24:2477–2484 (abstract)."""
    for limits in HARDY:
        assert -25.0 <= limits.roots_mature.kill <= -5.0, limits.name


def test_japanese_maple_roots_die_at_fourteen_fahrenheit() -> None:
    """Havis 1976 as quoted by others."""
    assert fahrenheit(known("Acer palmatum").limits.roots_mature)[1] == pytest.approx(14)


def test_box_roots_die_as_listed_young_and_mature() -> None:
    """27 and 15 °F: Studer et al. 1978 and Havis 1976, both from memory."""
    box = known("Buxus sempervirens").limits
    assert fahrenheit(box.roots_young)[1] == pytest.approx(27, abs=0.1)
    assert fahrenheit(box.roots_mature)[1] == pytest.approx(15, abs=0.1)


@pytest.mark.parametrize(
    ("name", "january_c", "october_c"), [("Picea abies", -25, -15), ("Pinus sylvestris", -20, -10)]
)
def test_conifer_roots_in_january_and_october(
    name: str, january_c: float, october_c: float
) -> None:
    """Lindström & Stattin 1994 (abstract): over half live through 2 h of −25 (Picea abies) and −20
    (Pinus sylvestris) in January; of pine frozen to −10 °C in October few do."""
    roots, later = known(name).limits.roots_mature, known(name).limits.roots_hardening_k
    assert roots.kill == january_c
    assert roots.kill + later.value == october_c


def test_spruce_roots_bear_january_but_not_october() -> None:
    """Lindström & Stattin 1994 (abstract): most Picea abies live through −20 °C in January; frozen
    to −15 in October many die, and of Pinus sylvestris at −10 hardly any live."""
    spruce = known("Picea abies").limits.roots_mature
    pine = known("Pinus sylvestris").limits.roots_mature
    october = known("Picea abies").limits.roots_hardening_k.value
    assert spruce.kill < -20
    assert spruce.harm + october >= -15
    assert pine.kill + october >= -10
    assert spruce.kill <= pine.kill


def test_root_hardiness_ranks_birch_maple_oak() -> None:
    """Betula alleghaniensis > Acer saccharum > Quercus rubra: Calmé et al. 1994, Tree Physiol.
    14:1313–1325 (abstract); here their European kin."""
    birch, maple, oak = (
        known(name).limits.roots_mature for name in ("silver birch", "field maple", "English oak")
    )
    assert birch.kill < maple.kill < oak.kill


def test_a_black_pine_bears_in_its_top_what_kills_its_pot() -> None:
    """Zone 5 or 6 by three universities and the American Conifer Society; roots: Havis 1976."""
    pine = known("Pinus thunbergii").limits
    assert -28.9 <= pine.dormant_tops.kill < -23 < pine.roots_mature.kill


def test_the_hardiest_broadleaved_evergreen_stands_eighteen_to_twenty() -> None:
    """Camellia japonica −18 to −20 °C: Sakai 1981 (abstract)."""
    assert -20 <= known("Camellia japonica").limits.dormant_tops.kill <= -18


def test_chinese_elm_roots_by_hours_of_heat() -> None:
    """Ulmus parvifolia is well at 28 °C; 42 °C halves survival. Martin, Ingram & Nell 1989, J.
    Arboric. 15:272–276 (abstract)."""
    hot = known("Ulmus parvifolia").limits.roots_hot
    assert 28 < hot.harm < hot.kill == 42


def test_no_leaf_is_hurt_at_thirty_five_degrees() -> None:
    """14 temperate trees, four hours: all unhurt at 35 °C, most hurt at 45: Hauck, Schneider et al.
    2025, For. Ecol. Manage. 580:122541 (abstract); tropical 45.5–50.5: Sastry & Barua 2017."""
    for limits in LIMITS:
        assert limits.leaf_hot.harm > 35, limits.name
        assert limits.leaf_hot.kill <= 50.5, limits.name


def test_only_tropicals_chill_above_freezing() -> None:
    """Ficus at +10 °C is chilled: FAO 2005, Frost Protection, ch. 4 (below about 12.5 °C)."""
    chilled = [limits for limits in LIMITS if limits.air_min is not None]
    assert {limits.kind for limits in chilled} == {Kind.TROPICAL}
    ficus = known("Ficus microcarpa").limits.air_min
    assert ficus is not None
    assert 10 < ficus.harm <= 12.5


@pytest.mark.parametrize(
    ("name", "allowed"),
    [("Acer campestre", True), ("Carpinus betulus", True), ("Ginkgo biloba", True)]
    + [(name, False) for name in ("Larix decidua", "Pinus mugo", "Taxus baccata")],
)
def test_conifers_are_never_bagged(name: str, allowed: bool) -> None:
    """ "Conifers should never be sweated": Halcomb & Fulcher, Sweating nursery stock."""
    assert known(name).limits.bag.allowed is allowed


def test_what_vitasse_found_of_late_and_early_leaves() -> None:
    """LT50 −3.5 °C in Fraxinus excelsior, −8.3 in Prunus avium: Vitasse et al. 2014 (abstract)."""
    assert known("common ash").limits.leaf_frost.kill == -3.5
    assert known("wild cherry").limits.leaf_frost.kill == -8.3


def test_cherries_follow_the_cherry_table() -> None:
    """Side green 22/9 °F, post bloom 28/25: WSU EB1128 (Penn State Extension)."""
    cherry = known("Japanese cherry").limits
    assert fahrenheit(cherry.bud_frost) == pytest.approx((22, 9), abs=0.1)
    assert fahrenheit(cherry.leaf_frost) == pytest.approx((28, 25), abs=0.1)


# °F: Havis 1976 and Studer et al. 1978, both from memory.
ROOTS_F = {
    "Ilex crenata 'Convexa'": 20,
    "Ilex crenata 'Hetzii'": 20,
    "Pyracantha coccinea": 18,
    "Cryptomeria japonica": 16,
    "Cotoneaster horizontalis": 15,
    "Buxus sempervirens": 15,
    "Hedera helix": 15,
    "Acer palmatum 'Atropurpureum'": 14,
    "Pieris japonica": 10,
    "Rhododendron obtusum 'Hinodegiri'": 10,
    "Rhododendron obtusum 'Hino Crimson'": 9,
    "Euonymus alatus": 7,
    "Juniperus horizontalis": 0,
    "Juniperus horizontalis 'Plumosa'": -4,
    "Juniperus squamata 'Meyeri'": -4,
    "Picea glauca": -10,
    "Picea omorika": -10,
}


@pytest.mark.parametrize(("name", "kill_f"), ROOTS_F.items())
def test_roots_die_as_listed(name: str, kill_f: float) -> None:
    assert fahrenheit(known(name).limits.roots_mature)[1] == pytest.approx(kill_f, abs=0.1)


def test_conifers_are_neither_bagged_nor_chopped_bare() -> None:
    """No bag: Halcomb & Fulcher. No chop but of those that sprout from bare trunks (yew, redwoods,
    swamp cypress, cryptomeria), and of larch above a live branch: common practice, no source."""
    sprouting = ("Taxus", "Sequoia", "Metasequoia", "Taxodium", "Cryptomeria", "Larix", "larch")
    sprouting += ("Pseudolarix",)
    for limits in LIMITS:
        if limits.kind.startswith("conifer"):
            assert not limits.bag.allowed, limits.name
            assert limits.hard_chop.ever == limits.name.startswith(sprouting), limits.name


# ---- common practice, no source -----------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "stage", "month", "suits"),
    [
        ("Acer palmatum", Stage.BUD_SWELL, 4, True),
        ("Acer palmatum", Stage.DORMANT, 3, True),
        ("Acer palmatum", Stage.LEAFING_OUT, 4, False),
        ("Acer palmatum", Stage.HARDENED, 7, False),
        ("Acer palmatum", Stage.DORMANT, 12, False),
        ("Pinus thunbergii", Stage.DORMANT, 3, True),
        ("Pinus thunbergii", Stage.DORMANT, 12, False),
        ("Ficus microcarpa", Stage.HARDENED, 6, True),
        ("Ficus microcarpa", Stage.HARDENED, 1, False),
        ("Rhododendron indicum", Stage.EXTENDING, 6, True),
        ("Chaenomeles japonica", Stage.COLOURING, 10, True),
    ],
)
def test_when_roots_may_be_cut(name: str, stage: Stage, month: int, suits: bool) -> None:
    """Common practice, no source."""
    season = known(name).limits.root_work
    assert season.suits(stage, date(2027, month, 10), NORTH) is suits
    half_a_year_on = date(2027, (month + 5) % 12 + 1, 10)
    assert season.suits(stage, half_a_year_on, -NORTH) is suits


def test_every_tree_has_its_season_for_roots_and_none_in_midwinter() -> None:
    """Common practice, no source: every tree may be repotted some time, none in midwinter."""
    for limits in LIMITS:
        for season in (limits.root_work, limits.hard_chop):
            assert not season.suits(Stage.DORMANT, date(2027, 12, 20), NORTH), limits.name
        assert limits.root_work.ever, limits.name
        assert 20 <= limits.root_share_pct.value <= 70, limits.name


def test_no_tree_is_called_dry_before_a_fifth_is_left() -> None:
    """Common practice: a 3 L pot watered once a day in spring has about a fifth left by evening."""
    for limits in LIMITS:
        assert 0 < limits.water_left.kill < limits.water_left.harm < 0.2, limits.name


def test_red_spring_leaves_are_the_tenderer_and_variegated_ones_scorch() -> None:
    """Common practice, no source."""
    plain = known("Acer palmatum").limits
    for name in ("Deshojo", "Shindeshojo", "Seigen", "Chishio"):
        assert known(name).limits.leaf_frost.harm > plain.leaf_frost.harm
    for name in ("Butterfly", "Ukigumo"):
        assert known(name).limits.leaf_hot.harm < plain.leaf_hot.harm


def test_a_ripe_evergreen_leaf_is_no_hardier_in_autumn_than_at_rest() -> None:
    """Common practice, no source."""
    worst_k = max(unhardened_k(date(2026, month, 15), NORTH) for month in range(1, 13))
    for limits in EVERGREEN:
        assert limits.hardened_frost is not None, limits.name
        assert limits.dormant_tops.harm + worst_k <= limits.hardened_frost.harm, limits.name
        assert limits.dormant_tops.kill + worst_k <= limits.hardened_frost.kill, limits.name
        assert limits.hardened_frost.harm < limits.leaf_frost.harm, limits.name


def test_what_growers_say_of_roots_and_leaves() -> None:
    """Common practice, no source: trident maple roots are tenderer than Japanese maple's, the
    myrtle's tenderer still; larch, birch, pine and juniper stand the winter in their pots."""
    kill = {name: species.limits.roots_mature.kill for name, species in catalogue().species.items()}
    assert kill["Acer buergerianum"] > kill["Acer palmatum"]
    assert kill["Myrtus communis"] > kill["Acer buergerianum"]
    sturdy = ("Larix kaempferi", "Betula pubescens", "Pinus mugo", "Juniperus sabina")
    assert all(kill[name] < kill["Acer palmatum"] for name in sturdy)


def test_which_trees_stand_bare_in_winter() -> None:
    """Botany."""
    bare = {name for name, species in catalogue().species.items() if species.limits.leafless}
    assert {"Larix decidua", "Ginkgo biloba", "Punica granatum", "Ulmus parvifolia"} <= bare
    assert not {"Pinus mugo", "Olea europaea", "Buxus sempervirens", "Ficus microcarpa"} & bare


def test_the_trees_of_an_ordinary_bench_are_known() -> None:
    bench = [
        "Acer campestre",
        "Acer palmatum",
        "Acer buergerianum",
        "Betula pubescens",
        "Betula pendula",
        "Carpinus betulus",
        "Carpinus turczaninowii",
        "Fagus sylvatica",
        "Quercus petraea",
        "Quercus robur",
        "Ulmus parvifolia",
        "Ulmus minor",
        "Zelkova serrata",
        "Ginkgo biloba",
        "Larix kaempferi",
        "Larix decidua",
        "Pinus mugo",
        "Pinus sylvestris",
        "Pinus thunbergii",
        "Pinus parviflora",
        "Juniperus chinensis",
        "Juniperus sabina",
        "Taxus baccata",
        "Picea abies",
        "Picea glauca",
        "Prunus mume",
        "Malus sieboldii",
        "Chaenomeles japonica",
        "Crataegus monogyna",
        "Cotoneaster horizontalis",
        "Wisteria floribunda",
        "Ligustrum ovalifolium",
        "Olea europaea",
        "Punica granatum",
        "Rhododendron indicum",
        "Ficus microcarpa",
        "Buxus sempervirens",
    ]
    assert [name for name in bench if find(name) is None] == []
