"""What stands between a tree and the weather: fleece, cloth, frame, greenhouse, shed, and a bag.

Covers change sun, sky and wind by plain shares and the air by a first-order lag. Few of their
numbers have a published source; each says where it is from. A bag's inside is known to ±5 K.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from math import nan
from typing import Final

import numpy as np
from numpy.typing import NDArray

from underbench.rules.air import psychrometric_kpa_k, slope_kpa_k
from underbench.rules.constants import KELVIN, SIGMA_WM2K4
from underbench.rules.rootball import forced_wm2k, reflected_wm2
from underbench.rules.weather import HOUR_S, Array


class CoverKind(StrEnum):
    """A kind of cover, in the trade's words."""

    OPEN = "open"
    FLEECE_1 = "fleece, 1 layer"
    FLEECE_2 = "fleece, 2 layers"
    HALF_SHADE = "half shade"
    FULL_SHADE = "full shade"
    FRAME_SHUT = "cold frame, shut"
    FRAME_VENTED = "cold frame, vented"
    GREENHOUSE_SHUT = "greenhouse, shut"
    GREENHOUSE_VENTED = "greenhouse, vented"
    SHED = "shed"
    INDOORS = "indoors"


@dataclass(frozen=True, slots=True)
class Cover:
    """A cover as numbers.

    ``sun_share``, ``sky_share`` and ``wind_share`` of what the open spot has; ``rain_share`` 0
    under a roof. Its air tends, with time constant ``lag_h``, to outside air mixed with
    ``ground_share`` parts of the deep ground's warmth, plus ``sun_k_m2_w`` per W/m² of global
    radiation and ``sky_k_m2_w`` per W/m² of net longwave (negative under a clear sky). ``held_c``:
    the air is held there whatever it is outside (NaN: it is not).
    """

    sun_share: float = 1.0
    sky_share: float = 1.0
    wind_share: float = 1.0
    rain_share: float = 1.0
    lag_h: float = 0.0
    ground_share: float = 0.0
    sun_k_m2_w: float = 0.0
    sky_k_m2_w: float = 0.0
    held_c: float = nan


COVERS: Final[dict[CoverKind, Cover]] = {
    CoverKind.OPEN: Cover(),
    # 17 to 30 g/m² fleece passes about 85 % of light and about half the longwave, and is worth 1 to
    # 2 K a layer when it reaches the ground. Common practice, no source.
    CoverKind.FLEECE_1: Cover(
        sun_share=0.85, sky_share=0.5, wind_share=0.3, lag_h=0.3, ground_share=0.1, sun_k_m2_w=0.004
    ),
    CoverKind.FLEECE_2: Cover(
        sun_share=0.7, sky_share=0.25, wind_share=0.2, lag_h=0.5, ground_share=0.2, sun_k_m2_w=0.006
    ),
    # 50 % and 90 % cloth overhead, open at the sides: the air beneath is the garden's. Judgement.
    CoverKind.HALF_SHADE: Cover(sun_share=0.5, sky_share=0.7, wind_share=0.8),
    CoverKind.FULL_SHADE: Cover(sun_share=0.1, sky_share=0.4, wind_share=0.7),
    # A shut frame in full sun runs 15 to 20 K over; a small one falls below the air late on a clear
    # night where little warmth comes up (Sugiyama 1967 on small tunnels, as quoted), else stays a
    # degree or so above it (Savage 1980, tunnels: minima 1.3 K up, as quoted). Slopes: judgement.
    CoverKind.FRAME_SHUT: Cover(
        sun_share=0.8,
        sky_share=0.2,
        wind_share=0.1,
        rain_share=0.0,
        lag_h=0.5,
        ground_share=0.2,
        sun_k_m2_w=0.022,
        sky_k_m2_w=0.01,
    ),
    # Lights propped or off: at most 2 K over in full sun. Common practice, no source.
    CoverKind.FRAME_VENTED: Cover(
        sun_share=0.85, sky_share=0.6, wind_share=0.5, rain_share=0.0, lag_h=0.1, sun_k_m2_w=0.0018
    ),
    # Larger, slower and leakier than a frame; single glass at night close to outside. Judgement.
    CoverKind.GREENHOUSE_SHUT: Cover(
        sun_share=0.75,
        sky_share=0.1,
        wind_share=0.05,
        rain_share=0.0,
        lag_h=1.0,
        ground_share=0.2,
        sun_k_m2_w=0.018,
        sky_k_m2_w=0.005,
    ),
    # With its vents open, up to 4 K over. Judgement.
    CoverKind.GREENHOUSE_VENTED: Cover(
        sun_share=0.75, sky_share=0.1, wind_share=0.3, rain_share=0.0, lag_h=0.3, sun_k_m2_w=0.004
    ),
    # Dark, dry and slow; a day's swing mostly passes it by. Judgement, no source.
    CoverKind.SHED: Cover(
        sun_share=0.02,
        sky_share=0.0,
        wind_share=0.02,
        rain_share=0.0,
        lag_h=5.0,
        ground_share=0.25,
        sun_k_m2_w=0.003,
    ),
    # A lived-in room by a window. Judgement, no source.
    CoverKind.INDOORS: Cover(0.3, 0.0, 0.02, 0.0, 2.0, held_c=18.0),
}


@dataclass(frozen=True, slots=True)
class AirRun:
    """Air under a cover or in a bag: ``air_c`` (tree, member, hour) at the end of each hour, and
    ``end_c`` (tree, member) to start the next run with."""

    air_c: Array
    end_c: Array


def covered_air(
    covers: Sequence[Cover],
    start_c: Array,
    *,
    air_c: Array,
    global_wm2: Array,
    net_longwave_wm2: Array,
    deep_c: Array,
) -> AirRun:
    """Return the air under one cover per tree, from ``start_c`` (tree, member).

    Weather broadcasts to (tree, member, hour); ``net_longwave_wm2`` is the sky's less a black
    body's at air temperature. In the open the answer is ``air_c`` itself.
    """
    lag_h, ground, sun_k, sky_k = (
        np.array([getattr(one, name) for one in covers])[:, None, None]
        for name in ("lag_h", "ground_share", "sun_k_m2_w", "sky_k_m2_w")
    )
    toward_c = air_c + ground / (1.0 + ground) * (deep_c - air_c)
    toward_c = toward_c + sun_k * global_wm2 + sky_k * net_longwave_wm2
    held_c = np.array([one.held_c for one in covers])[:, None, None]
    toward_c = np.where(np.isnan(held_c), toward_c, held_c)
    with np.errstate(divide="ignore"):
        keeps = np.exp(-1.0 / lag_h)[..., 0]
    inside_c, out = start_c, np.empty((*start_c.shape, toward_c.shape[-1]))
    for hour in range(toward_c.shape[-1]):
        toward = toward_c[..., hour]
        inside_c = toward + keeps * (inside_c - toward)
        out[..., hour] = inside_c
    return AirRun(out, inside_c)


# A bag of 25 × 40 cm over a stump. It is taken as standing open to all sides.
BAG_WIDTH_M, BAG_HEIGHT_M = 0.25, 0.40
BAG_SIDE_M2: Final = np.pi * BAG_WIDTH_M * BAG_HEIGHT_M
BAG_TOP_M2: Final = np.pi / 4.0 * BAG_WIDTH_M**2
BAG_FILM_M2: Final = BAG_SIDE_M2 + BAG_TOP_M2
BAG_HEAT_J_K: Final = 4000.0  # air, stump and wet mix skin; judgement
BAG_TO_POT_WM2K: Final = 5.0  # through the pot's top; judgement
BAG_STILL_WM2K: Final = 3.2  # free convection, 10 K across 40 cm; Holman, from memory
BAG_WETNESS: Final = 0.8  # share of the inside at saturation; judgement
FILM_EMISSIVITY: Final = 0.93  # polythene with a film of condensation; judgement
# Absorbed by the film, and by what is inside after passing the film. Judgement, no source.
DARK_FILM, CLEAR_FILM = (0.93, 0.0), (0.15, 0.45)
BAG_STEPS: Final = 4  # an hour; its time constant is about a quarter of one


def run_bag(
    start_c: Array,
    dark: NDArray[np.bool_],
    *,
    air_c: Array,
    wind_ms: Array,
    beam_normal_wm2: Array,
    sun_elevation_rad: Array,
    diffuse_wm2: Array,
    global_wm2: Array,
    longwave_down_wm2: Array,
    sky_view: Array,
    sun_share: Array,
    pot_c: Array,
    pressure_kpa: Array,
) -> AirRun:
    """Return the air inside shut bags, from ``start_c`` (tree, member); ``dark`` (tree,).

    Weather broadcasts to (tree, member, hour), with the meanings of
    `underbench.rules.rootball.coefficients`; ``pot_c`` is what the bag stands over. A massless film
    between moving air outside and saturated air inside; each step is exact for steady weather. The
    half air change an hour of a tied bag carries 0.003 W/K, a thousandth of the film: left out.
    """
    black = SIGMA_WM2K4 * (air_c + KELVIN) ** 4
    radiative = 4.0 * FILM_EMISSIVITY * black / (air_c + KELVIN)
    forced = forced_wm2k(wind_ms, np.array(BAG_WIDTH_M))
    outer = np.cbrt(forced**3 + BAG_STILL_WM2K**3) + radiative
    reflected = reflected_wm2(global_wm2, diffuse_wm2, sun_share)
    beam, diffuse = beam_normal_wm2 * sun_share, sky_view * diffuse_wm2
    sun_w = _sun_on_bag_w(beam, sun_elevation_rad, diffuse, reflected)
    sky_m2 = sky_view * (0.5 * BAG_SIDE_M2 + BAG_TOP_M2)
    film_w = sky_m2 * FILM_EMISSIVITY * (longwave_down_wm2 - black)
    film_w = film_w + np.where(dark, DARK_FILM[0], CLEAR_FILM[0])[:, None, None] * sun_w
    within_w = np.where(dark, DARK_FILM[1], CLEAR_FILM[1])[:, None, None] * sun_w
    film_c = air_c + film_w / (BAG_FILM_M2 * outer)
    gamma = psychrometric_kpa_k(pressure_kpa)
    given = np.stack(np.broadcast_arrays(film_c, within_w, outer, radiative, pot_c, gamma))
    inside_c, out = start_c, np.empty((*start_c.shape, film_c.shape[-1]))
    for hour in range(film_c.shape[-1]):
        inside_c = _bag_hour_later_c(inside_c, given[..., hour])
        out[..., hour] = inside_c
    return AirRun(out, inside_c)


def _sun_on_bag_w(beam: Array, elevation_rad: Array, diffuse: Array, reflected: Array) -> Array:
    """Return the sun falling on a bag, W: silhouette to the beam, sides and top to the rest."""
    silhouette_m2 = BAG_WIDTH_M * BAG_HEIGHT_M * np.cos(elevation_rad)
    silhouette_m2 = silhouette_m2 + BAG_TOP_M2 * np.maximum(np.sin(elevation_rad), 0.0)
    sides = BAG_SIDE_M2 * (0.5 * diffuse + reflected)
    out: Array = beam * silhouette_m2 + sides + BAG_TOP_M2 * diffuse
    return out


def _bag_hour_later_c(inside_c: Array, given: Array) -> Array:
    """Return the inside an hour on; ``given`` leads with the film's temperature were it empty, heat
    set free within, films outside and by radiation, the pot's temperature and gamma."""
    film_c, within_w, outer, radiative, pot_c, gamma = given
    to_pot = BAG_TO_POT_WM2K * BAG_TOP_M2
    for _ in range(BAG_STEPS):
        wet = 1.0 + BAG_WETNESS * slope_kpa_k(inside_c) / gamma
        inner = BAG_STILL_WM2K * wet + radiative
        through = BAG_FILM_M2 * inner * outer / (inner + outer)
        all_w_k = through + to_pot
        toward = (through * film_c + to_pot * pot_c + within_w) / all_w_k
        keeps = np.exp(-all_w_k * HOUR_S / (BAG_STEPS * BAG_HEAT_J_K))
        inside_c = toward + keeps * (inside_c - toward)
    return inside_c
