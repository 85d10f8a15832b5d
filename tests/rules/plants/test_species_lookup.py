"""Species and cultivars are found by any of their names, and none is mistaken for another."""

from __future__ import annotations

import pytest

from underbench.rules.plants.species import Species, catalogue
from underbench.rules.plants.species_lookup import find, nearest


def known(name: str) -> Species:
    species = find(name)
    assert species is not None, name
    return species


@pytest.mark.parametrize(
    ("name", "scientific"),
    [
        ("Acer palmatum", "Acer palmatum"),
        ("acer  PALMATUM ", "Acer palmatum"),
        ("Acer palmatum 'Katsura'", "Acer palmatum 'Katsura'"),
        ("Acer palmatum “Katsura”", "Acer palmatum 'Katsura'"),
        ("acer palmatum katsura", "Acer palmatum 'Katsura'"),
        ("Japanese maple 'Shin-Deshojo'", "Acer palmatum 'Shindeshojo'"),
        ("Acer palmatum 'No Such'", "Acer palmatum"),
        ("'Katsura'", "Acer palmatum 'Katsura'"),
        ("Deshojo", "Acer palmatum 'Deshojo'"),
        ("itoigawa", "Juniperus chinensis 'Itoigawa'"),
        ("corkbark black pine", "Pinus thunbergii 'Corticosa'"),
        ("momiji", "Acer palmatum"),
        ("kaede", "Acer buergerianum"),
        ("tōkaede", "Acer buergerianum"),
        ("kuromatsu", "Pinus thunbergii"),
        ("goyomatsu", "Pinus parviflora"),
        ("korean hornbeam", "Carpinus turczaninowii"),
        ("chinese elm", "Ulmus parvifolia"),
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


@pytest.mark.parametrize(
    "name", ["", "Acer", "maple", "Acer invented", "invented 'Katsura'", "box elder"]
)
def test_an_unknown_name_finds_nothing(name: str) -> None:
    assert find(name) is None


def test_each_name_belongs_to_one_species_and_finds_it() -> None:
    for species in catalogue().with_cultivars:
        for name in (species.name, *species.common):
            assert known(name).name == species.name, name


def test_a_name_of_two_plants_finds_neither_and_names_both() -> None:
    """A maple and an azalea bear 'Osakazuki'; 'Nana' is any dwarf."""
    both = ["Acer palmatum 'Osakazuki'", "Rhododendron indicum 'Osakazuki'"]
    assert find("Osakazuki") is None
    assert nearest("osakazuki") == both
    assert [known(name).name for name in both] == both
    assert known("satsuki 'Osakazuki'").hardiness == "azalea"


@pytest.mark.parametrize(
    ("name", "scientific"),
    [
        ("katsura", "Cercidiphyllum japonicum"),  # the tree, not the maple 'Katsura'
        ("Zelkova parvifolia", "Ulmus parvifolia"),  # a trade name of the elm
        ("Chinese quince", "Pseudocydonia sinensis"),  # not the flowering quince
        ("Chinese flowering quince", "Chaenomeles speciosa"),
        ("mountain ash", "Sorbus aucuparia"),
        ("common ash", "Fraxinus excelsior"),
        ("Nagasaki crab apple", "Malus cerasifera"),
        ("Buddhist pine", "Podocarpus macrophyllus"),
        ("dwarf jade", "Portulacaria afra"),
        ("jade plant", "Crassula ovata"),
    ],
)
def test_names_that_sound_alike_are_told_apart(name: str, scientific: str) -> None:
    """Botany."""
    assert known(name).name == scientific


def test_the_cultivar_of_a_tree_is_given_beside_its_species() -> None:
    assert find("Acer palmatum", "deshojo") is find("Acer palmatum 'Deshojo'")
    assert find("Acer palmatum", "one of my own") is find("Acer palmatum")


def test_a_misspelt_name_has_the_meant_one_first() -> None:
    assert nearest("tridnet maple")[0] == "trident maple"
    assert nearest("Acer palmatom")[0] == "Acer palmatum"
    assert len(nearest("Japanese mapel", n=2)) == 2
    assert nearest("qqqq") == []
