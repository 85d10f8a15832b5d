"""What a tree can bear: its limit by the key of each hazard that applies to it."""

from __future__ import annotations

from collections.abc import Mapping

from underbench.rules.hazards import HAZARDS
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.limit import Limit
from underbench.rules.plants.species import Species

Bearing = Mapping[str, Limit]


def bearing(species: Species, condition: Condition) -> Bearing:
    """Return what a tree of ``species`` in ``condition`` can bear."""
    limits = ((one.key, one.limit(species, condition)) for one in HAZARDS.values())
    return {key: limit for key, limit in limits if limit is not None}
