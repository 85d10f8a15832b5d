"""What lived and what came from what, in words and as JSON."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from underbench.daemon.planning.survival import ENOUGH, FROST_C, HEAT_C, Group, wilson
from underbench.daemon.wording.json_form import document, part
from underbench.daemon.wording.tables import table
from underbench.daemon.wording.units import Units

NOTHING = (
    "No work is old enough to say what came of it: four weeks, or a tree noted as lost "
    "(underbench outcome TREE lost)."
)
DAYS = {"frost_days": "frost", "hot_days": "hot", "dry_days": "dry"}


def seasons_text(groups: Sequence[Group], made: Mapping[str, Sequence[str]], units: Units) -> str:
    """Return both as text."""
    lineage = "\n".join(f"From {parent}: {', '.join(names)}." for parent, names in made.items())
    parts = [_table(groups, units) if groups else NOTHING, lineage]
    return "\n\n".join(part for part in parts if part)


def seasons_json(groups: Sequence[Group], made: Mapping[str, Sequence[str]]) -> str:
    """Return both as JSON; shares 0 to 1."""
    lineage = [{"tree": name, "from_tree": parent} for parent in made for name in made[parent]]
    return document({"groups": [_group_json(one) for one in groups], "lineage": lineage})


def _group_json(group: Group) -> dict[str, Any]:
    enough = group.judged >= ENOUGH
    low, high = wilson(group.lived, group.judged) if enough else (None, None)
    return {
        **part(group, "work", "species"),
        "cases": len(group.cases),
        **part(group, "judged", "lived"),
        "low": low,
        "high": high,
        "weather_kept": len(group.felt),
        **{name: group.mean(field) if group.felt else None for name, field in DAYS.items()},
    }


def _table(groups: Sequence[Group], units: Units) -> str:
    rows = [(one.work, one.species, _lived(one), _weather(one)) for one in groups]
    heads = ("work", "species", "lived", "a case's weather in its aftercare, mean")
    return (
        f"{table(heads, rows)}\n"
        f"A frost day goes below {units.temp(FROST_C)}, a hot one reaches {units.temp(HEAT_C)}, "
        "in the garden's air: a tree under cover had less of it.\n"
        "A tree lived where a work, a stage or an outcome was noted of it four weeks after or "
        "later, and it was not lost within a year."
    )


def _lived(group: Group) -> str:
    unheard = len(group.cases) - group.judged
    more = f"; of {unheard} nothing was noted since" if unheard else ""
    if not group.judged:
        return f"not known of {unheard}: nothing was noted since"
    count = f"{group.lived} of {group.judged}"
    if group.judged < ENOUGH:
        return f"{count}; too few to say{more}"
    low, high = wilson(group.lived, group.judged)
    return f"{count}; {low:.0%} to {high:.0%} likely{more}"


def _weather(group: Group) -> str:
    if not group.felt:
        return "not kept"
    words = ", ".join(f"{group.mean(field):.0f} {_called(field)}" for field in DAYS.values())
    known, cases = len(group.felt), len(group.cases)
    return words if known == cases else f"{words} ({known} of {cases} kept)"


def _called(field: str) -> str:
    return "frost days" if field == "frost" else field
