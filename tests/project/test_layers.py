"""The packages are layers: each imports only itself and the layers below it."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
# The lowest layer comes first. Modules directly in ``daemon/`` are below all its packages.
RULES = [
    "garden",
    "weather",
    "plants",
    "physics",
    "limits",
    "course",
    "hazards",
    "advice",
    "planning",
]
DAEMON = [
    "wording",
    "config",
    "store",
    "weather",
    "outlook",
    "journal",
    "readings",
    "charts",
    "planning",
    "alerts",
    "delivery",
    "rehearsal",
    "views",
    "page",
    "running",
    "demo",
    "commands",
]
LAYERS = [*(f"rules.{name}" for name in RULES), "daemon", *(f"daemon.{name}" for name in DAEMON)]
# The core must not know the machine's clock, its files, the network, a database, a log.
OUTSIDE = {"requests", "sqlite3", "sqlite_utils", "socket", "os", "logging", "time", "apprise"}


def layer_of(module: str) -> str:
    """The layer of a module: ``rules.physics`` for ``underbench.rules.physics.leaf``, say."""
    parts = module.removeprefix("underbench.").split(".")
    name = ".".join(parts[:2])
    return name if name in LAYERS else parts[0]


def imported(source: str) -> Iterator[str]:
    """The modules that a module's source imports."""
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom) and node.module:
            yield from (f"{node.module}.{alias.name}" for alias in node.names)


def faults(module: str, source: str) -> list[str]:
    """The imports of a module that are forbidden."""
    own = layer_of(module)
    found = []
    for name in imported(source):
        if name.startswith("underbench."):
            above = LAYERS.index(layer_of(name)) > LAYERS.index(own)
            found += [f"{module} imports {name}, of a layer above it"] if above else []
        elif own.startswith("rules.") and name.split(".")[0] in OUTSIDE:
            found.append(f"{module} imports {name}; rules/ is pure")
    return found


def modules() -> Iterator[tuple[str, str]]:
    """Every module of the project, with its source."""
    for top in ("rules", "daemon"):
        for path in sorted((ROOT / top).rglob("*.py")):
            parts = path.relative_to(ROOT).with_suffix("").parts
            if parts[1:] != ("__init__",):
                yield ".".join(("underbench", *parts)), path.read_text(encoding="utf-8")


def test_no_import_runs_upward() -> None:
    assert [line for name, source in modules() for line in faults(name, source)] == []


@pytest.mark.parametrize(
    ("module", "source"),
    [
        ("underbench.rules.physics.leaf", "from underbench.rules.limits import bearing"),
        ("underbench.rules.advice.advice", "from underbench.daemon.store.store import Store"),
        ("underbench.daemon.store.store", "import underbench.daemon.alerts.compose"),
        ("underbench.daemon.faults", "from underbench.daemon.config import settings"),
        ("underbench.rules.garden.journal", "import sqlite3"),
    ],
)
def test_an_import_turned_round_is_found(module: str, source: str) -> None:
    assert len(faults(module, source)) == 1


@pytest.mark.parametrize("top", ["rules", "daemon"])
def test_every_package_has_its_layer(top: str) -> None:
    there = {path.parent.name for path in (ROOT / top).glob("*/__init__.py")}
    assert there == set({"rules": RULES, "daemon": DAEMON}[top])
