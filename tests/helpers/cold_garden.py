"""A page garden on a bad night: the bench's hardy trees, invented, in five nights of frost."""

from __future__ import annotations

import csv
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
from page_garden import EVENING, PageGarden
from ticking import Sky

from underbench.rules.garden.inventory import Garden
from underbench.rules.weather.fill_gaps import complete
from underbench.rules.weather.hourly import HOUR_S, Weather, from_columns

TREES = Path(__file__).parents[1] / "bench" / "garden30.csv"
JANUARY = datetime(2024, 1, 16, 15, 10, tzinfo=UTC)
DAYS_BEFORE, DAYS_AFTER = 130, 12
DAY = timedelta(days=1)
HEAD = """
[garden]
name = "Reed End"
latitude = 46.05
longitude = 14.51
elevation_m = 300
timezone = "Europe/Ljubljana"

[hands_on]
weekdays = ["06:30-07:30", "17:00-23:30"]
weekends = ["08:00-21:00"]

[means]
fleece_layers = 2
lift_litres = 15

[store]
path = "underbench.db"
"""
# Spots in the order in which one walks: name, kind, and other keys.
SPOTS = (
    ("top bench", "bench", 'sun = "08:00-18:00"\nsky_view = 0.9'),
    ("low bench", "bench", 'sun = "07:00-14:00"\nsky_view = 0.7\nheight_cm = 50'),
    ("shelf", "shelf", 'sun = "09:00-15:00"'),
    ("ground row", "ground row", 'standing = "slab"'),
    ("bed", "bed", ""),
    ("under the low bench", "under the bench", "room = 12"),
    ("cold frame", "cold frame", 'sun = "08:00-18:00"\nroom = 6'),
    ("shed", "shed", "room = 10\nmax_litres = 15"),
)


def cold_garden(
    folder: Path, now: datetime = EVENING, night_c: float = -4.0, more: int = 0
) -> PageGarden:
    """Return the garden at ``now``, before five nights that go down to ``night_c`` in the open.
    ``more``: so many seedlings on top of its 29 trees."""
    return PageGarden(folder, Sky(_weather(now, night_c)), _toml(more), now)


def calm_garden(folder: Path, now: datetime = EVENING) -> PageGarden:
    """Return the garden at ``now`` in mild weather."""
    return cold_garden(folder, now, night_c=6.0)


def _toml(more: int) -> str:
    every = csv.DictReader(TREES.read_text(encoding="utf-8").splitlines())
    rows = [row for row in every if row["name"] != "Fig"]
    rows += [{**rows[1], "name": f"Seedling {n}", "litres": "1"} for n in range(more)]
    spots = (f'\n[[spot]]\nname = "{n}"\nkind = "{kind}"\n{more}\n' for n, kind, more in SPOTS)
    return HEAD + "".join(spots) + "".join(map(_tree, rows))


def _tree(row: dict[str, Any]) -> str:
    keys = ("name", "species", "cultivar", "container")
    text = "".join(f'{key} = "{row[key]}"\n' for key in keys if row[key])
    numbers = "".join(f"{key} = {row[key]}\n" for key in ("litres", "height_cm", "crown_cm"))
    return f'\n[[tree]]\n{text}spot = "{row["home_spot"]}"\n{numbers}'


def _weather(now: datetime, night_c: float) -> Weather:
    """Mild till ``now``, then five nights around ``night_c``, coldest at 04:00 UTC."""
    midnight = now.replace(hour=0, minute=0)
    hours = 24 * (DAYS_BEFORE + DAYS_AFTER)
    times = int((midnight - DAYS_BEFORE * DAY).timestamp()) + HOUR_S * np.arange(1, hours + 1)
    days = (times - midnight.timestamp()) / (24 * HOUR_S)
    mean_c = np.interp(days, [-130, -20, 0.3, 0.6, 5.2, 5.8], [8, 10, 9, *[night_c + 5.0] * 2, 10])
    air_c = mean_c - 5.0 * np.cos((days * 24 - 4) / 12 * np.pi)
    garden = Garden(
        name="Reed End",
        latitude=46.05,
        longitude=14.51,
        elevation_m=300,
        timezone="Europe/Ljubljana",
    )
    columns = {"air_c": air_c, "dew_c": air_c - 3.0, "wind_ms": np.full(hours, 1.5)}
    return complete(from_columns(times, columns), garden)[0]
