"""Physical constants several models share. SI, unless the name says otherwise."""

from __future__ import annotations

from typing import Final

KELVIN: Final = 273.15  # 0 °C; ITS-90
SIGMA_WM2K4: Final = 5.670374e-8  # Stefan-Boltzmann; CODATA 2018
GRAVITY_MS2: Final = 9.80665  # standard gravity; CGPM 1901

# FAO Irrigation and Drainage Paper 56 (Allen et al. 1998), chapter 3.
HEAT_CAPACITY_AIR_J_KGK: Final = 1013.0  # moist air at constant pressure; eq. 8
SOLAR_CONSTANT_MJ_M2MIN: Final = 0.0820  # eq. 21
SOLAR_CONSTANT_WM2: Final = SOLAR_CONSTANT_MJ_M2MIN * 1e6 / 60.0

# Handbook values, from memory.
LATENT_FUSION_J_KG: Final = 3.34e5
WATER_DENSITY_KG_M3: Final = 1000.0
HEAT_CAPACITY_WATER_J_M3K: Final = 4.18e6
HEAT_CAPACITY_ICE_J_M3K: Final = 1.93e6

# Air at 10 °C, from memory. These move by less than 15 % between -10 and 30 °C, and the transfer
# coefficients built from them go with powers below one.
AIR_CONDUCTIVITY_WMK: Final = 0.0250
AIR_VISCOSITY_M2S: Final = 1.42e-5  # kinematic
AIR_PRANDTL: Final = 0.71
