"""What learning a tree's own limit from noted nights gains, beside not learning it.

    python tests/bench/borne.py amsterdam.csv chicago.csv jfk.csv london.csv

The files are those of `years.py`, named by their city. Nights are what leaves of a pine on an open
bench felt there. Made years shift them (1 K a year, 1 K a night). A made tree's true limit is off
the species' figure by a known amount. Its keeper acts from a chance of 30 %, on forecasts that err
by 1.5 K, and does four jobs in five. He notes nine damages in ten, and seven in ten of the nights
that were told, not done and harmless; what was felt is known to 1 K. At each season's end he takes
on what is proposed. Costs are in carries: a damaged night counts 1 / 0.3, as the keeper's chance
has it. All of that is judgement.

What it said, damaged nights and needless help in a season, and the cost of both:

    true limit off by   -2 K         -1 K         0 K          +1 K         +2 K
    not learned         2.70 7.06    3.33 5.35    4.41 3.48    6.44 1.87    9.67 0.79
    cost                16.1         16.4         18.2         23.3         33.0
    learned             2.80 5.85    3.46 4.83    4.29 4.17    5.63 3.51    7.97 2.30
    cost                15.2         16.4         18.5         22.3         28.9

With trees 1.5 K apart that is 20.5 without learning and 19.7 with it. A tree that is just as its
species pays a third of a carry a season: of its nights those are noted that came out badly. Steps
of a whole degree gave 19.5, and 0.4 of a carry for such a tree.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from statistics import NormalDist
from tempfile import TemporaryDirectory
from typing import NamedTuple

import numpy as np

from underbench.daemon.config.settings import load
from underbench.daemon.outlook.garden_now import setting_of
from underbench.daemon.weather.csv_series import read_series
from underbench.rules.course.course import follow
from underbench.rules.course.inputs import Row
from underbench.rules.limits.borne import Noted, proposed_c
from underbench.rules.physics import state as states
from underbench.rules.physics.pot_water import capacity_l
from underbench.rules.weather.spread import known_site

PLACES = {  # latitude, longitude, height, time zone
    "amsterdam": (52.3, 4.77, 0, "Europe/Amsterdam"),
    "chicago": (41.98, -87.92, 205, "America/Chicago"),
    "jfk": (40.64, -73.78, 4, "America/New_York"),
    "london": (51.51, -0.12, 30, "Europe/London"),
}
GARDEN = """
[garden]
name = "Hollow"
latitude = {}
longitude = {}
elevation_m = {}
timezone = "{}"
[[spot]]
name = "bench"
kind = "bench"
[[tree]]
name = "Heath"
species = "Pinus sylvestris"
litres = 6
spot = "bench"
"""
MONTHS = {-2.5: (4, 5), -5.0: (11, 12, 3), -8.0: (12, 1, 2), -15.0: (12, 1, 2)}  # by the figure
OFF_K = (-2, -1, 0, 1, 2)
TREES, SEASONS = 8, 6
ACT_FROM, DONE, SKILL_K, FELT_K = 0.3, 0.8, 1.5, 1.0
DAMAGE_NOTED, FINE_NOTED = 0.9, 0.7
NEVER_NEAR_K = 6.0


class Season(NamedTuple):
    """What a season brought: damaged nights, and nights of needless help."""

    damaged: float
    needless: float

    @property
    def cost(self) -> float:
        """The same in carries."""
        return self.damaged / ACT_FROM + self.needless


def main(files: Sequence[str]) -> None:
    """Print the table for the cities' files."""
    nights = {path: coldest(Path(path)) for path in files}
    pools = [
        (figure, pool)
        for found in nights.values()
        for figure, months in MONTHS.items()
        if min(pool := [felt for month, felt in found if month in months]) <= figure + 2.0
    ]
    share = np.exp(-0.5 * (np.array(OFF_K) / 1.5) ** 2)
    for learns in (False, True):
        rows = [mean_of(pools, off, learns) for off in OFF_K]
        costs = np.array([row.cost for row in rows])
        told = " ".join(f"{r.damaged:4.2f} {r.needless:4.2f}" for r in rows)
        every = float((costs * share).sum() / share.sum())
        print(f"{'learning' if learns else 'no learning':12} {told}  cost", end=" ")
        print(" ".join(f"{cost:4.1f}" for cost in costs), f"all {every:.2f}")


def coldest(path: Path) -> list[tuple[int, float]]:
    """Return the month of each night in a file, and the coldest that leaves felt in it, °C."""
    with TemporaryDirectory() as folder:
        config = Path(folder) / "garden.toml"
        config.write_text(GARDEN.format(*PLACES[path.stem]), encoding="utf-8")
        settings = load(config, {})
    weather = read_series(path, settings.garden).weather
    begun = states.begin(
        capacity_l([tree.container for tree in settings.trees]),
        float(weather.air_c[0, :24].mean()),
    )
    rows = [Row(tree) for tree in settings.trees]
    course = follow(setting_of(settings), rows, [], begun, weather, known_site())
    leaf_c, times = course.exposure.leaf_c[0, 0], course.times
    noons = range(12, len(times) - 24, 24)
    months = (datetime.fromtimestamp(int(times[noon]), UTC).month for noon in noons)
    lows = (float(leaf_c[noon : noon + 24].min()) for noon in noons)
    return list(zip(months, lows, strict=True))


def mean_of(pools: Sequence[tuple[float, list[float]]], off_k: float, learns: bool) -> Season:
    """Return the mean season of made trees whose true limit is ``off_k`` off the figure."""
    lived = [
        lives(pool, figure, off_k, learns, np.random.default_rng(seed))
        for figure, pool in pools
        for seed in range(TREES)
    ]
    return Season(*np.mean(lived, axis=0).tolist())


def lives(
    pool: list[float], figure: float, off_k: float, learns: bool, draw: np.random.Generator
) -> Season:
    """Return the mean season of one tree."""
    true_c, in_force, nights = figure + off_k, figure, list[Noted]()
    damaged = needless = 0
    for _ in range(SEASONS):
        for felt in np.array(pool) + draw.normal(0.0, 1.0) + draw.normal(0.0, 1.0, len(pool)):
            if felt > figure + NEVER_NEAR_K:
                continue
            forecast = felt + draw.normal(0.0, SKILL_K)
            told = NormalDist().cdf((in_force - forecast) / SKILL_K) >= ACT_FROM
            if told and draw.random() < DONE:
                needless += felt >= true_c
                continue
            harmed = bool(felt < true_c)
            damaged += harmed
            noted = Noted(float(felt + draw.normal(0.0, FELT_K)), harmed)
            if draw.random() < (DAMAGE_NOTED if harmed else FINE_NOTED * told):
                nights.append(noted)
        if learns:
            in_force = proposed_c(figure, in_force, nights) or in_force
    return Season(damaged / SEASONS, needless / SEASONS)


if __name__ == "__main__":
    main(sys.argv[1:])
