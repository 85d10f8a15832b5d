"""A simulated year of the daemon's own ticks for forty trees: does it stay small?

    PYTHONPATH=tests/helpers python tests/bench/soak.py london.csv     London 2012, see years.py
    ... --every 1 --days 14                                            the writing of a real day

The garden is garden30.py's with ten of its trees twice. The forecast is what really followed,
served in the provider's form, with an ensemble of 51 made around it. A thermometer is heard each
hour, what a pass saw is published to a broker (a real mosquitto), the page is opened with each
tick, and messages go to a push service, all on the loopback. The keeper does as told
(`replay.Keeper`). Printed month by month, or for a month and less day by day: resident memory,
threads, open files, the database (with its log), messages, and what the process had written to
storage (``/proc/self/io``, Linux; nothing where the folder lies in memory, so name another in
TMPDIR). At the end what each table holds.
"""

from __future__ import annotations

import argparse
import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from http import HTTPStatus
from pathlib import Path
from tempfile import TemporaryDirectory
from threading import active_count
from time import process_time

import numpy as np
from broker import PASSWORD, USER, Broker, running
from ensemble_service import MODEL, ensemble_body, hours_of, members_of
from garden30 import STORE, write
from receiving import Receiver, receiving
from ticking import Sky

from underbench.daemon.alerts.hourly_pass import Pass, run_pass
from underbench.daemon.config.reloading import Reloading
from underbench.daemon.config.settings import Settings
from underbench.daemon.delivery.outbox import Services
from underbench.daemon.journal.noting import note
from underbench.daemon.page.app import create_app
from underbench.daemon.page.context import Deps
from underbench.daemon.page.kept_weather import KeptWeather
from underbench.daemon.rehearsal.replay import Keeper
from underbench.daemon.running import scheduler as clock
from underbench.daemon.store.store import Store
from underbench.daemon.weather.csv_series import read_series
from underbench.daemon.weather.supply import FORECAST_DAYS, Supply
from underbench.rules.garden.inventory import Garden
from underbench.rules.garden.journal import Work
from underbench.rules.garden.readings import Quantity, Reading
from underbench.rules.weather.hourly import Weather

TREES, MEMBERS = 40, 51
WARMER_K = 1.0  # the garden's thermometer reads that much above the station
PLACE: dict[str, float | str] = {
    "latitude": 51.51,
    "longitude": -0.12,
    "elevation_m": 30,
    "timezone": "Europe/London",
}
WORKS = (2031, 2032)
LATER = timedelta(days=7305)  # twenty years: the daemon does not believe a clock of long ago
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
        running(Path(folder)) as broker,
    ):
        config = a_garden(Path(folder), broker)
        garden = Reloading(config)
        told = read_series(given.weather, garden.settings().garden).weather
        weather = replace(told, times=told.times + int(LATER.total_seconds()))
        first, last = (datetime.fromtimestamp(int(weather.times[i]), tz=UTC) for i in (0, -1))
        begins, ends = first + DAY, last - FORECAST_DAYS * DAY
        if given.days:
            ends = min(ends, begins + given.days * DAY)
        soaking = Soaking(garden, weather, phone)
        soak(soaking, begins, ends, given.every)
        soaking.watch.end(ends)
        with soaking.store() as store:
            print("\n".join(tables(store)))


def a_garden(folder: Path, broker: Broker) -> Path:
    """Write the scoring garden, grown to forty trees, with their works in its store."""
    config = write(folder, PLACE, WORKS)
    text = config.read_text("utf-8")
    head, *trees = re.split(r"(?=^\[\[tree\]\]$)", text, flags=re.MULTILINE)
    names = [re.search('name = "(.+)"', tree)[1] for tree in trees]  # type: ignore[index]
    again = {name: f"{name} the second" for name in names[: TREES - len(trees)]}
    more = [trees[names.index(name)].replace(name, second, 1) for name, second in again.items()]
    publish = f'\n[publish]\nhost = "127.0.0.1"\nport = {broker.port}\nusername = "{USER}"\n'
    config.write_text("".join([head, *trees, *more, publish]), "utf-8")
    secrets = folder / "secrets"
    secrets.mkdir(mode=0o700)
    (secrets / "publish_password").write_text(PASSWORD, "utf-8")
    with Store.open(folder / STORE) as store:
        works = [
            one for one in store.journal.entries() if isinstance(one, Work) and one.tree in again
        ]
        store.journal.add(work.model_copy(update={"tree": again[work.tree]}) for work in works)
    return config


class Members:
    """An ensemble service that has the members of a series in memory."""

    models = MODEL

    def __init__(self, weather: Weather) -> None:
        self._weather = weather

    def members(self, _garden: Garden, now: datetime) -> bytes:
        """Return the coming week of every member, as the service writes it."""
        midnight = now.replace(hour=0, minute=0, second=0, microsecond=0)
        week = hours_of(self._weather, midnight - DAY, 8 * 24)
        return ensemble_body({MODEL: members_of(week, MEMBERS)})


class Soaking:
    """A daemon ticked by hand, whose keeper does as told and opens the page."""

    def __init__(self, garden: Reloading, weather: Weather, phone: Receiver) -> None:
        self.garden, self.weather, self.phone = garden, weather, phone
        self.settings = garden.settings()
        self.keeper = Keeper(self.settings)
        self.now = datetime.now(UTC)
        services = Services([phone.url("/keeper")])
        self.watch = clock.Watch(garden, lambda _settings: services, self.store, self.supply)
        self.watch.begin()
        self.page = create_app(
            Deps(
                config=garden.path,
                settings=garden.settings,
                open_store=self.store,
                kept_weather=lambda _of, store: KeptWeather(self.supply(store)),
                services=lambda _of: services,
                trial=lambda _name, _limit: "",
                now=lambda: self.now,
            )
        ).test_client()

    def store(self) -> Store:
        """Open the garden's database."""
        return Store.open(self.settings.store_path)

    def supply(self, store: Store) -> Supply:
        """Return where the weather comes from."""
        sky, members = Sky(self.weather), Members(self.weather)
        return Supply(sky, self.settings.garden, store.answers, ensembles=members)

    def tick(self, now: datetime) -> None:
        """Do what the keeper has done by now, tick, and let the keeper hear what was told."""
        self.now = now
        with self.store() as store:
            note(store, self.settings, self.keeper.act(now))
        air_c = float(np.interp(now.timestamp(), self.weather.times, self.weather.air_c[0]))
        self.watch._intake._put(Reading(now, Quantity.AIR, air_c + WARMER_K, None, None, "mqtt"))
        with overhearing() as passes:
            self.watch.tick(now)
        assert self.page.get("/").status_code == HTTPStatus.OK
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
        f"{'':<12}{'resident MB':>12}{'threads':>9}{'files':>7}{'database MB':>12}"
        f"{'messages':>9}{'written MB':>11}{'s':>7}"
    )
    now, row, written, spent = begins, f"{begins:{form}}", written_mb(), process_time()
    while now < ends:
        soaking.tick(now)
        now += every * HOUR
        if f"{now:{form}}" != row:
            with soaking.store() as store:
                numbers = [*sizes(store), written_mb() - written, process_time() - spent]
            form_of_row = "{:<12}{:12.1f}{:9}{:7}{:12.2f}{:9}{:11.1f}{:7.0f}"
            print(form_of_row.format(row, *numbers), flush=True)
            row, written, spent = f"{now:{form}}", written_mb(), process_time()


def sizes(store: Store) -> tuple[float, int, int, float, int]:
    """Resident megabytes, threads, open files, megabytes of the database, messages."""
    pages = int(Path("/proc/self/statm").read_text("ascii").split()[1])
    files = store.path.parent.glob(f"{store.path.name}*")
    kept = sum(file.stat().st_size for file in files)
    (row,) = store.db.query("SELECT count(*) AS messages FROM message")
    files_open = len(os.listdir("/proc/self/fd"))
    resident = pages * os.sysconf("SC_PAGE_SIZE") / MB
    return resident, active_count(), files_open, kept / MB, row["messages"]


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
