"""What must hold for any numbers: colder, clearer and smaller never mean warmer or steadier.

This goes through all the models at once, with covers and wet pots. Each model also has such tests.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from underbench.rules.course.inputs import Row
from underbench.rules.garden.inventory import Wall
from underbench.rules.physics.cover import CoverKind
from underbench.rules.physics.exposure import Exposure
from underbench.rules.weather.hourly import Weather

JANUARY = datetime(2026, 1, 10, tzinfo=UTC)
JULY = datetime(2026, 7, 6, tzinfo=UTC)
PLACES = ["top bench", "under the bench", "shed", "cold frame"]
LITRES = st.floats(0.3, 100.0)
WALLS = st.sampled_from([wall for wall in Wall if wall is not Wall.NONE])
SETTLED_K = 0.02  # the leaf's root is found to this, with single precision
COVERS = st.sampled_from(
    [CoverKind.OPEN, CoverKind.LATH, CoverKind.ROOF, CoverKind.FLEECE_1, CoverKind.FLEECE_2]
)


def colder_by(weather: Weather, by_k: Any) -> Weather:
    """The same hours with colder air. Its vapour stays as it was, up to fog, and so does the
    rest."""
    air_c = weather.air_c - by_k
    return replace(weather, air_c=air_c, dew_c=np.minimum(weather.dew_c, air_c))


@settings(max_examples=12)
@given(
    st.sampled_from(PLACES),
    LITRES,
    WALLS,
    st.floats(8.0, 25.0),
    st.floats(0.5, 6.0),
    st.floats(0.0, 12.0),
    st.floats(0.0, 1.0),
)
def test_colder_air_never_warms_a_tree(
    make: Any,
    spot: str,
    litres: float,
    wall: Wall,
    mean_c: float,
    by_k: float,
    wind_ms: float,
    cloud: float,
) -> None:
    """This holds for leaf, roots and the air around, by day and night, above freezing. Roots hold
    it within 0.2 K, because dew at the wall sets in by whole hours."""
    tree = make.tree(litres=litres, wall=wall, spot=spot)
    warm = make.weather(JULY, 48, mean_c=mean_c + by_k, wind_ms=wind_ms, cloud=cloud, dew_drop_k=9)
    felt = [
        make.follow([tree], weather, start=make.begin([tree], 12.0)).exposure
        for weather in (warm, colder_by(warm, by_k))
    ]
    warmer, colder = felt
    assert (colder.air_c <= warmer.air_c + 1e-4).all()
    assert (colder.leaf_c <= warmer.leaf_c + SETTLED_K).all()
    assert (colder.shell_c <= warmer.shell_c + 0.2).all()
    assert (colder.core_c <= warmer.core_c + 0.2).all()


@settings(max_examples=12)
@given(LITRES, st.floats(1.2, 20.0), WALLS, st.floats(-8.0, 8.0), st.floats(0.2, 8.0))
def test_a_bigger_pot_of_the_same_make_moves_less(
    make: Any, litres: float, times: float, wall: Wall, step_k: float, wind_ms: float
) -> None:
    """The air makes one step, in the dark, away from the sky, above freezing. The ball's mean is
    compared."""
    trees = [
        make.tree("Small", litres=litres, wall=wall),
        make.tree("Big", litres=litres * times, wall=wall),
    ]
    rows = [Row(tree, replace(make.place(), sky_view=0.0)) for tree in trees]
    air_c = 12.0 + step_k
    dark = {"global_wm2": 0.0, "diffuse_wm2": 0.0, "swing_k": 0.0, "dew_drop_k": 0.0}
    weather = make.weather(JANUARY, 24, mean_c=air_c, wind_ms=wind_ms, **dark)
    felt = make.follow(trees, weather, rows=rows, start=make.begin(trees, 12.0)).exposure
    small, big = np.abs((felt.shell_c + felt.core_c)[:, 0] / 2.0 - 12.0)
    assert (big <= small + 1e-4).all()


def clear_night(make: Any, cover: CoverKind, mean_c: float, wind_ms: float) -> Exposure:
    """Trees that each see more sky than the one before, from their second evening on."""
    tree = make.tree(litres=3.0)
    rows = [
        Row(tree, replace(make.place(), sky_view=view, cover=cover))
        for view in (0.1, 0.4, 0.7, 1.0)
    ]
    dark = {"global_wm2": 0.0, "diffuse_wm2": 0.0, "cloud": 0.0}
    weather = make.weather(JANUARY, 24, mean_c=mean_c, swing_k=2.0, wind_ms=wind_ms, **dark)
    start = make.begin([tree] * len(rows), mean_c)
    felt: Exposure = make.follow([tree], weather, rows=rows, start=start).exposure
    return felt


@settings(max_examples=12)
@given(COVERS, st.floats(4.0, 25.0), st.floats(0.0, 10.0))
def test_more_sky_never_warms_a_clear_night(
    make: Any, cover: CoverKind, mean_c: float, wind_ms: float
) -> None:
    felt = clear_night(make, cover, mean_c, wind_ms)
    for name in ("leaf_c", "shell_c", "core_c"):
        values = getattr(felt, name)[:, 0]
        assert (np.diff(values, axis=0) <= SETTLED_K).all(), name


def test_sky_and_size_and_cold_do_tell(make: Any) -> None:
    """Otherwise the tests above would pass with models in which nothing moves."""
    by_sky = clear_night(make, CoverKind.OPEN, 8.0, 0.5)
    assert by_sky.leaf_c[0, 0, -1] > by_sky.leaf_c[-1, 0, -1] + 0.5
    trees = [make.tree("Small", litres=0.3), make.tree("Big", litres=30.0)]
    weather = make.weather(JANUARY, 24, mean_c=20.0, swing_k=0.0, cloud=1.0, wind_ms=6.0)
    felt = make.follow(trees, weather, start=make.begin(trees, 12.0)).exposure
    assert felt.core_c[0, 0, 3] > felt.core_c[1, 0, 3] + 2.0
