"""What the cold hazards share: values below a limit, hardiness lost, and limits of the air."""

from __future__ import annotations

from functools import partial

from underbench.rules.hazards.hazard import Action, Due, Hazard, Help, Judged, Scene, Spans
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.layering import from_species, own, rated
from underbench.rules.limits.limit import Limit, MeasuredOn
from underbench.rules.plants.hardening import Hardens, hardens_like
from underbench.rules.plants.species import Species
from underbench.rules.weather.hourly import Array

frost_hazard = partial(
    Hazard,
    action=Action.PROTECT,
    low=True,
    spans=Spans.NIGHT,
    due=Due.SUNSET,
    help=Help.COVER,
)
HARDENING = {
    Hardens.LATE: "calendar and warmth, as fitted to buds of vines",
    Hardens.EARLY: "calendar and warmth, as fitted to buds of cherries",
    Hardens.CONIFER: "cold and night length, as in Scots pine (Leinonen 1996)",
}


def colder(scene: Scene, value_c: Array) -> Judged:
    """Judge where ``value_c`` is below the limits of a scene."""
    harm, kill = scene.thresholds()
    # The doubt about a limit goes into the value. So the told value never contradicts the limit.
    value_c = value_c - scene.site.limit_shift_k[None, :, None]
    return scene.judged(value_c, value_c < harm, value_c < kill)


def faded(limit: Limit, species: Species, condition: Condition) -> Limit:
    """Lay over a limit the hardiness that autumn has yet to bring, or that warm days took. At most
    it falls to what a swelling bud bears, or an evergreen's ripe leaf."""
    if not condition.faded:
        return limit
    kin = species.limits
    soft = kin.bud_frost or kin.hardened_frost or kin.leaf_frost
    why = "warm days have set the sap moving" if condition.sap_moving else "not fully hardened"
    return limit.then(
        why,
        limit.harm + condition.faded * max(soft.harm - limit.harm, 0.0),
        limit.kill + condition.faded * max(soft.kill - limit.kill, 0.0),
        HARDENING[hardens_like(kin)],
    )


def air_limit(species: Species, condition: Condition) -> Limit | None:
    """Return the keeper's figures for the air of a screen. A tender tree's lie over those of its
    class. None if there are none."""
    limit, sold_as = Limit(MeasuredOn.AIR, ()), rated(condition.tree)
    if species.limits.air_min is not None:
        known = from_species(species, "air_min", MeasuredOn.AIR).trail
        limit = Limit(MeasuredOn.AIR, (*known, sold_as) if sold_as else known)
    limit = own(limit, condition, "air_min_c")
    return limit if limit.trail else None
