"""Soil round roots in the ground: the waves of the day, the month and the year, against their
exact form.

In soil without end a wave of period P at the face falls off as exp(-z / d) and comes z / d later;
the damping depth d is sqrt(diffusivity × P / pi) (Campbell & Norman 1998, chapter 2). Nothing
passes below the last layer here, so the wave comes back from there as if out of a mirror.
"""

from __future__ import annotations

import numpy as np
import pytest
from ball_weather import BED, balls, clear_days, plain_weather, pot, run_from

from underbench.rules.garden.inventory import ContainerKind, Shape, Wall
from underbench.rules.physics import soil
from underbench.rules.physics.pots import GROUND_DEPTH_M, SOIL_WMK
from underbench.rules.physics.rootball import BallRun
from underbench.rules.weather.hourly import Array

DIFFUSIVITY_M2S = SOIL_WMK / soil.SOIL_J_M3K
HALF_M = GROUND_DEPTH_M / 2
FACES_M = (0.0, HALF_M, GROUND_DEPTH_M, 0.6, 1.6)  # of the four layers, down to the mirror
SHELL, CORE, UPPER, LOWER = range(4)
MONTH_H, SEASON_H, YEAR_H = 30 * 24, 90 * 24, 365 * 24


def exact(period_h: float, layer: int) -> complex:
    """The wave in a layer over the wave at the face: its size and its lag as one number."""
    inward = (1 + 1j) * np.sqrt(np.pi / (DIFFUSIVITY_M2S * period_h * 3600))
    top_m, bottom_m, mirror_m = *FACES_M[layer : layer + 2], FACES_M[-1]

    def mean(from_m: float, to_m: float) -> complex:
        whole = np.exp(-inward * from_m) - np.exp(-inward * to_m)
        return complex(whole / (inward * (to_m - from_m)))

    back = mean(2 * mirror_m - bottom_m, 2 * mirror_m - top_m)
    return complex((mean(top_m, bottom_m) + back) / (1 + np.exp(-2 * inward * mirror_m)))


def hours_late(told: complex, right: complex, period_h: float) -> float:
    return float(-np.angle(told / right) * period_h / (2 * np.pi))


def wave(values: Array, period_h: int) -> complex:
    """The wave of that period in the last period of hourly values (the cosine is 1)."""
    turned = np.exp(-2j * np.pi * np.arange(period_h) / period_h)
    return complex(2 * (values[-period_h:] * turned).mean())


def bed_under(period_h: int, periods: int, monkeypatch: pytest.MonkeyPatch) -> BallRun:
    """A bare bed whose face is held at 15 ± 10 °C by a gale."""
    monkeypatch.setattr(soil, "SOIL_COVER_M2K_W", 0.0)
    air = 15.0 + 10.0 * np.cos(2 * np.pi * np.arange(1, periods * period_h + 1) / period_h)
    return run_from(15.0, balls(BED), plain_weather(air, wind_ms=np.full((1, 1, 1), 1000.0)))


def test_the_days_wave_fades_downward_as_it_must(monkeypatch: pytest.MonkeyPatch) -> None:
    ran = bed_under(24, 20, monkeypatch)
    shell, core = (wave(values[0, 0], 24) / 10.0 for values in (ran.shell_c, ran.core_c))
    assert abs(shell) == pytest.approx(abs(exact(24, SHELL)), rel=0.03)
    assert abs(core) == pytest.approx(abs(exact(24, CORE)), rel=0.05)


def test_the_months_wave_reaches_the_roots_as_it_must(monkeypatch: pytest.MonkeyPatch) -> None:
    ran = bed_under(MONTH_H, 3, monkeypatch)
    shell, core = (wave(values[0, 0], MONTH_H) / 10.0 for values in (ran.shell_c, ran.core_c))
    for told, right in ((shell, exact(MONTH_H, SHELL)), (core, exact(MONTH_H, CORE))):
        assert abs(told) == pytest.approx(abs(right), rel=0.055)
        assert hours_late(told, right, MONTH_H) == pytest.approx(0, abs=5)


def below_over_core(period_h: int) -> Array:
    """The steady wave in each layer of the ground below, over that of the roots' lower half. What
    an hour does is linear, so what it does to one degree is all of it."""

    def hour(upper: float, lower: float, core: float) -> Array:
        layers = np.array([upper, lower]).reshape(2, 1, 1)
        return soil.hour_later_c(layers, np.array([[core]]))[:, 0, 0]

    inner = np.stack([hour(1, 0, 0), hour(0, 1, 0)], axis=1)
    turn = np.exp(2j * np.pi / period_h) * np.eye(2)
    return np.asarray(np.linalg.solve(turn - inner, hour(0, 0, 1)))


@pytest.mark.parametrize(
    ("period_h", "layer", "size_within", "days_within"),
    [
        (SEASON_H, UPPER, 0.01, 0.4),
        (SEASON_H, LOWER, 0.12, 2.2),
        (YEAR_H, UPPER, 0.01, 0.4),
        (YEAR_H, LOWER, 0.03, 4.2),
    ],
)
def test_the_years_wave_goes_down_below_the_roots_as_it_must(
    period_h: int, layer: int, size_within: float, days_within: float
) -> None:
    told = below_over_core(period_h)[layer - UPPER]
    right = exact(period_h, layer) / exact(period_h, CORE)
    assert abs(told) == pytest.approx(abs(right), rel=size_within)
    assert hours_late(told, right, period_h) / 24 == pytest.approx(0, abs=days_within)


def test_heat_flows_evenly_where_it_is_warmer_by_a_degree_a_metre() -> None:
    """Fourier's law: the same flows through each layer, so only the last, which lets nothing on,
    grows warmer. Temperatures are those of the layers' middles."""
    core_m, upper_m, lower_m = ((FACES_M[n] + FACES_M[n + 1]) / 2 for n in (CORE, UPPER, LOWER))
    layers = np.array([-upper_m, -lower_m]).reshape(2, 1, 1)
    gained = (soil.hour_later_c(layers, np.array([[-core_m]])) - layers)[:, 0, 0]
    assert gained[0] == pytest.approx(0.0, abs=1e-12)
    assert gained[1] == pytest.approx(SOIL_WMK * 3600 / (soil.SOIL_J_M3K * 1.0))


def test_a_bed_does_not_hang_on_the_litres_typed() -> None:
    def bed(litres: float) -> BallRun:
        kind = pot(litres, Wall.NONE, shape=Shape.GROUND, kind=ContainerKind.BED)
        air = 12.0 + 5.0 * np.cos((np.arange(120) - 14) / 12 * np.pi)
        return run_from(12.0, balls(kind), clear_days("2026-05-10", 52.0, air, 0.9, 0.4))

    few, many = bed(10.0), bed(900.0)
    np.testing.assert_allclose(few.shell_c, many.shell_c, atol=1e-9)
    np.testing.assert_allclose(few.core_c, many.core_c, atol=1e-9)


def test_what_leaves_the_roots_soil_enters_the_ground_below() -> None:
    layers = np.array([10.0, 10.0]).reshape(2, 1, 1)
    later = soil.hour_later_c(layers, np.array([[14.0]]))
    gained_j = soil.SOIL_J_M3K * ((later - layers)[:, 0, 0] * np.array(soil.THICK_M)).sum()
    assert gained_j == pytest.approx(soil.UPPER_WM2K * 4.0 * 3600)


def test_open_ground_trades_heat_as_fao_56_says() -> None:
    """Its resistance is 208 s/m over the wind at 2 m (box 4). Its log profile brings that wind down
    to 0.3 m, where the resistance is less by the shorter way."""
    drag = 1.0 / 208.0
    profile = np.log(0.22 / 0.0148) / np.log(1.92 / 0.0148)
    shorter = np.log(1.92 / 0.00148) / np.log(0.22 / 0.00148)
    told = float(soil.rough_wm2k(np.array(profile)))
    assert told == pytest.approx(soil.AIR_HEAT_J_M3K * drag * shorter, rel=0.03)
