"""The scoring garden: thirty invented trees, and a year of works, as a garden.toml and its store.

    python tests/bench/garden30.py FOLDER --lat 40.64 --lon -73.78 --elevation 4 \
        --timezone America/New_York --years 2012 2013

`garden30.csv` beside this file lists the trees; the works are written for each year named.
"""

from __future__ import annotations

import argparse
import csv
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

from underbench.daemon.config.settings import load
from underbench.daemon.store.store import Store
from underbench.rules.garden.journal import Work
from underbench.rules.garden.works import WorkKind

TREES = Path(__file__).with_name("garden30.csv")
STORE = "garden30.db"
WORK = re.compile(r"(?P<work>.+?) (?P<month>\d\d)-(?P<day>\d\d)(?: roots (?P<roots>\d+)%)?")
HOUR_OF_WORK = 11

REST = """
[hands_on]
weekdays = ["07:00-07:30", "17:30-21:00"]
weekends = ["08:00-20:00"]

[[watering]]
times = ["07:00"]
from = "04-01"
until = "09-30"

[[watering]]
times = ["07:00"]
every_days = 3
from = "10-01"
until = "03-31"

[means]
fleece_layers = 2
shade_cloth = true
lift_litres = 15

[[spot]]
name = "top bench"
kind = "bench"
sky_view = 0.9
sun = "08:00-18:00"
wind_factor = 0.8
height_cm = 90

[[spot]]
name = "low bench"
kind = "bench"
sky_view = 0.7
sun = "07:00-14:00"
wind_factor = 0.6
height_cm = 50

[[spot]]
name = "shelf"
kind = "shelf"
sky_view = 0.5
sun = "09:00-15:00"
wind_factor = 0.5
height_cm = 130

[[spot]]
name = "ground row"
kind = "ground row"
sky_view = 0.7
sun = "10:00-16:00"
wind_factor = 0.5
standing = "slab"

[[spot]]
name = "bed"
kind = "bed"
sky_view = 0.8
sun = "08:00-18:00"
wind_factor = 0.6

[[spot]]
name = "cold frame"
kind = "cold frame"
sun = "08:00-18:00"

[[spot]]
name = "under the low bench"
kind = "under the bench"
room = 12

[[spot]]
name = "shed"
kind = "shed"
room = 10
max_litres = 15
"""


def main() -> None:
    """Write what the command line asks for."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("folder", type=Path)
    asked.add_argument("--lat", type=float, required=True)
    asked.add_argument("--lon", type=float, required=True)
    asked.add_argument("--elevation", type=float, required=True)
    asked.add_argument("--timezone", required=True)
    asked.add_argument("--years", type=int, nargs="+", required=True)
    given = asked.parse_args()
    place = {
        "latitude": given.lat,
        "longitude": given.lon,
        "elevation_m": given.elevation,
        "timezone": given.timezone,
    }
    print(write(given.folder, place, given.years))


def write(folder: Path, place: Mapping[str, float | str], years: Sequence[int]) -> Path:
    """Write garden.toml and a fresh store with the works of ``years``; return the former."""
    rows = list(csv.DictReader(TREES.read_text("utf-8").splitlines()))
    folder.mkdir(parents=True, exist_ok=True)
    config, store_path = folder / "garden.toml", folder / STORE
    head = [_table("garden", {"name": "Garden30", **place}), _table("store", {"path": STORE})]
    config.write_text("\n".join([*head, REST, *map(_tree, rows)]), "utf-8")
    settings = load(config, {})
    for old in folder.glob(f"{STORE}*"):
        old.unlink()
    with Store.open(store_path) as store:
        store.journal.add(works(rows, years, settings.garden.timezone))
    return config


def works(rows: Iterable[Mapping[str, str]], years: Sequence[int], zone: str) -> Iterator[Work]:
    """The works of every tree in each of ``years``, at eleven by the local clock."""
    for row in rows:
        for text in filter(None, map(str.strip, row["works"].split(";"))):
            found = WORK.fullmatch(text)
            if found is None:
                raise ValueError(f"{row['name']}: {text}")
            month, day, roots = int(found["month"]), int(found["day"]), found["roots"]
            for year in years:
                yield Work(
                    tree=row["name"],
                    at=datetime(year, month, day, HOUR_OF_WORK, tzinfo=ZoneInfo(zone)),
                    work=WorkKind(found["work"]),
                    roots_pct=None if roots is None else float(roots),
                )


def _tree(row: Mapping[str, str]) -> str:
    bed = row["container"] == "bed"
    keys = ("wall", "colour", "shape")
    return _table(
        "[tree]",
        {
            "name": row["name"],
            "species": row["species"],
            "spot": row["home_spot"],
            "height_cm": float(row["height_cm"]),
            "crown_cm": float(row["crown_cm"]),
            "litres": float(row["litres"]),
            "container": row["container"],
            "cultivar": row["cultivar"],
            **{key: "" if bed else row[key] for key in keys},
        },
    )


def _table(name: str, values: Mapping[str, float | str]) -> str:
    lines = [
        f'{key} = "{value}"' if isinstance(value, str) else f"{key} = {value:g}"
        for key, value in values.items()
        if value != ""
    ]
    return "\n".join([f"[{name}]", *lines, ""])


if __name__ == "__main__":
    main()
