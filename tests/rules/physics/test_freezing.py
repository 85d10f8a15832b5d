"""Heat in two halves of a wet ball against exact solutions, through freezing and thaw."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from underbench.rules.physics.freezing import Halves, Nodes, enthalpy_j, frozen_share
from underbench.rules.weather.hourly import Array

HOUR_S = 3600.0


def two_halves(**given: float) -> Nodes:
    """Two halves of about 1.5 L of wet mix each."""
    values = {
        "thawed_j_k": 3.1e3,
        "freezing_j_k": 1.9e5,
        "frozen_j_k": 2.0e3,
        "latent_j": 1.88e5,
        "core_w_k": 0.0,
        "deep_w_k": 0.0,
    } | given
    return Nodes(**{name: np.full((1, 1), value) for name, value in values.items()})


def hours_on(nodes: Nodes, temp_c: tuple[float, float], hours: int, **outer: float) -> Array:
    """Return shell and core, (hour, 2), °C, hour after hour from ``temp_c``."""
    temps = np.array(temp_c)[:, None, None]
    column = {name: np.full((1, 1), value) for name, value in outer.items()}
    deep_c = column.get("deep_c", np.zeros(()))
    halves, out = Halves(nodes), []
    for _ in range(hours):
        temps = halves.hour_later_c(temps, column["outer_w_k"], column["outer_w"], deep_c)
        out.append(temps[:, 0, 0])
    return np.array(out)


def test_one_node_cools_as_the_exponential() -> None:
    """Newton's law of cooling: exact. A step of 15 K at a time constant of 1.04 h."""
    nodes = two_halves()
    conductance = 3.1e3 / (1.04 * HOUR_S)
    shell = hours_on(nodes, (20.0, 20.0), 8, outer_w_k=conductance, outer_w=conductance * 5.0)[:, 0]
    exact = 5.0 + 15.0 * np.exp(-np.arange(1, 9) / 1.04)
    np.testing.assert_allclose(shell, exact, rtol=1e-12)


def test_freezing_takes_as_long_as_the_logarithms_say() -> None:
    """Each straight piece is an exponential of its own; their times add up exactly."""
    nodes = two_halves()
    conductance, air = 1.5, -6.0
    shell = hours_on(nodes, (4.0, 4.0), 30, outer_w_k=conductance, outer_w=conductance * air)[:, 0]
    cooling_s = 3.1e3 / conductance * np.log((4.0 - air) / (0.0 - air))
    freezing_s = 1.9e5 / conductance * np.log((0.0 - air) / (-1.0 - air))
    since_zero_s = HOUR_S * np.arange(1, 31) - cooling_s
    in_ice = air + (0.0 - air) * np.exp(-since_zero_s * conductance / 1.9e5)
    frozen = air + (-1.0 - air) * np.exp(-(since_zero_s - freezing_s) * conductance / 2.0e3)
    before = air + (4.0 - air) * np.exp(-(since_zero_s + cooling_s) * conductance / 3.1e3)
    exact = np.where(since_zero_s < 0, before, np.where(since_zero_s < freezing_s, in_ice, frozen))
    done_h = (cooling_s + freezing_s) / HOUR_S
    assert 5.0 < done_h < 10.0
    away_from_the_corner = np.abs(np.arange(1, 31) - done_h) > 1.0
    np.testing.assert_allclose(shell[away_from_the_corner], exact[away_from_the_corner], atol=0.06)
    first_frozen_h = 1 + int(np.argmax(frozen_share(shell) == 1.0))
    assert done_h - 0.5 <= first_frozen_h <= done_h + 1.5


def test_two_nodes_follow_the_matrix_exponential() -> None:
    """Exact solution of the linear pair through its eigenvectors."""
    nodes = two_halves(core_w_k=0.9, deep_w_k=0.1)
    out_w_k, air, deep = 1.2, 5.0, 8.0
    rates = np.array([[-(out_w_k + 0.9), 0.9], [0.9, -(0.9 + 0.1)]]) / 3.1e3
    steady = np.linalg.solve(-rates, np.array([out_w_k * air, 0.1 * deep]) / 3.1e3)
    values, vectors = np.linalg.eigh(rates)
    start = np.array([20.0, 20.0])
    exact = [
        steady + vectors @ (np.exp(values * HOUR_S * hour) * (vectors.T @ (start - steady)))
        for hour in range(1, 13)
    ]
    model = hours_on(nodes, (20.0, 20.0), 12, outer_w_k=out_w_k, outer_w=out_w_k * air, deep_c=deep)
    np.testing.assert_allclose(model, exact, rtol=1e-12)


def test_a_ball_that_only_freezes_follows_the_exponential_of_its_ice() -> None:
    """Between 0 and -1 °C the pair is as straight as above: exact."""
    nodes = two_halves()
    shell = hours_on(nodes, (-0.1, -0.1), 12, outer_w_k=0.5, outer_w=-2.0)[:, 0]
    exact = -4.0 + 3.9 * np.exp(-np.arange(1, 13) * HOUR_S * 0.5 / 1.9e5)
    assert exact[-1] > -1.0
    np.testing.assert_allclose(shell, exact, rtol=1e-12)


@given(
    st.tuples(st.floats(-30, 30), st.floats(-30, 30)),
    st.floats(-60, 60),
    st.floats(0.0, 5.0),
)
def test_heat_put_in_is_heat_found(
    temp_c: tuple[float, float], watts: float, core_w_k: float
) -> None:
    """With no other way out, a steady flow adds exactly its joules, through freezing or thaw."""
    nodes = two_halves(core_w_k=core_w_k)
    later = hours_on(nodes, temp_c, 24, outer_w_k=0.0, outer_w=watts)
    found_j = enthalpy_j(nodes, np.array([temp_c, *later]).T[:, :, None]).sum(axis=0)[:, 0]
    np.testing.assert_allclose(
        found_j, found_j[0] + HOUR_S * watts * np.arange(25), rtol=1e-12, atol=1e-6
    )
