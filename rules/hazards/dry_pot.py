"""Pots that dry out in spite of the recorded watering routine."""

from __future__ import annotations

from underbench.rules.hazards.hazard import (
    Action,
    Due,
    Hazard,
    Help,
    Judged,
    Scene,
    Spans,
    sustained,
)
from underbench.rules.limits.layering import from_species
from underbench.rules.limits.limit import MeasuredOn

DRY_HOURS = 2  # the model cannot tell a shorter time
DEAD_DRY_HOURS = 12  # with next to nothing left in the pot; judgement, no source
FROZEN = 0.5


def _judge(scene: Scene) -> Judged:
    """Judge the water left, which counts the routine and each member's rain. A frozen pot is left
    alone: it cannot be watered, and it hardly dries."""
    (harm, kill), felt = scene.thresholds(), scene.exposure
    left, thawed = felt.water_left, felt.frozen_share < FROZEN
    dry = sustained((left < harm) & thawed, DRY_HOURS)
    return scene.judged(left, dry, sustained((left < kill) & thawed, DEAD_DRY_HOURS))


DRY_POT = Hazard(
    key="dry-pot",
    words="Dry pots",
    short="dry",
    limit_words="water left",
    action=Action.WATER,
    measured_on=MeasuredOn.WATER,
    low=True,
    spans=Spans.DAY,
    due=Due.WATERING,
    help=Help.WATER,
    limit=lambda species, _: from_species(species, "water_left", MeasuredOn.WATER),
    judge=_judge,
    # Without a routine nobody is taken to water. The water left would then say nothing of the tree.
    asked=lambda setting: bool(setting.routines),
    returns=False,
)
