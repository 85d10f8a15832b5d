"""`underbench species`: the list, one plant with its sources, JSON, and mistyped names."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from click.testing import CliRunner, Result

from underbench.daemon.commands.cli import main
from underbench.daemon.faults import Fault
from underbench.rules.plants.species import Span, catalogue


def species(*words: str) -> Result:
    """The command needs no configuration."""
    return CliRunner().invoke(main, ["species", *words])


def shown(*words: str) -> str:
    result = species(*words)
    assert (result.exit_code, result.stderr) == (0, "")
    return result.stdout


def as_json(*words: str) -> Any:
    return json.loads(shown(*words, "--json"))


def test_the_list_names_every_class_species_and_cultivar_in_eighty_columns() -> None:
    listed = shown()
    assert max(map(len, listed.splitlines())) <= 80
    flat = " ".join(listed.split())
    for name, kind in catalogue().classes.items():
        assert f"\n{name}: {kind.kind}\n" in listed
    for one in catalogue().species.values():
        assert re.search(rf"^{one.name} ", listed, re.MULTILINE), one.name
        assert all(f"'{short}'" in flat for short in one.cultivars)


def test_every_plant_is_shown_with_its_sources_in_eighty_columns() -> None:
    for one in catalogue().with_cultivars:
        told = shown(one.name)
        assert max(map(len, told.splitlines())) <= 80, one.name
        flat = " ".join(told.split())
        for fact in one.limits.facts.values():
            source = catalogue().sources[fact.source]
            assert f"{fact.source}, {source.read}: {' '.join(source.reference.split())}" in flat
        assert "None" not in told, one.name
        assert "_" not in told, one.name


@pytest.mark.parametrize("name", catalogue().classes)
def test_a_class_is_shown_by_its_name_or_a_species_that_bears_it(name: str) -> None:
    first = shown(name).splitlines()[0]
    assert first == f"hardiness class {name}: {catalogue().classes[name].kind}" or re.match(
        r"[A-Z][a-z]+ [a-z]+$", first
    )


def test_a_cultivar_shows_what_is_its_own() -> None:
    told = shown("deshojo")
    assert told.startswith("Acer palmatum 'Deshojo'\nhardiness class: japanese maple")
    assert re.search(r"^frost on open leaves \(leaf tissue\) \* ", told, re.MULTILINE)
    assert re.search(r"^frost on swelling buds \(bud tissue\) {2}", told, re.MULTILINE)


def test_works_are_told_in_words() -> None:
    flat = " ".join(shown("Japanese maple").split())
    assert "Repot and cut roots: as buds swell; or in February to April, while dormant [" in flat
    assert "Chop hard: never [" in shown("kuromatsu")
    assert "Bag over it after a chop or collecting: never [" in shown("kuromatsu")
    assert "Repot and cut roots: in May to August [" in shown("weeping fig")


def test_us_units() -> None:
    told = shown("Acer", "palmatum", "--us")
    assert re.search(r"leaf tissue\) +27\.5 °F +23\.9 °F", told)
    assert "°C" not in told.partition("\n* of its own")[0]
    assert "in [" in told


def test_json_has_every_number_with_its_source() -> None:
    listed = as_json()
    assert set(listed["classes"]) == set(catalogue().classes)
    assert {one["name"] for one in listed["species"]} == set(catalogue().species)
    maple = as_json("Acer palmatum 'Deshojo'")
    said = maple["facts"]["leaf_frost"]
    limits = catalogue().species["Acer palmatum"].cultivars["Deshojo"].limits
    assert isinstance(limits.leaf_frost, Span)
    assert (said["harm"], said["kill"]) == (limits.leaf_frost.harm, limits.leaf_frost.kill)
    assert said["said_by"] == "Acer palmatum 'Deshojo'"
    assert maple["facts"]["roots_mature"]["said_by"] == "class japanese maple"
    assert all(
        fact["source"]["read"] and fact["source"]["reference"] for fact in maple["facts"].values()
    )
    assert "palmatum" in as_json("momiji")["name"]


@pytest.mark.parametrize(
    ("name", "meant"),
    [
        ("tridnet maple", "trident maple"),
        ("Acer palmatun", "Acer palmatum"),
        ("Osakazuki", "Acer palmatum 'Osakazuki' or Rhododendron indicum 'Osakazuki'"),
        ("stone friut", "stone fruit"),
    ],
)
def test_a_misspelt_name_is_one_line_with_the_nearest(name: str, meant: str) -> None:
    result = species(name)
    fault = result.exception
    said = str(fault) if isinstance(fault, Fault) else result.stderr
    assert result.exit_code != 0
    assert meant in said
    assert "\n" not in said.strip()
