"""Pots that are dry when a long frost shuts the water in."""

from __future__ import annotations

from math import inf

import numpy as np

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
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.layering import EVERGREEN, PRACTICE, tender
from underbench.rules.limits.limit import Layer, Limit, MeasuredOn
from underbench.rules.plants.species import Species

# A pot is watered before a hard frost: dry mix freezes sooner and deeper, and frozen roots take up
# nothing. Needles and evergreen leaves go on losing water meanwhile. Common practice, no source.
LEAST_WITH_LEAVES, LEAST_BARE = 0.5, 0.3
FROZEN = 0.5
LASTS_H = 12  # a crust that the morning thaws shuts in no water


def _limit(species: Species, _condition: Condition) -> Limit | None:
    if tender(species):
        return None
    leafy = species.limits.kind in EVERGREEN
    who, least = ("evergreens", LEAST_WITH_LEAVES) if leafy else ("bare trees", LEAST_BARE)
    return Limit(MeasuredOn.WATER, (Layer(who, least, -inf, PRACTICE),))


def _judge(scene: Scene) -> Judged:
    """Judge the water in a pot through a frost that begins in this span. What is frozen already
    cannot be watered."""
    (harm, _), felt = scene.thresholds(), scene.exposure
    frozen = felt.frozen_share >= FROZEN
    lasts = sustained(frozen, LASTS_H).any(axis=-1, keepdims=True)
    dry = frozen & lasts & ~frozen[..., :1] & (felt.water_left < harm)
    return scene.judged(felt.water_left, dry, np.zeros_like(dry))


DRY_FREEZE = Hazard(
    key="dry-freeze",
    words="Dry before a frost",
    short="dry frost",
    limit_words="water left as the pot freezes",
    action=Action.WATER,
    measured_on=MeasuredOn.WATER,
    low=True,
    spans=Spans.NIGHT,
    due=Due.DAYLIGHT,
    help=Help.WATER_ONCE,  # a frozen pot takes none, and shade does not keep it wet
    limit=_limit,
    judge=_judge,
    # As with dry pots: without a routine the water left says nothing of the tree.
    asked=lambda setting: bool(setting.routines),
    returns=False,
)
