"""Leaf temperature: exact limits, order, and the size of effects growers know.

No published table exists for a bonsai's leaf. Where figures come from an earlier prototype of the
same equations, the test says so: they catch slips and prove nothing.
"""

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underbench.rules.physics.leaf import forced_film_wm2k, leaf_temperature_c
from underbench.rules.weather import air, sun

AIR_C = st.floats(-45.0, 50.0)
WIND_MS = st.floats(0.0, 60.0)
SUN_WM2 = st.floats(0.0, 1300.0)
SHARE = st.floats(0.0, 1.0)
WIDTH_M = st.floats(0.001, 0.2)
HUMIDITY = st.floats(5.0, 100.0)
LEAF_WIDTHS_M = np.array([0.002, 0.01, 0.03, 0.08])
SETTLED_K = 0.01  # the model finds its root to this


def leaf_c(air_c=1.5, rh=80.0, wind=0.3, cloud=0.0, sunny=0.0, width=0.03, sky=1.0, green=0.0):
    vapour = air.vapour_kpa(air_c, rh)
    return leaf_temperature_c(
        air_c=air_c,
        vapour_kpa=vapour,
        wind_ms=wind,
        longwave_down_wm2=sun.longwave_down_wm2(air_c, vapour, cloud),
        sun_wm2=sunny,
        width_m=width,
        sky_view=sky,
        transpiring=green,
    )


def test_film_coefficient_is_that_of_the_textbook():
    # Campbell & Norman 1998, eq. 7.33 (from memory): 0.135 sqrt(u/d) mol/m²s, times 1.4 outdoors,
    # times the molar heat capacity 29.3 J/molK.
    textbook = 1.4 * 0.135 * 29.3 * np.sqrt(1.0 / 0.03)
    assert forced_film_wm2k(1.0, 0.03) == pytest.approx(textbook, rel=0.03)


@pytest.mark.parametrize(
    ("wind", "expected"),
    [
        (0.15, [-0.7, -1.4, -2.2, -3.0]),
        (0.3, [-0.5, -1.1, -1.7, -2.4]),
        (0.6, [-0.4, -0.8, -1.3, -1.9]),
        (1.2, [-0.3, -0.6, -0.9, -1.4]),
    ],
)
def test_clear_night_as_the_prototype_had_it(wind: float, expected: list[float]):
    # The same equations, written separately: needle, bud, small and large leaf at 0 to 3 °C.
    below = leaf_c(air_c=np.array([[0.0], [1.5], [3.0]]), wind=wind, width=LEAF_WIDTHS_M)
    below = (below - np.array([[0.0], [1.5], [3.0]])).mean(axis=0)
    assert below == pytest.approx(expected, abs=0.3)
    assert (np.diff(below) < 0.0).all()


def test_half_cloud_halves_it_and_overcast_all_but_ends_it():
    clear, half, overcast = leaf_c(cloud=np.array([0.0, 0.5, 1.0])) - 1.5
    assert half == pytest.approx(0.58 * clear, rel=0.05)  # share: the prototype's
    assert -0.5 < overcast < 0.0


@pytest.mark.parametrize("wind", [0.2, 0.5, 1.0])
def test_a_watered_leaf_in_full_sun_on_a_hot_still_day_nears_scorch(wind: float):
    # Common practice, no source: maple leaves scorch in sun at 33 °C, at 38 to 42 °C of leaf.
    watered, dry = leaf_c(33.0, 35.0, wind, sunny=900.0, width=0.05, green=np.array([1.0, 0.0]))
    assert 36.5 < watered < 40.0
    assert 38.5 < dry < 44.0
    shaded = leaf_c(33.0, 35.0, wind, sunny=150.0, width=0.05, green=1.0)
    assert shaded < 34.0


def test_needles_stay_near_the_air_where_broad_leaves_do_not():
    needle, broad = leaf_c(30.0, 40.0, 0.5, sunny=900.0, width=np.array([0.002, 0.08]))
    assert needle - 30.0 < 0.4 * (broad - 30.0)


def test_a_black_box_at_one_temperature_is_an_exact_rest():
    # Sky as warm as the air, no sun, saturated air: nothing flows.
    black = 5.670374e-8 * 283.15**4
    still = leaf_temperature_c(
        air_c=10.0,
        vapour_kpa=air.saturation_kpa(10.0),
        wind_ms=0.0,
        longwave_down_wm2=black,
        sun_wm2=0.0,
        width_m=0.03,
        sky_view=1.0,
        transpiring=1.0,
    )
    assert still == pytest.approx(10.0, abs=1e-9)


def at_rest_c(air_c: float, vapour_kpa: float) -> float:
    """A leaf in the calm under a sky as warm as the air: only vapour can move it."""
    leaf = leaf_temperature_c(
        air_c=air_c,
        vapour_kpa=vapour_kpa,
        wind_ms=0.3,
        longwave_down_wm2=5.670374e-8 * (air_c + 273.15) ** 4,
        sun_wm2=0.0,
        width_m=0.03,
        sky_view=1.0,
        transpiring=0.0,
    )
    return float(leaf)


@pytest.mark.parametrize("air_c", [-1.0, -3.0, -6.0, -12.0])
def test_rime_settles_from_saturation_over_ice_and_not_below(air_c: float):
    # Exact limits, with saturation over ice as psychrolib has it (ASHRAE 2017). In drier air the
    # leaf rests at air temperature; in damper air what settles warms it.
    psychrolib.SetUnitSystem(psychrolib.SI)
    over_ice_kpa = psychrolib.GetSatVapPres(air_c) / 1000.0
    assert at_rest_c(air_c, 0.995 * over_ice_kpa) == pytest.approx(air_c, abs=1e-9)
    assert at_rest_c(air_c, over_ice_kpa) == pytest.approx(air_c, abs=0.01)
    over_water_kpa = float(air.saturation_kpa(air_c))
    assert at_rest_c(air_c, over_water_kpa) > air_c + 0.02


def test_dew_gives_way_to_rime_without_a_step():
    # Over water and over ice air saturates alike at the triple point (0 °C to 0.01 K).
    air_c = np.linspace(1.0, 3.0, 401)
    leaves = leaf_c(air_c, rh=95.0, wind=0.3, width=0.03)
    assert leaves.min() < 0.0 < leaves.max()
    # Air warms by 0.005 K a step.
    assert 0.0 < np.diff(leaves).min() < np.diff(leaves).max() < 0.006


def test_without_wind_vapour_or_sky_radiation_alone_closes_the_balance():
    # One face under a sky of 0 K, the other facing the air, both radiating: 2 T^4 = Ta^4 when the
    # film is negligible, as it is for an immense leaf. An exact limit of the equations.
    leaf = leaf_temperature_c(
        air_c=10.0,
        vapour_kpa=0.0,
        wind_ms=0.0,
        longwave_down_wm2=0.0,
        sun_wm2=0.0,
        width_m=1e12,
        sky_view=1.0,
        transpiring=0.0,
    )
    # Four Newton steps from so far off leave half a kelvin.
    assert leaf + 273.15 == pytest.approx(283.15 * 0.5**0.25, abs=0.5)


def test_leaf_is_the_air_under_an_overcast_gale():
    for air_c in (-20.0, 0.0, 25.0):
        assert leaf_c(air_c, wind=30.0, cloud=1.0, width=0.01) == pytest.approx(air_c, abs=0.1)


def test_dew_slows_the_cooling():
    dry, damp = leaf_c(rh=np.array([60.0, 100.0]), wind=0.15, width=0.08, cloud=0.0) - 1.5
    vapour = air.vapour_kpa(1.5, 100.0)
    same_sky = leaf_temperature_c(
        air_c=1.5,
        vapour_kpa=np.array([0.3, vapour]),
        wind_ms=0.15,
        longwave_down_wm2=250.0,
        sun_wm2=0.0,
        width_m=0.08,
        sky_view=1.0,
        transpiring=0.0,
    )
    assert dry < damp
    assert same_sky[0] < same_sky[1] - 0.5


@given(AIR_C, HUMIDITY, WIND_MS, SHARE, SUN_WM2, WIDTH_M, SHARE, SHARE)
def test_always_a_temperature(air_c, rh, wind, cloud, sunny, width, sky, green):
    leaf = leaf_c(air_c, rh, wind, cloud, sunny, width, sky, green)
    assert np.isfinite(leaf)
    assert -60.0 < leaf < 110.0


@given(AIR_C, st.floats(0.0, 20.0), HUMIDITY, WIND_MS, SUN_WM2, WIDTH_M, SHARE, SHARE)
def test_colder_air_never_gives_a_warmer_leaf(colder, by_k, rh, wind, sunny, width, sky, green):
    vapour = air.vapour_kpa(colder, rh)
    cold, warm = leaf_temperature_c(
        air_c=np.array([colder, colder + by_k]),
        vapour_kpa=vapour,
        wind_ms=wind,
        longwave_down_wm2=sun.longwave_down_wm2(colder, vapour, 0.3),
        sun_wm2=sunny,
        width_m=width,
        sky_view=sky,
        transpiring=green,
    )
    assert cold <= warm + SETTLED_K


@given(AIR_C, HUMIDITY, WIND_MS, WIDTH_M, SHARE, SHARE)
def test_more_sky_never_warms_a_leaf_on_a_clear_night(air_c, rh, wind, width, sky, other):
    views = np.array(sorted([sky, other]))
    # Frosty air can hold more vapour than ice allows; its rime would warm the leaf.
    if air_c < 0.0:
        psychrolib.SetUnitSystem(psychrolib.SI)
        over_ice_kpa = psychrolib.GetSatVapPres(air_c) / 1000.0
        rh = min(rh, float(100.0 * over_ice_kpa / air.saturation_kpa(air_c)))
    less, more = leaf_c(air_c, rh, wind, 0.0, 0.0, width, views)
    assert more <= less + SETTLED_K
    assert less <= air_c + SETTLED_K


@given(AIR_C, HUMIDITY, WIND_MS, SHARE, WIDTH_M, SHARE, SUN_WM2)
def test_sun_warms_a_leaf_that_cannot_transpire(air_c, rh, wind, cloud, width, sky, sunny):
    dark, lit = leaf_c(air_c, rh, wind, cloud, np.array([0.0, sunny]), width, sky)
    assert lit >= dark - SETTLED_K


@given(AIR_C, HUMIDITY, WIND_MS, SUN_WM2, WIDTH_M, SHARE)
def test_transpiring_cools(air_c, rh, wind, sunny, width, green):
    dry, watered = leaf_c(air_c, rh, wind, 0.0, sunny, width, green=np.array([0.0, green]))
    assert watered <= dry + SETTLED_K


def test_shapes_broadcast_and_gaps_stay_gaps():
    assert leaf_c(air_c=np.zeros((1, 3, 4)), width=np.full((2, 1, 1), 0.03)).shape == (2, 3, 4)
    assert np.isnan(leaf_c(wind=np.nan))
