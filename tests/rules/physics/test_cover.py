"""Covers: exact limits, and what is known about air under fleece, glass and cloth."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underbench.rules.physics.cover import COVERS, AirRun, Cover, CoverKind, combined, covered_air
from underbench.rules.weather.hourly import Array

CLEAR_NIGHT_NET_WM2 = -90.0


def cube(values: Any) -> Array:
    return np.asarray(values, dtype=float).reshape(1, 1, -1)


def under(
    kind: CoverKind | Cover,
    air_c: Any,
    sun_wm2: Any = 0.0,
    net_wm2: float = 0.0,
    deep_c: float | None = None,
    start_c: float = 5.0,
) -> Array:
    """Return the air under one cover, (hour,); deep ground is as warm as the air unless told."""
    air = cube(air_c)
    cover = kind if isinstance(kind, Cover) else COVERS[kind]
    ran = covered_air(
        [cover],
        np.full((1, 1), start_c),
        air_c=air,
        global_wm2=cube(sun_wm2),
        net_longwave_wm2=cube(net_wm2),
        deep_c=air if deep_c is None else cube(deep_c),
    )
    return ran.air_c[0, 0]


def test_every_kind_of_cover_has_its_numbers() -> None:
    assert set(COVERS) == set(CoverKind)


@pytest.mark.parametrize("kind", list(CoverKind))
def test_no_cover_adds_sun_sky_or_wind(kind: CoverKind) -> None:
    """So leaves under it never see more cold sky than on the open bench."""
    cover = COVERS[kind]
    for share in (cover.sun_share, cover.sky_share, cover.wind_share, cover.rain_share):
        assert 0.0 <= share <= 1.0


@pytest.mark.parametrize(
    "kind",
    [CoverKind.OPEN, CoverKind.LATH, CoverKind.ROOF, CoverKind.HALF_SHADE, CoverKind.FULL_SHADE],
)
def test_air_in_the_open_is_the_air(kind: CoverKind) -> None:
    air = np.array([3.0, -7.5, 31.25, 0.1])
    np.testing.assert_array_equal(under(kind, air, 700.0, CLEAR_NIGHT_NET_WM2, 12.0), air)


def test_a_lived_in_room_stays_warm() -> None:
    """Common practice, no source: a room by a window, whatever the night."""
    assert under(CoverKind.INDOORS, np.full(48, -15.0), 0.0, -80.0)[-1] == pytest.approx(18.0)


def test_a_lag_is_the_exponential() -> None:
    """First-order response to a step: exact."""
    hours = np.arange(1, 13)
    inside = under(Cover(lag_h=3.0), np.full(12, 10.0), start_c=-2.0)
    np.testing.assert_allclose(inside, 10.0 - 12.0 * np.exp(-hours / 3.0), rtol=1e-12)


@pytest.mark.parametrize("kind", sorted(set(CoverKind) - {CoverKind.INDOORS}))
def test_steady_dull_weather_comes_in(kind: CoverKind) -> None:
    """With no sun, no cold sky and ground as warm as the air, any cover ends at the air."""
    assert under(kind, np.full(1500, -4.0))[-1] == pytest.approx(-4.0, abs=1e-6)


def test_a_vented_frame_is_never_two_degrees_over() -> None:
    """Common practice, no source; 1 100 W/m² is the most a clear noon brings."""
    assert under(CoverKind.FRAME_VENTED, np.full(24, 20.0), 1100.0, start_c=20.0).max() <= 22.0


def test_a_shut_frame_in_the_sun_must_be_vented() -> None:
    """Common practice, no source: 15 to 20 K over on a clear spring noon."""
    over_k = under(CoverKind.FRAME_SHUT, np.full(6, 12.0), 750.0)[-1] - 12.0
    assert 12.0 < over_k < 22.0
    shut = under(CoverKind.GREENHOUSE_SHUT, np.full(6, 12.0), 750.0)[-1]
    assert under(CoverKind.GREENHOUSE_VENTED, np.full(6, 12.0), 750.0)[-1] < shut


def test_a_small_frame_may_fall_below_the_air_on_a_clear_night() -> None:
    """Sugiyama 1967 on small tunnels, as quoted: inside air below outside late on clear nights."""
    air = np.full(12, 2.0)
    assert under(CoverKind.FRAME_SHUT, air, 0.0, CLEAR_NIGHT_NET_WM2)[-1] < 2.0
    assert under(CoverKind.FRAME_SHUT, air, 0.0, 0.0, deep_c=8.0)[-1] > 2.0


def test_warm_ground_holds_a_frame_about_a_degree_up() -> None:
    """Savage 1980, as quoted: minima under plastic tunnels 1.3 K above outside."""
    inside = under(CoverKind.FRAME_SHUT, np.full(12, -5.0), 0.0, -60.0, deep_c=6.0)[-1]
    assert 0.3 < inside + 5.0 < 2.5


def test_fleece_is_worth_a_degree_or_two_a_layer() -> None:
    """Common practice, no source."""
    one, two = (
        under(kind, np.full(12, -4.0), 0.0, CLEAR_NIGHT_NET_WM2, deep_c=8.0)[-1] + 4.0
        for kind in (CoverKind.FLEECE_1, CoverKind.FLEECE_2)
    )
    assert 0.7 < one < two < 4.0


def test_a_shed_flattens_the_day() -> None:
    air = 10.0 * np.sin(np.arange(96) / 12 * np.pi)
    inside = under(CoverKind.SHED, air, start_c=0.0)[48:]
    assert np.ptp(inside) < 0.7 * np.ptp(air)


def test_a_shed_swings_less_than_the_air_whatever_the_weeks_before() -> None:
    """Over a clear spring day with sun on its roof; common practice, no source."""
    air = 8.0 - 7.0 * np.cos(np.arange(240) / 12 * np.pi)
    lit = 600.0 * np.maximum(-np.cos(np.arange(240) / 12 * np.pi), 0.0)
    for start_c in (-5.0, 20.0):
        inside = under(CoverKind.SHED, air, lit, start_c=start_c, deep_c=8.0)[-24:]
        assert np.ptp(inside) < np.ptp(air)


@given(st.lists(st.floats(-40, 30), min_size=6, max_size=30), st.floats(-5, 15))
def test_a_heated_place_never_falls_below_what_it_is_set_to(air: list[float], set_c: float) -> None:
    cold, held = (
        under(cover, air, start_c=set_c)
        for cover in (
            COVERS[CoverKind.GREENHOUSE_SHUT],
            replace(COVERS[CoverKind.GREENHOUSE_SHUT], least_c=set_c),
        )
    )
    assert (held >= set_c).all()
    assert (held >= cold - 1e-9).all()


def test_the_slower_the_room_the_less_a_cold_night_comes_in() -> None:
    """Common practice, no source: shed, garage, cool room, cellar."""
    night = np.concatenate([np.full(48, 2.0), np.full(12, -12.0)])
    kinds = (CoverKind.SHED, CoverKind.GARAGE, CoverKind.COOL_ROOM, CoverKind.CELLAR)
    lows = [under(kind, night, start_c=2.0, deep_c=2.0).min() for kind in kinds]
    assert lows == sorted(lows)


def test_covers_of_several_trees_stay_apart_and_resume() -> None:
    kinds = [CoverKind.OPEN, CoverKind.SHED, CoverKind.FRAME_SHUT]
    covers = [COVERS[kind] for kind in kinds]
    air = np.random.default_rng(7).uniform(-5, 15, (1, 2, 24))
    given = {
        "air_c": air,
        "global_wm2": 20.0 * np.maximum(air, 0.0),
        "net_longwave_wm2": -3.0 * np.abs(air),
        "deep_c": np.full((1, 1, 1), 6.0),
    }
    whole = covered_air(covers, np.zeros((3, 2)), **given)

    def part(first: int, last: int, start_c: Array) -> AirRun:
        cut = {n: v[..., first:last] if v.shape[-1] > 1 else v for n, v in given.items()}
        return covered_air(covers, start_c, **cut)

    morning = part(0, 10, np.zeros((3, 2)))
    evening = part(10, 24, morning.end_c)
    np.testing.assert_array_equal(
        np.concatenate([morning.air_c, evening.air_c], axis=-1), whole.air_c
    )
    np.testing.assert_array_equal(evening.end_c, whole.end_c)
    shed_alone = covered_air(covers[1:2], np.zeros((1, 2)), **given)
    np.testing.assert_array_equal(shed_alone.air_c[0], whole.air_c[1])


KINDS = st.sampled_from(list(CoverKind))
SHARES = ("sun_share", "sky_share", "wind_share", "rain_share")


@given(KINDS, KINDS)
def test_nothing_put_under_a_roof_lets_more_in_than_the_roof(
    outer: CoverKind, inner: CoverKind
) -> None:
    both = combined(COVERS[outer], COVERS[inner])
    for name in SHARES:
        alone = getattr(COVERS[outer], name), getattr(COVERS[inner], name)
        assert getattr(both, name) <= min(alone)


@given(KINDS)
def test_under_the_open_sky_a_cover_is_itself(kind: CoverKind) -> None:
    bare, one = COVERS[CoverKind.OPEN], COVERS[kind]
    air = np.array([4.0, -3.0, 12.0])
    for both in (combined(bare, one), combined(one, bare)):
        np.testing.assert_array_equal(
            under(both, air, 400.0, -60.0, 7.0), under(one, air, 400.0, -60.0, 7.0)
        )


@given(KINDS, st.sampled_from([CoverKind.LATH, CoverKind.ROOF, CoverKind.HALF_SHADE]))
def test_shade_overhead_never_makes_a_cover_hotter(kind: CoverKind, shade: CoverKind) -> None:
    air = np.full(6, 15.0)
    lit = under(COVERS[kind], air, 800.0, start_c=15.0)
    assert (under(combined(COVERS[shade], COVERS[kind]), air, 800.0, start_c=15.0) <= lit).all()


@pytest.mark.parametrize(
    ("shut", "vented"),
    [
        (CoverKind.FRAME_SHUT, CoverKind.FRAME_VENTED),
        (CoverKind.GREENHOUSE_SHUT, CoverKind.GREENHOUSE_VENTED),
    ],
)
@given(st.floats(-10, 30), st.floats(0, 1100), st.floats(-110, 0), st.floats(-3, 3))
def test_vented_glass_is_nearer_to_outside_than_shut(
    shut: CoverKind, vented: CoverKind, air_c: float, sun_wm2: float, net_wm2: float, deep_k: float
) -> None:
    """In steady weather on one side of it: sun by day, or a clear night over cool ground."""
    air, net_wm2 = np.full(48, air_c), 0.0 if sun_wm2 > 0 else net_wm2
    deep_c = air_c + (abs(deep_k) if sun_wm2 > 0 else -abs(deep_k))
    apart = [
        abs(under(kind, air, sun_wm2, net_wm2, deep_c, start_c=air_c)[-1] - air_c)
        for kind in (shut, vented)
    ]
    assert apart[1] <= apart[0] + 1e-9
