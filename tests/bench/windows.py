"""When windows for work open and close through a real year, by species and work.

    python tests/bench/windows.py FOLDER/garden.toml london.csv [repot chop ...]

The garden is one of `tests/bench/garden30.py`, the year one of `tests/bench/years.py`; its journal
is left out, so that every tree is free for work. Each fourth day is looked at with a forecast of
what really followed. Printed: the first and last day offered (good or poor) and how many were good.
"""

from __future__ import annotations

import argparse
from collections import defaultdict
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

from underbench.daemon.config.settings import load
from underbench.daemon.journal.works import work_named
from underbench.daemon.outlook.outlook import look
from underbench.daemon.planning.windows import Planner
from underbench.daemon.store.store import Store
from underbench.daemon.weather.csv_series import read_series
from underbench.daemon.weather.supply import Supplied
from underbench.daemon.wording.tables import table
from underbench.rules.planning.work_season import Suit

STEP, GIVEN = timedelta(days=4), timedelta(days=6)
WORKS = ("repot", "chop", "defoliate", "start layer")
BREAK_DAYS = 12  # days apart from which it is another window


def main() -> None:
    """Print the windows of the year."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("config", type=Path)
    asked.add_argument("weather", type=Path)
    asked.add_argument("works", nargs="*", default=list(WORKS))
    given = asked.parse_args()
    settings = load(given.config)
    weather = read_series(given.weather, settings.garden).weather
    works = [work_named(name) for name in given.works]
    found: dict[tuple[str, str], dict[date, Suit]] = defaultdict(dict)
    species = {tree.name: tree.species for tree in settings.trees}
    first, last = (datetime.fromtimestamp(int(weather.times[i]), tz=UTC) for i in (0, -1))
    now = first.replace(hour=7, minute=0) + timedelta(days=3)
    with TemporaryDirectory() as folder, Store.open(Path(folder) / "windows.db") as store:
        while now + GIVEN <= last:
            stretch = weather.between(now - timedelta(days=5), now + GIVEN)
            supplied = Supplied(stretch, now, timedelta(0), None, "the series", "a file")
            planner = Planner(look(settings, store, supplied, now), None)
            for window in planner.windows(works, range(len(settings.trees))):
                for day in window.days[: STEP.days]:
                    suits = found[(window.work, species[window.tree])]
                    suits[day.day] = min(
                        suits.get(day.day, Suit.NO), day.suit, key=list(Suit).index
                    )
            now += STEP
    rows = [line for key, suits in sorted(found.items()) for line in _lines(key, suits)]
    print(table(["work", "species", "first", "last", "offered", "good"], rows))


def _lines(key: tuple[str, str], suits: dict[date, Suit]) -> list[list[str]]:
    days = sorted(day for day, suit in suits.items() if suit is not Suit.NO)
    runs: list[list[date]] = []
    for day in days:
        if runs and (day - runs[-1][-1]).days <= BREAK_DAYS:
            runs[-1].append(day)
        else:
            runs.append([day])
    return [
        [
            *(*key, f"{run[0]:%d %b}", f"{run[-1]:%d %b}", f"{len(run)}"),
            f"{sum(suits[day] is Suit.GOOD for day in run)}",
        ]
        for run in runs
    ] or [[*key, "never", "", "0", "0"]]


if __name__ == "__main__":
    main()
