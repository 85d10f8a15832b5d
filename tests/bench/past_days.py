"""Days of the years before a scored one, as an install has them from an archive, for `score.py`.

    python tests/bench/past_days.py jfk jfk_past.csv --data central_park_weather.csv
                            Central Park 2009-2012: GitHub toddwschneider/nyc-taxi-data, data/
    python tests/bench/past_days.py london london_past.csv --data london_weather.csv
                            Heathrow 2007-2011 (ECA&D): GitHub VD-git/prj-london-weather, data/
    python tests/bench/past_days.py amsterdam amsterdam_past.csv --data etmgeg_260.txt
                            De Bilt 2008-2012 (KNMI): GitHub LisaWater/WorkshopProgrammeren
    python tests/bench/past_days.py chicago chicago_past.csv --data jan011995_dec312018.csv
                            O'Hare 2008-2012 (NOAA): GitHub BlakeWallace/Lake_Michigan_Influences,
                            data/merged/garden_ohare_lake/

Central Park and De Bilt stand in for the airports near them. A row is a day, its mean air and its
lowest, °C; where the source has no mean it is the middle of lowest and highest.
"""

from __future__ import annotations

import argparse
import csv
from collections.abc import Callable, Iterable, Iterator
from datetime import date
from pathlib import Path

Day = tuple[date, float, float]


def main() -> None:
    """Write the days asked for."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("place", choices=SOURCES)
    asked.add_argument("out", type=Path)
    asked.add_argument("--data", type=Path, required=True)
    given = asked.parse_args()
    read, first, last = SOURCES[given.place]
    with given.data.open(encoding="utf-8") as source:
        days = [day for day in read(source) if first <= day[0].year <= last]
    with given.out.open("w", encoding="utf-8", newline="") as out:
        csv.writer(out).writerows((day, f"{mean:.1f}", f"{low:.1f}") for day, mean, low in days)
    print(f"{len(days):,} days, the coldest {min(low for _, _, low in days):.1f} °C")


def past_days(path: Path) -> list[Day]:
    """Return the days of a file that this script wrote."""
    with path.open(encoding="utf-8", newline="") as source:
        return [(date.fromisoformat(d), float(m), float(low)) for d, m, low in csv.reader(source)]


def _extremes_f(low: str, high: str) -> Callable[[Iterable[str]], Iterator[Day]]:
    """A reader of a CSV with ``DATE`` and the day's lowest and highest, °F, in these columns."""

    def read(lines: Iterable[str]) -> Iterator[Day]:
        for row in csv.DictReader(lines):
            if row[low] and row[high]:
                lowest, highest = ((float(row[name]) - 32.0) / 1.8 for name in (low, high))
                yield date.fromisoformat(row["DATE"]), (lowest + highest) / 2.0, lowest

    return read


def _london(lines: Iterable[str]) -> Iterator[Day]:
    for row in csv.DictReader(lines):
        if row["mean_temp"] and row["min_temp"]:
            yield date.fromisoformat(row["date"]), float(row["mean_temp"]), float(row["min_temp"])


def _knmi(lines: Iterable[str]) -> Iterator[Day]:
    """KNMI's daily values: tenths of °C, the mean in the 12th column and the lowest in the 13th."""
    for line in lines:
        fields = line.split(",")
        if fields[0].strip() == "260" and fields[11].strip() and fields[12].strip():
            day = date.fromisoformat(fields[1].strip())
            yield day, int(fields[11]) / 10.0, int(fields[12]) / 10.0


SOURCES = {
    "jfk": (_extremes_f("TMIN", "TMAX"), 2009, 2012),
    "london": (_london, 2007, 2011),
    "amsterdam": (_knmi, 2008, 2012),
    "chicago": (_extremes_f("ohare_mintmp", "ohare_maxtmp"), 2008, 2012),
}


if __name__ == "__main__":
    main()
