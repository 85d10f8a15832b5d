"""Which trees a name means for tuning, and where in the garden's file their limit is written."""

from __future__ import annotations

from dataclasses import dataclass

from underbench.daemon.config.group_limits import names_of, plain_species
from underbench.daemon.config.limits_table import LimitsTable
from underbench.daemon.config.settings import Settings
from underbench.daemon.journal.lookup import named

# A limit's key in metric units, by its key in the units of the garden.
KEYS = {
    "metric": {metric: metric for metric, _ in LimitsTable.alternatives},
    "us": {us: metric for metric, us in LimitsTable.alternatives},
}


@dataclass(frozen=True, slots=True)
class Meant:
    """The trees meant by a name, and the section of the file that holds their limits."""

    name: str
    section: str
    trees: frozenset[str]


def meant_by(settings: Settings, name: str) -> Meant:
    """Return what is meant by the name of a tree, a spot or a species in the garden. Raises Fault,
    with the nearest name."""
    known: dict[str, Meant] = {}
    for tree in settings.trees:
        kind = plain_species(tree.species)
        section = f'[limits.species."{kind}"]'
        alike = frozenset(t.name for t in settings.trees if kind.casefold() in names_of(t))
        known.setdefault(kind, Meant(kind, section, alike))
    for spot in settings.spots:
        there = frozenset(tree.name for tree in settings.trees if tree.spot == spot)
        if there:
            known[spot] = Meant(spot, f'[limits.spot."{spot}"]', there)
    for tree in settings.trees:
        section = f"[tree.limits]  # below [[tree]] {tree.name}"
        known[tree.name] = Meant(tree.name, section, frozenset({tree.name}))
    return named("tree, spot or species", name, known)
