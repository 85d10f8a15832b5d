"""How long the models and a whole pass take, and how much memory: ``python tests/bench/speed.py``.

Not a test. Each case runs in a process of its own, with numpy held to one core. Seconds are the
best of several runs: by the clock on the wall, and of this process's use of the processor, which
other work on the machine disturbs less. Memory is the peak resident size (``ru_maxrss``) over what
the process held when all was imported and the case not yet begun. The weather is an invented
January in which everything freezes: the slowest there is. Two days that settle the pots are run
before each case and counted in its seconds, not in its tree-hours.
"""

from __future__ import annotations

import json
import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from time import perf_counter, process_time

ONE_CORE = {f"{name}_NUM_THREADS": "1" for name in ("OMP", "OPENBLAS", "MKL")}
ROOT = Path(__file__).resolve().parents[2]
PATHS = os.pathsep.join(str(ROOT / folder) for folder in (".types", "tests", "tests/helpers"))
RUNS = 5
SPIN_UP_H = 48
START = datetime(2026, 1, 19, tzinfo=UTC)

# Trees, members, hours ahead, aim in seconds, aim in MB.
PHYSICS = {
    "300 × 168 h": (300, 1, 168, 0.15, None),
    "300 × 51 × 168 h": (300, 51, 168, 1.2, 150),
    "10 000 × 168 h": (10_000, 1, 168, 1.0, None),
    "40 × 51 × 240 h": (40, 51, 240, 0.4, None),
    "150 × 51 × 168 h": (150, 51, 168, None, None),
    "600 × 51 × 168 h": (600, 51, 168, None, None),
    "300 × 13 × 168 h": (300, 13, 168, None, None),
    "300 × 102 × 168 h": (300, 102, 168, None, None),
}
PASS = "pass, 40 trees × 51"
PASS_AIM_S = 0.6


def main() -> None:
    """Run every case in a fresh process and print its line."""
    print(f"{'case':<22}{'wall s':>8}{'cpu s':>8}{'aim':>6}{'MB':>6}{'aim':>5}{'µs/tree-hour':>14}")
    for name in sys.argv[1:] or [*PHYSICS, PASS]:
        answer = subprocess.run(
            [sys.executable, __file__, "--case", name],
            env=os.environ | ONE_CORE | {"PYTHONPATH": PATHS},
            stdout=subprocess.PIPE,
            check=True,
        )
        wall_s, cpu_s, peak_mb = json.loads(answer.stdout)
        trees, members, hours, aim_s, aim_mb = PHYSICS.get(name, (0, 0, 0, PASS_AIM_S, None))
        line = f"{name:<22}{wall_s:8.3f}{cpu_s:8.3f}{aim_s or '':>6}{peak_mb:6.0f}{aim_mb or '':>5}"
        each_us = f"{1e6 * cpu_s / (trees * members * hours):14.3f}" if trees else ""
        print(line + each_us, flush=True)


def case(name: str) -> None:
    """Measure one case in this process and write it as JSON."""
    run = whole_pass() if name == PASS else physics(*PHYSICS[name][:3])
    idle_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    times = [timed(run) for _ in range(RUNS)]
    peak_mb = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(json.dumps([*(min(column) for column in zip(*times, strict=True)), peak_mb - idle_mb]))


def timed(run: Callable[[], Callable[[], object]]) -> tuple[float, float]:
    """Return wall and processor seconds of what ``run`` returns, made before the clock starts."""
    ready = run()
    began = perf_counter(), process_time()
    ready()
    return perf_counter() - began[0], process_time() - began[1]


def physics(trees: int, members: int, hours: int) -> Callable[[], Callable[[], object]]:
    """Return a run of all models: two days that settle the pots, then ``hours`` of members."""
    from underbench.rules.course.course import follow
    from underbench.rules.course.inputs import Row
    from underbench.rules.physics import state as states
    from underbench.rules.physics.pot_water import capacity_l
    from underbench.rules.weather.spread import drawn_sites, dress, known_site

    setting, garden, journal = a_garden(trees)
    weather = january(SPIN_UP_H + hours)
    now = START + timedelta(hours=SPIN_UP_H)
    ahead = weather.hours_at(slice(SPIN_UP_H, None))
    if members > 1:
        ahead = dress(ahead, now, ahead.global_wm2[0] > 0, members)
    site = drawn_sites(members) if members > 1 else known_site()
    rows = [Row(tree) for tree in garden]
    start = states.begin(capacity_l([tree.container for tree in garden]), 4.0)
    spin_up = weather.hours_at(slice(0, SPIN_UP_H))

    def run() -> object:
        past = follow(setting, rows, journal, start, spin_up, known_site()).end
        course = follow(setting, rows, journal, past, ahead, site)
        assert course.exposure.hours(slice(-24, None)).frozen_share.max() == 1.0
        return course

    return lambda: run


def a_garden(trees: int):  # type: ignore[no-untyped-def]
    """Return setting, trees and journal: every make of container, every kind of spot, some bags."""
    from underbench.rules.course.course import Setting
    from underbench.rules.garden.inventory import Container, Garden, HandsOn, Routine, Spot, Tree
    from underbench.rules.garden.journal import Work
    from underbench.rules.plants.species_lookup import find

    kinds = {"bench": 0.8, "ground row": 0.7, "cold frame": 0.6, "under the bench": 0.2, "shed": 0}
    common = {"sun_from": 9, "sun_until": 17, "wind_factor": 0.6, "standing": "bench"}
    spots = {
        kind: Spot.model_validate(
            {"name": kind, "kind": kind, "sky_view": sky, "height_cm": 80, **common}
        )
        for kind, sky in kinds.items()
    }
    names = ("Acer palmatum", "Pinus sylvestris", "Carpinus betulus", "Juniperus chinensis")
    walls = ("glazed", "unglazed", "plastic", "mesh", "wood")
    shapes = ("rectangle", "oval", "round", "flat")
    garden = [
        Tree(
            name=f"Tree {i}",
            species=names[i % 4],
            container=Container.model_validate(
                {
                    "kind": "pot",
                    "litres": 0.3 * 1.5 ** (i % 13),
                    "wall": walls[i % 5],
                    "colour": "dark",
                    "shape": shapes[i % 4],
                }
            ),
            spot="bench" if i % 3 else list(kinds)[i // 3 % 5],
            height_cm=30 + i % 50,
            crown_cm=25 + i % 40,
        )
        for i in range(trees)
    ]
    known = {name: find(name) for name in names}
    setting = Setting(
        garden=Garden(name="Hollow", latitude=52, longitude=1, elevation_m=80, timezone="UTC"),
        spots=spots,
        species={tree.name: known[tree.species] for tree in garden},  # type: ignore[misc]
        routines=(Routine.model_validate({"times": ["07:00"], "every_days": 3}),),
        hands_on=HandsOn(weekdays=(), weekends=()),
    )
    journal = [
        Work.model_validate({"tree": tree.name, "at": START - timedelta(days=9), "work": work})
        for i, tree in enumerate(garden)
        for work in ([["bag"], ["repot"], []][min(i % 20, 2)])
    ]
    return setting, garden, journal


def january(hours: int):  # type: ignore[no-untyped-def]
    """Return days of 3 °C and nights of -4 °C that sink to -1 and -9: pots freeze and thaw."""
    import numpy as np

    from underbench.rules.garden.inventory import Garden
    from underbench.rules.weather.fill_gaps import complete
    from underbench.rules.weather.hourly import HOUR_S, from_columns

    since_h = np.arange(1, hours + 1)
    mean_c = -0.5 - 4.5 * np.minimum(since_h / 150.0, 1.0)
    air_c = mean_c + 3.8 * np.cos((since_h - 14) / 12 * np.pi)
    columns = {
        "air_c": air_c,
        "dew_c": air_c - 2.0,
        "wind_ms": 2.0 + np.sin(since_h / 5.0),
        "cloud": 0.3 + 0.3 * np.sin(since_h / 17.0),
        "rain_mm": np.where(since_h % 60 < 3, 0.5, 0.0),
    }
    garden = Garden(name="Hollow", latitude=52, longitude=1, elevation_m=80, timezone="UTC")
    times = int(START.timestamp()) + HOUR_S * since_h
    return complete(from_columns(times, columns), garden)[0]


class _Sky:
    """A provider that answers from memory."""

    name, attribution = "memory", "invented"

    def __init__(self, body: bytes) -> None:
        self.body = body

    def fetch(self, *_: object, **__: object):  # type: ignore[no-untyped-def]
        """Return the one answer there is."""
        from underbench.daemon.weather.provider import Answer

        return Answer(self.body, "memory")

    def parse(self, body: bytes):  # type: ignore[no-untyped-def]
        """Read it as the real provider would."""
        from underbench.daemon.weather.openmeteo import parse

        return parse(body)

    def facts(self, body: bytes):  # type: ignore[no-untyped-def]
        """Read what it says of itself."""
        from underbench.daemon.weather.openmeteo import facts

        return facts(body)


def whole_pass() -> Callable[[], Callable[[], object]]:
    """Return a pass: JSON in, forecast and ensemble of 51, message queued. The pass an hour before
    has kept the past."""
    from ensemble_service import MODEL, ensemble_body, members_of
    from openmeteo_service import openmeteo_body

    from underbench.daemon.alerts.hourly_pass import run_pass
    from underbench.daemon.config.settings import load
    from underbench.daemon.store.store import Store
    from underbench.daemon.weather.supply import Supply

    weather = january(24 * 14)
    members = ensemble_body({MODEL: members_of(weather.hours_at(slice(143, 311)), 51)})
    body = openmeteo_body(weather, latitude=52.0, longitude=1.0, elevation_m=80.0)
    now = START + timedelta(days=6, hours=15, minutes=30)

    rooms: list[tempfile.TemporaryDirectory[str]] = []  # gone with the process

    def prepared() -> Callable[[], object]:
        rooms.append(tempfile.TemporaryDirectory(prefix="underbench-bench-"))
        folder = Path(rooms[-1].name)
        config = folder / "garden.toml"
        config.write_text(TOML + "".join(TREE.format(**tree) for tree in forty_trees()))
        settings = load(config, {"UNDERBENCH_STORE__PATH": str(folder / "state.db")})
        store = Store.open(settings.store_path)
        store.answers.keep_ensemble(MODEL, members, now)
        supply = Supply(_Sky(body), settings.garden, store.answers)
        run_pass(settings, store, supply, now - timedelta(days=4))

        def run() -> object:
            done = run_pass(settings, store, supply, now)
            assert done.all_said
            assert done.outlook.weather.members == 51
            return done

        run_pass(settings, store, supply, now - timedelta(days=1, hours=1), dry_run=True)
        return run

    return prepared


TOML = """
[garden]
name = "Hollow"
latitude = 52.0
longitude = 1.0
elevation_m = 80
timezone = "UTC"
[means]
fleece_layers = 2
[[spot]]
name = "bench"
kind = "bench"
sun = "09:00-17:00"
[[spot]]
name = "frame"
kind = "cold frame"
room = 8
[[spot]]
name = "shed"
kind = "shed"
room = 10
"""
TREE = """
[[tree]]
name = "{name}"
species = "{species}"
litres = {litres:.2f}
spot = "bench"
height_cm = 45
crown_cm = 40
"""


def forty_trees() -> list[dict[str, object]]:
    """Return what differs from tree to tree."""
    names = ("Acer palmatum", "Acer buergerianum", "Pinus sylvestris", "Carpinus betulus")
    return [
        {"name": f"Tree {i}", "species": names[i % 4], "litres": 0.4 * 1.4 ** (i % 13)}
        for i in range(40)
    ]


if __name__ == "__main__":
    if sys.argv[1:2] == ["--case"]:
        case(sys.argv[2])
    else:
        main()
