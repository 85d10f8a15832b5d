"""How far the season's clock is out on open data of bud burst, in days, beside a calendar mean.

The data come in pyPhenology 0.7.1 (MIT; Taylor 2018, J. Open Source Softw. 3:827): leaf buds
breaking (USA-NPN phenophase 371) on *Populus tremuloides* at many sites and on *Vaccinium
corymbosum* at Harvard Forest, each with daily mean air since the autumn before. Nothing of it is
kept here:

    pip download --no-deps --no-binary :all: pyPhenology==0.7.1
    python tests/bench/phenology.py pyPhenology-0.7.1.tar.gz

Sites (aspen) or years (vaccinium) are held out a fifth at a time, each once. Of the clock one
number is fitted on the rest, the warmth to leaf-out, for the least mean error; the calendar's is
the mean day there.
"""

from __future__ import annotations

import csv
import gzip
import io
import sys
import tarfile
from collections import defaultdict
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from underbench.rules.plants.species import Figure, HardinessClass, catalogue
from underbench.rules.plants.stages import Clock, advance_clock, stage_of

Array = NDArray[np.float64]
NORTH, YEAR = 45.0, 2001  # all site-years are laid on one calendar
FIRST_DOY, LAST_DOY = -60, 200  # 1 November of the year before, to mid-July
FOLDS = 5
TRIED_CD = np.arange(40.0, 401.0, 20.0)


@dataclass(frozen=True)
class Seasons:
    """Bud bursts (day of year, float; mean of several plants) and the means before them."""

    groups: list[str]
    burst: Array
    means_c: Array


def read(path: Path, plant: str, by: str) -> Seasons:
    """Return the site-years of a plant; those with a gap in their days are left out."""
    air: dict[tuple[str, str], dict[int, float]] = defaultdict(dict)
    for row in _rows(path, f"{plant}_temperature"):
        air[row["site_id"], row["year"]][int(float(row["doy"]))] = float(row["temperature"])
    seen: dict[tuple[str, str], list[float]] = defaultdict(list)
    for row in _rows(path, f"{plant}_obs"):
        if row["phenophase"] == "371":
            seen[row["site_id"], row["year"]].append(float(row["doy"]))
    days = range(FIRST_DOY, LAST_DOY + 1)
    kept = [key for key in sorted(seen) if all(doy in air[key] for doy in days)]
    return Seasons(
        groups=[key[0] if by == "site" else key[1] for key in kept],
        burst=np.array([np.mean(seen[key]) for key in kept]),
        means_c=np.array([[air[key][doy] for doy in days] for key in kept]),
    )


def _rows(path: Path, name: str) -> list[dict[str, str]]:
    with tarfile.open(path) as tar:
        for member in tar.getmembers():
            if Path(member.name).name in (f"{name}.csv", f"{name}.csv.gz"):
                held = tar.extractfile(member)
                assert held is not None
                body = held.read()
                text = gzip.decompress(body) if member.name.endswith(".gz") else body
                return list(csv.DictReader(io.StringIO(text.decode())))
    raise SystemExit(f"{path}: no {name} in it")


def clocks(means_c: Array) -> list[Clock]:
    """Return the clock after each day, all site-years as trees side by side."""
    trees = len(means_c)
    day = date(YEAR, 1, 1) + timedelta(days=FIRST_DOY - 1)
    clock = Clock(day - timedelta(days=1), np.zeros(trees), np.zeros(trees))
    found = []
    for mean_c in means_c.T:
        clock = advance_clock(clock, day, mean_c, NORTH)
        found.append(clock)
        day += timedelta(days=1)
    return found


def opening_days(seasons: list[Clock], kind: HardinessClass, leaf_out_cd: float) -> Array:
    """Return the day of year the stage is first past bud swell, as the rules tell it."""
    need = Figure(value=leaf_out_cd, source="fit")
    limits = kind.model_copy(update={"leaf_out": need})
    trees = len(seasons[0].warmth_cd)
    found = np.full(trees, float(LAST_DOY))
    for row in range(trees):
        for clock in seasons:
            doy = (clock.through - date(YEAR, 1, 1)).days + 1
            stage = stage_of(
                limits,
                clock.through + timedelta(days=1),
                NORTH,
                float(clock.warmth_cd[row]),
                chill_days=float(clock.chill_days[row]),
            )
            if doy > 0 and stage not in ("dormant", "bud swell"):
                found[row] = doy + 1
                break
    return found


def report(path: Path, plant: str, by: str, kind: HardinessClass) -> None:
    """Print the errors of one plant on what was held out."""
    data = read(path, plant, by)
    names = sorted(set(data.groups))
    fold = np.array([names.index(group) % FOLDS for group in data.groups])
    seasons = clocks(data.means_c)
    told = np.array([opening_days(seasons, kind, cd) for cd in TRIED_CD])
    calendar, fitted, chosen = np.zeros(len(fold)), np.zeros(len(fold)), []
    for held in range(FOLDS):
        out = fold == held
        misses = np.abs(told[:, ~out] - data.burst[~out]).mean(axis=1)
        best = int(misses.argmin())
        chosen.append(f"{TRIED_CD[best]:.0f}")
        calendar[out], fitted[out] = data.burst[~out].mean(), told[best, out]
    assert kind.leaf_out is not None
    prior = kind.leaf_out.value
    print(f"{plant}: {len(fold)} site-years, held out by {by}; fitted {'/'.join(chosen)} °C·d")
    show("calendar mean", calendar - data.burst)
    show("clock, fitted", fitted - data.burst)
    show(f"clock, {kind.name}'s {prior:.0f} °C·d", opening_days(seasons, kind, prior) - data.burst)


def show(name: str, miss_d: Array) -> None:
    """Print one way's errors in days, told minus seen."""
    print(
        f"  {name:34} mean error {np.abs(miss_d).mean():4.1f} d, "
        f"median {np.median(np.abs(miss_d)):4.1f} d, "
        f"rms {np.sqrt((miss_d**2).mean()):4.1f} d, bias {miss_d.mean():+5.1f} d, "
        f"late by over a week {(miss_d > 7).mean():4.0%}"
    )


def main() -> None:
    """Read the archive named on the command line."""
    if len(sys.argv) != 2:
        raise SystemExit("usage: python tests/bench/phenology.py pyPhenology-0.7.1.tar.gz")
    classes = catalogue().classes
    report(Path(sys.argv[1]), "aspen", "site", classes["birch"])
    report(Path(sys.argv[1]), "vaccinium", "year", classes["hardy broadleaf"])


if __name__ == "__main__":
    main()
