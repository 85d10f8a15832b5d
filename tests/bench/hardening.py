"""How far the hardening of tops is out on open series of measured bud deaths, beside a calendar.

Vines: Prosser, Washington, 1988 to 2022 (aseembits93/Cold-Hardiness-Journal at fdd19f2c,
`data/grapes/`). Sweet cherry: Summerland, British Columbia, 2013 to 2021
(ElizabethHoughton/cherrycoldhardiness, `Cold_hardiness_modelling/`; Houghton et al. 2023, HortSci.
58:963). Nothing of them is kept here. Look at each licence before you copy a row.

    python tests/bench/hardening.py FILE.csv...

A file whose name begins with `ColdHardiness_Grape` is read as of vines, any other as of cherries.
The temperature at which half the buds die is compared. The calendar is each series' own: the mean
of its other years on the date, between knots. Of the clock two temperatures are set on the other
years, the hardiest and the tenderest, as a class of trees has them; its shares were fitted on
'Merlot', 'Riesling' and 'Chardonnay', and on 'Lapins' and 'Sweetheart' at Summerland, with all
their years.
"""

from __future__ import annotations

import csv
import sys
from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from underbench.rules.plants.hardening import Hardens, advance_faded
from underbench.rules.plants.stages import Clock, advance_clock

Array = NDArray[np.float64]
NORTH = 48.0
KNOTS = np.array([-150, -122, -92, -62, -46, -31, -15, 0, 15, 31, 46, 59, 74, 90, 105, 120.0])
LONGEST_GAP_D = 10  # a winter with more days unknown is left out


@dataclass(frozen=True)
class Series:
    """Days on end: mean air, °C, and the temperature at which half the buds die (NaN: unknown)."""

    hardens: Hardens
    first: date
    mean_c: Array
    dies_c: Array

    @property
    def days(self) -> list[date]:
        """The dates."""
        return [self.first + timedelta(days=n) for n in range(len(self.mean_c))]


def read(path: Path) -> Series:
    """Return the series of a file."""
    vine = path.name.startswith("ColdHardiness_Grape")
    day, mean, dies = ("DATE", "MEAN_AT", "LTE50") if vine else ("Date", "Temp_mean", "LT50")
    air: dict[date, float] = {}
    dead: dict[date, list[float]] = defaultdict(list)
    with path.open(encoding="utf-8-sig") as file:
        for row in csv.DictReader(file):
            on = date.fromisoformat(row[day])
            if row[mean] not in ("", "NA") and float(row[mean]) > -60.0:
                air.setdefault(on, float(row[mean]))
            if row[dies] not in ("", "NA"):
                dead[on].append(float(row[dies]))
    first, last = min(air), max(air)
    days = [first + timedelta(days=n) for n in range((last - first).days + 1)]
    known = np.array([one in air for one in days])
    means = np.interp(np.arange(len(days)), np.flatnonzero(known), [air[d] for d in sorted(air)])
    died = np.array([np.mean(dead[one]) if one in dead else np.nan for one in days])
    died[_too_little_known(days, known)] = np.nan
    return Series(Hardens.LATE if vine else Hardens.EARLY, first, means, died)


def _too_little_known(days: list[date], known: NDArray[np.bool_]) -> NDArray[np.bool_]:
    of_winter, day = winters(days), days_of_season(days)
    out = np.zeros(len(days), dtype=bool)
    for winter in np.unique(of_winter):
        inside = (of_winter == winter) & (day > -105) & (day < 100)
        out[of_winter == winter] = (~known[inside]).sum() > LONGEST_GAP_D
    return out


def winters(days: list[date]) -> NDArray[np.intp]:
    """Return the year in which each day's winter ends."""
    return np.array([day.year + (day.month > 7) for day in days])


def days_of_season(days: list[date]) -> Array:
    """Return the days since 1 January, negative before it."""
    ends = winters(days).tolist()
    return np.array(
        [float((day - date(end, 1, 1)).days) for day, end in zip(days, ends, strict=True)]
    )


def shares(series: Series) -> Array:
    """Return the share of hardiness missing on each day."""
    days, like = series.days, np.array([series.hardens])
    clock = Clock(days[0] - timedelta(days=1), np.zeros(1), np.full(1, 60.0))
    faded, out = np.full(1, 0.5), np.empty(len(days))
    for row, day in enumerate(days):
        mean = series.mean_c[row : row + 1]
        clock = advance_clock(clock, day, mean, NORTH)
        faded = advance_faded(faded, mean, clock.chill_days, day, NORTH, like)
        out[row] = faded[0]
    return out


def report(path: Path) -> None:
    """Print the errors of one series, each winter held out in turn."""
    series = read(path)
    seen = np.isfinite(series.dies_c)
    winter, day = winters(series.days)[seen], days_of_season(series.days)[seen]
    dies, share = series.dies_c[seen], shares(series)[seen]
    hats = np.array([np.interp(day, KNOTS, row) for row in np.eye(len(KNOTS))]).T
    calendar, clock = np.empty(len(dies)), np.empty(len(dies))
    for one in np.unique(winter):
        out = winter == one
        normal = hats[~out].T @ hats[~out] + 1e-3 * np.eye(len(KNOTS))
        calendar[out] = hats[out] @ np.linalg.solve(normal, hats[~out].T @ dies[~out])
        range_k, hardiest_c = np.polyfit(share[~out], dies[~out], 1)
        clock[out] = hardiest_c + range_k * share[out]
    rms = [np.sqrt(((told - dies) ** 2).mean()) for told in (calendar, clock)]
    print(
        f"{path.stem:45} {len(dies):4} days of {len(np.unique(winter)):2} winters: "
        f"calendar {rms[0]:4.2f} K, clock {rms[1]:4.2f} K, bias {(clock - dies).mean():+5.2f} K"
    )


def main() -> None:
    """Read the files named on the command line."""
    if len(sys.argv) < 2:
        raise SystemExit("usage: python tests/bench/hardening.py FILE.csv...")
    for name in sys.argv[1:]:
        report(Path(name))


if __name__ == "__main__":
    main()
