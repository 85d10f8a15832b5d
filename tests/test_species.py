"""The species table: every number sourced, published ones reproduced, names found."""

from __future__ import annotations

from datetime import date

import pytest

from underbench.rules.season import unhardened_k
from underbench.rules.species import (
    HardinessClass,
    Kind,
    Span,
    Species,
    catalogue,
    find,
    hardiness_class,
    nearest,
    read_catalogue,
)

CLASSES = list(catalogue().classes.values())
LIMITS = [*CLASSES, *(species.limits for species in catalogue().species.values())]
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
roots_hot = { harm = 38, kill = 42, source = "book" }
leaf_hot = { harm = 40, kill = 45, source = "book" }
leaf_width = { value = 0.03, source = "book" }
kc_leaf = { value = 1.1, source = "book" }
leaf_out = { value = 100, source = "book" }

[species."Betula inventa"]
class = "birch"
common = ["invented birch"]
leaf_out = { value = 90, source = "book" }

[sources.book]
reference = "An invented book."
read = "common practice"
"""


def name_of(limits: HardinessClass) -> str:
    return limits.name


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
    assert species.own == {"leaf_out"}
    assert species.limits.leaf_out is not None
    assert species.limits.leaf_out.value == 90
    assert species.limits.leaf_frost == small.classes["birch"].leaf_frost
    assert species.hardiness == "birch"


@pytest.mark.parametrize(
    ("written", "instead", "complaint"),
    [
        ('kill = -7, source = "book" }', "kill = -7 }", "source"),
        ("value = 90, source", "value = 90, origin", "source"),
        ('kill = -7, source = "book"', 'kill = -7, source = "hearsay"', "no such source"),
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
    named = {value.source for limits in LIMITS for value in limits.numbers.values()}
    assert set(catalogue().sources) == named


# ---- names --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "scientific"),
    [
        ("Acer palmatum", "Acer palmatum"),
        ("acer  PALMATUM ", "Acer palmatum"),
        ("Acer palmatum 'Katsura'", "Acer palmatum"),
        ("Acer palmatum “Katsura”", "Acer palmatum"),
        ("Acer palmatum var. dissectum", "Acer palmatum"),
        ("Japanese Maple", "Acer palmatum"),
        ("trident maple", "Acer buergerianum"),
        ("shimpaku", "Juniperus chinensis"),
        ("Scots pine", "Pinus sylvestris"),
        ("satsuki", "Rhododendron indicum"),
        ("Siebold's beech", "Fagus crenata"),
        ("Malus toringo", "Malus sieboldii"),
    ],
)
def test_a_species_is_found_by_any_of_its_names(name: str, scientific: str) -> None:
    assert known(name).name == scientific


@pytest.mark.parametrize("name", ["", "Acer", "maple", "Acer invented", "'Katsura'", "box elder"])
def test_an_unknown_name_finds_nothing(name: str) -> None:
    assert find(name) is None


def test_each_name_belongs_to_one_species_and_finds_it() -> None:
    for scientific, species in catalogue().species.items():
        for name in (scientific, *species.common):
            assert known(name).name == scientific, name


def test_a_misspelt_name_has_the_meant_one_first() -> None:
    assert nearest("tridnet maple")[0] == "trident maple"
    assert nearest("Acer palmatom")[0] == "Acer palmatum"
    assert len(nearest("Japanese mapel", n=2)) == 2
    assert nearest("qqqq") == []


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


@pytest.mark.parametrize("limits", LEAFLESS, ids=name_of)
def test_tenderness_rises_from_dormant_wood_to_open_leaf(limits: HardinessClass) -> None:
    """T10 and T90 rise from first swelling to post-bloom: FAO 2005, Frost Protection, fig. 4.1."""
    assert limits.bud_frost is not None
    for colder, warmer in (
        (limits.dormant_tops, limits.bud_frost),
        (limits.bud_frost, limits.leaf_frost),
    ):
        assert colder.harm < warmer.harm
        assert colder.kill < warmer.kill


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


@pytest.mark.parametrize("limits", HARDY, ids=name_of)
def test_mature_roots_die_within_the_published_range(limits: HardinessClass) -> None:
    """38 woody ornamentals −5.0 to −23.3 °C: Havis 1976, HortScience 11:385–386 (abstract);
    Picea abies to −25: Lindström & Stattin 1994, Can. J. For. Res. 24:2477–2484 (abstract)."""
    assert -25.0 <= limits.roots_mature.kill <= -5.0


def test_japanese_maple_roots_die_at_fourteen_fahrenheit() -> None:
    """Havis 1976 as quoted by others."""
    assert fahrenheit(known("Acer palmatum").limits.roots_mature)[1] == pytest.approx(14)


def test_box_roots_die_as_listed_young_and_mature() -> None:
    """27 and 15 °F: Studer et al. 1978 and Havis 1976, both from memory."""
    box = known("Buxus sempervirens").limits
    assert fahrenheit(box.roots_young)[1] == pytest.approx(27, abs=0.1)
    assert fahrenheit(box.roots_mature)[1] == pytest.approx(15, abs=0.1)


def test_spruce_roots_bear_january_but_not_october() -> None:
    """Lindström & Stattin 1994 (abstract): most Picea abies live through −20 °C in January; frozen
    to −15 in October many die, and of Pinus sylvestris at −10 hardly any live."""
    spruce = known("Picea abies").limits.roots_mature
    pine = known("Pinus sylvestris").limits.roots_mature
    january, october = (unhardened_k(date(2026, month, 15), NORTH) for month in (1, 10))
    assert spruce.kill + january < -20
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
    """Leaves and twigs about −30 °C: Sakai & Kurahashi 1975 (abstract); roots: Havis 1976."""
    pine = known("Pinus thunbergii").limits
    assert pine.dormant_tops.harm < -25 < pine.roots_mature.kill


def test_the_hardiest_broadleaved_evergreen_stands_eighteen_to_twenty() -> None:
    """Camellia japonica −18 to −20 °C: Sakai 1981 (abstract)."""
    assert -20 <= known("Camellia japonica").limits.dormant_tops.kill <= -18


def test_chinese_elm_roots_by_hours_of_heat() -> None:
    """Ulmus parvifolia: 28 °C well, 42 °C halves survival: Martin, Ingram & Nell 1989, J. Arboric.
    15:272–276 (abstract)."""
    hot = known("Ulmus parvifolia").limits.roots_hot
    assert 28 < hot.harm < hot.kill == 42


@pytest.mark.parametrize("limits", LIMITS, ids=name_of)
def test_no_leaf_is_hurt_at_thirty_five_degrees(limits: HardinessClass) -> None:
    """14 temperate trees, four hours: all unhurt at 35 °C, most hurt at 45: Hauck, Schneider et al.
    2025, For. Ecol. Manage. 580:122541 (abstract); tropical 45.5–50.5: Sastry & Barua 2017."""
    assert limits.leaf_hot.harm > 35
    assert limits.leaf_hot.kill <= 50.5


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
    assert known(name).limits.may_be_bagged is allowed


# ---- common practice, no source -----------------------------------------------------------------


@pytest.mark.parametrize("limits", EVERGREEN, ids=name_of)
def test_a_ripe_evergreen_leaf_is_no_hardier_in_autumn_than_at_rest(limits: HardinessClass) -> None:
    """Common practice, no source."""
    assert limits.hardened_frost is not None
    worst_k = max(unhardened_k(date(2026, month, 15), NORTH) for month in range(1, 13))
    assert limits.dormant_tops.harm + worst_k <= limits.hardened_frost.harm
    assert limits.dormant_tops.kill + worst_k <= limits.hardened_frost.kill
    assert limits.hardened_frost.harm < limits.leaf_frost.harm


def test_what_growers_say_of_roots_and_leaves() -> None:
    """Common practice, no source: trident maple roots are tenderer than Japanese maple's, the
    olive's tenderer still; larch, birch, pine and juniper stand the winter in their pots."""
    kill = {name: species.limits.roots_mature.kill for name, species in catalogue().species.items()}
    assert kill["Acer buergerianum"] > kill["Acer palmatum"]
    assert kill["Olea europaea"] > kill["Acer buergerianum"]
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
