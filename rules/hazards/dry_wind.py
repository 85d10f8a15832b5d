"""Dry wind on new leaves."""

from __future__ import annotations

from math import inf

import numpy as np

from underbench.rules.garden.journal import Stage
from underbench.rules.hazards.hazard import Judged, Scene
from underbench.rules.hazards.wind import wind_hazard
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.limit import Layer, Limit, MeasuredOn
from underbench.rules.plants.species import Species

KILLING_DRY_WIND_MS = 40.0  # wind scorches new leaves; it does not kill the tree


def _limit(species: Species, condition: Condition) -> Limit | None:
    gust = species.limits.new_leaf_gust
    if gust is None or condition.stage is not Stage.LEAFING_OUT:
        return None
    layer = Layer("new leaves", gust.value, KILLING_DRY_WIND_MS, gust.source)
    return Limit(MeasuredOn.GUST, (layer,))


def _judge(scene: Scene) -> Judged:
    """Judge gusts in air dry enough to scorch."""
    harm, kill = scene.thresholds()
    vapour = (kind.limits.new_leaf_vapour for kind in scene.species)
    dry_kpa = np.array([inf if one is None else one.value for one in vapour])[:, None, None]
    gust_ms, dry = scene.exposure.gust_ms, scene.exposure.vpd_kpa >= dry_kpa
    return scene.judged(gust_ms, dry & (gust_ms >= harm), dry & (gust_ms >= kill))


DRY_WIND = wind_hazard(
    key="dry-wind",
    words="Dry wind on new leaves",
    short="dry wind",
    limit_words="gusts in dry air",
    hurts="new leaves in dry air",
    measured_on=MeasuredOn.GUST,
    limit=_limit,
    judge=_judge,
    returns=False,
    keeps_in=False,  # new leaves are better off in a dry wind than in the dark
)
