"""Air colder than the keeper lets a hardy tree stand in."""

from __future__ import annotations

from underbench.rules.hazards.cold import air_limit, colder, frost_hazard
from underbench.rules.limits.layering import tender
from underbench.rules.limits.limit import MeasuredOn

COLD_AIR = frost_hazard(
    key="cold-air",
    words="Air colder than you set",
    short="cold air",
    limit_words="cold air, as you set it",
    measured_on=MeasuredOn.AIR,
    limit=lambda species, condition: None if tender(species) else air_limit(species, condition),
    judge=lambda scene: colder(scene, scene.exposure.screen_c),
)
