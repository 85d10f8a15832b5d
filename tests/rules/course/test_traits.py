"""What the models need of a tree: how it stands, and its leaf and thirst at each stage."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from underbench.rules.course.traits import (
    BUD_WIDTH_M,
    HELD_MS,
    Footing,
    crown_of,
    leaf_share,
    numbered,
    traits_of,
)
from underbench.rules.garden.inventory import ContainerKind, Wall
from underbench.rules.garden.journal import Bag, Film, Opening, Stage
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards import SCORCH
from underbench.rules.physics.cover import CoverKind
from underbench.rules.physics.places import Place
from underbench.rules.physics.wind import Crown
from underbench.rules.plants.species import Kind, catalogue


def footing(make: Any, *trees: Any) -> Footing:
    return Footing.of(trees, make.setting(trees).species)


def test_what_is_tied_or_planted_does_not_tip_and_water_steadies_the_rest(make: Any) -> None:
    """A dry pot goes over first: common practice, no source."""
    stand = footing(
        make,
        make.tree("Tied", tied=True),
        make.tree("Planted", kind=ContainerKind.BED, wall=Wall.NONE),
        make.tree("Free", "Pinus sylvestris"),
    )
    stages = numbered([Stage.HARDENED] * 3)
    dry, full = (stand.tipping_gusts_ms(stages, np.full(3, rel)) for rel in (0.0, 1.0))
    assert dry[:2].tolist() == full[:2].tolist() == [HELD_MS, HELD_MS]
    assert 5.0 < dry[2] < full[2] < 40.0


def test_bare_branches_let_the_wind_by(make: Any) -> None:
    stand = footing(make, make.tree(litres=2.0, height_cm=90, crown_cm=80))
    bare, leafy = (
        stand.tipping_gusts_ms(numbered([stage]), np.ones(1)).item()
        for stage in (Stage.DORMANT, Stage.HARDENED)
    )
    assert 30.0 > bare > leafy  # within the wind tunnels' range or near it
    assert crown_of(Kind.CONIFER_EVERGREEN, Stage.DORMANT) is Crown.EVERGREEN


@pytest.mark.parametrize("stage", [Stage.DORMANT, Stage.BUD_SWELL])
def test_a_leafless_tree_has_buds_and_hardly_drinks(make: Any, stage: Stage) -> None:
    """0.2 to 0.3 of a lawn's water: common practice, no source."""
    tree, place = make.tree(), make.place()
    made = traits_of(footing(make, tree), numbered([stage]), [False], [place], [None])
    assert leaf_share(Kind.BROADLEAF_DECIDUOUS, stage) == 0.0
    assert made.leaf_width_m.tolist() == [BUD_WIDTH_M]
    assert 0.2 <= made.crop.item() <= 0.3


def test_cut_roots_draw_little_and_glass_keeps_the_rain_off(make: Any) -> None:
    trees = [make.tree("Cut"), make.tree("Whole")]
    shed = Place(0.0, 12, 12, 0.0, 0.0, make.place().standing, CoverKind.SHED)
    stand, stages = footing(make, *trees), numbered([Stage.HARDENED] * 2)
    made = traits_of(stand, stages, [True, False], [make.place(), shed], [None, None])
    assert made.crop[0] <= 0.3 < made.crop[1]
    assert made.roofed.tolist() == [False, True]


def test_nothing_dries_off_in_a_bag_until_it_is_opened(make: Any) -> None:
    trees = [make.tree(name) for name in ("Bare", "Shut", "Slit", "Open")]
    since = datetime(2026, 4, 1, tzinfo=UTC)
    bags = [Bag(film=Film.DARK, opening=opening, since=since) for opening in Opening]
    made = traits_of(
        footing(make, *trees),
        numbered([Stage.HARDENED] * 4),
        [False] * 4,
        [make.place()] * 4,
        [None, *bags],
    )
    assert made.bagged.tolist() == [False, True, True, True]
    assert made.crop[1] == made.crop[2] == 0.0
    assert made.crop[0] == made.crop[3] > 0.0


def test_a_tree_whose_leaves_were_taken_off_hardly_drinks_and_scorches_nothing(make: Any) -> None:
    """Two weeks until leaves open again: common practice, no source."""
    july, day = datetime(2026, 7, 6, tzinfo=UTC), timedelta(days=1)
    trees = [make.tree(name) for name in ("Stripped", "Leafy")]
    journal = [make.seen(tree.name, july, Stage.HARDENED) for tree in trees]
    journal.append(make.work("Stripped", july + timedelta(hours=1), WorkKind.DEFOLIATE))
    weather = make.weather(july, 24 * 20, mean_c=33.0, swing_k=6.0, dew_drop_k=14.0)
    course = make.follow(trees, weather, journal)
    # Its first day without a can: top and wall dry as before, so it is not a fifth.
    used = 1.0 - course.exposure.water_left[:, 0, 23]
    assert used[0] < 0.6 * used[1]
    bare, again = (course.conditions[(july + n * day).date()][0] for n in (5, 16))
    assert (bare.in_leaf, again.in_leaf) == (False, True)
    kind = catalogue().species["Acer palmatum"]
    assert SCORCH.limit(kind, bare) is None
    assert SCORCH.limit(kind, again) is not None
