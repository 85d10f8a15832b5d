"""The sun on a slope, and what it makes of a shut frame in winter."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import numpy as np
import pytest

from underbench.rules.course.inputs import Row
from underbench.rules.garden.inventory import Garden
from underbench.rules.physics.cover import COVERS, CoverKind, covered_air
from underbench.rules.physics.places import place_of
from underbench.rules.physics.slope import onto_slope_wm2
from underbench.rules.weather import sun
from underbench.rules.weather.hourly import Array

WINTER = datetime(2026, 1, 21, tzinfo=UTC)
NEW_YORK = Garden(
    name="An invented frame",
    latitude=41.0,
    longitude=-74.0,
    elevation_m=50,
    timezone="America/New_York",
)


def on_a_slope(slope_deg: float, day: str, garden: Garden) -> tuple[Array, Array]:
    """A cloudless day's sun on the level and on the slope, W/m²."""
    times = np.datetime64(day, "s").astype(np.int64) + 3600 * np.arange(24) - 1800
    up, azimuth = sun.position(times, garden.latitude, garden.longitude)
    whole = sun.clear_sky_wm2(up, garden.elevation_m)
    diffuse = sun.diffuse_from_global_wm2(whole, up, sun.day_of_year(times))
    beam = np.where(up > 0.05, (whole - diffuse) / np.maximum(np.sin(up), 0.05), 0.0)
    return whole, onto_slope_wm2(
        slope_rad=np.radians(np.array(slope_deg)),
        beam_normal_wm2=beam,
        diffuse_wm2=diffuse,
        global_wm2=whole,
        elevation_rad=up,
        from_equator_rad=azimuth - np.pi,
    )


def test_the_level_catches_what_falls_on_the_level() -> None:
    whole, onto = on_a_slope(0.0, "2026-03-21", NEW_YORK)
    high = whole > 100.0
    np.testing.assert_allclose(onto[high], whole[high], rtol=1e-9)


# Slope, zenith and azimuth, degrees; beam, global and diffuse, W/m²; what pvlib 0.16.1 gives for
# them (`get_total_irradiance`, isotropic, albedo 0.2, facing south).
PVLIB = [
    (25.0, 75.0, 150.0, 700.0, 260.0, 80.0, 490.356),
    (25.0, 40.0, 240.0, 800.0, 760.0, 140.0, 804.641),
    (60.0, 85.0, 100.0, 300.0, 60.0, 35.0, 87.267),
    (25.0, 88.0, 60.0, 100.0, 20.0, 15.0, 14.485),
]


@pytest.mark.parametrize(("slope", "zenith", "azimuth", "beam", "whole", "diffuse", "told"), PVLIB)
def test_a_slope_catches_what_pvlib_says(
    slope: float,
    zenith: float,
    azimuth: float,
    beam: float,
    whole: float,
    diffuse: float,
    told: float,
) -> None:
    onto = onto_slope_wm2(
        slope_rad=np.radians(np.array(slope)),
        beam_normal_wm2=np.array(beam),
        diffuse_wm2=np.array(diffuse),
        global_wm2=np.array(whole),
        elevation_rad=np.radians(np.array(90.0 - zenith)),
        from_equator_rad=np.radians(np.array(azimuth - 180.0)),
    )
    assert float(onto) == pytest.approx(told, abs=0.001)


def inside_over_k(whole: Array, air_c: float, deep_c: float) -> float:
    air = np.full((1, 1, 24), air_c)
    ran = covered_air(
        [COVERS[CoverKind.FRAME_SHUT]],
        np.full((1, 1), air_c),
        air_c=air,
        global_wm2=whole[None, None],
        net_longwave_wm2=np.zeros((1, 1, 24)),
        deep_c=np.full((1, 1, 1), deep_c),
    )
    return float(ran.air_c.max() - air_c)


def test_a_shut_frame_near_freezing_is_as_warm_as_a_logged_one() -> None:
    """A grower's log of two bright days, 21 and 22 January 2010, air to 0 and 2.2 °C: the frame
    reached 17.8 and 16.1 (my-edible-garden.blogspot.com, "Heating Up the Cold Frame"). Where the
    garden lies is not said; latitude 41 and a cloudless sky are taken."""
    whole, onto = on_a_slope(COVERS[CoverKind.FRAME_SHUT].slope_deg, "2026-01-21T05", NEW_YORK)
    assert 13.0 < inside_over_k(onto, 0.0, 3.0) < 19.0
    assert inside_over_k(whole, 0.0, 3.0) < 12.0


def test_high_sun_gains_little_from_the_slope() -> None:
    whole, onto = on_a_slope(COVERS[CoverKind.FRAME_SHUT].slope_deg, "2026-06-21T05", NEW_YORK)
    assert onto.max() == pytest.approx(whole.max(), rel=0.06)


def test_a_frame_in_the_shade_of_a_wall_is_cooler(make: Any) -> None:
    """Outside the spot's sun hours only the sky's light falls on its glass."""
    tree, weather = make.tree(spot="cold frame"), make.weather(WINTER, 24, mean_c=0.0)
    shade = replace(place_of(make.spots["cold frame"]), sun_from=12.0, sun_until=12.0)
    sunny = replace(shade, sun_from=0.0, sun_until=24.0)
    rows = [Row(tree, place) for place in (sunny, shade)]
    start = make.begin([tree] * 2, 0.0)
    light, dark = make.follow([tree], weather, rows=rows, start=start).exposure.air_c[:, 0]
    assert light.max() > dark.max() + 3.0
