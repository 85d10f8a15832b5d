"""Moist air against FAO-56's worked examples and psychrolib."""

import numpy as np
import psychrolib
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underbench.rules.weather import air

psychrolib.SetUnitSystem(psychrolib.SI)

TEMPERATURES = st.floats(-45.0, 50.0)
HUMIDITIES = st.floats(1.0, 100.0)


def printed(value: float, digits: int) -> object:
    """Within half a unit of the last printed digit."""
    return pytest.approx(value, abs=0.5 * 10.0**-digits)


def test_fao_56_example_2_pressure_and_psychrometric_constant():
    pressure = air.pressure_kpa(1800.0)
    assert pressure == printed(81.8, 1)
    assert air.psychrometric_kpa_k(pressure) == printed(0.054, 3)


def test_fao_56_example_3_mean_saturation():
    high, low = air.saturation_kpa(np.array([24.5, 15.0]))
    assert high == printed(3.075, 3)
    assert low == printed(1.705, 3)
    assert (high + low) / 2.0 == printed(2.39, 2)
    # The example warns of this trap: the mean temperature's saturation is too low.
    assert air.saturation_kpa(19.75) == printed(2.30, 2)


def test_fao_56_example_4_pressure_and_saturation():
    pressure = air.pressure_kpa(1200.0)
    assert pressure == printed(87.9, 1)
    assert air.saturation_kpa(19.5) == printed(2.267, 3)


def test_fao_56_example_5_vapour_from_humidity():
    assert air.saturation_kpa(np.array([18.0, 25.0])) == printed([2.064, 3.168], 3)
    from_extremes = air.vapour_kpa(np.array([18.0, 25.0]), np.array([82.0, 54.0])).mean()
    assert from_extremes == printed(1.70, 2)
    # From the mean humidity alone, which the example warns of: 1.78.
    assert 0.68 * air.saturation_kpa(np.array([18.0, 25.0])).mean() == printed(1.78, 2)


def test_fao_56_example_6_vapour_deficit():
    # The saturation of Example 5 less its vapour pressure; the printed 0.91 from memory.
    saturated = air.saturation_kpa(np.array([18.0, 25.0])).mean()
    dew = air.dew_point_c(air.vapour_kpa(np.array([18.0, 25.0]), np.array([82.0, 54.0])).mean())
    assert saturated - air.saturation_kpa(dew) == printed(0.91, 2)


def test_fao_56_example_14_wind_at_two_metres():
    assert air.wind_at_m(3.2, 2.0) == printed(2.4, 1)
    assert air.wind_at_m(1.0, 2.0) == printed(0.75, 2)
    assert air.wind_at_m(5.0, 10.0) == pytest.approx(5.0)


def test_fao_56_example_17_slope_and_constant():
    assert air.slope_kpa_k(30.2) == printed(0.246, 3)
    assert air.saturation_kpa(np.array([34.8, 25.6])).mean() == printed(4.42, 2)
    # Printed from the rounded 101.3 kPa; unrounded 101.276 kPa at 2 m gives 0.0673.
    assert air.psychrometric_kpa_k(101.3) == printed(0.0674, 4)


def test_fao_56_example_18_slope_and_constant():
    assert air.pressure_kpa(100.0) == printed(100.1, 1)
    assert air.slope_kpa_k(16.9) == printed(0.122, 3)
    assert air.saturation_kpa(np.array([21.5, 12.3])).mean() == printed(1.997, 3)
    assert air.psychrometric_kpa_k(air.pressure_kpa(100.0)) == printed(0.0666, 4)


def test_fao_56_example_19_slope_and_saturation():
    assert air.slope_kpa_k(np.array([28.0, 38.0])) == printed([0.220, 0.358], 3)
    assert air.saturation_kpa(np.array([28.0, 38.0])) == printed([3.780, 6.625], 3)


def test_dew_point_agrees_with_psychrolib_above_freezing():
    # Below 0 °C psychrolib gives the frost point, so only dew points above it compare.
    for t_c in (5.0, 12.0, 20.0, 35.0):
        for rh in (40.0, 60.0, 80.0, 100.0):
            theirs = psychrolib.GetTDewPointFromRelHum(t_c, rh / 100.0)
            if theirs > 0.0:
                ours = air.dew_point_c(air.vapour_kpa(t_c, rh))
                assert ours == pytest.approx(theirs, abs=0.06)


@pytest.mark.parametrize(
    ("t_c", "rh", "dew_c"),
    [(0.0, 60.0, -6.817), (2.0, 50.0, -7.309), (5.0, 40.0, -7.452), (-3.0, 80.0, -5.951)],
)
def test_frosty_air_with_the_constants_of_the_frost_book(t_c: float, rh: float, dew_c: float):
    # Snyder & de Melo-Abreu 2005; constants from memory, figures computed from them apart from
    # this code.
    assert air.dew_point_c(air.vapour_kpa(t_c, rh)) == pytest.approx(dew_c, abs=0.001)


@given(TEMPERATURES, HUMIDITIES)
def test_dew_point_and_humidity_undo_each_other(t_c: float, rh: float):
    dew = air.dew_point_c(air.vapour_kpa(t_c, rh))
    assert air.relative_humidity_pct(t_c, dew) == pytest.approx(rh, rel=1e-9)
    assert air.vpd_kpa(t_c, dew) >= 0.0


@given(TEMPERATURES)
def test_the_slope_is_that_of_the_curve(t_c: float):
    # 4098 in eq. 13 is 17.27 × 237.3 rounded.
    rise = air.saturation_kpa(t_c + 1e-4) - air.saturation_kpa(t_c - 1e-4)
    assert air.slope_kpa_k(t_c) == pytest.approx(rise / 2e-4, rel=1e-4)


def test_bone_dry_air_has_a_finite_dew_point():
    assert np.isfinite(air.dew_point_c(0.0))


def test_gaps_stay_gaps():
    assert np.isnan(air.dew_point_c(np.nan))


def test_the_lowest_row_still_gets_wind():
    assert air.wind_at_m(5.0, 0.0) == air.wind_at_m(5.0, 0.2)
    assert air.wind_at_m(5.0, 0.0) > 0.0


def test_shapes_broadcast():
    assert air.vapour_kpa(np.zeros((3, 1)), np.full((1, 4), 50.0)).shape == (3, 4)
