"""Evergreens that dry out while their roots are frozen."""

from __future__ import annotations

from underbench.rules.hazards.hazard import Judged, Scene
from underbench.rules.hazards.wind import wind_hazard
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.layering import for_all
from underbench.rules.limits.limit import Limit, MeasuredOn
from underbench.rules.plants.species import Kind, Species

FROZEN_HOURS = (48.0, 240.0)
KEEPS_NEEDLES = (Kind.BROADLEAF_EVERGREEN, Kind.CONIFER_EVERGREEN)
# Such sun or wind takes water from needles, and frozen roots cannot replace it; common practice.
DRYING_SUN_WM2 = 200.0
DRYING_WIND_MS = 3.0


def _limit(species: Species, _condition: Condition) -> Limit | None:
    keeps_needles = species.limits.kind in KEEPS_NEEDLES
    return for_all(MeasuredOn.FROZEN, FROZEN_HOURS) if keeps_needles else None


def _judge(scene: Scene) -> Judged:
    """Judge evergreens that are frozen for two days or more while sun or wind draws water."""
    (harm, kill), felt = scene.thresholds(), scene.exposure
    drawn = (felt.sun_wm2 > DRYING_SUN_WM2) | (felt.wind_ms > DRYING_WIND_MS)
    hours = felt.frozen_h
    return scene.judged(hours, (hours >= harm) & drawn, (hours >= kill) & drawn)


FROZEN_DRYING = wind_hazard(
    key="frozen-drying",
    words="Drying out while frozen",
    short="frozen dry",
    limit_words="frozen through, in sun or wind",
    measured_on=MeasuredOn.FROZEN,
    limit=_limit,
    judge=_judge,
)
