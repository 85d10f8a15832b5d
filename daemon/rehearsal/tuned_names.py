"""Which trees a name means for tuning, and where in the garden's file their limit is written."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

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
    """The trees meant by a name, which is the name ``of`` one of them, a spot or a species."""

    name: str
    of: Literal["tree", "spot", "species"]
    trees: frozenset[str]

    @property
    def section(self) -> str:
        """The section of the file that holds their limits."""
        if self.of == "tree":
            return f"[tree.limits]  # below [[tree]] {self.name}"
        return f'[limits.{self.of}."{self.name}"]'


def meant_by(settings: Settings, name: str) -> Meant:
    """Return what is meant by the name of a tree, a spot or a species in the garden. Raises Fault,
    with the nearest name."""
    known: dict[str, Meant] = {}
    for tree in settings.trees:
        kind = plain_species(tree.species)
        alike = frozenset(t.name for t in settings.trees if kind.casefold() in names_of(t))
        known.setdefault(kind, Meant(kind, "species", alike))
    for spot in settings.spots:
        there = frozenset(tree.name for tree in settings.trees if tree.spot == spot)
        if there:
            known[spot] = Meant(spot, "spot", there)
    for tree in settings.trees:
        known[tree.name] = Meant(tree.name, "tree", frozenset({tree.name}))
    return named("tree, spot or species", name, known)
