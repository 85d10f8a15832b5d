"""Frost on bare wood after warm days have set its sap moving."""

from __future__ import annotations

from underbench.rules.garden.journal import Stage
from underbench.rules.hazards.cold import colder, faded, frost_hazard
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.layering import from_species, own, tender
from underbench.rules.limits.limit import Limit, MeasuredOn
from underbench.rules.plants.species import Species


def _limit(species: Species, condition: Condition) -> Limit | None:
    bare = condition.stage in (Stage.DORMANT, Stage.BUD_SWELL) and species.limits.leafless
    if tender(species) or not bare or not condition.sap_moving:
        return None
    limit = from_species(species, "dormant_tops", MeasuredOn.WOOD)
    return faded(own(limit, condition, "dormant_tops_c"), species, condition)


MOVING_SAP = frost_hazard(
    key="moving-sap",
    words="Frost on sap that warm days set moving",
    short="sap frost",
    limit_words="frost on {tissue}",
    measured_on=MeasuredOn.WOOD,
    limit=_limit,
    judge=lambda scene: colder(scene, scene.exposure.leaf_c),
    rivals="frost on tops",
)
