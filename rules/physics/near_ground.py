"""The air between the ground and 2 m: colder than the forecast's on a clear calm night, hotter over
sunlit paving.

A forecast's air is that of 2 m. The ground below cools under an open sky, and the air next to it
with it, the more so the less the wind stirs the layer. The ground's skin is found from its energy
balance (radiation, ground heat, air, dew), and the air at a height from the profile between the
skin and 2 m. At 2 m nothing changes.

- Ground heat: a skin over a slab that holds the day's heat, after Deardorff 1978 (J. Geophys. Res.
  83; force and restore), with a skin conductance as in Holtslag & De Bruin 1988 (J. Appl. Meteor.
  27) and Duynkerke 1999 (Boundary-Layer Meteor. 90).
- Exchange with the air: neutral logarithmic resistance, times 1 + 12 Ri where the layer is stable
  (Delage 1997, Boundary-Layer Meteor. 82). In this form the balance of the night is a quadratic.
- Profile: logarithmic and linear up to z/L = 1 (Webb 1970, Quart. J. R. Met. Soc. 96) and no more
  curved than there; by day after Dyer & Businger (Dyer 1974, Boundary-Layer Meteor. 7).

All forms and their constants are from memory unless a line says otherwise. They hold for a wide
level surface. In a garden the ground changes every few metres, and that is the larger error. On a
slope the night's air flows down and stays mixed: over a meadow in the Alps the surface is reckoned
1.4 K too cold (`tests/bench/near_ground.py`, where the numbers of three sites stand).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final, NamedTuple

import numpy as np

from underbench.rules.garden.inventory import Surface
from underbench.rules.physics.pots import SNOW_WMK
from underbench.rules.weather.air import Values, dew_point_c, psychrometric_kpa_k, slope_kpa_k
from underbench.rules.weather.constants import GRAVITY_MS2, KELVIN, SIGMA_WM2K4
from underbench.rules.weather.hourly import HOUR_S, Array

REFERENCE_M: Final = 2.0  # the height of a forecast's air
WIND_FROM_M: Final = 10.0  # and of its wind
LEAST_WIND_MS: Final = 0.1
VON_KARMAN: Final = 0.41
AIR_J_M3K: Final = 1.22 * 1013.0
EMISSIVITY: Final = 0.96  # grass, soil and stone 0.92 to 0.98: Oke 1987, from memory
STABLE_PER_RI: Final = 12.0  # Delage 1997
WEBB: Final = 5.0
HEAT_BELOW_MOMENTUM: Final = 0.1  # roughness for heat over that for wind; FAO-56, eq. 4
LOWEST_M: Final = 0.05
FREE_WM2K: Final = 1.52  # times dT^(1/3), a wide hot plate facing up; Holman, from memory
MOST_UNSTABLE: Final = -5.0  # 2 m over Obukhov's length
DAY_S: Final = 24 * HOUR_S
RESTORE: Final = 2.0 * np.pi / DAY_S
SNOW_ALBEDO: Final = 0.7  # old snow 0.4, fresh 0.95: Oke 1987, from memory
SNOW_HIDES_M: Final = 0.02  # this much hides the ground; judgement


@dataclass(frozen=True, slots=True)
class Ground:
    """A surface as numbers.

    ``admittance`` J/m²K√s says how much heat it stores through a day. ``skin_wm2k`` is the
    conductance from the skin that sees the sky to what stores heat. ``rough_m`` is the roughness
    length. ``drying_s_m`` is the surface's resistance to evaporation by day.
    """

    albedo: float
    skin_wm2k: float
    admittance: float
    rough_m: float
    drying_s_m: float

    @property
    def heat_j_m2k(self) -> float:
        """What stores the day's heat, J/m²K (Deardorff 1978: the day's damping depth over 2√π)."""
        return float(self.admittance * np.sqrt(DAY_S) / (2.0 * np.sqrt(np.pi)))


BARE_WM2K: Final = 60.0  # about a centimetre of stone or soil; judgement
DRY_S_M: Final = 1e5
# Albedo, admittance and roughness: Oke 1987, Boundary Layer Climates, tables 1.1, 2.2, 7.4 (from
# memory): soils 600 (dry) to 2500 (wet), asphalt 1205, dense concrete 1785, dense wood 535, light
# wood 200. Grass: albedo 0.23 and 70 s/m of FAO-56, skin 3 W/m²K of Duynkerke 1999, measured on
# grass at Cabauw. The skin of 10 that the ECMWF's scheme gives all grass (read in ecland,
# susveg_mod.F90) leaves De Bilt's 10 cm 1.4 K too warm, and the Alps' meadow 0.4 K too cold. Gravel
# is loose and dry; a flat roof is felt on insulation. These two, and drying of soil, are judgement.
GROUNDS: Final = {
    Surface.GRASS: Ground(0.23, 3.0, 1500.0, 0.005, 70.0),
    Surface.SOIL: Ground(0.17, BARE_WM2K, 1500.0, 0.005, 500.0),
    Surface.GRAVEL: Ground(0.25, 15.0, 900.0, 0.005, DRY_S_M),
    Surface.PAVING: Ground(0.25, BARE_WM2K, 1785.0, 0.001, DRY_S_M),
    Surface.DECKING: Ground(0.25, BARE_WM2K, 535.0, 0.001, DRY_S_M),
    Surface.FLAT_ROOF: Ground(0.15, BARE_WM2K, 400.0, 0.005, DRY_S_M),
}
SURFACES: Final = tuple(Surface)  # a stand's surface is held as its index here


class _Column(NamedTuple):
    """Grounds, one per stand, each (stand, 1, 1)."""

    albedo: Array
    skin_wm2k: Array
    heat_wm2k: Array
    rough_m: Array
    drying_s_m: Array


def _column(grounds: Sequence[Ground]) -> _Column:
    rows = [
        (one.albedo, one.skin_wm2k, one.heat_j_m2k / HOUR_S, one.rough_m, one.drying_s_m)
        for one in grounds
    ]
    return _Column(*np.array(rows).T[:, :, None, None])


@dataclass(frozen=True, slots=True)
class Layer:
    """The layer below 2 m (``reference_m``) over each stand's ground, (stand, member, hour).

    ``colder_k`` is the air at 2 m less the skin. ``stability`` is 2 m over Obukhov's length,
    negative by day. ``rough_m`` is (stand, 1, 1). ``end_c`` (stand, member) is the slab below the
    skin at the end, to start the next run.
    """

    colder_k: Array
    stability: Array
    rough_m: Array
    reference_m: float
    end_c: Array

    def air_k(self, height_m: Values) -> Array:
        """Return the air at ``height_m`` (stand, 1, 1) less the air at 2 m, K."""
        above_skin = self._share(height_m, HEAT_BELOW_MOMENTUM * self.rough_m, self.stability)
        return np.asarray((above_skin - 1.0) * self.colder_k)

    def wind_share(self, height_m: Values) -> Array:
        """Return the wind at ``height_m`` over the wind of the neutral profile there, 0..1."""
        stable = np.maximum(self.stability, 0.0)
        share = self._share(height_m, self.rough_m, stable)
        return np.asarray(share / self._share(height_m, self.rough_m, np.zeros(())))

    def _share(self, height_m: Values, rough_m: Array, stability: Array) -> Array:
        return profile_share(height_m, rough_m, stability, self.reference_m)


def layer(
    grounds: Sequence[Ground],
    start_c: Array,
    *,
    air_c: Array,
    vapour_kpa: Array,
    wind_ms: Array,
    longwave_wm2: Array,
    sun_wm2: Array,
    sky_view: Array,
    deep_c: Array,
    snow_m: Array,
    pressure_kpa: Array,
    reference_m: float = REFERENCE_M,
    wind_from_m: float = WIND_FROM_M,
) -> Layer:
    """Return the layer over one ground per stand, from slabs at ``start_c`` (stand, member).

    Weather broadcasts to (stand, member, hour): ``air_c``, ``vapour_kpa`` and ``wind_ms`` at
    ``reference_m``, the wind brought down from ``wind_from_m`` by the neutral profile;
    ``longwave_wm2`` of the whole sky; ``sun_wm2`` on the ground; ``sky_view`` of it; ``deep_c`` far
    below; ``snow_m`` lying.
    """
    ground = _column(grounds)
    given = _forcing(
        ground,
        air_c,
        vapour_kpa,
        wind_ms,
        longwave_wm2,
        sun_wm2,
        sky_view,
        snow_m,
        pressure_kpa,
        deep_c,
        (reference_m, wind_from_m),
    )
    shape = (len(grounds), *np.broadcast_shapes(*(one.shape for one in given))[1:])
    hourly = np.empty((shape[-1], len(given), *shape[:-1]))
    hours_last = np.moveaxis(hourly, 0, -1)
    for row, values in enumerate(given):
        hours_last[row] = values
    colder, slab = np.empty((shape[-1], *shape[:-1])), start_c
    heat = ground.heat_wm2k[..., 0]
    for hour, now in enumerate(hourly):
        colder[hour], slab = _hour(_Hour(*now), heat, slab)
    colder_k = np.moveaxis(colder, 0, -1)
    stability = _stability(colder_k, given, ground, reference_m)
    return Layer(colder_k, stability, ground.rough_m, reference_m, slab)


class _Hour(NamedTuple):
    """One hour of each stand's ground, (stand, member).

    ``gained_wm2`` is what a skin at air temperature gains from sun and sky. ``loss_wm2k`` is what
    it loses by radiation and to the slab for each kelvin; ``slab_wm2k`` is the slab's part, through
    ``skin_wm2k``. ``film_wm2k`` is the neutral exchange with the air, damped by ``damping_k`` for
    each kelvin. From ``dew_from_wm2`` on, dew forms on a skin ``dew_k`` below the air and adds
    ``dew_wm2k``. ``drying_wm2k`` and ``drying_wm2`` are evaporation by day.
    """

    air_c: Array
    deep_c: Array
    gained_wm2: Array
    loss_wm2k: Array
    slab_wm2k: Array
    skin_wm2k: Array
    film_wm2k: Array
    damping_k: Array
    dew_k: Array
    dew_wm2k: Array
    dew_from_wm2: Array
    drying_wm2k: Array
    drying_wm2: Array


def _forcing(
    ground: _Column,
    air_c: Array,
    vapour_kpa: Array,
    wind_ms: Array,
    longwave_wm2: Array,
    sun_wm2: Array,
    sky_view: Array,
    snow_m: Array,
    pressure_kpa: Array,
    deep_c: Array,
    heights_m: tuple[float, float],
) -> _Hour:
    """Return the hours of a run as arrays that broadcast to (stand, member, hour)."""
    reference_m, wind_from_m = heights_m
    wind = np.maximum(wind_ms, LEAST_WIND_MS)
    kelvin = air_c + KELVIN
    black = SIGMA_WM2K4 * np.square(np.square(kelvin))
    hidden = np.minimum(snow_m / SNOW_HIDES_M, 1.0)
    albedo = ground.albedo + (SNOW_ALBEDO - ground.albedo) * hidden
    skin = ground.skin_wm2k / (1.0 + ground.skin_wm2k * snow_m / SNOW_WMK)
    store = ground.heat_wm2k * (1.0 + RESTORE * HOUR_S)
    slab = skin * store / (skin + store)
    loss = 4.0 * EMISSIVITY * black / kelvin + slab
    film = film_wm2k(wind, ground.rough_m, reference_m)
    slower = wind * _kept(ground.rough_m, reference_m, wind_from_m)
    damping = STABLE_PER_RI * GRAVITY_MS2 * reference_m / (kelvin * np.square(slower))
    dew_c = np.minimum(dew_point_c(vapour_kpa), air_c)
    dew_k, gamma = air_c - dew_c, psychrometric_kpa_k(pressure_kpa)
    open_wm2k = film / (1.0 + film * ground.drying_s_m / AIR_J_M3K) * (sun_wm2 > 0.0)
    slope = slope_kpa_k(air_c)
    return _Hour(
        air_c=air_c,
        deep_c=deep_c,
        gained_wm2=EMISSIVITY * sky_view * (longwave_wm2 - black) + (1.0 - albedo) * sun_wm2,
        loss_wm2k=loss,
        slab_wm2k=slab,
        skin_wm2k=skin,
        film_wm2k=film,
        damping_k=damping,
        dew_k=dew_k,
        dew_wm2k=film * slope_kpa_k(dew_c) / gamma,
        dew_from_wm2=dew_k * (loss + film / (1.0 + damping * dew_k)),
        drying_wm2k=open_wm2k * slope / gamma,
        drying_wm2=open_wm2k * slope / gamma * dew_k,
    )


def film_wm2k(wind_ms: Values, rough_m: Values, reference_m: float = REFERENCE_M) -> Array:
    """Return the neutral exchange between skin and air, W/m²K, for the wind at ``reference_m``.

    FAO-56, eq. 4, without displacement: k² u / (ln(z/z0) ln(z/z0h)).
    """
    wind_path = np.log(reference_m / np.asarray(rough_m))
    heat_path = np.log(reference_m / (HEAT_BELOW_MOMENTUM * np.asarray(rough_m)))
    out: Array = AIR_J_M3K * VON_KARMAN**2 * np.asarray(wind_ms) / (wind_path * heat_path)
    return out


def _kept(rough_m: Array, reference_m: float, wind_from_m: float) -> Array:
    """Return what a layer as stable as z/L = 1 keeps of the wind that the neutral profile brings
    down from ``wind_from_m``; Webb 1970, whose profile is logarithmic again above that height."""
    paths = np.log(np.array([reference_m, wind_from_m]) / rough_m)
    stable = paths + WEBB * (1.0 + np.log(np.array([reference_m, wind_from_m]) / reference_m))
    neutral = paths[..., :1] / paths[..., 1:]
    return np.asarray(stable[..., :1] / stable[..., 1:] / neutral)


def _hour(now: _Hour, heat_wm2k: Array, slab_c: Array) -> tuple[Array, Array]:
    """Return how much colder than the air the skin is, K, and the slab an hour later, °C."""
    restored = RESTORE * HOUR_S * heat_wm2k
    target_c = (heat_wm2k * slab_c + restored * now.deep_c) / (heat_wm2k + restored)
    lost_wm2 = now.slab_wm2k * (now.air_c - target_c) - now.gained_wm2
    cooling = lost_wm2 > 0.0
    if cooling.all():
        colder_k = _cooled_k(now, lost_wm2)
    elif cooling.any():
        colder_k = np.where(cooling, _cooled_k(now, lost_wm2), -_heated_k(now, -lost_wm2))
    else:
        colder_k = -_heated_k(now, -lost_wm2)
    whole = heat_wm2k + restored + now.skin_wm2k
    stored = (heat_wm2k + restored) * target_c + now.skin_wm2k * (now.air_c - colder_k)
    return colder_k, stored / whole


def _cooled_k(now: _Hour, lost_wm2: Array) -> Array:
    """Return how far a skin cools below the air that loses ``lost_wm2`` at air temperature.

    The balance loss·x + (film·x + dew·(x - dew_k)) / (1 + damping·x) = lost is a quadratic in x.
    """
    dewy = lost_wm2 > now.dew_from_wm2
    added = np.where(dewy, now.dew_wm2k, 0.0)
    lost = np.maximum(lost_wm2, 0.0)
    half = now.loss_wm2k + now.film_wm2k + added - now.damping_k * lost
    lost = lost + added * now.dew_k
    steep = 2.0 * now.loss_wm2k * now.damping_k
    root = np.sqrt(np.square(half) + 2.0 * steep * lost)
    # Of the two ways to write the root, each loses its digits where the other does not.
    small = 2.0 * lost / np.where(half > 0.0, half + root, 1.0)
    return np.where(half > 0.0, small, (root - half) / steep)


def _heated_k(now: _Hour, gained_wm2: Array) -> Array:
    """Return how far a skin warms above the air that gains ``gained_wm2`` at air temperature. Free
    convection is taken from a first guess without it."""
    gained = np.maximum(gained_wm2 - now.drying_wm2, 0.0)
    steady = now.loss_wm2k + now.drying_wm2k + now.film_wm2k
    guess_k = gained / (steady + FREE_WM2K * np.cbrt(gained / (steady + FREE_WM2K)))
    return gained / (steady + FREE_WM2K * np.cbrt(guess_k))


def _stability(colder_k: Array, given: _Hour, ground: _Column, reference_m: float) -> Array:
    """Return z/L at the reference: by night as far as the stable layer damps the exchange, by day
    from the bulk Richardson number."""
    heat_path = np.log(reference_m / (HEAT_BELOW_MOMENTUM * ground.rough_m))
    times_ri = given.damping_k * colder_k
    wind_path = np.log(reference_m / ground.rough_m)
    day = times_ri * np.square(wind_path) / (STABLE_PER_RI * heat_path)
    return np.clip(np.where(colder_k > 0.0, times_ri * heat_path / WEBB, day), MOST_UNSTABLE, 1.0)


def profile_share(
    height_m: Values, rough_m: Values, stability: Array, reference_m: float = REFERENCE_M
) -> Array:
    """Return what lies between the skin and ``height_m``, over what lies between it and 2 m.

    ``stability`` is 2 m (``reference_m``) over Obukhov's length. 0 at the roughness length, 1 from
    2 m up.
    """
    height = np.clip(height_m, LOWEST_M, reference_m)
    below = np.log(height / rough_m) + _curved(stability * (height / reference_m))
    return np.asarray(below / (np.log(reference_m / rough_m) + _curved(stability)))


def _curved(stability: Array) -> Array:
    """Return what stability adds to the logarithm of height (Webb 1970; by day Dyer 1974)."""
    stable = WEBB * np.maximum(stability, 0.0)
    if not np.any(stability < 0.0):
        return stable
    unstable = np.sqrt(1.0 - 16.0 * np.minimum(stability, 0.0))
    return np.asarray(stable - 2.0 * np.log((1.0 + unstable) / 2.0))
