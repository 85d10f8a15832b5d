"""Scores against closed forms and published examples."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underbench.rules.weather.scoring import brier, ensemble_crps, normal_crps

degrees = st.floats(-30, 30)
ensembles = st.lists(degrees, min_size=2, max_size=20).map(np.array)


def test_the_crps_of_a_standard_normal_at_its_middle() -> None:
    # Exact, from the closed form: (√2 − 1) / √π.
    assert normal_crps(0.0, 1.0, 0.0) == pytest.approx((np.sqrt(2) - 1) / np.sqrt(np.pi))


@pytest.mark.parametrize(("mean", "spread", "observed"), [(0, 1, 0.3), (2, 1.5, -1), (-3, 0.4, 1)])
def test_the_closed_form_is_the_integral_it_stands_for(
    mean: float, spread: float, observed: float
) -> None:
    # The definition (Gneiting & Raftery 2007): the integral of (F(x) - [x >= observed])².
    x = np.linspace(mean - 40, mean + 40, 800_001)
    density = np.exp(-0.5 * ((x - mean) / spread) ** 2)
    below = np.cumsum(density) / density.sum()
    integral = np.trapezoid((below - (x >= observed)) ** 2, x)
    assert normal_crps(mean, spread, observed) == pytest.approx(integral, abs=1e-3)


@pytest.mark.parametrize("observed", [-1.5, 0.0, 2.2])
def test_a_large_ensemble_scores_as_the_normal_it_is_drawn_from(observed: float) -> None:
    members = np.random.default_rng(1).normal(0.4, 1.3, 4000)
    assert ensemble_crps(members, observed) == pytest.approx(
        normal_crps(0.4, 1.3, observed), abs=0.03
    )


def test_one_member_scores_its_absolute_error_and_none_is_refused() -> None:
    assert ensemble_crps(np.array([2.0]), 3.5) == 1.5
    with pytest.raises(ValueError, match="members"):
        ensemble_crps(np.array([]), 0.0)
    with pytest.raises(ValueError, match="cases"):
        brier(np.array([]), np.array([]))


def test_the_fair_form_favours_no_number_of_members() -> None:
    # Ferro 2014 (from memory): its mean does not depend on how many are drawn.
    rng = np.random.default_rng(2)
    few = np.mean([ensemble_crps(rng.normal(size=3), rng.normal()) for _ in range(20_000)])
    # For a perfect forecast that is 1/√π, the mean CRPS of a standard normal.
    assert few == pytest.approx(1 / np.sqrt(np.pi), abs=0.02)


@given(ensembles, degrees, degrees)
def test_shifting_all_changes_nothing(members: np.ndarray, observed: float, by: float) -> None:
    assert ensemble_crps(members + by, observed + by) == pytest.approx(
        ensemble_crps(members, observed), abs=1e-9
    )


def test_the_brier_score_of_certainties_and_of_a_toss() -> None:
    """Exact: 0 for what was foreseen for sure, 1 for the contrary, 1/4 for even chances."""
    came = np.array([0.0, 1.0, 1.0])
    assert brier(came, came) == 0.0
    assert brier(1 - came, came) == 1.0
    assert brier(np.full(3, 0.5), came) == 0.25
