"""Sodden pots: cut roots in rain that goes on are found; what an ordinary autumn brings is not."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from underbench.rules.garden.inventory import Wall
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards import SODDEN
from underbench.rules.physics.sodden import day_later

OCTOBER = datetime(2026, 10, 1, tzinfo=UTC)
DAY = timedelta(days=1)
RAIN_ON, ORDINARY = [True] * 20, ([True] * 5 + [False] * 3) * 3


def sodden_days(rain_mm: Any, left: float = 1.0) -> float:
    days = np.zeros(1)
    for today in rain_mm:
        days = day_later(days, np.array([float(today)]), np.array([left]))
    return float(days[0])


@pytest.mark.parametrize(
    ("rain_mm", "left", "days"),
    [
        ([6.0] * 20, 1.0, 20.0),
        ([6.0] * 20, 0.8, 0.0),  # a crown in leaf drinks it down by night
        ([0.4] * 20, 1.0, 0.0),  # drizzle is no wet day
        ([6.0] * 6 + [0.0] * 2, 1.0, 2.0),
        ([6.0, 0.0] * 10, 1.0, 0.0),
    ],
)
def test_wet_days_add_up_and_dry_ones_let_air_in(
    rain_mm: list[float], left: float, days: float
) -> None:
    assert sodden_days(rain_mm, left) == days


@pytest.mark.parametrize(
    ("species", "work", "wet_days", "more", "found"),
    [
        ("Pinus sylvestris", WorkKind.COLLECT, RAIN_ON, {}, True),
        ("Pinus sylvestris", WorkKind.COLLECT, ORDINARY, {}, False),
        ("Pinus sylvestris", WorkKind.COLLECT, RAIN_ON, {"wall": Wall.MESH}, False),
        ("Pinus sylvestris", WorkKind.COLLECT, RAIN_ON, {"spot": "cold frame"}, False),
        ("Pinus sylvestris", None, RAIN_ON, {}, False),  # settled roots bear it
        ("Acer palmatum", WorkKind.REPOT, RAIN_ON, {}, True),
        ("Acer palmatum", None, ORDINARY, {}, False),
    ],
)
def test_a_tree_collected_before_weeks_of_rain_is_found(
    make: Any,
    species: str,
    work: WorkKind | None,
    wet_days: list[bool],
    more: Any,
    found: bool,
) -> None:
    """Common practice, no source: pines rot in wet soil on few roots. By London's daily rain alone
    the autumn of 2012 came to 8 such days at most."""
    tree, hours = make.tree("Found", species, **more), 24 * len(wet_days)
    rain_mm = np.repeat(wet_days, 24) * (np.arange(hours) % 3 == 0) * 1.0
    given = {"mean_c": 9.0, "swing_k": 2.0, "dew_drop_k": 1.0, "cloud": 0.95}
    journal = [make.work("Found", OCTOBER + timedelta(hours=9), work)] if work else []
    course = make.follow([tree], make.weather(OCTOBER, hours, rain_mm=rain_mm, **given), journal)
    judged = [make.weather(at, 24, **given) for at, _ in course.midnights]
    told = [
        one
        for (_, state), day in zip(course.midnights, judged, strict=True)
        for one in make.findings([tree], day, journal, start=state)
        if one.hazard is SODDEN
    ]
    assert bool(told) is found
    assert all(one.kill_chance == 0.0 for one in told)
