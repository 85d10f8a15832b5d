"""Frost on leaves, buds and wood."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from underbench.rules.garden.journal import Stage
from underbench.rules.hazards.cold import colder, faded, frost_hazard
from underbench.rules.hazards.hazard import Judged, Mask, Scene
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.layering import dated, from_species, own, rated, shifted, tender
from underbench.rules.limits.limit import Limit, MeasuredOn
from underbench.rules.physics.exposure import Exposure
from underbench.rules.plants.species import Species

EARLY_SUN_WM2 = 120.0  # what the WMO counts as sunshine (on the beam; here on the level)
SOFT_SHOOTS_K = 1.5
CUT_ROOTS_K = 0.7  # of leaves on roots just cut; judgement: most growers bring such a tree in


def _limit(species: Species, condition: Condition) -> Limit | None:
    if tender(species):
        return None
    field, measured = _field(species, condition.stage)
    limit = from_species(species, field, measured)
    told = len(limit.trail)
    limit, sold_as = own(limit, condition, f"{field}_c"), rated(condition.tree)
    if sold_as and field == "dormant_tops" and len(limit.trail) == told:
        # A rating is a figure of air, not of wood. The keeper's own figure for wood says more.
        limit = Limit(MeasuredOn.AIR, (sold_as,))
    if field == "dormant_tops":
        limit = faded(limit, species, condition)
    soft, shelter = condition.aftercare.soft_shoots, condition.aftercare.shelter
    if soft and measured is MeasuredOn.LEAF:
        limit = shifted(limit, SOFT_SHOOTS_K, f"soft shoots after {dated(soft)}", soft)
    if shelter and not soft and measured is MeasuredOn.LEAF:
        limit = shifted(limit, CUT_ROOTS_K, f"aftercare: {dated(shelter)}", shelter)
    return limit


def figure_in_force(species: Species, condition: Condition) -> str | None:
    """Return the keeper's key of the figure that alone is the limit of a tree's tops on a day. None
    where season, rating or recent work has moved it: a night then says nothing of the figure."""
    limit = _limit(species, condition)
    field, measured = _field(species, condition.stage)
    if limit is None:
        return None
    alone = own(from_species(species, field, measured), condition, f"{field}_c")
    return f"{field}_c" if limit == alone else None


def _field(species: Species, stage: Stage) -> tuple[str, MeasuredOn]:
    """The figure of the species that holds at a stage, and what it is measured on."""
    if stage in (Stage.LEAFING_OUT, Stage.EXTENDING):
        return "leaf_frost", MeasuredOn.LEAF
    if stage is Stage.BUD_SWELL:
        return "bud_frost", MeasuredOn.BUD
    if stage is Stage.DORMANT:
        return "dormant_tops", MeasuredOn.WOOD
    if species.limits.hardened_frost is not None:
        return "hardened_frost", MeasuredOn.LEAF
    if stage is Stage.COLOURING:  # the leaf is being given up; what must live is wood and bud
        return "dormant_tops", MeasuredOn.WOOD
    return "leaf_frost", MeasuredOn.LEAF


def _judge(scene: Scene) -> Judged:
    """Judge tops on what each limit is measured on: the tissue, or the air for a rating in air."""
    on_air = [limit is not None and limit.measured_on is MeasuredOn.AIR for limit in scene.limits]
    felt = scene.exposure
    judged = colder(scene, np.where(np.array(on_air)[:, None, None], felt.screen_c, felt.leaf_c))
    return replace(judged, thaw=_thaw(felt, judged.harm))


def _thaw(exposure: Exposure, harm: Mask) -> Mask:
    """The hours after ``harm`` in which the sun falls on leaves frozen the hour before."""
    frozen = np.zeros_like(harm)
    frozen[..., 1:] = exposure.leaf_c[..., :-1] <= 0.0
    since = np.logical_or.accumulate(harm, axis=-1)
    return np.asarray(since & frozen & (exposure.sun_wm2 >= EARLY_SUN_WM2))


LEAF_FROST = frost_hazard(
    key="leaf-frost",
    words="Frost",
    words_on={
        MeasuredOn.LEAF: "Frost on open leaves",
        MeasuredOn.BUD: "Frost on buds",
        MeasuredOn.WOOD: "Frost on wood",
        MeasuredOn.AIR: "Colder than it is rated for",
    },
    short="frost",
    limit_words="frost on {tissue}",
    measured_on=MeasuredOn.LEAF,
    limit=_limit,
    judge=_judge,
    rivals="frost on tops",
)
