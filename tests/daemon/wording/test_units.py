"""Units: what a person reads, and conversion both ways.

Conversion factors are exact by definition (NIST SP 811, appendix B); the fixed points of the
temperature scales (-40, 0/32, 100/212) are textbook.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from underbench.daemon.wording.units import Units, c_from_f, f_from_c

METRIC, US = Units("metric"), Units("us")


@pytest.mark.parametrize(("c", "f"), [(-40, -40), (0, 32), (100, 212), (37, 98.6)])
def test_fixed_points_of_the_temperature_scales(c, f):
    assert f_from_c(c) == pytest.approx(f, abs=1e-9)
    assert c_from_f(f) == pytest.approx(c, abs=1e-9)


@given(st.floats(-90, 60))
def test_there_and_back(c):
    assert c_from_f(f_from_c(c)) == pytest.approx(c, abs=1e-9)


@pytest.mark.parametrize(
    ("c", "metric", "us"),
    [
        (-2.5, "−2.5 °C", "27.5 °F"),
        (-0.04, "0.0 °C", "31.9 °F"),
        (0.0, "0.0 °C", "32.0 °F"),
        (-20.0, "−20.0 °C", "−4.0 °F"),
        (-17.78, "−17.8 °C", "0.0 °F"),  # a hair below 0 °F: no minus before zero
        (38.04, "38.0 °C", "100.5 °F"),
    ],
)
def test_temperature(c, metric, us):
    assert METRIC.temp(c) == metric
    assert US.temp(c) == us


def test_whole_temperature_has_a_true_minus_and_no_negative_zero():
    assert METRIC.temp_whole(-2.6) == "−3 °C"
    assert METRIC.temp_whole(-0.4) == "0 °C"
    assert US.temp_whole(-2.6) == "27 °F"


def test_difference_has_no_offset():
    assert METRIC.temp_difference(5) == "5 °C"
    assert US.temp_difference(5) == "9 °F"
    assert US.temp_difference(-0.01) == "0 °F"


@pytest.mark.parametrize(
    ("written", "metric", "us"),
    [
        ("speed", (12.0, "12 m/s"), (12.0, "27 mph")),
        ("length", (45.0, "45 cm"), (45.72, "18 in")),  # 1.5 ft
        ("volume", (3.14, "3.1 L"), (3.785411784, "1.0 gal")),
        ("volume", (9.96, "10 L"), (37.85411784, "10 gal")),
    ],
)
def test_other_quantities(written, metric, us):
    assert getattr(METRIC, written)(metric[0]) == metric[1]
    assert getattr(US, written)(us[0]) == us[1]
