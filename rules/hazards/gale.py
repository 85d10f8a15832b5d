"""Gales: a tree tipped over, rocked loose in its pot, or broken where its stem is ringed."""

from __future__ import annotations

from math import inf

from underbench.rules.hazards.hazard import Judged, Scene
from underbench.rules.hazards.wind import wind_hazard
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.layering import PRACTICE, dated, own
from underbench.rules.limits.limit import Layer, Limit, MeasuredOn
from underbench.rules.plants.species import Species

LOOSE_GUST_MS = 10.0  # an ordinary tree of 60 cm; see `underbench.rules.physics.wind.rocking_share`
TIED_GUST_MS = 15.0
# A stem ringed for a layer is held by its wood alone. Growers prop it (common practice); the
# figures are judgement.
GIRDLED_GUST_MS = (14.0, 25.0)
TIP_WARNING = 0.6
# The strongest gust measured near the ground: Barrow Island, 10 April 1996 (WMO; from memory). What
# only a stronger one would tip stands in any wind.
STRONGEST_MS = 113.2


def _limit(_species: Species, condition: Condition) -> Limit | None:
    tip, care = condition.tip_gust_ms, condition.aftercare
    tip = tip if tip <= STRONGEST_MS else inf
    tipping = Layer("tipping", TIP_WARNING * tip, tip, "moment balance, warned at 60 % of it")
    limit = own(Limit(MeasuredOn.GUST, (tipping,)), condition, "gust_ms")
    if care.loose:
        tied = condition.tree.container.tied
        hold = (TIED_GUST_MS if tied else LOOSE_GUST_MS) * condition.rocking_share
        harm, kill = min(hold, limit.harm), min(2 * hold, limit.kill)
        how = "tied in" if tied else "standing loose"
        limit = limit.then(f"fresh roots, {how}", harm, kill, PRACTICE)
    if care.girdled:
        harm, kill = min(GIRDLED_GUST_MS[0], limit.harm), min(GIRDLED_GUST_MS[1], limit.kill)
        what = f"stem ringed: {dated(care.girdled)}"
        limit = limit.then(what, harm, kill, PRACTICE, care.girdled)
    return limit if limit.harm < inf else None


def _judge(scene: Scene) -> Judged:
    harm, kill = scene.thresholds()
    gust_ms = scene.exposure.gust_ms
    return scene.judged(gust_ms, gust_ms >= harm, gust_ms >= kill)


GALE = wind_hazard(
    key="gale",
    words="Gale",
    short="gale",
    limit_words="gusts",
    caution="Tie in or weight what has to stay.",
    measured_on=MeasuredOn.GUST,
    limit=_limit,
    judge=_judge,
    stays_between=False,
)
