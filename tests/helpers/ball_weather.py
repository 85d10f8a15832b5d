"""Root balls and weather made to order for them, for the tests of the root ball."""

from __future__ import annotations

from typing import Any

import numpy as np

from underbench.rules.garden.inventory import (
    Colour,
    Container,
    ContainerKind,
    Shape,
    Standing,
    Wall,
)
from underbench.rules.physics.pots import Ball, ball_of
from underbench.rules.physics.rootball import BallRun, coefficients
from underbench.rules.physics.rootball import run as run_balls
from underbench.rules.physics.soil import LAYERS
from underbench.rules.weather import sun
from underbench.rules.weather.air import saturation_kpa
from underbench.rules.weather.constants import SIGMA_WM2K4
from underbench.rules.weather.hourly import Array


def pot(
    litres: float,
    wall: Wall = Wall.GLAZED,
    colour: Colour = Colour.BROWN,
    shape: Shape = Shape.RECTANGLE,
    kind: ContainerKind = ContainerKind.POT,
) -> Container:
    return Container(kind=kind, litres=litres, wall=wall, colour=colour, shape=shape)


BED = pot(60.0, Wall.NONE, shape=Shape.GROUND, kind=ContainerKind.BED)


def can(colour: Colour) -> Container:
    return pot(11.3, Wall.PLASTIC, colour, Shape.ROUND, ContainerKind.NURSERY_CAN)


def balls(*containers: Container, standing: Standing = Standing.BENCH) -> Ball:
    return ball_of(containers, [standing] * len(containers))


def plain_weather(air_c: Any, **given: Any) -> dict[str, Any]:
    """Still, dark weather in which only the air trades heat. The sky is as warm as the air, and the
    air is saturated."""
    air = np.asarray(air_c, dtype=float).reshape(1, 1, -1)
    nothing = np.zeros((1, 1, 1))
    weather: dict[str, Any] = {
        "air_c": air,
        "vapour_kpa": saturation_kpa(air),
        "wind_ms": nothing + 1.0,
        "longwave_down_wm2": SIGMA_WM2K4 * (air + 273.15) ** 4,
        "beam_normal_wm2": nothing,
        "sun_elevation_rad": nothing,
        "diffuse_wm2": nothing,
        "global_wm2": nothing,
        "sky_view": nothing + 0.85,
        "sun_share": nothing + 1.0,
        "deep_c": nothing + 5.0,
        "pressure_kpa": nothing + 101.3,
    }
    return weather | given


def clear_days(
    first: str, latitude_deg: float, air_c: Array, vapour_kpa: float, wind_ms: float
) -> dict[str, Any]:
    """Cloudless weather from ``first`` (UTC, longitude 0), with the air as given."""
    ends = np.datetime64(first, "s").astype(np.int64) + 3600 * np.arange(1, len(air_c) + 1)
    up, _ = sun.position(ends - 1800, latitude_deg, 0.0)
    whole = sun.clear_sky_wm2(up, 50.0)
    diffuse = sun.diffuse_from_global_wm2(whole, up, sun.day_of_year(ends))
    beam = np.where(up > 0.03, (whole - diffuse) / np.maximum(np.sin(up), 0.03), 0.0)
    vapour = np.minimum(vapour_kpa, saturation_kpa(air_c))
    return plain_weather(
        air_c,
        vapour_kpa=vapour[None, None],
        wind_ms=np.full((1, 1, 1), wind_ms),
        longwave_down_wm2=sun.longwave_down_wm2(air_c, vapour, 0.0)[None, None],
        beam_normal_wm2=beam[None, None],
        sun_elevation_rad=up[None, None],
        diffuse_wm2=diffuse[None, None],
        global_wm2=whole[None, None],
    )


def run_from(start_c: float, ball: Ball, weather: dict[str, Any], wet: float = 1.0) -> BallRun:
    trees = len(ball.volume_m3)
    water = np.full((trees, 1), wet)
    temp_c, below_c = np.full((trees, 1, 2), start_c), np.full((trees, 1, LAYERS), start_c)
    return run_balls(ball, temp_c, coefficients(**weather), water, subsoil_c=below_c)
