"""The root ball: how warm the roots at the wall and in the middle are, and how much is frozen.

Two nodes of equal volume, shell and core (`underbench.rules.enthalpy`), behind massless faces that
trade heat with air, sun and sky. The coefficients of the split were fitted on finite-volume boxes
of 0.4 to 15 L (root mean square error 0.2 K); wall, colour and mix are ordinary handbook values
from memory. What a garden knows least, wind and sky at the bench, governs the error.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from typing import Final

import numpy as np
from numpy.typing import NDArray

from underbench.rules.air import dew_point_c, psychrometric_kpa_k, saturation_kpa, slope_kpa_k
from underbench.rules.constants import (
    AIR_CONDUCTIVITY_WMK,
    AIR_PRANDTL,
    AIR_VISCOSITY_M2S,
    HEAT_CAPACITY_ICE_J_M3K,
    HEAT_CAPACITY_WATER_J_M3K,
    KELVIN,
    LATENT_FUSION_J_KG,
    SIGMA_WM2K4,
    WATER_DENSITY_KG_M3,
)
from underbench.rules.enthalpy import Nodes, enthalpy_j, frozen_share, hour_later_j, temperature_c
from underbench.rules.garden import Colour, Container, ContainerKind, Shape, Standing, Wall
from underbench.rules.weather import Array

# Width and height over length. Common practice, no source: 3 L is about 24 × 17 × 7 cm.
PROPORTIONS: Final = {
    Shape.ROUND: (1.0, 0.6),
    Shape.OVAL: (0.75, 0.3),
    Shape.RECTANGLE: (0.72, 0.3),
    Shape.FLAT: (0.65, 0.12),
    Shape.GROUND: (1.0, 0.5),
}
NURSERY_CAN: Final = (1.0, 0.8)
GROUND_DEPTH_M: Final = 0.25

# Handbook values from memory: 6 mm stoneware, 8 mm terracotta, 1.5 mm plastic, 18 mm softwood.
WALL_M2K_W: Final = {
    Wall.GLAZED: 0.006 / 1.1,
    Wall.UNGLAZED: 0.008 / 0.8,
    Wall.PLASTIC: 0.0015 / 0.2,
    Wall.WOOD: 0.018 / 0.13,
    Wall.MESH: 0.0,
    Wall.NONE: 0.0,
}
# Share of a free water surface's evaporation when wet. Judgement, no source.
WALL_WETNESS: Final = {
    Wall.GLAZED: 0.0,
    Wall.UNGLAZED: 0.15,
    Wall.PLASTIC: 0.0,
    Wall.WOOD: 0.1,
    Wall.MESH: 0.35,
    Wall.NONE: 0.35,
}
TOP_WETNESS: Final = 0.8  # judgement, no source
ABSORPTANCE: Final = {Colour.PALE: 0.35, Colour.BROWN: 0.72, Colour.DARK: 0.93}  # from memory
TOP_ABSORPTANCE: Final = 0.75  # moist mix; from memory
EMISSIVITY: Final = 0.93
# W/m²K below the pot: slatted bench, slab, soil (trading with the deep ground), insulation.
# Judgement, no source.
BASE_WM2K: Final = {
    Standing.BENCH: 6.0,
    Standing.SLAB: 9.0,
    Standing.GROUND: 5.0,
    Standing.INSULATED: 0.5,
}
SIDE_SHADE: Final = 0.2  # neighbours and low branches; judgement, no source
CROWN_SHADE: Final = 0.3  # of a tree over its own pot; judgement, no source

# The mix: akadama and pumice at container capacity (0.38) and wilting point (0.14); from memory.
MIX_DRY_J_M3K: Final = 0.5e6
SOIL_DRY_J_M3K: Final = 1.1e6
WATER_AT_WILTING: Final = 0.14
WATER_AVAILABLE: Final = 0.24
MIX_DRY_WMK, MIX_MOIST_WMK, SOIL_WMK = 0.20, 0.45, 0.9
ICE_EXPANSION: Final = 1.09
DEEP_M: Final = 0.5  # from the core of a bed to ground at `deep_c`; judgement, no source

NODE_TO_FACE, SHELL_TO_CORE = 0.40, 0.80  # fitted; a sphere has 0.27 and 0.81


@dataclass(frozen=True, slots=True)
class Ball:
    """Root balls, one per tree; every field (tree,).

    ``path_m`` is volume over the faces that pass heat. ``base_deep`` is true where the base trades
    with the ground below rather than the air; ``ground`` where only the top is free.
    """

    volume_m3: Array
    side_m2: Array
    top_m2: Array
    base_m2: Array
    height_m: Array
    width_m: Array
    path_m: Array
    wall_m2k_w: Array
    absorptance: Array
    side_wetness: Array
    base_wm2k: Array
    base_deep: NDArray[np.bool_]
    ground: NDArray[np.bool_]


def ball_of(containers: Sequence[Container], standing: Sequence[Standing]) -> Ball:
    """Return the balls of ``containers`` standing on ``standing``, one of each per tree."""
    rows = [_faces(one) for one in containers]
    volume, side, top, base, height, width = (
        np.array(column) for column in zip(*rows, strict=True)
    )
    return Ball(
        volume_m3=volume,
        side_m2=side,
        top_m2=top,
        base_m2=base,
        height_m=height,
        width_m=width,
        path_m=volume / (side + top + base),
        wall_m2k_w=np.array([WALL_M2K_W[one.wall] for one in containers]),
        absorptance=np.array([ABSORPTANCE[one.colour] for one in containers]),
        side_wetness=np.array([WALL_WETNESS[one.wall] for one in containers]),
        base_wm2k=np.array([BASE_WM2K[one] for one in standing]),
        base_deep=np.array([one is Standing.GROUND for one in standing]),
        ground=np.array([_in_ground(one) for one in containers]),
    )


def _in_ground(container: Container) -> bool:
    return container.kind is ContainerKind.BED or container.shape is Shape.GROUND


def _faces(container: Container) -> tuple[float, float, float, float, float, float]:
    """Return volume, side, top and base (m³, m²), height and width of the circle of that top."""
    volume = container.litres / 1000.0
    if _in_ground(container):
        top = volume / GROUND_DEPTH_M
        return volume, 0.0, top, 0.0, GROUND_DEPTH_M, float(np.sqrt(4.0 * top / np.pi))
    can = container.kind is ContainerKind.NURSERY_CAN and container.shape is Shape.ROUND
    width, height = NURSERY_CAN if can else PROPORTIONS[container.shape]
    curved = container.shape in (Shape.ROUND, Shape.OVAL)
    plan = width * (np.pi / 4.0 if curved else 1.0)
    # The ellipse's rim to 1 % at these proportions.
    rim = np.pi * np.sqrt((1.0 + width**2) / 2.0) if curved else 2.0 * (1.0 + width)
    length_m = (volume / (plan * height)) ** (1.0 / 3.0)
    top = plan * length_m**2
    side = rim * height * length_m**2
    return volume, side, top, top, height * length_m, float(np.sqrt(4.0 * top / np.pi))


def nodes_of(ball: Ball, water_rel: Array) -> Nodes:
    """Return the heat capacities and inner conductances at ``water_rel`` (tree, member), 0..1."""
    water = WATER_AT_WILTING + WATER_AVAILABLE * water_rel
    half_m3 = _column(ball.volume_m3 / 2.0)
    dry = np.where(_column(ball.ground), SOIL_DRY_J_M3K, MIX_DRY_J_M3K)
    frozen = half_m3 * (dry + ICE_EXPANSION * HEAT_CAPACITY_ICE_J_M3K * water)
    latent = half_m3 * WATER_DENSITY_KG_M3 * LATENT_FUSION_J_KG * water
    conductivity = _conductivity_wmk(ball, water_rel)
    faces_m2 = _column(ball.volume_m3 / ball.path_m)
    deep = np.where(_column(ball.ground), conductivity * faces_m2 / DEEP_M, 0.0)
    return Nodes(
        thawed_j_k=half_m3 * (dry + HEAT_CAPACITY_WATER_J_M3K * water),
        freezing_j_k=frozen + latent,
        frozen_j_k=frozen,
        latent_j=latent,
        core_w_k=SHELL_TO_CORE * conductivity * faces_m2 / _column(ball.path_m),
        deep_w_k=deep,
    )


def _conductivity_wmk(ball: Ball, water_rel: Array) -> Array:
    mix = MIX_DRY_WMK + (MIX_MOIST_WMK - MIX_DRY_WMK) * water_rel
    return np.where(_column(ball.ground), SOIL_WMK, mix)


def _column(per_tree: NDArray[np.generic]) -> Array:
    return per_tree[:, None]  # type: ignore[return-value]


def forced_wm2k(wind_ms: Array, width_m: Array) -> Array:
    """Return forced convection, W/m²K, at a cylinder ``width_m`` wide in wind ``wind_ms``.

    Zukauskas 1972 for Reynolds numbers from 1 000 to 200 000 (0.26 Re^0.6 Pr^0.37), times 1.2 for
    the turbulence of outdoor air (judgement).
    """
    spread = 1.2 * 0.26 * AIR_PRANDTL**0.37 * AIR_CONDUCTIVITY_WMK / AIR_VISCOSITY_M2S**0.6
    out: Array = spread * np.power(wind_ms, 0.6) * np.power(width_m, -0.4)
    return out


@dataclass(frozen=True, slots=True)
class Coefficients:
    """What the weather asks of each ball, before its own temperature is known.

    Hours lead: every field but ``water_rel`` broadcasts to (hour, tree, member). Radiation is what
    the face absorbs net of what it would lose at air temperature, W/m²; ``beam_wm2`` what the sunny
    side takes beyond the mean of all sides. ``latent_ratio`` times the convective film is the film
    through which a wet face trades vapour, as if with something at the dew point.
    """

    air_c: Array
    dew_c: Array
    deep_c: Array
    forced_wm2k: Array
    radiative_wm2k: Array
    latent_ratio: Array
    side_wm2: Array
    top_wm2: Array
    beam_wm2: Array
    water_rel: Array

    def hour(self, index: int) -> Coefficients:
        """Return those of one hour; its fields broadcast to (tree, member)."""
        hourly = {f.name: getattr(self, f.name)[index] for f in fields(self)[:-1]}
        return Coefficients(**hourly, water_rel=self.water_rel)


def coefficients(
    ball: Ball,
    *,
    air_c: Array,
    vapour_kpa: Array,
    wind_ms: Array,
    longwave_down_wm2: Array,
    beam_normal_wm2: Array,
    sun_elevation_rad: Array,
    diffuse_wm2: Array,
    global_wm2: Array,
    sky_view: Array,
    sun_share: Array,
    water_rel: Array,
    deep_c: Array,
    pressure_kpa: Array,
) -> Coefficients:
    """Return the coefficients of an hourly run.

    All weather broadcasts to (tree, member, hour) and has three dimensions; ``wind_ms`` is that at
    the pot, ``sun_share`` 1 where the beam reaches the spot and 0 where it does not. ``water_rel``
    (tree, member) is held for the run. Sides take the beam's mean over all azimuths: for any
    convex plan the mean silhouette is rim over pi (Cauchy).
    """
    black = SIGMA_WM2K4 * (air_c + KELVIN) ** 4
    cold_sky = EMISSIVITY * sky_view * (longwave_down_wm2 - black)
    beam = beam_normal_wm2 * sun_share
    wall = ball.absorptance[:, None, None]
    flat = wall * (1.0 - SIDE_SHADE) * beam * np.cos(sun_elevation_rad)
    side_sun = 0.5 * sky_view * diffuse_wm2 + reflected_wm2(global_wm2, diffuse_wm2, sun_share)
    side = flat / np.pi + wall * side_sun + 0.5 * cold_sky
    onto_top = beam * np.maximum(np.sin(sun_elevation_rad), 0.0) + sky_view * diffuse_wm2
    top = TOP_ABSORPTANCE * (1.0 - CROWN_SHADE) * onto_top + (1.0 - 0.6 * CROWN_SHADE) * cold_sky
    dew_c = np.minimum(dew_point_c(vapour_kpa), air_c)
    weather = {
        "air_c": air_c,
        "dew_c": dew_c,
        "deep_c": deep_c,
        "forced_wm2k": forced_wm2k(wind_ms, ball.width_m[:, None, None]),
        "radiative_wm2k": 4.0 * EMISSIVITY * black / (air_c + KELVIN),
        "latent_ratio": _chord_kpa_k(dew_c, air_c) / psychrometric_kpa_k(pressure_kpa),
        "side_wm2": side,
        "top_wm2": top,
        "beam_wm2": flat * (1.0 - 1.0 / np.pi),
    }
    hours = side.shape[-1]
    leading = {name: _hours_first(values, hours) for name, values in weather.items()}
    return Coefficients(**leading, water_rel=water_rel)


def reflected_wm2(global_wm2: Array, diffuse_wm2: Array, sun_share: Array) -> Array:
    """Return what ground as sunlit as the spot, of albedo 0.2 (handbook), throws on a wall."""
    return 0.5 * 0.2 * (diffuse_wm2 + sun_share * (global_wm2 - diffuse_wm2))


def _chord_kpa_k(dew_c: Array, air_c: Array) -> Array:
    """Return the mean slope of the saturation curve from dew point to air: unlike a tangent it is
    right at both ends, so a face at the dew point gains no vapour, however warm the air."""
    apart_k = air_c - dew_c
    chord = (saturation_kpa(air_c) - saturation_kpa(dew_c)) / np.maximum(apart_k, 0.1)
    return np.where(apart_k > 0.1, chord, slope_kpa_k(air_c))


def _hours_first(values: Array, hours: int) -> Array:
    every_hour = np.broadcast_to(values, (*values.shape[:2], hours))
    return np.ascontiguousarray(np.moveaxis(every_hour, -1, 0))


@dataclass(frozen=True, slots=True)
class BallRun:
    """How warm the balls were, (tree, member, hour), °C at the end of each hour.

    ``sun_wall_c`` is the wall facing the sun, at which the roots behind it live; ``frozen_share``
    that of the whole ball. ``temp_c`` (tree, member, 2), shell and core, starts the next run.
    """

    shell_c: Array
    core_c: Array
    frozen_share: Array
    sun_wall_c: Array
    temp_c: Array


@dataclass(frozen=True, slots=True)
class _Face:
    """One kind of face: area, resistance from the shell node out to it, wetness, still-air film.

    ``warm_film`` and ``cool_film`` times |dT|^0.25 are free convection over a face warmer or cooler
    than the air. All (tree, member) or (tree, 1).
    """

    area_m2: Array
    inner_m2k_w: Array
    wetness: Array
    warm_film: Array
    cool_film: Array


def _faces_of(ball: Ball, water_rel: Array) -> tuple[_Face, _Face]:
    """Return the sides and the top. Free films of air over planes: Holman, from memory."""
    to_face = NODE_TO_FACE * _column(ball.path_m) / _conductivity_wmk(ball, water_rel)
    upright = 1.42 * _column(ball.height_m) ** -0.25
    width = _column(ball.width_m) ** -0.25
    wall = to_face + _column(ball.wall_m2k_w)
    wetness = _column(ball.side_wetness) * water_rel
    sides = _Face(_column(ball.side_m2), wall, wetness, upright, upright)
    top = _Face(_column(ball.top_m2), to_face, TOP_WETNESS * water_rel, 1.32 * width, 0.59 * width)
    return sides, top


def _exchange(
    face: _Face, shell_c: Array, absorbed_wm2: Array, now: Coefficients
) -> tuple[Array, Array]:
    """Return a face's film, W/m²K, and the temperature, °C, it would take with no ball behind it.

    Free convection and dew go by the face's temperature with last hour's shell behind it. A face
    below the dew point is wet all over and gains what condenses.
    """
    dry = now.forced_wm2k + now.radiative_wm2k
    inward = 1.0 / face.inner_m2k_w
    face_c = (dry * now.air_c + absorbed_wm2 + inward * shell_c) / (dry + inward)
    warmer_k = face_c - now.air_c
    root_k = np.sqrt(np.abs(warmer_k))
    free = np.where(warmer_k > 0.0, face.warm_film, face.cool_film) ** 3 * root_k * np.sqrt(root_k)
    convective = np.cbrt(now.forced_wm2k**3 + free)
    wet = np.where(face_c < now.dew_c, 1.0, face.wetness) * convective
    latent = wet * now.latent_ratio
    film = convective + now.radiative_wm2k + latent
    return film, now.air_c + (absorbed_wm2 - latent * (now.air_c - now.dew_c)) / film


def _hour(
    ball: Ball, faces: tuple[_Face, _Face], shell_c: Array, now: Coefficients
) -> tuple[Array, Array, Array, Array]:
    """Return the shell's outer conductance, W/K, heat at 0 °C, W, and the sunny wall's film and
    sol-air temperature for one hour that begins with the shell at ``shell_c``."""
    sides, top = faces
    base_film = _column(ball.base_wm2k)
    base_w_k = _column(ball.base_m2) / (sides.inner_m2k_w + 1.0 / base_film)
    under_c = np.where(_column(ball.base_deep), now.deep_c, now.air_c)
    side_film, side_c = _exchange(sides, shell_c, now.side_wm2, now)
    top_film, top_c = _exchange(top, shell_c, now.top_wm2, now)
    side_w_k = sides.area_m2 / (sides.inner_m2k_w + 1.0 / side_film)
    top_w_k = top.area_m2 / (top.inner_m2k_w + 1.0 / top_film)
    gain_w = side_w_k * side_c + top_w_k * top_c + base_w_k * under_c
    return side_w_k + top_w_k + base_w_k, gain_w, side_film, side_c + now.beam_wm2 / side_film


def run(ball: Ball, temp_c: Array, given: Coefficients) -> BallRun:
    """Return the run of balls that start at ``temp_c`` (tree, member, 2), shell and core.

    The state is temperature, not enthalpy, so it stays true when the water content changes between
    runs: at one water content either follows from the other (`underbench.rules.enthalpy`).
    """
    nodes = nodes_of(ball, given.water_rel)
    faces = _faces_of(ball, given.water_rel)
    temps = np.moveaxis(temp_c, -1, 0)
    heat = enthalpy_j(nodes, temps)
    hours = given.side_wm2.shape[0]
    out = np.empty((3, hours, *temps.shape[1:]))
    for hour in range(hours):
        now = given.hour(hour)
        outer_w_k, outer_w, film, sun_c = _hour(ball, faces, temps[0], now)
        heat = hour_later_j(nodes, heat, outer_w_k, outer_w, now.deep_c)
        temps = temperature_c(nodes, heat)
        inner = faces[0].inner_m2k_w
        out[:2, hour] = temps
        out[2, hour] = (film * sun_c + temps[0] / inner) / (film + 1.0 / inner)
    shell, core, wall = np.ascontiguousarray(np.moveaxis(out, 1, -1))
    wall = np.where(ball.ground[:, None, None], shell, wall)
    frozen = (frozen_share(shell) + frozen_share(core)) / 2.0
    return BallRun(shell, core, frozen, wall, np.moveaxis(temps, 0, -1))
