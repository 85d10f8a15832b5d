"""What every tree feels, hour by hour: all trees, members and hours at once.

``advance(state, traits, weather)`` runs the physical models in the order heat and water flow:
air of the spot → wind and sun at the tree → leaf → root ball → bag → water → wind load. Trees are
taken a few thousand rows at a time, so that memory stays flat and near the processor.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import cast

import numpy as np
from numpy.typing import NDArray

from underbench.rules.garden.inventory import Garden
from underbench.rules.garden.journal import Bag, Film
from underbench.rules.physics import bag, et0, leaf, rootball
from underbench.rules.physics import freezing as enthalpy
from underbench.rules.physics import pot_water as potwater
from underbench.rules.physics import state as states
from underbench.rules.physics.cover import Cover
from underbench.rules.physics.pots import Ball
from underbench.rules.physics.state import ROOT_BASE_C, ROOT_FULL_C, ROOT_STOP_C, State
from underbench.rules.physics.surroundings import (
    Sky,
    Stands,
    Surroundings,
    distinct,
    sky_over,
    surroundings,
)
from underbench.rules.weather.air import saturation_kpa
from underbench.rules.weather.hourly import Array, Weather
from underbench.rules.weather.spread import Site

FROZEN_THROUGH = 0.8
ROWS_AT_ONCE = 12000  # trees × members; fewer cost calls, more cost memory


@dataclass(frozen=True, slots=True)
class Traits:
    """What the models need of each tree for a stretch of hours; arrays (tree,).

    ``departs_k`` (tree, part) is as :class:`rules.garden.inventory.Departure`; ``surface`` is an
    index into `near_ground.SURFACES`. ``bags`` holds None
    for a tree without one; ``bagged`` says the same as an array.
    """

    ball: Ball
    capacity_l: Array
    canopy_m2: Array
    covers: tuple[Cover, ...]
    sky_view: Array
    sun_from: Array
    sun_until: Array
    wind_factor: Array
    height_m: Array
    surface: Array
    departs_k: Array
    leaf_width_m: Array
    transpiring: Array
    crop: Array
    roofed: NDArray[np.bool_]
    bags: tuple[Bag | None, ...]
    bagged: NDArray[np.bool_]

    def take(self, rows: slice) -> Traits:
        """Return some trees."""
        own = {f.name: getattr(self, f.name) for f in fields(self)}
        ball: Ball = own.pop("ball")
        return Traits(ball=ball.take(rows), **{name: own[name][rows] for name in own})


@dataclass(frozen=True, slots=True)
class Exposure:
    """What trees feel; arrays (tree, member, hour), at or over the hour that ends there.

    Single precision is good to a hundred thousandth of a degree and takes half the memory. What is
    held in less says how well.

    ``air_c`` of the spot at the tree's height; ``ground_k`` what the ground has of it, to
    0.004 K; ``leaf_c`` tissue of leaf, bud or needle; ``shell_c`` and ``core_c`` of
    the root ball, ``wall_c`` its sunny wall; ``frozen_share`` of its water and ``frozen_h`` whole
    hours it has been frozen; ``bag_c`` in the bag, NaN without one; ``water_left`` 0..1;
    ``gust_ms`` and ``wind_ms`` at the crown; ``sun_wm2`` on the level there; ``vpd_kpa`` of the
    air, to a thousandth.
    """

    air_c: Array
    ground_k: Array
    leaf_c: Array
    shell_c: Array
    core_c: Array
    wall_c: Array
    frozen_h: Array
    bag_c: Array
    water_left: Array
    gust_ms: Array
    wind_ms: Array
    sun_wm2: Array
    vpd_kpa: Array

    @property
    def screen_c(self) -> Array:
        """The air as a screen at 2 m has it, for limits in air. Under glass or a roof it is the air
        there."""
        return np.asarray(self.air_c - self.ground_k)

    @property
    def frozen_share(self) -> Array:
        """Share of the ball's water that is ice."""
        both = enthalpy.frozen_share(self.shell_c) + enthalpy.frozen_share(self.core_c)
        return np.asarray(both / 2.0)

    def hours(self, inside: slice) -> Exposure:
        """Return the hours of a slice."""
        return Exposure(**{name: getattr(self, name)[:, :, inside] for name in EXPOSED})

    def rows(self, some: slice) -> Exposure:
        """Return a stretch of trees, without copying."""
        return Exposure(**{name: getattr(self, name)[some] for name in EXPOSED})

    def take(self, rows: Sequence[int]) -> Exposure:
        """Return some trees, in the order asked; those of a range without copying."""
        if isinstance(rows, range):
            return self.rows(slice(rows.start, rows.stop, rows.step))
        index = np.asarray(rows, dtype=int)
        return Exposure(**{name: getattr(self, name)[index] for name in EXPOSED})


EXPOSED = tuple(f.name for f in fields(Exposure))
SMALL = {"ground_k": np.float16, "vpd_kpa": np.float16, "frozen_h": np.uint16}
KINDS = {name: SMALL.get(name, np.float32) for name in EXPOSED}


def blank(trees: int, members: int, hours: int) -> Exposure:
    """Return room for what ``advance`` finds, to be written stretch by stretch."""
    shape = (trees, members, hours)
    return Exposure(**{name: cast(Array, np.empty(shape, KINDS[name])) for name in EXPOSED})


def join(parts: Sequence[Exposure]) -> Exposure:
    """Return stretches of hours of the same trees and members as one."""
    return Exposure(
        **{name: np.concatenate([getattr(p, name) for p in parts], axis=2) for name in EXPOSED}
    )


def advance(
    state: State,
    traits: Traits,
    weather: Weather,
    site: Site,
    garden: Garden,
    watered: NDArray[np.bool_] | Array,
    into: Exposure | None = None,
) -> tuple[Exposure, State]:
    """Return what trees of ``traits`` feel through ``weather``, and the state after it.

    ``weather`` is complete, with the members of ``state`` and ``site``; ``watered`` (tree, hour) is
    as in `pot_water.run_water`; ``into`` is where to write (`blank`). The same arguments give the
    same bits. Two stretches run one after the other give the bits of the whole.
    """
    felt = into or blank(state.trees, weather.members, weather.hours)
    sky, ends = sky_over(weather, garden), []
    turns = -(-state.trees * weather.members // ROWS_AT_ONCE)
    if turns <= 1:
        return felt, _advance(state, traits, sky, site, watered, felt)
    at_once = -(-state.trees // turns)
    for first in range(0, state.trees, at_once):
        rows = slice(first, first + at_once)
        some = state.take(np.arange(state.trees)[rows])
        ends.append(_advance(some, traits.take(rows), sky, site, watered[rows], felt.rows(rows)))
    return felt, states.join(ends)


def _advance(
    state: State,
    traits: Traits,
    sky: Sky,
    site: Site,
    watered: NDArray[np.bool_] | Array,
    felt: Exposure,
) -> State:
    """Write what some trees feel into ``felt`` and return the state after it."""
    stands, stand, in_ground = _stands(state, traits)
    around = surroundings(stands, sky, site)
    ball = rootball.run(
        traits.ball,
        state.ball_c,
        _forcing(around, in_ground),
        state.wetness,
        stand,
        subsoil_c=state.subsoil_c,
    )
    bag_end = _bag(state, traits, around, stand, ball.shell_c, felt.bag_c)
    water = _water(state, traits, around, stand, ball.frozen_share, sky.weather, site, watered)
    for name in ("air_c", "gust_ms", "wind_ms", "sun_wm2"):
        getattr(felt, name)[:] = _single(getattr(around, name))[stand]
    felt.ground_k[:] = (around.air_c - around.screen_c).astype(np.float16)[stand]
    felt.vpd_kpa[:] = _single(saturation_kpa(around.air_c) - around.vapour_kpa)[stand]
    felt.leaf_c[:] = _leaf(traits, around, stand)
    felt.leaf_c[traits.bagged] = felt.bag_c[traits.bagged]  # a bag is no frost cover
    felt.shell_c[:], felt.core_c[:], felt.wall_c[:] = ball.shell_c, ball.core_c, ball.sun_wall_c
    felt.water_left[:] = water.rel
    deep_c = around.deep_c[stand, :, -1]
    frozen_h = _frozen_hours(state.frozen_h, ball.frozen_share, felt.frozen_h)
    after = replace(
        state,
        ball_c=ball.temp_c,
        subsoil_c=np.where(traits.ball.ground[:, None, None], ball.subsoil_c, deep_c[..., None]),
        water_l=water.water_l,
        canopy_mm=water.on_crown_mm,
        cover_c=around.cover_end_c[stand],
        bag_c=bag_end,
        deep_c=deep_c,
        ground_c=around.ground_end_c[stand],
        frozen_h=frozen_h,
        water_left=water.rel[..., -1],
    )
    air_c = around.screen_c.mean(axis=1)[stand]
    air_c[traits.bagged] = felt.bag_c[traits.bagged].astype(float).mean(axis=1)  # buds feel the bag
    rain_mm = np.where(traits.roofed, 0.0, 1.0)[:, None] * sky.weather.rain_mm.mean(axis=0)
    return _day_so_far(after, air_c, ball.shell_c.mean(axis=1), rain_mm)


def _stands(state: State, traits: Traits) -> tuple[Stands, NDArray[np.intp], NDArray[np.bool_]]:
    """Return the distinct stands of some trees, the stand of each tree, and which of the stands
    hold roots in the ground."""
    covers = [float(id(one)) for one in traits.covers]  # a cover takes long to hash
    alone = [traits.sky_view, traits.sun_from, traits.sun_until]
    alone += [traits.wind_factor, traits.height_m, traits.surface, traits.departs_k]
    alone += [state.cover_c, state.deep_c, state.ground_c]
    first, stand = distinct(np.column_stack([np.array(covers), traits.ball.ground, *alone]))
    chosen = [values[first] for values in alone]
    stands = Stands(tuple(traits.covers[row] for row in first.tolist()), *chosen)
    return stands, stand, traits.ball.ground[first]


def _column(per_tree: Array) -> Array:
    return per_tree[:, None, None]


def _forcing(around: Surroundings, in_ground: NDArray[np.bool_]) -> rootball.Coefficients:
    # A bed's film reaches up to 2 m. The air at its surface is what it makes itself.
    return rootball.coefficients(
        air_c=np.where(in_ground[:, None, None], around.screen_c, around.air_c),
        vapour_kpa=around.vapour_kpa,
        wind_ms=around.wind_ms,
        longwave_down_wm2=around.longwave_wm2,
        beam_normal_wm2=around.beam_wm2,
        sun_elevation_rad=around.elevation_rad,
        diffuse_wm2=around.diffuse_wm2,
        global_wm2=around.global_wm2,
        sky_view=around.sky_view,
        sun_share=around.sun_share,
        deep_c=around.deep_c,
        pressure_kpa=around.pressure_kpa,
        snow_m=around.snow_m,
    )


def _single(values: Array) -> Array:
    """Return values in single precision, as exposures are held: half as much to copy."""
    return cast(Array, values.astype(np.float32))


def _bag(
    state: State,
    traits: Traits,
    around: Surroundings,
    stand: NDArray[np.intp],
    shell_c: Array,
    out: Array,
) -> Array:
    """Write the bag's air; return it at the end. Without a bag: NaN, and the spot's air."""
    rows = np.flatnonzero(traits.bagged)
    out[:] = np.nan
    end_c: Array = around.air_c[stand, :, -1]
    if len(rows):
        at = stand[rows]
        bags = [own for own in traits.bags if own]
        inside = bag.run_bag(
            state.bag_c[rows],
            np.array([own.film is Film.DARK for own in bags]),
            [bag.VENTS[own.opening] for own in bags],
            air_c=around.air_c[at],
            vapour_kpa=around.vapour_kpa[at],
            wind_ms=around.wind_ms[at],
            beam_normal_wm2=around.beam_wm2,
            sun_elevation_rad=around.elevation_rad,
            diffuse_wm2=around.diffuse_wm2,
            global_wm2=around.global_wm2,
            longwave_down_wm2=around.longwave_wm2,
            sky_view=around.sky_view[at],
            sun_share=around.sun_share[at],
            pot_c=shell_c[rows],
            pressure_kpa=around.pressure_kpa,
        )
        out[rows], end_c[rows] = inside.air_c, inside.end_c
    return end_c


def _leaf(traits: Traits, around: Surroundings, stand: NDArray[np.intp]) -> Array:
    """Tissue temperature in the open."""
    # Trees of one stand whose leaves are alike share one leaf.
    first, alike = distinct(np.column_stack([stand, traits.leaf_width_m, traits.transpiring]))
    at = stand[first]
    in_open = leaf.leaf_temperature_c(
        air_c=around.air_c[at],
        vapour_kpa=around.vapour_kpa[at],
        wind_ms=around.wind_ms[at],
        longwave_down_wm2=around.longwave_wm2,
        sun_wm2=around.sun_wm2[at],
        width_m=_column(traits.leaf_width_m[first]),
        sky_view=around.sky_view[at],
        transpiring=_column(traits.transpiring[first]),
    )
    out: Array = _single(in_open)[alike]
    return out


def _water(
    state: State,
    traits: Traits,
    around: Surroundings,
    stand: NDArray[np.intp],
    frozen_share: Array,
    weather: Weather,
    site: Site,
    watered: NDArray[np.bool_] | Array,
) -> potwater.WaterRun:
    reference_mm = et0.hourly_mm(
        air_c=around.air_c,
        vapour_kpa=around.vapour_kpa,
        wind2_ms=around.wind_ms,
        global_wm2=around.sun_wm2,
        clearness=around.clearness,
        pressure_kpa=around.pressure_kpa,
    )
    return potwater.run_water(
        traits.ball,
        state.water_l,
        state.canopy_mm,
        capacity_l=traits.capacity_l,
        canopy_m2=traits.canopy_m2,
        crop_factor=traits.crop,
        et0_mm=reference_mm,
        rain_mm=weather.rain_mm[None],
        watered=watered,
        roofed=traits.roofed,
        # The reference holds the spot's own sun already; only the crown's shade is left to count.
        sun_share=1.0 - rootball.CROWN_SHADE,
        use_share=site.use_share,
        frozen_share=frozen_share,
        stand=stand,
    )


def _frozen_hours(before_h: Array, frozen_share: Array, out: Array) -> Array:
    """Write the hours that each ball has been frozen nearly through; return the count at the end.
    The count goes on from ``before_h``."""
    frozen, now = frozen_share >= FROZEN_THROUGH, before_h
    if not frozen.any():
        out[:] = 0.0
        return np.zeros_like(before_h)
    for hour in range(frozen.shape[-1]):
        now = (now + 1.0) * frozen[..., hour]
        out[..., hour] = now
    return now


def _day_so_far(state: State, air_c: Array, root_c: Array, rain_mm: Array) -> State:
    """Add the hours' air and root shell to the day's air and to the root zone's warmth, and their
    rain. ``air_c``, ``root_c`` and ``rain_mm`` (tree, hour) are means over members."""
    growing = np.clip(root_c - ROOT_BASE_C, 0.0, ROOT_FULL_C - ROOT_BASE_C)
    growing = np.where(root_c > ROOT_STOP_C, 0.0, growing)
    return replace(
        state,
        day_sum_c=_added(state.day_sum_c, air_c),
        day_hours=state.day_hours + air_c.shape[-1],
        root_day_cd=_added(state.root_day_cd, growing / 24.0),
        day_rain_mm=_added(state.day_rain_mm, rain_mm),
    )


def _added(total: Array, by_hour: Array) -> Array:
    """Add hour by hour, so that the sum does not depend on where a run was cut."""
    for hour in range(by_hour.shape[-1]):
        total = total + by_hour[:, hour]
    return total
