"""Frost on flowers. It costs a year's flowers, and never the tree."""

from __future__ import annotations

from dataclasses import replace
from math import inf

from underbench.rules.garden.inventory import Chance, Tree
from underbench.rules.garden.journal import Flower
from underbench.rules.hazards.cold import colder, frost_hazard
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.layering import from_species
from underbench.rules.limits.limit import Limit, MeasuredOn
from underbench.rules.plants.species import Species

_FIELDS = {
    Flower.BUD: "flower_bud",
    Flower.OPEN: "open_flower",
    Flower.FALLING: "petal_fall",
    Flower.FRUIT: "young_fruit",
}


def _limit(species: Species, condition: Condition) -> Limit | None:
    if condition.flower is None or species.limits.open_flower is None:
        return None
    limit = from_species(species, _FIELDS[condition.flower], MeasuredOn.FLOWER)
    return Limit(limit.measured_on, tuple(replace(one, kill=-inf) for one in limit.trail))


def _acts_from(tree: Tree, chance: Chance) -> float:
    return chance.flowers_from if tree.flowers_from is None else tree.flowers_from


FLOWER_FROST = frost_hazard(
    key="flower-frost",
    words="Frost on flowers",
    short="flowers",
    limit_words="frost on {tissue}",
    hurts="this year's flowers",
    measured_on=MeasuredOn.FLOWER,
    limit=_limit,
    judge=lambda scene: colder(scene, scene.exposure.leaf_c),
    acts_from=_acts_from,
    rivals="frost on tops",
)
