"""What a keeper's own thermometers and gauges said: one reading each."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum


class Quantity(StrEnum):
    """What was measured, as a keeper types it.

    ``air-min`` is the lowest air since the last local noon, as a min/max thermometer has it in the
    morning; ``rain`` is what fell since the reading before. Temperatures are in °C, rain is in mm,
    wind in m/s.
    """

    AIR = "air"
    AIR_MIN = "air-min"
    BENCH_SURFACE = "bench-surface"
    ROOT_BALL = "root-ball"
    BAG = "bag"
    FRAME = "frame"
    RAIN = "rain"
    WIND = "wind"


OF_A_TREE = (Quantity.ROOT_BALL, Quantity.BAG)


@dataclass(frozen=True, slots=True)
class Reading:
    """One value at one moment (UTC), in °C, mm or m/s.

    ``spot`` and ``tree`` say where; None for both is the garden. ``source`` is how it came:
    "command", "file", "post" or "mqtt". When a whole hour is put into one reading, ``value`` is its
    mean (for rain: its sum) and ``lowest`` its lowest; for a single reading ``lowest`` is None.
    """

    at: datetime
    quantity: Quantity
    value: float
    spot: str | None
    tree: str | None
    source: str
    lowest: float | None = None
