"""Bags: exact limits, and what is known about air under plastic over a stump."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from underbench.rules.garden.journal import Opening
from underbench.rules.physics.bag import VENTS, Vent, run_bag, ventilation_m3_s
from underbench.rules.weather import sun
from underbench.rules.weather.air import saturation_kpa
from underbench.rules.weather.constants import SIGMA_WM2K4
from underbench.rules.weather.hourly import Array

SHUT = VENTS[Opening.SHUT]


def cube(values: Any) -> Array:
    return np.asarray(values, dtype=float).reshape(1, 1, -1)


def sunny_day(
    first: str, highest_c: float, lowest_c: float, vapour_kpa: float, latitude: float = 52.0
) -> dict[str, Any]:
    """Two cloudless days at longitude 0; 0.54 m/s at the bench is 1.5 m/s at 10 m."""
    ends = np.datetime64(first, "s").astype(np.int64) + 3600 * np.arange(1, 49)
    air = (highest_c + lowest_c) / 2 + (highest_c - lowest_c) / 2 * np.cos(
        (np.arange(48) - 14.5) / 12 * np.pi
    )
    up, _ = sun.position(ends - 1800, latitude, 0.0)
    whole = sun.clear_sky_wm2(up, 50.0)
    diffuse = sun.diffuse_from_global_wm2(whole, up, sun.day_of_year(ends))
    vapour = np.minimum(vapour_kpa, saturation_kpa(air))
    return {
        "air_c": cube(air),
        "vapour_kpa": cube(vapour),
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


def bag(
    weather: dict[str, Any], dark: bool = True, start_c: float = 5.0, vent: Vent = SHUT
) -> Array:
    return run_bag(np.full((1, 1), start_c), np.array([dark]), [vent], **weather).air_c[0, 0]


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
    """The bag neither gains nor loses heat: exact limit."""
    air = np.full(24, 7.0)
    weather = shaded(sunny_day(*SPRING_DAYS[0]), 0.0) | {
        "air_c": cube(air),
        "pot_c": cube(air),
        "longwave_down_wm2": cube(SIGMA_WM2K4 * (air + 273.15) ** 4),
        "sun_elevation_rad": cube(np.full(24, -0.1)),
    }
    cut = {n: v[..., :24] if v.shape[-1] > 1 else v for n, v in weather.items()}
    assert bag(cut, start_c=30.0)[-1] == pytest.approx(7.0, abs=0.01)


@settings(max_examples=25)
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
    whole = run_bag(np.full((1, 1), 5.0), np.array([True]), [SHUT], **weather)
    first = {n: v[..., :19] if v.shape[-1] > 1 else v for n, v in weather.items()}
    rest = {n: v[..., 19:] if v.shape[-1] > 1 else v for n, v in weather.items()}
    morning = run_bag(np.full((1, 1), 5.0), np.array([True]), [SHUT], **first)
    evening = run_bag(morning.end_c, np.array([True]), [SHUT], **rest)
    np.testing.assert_array_equal(
        np.concatenate([morning.air_c, evening.air_c], axis=-1), whole.air_c
    )
    np.testing.assert_array_equal(evening.end_c, whole.end_c)


@settings(max_examples=25)
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


# ---- openings -----------------------------------------------------------------------------------


def test_still_air_comes_through_a_door_as_reckoned_by_hand() -> None:
    """Single-sided: 0.61/3 × 2 m² × √(9.80665 × 2 m × 10 K / 293.15 K) = 0.333 m³/s, and 0.025 × 2
    m² × 10 m/s = 0.5 m³/s in wind (the form of BS 5925, from memory)."""
    door = (np.array(2.0), np.array(2.0))
    still = ventilation_m3_s(np.array(30.0), np.array(20.0), np.array(0.0), *door)
    windy = ventilation_m3_s(np.array(30.0), np.array(20.0), np.array(10.0), *door)
    assert (float(still), float(windy)) == (pytest.approx(0.3326, abs=5e-4), 0.5)


@pytest.mark.parametrize("day", SPRING_DAYS)
def test_a_bag_as_open_as_can_be_is_the_air(day: tuple[str, float, float, float]) -> None:
    """Exact limit: what dries off inside is bounded; the air that comes through is not."""
    weather = sunny_day(*day)
    np.testing.assert_allclose(bag(weather, vent=Vent(1e6, 1.0)), weather["air_c"][0, 0], atol=0.02)


def test_an_opening_of_no_size_is_none() -> None:
    weather = sunny_day(*SPRING_DAYS[0])
    np.testing.assert_array_equal(bag(weather, vent=Vent(0.0, 0.5)), bag(weather))


AREAS = st.floats(0.0, 0.1)


@settings(max_examples=25)
@given(
    st.sampled_from(SPRING_DAYS), st.booleans(), AREAS, AREAS, st.floats(0.05, 8), st.floats(0.1, 1)
)
def test_the_further_open_the_cooler_in_the_sun(
    day: tuple[str, float, float, float],
    dark: bool,
    one_m2: float,
    other_m2: float,
    wind_ms: float,
    share: float,
) -> None:
    """Compared at the day's highest: at dawn a bag is below the air, and an opening warms it."""
    weather = shaded(sunny_day(*day), share) | {"wind_ms": cube(wind_ms)}
    less, more = sorted([one_m2, other_m2])
    shut, wide = (bag(weather, dark, vent=Vent(area, 0.2))[24:].max() for area in (less, more))
    air = weather["air_c"][0, 0, 24:].max()
    assert wide <= max(shut, air) + 0.01


@pytest.mark.parametrize("dark", [True, False])
def test_slits_help_a_little_and_an_open_bag_is_near_the_air(dark: bool) -> None:
    """Common practice, no source: slit to temper it, open to end it."""
    for day in SPRING_DAYS:
        weather = sunny_day(*day)
        shut, slit, wide = (bag(weather, dark, vent=VENTS[how])[24:].max() for how in Opening)
        assert shut - 1.0 > slit > wide + 1.0
        assert day[1] < wide < day[1] + 0.5 * (shut - day[1])


def test_an_open_bag_is_no_colder_at_night_than_a_shut_one() -> None:
    """Air brings back what it loses to the sky; in saturated air nothing dries off."""
    weather = sunny_day(*SPRING_DAYS[0])
    weather |= {"vapour_kpa": saturation_kpa(weather["air_c"])}
    dark = weather["global_wm2"][0, 0] == 0.0
    dark[:18] = False
    shut, wide = bag(weather), bag(weather, vent=VENTS[Opening.OPEN])
    assert (wide >= shut - 0.01)[dark].all()


# ---- facts of the trade -------------------------------------------------------------------------


@pytest.mark.parametrize("latitude", [46.0, 49.0, 52.0])
@pytest.mark.parametrize("highest_c", [6.0, 9.0, 12.0])
def test_a_dark_bag_works_in_full_sun_on_cool_days_and_does_nothing_in_shade(
    latitude: float, highest_c: float
) -> None:
    """Full sun while the days are cool: common practice, no source."""
    weather = sunny_day("2026-03-20T00:00:00", highest_c, 1.0, 0.6, latitude)
    full, deep = bag(weather)[24:].max(), bag(shaded(weather, 0.1))[24:].max()
    assert full > highest_c + 10.0
    assert deep < highest_c + 5.0


@pytest.mark.parametrize("latitude", [46.0, 49.0, 52.0])
def test_where_a_bag_goes_comes_out_of_the_physics(latitude: float) -> None:
    """Full sun while the day's highest is 12 °C or less, half shade to 20 °C, full shade above:
    common practice, no source, as are the limits (35 °C for three hours on bare wood, 28 °C once
    green shows). On calm clear days at the equinox, to the 5 K that a bag is known to."""

    def held_c(highest_c: float, share: float) -> float:
        day = ("2026-03-20T00:00:00", highest_c, highest_c - 9.0, 0.65, latitude)
        inside = bag(shaded(sunny_day(*day), share))[24:]
        return float(np.lib.stride_tricks.sliding_window_view(inside, 3).min(axis=1).max())

    assert held_c(12.0, 1.0) < 35.0 < held_c(12.0 + 5.0, 1.0)
    assert held_c(20.0 - 5.0, 0.5) < 28.0 < held_c(20.0 + 5.0, 0.5)
    assert held_c(25.0, 0.1) < 28.0
