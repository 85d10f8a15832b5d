"""What every tree feels, hour by hour: all trees, members and hours at once.

``advance(state, traits, weather)`` runs the physical models in the order heat and water flow:
air of the spot → wind and sun at the tree → leaf → root ball → bag → water → wind load.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from underbench.rules import cover, et0, leaf, potwater, rootball, wind
from underbench.rules.aftercare import ROOT_BASE_C, ROOT_FULL_C, ROOT_STOP_C
from underbench.rules.air import saturation_kpa, wind_at_m
from underbench.rules.constants import KELVIN, SIGMA_WM2K4
from underbench.rules.cover import Cover
from underbench.rules.garden import Garden
from underbench.rules.members import Site
from underbench.rules.rootball import Ball
from underbench.rules.state import State
from underbench.rules.sun import clear_sky_wm2, longwave_down_wm2, position
from underbench.rules.weather import HOUR_S, Array, Weather

CROWN_OVER_POT_M = 0.3  # leaves stand about this far above the foot of the pot
LEAST_WIND_MS = 0.1  # air outdoors is never stiller, and the films need some
LOW_SUN = 0.05  # sine of the elevation below which a beam on the level says nothing of the beam
MOST_BEAM_WM2 = 1050.0
DEEP_MEMORY_H = 240.0  # ground half a metre down follows the air over some ten days; judgement
FROZEN_THROUGH = 0.8
MJ_PER_WH = HOUR_S / 1e6


@dataclass(frozen=True, slots=True)
class Traits:
    """What the models need of each tree for a stretch of hours; arrays (tree,)."""

    ball: Ball
    capacity_l: Array
    canopy_m2: Array
    covers: tuple[Cover, ...]
    sky_view: Array
    sun_from: Array
    sun_until: Array
    wind_factor: Array
    height_m: Array
    leaf_width_m: Array
    transpiring: Array
    crop: Array
    roofed: NDArray[np.bool_]
    bagged: NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Exposure:
    """What trees feel; arrays (tree, member, hour), at or over the hour that ends there.

    ``air_c`` of the spot; ``leaf_c`` tissue of leaf, bud or needle; ``shell_c`` and ``core_c`` of
    the root ball, ``wall_c`` its sunny wall; ``frozen_share`` of its water and ``frozen_h`` hours
    it has been frozen; ``bag_c`` in the bag, NaN without one; ``water_left`` 0..1; ``gust_ms`` and
    ``wind_ms`` at the crown; ``sun_wm2`` on the level there; ``vpd_kpa`` of the air.
    """

    air_c: Array
    leaf_c: Array
    shell_c: Array
    core_c: Array
    wall_c: Array
    frozen_share: Array
    frozen_h: Array
    bag_c: Array
    water_left: Array
    gust_ms: Array
    wind_ms: Array
    sun_wm2: Array
    vpd_kpa: Array

    def hours(self, inside: slice) -> Exposure:
        """Return the hours of a slice."""
        return Exposure(**{name: getattr(self, name)[:, :, inside] for name in EXPOSED})

    def take(self, rows: Sequence[int]) -> Exposure:
        """Return some trees, in the order asked."""
        index = np.asarray(rows, dtype=int)
        return Exposure(**{name: getattr(self, name)[index] for name in EXPOSED})


EXPOSED = tuple(f.name for f in fields(Exposure))


def join(parts: Sequence[Exposure]) -> Exposure:
    """Return stretches of hours of the same trees and members as one."""
    return Exposure(
        **{name: np.concatenate([getattr(p, name) for p in parts], axis=2) for name in EXPOSED}
    )


@dataclass(frozen=True, slots=True)
class _Air:
    """The surroundings of each tree before the tree itself is reckoned; (tree, member, hour)."""

    air_c: Array
    vapour_kpa: Array
    wind_ms: Array
    gust_ms: Array
    sky_view: Array
    longwave_wm2: Array
    elevation_rad: Array
    sun_share: Array
    beam_wm2: Array
    global_wm2: Array
    diffuse_wm2: Array
    pressure_kpa: Array
    deep_c: Array
    clearness: Array

    @property
    def sun_wm2(self) -> Array:
        """Sun on the level at the crown."""
        beam = (self.global_wm2 - self.diffuse_wm2) * self.sun_share
        return np.asarray(beam + self.diffuse_wm2 * self.sky_view)


def advance(
    state: State,
    traits: Traits,
    weather: Weather,
    site: Site,
    garden: Garden,
    watered: NDArray[np.bool_],
) -> tuple[Exposure, State]:
    """Return what trees of ``traits`` feel through ``weather``, and the state after it.

    ``weather`` is complete, with the members of ``state`` and ``site``; ``watered`` (tree, hour).
    Pure: the same arguments give the same bits, and two stretches run one after the other give
    those of the whole.
    """
    air, cover_c = _surroundings(state, traits, weather, site, garden)
    ball = rootball.run(traits.ball, state.ball_c, _ball_forcing(traits, state, air))
    bag_c, bag_end = _bag(state, traits, air, ball.shell_c)
    leaf_c = _leaf(traits, air, bag_c)
    water = _water(state, traits, air, ball.frozen_share, weather, watered)
    frozen_h = _frozen_hours(state.frozen_h, ball.frozen_share)
    felt = Exposure(
        air_c=air.air_c,
        leaf_c=leaf_c,
        shell_c=ball.shell_c,
        core_c=ball.core_c,
        wall_c=ball.sun_wall_c,
        frozen_share=ball.frozen_share,
        frozen_h=frozen_h,
        bag_c=bag_c,
        water_left=water.rel,
        gust_ms=air.gust_ms,
        wind_ms=air.wind_ms,
        sun_wm2=air.sun_wm2,
        vpd_kpa=saturation_kpa(air.air_c) - air.vapour_kpa,
    )
    after = replace(
        state,
        ball_c=ball.temp_c,
        water_l=water.water_l,
        canopy_mm=water.on_crown_mm,
        cover_c=cover_c,
        bag_c=bag_end,
        deep_c=air.deep_c[..., -1],
        frozen_h=frozen_h[..., -1],
        water_left=water.rel[..., -1],
    )
    return felt, _day_so_far(after, felt)


def _surroundings(
    state: State, traits: Traits, weather: Weather, site: Site, garden: Garden
) -> tuple[_Air, Array]:
    shares = {
        name: np.array([getattr(one, name) for one in traits.covers])[:, None, None]
        for name in ("sun_share", "sky_share", "wind_share")
    }
    elevation, _ = position(weather.times - HOUR_S // 2, garden.latitude, garden.longitude)
    vapour = saturation_kpa(weather.dew_c)
    longwave = longwave_down_wm2(weather.air_c, vapour, weather.cloud)
    net = longwave - SIGMA_WM2K4 * (weather.air_c + KELVIN) ** 4
    deep = _deep(state.deep_c, weather.air_c)
    under = cover.covered_air(
        traits.covers,
        state.cover_c,
        air_c=weather.air_c[None],
        global_wm2=weather.global_wm2[None],
        net_longwave_wm2=net[None],
        deep_c=deep,
    )
    shelter = _column(traits.wind_factor) * site.wind_share[None, :, None] * shares["wind_share"]
    shelter = np.minimum(shelter, 1.0)
    height = _column(traits.height_m) + CROWN_OVER_POT_M
    sky = np.clip(_column(traits.sky_view) + site.sky_shift[None, :, None], 0.0, 1.0)
    air = _Air(
        air_c=under.air_c,
        vapour_kpa=np.minimum(vapour[None], saturation_kpa(under.air_c)),
        wind_ms=np.maximum(shelter * wind_at_m(weather.wind_ms, height), LEAST_WIND_MS),
        gust_ms=wind.bench_gust_ms(weather.wind_ms[None], weather.gust_ms[None], height, shelter),
        sky_view=sky * shares["sky_share"],
        longwave_wm2=longwave[None],
        elevation_rad=elevation[None, None],
        sun_share=_lit(traits, weather, garden) * shares["sun_share"],
        beam_wm2=_beam(weather, elevation)[None],
        global_wm2=weather.global_wm2[None],
        diffuse_wm2=weather.diffuse_wm2[None],
        pressure_kpa=weather.pressure_kpa[None],
        deep_c=deep,
        clearness=et0.clearness(
            weather.global_wm2 * MJ_PER_WH,
            clear_sky_wm2(elevation, garden.elevation_m) * MJ_PER_WH,
            weather.cloud,
        )[None],
    )
    return air, under.end_c


def _column(per_tree: Array) -> Array:
    return per_tree[:, None, None]


def _lit(traits: Traits, weather: Weather, garden: Garden) -> Array:
    """1 in the hours whose middle falls into a spot's sun hours by the local clock."""
    zone = ZoneInfo(garden.timezone)
    middles = [
        datetime.fromtimestamp(t, UTC).astimezone(zone) for t in (weather.times - 1800).tolist()
    ]
    clock = np.array([m.hour + m.minute / 60 for m in middles])
    lit = (clock >= traits.sun_from[:, None]) & (clock <= traits.sun_until[:, None])
    return lit[:, None, :].astype(float)


def _beam(weather: Weather, elevation_rad: Array) -> Array:
    level = weather.global_wm2 - weather.diffuse_wm2
    sine = np.maximum(np.sin(elevation_rad), LOW_SUN)
    return np.where(elevation_rad > 0, np.clip(level / sine, 0.0, MOST_BEAM_WM2), 0.0)


def _deep(start_c: Array, air_c: Array) -> Array:
    """Ground temperature (tree, member, hour): a running mean of the air outside."""
    out, now, share = np.empty((*start_c.shape, air_c.shape[-1])), start_c, 1.0 / DEEP_MEMORY_H
    for hour in range(air_c.shape[-1]):
        now = now + share * (air_c[None, :, hour] - now)
        out[..., hour] = now
    return out


def _ball_forcing(traits: Traits, state: State, air: _Air) -> rootball.Coefficients:
    return rootball.coefficients(
        traits.ball,
        air_c=air.air_c,
        vapour_kpa=air.vapour_kpa,
        wind_ms=air.wind_ms,
        longwave_down_wm2=air.longwave_wm2,
        beam_normal_wm2=air.beam_wm2,
        sun_elevation_rad=air.elevation_rad,
        diffuse_wm2=air.diffuse_wm2,
        global_wm2=air.global_wm2,
        sky_view=air.sky_view,
        sun_share=air.sun_share,
        water_rel=state.wetness,
        deep_c=air.deep_c,
        pressure_kpa=air.pressure_kpa,
    )


def _bag(state: State, traits: Traits, air: _Air, shell_c: Array) -> tuple[Array, Array]:
    """Return bag air, NaN without a bag, and its end, the spot's air where there is none."""
    rows = np.flatnonzero(traits.bagged)
    bag_c = np.full_like(air.air_c, np.nan)
    end_c = air.air_c[..., -1].copy()
    if len(rows):
        inside = cover.run_bag(
            state.bag_c[rows],
            np.ones(len(rows), dtype=bool),
            air_c=air.air_c[rows],
            wind_ms=air.wind_ms[rows],
            beam_normal_wm2=air.beam_wm2,
            sun_elevation_rad=air.elevation_rad,
            diffuse_wm2=air.diffuse_wm2,
            global_wm2=air.global_wm2,
            longwave_down_wm2=air.longwave_wm2,
            sky_view=air.sky_view[rows],
            sun_share=air.sun_share[rows],
            pot_c=shell_c[rows],
            pressure_kpa=air.pressure_kpa,
        )
        bag_c[rows], end_c[rows] = inside.air_c, inside.end_c
    return bag_c, end_c


def _leaf(traits: Traits, air: _Air, bag_c: Array) -> Array:
    """Tissue temperature; in a bag that of the bag's air, which is no frost cover."""
    in_open = leaf.leaf_temperature_c(
        air_c=air.air_c,
        vapour_kpa=air.vapour_kpa,
        wind_ms=air.wind_ms,
        longwave_down_wm2=air.longwave_wm2,
        sun_wm2=air.sun_wm2,
        width_m=_column(traits.leaf_width_m),
        sky_view=air.sky_view,
        transpiring=_column(traits.transpiring),
    )
    return np.where(np.isnan(bag_c), in_open, bag_c)


def _water(
    state: State,
    traits: Traits,
    air: _Air,
    frozen_share: Array,
    weather: Weather,
    watered: NDArray[np.bool_],
) -> potwater.WaterRun:
    reference_mm = et0.hourly_mm(
        air_c=air.air_c,
        vapour_kpa=air.vapour_kpa,
        wind2_ms=air.wind_ms,
        global_wm2=air.sun_wm2,
        clearness=air.clearness,
        pressure_kpa=air.pressure_kpa,
    )
    return potwater.run_water(
        traits.ball,
        state.water_l,
        state.canopy_mm,
        capacity_l=traits.capacity_l,
        canopy_m2=traits.canopy_m2,
        crop_factor=np.where(traits.bagged, 0.0, traits.crop),
        et0_mm=reference_mm,
        rain_mm=weather.rain_mm[None],
        watered=watered,
        roofed=traits.roofed,
        # The spot's own sun is in the reference already; what is left is the crown's shade.
        sun_share=np.array(1.0 - rootball.CROWN_SHADE),
        frozen_share=frozen_share,
    )


def _frozen_hours(before_h: Array, frozen_share: Array) -> Array:
    """Hours each ball has now been frozen nearly through, counted on from before."""
    out, now = np.empty_like(frozen_share), before_h
    for hour in range(frozen_share.shape[-1]):
        now = np.where(frozen_share[..., hour] >= FROZEN_THROUGH, now + 1.0, 0.0)
        out[..., hour] = now
    return out


def _day_so_far(state: State, felt: Exposure) -> State:
    """Add the hours to the day's mean air and to the warmth of the root zone, over members."""
    root_c = felt.shell_c.mean(axis=1)
    growing = np.clip(root_c - ROOT_BASE_C, 0.0, ROOT_FULL_C - ROOT_BASE_C)
    growing = np.where(root_c > ROOT_STOP_C, 0.0, growing)
    return replace(
        state,
        day_sum_c=_added(state.day_sum_c, felt.air_c.mean(axis=1)),
        day_hours=state.day_hours + felt.air_c.shape[-1],
        root_day_cd=_added(state.root_day_cd, growing / 24.0),
    )


def _added(total: Array, by_hour: Array) -> Array:
    """Add hour by hour, so that the sum does not depend on where a run was cut."""
    for hour in range(by_hour.shape[-1]):
        total = total + by_hour[:, hour]
    return total
