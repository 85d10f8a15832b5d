"""An invented garden near Ljubljana, its trees, and weather made to order. Shared as fixtures.

Beside it a lab: such a garden with its own file, its own database and a sky made to order.
"""

from __future__ import annotations

import logging
import os
from collections.abc import Callable, Iterator, Sequence
from datetime import datetime, time
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import urllib3
from commanding import FIRST_DAY, FROST_DAY, Service
from commanding import Garden as Kept
from hypothesis import HealthCheck, settings
from openmeteo_service import StandIn, serving
from runs import run_of
from worked_out import advancing_once, migrating_once, walking_once

from underbench.daemon.alerts.hourly_pass import Pass, run_pass
from underbench.daemon.config.settings import Settings, load
from underbench.daemon.outlook import checkpoints
from underbench.daemon.store import database
from underbench.daemon.store.store import Store
from underbench.daemon.weather.openmeteo import ATTRIBUTION, NAME, facts, parse
from underbench.daemon.weather.provider import Answer, Facts, Unreachable
from underbench.daemon.weather.supply import Supply
from underbench.rules.course.course import Course, follow
from underbench.rules.course.inputs import Row, Setting
from underbench.rules.garden.inventory import (
    Away,
    Chance,
    Colour,
    Container,
    ContainerKind,
    Garden,
    HandsOn,
    Hours,
    Routine,
    Shape,
    Spot,
    SpotKind,
    Standing,
    Tree,
    Wall,
)
from underbench.rules.garden.journal import Entry, Move, Sighting, Stage, Watering, Work
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards.findings import Finding
from underbench.rules.hazards.judge import judge
from underbench.rules.physics import exposure
from underbench.rules.physics import state as states
from underbench.rules.physics.places import Place, place_of
from underbench.rules.physics.pot_water import capacity_l
from underbench.rules.physics.state import State
from underbench.rules.plants.species_lookup import find as species_named
from underbench.rules.weather.fill_gaps import complete
from underbench.rules.weather.hourly import HOUR_S, Weather, from_columns
from underbench.rules.weather.spread import Site, known_site

# No test fails because the machine is slow or busy.
settings.register_profile(
    "untimed", deadline=None, max_examples=30, suppress_health_check=[HealthCheck.too_slow]
)
settings.load_profile("untimed")

BENCH, UNDER, SHED, FRAME = "top bench", "under the bench", "shed", "cold frame"


def spot(name: str, kind: SpotKind, **given: Any) -> Spot:
    usual = {
        "sky_view": 0.8,
        "sun_from": 8,
        "sun_until": 18,
        "wind_factor": 0.7,
        "standing": Standing.BENCH,
        "height_cm": 80,
    }
    return Spot.model_validate({"name": name, "kind": kind, **usual, **given})


SPOTS = {
    one.name: one
    for one in (
        spot(BENCH, SpotKind.BENCH),
        spot(
            UNDER,
            SpotKind.UNDER_BENCH,
            sky_view=0.15,
            sun_from=12,
            sun_until=12,
            wind_factor=0.3,
            standing=Standing.GROUND,
            height_cm=0,
            room=2,
        ),
        spot(
            SHED,
            SpotKind.SHED,
            sky_view=0,
            sun_from=12,
            sun_until=12,
            wind_factor=0,
            standing=Standing.SLAB,
            height_cm=0,
            room=1,
            max_litres=20,
        ),
        spot(FRAME, SpotKind.COLD_FRAME, wind_factor=0.1, standing=Standing.GROUND, height_cm=0),
    )
}

DAYTIME = HandsOn(
    weekdays=(
        Hours(start=time(6, 30), end=time(7, 30)),
        Hours(start=time(17), end=time(21)),
    ),
    weekends=(Hours(start=time(8), end=time(21)),),
)


class Make:
    """Makes what a test needs; every number a test does not name is an ordinary one."""

    garden = Garden(
        name="Orchard End",
        latitude=46.05,
        longitude=14.51,
        elevation_m=300,
        timezone="Europe/Ljubljana",
    )
    south = Garden(
        name="Gum Flat",
        latitude=-37.8,
        longitude=144.9,
        elevation_m=50,
        timezone="Australia/Melbourne",
    )
    spots = SPOTS
    hands_on = DAYTIME

    def away(self, first: Any, last: Any) -> HandsOn:
        return self.hands_on.model_copy(update={"away": (Away(first=first, last=last),)})

    def container(self, litres: float = 4.0, **given: Any) -> Container:
        usual = {
            "kind": ContainerKind.POT,
            "wall": Wall.GLAZED,
            "colour": Colour.BROWN,
            "shape": Shape.RECTANGLE,
        }
        return Container.model_validate({**usual, "litres": litres, **given})

    def tree(self, name: str = "Ember", species: str = "Acer palmatum", **given: Any) -> Tree:
        pot = {key: given.pop(key) for key in ("litres", "wall", "tied", "kind") if key in given}
        usual = {"container": self.container(**pot), "spot": BENCH, "height_cm": 45, "crown_cm": 40}
        return Tree.model_validate({"name": name, "species": species, **usual, **given})

    def setting(
        self,
        trees: Sequence[Tree],
        routines: tuple[Routine, ...] = (),
        hands_on: HandsOn = DAYTIME,
        garden: Garden | None = None,
    ) -> Setting:
        known = {tree.name: species_named(tree.species) for tree in trees}
        kinds = {name: kind for name, kind in known.items() if kind is not None}
        return Setting(garden or self.garden, SPOTS, kinds, routines, hands_on)

    def place(self, name: str = BENCH) -> Place:
        return place_of(SPOTS[name])

    def work(self, tree: str, at: datetime, kind: WorkKind, roots_pct: float | None = None) -> Work:
        return Work(tree=tree, at=at, work=kind, roots_pct=roots_pct)

    def seen(self, tree: str, at: datetime, stage: Stage) -> Sighting:
        return Sighting(tree=tree, at=at, stage=stage)

    def moved(self, tree: str, at: datetime, where: str) -> Move:
        return Move(tree=tree, at=at, spot=where)

    def watered(self, tree: str, at: datetime) -> Watering:
        return Watering(tree=tree, at=at)

    def weather(
        self,
        start: datetime,
        hours: int,
        *,
        mean_c: Any = 8.0,
        swing_k: float = 5.0,
        dew_drop_k: Any = 3.0,
        wind_ms: Any = 1.5,
        garden: Garden | None = None,
        **columns: Any,
    ) -> Weather:
        """Whole days from ``start``: coldest at 04:00 UTC, warmest at 16:00; dry, clear, calm.

        ``mean_c`` and any column may be an array (hour,). What is not given is estimated.
        """
        first = int(start.timestamp())
        times = first + HOUR_S * np.arange(1, hours + 1)
        clock = times % (24 * HOUR_S) / HOUR_S
        air_c = mean_c - swing_k * np.cos((clock - 4) / 12 * np.pi)
        given = {"air_c": air_c, "dew_c": air_c - dew_drop_k, "wind_ms": wind_ms, **columns}
        blank = np.zeros(hours)
        filled = {name: blank + values for name, values in given.items()}
        return complete(from_columns(times, filled), garden or self.garden)[0]

    def begin(self, trees: Sequence[Tree], temp_c: float = 8.0) -> State:
        return states.begin(capacity_l([tree.container for tree in trees]), temp_c)

    def follow(
        self,
        trees: Sequence[Tree],
        weather: Weather,
        journal: Sequence[Entry] = (),
        *,
        setting: Setting | None = None,
        start: State | None = None,
        site: Site | None = None,
        rows: Sequence[Row] | None = None,
    ) -> Course:
        return follow(
            setting or self.setting(trees),
            rows or [Row(tree) for tree in trees],
            journal,
            start or self.begin(trees, float(weather.air_c[0, :24].mean())),
            weather,
            site or known_site(),
        )

    def findings(
        self,
        trees: Sequence[Tree],
        weather: Weather,
        journal: Sequence[Entry] = (),
        *,
        setting: Setting | None = None,
        site: Site | None = None,
        start: State | None = None,
        chance: Chance | None = None,
    ) -> list[Finding]:
        setting, site = setting or self.setting(trees), site or known_site()
        course = self.follow(trees, weather, journal, setting=setting, site=site, start=start)
        return judge(setting, course, site, chance or Chance())


@pytest.fixture(scope="session", autouse=True)
def worked_out_once() -> Iterator[None]:
    """Work out each thing once for all tests: the physics are pure, so the same tree comes through
    the same hours to the same state, and most gardens here share trees and hours. New databases
    have the same tables. ``test_course.py`` says that a course may be cut anywhere."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(exposure, "advance", advancing_once(exposure.advance))
        patch.setattr(checkpoints, "follow", walking_once(checkpoints.follow))
        patch.setattr(database, "_migrate", migrating_once(database._migrate))
        yield


@pytest.fixture(scope="session")
def make() -> Make:
    """The maker; one for all tests, as it holds nothing that changes."""
    return Make()


class Sky:
    """A provider whose forecast is ``weather``, whenever it is asked and not ``down``."""

    name, attribution = NAME, ATTRIBUTION

    def __init__(self, weather: Weather) -> None:
        self.weather, self.down = weather, False

    def fetch(
        self, garden: Garden, past_days: int, forecast_days: int, now: datetime, held: str = ""
    ) -> Answer:
        if self.down:
            raise Unreachable("the weather service cannot be reached")
        query = {"past_days": f"{past_days}", "forecast_days": f"{forecast_days}"}
        query |= {"latitude": f"{garden.latitude}", "longitude": f"{garden.longitude}"}
        query |= {"elevation": f"{garden.elevation_m}", "timeformat": "unixtime"}
        body = serving(run_of(self.weather, now), lambda: now)(query)
        assert isinstance(body, bytes)
        return Answer(body, "memory")

    def parse(self, body: bytes) -> Weather:
        return parse(body)

    def facts(self, body: bytes) -> Facts:
        return facts(body)


class Lab:
    """An invented garden with its settings, state database and sky."""

    def __init__(self, folder: Path, toml: str, weather: Weather) -> None:
        self.folder = folder
        folder.mkdir(exist_ok=True)
        self.sky = Sky(weather)
        self.configure(toml)
        self.open()

    def configure(self, toml: str) -> None:
        config = self.folder / "garden.toml"
        config.write_text(toml, encoding="utf-8")
        self.settings: Settings = load(config, {"UNDERBENCH_STORE__PATH": "underbench.db"})

    def open(self) -> None:
        self.store = Store.open(self.settings.store_path)
        self.supply = Supply(self.sky, self.settings.garden, self.store.answers)

    def restart(self) -> None:
        """Come back with nothing but the file and the database."""
        self.store.close()
        self.configure((self.folder / "garden.toml").read_text(encoding="utf-8"))
        self.open()

    def run(self, now: datetime, **options: Any) -> Pass:
        return run_pass(self.settings, self.store, self.supply, now, **options)

    def note(self, *entries: Entry) -> None:
        self.store.journal.add(entries)

    def count(self, table: str) -> int:
        return int(next(iter(self.store.db.query(f"SELECT count(*) AS n FROM {table}")))["n"])

    def queued(self) -> list[str]:
        return [row["title"] for row in self.store.db.query("SELECT title FROM message")]


@pytest.fixture
def labs(tmp_path: Path) -> Iterator[Callable[[str, Weather, str], Lab]]:
    """Opens gardens, each in a folder of its own; they are closed in the end."""
    opened: list[Lab] = []

    def start(toml: str, weather: Weather, name: str = "one") -> Lab:
        opened.append(Lab(tmp_path / name, toml, weather))
        return opened[-1]

    yield start
    for one in opened:
        one.store.close()


@pytest.fixture(scope="session")
def spring(make: Any) -> Weather:
    """A spring that warms from 7 to 13 °C, and one clear night of frost in late April.

    The air at the bench falls some 1.5 K below the −3 °C of the forecast."""
    days = 65
    daily = np.linspace(7, 13, days).repeat(24)
    night = 24 * (FROST_DAY - FIRST_DAY).days
    daily[night - 12 : night + 12] = 3.0
    weather: Weather = make.weather(FIRST_DAY, 24 * days, mean_c=daily, swing_k=6.0)
    return weather


@pytest.fixture
def no_pauses(monkeypatch: pytest.MonkeyPatch) -> None:
    """Without the pauses before a weather service that failed is asked again."""
    monkeypatch.setattr(urllib3.Retry, "sleep", lambda self, response=None: None)


@pytest.fixture
def garden(
    tmp_path: Path, spring: Weather, monkeypatch: pytest.MonkeyPatch, no_pauses: None
) -> Iterator[Kept]:
    """A garden's folder with a weather service of its own, and the command run for it."""
    for key in list(os.environ):
        if "UNDERBENCH" in key:
            monkeypatch.delenv(key)
    quiet = ("apscheduler", "urllib3.connectionpool", "paho")
    loggers = [logging.getLogger(name) for name in quiet]
    levels = [logger.level for logger in loggers]
    service = Service(spring)
    with StandIn(service) as server:
        yield Kept(tmp_path, service, server)
    for logger, level in zip(loggers, levels, strict=True):
        logger.setLevel(level)


@pytest.fixture
def file(tmp_path: Path) -> Path:
    """Where a keeper's file is to be written."""
    return tmp_path / "garden.toml"


@pytest.fixture(scope="session")
def sky() -> type[Sky]:
    """A provider of made weather."""
    return Sky
