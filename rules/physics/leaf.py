"""The temperature of a leaf from its energy balance: frost on clear nights, scorch in the sun.

The model is a thin leaf or needle without a heat store. Both faces exchange heat with the air. The
upper face sees the sky through ``sky_view``; the rest of it, and the whole lower face, sees
surroundings at air temperature.

Ice is no store either. A leaf holds 150 to 200 g/m² of water (handbook value, from memory), which
takes 50 to 67 kJ/m² to melt. Sun that leaves 100 W/m² over melts it in 8 to 11 minutes; a warm
morning's air alone (30 W/m²) takes about half an hour. So a leaf thaws within the hour.

Whether a quick thaw hurts more than a slow one is not settled: the FAO's handbook (Snyder & de
Melo-Abreu 2005, ch. 4, read as quoted) calls the evidence "not strong". Growers keep frosted leaves
out of early sun all the same (common practice, no source). So a quick thaw moves no limit here and
is told as advice.
"""

from __future__ import annotations

import numpy as np

from underbench.rules.weather.air import Values, psychrometric_kpa_k, saturation_kpa
from underbench.rules.weather.constants import (
    AIR_CONDUCTIVITY_WMK,
    AIR_VISCOSITY_M2S,
    HEAT_CAPACITY_AIR_J_KGK,
    KELVIN,
    SIGMA_WM2K4,
)
from underbench.rules.weather.hourly import Array

LEAF_EMISSIVITY = 0.96  # handbook value, from memory
LEAF_ABSORPTANCE = 0.50  # of solar radiation; Campbell & Norman 1998, table 11.4, from memory

# Mean Nusselt number of a flat plate, 0.60 Re^0.5, times 1.4 for turbulence outdoors: Monteith &
# Unsworth, Principles of Environmental Physics; Campbell & Norman 1998, ch. 7. From memory.
PLATE_NUSSELT = 1.4 * 0.60
FREE_WM2K = 1.47  # times (dT / width)^0.25; Campbell & Norman 1998, eq. 7.30, from memory
# Forced and free films are joined by their fourth powers (transverse flow: Incropera & DeWitt,
# Fundamentals of Heat and Mass Transfer, from memory), which also spares a cube root.

# Conductance of a broad-leaved deciduous tree's leaf, wide open: 190 mmol/m²s, 5 mm/s (Körner
# 1995, from memory). It halves where the deficit is 1.5 kPa (Leuning 1995, form from memory, value
# judgement) and where sunshine falls to 100 W/m² (judgement). Stomata on the lower face only.
STOMATA_OPEN_MS = 0.005
HALVING_DEFICIT_KPA = 1.5
HALVING_SUN_WM2 = 100.0

AIR_HEAT_J_M3K = 1.22 * HEAT_CAPACITY_AIR_J_KGK  # density at 15 °C at sea level
SEA_LEVEL_GAMMA_KPA_K = float(psychrometric_kpa_k(101.3))
CALM_MS = 0.05  # air outdoors is never stiller than this; keeps the film above zero
# Vapour settles as dew above 0 °C and as rime below: Tetens over water, and over ice (Snyder & de
# Melo-Abreu 2005, constants as in `rules.weather.air`). Ice also frees the heat of melting.
TETENS_WATER = (17.27, 237.3)
TETENS_ICE = (21.875, 265.5)
# That heat comes in over the first kelvin, because dew does not freeze at once (judgement). So
# there is no step at 0 °C.
MELTING_SHARE = 0.334 / 2.50  # heat of melting over that of vaporisation, MJ/kg; handbook
SWEEPS = 4  # within 0.01 K of the root for -45..50 °C, calm to 60 m/s, any sun


def leaf_temperature_c(
    *,
    air_c: Values,
    vapour_kpa: Values,
    wind_ms: Values,
    longwave_down_wm2: Values,
    sun_wm2: Values,
    width_m: Values,
    sky_view: Values,
    transpiring: Values,
) -> Array:
    """Return the temperature, °C, of leaves, buds or needles.

    ``wind_ms`` at the leaf; ``longwave_down_wm2`` of the whole sky; ``sun_wm2`` shortwave falling
    on the leaf, half of it absorbed; ``width_m`` across the wind (2 mm for a needle);
    ``transpiring`` 0..1, how well watered and leafy it is (0: bud, dormant or dry).

    Below the dew point, dew settles and warms the leaf. From 0 °C down it settles as rime, because
    air saturates sooner over ice; that makes 0.1 K at a leaf of -3 °C in damp air, 0.2 K at -6.
    Newton's method finds the root of the balance, with the film coefficient of the sweep before.
    """
    air, vapour = np.asarray(air_c, dtype=float), np.asarray(vapour_kpa, dtype=float)
    black_air = SIGMA_WM2K4 * np.square(np.square(air + KELVIN))
    radiation = LEAF_EMISSIVITY * np.asarray(sky_view) * (longwave_down_wm2 - black_air)
    radiation = radiation + LEAF_ABSORPTANCE * np.asarray(sun_wm2)
    forced = forced_film_wm2k(wind_ms, width_m)
    stomatal = _stomatal_wm2k(transpiring, sun_wm2, saturation_kpa(air) - vapour)
    excess = radiation / (2.0 * forced + 8.0 * LEAF_EMISSIVITY * black_air / (air + KELVIN))
    forced4, free4 = np.square(np.square(forced)), FREE_WM2K**4 / np.asarray(width_m)
    for _ in range(SWEEPS):
        film = np.sqrt(np.sqrt(forced4 + free4 * np.abs(excess)))
        excess = excess + _step_k(
            excess,
            film,
            air_c=air,
            vapour_kpa=vapour,
            black_air=black_air,
            radiation=radiation,
            stomatal=stomatal,
        )
    return air + excess


def forced_film_wm2k(wind_ms: Values, width_m: Values) -> Array:
    """Return the forced film coefficient of one face, W/m²K, mean over the leaf."""
    wind = np.maximum(wind_ms, CALM_MS)
    per_root = PLATE_NUSSELT * AIR_CONDUCTIVITY_WMK / np.sqrt(AIR_VISCOSITY_M2S)
    out: Array = per_root * np.sqrt(wind / np.asarray(width_m, dtype=float))
    return out


def _stomatal_wm2k(transpiring: Values, sun_wm2: Values, deficit_kpa: Array) -> Array:
    """Return the stomata's conductance for vapour, as the film that would pass as much."""
    sun = np.asarray(sun_wm2, dtype=float)
    light = sun / (sun + HALVING_SUN_WM2)
    dryness = 1.0 + np.maximum(deficit_kpa, 0.0) / HALVING_DEFICIT_KPA
    return np.asarray(AIR_HEAT_J_M3K * STOMATA_OPEN_MS * transpiring * light / dryness)


def _step_k(
    excess_k: Array,
    film_wm2k: Array,
    *,
    air_c: Array,
    vapour_kpa: Array,
    black_air: Array,
    radiation: Array,
    stomatal: Array,
) -> Array:
    """Return Newton's step for the leaf's excess over air: surplus over its slope, W/m²."""
    leaf_c = air_c + excess_k
    leaf_k = leaf_c + KELVIN
    black_leaf = SIGMA_WM2K4 * np.square(np.square(leaf_k))
    icy = leaf_c < 0.0
    a, b = (np.where(icy, *pair) for pair in zip(TETENS_ICE, TETENS_WATER, strict=True))
    saturated = 0.6108 * np.exp(a * leaf_c / (leaf_c + b))
    through_stomata = film_wm2k * stomatal / (film_wm2k + stomatal)
    vapour_film = np.where(saturated < vapour_kpa, 2.0 * film_wm2k, through_stomata)
    latent = vapour_film / SEA_LEVEL_GAMMA_KPA_K
    latent = latent * (1.0 + MELTING_SHARE * np.clip(-leaf_c, 0.0, 1.0))
    lost = 2.0 * (LEAF_EMISSIVITY * (black_leaf - black_air) + film_wm2k * excess_k)
    lost = lost + latent * (saturated - vapour_kpa)
    slope = 2.0 * (4.0 * LEAF_EMISSIVITY * black_leaf / leaf_k + film_wm2k)
    slope = slope + latent * a * b * saturated / np.square(leaf_c + b)
    out: Array = (radiation - lost) / slope
    return out
