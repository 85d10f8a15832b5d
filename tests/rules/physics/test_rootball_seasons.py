"""Root balls through winter and summer, against what growers and nurseries have measured."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from ball_weather import BED, balls, can, clear_days, plain_weather, pot, run_from

from underbench.rules.garden.inventory import (
    Colour,
    Container,
    ContainerKind,
    Shape,
    Standing,
    Wall,
)
from underbench.rules.physics.rootball import BallRun
from underbench.rules.weather.hourly import Array


def frosty_days() -> Array:
    """Two nights of 1 °C, a day of 4 °C, then nights of -6 °C and days of -1 °C, from noon on."""
    hours = np.arange(24 * 7)
    day_max = np.array([7.0, 7.0, 4.0, -1.0, -1.0, -1.0, -1.0])[hours // 24]
    night_min = np.array([1.0, 1.0, -6.0, -6.0, -6.0, -6.0, -6.0])[hours // 24]
    return (day_max + night_min) / 2 + (day_max - night_min) / 2 * np.cos((hours - 2) / 12 * np.pi)


FIRST_FROST = slice(24 * 2 + 4, 24 * 2 + 22)


def test_a_winter_night_falls_in_the_growers_order() -> None:
    """Order and rough size only: the figures behind it came from a prototype of this same model.

    That small pots freeze through first and the ground last is common practice, no source.
    """
    ball = balls(pot(0.46), pot(3.1), pot(15.5), BED)
    ran = run_from(4.0, ball, clear_days("2026-01-23T12:00:00", 52.0, frosty_days(), 0.45, 0.54))
    lowest = ran.shell_c[:, 0, FIRST_FROST].min(axis=-1)
    ice = ran.frozen_share[:, 0, FIRST_FROST].max(axis=-1)
    assert (np.diff(lowest) > 0).all()
    assert (np.diff(ice) < 0).all()
    assert ice[0] == 1.0
    assert lowest[0] < -6.0  # a frozen shohin on an open bench goes below the air
    assert -5.0 < lowest[1] < -1.5
    assert lowest[2] > -2.0
    assert ran.core_c[3, 0, -1] > 0.0  # after four nights the bed is frozen on top only
    assert ran.shell_c[:3, 0, -24:].min(axis=-1) == pytest.approx(-8.2, abs=1.5)


def test_a_nursery_can_holds_at_freezing() -> None:
    """A hobbyist's logger in a 1-gallon can showed a plateau at 32 °F through three nights at 16 to
    20 °F in a cold frame; here the first such night, and days at 2 °C as in a frame."""
    air = -2.9 + 4.9 * np.cos((np.arange(72) - 2) / 12 * np.pi)
    gallon = pot(3.8, Wall.PLASTIC, Colour.DARK, Shape.ROUND, ContainerKind.NURSERY_CAN)
    still = plain_weather(air, wind_ms=np.full((1, 1, 1), 0.1))
    core = run_from(3.0, balls(gallon), still).core_c[0, 0]
    assert air.min() < -7.0
    assert (core[8:] < 0.3).all()
    assert (core > -1.0).all()


def test_the_ground_keeps_a_basket_warmer_than_the_bench() -> None:
    """A hobbyist's loggers at 13 °F, direction only. Medium in a basket was 4 to 5 °F over the air
    on the bench, and at 30 °F on the ground."""
    basket = pot(3.2, Wall.MESH, Colour.DARK, Shape.ROUND, ContainerKind.POND_BASKET)
    weather = clear_days("2026-01-23T12:00:00", 52.0, frosty_days(), 0.45, 0.3)
    lowest = {
        standing: run_from(4.0, balls(basket, standing=standing), weather).shell_c.min()
        for standing in (Standing.BENCH, Standing.GROUND)
    }
    assert lowest[Standing.GROUND] > lowest[Standing.BENCH] + 1.5


def hot_days(mean_c: float, swing_k: float) -> Array:
    return mean_c + swing_k * np.cos((np.arange(24 * 4) - 14.5) / 12 * np.pi)


def test_a_summer_day_heats_in_the_growers_order() -> None:
    """Order and rough size only, as in winter: dark over unglazed over pale, bed last."""
    ball = balls(
        pot(12.6, Wall.PLASTIC, Colour.DARK, Shape.ROUND, ContainerKind.NURSERY_CAN),
        pot(3.1, colour=Colour.DARK),
        pot(3.1, Wall.UNGLAZED),
        pot(3.1, colour=Colour.PALE),
        BED,
    )
    weather = clear_days("2026-07-10T00:00:00", 52.0, hot_days(21.5, 6.5), 1.3, 0.9)
    ran = run_from(20.0, ball, weather | {"deep_c": np.full((1, 1, 1), 17.0)})
    hottest = ran.shell_c[:, 0, -24:].max(axis=-1)
    assert (np.diff(hottest) < 0).all()
    assert hottest[:4] == pytest.approx(np.array([35.9, 33.9, 30.5, 29.7]), abs=1.5)
    assert (ran.sun_wall_c[:4, 0, -24:].max(axis=-1) > hottest[:4] + 1.0).all()
    dry = run_from(20.0, ball, weather, wet=0.0)
    assert (dry.shell_c[:4, 0, -24:].max(axis=-1) > hottest[:4]).all()


def test_a_white_can_is_cooler_by_as_much_as_measured() -> None:
    """Witcher et al. 2020 (11.3 L cans, Tennessee): white lowers the maximum by up to 7 °C; black
    stands above 38 °C about a fifth of the time, white hardly ever. Here one clear July day."""
    ball = balls(can(Colour.DARK), can(Colour.PALE))
    ball = replace(ball, absorptance=np.array([0.93, 0.30]))  # white plastic, handbook, from memory
    weather = clear_days("2026-07-10T00:00:00", 36.0, hot_days(28.5, 6.5), 2.0, 0.9)
    ran = run_from(25.0, ball, weather)
    black, white = ran.shell_c[:, 0, -24:].max(axis=-1)
    assert 4.0 < black - white < 9.0
    assert black > 38.0 > white


def test_the_sunny_wall_reaches_what_root_papers_report() -> None:
    """45 to 55 °C at the sunny wall of black cans in southern summers: a figure from memory."""
    weather = clear_days("2026-07-10T00:00:00", 36.0, hot_days(28.5, 6.5), 2.0, 0.9)
    assert 45.0 < run_from(25.0, balls(can(Colour.DARK)), weather).sun_wall_c.max() < 57.0


def test_a_shaded_spot_spares_the_wall() -> None:
    weather = clear_days("2026-07-10T00:00:00", 52.0, hot_days(21.5, 6.5), 1.3, 0.9)
    shaded = weather | {"sun_share": np.zeros((1, 1, 1))}
    sunny = run_from(20.0, balls(can(Colour.DARK)), weather)
    assert run_from(20.0, balls(can(Colour.DARK)), shaded).shell_c.max() < sunny.shell_c.max() - 3.0


def on(standing: Standing, snow_m: float, container: Container | None = None) -> BallRun:
    """A hard week under so much snow, with the ground below just above freezing."""
    weather = clear_days("2026-01-23T12:00:00", 52.0, frosty_days() - 3.0, 0.35, 0.5)
    weather |= {"deep_c": np.full((1, 1, 1), 0.5), "snow_m": np.full((1, 1, 1), snow_m)}
    return run_from(1.0, balls(container or pot(4.0), standing=standing), weather)


def test_snow_keeps_pots_on_the_ground_and_none_on_a_bench() -> None:
    """About -1 to -2 °C under 10 cm: common practice, no source. A bench stands above it."""
    bare, snowed = (on(Standing.GROUND, depth).shell_c.min() for depth in (0.0, 0.10))
    assert bare < -6.0
    assert -2.5 < snowed < -0.5
    bench, snowed_bench = (on(Standing.BENCH, depth).shell_c for depth in (0.0, 0.10))
    np.testing.assert_array_equal(bench, snowed_bench)


@pytest.mark.parametrize("standing", [Standing.GROUND, Standing.SLAB])
def test_more_snow_is_warmer_in_frost(standing: Standing) -> None:
    lowest = [on(standing, depth).shell_c.min() for depth in (0.0, 0.02, 0.05, 0.1, 0.3)]
    assert (np.diff(lowest) > 0).all()


def test_snow_keeps_a_bed() -> None:
    assert on(Standing.GROUND, 0.2, BED).shell_c.min() > on(Standing.GROUND, 0.0, BED).shell_c.min()
