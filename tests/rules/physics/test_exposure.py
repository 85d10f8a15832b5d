"""Exposures: trees that share a stand share its numbers; extremes give numbers; snow and covers."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from underbench.rules.course.inputs import Row
from underbench.rules.garden.inventory import Standing
from underbench.rules.physics import exposure as exposures
from underbench.rules.physics.cover import CoverKind
from underbench.rules.physics.exposure import EXPOSED
from underbench.rules.physics.surroundings import distinct
from underbench.rules.weather.spread import drawn_sites, dress

WINTER = datetime(2026, 1, 10, tzinfo=UTC)


def test_how_many_trees_are_taken_at_once_changes_nothing(
    make: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """To the last bit, with members, frost and trees on several spots."""
    trees = [
        make.tree(f"Tree {n}", litres=0.4 + n, spot=spot)
        for n, spot in enumerate(
            ["top bench", "cold frame", "top bench", "shed", "under the bench"]
        )
    ]
    weather = dress(make.weather(WINTER, 48, mean_c=-3.0), WINTER, np.ones(48, dtype=bool), 6)
    start = make.begin(trees, 1.0)
    runs = []
    for rows in (1, 13, 1000):
        monkeypatch.setattr(exposures, "ROWS_AT_ONCE", rows)
        runs.append(make.follow(trees, weather, start=start, site=drawn_sites(6)))
    for other in runs[1:]:
        for name in EXPOSED:
            one, two = (getattr(run.exposure, name) for run in (runs[0], other))
            np.testing.assert_array_equal(one, two, err_msg=name)
        np.testing.assert_array_equal(runs[0].end.ball_c, other.end.ball_c)
        np.testing.assert_array_equal(runs[0].end.water_l, other.end.water_l)


@given(st.lists(st.tuples(st.sampled_from([0.0, 1.5]), st.sampled_from([-1.0, 2.0])), min_size=1))
def test_distinct_rows_rebuild_the_whole(pairs: list[tuple[float, float]]) -> None:
    rows = np.array(pairs)
    first, kind = distinct(rows)
    np.testing.assert_array_equal(rows[first][kind], rows)
    assert len(first) == len(set(pairs))


COVERING = (
    CoverKind.LATH,
    CoverKind.ROOF,
    CoverKind.FLEECE_1,
    CoverKind.FLEECE_2,
    CoverKind.HALF_SHADE,
    CoverKind.FULL_SHADE,
)


@pytest.mark.parametrize("kind", COVERING)
def test_leaves_under_a_cover_are_no_colder_on_a_clear_still_night(
    make: Any, kind: CoverKind
) -> None:
    """They see less of the cold sky. The test is in frost, because fleece holds the ground's cold
    as well as its warmth. (A small shut frame may fall below the air late on a clear night.)"""
    tree = make.tree()
    weather = make.weather(WINTER, 48, mean_c=1.0, wind_ms=0.5)
    rows = [Row(tree, make.place()), Row(tree, replace(make.place(), cover=kind))]
    open_bench, covered = make.follow(
        [tree], weather, rows=rows, start=make.begin([tree] * 2, 1.0)
    ).exposure.leaf_c
    dark = (weather.global_wm2[0] == 0.0) & (weather.air_c[0] < 0.0)
    assert (covered[0, dark] >= open_bench[0, dark] - 1e-5).all()
    assert (covered[0, dark] > open_bench[0, dark] + 0.1).any()


def test_snow_in_the_forecast_keeps_the_row_on_the_ground_and_not_the_bench(make: Any) -> None:
    """Common practice, no source: leave pots under the snow."""
    tree = make.tree(litres=3.0)
    low = replace(make.place(), standing=Standing.GROUND, height_m=0.0)
    rows = [Row(tree, make.place()), Row(tree, low)]
    lowest = []
    for snow_m in (0.0, 0.15):
        weather = make.weather(WINTER, 120, mean_c=-7.0, snow_m=snow_m, cloud=0.5)
        run = make.follow([tree], weather, rows=rows, start=make.begin([tree] * 2, 1.0))
        lowest.append(run.exposure.shell_c[:, 0].min(axis=1))
    (bench, ground), (bench_snow, ground_snow) = lowest
    # Snow keeps the ground's warmth from the air, so the bench over it is a little colder.
    assert bench - 1.5 < bench_snow < bench
    assert ground_snow > ground + 2.0


@settings(max_examples=20)
@given(
    st.sampled_from([-90.0, -66.6, 0.0, 66.6, 90.0]),
    st.sampled_from([-180.0, -179.9, 0.0, 180.0]),
    st.sampled_from([datetime(2026, 6, 21, tzinfo=UTC), datetime(2026, 12, 21, tzinfo=UTC)]),
    st.sampled_from([0.001, 0.3, 2000.0]),
    st.floats(-45.0, 50.0),
    st.floats(0.0, 60.0),
    st.floats(0.0, 1.0),
    st.floats(0.0, 3.0),
)
def test_poles_date_line_thimbles_and_tubs_give_numbers(
    make: Any,
    latitude: float,
    longitude: float,
    start: datetime,
    litres: float,
    air_c: float,
    wind_ms: float,
    cloud: float,
    snow_m: float,
) -> None:
    garden = make.garden.model_copy(
        update={"latitude": latitude, "longitude": longitude, "timezone": "Pacific/Kiritimati"}
    )
    trees = [make.tree(litres=litres), make.tree("Low", litres=litres, spot="cold frame")]
    weather = make.weather(
        start,
        30,
        mean_c=air_c,
        wind_ms=wind_ms,
        cloud=cloud,
        snow_m=snow_m,
        rain_mm=2.0,
        garden=garden,
    )
    run = make.follow(trees, weather, setting=make.setting(trees, garden=garden))
    for name in EXPOSED:
        values = getattr(run.exposure, name)
        assert np.isnan(values).all() if name == "bag_c" else np.isfinite(values).all(), name
    assert run.exposure.shell_c.min() > -75.0
    assert run.exposure.shell_c.max() < 130.0
