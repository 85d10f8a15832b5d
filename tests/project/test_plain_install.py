"""A plain install, as `deploy/start` makes it, lacks the packages of charts, page and broker."""

from __future__ import annotations

import re
import subprocess
import sys
import tomllib
from importlib.metadata import packages_distributions
from pathlib import Path

PROJECT_FILE = Path(__file__).parents[2] / "pyproject.toml"
IMPORT_ALL = """
import importlib, pkgutil, sys
import underbench.daemon as daemon
sys.modules.update(dict.fromkeys({lacking}))
for module in pkgutil.walk_packages(daemon.__path__, daemon.__name__ + "."):
    if not module.name.startswith("underbench.daemon.page"):
        try:
            importlib.import_module(module.name)
        except ImportError as error:
            print(module.name, error)
"""


def _lacking() -> list[str]:
    """The modules of what pyproject.toml asks for in its parts, the tests' own apart."""
    parts = tomllib.loads(PROJECT_FILE.read_text("utf-8"))["project"]["optional-dependencies"]
    asked_for = {
        re.split("[<>=]", line)[0].lower()
        for part, lines in parts.items()
        for line in lines
        if part != "test"
    }
    owners = packages_distributions().items()
    return [module for module, names in owners if asked_for & {name.lower() for name in names}]


def test_a_plain_install_loads_all_but_the_page() -> None:
    program = IMPORT_ALL.format(lacking=_lacking())
    command = [sys.executable, "-c", program]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert "flask" in _lacking()
    assert done.stdout == ""
