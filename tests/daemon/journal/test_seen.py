"""``underbench seen``: trees by name, spot or species, and what it teaches about their pace."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from click.testing import Result
from commanding import fails

from underbench.daemon.config.settings import load
from underbench.daemon.store.store import Store
from underbench.rules.garden.journal import Flower, Move, Sighting, Stage, fold

DAY = timedelta(days=1)
PLUM = """
[[tree]]
name = "Plum"
species = "Prunus mume"
litres = 4
spot = "top bench"
flowers_from = "never"
"""
TREES = """
[[tree]]
name = "Ash Grove"
species = "Acer palmatum"
litres = 4
spot = "top bench"

[[tree]]
name = "Burr"
species = "Acer palmatum"
cultivar = "Seiryu"
litres = 4
spot = "shed"

[[tree]]
name = "Crag"
species = "Pinus thunbergii"
litres = 8
spot = "top bench"
"""


@pytest.fixture
def grove(garden: Any) -> Any:
    """Three trees on two spots."""
    spots = '[[spot]]\nname = "top bench"\nkind = "bench"\n[[spot]]\nname = "shed"\nkind = "shed"\n'
    head = garden.config.read_text(encoding="utf-8").split("[[spot]]")[0]
    garden.write(head + spots + TREES)
    return garden


def sighted(garden: Any, done: Result) -> set[str]:
    assert done.exit_code == 0, done.output
    with Store.open(garden.database) as store:
        return {entry.tree for entry in store.journal.entries() if isinstance(entry, Sighting)}


@pytest.mark.parametrize(
    ("words", "trees"),
    [
        (["ash grove"], {"Ash Grove"}),
        (["Ash", "Grove"], {"Ash Grove"}),
        (["Ash Grove", "burr"], {"Ash Grove", "Burr"}),
        (["acer", "palmatum"], {"Ash Grove", "Burr"}),
        (["Japanese maple"], {"Ash Grove", "Burr"}),
        (["top bench"], {"Ash Grove", "Crag"}),
        (["shed", "ash grove"], {"Burr", "Ash Grove"}),
    ],
)
def test_trees_are_named_by_tree_spot_or_species(
    grove: Any, words: list[str], trees: set[str]
) -> None:
    assert sighted(grove, grove.do("seen", "dormant", *words)) == trees


def test_a_spot_means_the_trees_that_stand_there_then(grove: Any) -> None:
    assert grove.do("check").exit_code in (0, 2)
    with Store.open(grove.database) as store:
        store.journal.add([Move(tree="Crag", at=datetime.now(UTC) - DAY, spot="shed")])
    assert sighted(grove, grove.do("seen", "dormant", "shed")) == {"Burr", "Crag"}


def test_what_is_no_tree_spot_or_species_is_one_clear_line(grove: Any) -> None:
    done = grove.do("seen", "dormant", "Asg Grove")
    assert done.exit_code == 2
    assert "Ash Grove" in done.output
    assert "Traceback" not in done.output


def test_why_and_feels_tell_the_stage_as_a_range_of_days(garden: Any) -> None:
    for command in ("why", "feels"):
        told = garden.do(command, "Ember", "--at", "2024-04-23T15:10").output
        head = " ".join(told.split())[:400]
        assert "likely" in head, head


def test_flowers_are_seen_beside_the_stage_of_the_leaves(garden: Any) -> None:
    garden.write(garden.config.read_text("utf-8").split("[[tree]]")[0] + PLUM)
    assert sighted(garden, garden.do("seen", "bud-swell", "Plum")) == {"Plum"}
    done = garden.do("seen", "flowering", "Plum")
    assert done.stdout.startswith("Noted: Plum seen flowering on ")
    assert garden.do("seen", "in-bloom", "Plum").exit_code == 0
    with Store.open(garden.database) as store:
        plum = load(garden.config, {}).trees[0]
        stands = fold(plum, store.journal.entries(), datetime.now(UTC))
    assert stands.flowers is not None
    assert (stands.flowers.stage, stands.sighting and stands.sighting.stage) == (
        Flower.OPEN,
        Stage.BUD_SWELL,
    )
    assert "Plum seen flowering" in garden.do("undo").stdout


def test_a_kind_not_kept_for_its_flowers_is_never_seen_flowering(grove: Any) -> None:
    fails(grove.do("seen", "flowering", "Burr"), "nothing is known of flowers of Acer palmatum")
