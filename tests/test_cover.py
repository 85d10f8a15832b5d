"""Covers and bags: limits that hold exactly, and what is known of air under plastic."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from underbench.rules import sun
from underbench.rules.air import saturation_kpa
from underbench.rules.constants import SIGMA_WM2K4
from underbench.rules.cover import COVERS, AirRun, Cover, CoverKind, covered_air, run_bag
from underbench.rules.weather import Array

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
    [CoverKind.OPEN, CoverKind.HALF_SHADE, CoverKind.FULL_SHADE],
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
    assert under(kind, np.full(100, -4.0))[-1] == pytest.approx(-4.0, abs=1e-6)


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


def sunny_day(first: str, highest_c: float, lowest_c: float, vapour_kpa: float) -> dict[str, Any]:
    """Two cloudless days at 52° N, longitude 0; 0.54 m/s at the bench is 1.5 m/s at 10 m."""
    ends = np.datetime64(first, "s").astype(np.int64) + 3600 * np.arange(1, 49)
    air = (highest_c + lowest_c) / 2 + (highest_c - lowest_c) / 2 * np.cos(
        (np.arange(48) - 14.5) / 12 * np.pi
    )
    up, _ = sun.position(ends - 1800, 52.0, 0.0)
    whole = sun.clear_sky_wm2(up, 50.0)
    diffuse = sun.diffuse_from_global_wm2(whole, up, sun.day_of_year(ends))
    vapour = np.minimum(vapour_kpa, saturation_kpa(air))
    return {
        "air_c": cube(air),
        "wind_ms": cube(0.54),
        "beam_normal_wm2": cube(
            np.where(up > 0.03, (whole - diffuse) / np.maximum(np.sin(up), 0.03), 0.0)
        ),
        "sun_elevation_rad": cube(up),
        "diffuse_wm2": cube(diffuse),
        "global_wm2": cube(whole),
        "longwave_down_wm2": cube(sun.longwave_down_wm2(air, vapour, 0.0)),
        "sky_view": cube(0.85),
        "sun_share": cube(1.0),
        "pot_c": cube(air),
        "pressure_kpa": cube(101.3),
    }


def shaded(weather: dict[str, Any], share: float) -> dict[str, Any]:
    """All sun cut to ``share``, as cloth does."""
    names = ("beam_normal_wm2", "diffuse_wm2", "global_wm2")
    return weather | {name: weather[name] * share for name in names}


def bag(weather: dict[str, Any], dark: bool = True, start_c: float = 5.0) -> Array:
    return run_bag(np.full((1, 1), start_c), np.array([dark]), **weather).air_c[0, 0]


SPRING_DAYS = [
    ("2026-04-10T00:00:00", 10.0, 2.0, 0.75),
    ("2026-04-15T00:00:00", 15.0, 5.0, 0.9),
    ("2026-05-20T00:00:00", 20.0, 9.0, 1.1),
    ("2026-06-25T00:00:00", 25.0, 13.0, 1.4),
]


@pytest.mark.parametrize(
    ("dark", "share", "calm", "expected"),
    [
        (True, 1.0, True, (32.0, 38.0, 43.0, 48.0)),
        (True, 1.0, False, (25.0, 31.0, 36.0, 41.0)),
        (True, 0.5, True, (21.0, 26.0, 31.0, 36.0)),
        (True, 0.5, False, (17.0, 23.0, 28.0, 33.0)),
        (False, 1.0, True, (28.0, 33.0, 37.0, 42.0)),
        (False, 1.0, False, (26.0, 30.0, 35.0, 39.0)),
    ],
)
def test_bags_heat_about_as_much_as_the_prototype_did(
    dark: bool, share: float, calm: bool, expected: tuple[float, ...]
) -> None:
    """Plausibility only, to 4 K: these figures came from a prototype of this same model."""
    for day, highest in zip(SPRING_DAYS, expected, strict=True):
        weather = shaded(sunny_day(*day), share) | {"wind_ms": cube(0.54 if calm else 1.44)}
        assert bag(weather, dark)[24:].max() == pytest.approx(highest, abs=4.0)


def test_a_bag_at_night_is_a_little_colder_than_the_air() -> None:
    """It is no frost cover: condensation makes the film radiate as a roof does."""
    weather = sunny_day(*SPRING_DAYS[0])
    below_k = (weather["air_c"][0, 0] - bag(weather))[24:28]
    assert (below_k > 0.5).all()
    assert (below_k < 3.5).all()


def test_a_bag_under_a_dull_warm_sky_is_the_air() -> None:
    """Nothing to gain and nothing to lose: exact limit."""
    air = np.full(24, 7.0)
    weather = shaded(sunny_day(*SPRING_DAYS[0]), 0.0) | {
        "air_c": cube(air),
        "pot_c": cube(air),
        "longwave_down_wm2": cube(SIGMA_WM2K4 * (air + 273.15) ** 4),
        "sun_elevation_rad": cube(np.full(24, -0.1)),
    }
    cut = {n: v[..., :24] if v.shape[-1] > 1 else v for n, v in weather.items()}
    assert bag(cut, start_c=30.0)[-1] == pytest.approx(7.0, abs=0.01)


@settings(max_examples=60, deadline=None)
@given(
    st.sampled_from(SPRING_DAYS),
    st.booleans(),
    st.floats(0.0, 1.0),
    st.floats(0.05, 8.0),
    st.booleans(),
)
def test_a_shaded_bag_is_never_hotter_than_one_in_the_sun(
    day: tuple[str, float, float, float], dark: bool, share: float, wind_ms: float, beam_only: bool
) -> None:
    weather = sunny_day(*day) | {"wind_ms": cube(wind_ms)}
    shade = weather | {"sun_share": cube(share)} if beam_only else shaded(weather, share)
    sunlit = weather["global_wm2"][0, 0] > 0.0
    assert (bag(shade, dark) <= bag(weather, dark) + 1e-9)[sunlit].all()


def test_a_bag_resumed_is_the_bag_unbroken() -> None:
    weather = sunny_day(*SPRING_DAYS[1])
    whole = run_bag(np.full((1, 1), 5.0), np.array([True]), **weather)
    first = {n: v[..., :19] if v.shape[-1] > 1 else v for n, v in weather.items()}
    rest = {n: v[..., 19:] if v.shape[-1] > 1 else v for n, v in weather.items()}
    morning = run_bag(np.full((1, 1), 5.0), np.array([True]), **first)
    evening = run_bag(morning.end_c, np.array([True]), **rest)
    np.testing.assert_array_equal(
        np.concatenate([morning.air_c, evening.air_c], axis=-1), whole.air_c
    )
    np.testing.assert_array_equal(evening.end_c, whole.end_c)


@settings(max_examples=40, deadline=None)
@given(st.floats(-45, 50), st.floats(0, 60), st.floats(0, 1000), st.floats(0, 1), st.booleans())
def test_a_bag_is_finite_in_any_weather(
    air_c: float, wind_ms: float, beam: float, sky_view: float, dark: bool
) -> None:
    weather = sunny_day(*SPRING_DAYS[0]) | {
        "air_c": np.full((1, 1, 48), air_c),
        "wind_ms": cube(wind_ms),
        "beam_normal_wm2": cube(beam),
        "sky_view": cube(sky_view),
    }
    inside = bag(weather, dark)
    assert np.isfinite(inside).all()
    assert (np.abs(inside - air_c) < 100.0).all()
