"""Frost in the root ball, at its edge, where young roots live."""

from __future__ import annotations

from underbench.rules.hazards.cold import colder, frost_hazard
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.layering import PRACTICE, dated, from_species, own, tender
from underbench.rules.limits.limit import Limit, MeasuredOn
from underbench.rules.plants.species import Species

KILL_BELOW_FLOOR_K = 3.0
FREEZING_C = -0.3  # a floor of 0 °C means no ice at the roots; nearer to 0 the models cannot tell
# Roots not yet hardened die well above their midwinter figure, but harm begins only a little above
# it. Judgement, so that an ordinary October night is no alarm.
UNHARDENED_HARM = 0.4
HARDENING_K = 5.0  # of roots in autumn, for which ``Condition.unhardened_k`` is given


def _limit(species: Species, condition: Condition) -> Limit | None:
    if tender(species):
        return None
    limit = _hardened(from_species(species, "roots_mature", MeasuredOn.SHELL), species, condition)
    limit = own(limit, condition, "root_frost_c")
    floor, work = condition.aftercare.floor_c, condition.aftercare.roots
    if floor is None or work is None:
        return limit
    return limit.then(
        f"aftercare: {dated(work)}",
        max(min(floor, FREEZING_C), limit.harm),
        max(floor - KILL_BELOW_FLOOR_K, limit.kill),
        PRACTICE,
        work,
    )


def _hardened(limit: Limit, species: Species, condition: Condition) -> Limit:
    """Lay over a limit how far the season has hardened mature roots."""
    soft_k = condition.unhardened_k * species.limits.roots_hardening_k.value / HARDENING_K
    if soft_k <= 0:
        return limit
    ceiling = species.limits.roots_young
    return limit.then(
        "season",
        min(limit.harm + UNHARDENED_HARM * soft_k, ceiling.harm),
        min(limit.kill + soft_k, ceiling.kill),
        "roots are fully hardened only in midwinter (Lindström & Stattin 1994)",
    )


ROOT_FROST = frost_hazard(
    key="root-frost",
    words="Frost in the root balls",
    short="root frost",
    limit_words="frost at the root ball's edge",
    measured_on=MeasuredOn.SHELL,
    limit=_limit,
    judge=lambda scene: colder(scene, scene.exposure.shell_c),
)
