"""``underbench trees``: the trees as configured and noted, and what was derived."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from underbench.daemon.config.settings import Settings
from underbench.daemon.wording.json_form import document, part
from underbench.daemon.wording.tables import table
from underbench.daemon.wording.units import Units
from underbench.rules.garden.inventory import Container
from underbench.rules.garden.journal import Entry, TreeAt, fold


def trees_text(settings: Settings, journal: Sequence[Entry], now: datetime) -> str:
    """Every tree by inventory and journal. ``~`` marks what was derived, and why."""
    units = Units(settings.units)
    rows = [
        _tree_row(at, derived_of(at, settings), units)
        for at in (fold(tree, journal, now) for tree in settings.trees)
    ]
    heads = ["tree", "species", "litres", "container", "stands", "height", "crown"]
    return "\n".join(
        [
            table(heads, rows),
            "",
            "~ derived, not configured:",
            *_reasons(settings.derived),
            *_reasons(settings.derived_spots),
        ]
    )


def trees_json(settings: Settings, journal: Sequence[Entry], now: datetime) -> str:
    """Every tree for programs, with what was derived about the spots."""
    body = {
        "now": now,
        "garden": settings.garden.name,
        "trees": [_tree_json(fold(tree, journal, now), settings) for tree in settings.trees],
        "derived_of_spots": settings.derived_spots,
    }
    return document(body)


def _tree_json(at: TreeAt, settings: Settings) -> dict[str, Any]:
    tree = at.tree
    return {
        "tree": tree.name,
        "from_tree": tree.parent,
        "spot": at.spot,
        "home": tree.spot,
        **part(tree, "species", "cultivar", "container", "height_cm", "crown_cm"),
        "derived": derived_of(at, settings),
    }


def derived_of(at: TreeAt, settings: Settings) -> dict[str, str]:
    """Return what was derived about a tree, and why. A noted container is no longer derived."""
    derived = settings.derived.get(at.tree.name, {})
    noted = set(Container.model_fields) if any(work.into for work in at.works) else set()
    return {name: why for name, why in derived.items() if name not in noted}


def _tree_row(at: TreeAt, derived: Mapping[str, str], units: Units) -> list[str]:
    tree, spot = at.tree, at.spot
    pot = tree.container

    def shown(field: str, text: str) -> str:
        return f"~{text}" if field in derived else text

    parts = [shown("colour", pot.colour), shown("wall", pot.wall), shown("shape", pot.shape)]
    return [
        tree.name + (f" (from {tree.parent})" if tree.parent else ""),
        f"{tree.species} {tree.cultivar}".strip(),
        shown("litres", units.volume(pot.litres)),
        f"{shown('container', pot.kind)}: {' '.join(parts)}",
        spot if spot == tree.spot else f"{spot} (home: {tree.spot})",
        shown("height_cm", units.length(tree.height_cm)),
        shown("crown_cm", units.length(tree.crown_cm)),
    ]


def _reasons(derived: Mapping[str, Mapping[str, str]]) -> list[str]:
    """One line for each tree or spot, with its fields by the reason they share."""
    lines = []
    for name, fields in derived.items():
        by_reason: dict[str, list[str]] = {}
        for field, why in fields.items():
            by_reason.setdefault(why, []).append(field)
        if by_reason:
            told = "; ".join(f"{', '.join(fs)}: {why}" for why, fs in by_reason.items())
            lines.append(f"  {name}: {told}")
    return lines
