"""Every work that the core's docstrings and comments name is in the list of sources, once."""

from __future__ import annotations

import re
from pathlib import Path

RULES = Path(__file__).parents[3] / "rules"
LIST = (RULES / "SOURCES.md").read_text(encoding="utf-8")
# A name, perhaps more, then the year: "Snyder & de Melo-Abreu 2005", "Sturm et al. 1997".
NAMED = re.compile(r"([A-Z][a-zäöü-]+)(?: et al\.|(?:,| &| de)+ [A-Z][\w-]+)* ((?:19|20)\d\d)\b")
NO_AUTHORS = {"London"}  # a year of weather there


def rows() -> list[list[str]]:
    lines = [line for line in LIST.splitlines() if line.startswith("| ")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines[1:]]


def test_a_key_stands_once_and_how_it_was_read_is_said() -> None:
    keys = [row[0] for row in rows()]
    assert len(keys) == len(set(keys)) > 30
    for row in rows():
        assert len(row) == 4
        assert re.search(r"source|abstract|second hand|memory|copies", row[2]), row


def test_every_work_named_in_the_core_is_listed() -> None:
    missing = set()
    for path in RULES.glob("*.py"):
        text = " ".join(re.sub(r"\n\s*#?\s*", " ", path.read_text(encoding="utf-8")).split())
        for name, year in NAMED.findall(text):
            listed = any(name in row[0] and year in row[0] for row in rows())
            if name not in NO_AUTHORS and not listed:
                missing.add(f"{path.name}: {name} {year}")
    assert missing == set()
