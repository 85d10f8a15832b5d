"""A garden in April with one maple in leaf, frosty nights, and what is told hour by hour."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
from garden_toml import BENCH, EMBER, HANDS_ON, MEANS, PLACE, SHED

from underbench.daemon.journal.noting import note_move, trees_named
from underbench.rules.garden.journal import Sighting, Stage
from underbench.rules.weather.hourly import Weather

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
FIRST_DAY = datetime(2024, 4, 11, tzinfo=UTC)  # a fortnight to settle
FROST_DAY = datetime(2024, 4, 24, tzinfo=UTC)  # a Wednesday; its night begins on the 23rd
EVENING = datetime(2024, 4, 23, 15, 10, tzinfo=UTC)  # 17:10 by the garden's clock
ZONE = ZoneInfo("Europe/Ljubljana")

SPOTS = MEANS + BENCH + SHED + "room = 2\n"
GARDEN = PLACE + HANDS_ON + SPOTS
Labs = Callable[..., Any]


def spring(make: Any, *mean_c: float) -> Weather:
    """April at 9 °C, but around these means in the nights from the 23rd on."""
    daily = np.full(24 * 28, 9.0)
    for number, cold_c in enumerate(mean_c):
        night = 24 * ((FROST_DAY - FIRST_DAY).days + number)
        daily[night - 12 : night + 12] = cold_c
    weather: Weather = make.weather(FIRST_DAY, len(daily), mean_c=daily, swing_k=6.0)
    return weather


def in_leaf(labs: Labs, weather: Weather, toml: str = GARDEN) -> Any:
    garden = labs(toml + EMBER, weather)
    garden.store.journal.add(
        [Sighting(tree="Ember", at=EVENING - 5 * DAY, stage=Stage.LEAFING_OUT)]
    )
    return garden


def move(garden: Any, spot: str, at: datetime) -> None:
    note_move(garden.store, garden.settings, trees_named(garden.settings, ["Ember"]), spot, at)


def hourly(garden: Any, first: datetime, hours: int, every: int = 1) -> list[tuple[datetime, Any]]:
    """The advice that passes of these hours tell, each message with its moment."""
    moments = [first + number * HOUR for number in range(0, hours, every)]
    return [(now, one) for now in moments for one in garden.run(now).told]


def heard(garden: Any, first: datetime, hours: int, every: int = 1) -> list[tuple[datetime, Any]]:
    """All messages in these hours, of any kind, each with its moment."""
    moments = [first + number * HOUR for number in range(0, hours, every)]
    return [(now, one) for now in moments for one in garden.run(now).all_said]
