"""The first sun on leaves that came under a bag."""

from __future__ import annotations

from underbench.rules.garden.journal import Stage
from underbench.rules.hazards.hazard import Judged, Scene
from underbench.rules.hazards.heat import heat_hazard
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.layering import EVERGREEN, for_all
from underbench.rules.limits.limit import Limit, MeasuredOn
from underbench.rules.plants.species import Species

FIRST_SUN_WM2 = (300.0, 600.0)


def _limit(species: Species, condition: Condition) -> Limit | None:
    """Only leaves that came under the bag have this limit. An evergreen's ripe leaves have met the
    sun before."""
    care, grows = condition.aftercare, condition.stage in (Stage.LEAFING_OUT, Stage.EXTENDING)
    evergreen = species.limits.kind in EVERGREEN
    soft = grows or care.sprouted_in_bag if evergreen else condition.in_leaf
    aired = care.after_bag if soft else None
    return for_all(MeasuredOn.SUN, FIRST_SUN_WM2, aired) if aired else None


def _judge(scene: Scene) -> Judged:
    harm, kill = scene.thresholds()
    sun_wm2 = scene.exposure.sun_wm2
    return scene.judged(sun_wm2, sun_wm2 >= harm, sun_wm2 >= kill)


FIRST_SUN = heat_hazard(
    key="first-sun",
    words="First sun after the bag",
    short="first sun",
    limit_words="first sun after the bag",
    measured_on=MeasuredOn.SUN,
    limit=_limit,
    judge=_judge,
    returns=False,
)
