"""Soil round roots in the ground: the waves of the day and of the year, against their exact form.

In soil without end a wave of period P at the face falls off as exp(-z / d) and comes z / d later;
the damping depth d is sqrt(diffusivity × P / pi) (Campbell & Norman 1998, chapter 2).
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


def exact(period_h: float, top_m: float, bottom_m: float) -> complex:
    """The wave in a layer over the wave at the face: its size and its lag as one number."""
    inward = (1 + 1j) * np.sqrt(np.pi / (DIFFUSIVITY_M2S * period_h * 3600))
    whole = np.exp(-inward * top_m) - np.exp(-inward * bottom_m)
    return complex(whole / (inward * (bottom_m - top_m)))


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
    assert abs(shell) == pytest.approx(abs(exact(24, 0.0, HALF_M)), rel=0.12)
    assert abs(core) == pytest.approx(abs(exact(24, HALF_M, GROUND_DEPTH_M)), abs=0.06)


def test_the_years_wave_reaches_the_roots_nearly_whole(monkeypatch: pytest.MonkeyPatch) -> None:
    """Within 0.1 of its size and six days of its date; the ground ends at 1.6 m here."""
    year = 365 * 24
    ran = bed_under(year, 3, monkeypatch)
    lag_d = 365 / (2 * np.pi)
    told, right = wave(ran.core_c[0, 0], year) / 10.0, exact(year, HALF_M, GROUND_DEPTH_M)
    assert abs(told) == pytest.approx(abs(right), abs=0.1)
    assert lag_d * abs(np.angle(told / right)) < 6.0


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
