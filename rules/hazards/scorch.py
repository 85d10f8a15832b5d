"""Leaves scorched by heat."""

from __future__ import annotations

from underbench.rules.hazards.heat import heat_hazard, hotter
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.layering import EVERGREEN, dated, from_species, own, shifted
from underbench.rules.limits.limit import Limit, MeasuredOn
from underbench.rules.plants.species import Species

SCORCH_AFTER_WORK_K = 3.0
# Leaves were unharmed after four hours at 35 °C and hurt at 40-45 °C (Hauck et al. 2025, read in
# abstract). One hour is not enough.
HOT_LEAF_HOURS = (2, 2)


def _limit(species: Species, condition: Condition) -> Limit | None:
    leafy = condition.in_leaf or species.limits.kind in EVERGREEN
    if not leafy or condition.aftercare.bag:
        return None
    limit = own(from_species(species, "leaf_hot", MeasuredOn.LEAF), condition, "leaf_hot_c")
    shelter = condition.aftercare.shelter
    if shelter is None:
        return limit
    return shifted(limit, -SCORCH_AFTER_WORK_K, f"aftercare: {dated(shelter)}", shelter)


SCORCH = heat_hazard(
    key="scorch",
    words="Leaf scorch",
    short="scorch",
    limit_words="heat in leaves",
    measured_on=MeasuredOn.LEAF,
    limit=_limit,
    judge=lambda scene: hotter(scene, scene.exposure.leaf_c, HOT_LEAF_HOURS),
)
