"""A bag of dark or clear film over a chopped stump: shut, slit, or open. Known to ±5 K.

The model is a massless film between moving air outside and saturated air inside, with openings that
change the air. No published source covers a whole bag; each part of it says where it is from.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from underbench.rules.garden.journal import Opening
from underbench.rules.physics.cover import AirRun
from underbench.rules.physics.rootball import forced_wm2k, reflected_wm2
from underbench.rules.weather.air import psychrometric_kpa_k, saturation_kpa, slope_of
from underbench.rules.weather.constants import GRAVITY_MS2, KELVIN, SIGMA_WM2K4
from underbench.rules.weather.hourly import HOUR_S, Array

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
# Sun absorbed by the film, and by what is inside after passing the film. Judgement, no source.
DARK_FILM, CLEAR_FILM = (0.93, 0.0), (0.15, 0.45)
BAG_STEPS: Final = 4  # an hour; a shut bag's time constant is about a quarter of an hour

# Ventilation through openings on one side: the greater of what buoyancy and wind drive, with the
# coefficients of BS 5925 (Warren), from memory; wind at the bench is taken for its reference wind.
DISCHARGE: Final = 0.61
WIND_DRIVEN: Final = 0.025
AIR_HEAT_J_M3K: Final = 1230.0  # air at 15 °C; handbook, from memory
# Air that comes through takes vapour from the wet mix below, which is as wet as the inside.
WET_WITHIN_W_K: Final = BAG_WETNESS * BAG_STILL_WM2K * BAG_TOP_M2


@dataclass(frozen=True, slots=True)
class Vent:
    """An opening: its area, m², and its height, m, from foot to head."""

    area_m2: float = 0.0
    height_m: float = 0.0


VENTS: Final[dict[Opening, Vent]] = {
    Opening.SHUT: Vent(),
    # Two cuts of 15 cm that gape 2 cm; judgement.
    Opening.SLIT: Vent(0.006, 0.15),
    # Its top cut away or its mouth turned back: as wide as it is; judgement.
    Opening.OPEN: Vent(BAG_TOP_M2, BAG_WIDTH_M),
}


def run_bag(
    start_c: Array,
    dark: NDArray[np.bool_],
    vents: Sequence[Vent],
    *,
    air_c: Array,
    vapour_kpa: Array,
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
    """Return the air inside bags, from ``start_c`` (tree, member); ``dark`` and ``vents`` (tree,).

    Weather broadcasts to (tree, member, hour), with the meanings of
    `rules.physics.rootball.coefficients`; ``pot_c`` is what the bag stands over. Each step is exact
    for steady weather, except for the curves of saturation and buoyancy. A tied bag changes half
    its air an hour; that carries 0.003 W/K, a thousandth of what the film carries, and is left out.
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
    given = np.stack(
        np.broadcast_arrays(
            film_c, within_w, outer, radiative, pot_c, gamma, air_c, wind_ms, vapour_kpa
        )
    )
    by_hour = np.ascontiguousarray(np.moveaxis(given, -1, 0))
    area_m2 = np.array([vent.area_m2 for vent in vents])[:, None]
    height_m = np.array([vent.height_m for vent in vents])[:, None]
    inside_c, out = start_c, np.empty((*start_c.shape, film_c.shape[-1]))
    for hour, now in enumerate(by_hour):
        inside_c = _bag_hour_later_c(inside_c, now, area_m2, height_m)
        out[..., hour] = inside_c
    return AirRun(out, inside_c)


def _sun_on_bag_w(beam: Array, elevation_rad: Array, diffuse: Array, reflected: Array) -> Array:
    """Return the sun falling on a bag, W: silhouette to the beam, sides and top to the rest."""
    silhouette_m2 = BAG_WIDTH_M * BAG_HEIGHT_M * np.cos(elevation_rad)
    silhouette_m2 = silhouette_m2 + BAG_TOP_M2 * np.maximum(np.sin(elevation_rad), 0.0)
    sides = BAG_SIDE_M2 * (0.5 * diffuse + reflected)
    out: Array = beam * silhouette_m2 + sides + BAG_TOP_M2 * diffuse
    return out


def ventilation_m3_s(
    inside_c: Array, air_c: Array, wind_ms: Array, area_m2: Array, height_m: Array
) -> Array:
    """Return the air changed through openings on one side, m³/s, by buoyancy or by wind.

    BS 5925 for single-sided ventilation (Warren), from memory: Cd A/3 √(g h ΔT/T), or 0.025 A u.
    """
    lift = GRAVITY_MS2 * height_m * np.abs(inside_c - air_c) / (air_c + KELVIN)
    out: Array = area_m2 * np.maximum(DISCHARGE / 3.0 * np.sqrt(lift), WIND_DRIVEN * wind_ms)
    return out


def _bag_hour_later_c(inside_c: Array, given: Array, area_m2: Array, height_m: Array) -> Array:
    """Return the inside's temperature, °C, an hour on.

    ``given`` leads with the film's temperature if the bag were empty, the heat set free within, the
    films outside and by radiation, the pot's temperature, gamma, and the air, wind and vapour
    outside. Air that comes in takes up vapour through two films in turn: the stream that carries it
    through, and the still air at the wet surface. So however wide the opening, no more vapour
    leaves than can dry off.
    """
    film_c, within_w, outer, radiative, pot_c, gamma, air_c, wind_ms, vapour_kpa = given
    to_pot, all_shut = BAG_TO_POT_WM2K * BAG_TOP_M2, not area_m2.any()
    pot_w = to_pot * pot_c
    for _ in range(BAG_STEPS):
        saturated_kpa = saturation_kpa(inside_c)
        slope = slope_of(saturated_kpa, inside_c)
        inner = BAG_WETNESS * slope  # in place from here: this is an inmost loop
        inner /= gamma
        inner += 1.0
        inner *= BAG_STILL_WM2K
        inner += radiative
        through = BAG_FILM_M2 * inner
        through *= outer
        through /= np.add(inner, outer, out=inner)
        all_w_k, given_w = through + to_pot, through * film_c
        given_w += pot_w
        given_w += within_w
        if not all_shut:
            air_m3_s = ventilation_m3_s(inside_c, air_c, wind_ms, area_m2, height_m)
            air_w_k = AIR_HEAT_J_M3K * air_m3_s
            drying = air_w_k * WET_WITHIN_W_K / (air_w_k + WET_WITHIN_W_K) / gamma
            lacks_kpa = saturated_kpa - slope * inside_c - vapour_kpa
            all_w_k = all_w_k + air_w_k + drying * slope
            given_w = given_w + air_w_k * air_c - drying * lacks_kpa
        toward_c = given_w / all_w_k
        all_w_k *= -HOUR_S
        all_w_k /= BAG_STEPS * BAG_HEAT_J_K
        keeps = np.exp(all_w_k, out=all_w_k)
        inside_c = toward_c + keeps * (inside_c - toward_c)
    return inside_c
