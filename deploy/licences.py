"""Prints the packages of a lock file with their licences, as their own metadata names them.

    python deploy/licences.py deploy/requirements.lock

Run it in an environment that has them installed.
"""

from __future__ import annotations

import re
import sys
from email.message import Message
from importlib.metadata import PackageNotFoundError, metadata
from pathlib import Path

LONGEST = 60  # some put the whole text of a licence where its name belongs


def licence_of(about: Message) -> str:
    """Return the licence by SPDX expression, else by classifier, else by the old field."""
    if expression := about.get("License-Expression"):
        return str(expression)
    named = [
        line.rsplit(" :: ", 1)[1]
        for line in about.get_all("Classifier", [])
        if line.startswith("License ::")
    ]
    first = str(about.get("License") or "not named").splitlines()[0]
    return ", ".join(named) or first[:LONGEST]


def rows(lock: Path) -> list[tuple[str, str, str]]:
    """Return name, version and licence of each package of a lock file."""
    found = []
    for name, version in re.findall(r"^([\w.-]+)==([\w.]+)", lock.read_text("utf-8"), re.M):
        try:
            about = metadata(name)
        except PackageNotFoundError:
            about = None
        here = about is not None and about["Version"] == version  # else: another system or Python
        found.append((name, version, licence_of(about) if here else "not installed here"))
    return found


if __name__ == "__main__":
    print("# What the container installs, and its licences\n")
    print("Made by `sh deploy/lock` from each package's own metadata.\n")
    print("| package | version | licence |\n|---|---|---|")
    for row in rows(Path(sys.argv[1])):
        print(f"| {' | '.join(row)} |")
