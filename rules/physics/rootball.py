"""The root ball: how warm the roots at the wall and in the middle are, and how much is frozen.

Two nodes of equal volume, shell and core (`rules.physics.freezing`), behind massless faces that
trade heat with air, sun and sky. In the ground they are the upper and the lower half of the soil
that holds the roots, and the ground below them is walked too (`rules.physics.soil`). The
coefficients of the split were fitted on finite-volume boxes
of 0.4 to 15 L (root mean square error 0.2 K); wall, colour and mix are ordinary handbook values
from memory. Wind and sky at the bench, which a garden knows least, govern the error.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from underbench.rules.physics import soil
from underbench.rules.physics.freezing import Halves, Nodes, frozen_share
from underbench.rules.physics.pots import SNOW_WMK, SOIL_WMK, Ball
from underbench.rules.weather.air import (
    dew_point_c,
    psychrometric_kpa_k,
    saturation_kpa,
    slope_kpa_k,
)
from underbench.rules.weather.constants import (
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
from underbench.rules.weather.hourly import Array

TOP_WETNESS: Final = 0.8  # judgement, no source
TOP_ABSORPTANCE: Final = 0.75  # moist mix; from memory
EMISSIVITY: Final = 0.93
SIDE_SHADE: Final = 0.2  # neighbours and low branches; judgement, no source
CROWN_SHADE: Final = 0.3  # of a tree over its own pot; judgement, no source

SNOW_HIDES_M: Final = 0.02  # this much hides a pot's top from sun and sky; judgement

# The mix: akadama and pumice at container capacity (0.38) and wilting point (0.14); from memory.
MIX_DRY_J_M3K: Final = 0.5e6
WATER_AT_WILTING: Final = 0.14
WATER_AVAILABLE: Final = 0.24
MIX_DRY_WMK, MIX_MOIST_WMK = 0.20, 0.45
ICE_EXPANSION: Final = 1.09

NODE_TO_FACE, SHELL_TO_CORE = 0.40, 0.80  # fitted; a sphere has 0.27 and 0.81


def nodes_of(ball: Ball, water_rel: Array) -> Nodes:
    """Return the heat capacities and inner conductances at ``water_rel`` (tree, member), 0..1."""
    ground = _column(ball.ground)
    water = np.where(ground, soil.SOIL_WATER, WATER_AT_WILTING + WATER_AVAILABLE * water_rel)
    half_m3 = _column(ball.volume_m3 / 2.0)
    dry = np.where(ground, soil.SOIL_DRY_J_M3K, MIX_DRY_J_M3K)
    frozen = half_m3 * (dry + ICE_EXPANSION * HEAT_CAPACITY_ICE_J_M3K * water)
    latent = half_m3 * WATER_DENSITY_KG_M3 * LATENT_FUSION_J_KG * water
    conductivity = _conductivity_wmk(ball, water_rel)
    faces_m2 = _column(ball.volume_m3 / ball.path_m)
    inward = np.where(ground, soil.LAYER_TO_LAYER, SHELL_TO_CORE)
    return Nodes(
        thawed_j_k=half_m3 * (dry + HEAT_CAPACITY_WATER_J_M3K * water),
        freezing_j_k=frozen + latent,
        frozen_j_k=frozen,
        latent_j=latent,
        core_w_k=inward * conductivity * faces_m2 / _column(ball.path_m),
        deep_w_k=np.where(ground, soil.UPPER_WM2K * faces_m2, np.zeros_like(water_rel)),
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


class Hour(NamedTuple):
    """What an hour's weather does to balls, before any ball's own temperature is known.

    Shape (stand, member) or (tree, member); a stand is one set of surroundings. Radiation, W/m², is
    what a face takes less what it would lose at air temperature. ``side_sun_wm2`` falls on a side
    (mean of all sides); ``beam_wm2`` is what the sunny side gets beyond that; ``side_sky_wm2`` and
    ``top_wm2`` are absorbed. A wet face trades vapour as if with something at the dew point,
    through a film of ``latent_ratio`` times the convective one. ``wind_06`` is wind^0.6.
    """

    air_c: Array
    above_dew_k: Array
    deep_c: Array
    wind_06: Array
    radiative_wm2k: Array
    latent_ratio: Array
    side_sun_wm2: Array
    side_sky_wm2: Array
    top_wm2: Array
    beam_wm2: Array
    snow_m: Array


@dataclass(frozen=True, slots=True)
class Coefficients:
    """The hours of a run; ``hourly`` is (hour, which of `Hour`, stand, member)."""

    hourly: Array

    def hour(self, index: int, stand: NDArray[np.intp] | None) -> Hour:
        """Return one hour for trees at these stands (None: in order)."""
        hour = self.hourly[index]
        return Hour(*(hour if stand is None else hour.take(stand, axis=1)))


def coefficients(
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
    deep_c: Array,
    pressure_kpa: Array,
    snow_m: Array | None = None,
) -> Coefficients:
    """Return the coefficients of an hourly run.

    All weather broadcasts to (stand, member, hour) and has three dimensions; ``wind_ms`` is the
    wind at the pot. ``sun_share`` is 1 where the beam reaches the stand and 0 where it does not.
    ``snow_m`` lies round pots on the ground. Sides take the beam's mean over all azimuths: the mean
    silhouette of any convex plan is rim over pi (Cauchy).
    """
    black = SIGMA_WM2K4 * np.square(np.square(air_c + KELVIN))
    cold_sky = EMISSIVITY * sky_view * (longwave_down_wm2 - black)
    beam = beam_normal_wm2 * sun_share
    flat = (1.0 - SIDE_SHADE) * beam * np.cos(sun_elevation_rad)
    side_sun = 0.5 * sky_view * diffuse_wm2 + reflected_wm2(global_wm2, diffuse_wm2, sun_share)
    onto_top = beam * np.maximum(np.sin(sun_elevation_rad), 0.0) + sky_view * diffuse_wm2
    top = TOP_ABSORPTANCE * (1.0 - CROWN_SHADE) * onto_top + (1.0 - 0.6 * CROWN_SHADE) * cold_sky
    dew_c = np.minimum(dew_point_c(vapour_kpa), air_c)
    asked = Hour(
        air_c=air_c,
        above_dew_k=air_c - dew_c,
        deep_c=deep_c,
        wind_06=np.power(wind_ms, 0.6),
        radiative_wm2k=4.0 * EMISSIVITY * black / (air_c + KELVIN),
        latent_ratio=_chord_kpa_k(dew_c, air_c) / psychrometric_kpa_k(pressure_kpa),
        side_sun_wm2=flat / np.pi + side_sun,
        side_sky_wm2=0.5 * cold_sky,
        top_wm2=top,
        beam_wm2=flat * (1.0 - 1.0 / np.pi),
        snow_m=np.zeros((1, 1, 1)) if snow_m is None else snow_m,
    )
    alike = np.broadcast_shapes(*(values.shape for values in asked))
    hourly = np.empty((alike[-1], len(asked), *alike[:-1]))
    hours_last = np.moveaxis(hourly, 0, -1)
    for row, values in enumerate(asked):
        hours_last[row] = values
    return Coefficients(hourly)


def reflected_wm2(global_wm2: Array, diffuse_wm2: Array, sun_share: Array) -> Array:
    """Return what ground throws on a wall; its sun is the spot's, its albedo 0.2 (handbook)."""
    return 0.5 * 0.2 * (diffuse_wm2 + sun_share * (global_wm2 - diffuse_wm2))


def _chord_kpa_k(dew_c: Array, air_c: Array) -> Array:
    """Return the mean slope of the saturation curve from dew point to air. Unlike a tangent it is
    right at both ends: a face at the dew point gains no vapour, however warm the air."""
    apart_k = air_c - dew_c
    chord = (saturation_kpa(air_c) - saturation_kpa(dew_c)) / np.maximum(apart_k, 0.1)
    return np.where(apart_k > 0.1, chord, slope_kpa_k(air_c))


@dataclass(frozen=True, slots=True)
class BallRun:
    """How warm the balls were, (tree, member, hour), °C at the end of each hour.

    ``sun_wall_c`` is the wall that faces the sun; the roots behind it live at that temperature.
    ``frozen_share`` is that of the whole ball. ``temp_c`` (tree, member, 2), shell and core, starts
    the next run, and so does ``subsoil_c`` (tree, member, layer).
    """

    shell_c: Array
    core_c: Array
    frozen_share: Array
    sun_wall_c: Array
    temp_c: Array
    subsoil_c: Array


@dataclass(frozen=True, slots=True)
class _Faces:
    """Sides and top, (2, tree, member) or (2, tree, 1): conductance from the shell node out, W/m²K
    and W/K, wetness, still-air film. ``warm_4`` and ``cool_4`` times |dT| are the fourth power of
    free convection over a face warmer or cooler than the air; the forced film is ``forced`` (tree,
    1) × wind^0.6, at open ground ``rough`` (tree, 1) × wind. ``absorptance`` of the sides and
    ``base_deep`` are (tree, 1). ``base_w_k`` (tree, member) is the base's with no snow round it.
    """

    inner_wm2k: Array
    inner_w_k: Array
    wetness: Array
    warm_4: Array
    cool_4: Array
    forced: Array
    rough: Array
    any_ground: bool
    absorptance: Array
    base_deep: NDArray[np.bool_]
    base_w_k: Array


def _faces_of(ball: Ball, water_rel: Array) -> _Faces:
    """Return the faces. Free films of air over planes: Holman, from memory."""
    ground = _column(ball.ground)
    outward_m = np.where(ground, soil.LAYER_TO_FACE, NODE_TO_FACE) * _column(ball.path_m)
    to_face = outward_m / _conductivity_wmk(ball, water_rel)
    top_wetness = np.where(ground, soil.SOIL_WETNESS, TOP_WETNESS * water_rel)
    upright = 1.42**4 / _column(ball.height_m)
    across = 1.0 / np.where(ground, soil.PLUME_M, _column(ball.width_m))
    cover = np.where(ground, soil.SOIL_COVER_M2K_W, 0.0)
    inner_wm2k = 1.0 / np.stack([to_face + _column(ball.wall_m2k_w), to_face + cover])
    return _Faces(
        inner_wm2k=inner_wm2k,
        inner_w_k=np.stack([_column(ball.side_m2), _column(ball.top_m2)]) * inner_wm2k,
        wetness=np.stack([_column(ball.side_wetness) * water_rel, top_wetness]),
        warm_4=np.stack([upright, 1.32**4 * across]),
        cool_4=np.stack([upright, 0.59**4 * across]),
        forced=np.where(ground, 0.0, _column(forced_wm2k(np.ones(()), ball.width_m))),
        rough=np.where(ground, soil.rough_wm2k(np.ones(())), 0.0),
        any_ground=bool(ball.ground.any()),
        absorptance=_column(ball.absorptance),
        base_deep=ball.base_deep[:, None],
        base_w_k=_base_w_k(ball, inner_wm2k[0], _column(ball.base_wm2k)),
    )


def _base_w_k(ball: Ball, inner_wm2k: Array, film_wm2k: Array) -> Array:
    return _column(ball.base_m2) / (1.0 / inner_wm2k + 1.0 / film_wm2k)


def _exchange(faces: _Faces, shell_c: Array, absorbed_wm2: Array, now: Hour) -> tuple[Array, Array]:
    """Return the faces' films, W/m²K, and their temperatures, °C, with no ball behind them.

    Both are (2, tree, member). Free convection and dew follow the face's temperature with last
    hour's shell behind it. Free and forced films are joined by their fourth powers, as at a leaf
    (`rules.physics.leaf`). A face below the dew point is wet all over and gains what condenses.
    """
    forced = faces.forced * now.wind_06
    if faces.any_ground:
        forced += faces.rough * np.power(now.wind_06, 1.0 / 0.6)
    warmer_k = faces.inner_wm2k * (shell_c - now.air_c)
    warmer_k += absorbed_wm2
    warmer_k /= forced + now.radiative_wm2k + faces.inner_wm2k
    free_4 = np.where(warmer_k > 0.0, faces.warm_4, faces.cool_4)
    free_4 *= np.abs(warmer_k)
    free_4 += np.square(np.square(forced))
    convective = np.sqrt(np.sqrt(free_4, out=free_4), out=free_4)
    latent = np.where(warmer_k < -now.above_dew_k, 1.0, faces.wetness)
    latent *= convective
    latent *= now.latent_ratio
    film = convective + now.radiative_wm2k
    film += latent
    latent *= now.above_dew_k
    face_c = np.subtract(absorbed_wm2, latent, out=latent)
    face_c /= film
    face_c += now.air_c
    return film, face_c


def _hour(
    ball: Ball, faces: _Faces, shell_c: Array, now: Hour
) -> tuple[Array, Array, Array, Array]:
    """Return what surrounds shells for one hour that begins with the shell at ``shell_c``.

    Four terms: the shell's outer conductance, W/K; the heat it would gain at 0 °C, W; the film and
    the sol-air temperature of the sunny wall.
    """
    absorbed_wm2 = np.empty((2, *shell_c.shape))
    np.add(faces.absorptance * now.side_sun_wm2, now.side_sky_wm2, out=absorbed_wm2[0])
    absorbed_wm2[1] = now.top_wm2
    film, face_c = _exchange(faces, shell_c, absorbed_wm2, now)
    sunny_c = face_c[0] + faces.absorptance * now.beam_wm2 / film[0]
    outer, base_w_k = film, faces.base_w_k
    if np.count_nonzero(now.snow_m):
        outer, face_c, base_w_k = _under_snow(ball, film, face_c, faces.inner_wm2k[0], now)
    through_w_k = faces.inner_w_k * outer
    through_w_k /= faces.inner_wm2k + outer
    gain_w = through_w_k * face_c
    base_w = base_w_k * np.where(faces.base_deep, now.deep_c, now.air_c)
    total_w_k = through_w_k[0] + through_w_k[1] + base_w_k
    return total_w_k, gain_w[0] + gain_w[1] + base_w, film[0], sunny_c


def _under_snow(
    ball: Ball, film: Array, face_c: Array, inner_wm2k: Array, now: Hour
) -> tuple[Array, Array, Array]:
    """Return films, face temperatures and the base's W/K with snow round pots on the ground.

    Snow buries the sides as high as it lies; they lose heat through half its depth. The top lies
    under its whole depth. No sun gets through, and the snow's surface is taken to be at air
    temperature.
    """
    depth_m = np.where(_column(ball.on_ground), now.snow_m, 0.0)
    path = np.stack([depth_m / 2.0, depth_m]) / SNOW_WMK
    share = np.minimum(
        depth_m / np.stack(np.broadcast_arrays(_column(ball.height_m), SNOW_HIDES_M)), 1.0
    )
    through_snow, open_air = share * film / (1.0 + film * path), (1.0 - share) * film
    outer = through_snow + open_air
    from_air = np.where(_column(ball.base_deep), 0.0, path[0])
    base_film = _column(ball.base_wm2k)
    return (
        outer,
        np.where(share > 0.0, now.air_c + open_air * (face_c - now.air_c) / outer, face_c),
        _base_w_k(ball, inner_wm2k, base_film / (1.0 + base_film * from_air)),
    )


def run(
    ball: Ball,
    temp_c: Array,
    given: Coefficients,
    water_rel: Array,
    stand: NDArray[np.intp] | None = None,
    *,
    subsoil_c: Array,
) -> BallRun:
    """Return the run of balls that start at ``temp_c`` (tree, member, 2), shell and core.

    ``subsoil_c`` (tree, member, layer) is the ground below roots that are in the ground.
    ``water_rel`` (tree, member) stays the same through the run. ``stand`` (tree,) gives each tree's
    stand in ``given`` (None: its own, or the only one). The state is temperature, not enthalpy, so
    it stays true when the water content changes between runs. A run cut anywhere goes on to the
    same bits.
    """
    halves = Halves(nodes_of(ball, water_rel))
    faces = _faces_of(ball, water_rel)
    temps = np.ascontiguousarray(np.moveaxis(temp_c, -1, 0))
    hours = len(given.hourly)
    out = np.empty((3, hours, *temps.shape[1:]))
    inner, below_c = faces.inner_wm2k[0], np.moveaxis(subsoil_c, -1, 0)
    for hour in range(hours):
        now = given.hour(hour, stand)
        outer_w_k, outer_w, film, sunny_c = _hour(ball, faces, temps[0], now)
        core_c = temps[1]
        temps = halves.hour_later_c(temps, outer_w_k, outer_w, below_c[0])
        if faces.any_ground:
            below_c = soil.hour_later_c(below_c, 0.5 * (core_c + temps[1]))
        out[:2, hour] = temps
        sunny_c *= film
        sunny_c += temps[0] * inner
        np.divide(sunny_c, film + inner, out=out[2, hour])
    shell, core, wall = np.moveaxis(out, 1, -1)
    np.copyto(wall, shell, where=ball.side_m2[:, None, None] == 0.0)
    frozen = frozen_share(shell)
    frozen += frozen_share(core)
    frozen /= 2.0
    return BallRun(
        shell, core, frozen, wall, np.moveaxis(temps, 0, -1), np.moveaxis(below_c, 0, -1)
    )
