"""What a course runs for: the garden as configured, and the trees to follow through it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from underbench.rules.garden.inventory import Garden, HandsOn, Routine, Spot, Tree
from underbench.rules.garden.journal import Opening
from underbench.rules.physics.places import Place
from underbench.rules.plants.species import Species


@dataclass(frozen=True, slots=True)
class Setting:
    """The garden as configured (``species`` by tree), and what its keeper does by the clock."""

    garden: Garden
    spots: Mapping[str, Spot]
    species: Mapping[str, Species]
    routines: tuple[Routine, ...]
    hands_on: HandsOn


@dataclass(frozen=True, slots=True)
class Row:
    """One tree to follow.

    ``place``, ``opening`` (of its bag), ``waterings`` and ``tied`` are a remedy's; None, or no
    watering, leaves the tree as it is. ``spot`` names the spot whose limits hold (None: where the
    tree stands).
    """

    tree: Tree
    place: Place | None = None
    opening: Opening | None = None
    waterings: tuple[datetime, ...] = ()
    spot: str | None = None
    tied: bool = False

    @property
    def stands(self) -> Tree:
        """The tree as the remedy has it."""
        return self.tree.tied_down() if self.tied else self.tree
