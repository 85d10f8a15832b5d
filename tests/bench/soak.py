"""A simulated year of the daemon's own ticks for fifty trees: does it stay small?

    python tests/bench/soak.py london.csv                    London 2012, see years.py
    python tests/bench/soak.py london.csv --every 1 --days 14     the writing of a real day

The garden is garden30.py's with twenty of its trees twice; the forecast is what really followed,
served in the provider's form; messages go to a push service on the loopback; the keeper does as
told (`replay.Keeper`). Printed month by month, or for a month and less day by
day: resident memory, the database (with its log), messages, and what the process had written to
storage (``/proc/self/io``, Linux; nothing where the folder lies in memory, so name another in
TMPDIR). At the end what each table holds.
"""

from __future__ import annotations

import argparse
import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from time import process_time

from garden30 import STORE, write
from receiving import Receiver, receiving
from ticking import Sky

from underbench.daemon.alerts.hourly_pass import Pass, run_pass
from underbench.daemon.config.settings import Settings, load
from underbench.daemon.delivery.outbox import Services
from underbench.daemon.journal.noting import note
from underbench.daemon.rehearsal.replay import Keeper
from underbench.daemon.running import scheduler as clock
from underbench.daemon.store.store import Store
from underbench.daemon.weather.csv_series import read_series
from underbench.daemon.weather.supply import FORECAST_DAYS, Supply
from underbench.rules.garden.journal import Work

TREES = 50
PLACE: dict[str, float | str] = {
    "latitude": 51.51,
    "longitude": -0.12,
    "elevation_m": 30,
    "timezone": "Europe/London",
}
WORKS = (2011, 2012)
DAY, HOUR = timedelta(days=1), timedelta(hours=1)
MB = 1e6


def main() -> None:
    """Run what the command line asks for, and print its lines."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("weather", type=Path)
    asked.add_argument("--every", type=int, default=3, help="hours between ticks")
    asked.add_argument("--days", type=int, help="how many; else all there are")
    given = asked.parse_args()
    with (
        TemporaryDirectory(prefix="underbench-soak-") as folder,
        receiving() as phone,
    ):
        settings = a_garden(Path(folder))
        weather = read_series(given.weather, settings.garden).weather
        first, last = (datetime.fromtimestamp(int(weather.times[i]), tz=UTC) for i in (0, -1))
        begins, ends = first + DAY, last - FORECAST_DAYS * DAY
        if given.days:
            ends = min(ends, begins + given.days * DAY)
        with Store.open(settings.store_path) as store:
            soak(Soaking(settings, store, Sky(weather), phone), begins, ends, given.every)
            print("\n".join(tables(store)))


def a_garden(folder: Path) -> Settings:
    """Return the scoring garden, grown to fifty trees, with their works in its store."""
    config = write(folder, PLACE, WORKS)
    text = config.read_text("utf-8")
    head, *trees = re.split(r"(?=^\[\[tree\]\]$)", text, flags=re.MULTILINE)
    names = [re.search('name = "(.+)"', tree)[1] for tree in trees]  # type: ignore[index]
    again = {name: f"{name} the second" for name in names[: TREES - len(trees)]}
    more = [trees[names.index(name)].replace(name, second, 1) for name, second in again.items()]
    config.write_text("".join([head, *trees, *more]), "utf-8")
    with Store.open(folder / STORE) as store:
        works = [
            one for one in store.journal.entries() if isinstance(one, Work) and one.tree in again
        ]
        store.journal.add(work.model_copy(update={"tree": again[work.tree]}) for work in works)
    return load(config, {})


class Soaking:
    """A daemon ticked by hand, whose keeper does as told."""

    def __init__(self, settings: Settings, store: Store, sky: Sky, phone: Receiver) -> None:
        self.settings, self.store, self.phone = settings, store, phone
        self.supply = Supply(sky, settings.garden, store.answers)
        self.services = Services([phone.url("/keeper")])
        self.keeper = Keeper(settings)

    def tick(self, now: datetime) -> None:
        """Do what the keeper has done by now, tick, and let the keeper hear what was told."""
        note(self.store, self.settings, self.keeper.act(now))
        with overhearing() as passes:
            clock.tick(self.settings, self.store, self.supply, self.services, now)
        self.phone.got.clear()
        for done in passes:
            self.keeper.homes = {tree.name: tree.spot for tree in done.outlook.settings.trees}
            for one in done.all_said:
                self.keeper.hear(one, now)


@contextmanager
def overhearing() -> Iterator[list[Pass]]:
    """The passes of the ticks in the block."""
    passes: list[Pass] = []

    def heard(settings: Settings, store: Store, supply: Supply, now: datetime) -> Pass:
        passes.append(run_pass(settings, store, supply, now))
        return passes[-1]

    clock.run_pass = heard  # type: ignore[assignment, attr-defined]
    try:
        yield passes
    finally:
        clock.run_pass = run_pass  # type: ignore[attr-defined]


def soak(soaking: Soaking, begins: datetime, ends: datetime, every: int) -> None:
    """Tick from ``begins`` to ``ends`` and print a line as each month (or day) ends."""
    form = "%Y-%m-%d" if ends - begins <= 31 * DAY else "%Y-%m"
    print(
        f"{'':<12}{'resident MB':>12}{'database MB':>12}{'messages':>9}{'written MB':>11}{'s':>7}"
    )
    now, row, written, spent = begins, f"{begins:{form}}", written_mb(), process_time()
    while now < ends:
        soaking.tick(now)
        now += every * HOUR
        if f"{now:{form}}" != row:
            numbers = [*sizes(soaking.store), written_mb() - written, process_time() - spent]
            print("{:<12}{:12.1f}{:12.2f}{:9}{:11.1f}{:7.0f}".format(row, *numbers), flush=True)
            row, written, spent = f"{now:{form}}", written_mb(), process_time()


def sizes(store: Store) -> tuple[float, float, int]:
    """Resident and database megabytes, and the messages there are."""
    pages = int(Path("/proc/self/statm").read_text("ascii").split()[1])
    files = store.path.parent.glob(f"{store.path.name}*")
    kept = sum(file.stat().st_size for file in files)
    (row,) = store.db.query("SELECT count(*) AS messages FROM message")
    return pages * os.sysconf("SC_PAGE_SIZE") / MB, kept / MB, row["messages"]


def written_mb() -> float:
    """What this process had written to storage so far."""
    found = re.search(r"^write_bytes: (\d+)", Path("/proc/self/io").read_text("ascii"), re.M)
    assert found is not None
    return int(found[1]) / MB


def tables(store: Store) -> Iterator[str]:
    """Lines of what each table holds, and the part of it that is pictures."""
    for row in store.db.query(
        "SELECT name, sum(pgsize) / 1e6 AS mb FROM dbstat GROUP BY name ORDER BY mb DESC LIMIT 8"
    ):
        yield f"{row['name']:<32}{row['mb']:8.2f} MB"
    (row,) = store.db.query("SELECT sum(length(picture)) / 1e6 AS mb FROM message")
    yield f"{'of it pictures':<32}{row['mb'] or 0:8.2f} MB"


if __name__ == "__main__":
    main()
