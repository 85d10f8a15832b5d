"""How far the season's clock is out on open data of bud burst, in days, beside a calendar mean.

The data come in pyPhenology 0.7.1 (MIT; Taylor 2018, J. Open Source Softw. 3:827): leaf buds
breaking (USA-NPN phenophase 371) on *Populus tremuloides* at many sites and on *Vaccinium
corymbosum* at Harvard Forest, each with daily mean air since the autumn before. Nothing of it is
kept here:

    pip download --no-deps --no-binary :all: pyPhenology==0.7.1
    python tests/bench/phenology.py pyPhenology-0.7.1.tar.gz

Leaf-out that cameras saw in deciduous woods at 63 American sites comes in phenor
(bluegreen-labs/phenor at 5d68266f, `data/phenocam_DB.rda`; look at the licences) and is read with
the package rdata, if its file is named too. There the sites are also learned: two sightings, then
the years after.

    pip install rdata
    python tests/bench/phenology.py pyPhenology-0.7.1.tar.gz phenocam_DB.rda

Sites (aspen, cameras) or years (vaccinium) are held out a fifth at a time, each once. Of the clock
one number is fitted on the rest, the warmth to leaf-out, for the least mean error; the calendar's
is the mean day there.
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
from importlib import import_module
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from underbench.rules.garden.journal import Stage
from underbench.rules.plants.species import Figure, HardinessClass, catalogue
from underbench.rules.plants.stages import Clock, Seen, advance_clock, learnt_pace, stage_of

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


def read_cameras(path: Path) -> Seasons:
    """Return the site-years that cameras saw, each site's in the order of its years."""
    (sites,) = import_module("rdata").read_rda(path).values()
    groups, burst, means = [], [], []
    for name, site in sites.items():
        held = {str(key): np.asarray(value) for key, value in site.items()}
        inside = (held["doy"] >= FIRST_DOY) & (held["doy"] <= LAST_DOY)
        for column in np.argsort(held["year"]):
            groups.append(str(name))
            burst.append(float(held["transition_dates"][column]))
            means.append(held["Ti"][inside, column])
    return Seasons(groups, np.array(burst), np.array(means, dtype=float))


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


def needing(kind: HardinessClass, leaf_out_cd: float) -> HardinessClass:
    """Return a class that opens at ``leaf_out_cd``."""
    return kind.model_copy(update={"leaf_out": Figure(value=leaf_out_cd, source="fit")})


def opening_days(
    seasons: list[Clock], kind: HardinessClass, leaf_out_cd: float, pace: Array | None = None
) -> Array:
    """Return the day of year the stage is first past bud swell, as the rules tell it."""
    limits = needing(kind, leaf_out_cd)
    trees = len(seasons[0].warmth_cd)
    paces = np.ones(trees) if pace is None else pace
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
                pace=float(paces[row]),
            )
            if doy > 0 and stage not in ("dormant", "bud swell"):
                found[row] = doy + 1
                break
    return found


def after_two(data: Seasons, seasons: list[Clock], kind: HardinessClass, cds: Array) -> None:
    """Print the errors of the third and later years at a site that two sightings have taught."""
    pace, mean, later = np.ones(len(cds)), np.zeros(len(cds)), np.zeros(len(cds), dtype=bool)
    for site in set(data.groups):
        rows = [row for row, group in enumerate(data.groups) if group == site]
        one = 1.0
        for row in rows[:2]:
            clock = seasons[int(data.burst[row]) - FIRST_DOY]
            seen = Seen(Stage.LEAFING_OUT, clock.through, float(clock.warmth_cd[row]))
            limits = needing(kind, float(cds[row]))
            one = learnt_pace(limits, seen, float(clock.chill_days[row]), one, NORTH)
        pace[rows], mean[rows], later[rows[2:]] = one, data.burst[rows[:2]].mean(), True
    told = np.zeros(len(cds))
    for leaf_out_cd in np.unique(cds):
        fit = cds == leaf_out_cd
        told[fit] = opening_days(seasons, kind, float(leaf_out_cd), pace)[fit]
    show("mean of the site's two sightings", (mean - data.burst)[later])
    show("clock after those two sightings", (told - data.burst)[later])


def report(
    data: Seasons, plant: str, by: str, kind: HardinessClass, *, learned: bool = False
) -> None:
    """Print the errors of one plant on what was held out."""
    names = sorted(set(data.groups))
    fold = np.array([names.index(group) % FOLDS for group in data.groups])
    seasons = clocks(data.means_c)
    told = np.array([opening_days(seasons, kind, cd) for cd in TRIED_CD])
    calendar, fitted, chosen = np.zeros(len(fold)), np.zeros(len(fold)), np.zeros(len(fold))
    for held in range(FOLDS):
        out = fold == held
        misses = np.abs(told[:, ~out] - data.burst[~out]).mean(axis=1)
        best = int(misses.argmin())
        chosen[out] = TRIED_CD[best]
        calendar[out], fitted[out] = data.burst[~out].mean(), told[best, out]
    assert kind.leaf_out is not None
    prior = kind.leaf_out.value
    print(f"{plant}: {len(fold)} site-years, held out by {by}; fitted {np.unique(chosen)} °C·d")
    show("calendar mean", calendar - data.burst)
    show("clock, fitted", fitted - data.burst)
    show(f"clock, {kind.name}'s {prior:.0f} °C·d", opening_days(seasons, kind, prior) - data.burst)
    if learned:
        after_two(data, seasons, kind, chosen)


def show(name: str, miss_d: Array) -> None:
    """Print one way's errors in days, told minus seen."""
    print(
        f"  {name:34} mean error {np.abs(miss_d).mean():4.1f} d, "
        f"median {np.median(np.abs(miss_d)):4.1f} d, "
        f"rms {np.sqrt((miss_d**2).mean()):4.1f} d, bias {miss_d.mean():+5.1f} d, "
        f"late by over a week {(miss_d > 7).mean():4.0%}"
    )


def main() -> None:
    """Read the files named on the command line."""
    if len(sys.argv) not in (2, 3):
        raise SystemExit("usage: phenology.py pyPhenology-0.7.1.tar.gz [phenocam_DB.rda]")
    classes, path = catalogue().classes, Path(sys.argv[1])
    report(read(path, "aspen", "site"), "aspen", "site", classes["birch"])
    report(read(path, "vaccinium", "year"), "vaccinium", "year", classes["hardy broadleaf"])
    for cameras in sys.argv[2:]:
        seen = read_cameras(Path(cameras))
        report(seen, "woods", "site", classes["hardy broadleaf"], learned=True)


if __name__ == "__main__":
    main()
