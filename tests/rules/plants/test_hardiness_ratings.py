"""USDA zones and RHS ratings: the published tables, how they are written, what a tree bears."""

from __future__ import annotations

from datetime import UTC, date, datetime
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from settings_toml import PLAIN, loaded, problems

from underbench.daemon.outlook.garden_now import species_of
from underbench.rules.garden.journal import Stage
from underbench.rules.hazards import LEAF_FROST
from underbench.rules.hazards.bearing import Bearing, bearing
from underbench.rules.limits.aftercare import Aftercare
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.limit import Limit, MeasuredOn
from underbench.rules.plants.hardiness_ratings import RATINGS, RHS_C, Rating, nearest_rating, rating
from underbench.rules.plants.species_lookup import find
from underbench.rules.plants.stages import unhardened_k

# °C, lower edge of a, edge between a and b, upper edge of b: USDA-ARS Plant Hardiness Zone Map of
# 2012 (13 zones of 10 °F from −60 °F, halves of 5 °F), rounded to 0.1 as the map prints them.
USDA = {
    1: (-51.1, -48.3, -45.6),
    2: (-45.6, -42.8, -40.0),
    3: (-40.0, -37.2, -34.4),
    4: (-34.4, -31.7, -28.9),
    5: (-28.9, -26.1, -23.3),
    6: (-23.3, -20.6, -17.8),
    7: (-17.8, -15.0, -12.2),
    8: (-12.2, -9.4, -6.7),
    9: (-6.7, -3.9, -1.1),
    10: (-1.1, 1.7, 4.4),
    11: (4.4, 7.2, 10.0),
    12: (10.0, 12.8, 15.6),
    13: (15.6, 18.3, 21.1),
}


def known(text: str) -> Rating:
    found = rating(text)
    assert found is not None, text
    return found


def edges(text: str) -> tuple[float, float]:
    found = known(text)
    return found.kill_c, found.harm_c


@pytest.mark.parametrize("zone", USDA)
def test_usda_zones_as_the_map_prints_them(zone: int) -> None:
    low, middle, high = USDA[zone]
    for text, published in (("a", (low, middle)), ("b", (middle, high)), ("", (low, high))):
        assert edges(f"USDA {zone}{text}") == pytest.approx(published, abs=0.05)


def test_usda_zones_are_whole_degrees_fahrenheit() -> None:
    """Exact: the rule is in °F (zone 1a from −60 °F)."""
    assert [c * 1.8 + 32 for c in edges("USDA 1a")] == pytest.approx([-60, -55], abs=1e-9)
    assert [c * 1.8 + 32 for c in edges("USDA 13b")] == pytest.approx([65, 70], abs=1e-9)


@pytest.mark.parametrize(
    ("band", "cold_c", "warm_c"),
    [
        ("H1b", 10, 15),
        ("H1c", 5, 10),
        ("H2", 1, 5),
        ("H3", -5, 1),
        ("H4", -10, -5),
        ("H5", -15, -10),
        ("H6", -20, -15),
    ],
)
def test_rhs_ratings_as_the_sheet_has_them(band: str, cold_c: float, warm_c: float) -> None:
    """RHS hardiness rating sheet of 2012; H5 and H6 read in secondary copies."""
    assert edges(f"RHS {band}") == (cold_c, warm_c)


def test_open_bands_have_harm_at_their_one_edge() -> None:
    """H1a "over 15 °C", H7 "below −20 °C": RHS sheet; the 5 K beyond are judgement."""
    assert RHS_C["H1a"] == (15, None)
    assert RHS_C["H7"] == (None, -20)
    assert edges("RHS H1a") == (10, 15)
    assert edges("RHS H7") == (-25, -20)


def test_bands_meet_without_a_gap() -> None:
    halves = [known(f"USDA {zone}{half}") for zone in USDA for half in "ab"]
    for colder, warmer in pairwise(halves):
        assert colder.harm_c == pytest.approx(warmer.kill_c)
    bands = [known(f"RHS H{band}") for band in ("7", "6", "5", "4", "3", "2", "1c", "1b")]
    for colder, warmer in pairwise(bands):
        assert colder.harm_c == warmer.kill_c


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("USDA 6b", "USDA 6b"),
        ("usda zone 6B", "USDA 6b"),
        ("Zone 6b", "USDA 6b"),
        ("6b", "USDA 6b"),
        ("USDA-10", "USDA 10"),
        ("RHS H5", "RHS H5"),
        ("rhs h1C", "RHS H1c"),
        ("H7", "RHS H7"),
    ],
)
def test_a_rating_is_read_however_it_is_written(written: str, meant: str) -> None:
    assert known(written).text == meant


@pytest.mark.parametrize("written", ["", "USDA", "USDA 0", "USDA 14a", "6c", "H8", "H1", "birch"])
def test_what_is_no_rating_is_none(written: str) -> None:
    assert rating(written) is None


@pytest.mark.parametrize(
    ("written", "near"),
    [
        ("USDA 14a", "USDA 13"),
        ("USDA 6c", "USDA 6"),
        ("0a", "USDA 1"),
        ("UDSA 6b", "USDA 6b"),
        ("RHS H8", "RHS H7"),
        ("RSH H5", "RHS H5"),
        ("birch", None),
        ("japanese maple", None),
    ],
)
def test_a_wrong_rating_has_the_nearest_valid_one(written: str, near: str | None) -> None:
    assert nearest_rating(written) == near


def test_no_rating_is_taken_for_another() -> None:
    assert all(known(text).text == text for text in RATINGS)
    assert len(RATINGS) == 3 * 13 + 9


# ---- in the keeper's file ------------------------------------------------------------------------


def test_a_tree_may_be_given_its_rating(file: Path) -> None:
    settings = loaded(file, PLAIN + 'hardiness = "zone 6b"\n')
    assert settings.trees[0].hardiness == "zone 6b"
    assert species_of(settings.trees[0]) is find("Acer palmatum")


@pytest.mark.parametrize(
    ("written", "said"),
    [
        ("USDA 14", "no such rating (did you mean 'USDA 13'?)"),
        ("RHS H8", "no such rating (did you mean 'RHS H7'?)"),
        ("brich", "no such class (did you mean 'birch'?)"),
    ],
)
def test_a_wrong_rating_is_one_line(file: Path, written: str, said: str) -> None:
    assert problems(file, PLAIN + f'hardiness = "{written}"\n') == [
        f'garden.toml:15: tree 1 "Asa": hardiness: {said}'
    ]


def test_a_rating_does_not_stand_for_a_class(file: Path) -> None:
    """A rating says nothing about roots and leaves, so the species must be known."""
    text = PLAIN.replace("Acer palmatum", "Xanthoria hortensis") + 'hardiness = "USDA 5"\n'
    (line,) = problems(file, text)
    assert "unknown species" in line


# ---- what a rated tree bears --------------------------------------------------------------------


def bears(make: Any, name: str, hardiness: str | None, stage: Stage, day: date) -> Bearing:
    species = find(name)
    assert species is not None
    tree = make.tree(species=name, hardiness=hardiness)
    return bearing(species, Condition(tree, stage, Aftercare(), unhardened_k(day, 50.0), 30.0))


def there(limit: Limit | None) -> Limit:
    assert limit is not None
    return limit


MIDWINTER = date(2027, 1, 20)


def test_a_rating_holds_for_tops_at_rest_and_on_the_air(make: Any) -> None:
    """A zone is the air's own minimum (USDA, RHS): not tissue, not roots, not leaves in growth."""
    rated = bears(make, "Betula pendula", "USDA 6b", Stage.DORMANT, MIDWINTER)
    plain = bears(make, "Betula pendula", None, Stage.DORMANT, MIDWINTER)
    frost = there(rated.get("leaf-frost"))
    assert frost.measured_on is MeasuredOn.AIR
    assert (frost.harm, frost.kill) == pytest.approx((-17.8, -20.6), abs=0.05)
    assert frost.trail[0].what == "rated USDA 6b"
    assert there(plain.get("leaf-frost")).measured_on is MeasuredOn.WOOD
    assert rated.get("root-frost") == plain.get("root-frost")
    for stage in (Stage.BUD_SWELL, Stage.LEAFING_OUT, Stage.HARDENED):
        spring = date(2027, 4, 20)
        assert bears(make, "Betula pendula", "USDA 6b", stage, spring).get("leaf-frost") == bears(
            make, "Betula pendula", None, stage, spring
        ).get("leaf-frost")


def test_the_keepers_figure_for_wood_says_more_than_a_rating(make: Any) -> None:
    tree = make.tree(hardiness="USDA 6b", limits={"dormant_tops_c": -12.0})
    species = find("Acer palmatum")
    assert species is not None
    frost = there(
        bearing(species, Condition(tree, Stage.DORMANT, Aftercare(), 0.0, 30.0)).get("leaf-frost")
    )
    assert (frost.measured_on, frost.harm) == (MeasuredOn.WOOD, -12.0)


def test_a_rated_tropical_is_kept_as_warm_as_its_rating(make: Any) -> None:
    chill = there(
        bears(make, "Ficus microcarpa", "RHS H1c", Stage.HARDENED, MIDWINTER).get("chill")
    )
    assert (chill.harm, chill.kill) == (10, 5)
    assert chill.measured_on is MeasuredOn.AIR
    assert [layer.what for layer in chill.trail] == ["class tropical", "rated RHS H1c"]


def test_a_rated_tree_is_told_by_the_air_of_its_spot(make: Any) -> None:
    """Air falls to −5 °C: beyond USDA 9a (−3.9 °C), within 8a (−9.4 °C). Wood is colder under a
    clear sky, but a rating is not compared with wood."""
    trees = [
        make.tree("Rated 9a", "Quercus ilex", hardiness="USDA 9a"),
        make.tree("Rated 8a", "Quercus ilex", hardiness="USDA 8a"),
        make.tree("Not rated", "Quercus ilex"),
    ]
    night = make.weather(datetime(2027, 1, 20, tzinfo=UTC), 48, mean_c=1.0, swing_k=6.0)
    found = [f for f in make.findings(trees, night) if f.hazard is LEAF_FROST]
    assert {f.tree for f in found} == {"Rated 9a"}
    assert {f.limit.measured_on for f in found} == {MeasuredOn.AIR}
    assert min(f.worst for f in found) == pytest.approx(-5.0, abs=0.6)
