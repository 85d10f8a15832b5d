"""What the models need of a tree, from its species, stage, aftercare, container and place."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from underbench.rules import wind
from underbench.rules.ball import ball_of
from underbench.rules.cover import COVERS
from underbench.rules.exposure import Traits
from underbench.rules.garden import ContainerKind, Standing, Tree
from underbench.rules.journal import Stage
from underbench.rules.places import Place
from underbench.rules.potwater import capacity_l
from underbench.rules.species import HardinessClass, Kind, Species
from underbench.rules.weather import Array
from underbench.rules.wind import Crown

BUD_WIDTH_M = 0.005  # of a swelling bud or a bare twig; judgement
# A canopy without leaves, or with its roots just cut, draws this much of grass; the design's
# horticultural default, common practice.
LEAFLESS_CROP = 0.25
ROOT_CUT_CROP = 0.3
# Share of full transpiration in each stage; judgement.
_LEAF_SHARE = {
    Stage.DORMANT: 0.0,
    Stage.BUD_SWELL: 0.0,
    Stage.LEAFING_OUT: 0.6,
    Stage.EXTENDING: 1.0,
    Stage.HARDENED: 1.0,
    Stage.COLOURING: 0.5,
}
HELD_MS = 99.0  # no wind on a garden tips what is tied down or in the ground
BASE_OF_TOP = 0.85  # narrower side of the foot over the circle of the top; judgement
CROWN_MIDDLE = 0.6  # of the height above the rim; judgement
_LEAFLESS = (Kind.BROADLEAF_DECIDUOUS, Kind.CONIFER_DECIDUOUS)


def leaf_share(kind: Kind, stage: Stage) -> float:
    """Return how much of its leaf a tree carries at a stage, 0..1; evergreens always some."""
    if kind in _LEAFLESS or stage is not Stage.DORMANT:
        return _LEAF_SHARE[stage]
    return 0.5  # an evergreen at rest


@dataclass(frozen=True, slots=True)
class Footing:
    """Trees as they stand on their containers, worked out once; one of each per tree.

    ``mass_kg`` with dry mix, ``water_kg`` what a full pot adds; ``lever_m`` the middle of the crown
    over the foot; ``held`` in the ground or tied down.
    """

    trees: tuple[Tree, ...]
    limits: tuple[HardinessClass, ...]
    mass_kg: Array
    water_kg: Array
    base_m: Array
    lever_m: Array
    silhouette_m2: Array
    held: NDArray[np.bool_]

    @classmethod
    def of(cls, trees: Sequence[Tree], species: Mapping[str, Species]) -> Footing:
        """Return how ``trees`` stand; ``species`` by the tree's name."""
        pots = [tree.container for tree in trees]
        ball = ball_of(pots, [Standing.BENCH] * len(pots))
        height_m = np.array([tree.height_cm for tree in trees]) / 100
        crown_m = np.array([tree.crown_cm for tree in trees]) / 100
        litres, walls = 1000.0 * ball.volume_m3, [pot.wall for pot in pots]
        tree_kg = wind.tree_mass_kg(height_m, crown_m)
        dry_kg = wind.standing_mass_kg(litres, 0.0, walls, tree_kg)
        return cls(
            trees=tuple(trees),
            limits=tuple(species[tree.name].limits for tree in trees),
            mass_kg=dry_kg,
            water_kg=wind.standing_mass_kg(litres, 1.0, walls, tree_kg) - dry_kg,
            base_m=BASE_OF_TOP * ball.width_m,
            lever_m=ball.height_m + CROWN_MIDDLE * height_m,
            silhouette_m2=wind.silhouette_m2(height_m, crown_m),
            held=np.array([pot.tied or pot.kind is ContainerKind.BED for pot in pots]),
        )

    def tipping_gusts_ms(self, stages: Sequence[Stage], water_rel: Array) -> Array:
        """Return the gust at the bench, m/s, that tips each tree; where it is held, `HELD_MS`."""
        kinds = [one.kind for one in self.limits]
        crowns = [crown_of(kind, stage) for kind, stage in zip(kinds, stages, strict=True)]
        tips = wind.tipping_gust_ms(
            mass_kg=self.mass_kg + self.water_kg * water_rel,
            base_m=self.base_m,
            crown_height_m=self.lever_m,
            frontal_area_m2=self.silhouette_m2,
            crown=np.array(crowns, dtype=np.intp),
        )
        return np.where(self.held, HELD_MS, tips)


def crown_of(kind: Kind, stage: Stage) -> Crown:
    """Return how the crown of a kind of tree gives way to wind at a stage."""
    if kind not in _LEAFLESS:
        return Crown.EVERGREEN
    return Crown.BROADLEAF if leaf_share(kind, stage) else Crown.LEAFLESS


def traits_of(
    footing: Footing,
    stages: Sequence[Stage],
    rooting: Sequence[bool],
    places: Sequence[Place],
    bagged: Sequence[bool],
) -> Traits:
    """Return the traits of trees at ``stages`` and ``places``; ``rooting``: roots yet to take."""
    containers = [tree.container for tree in footing.trees]
    leafy = [
        _leafy(limits, stage, cut)
        for limits, stage, cut in zip(footing.limits, stages, rooting, strict=True)
    ]
    width_m, share, crop = np.array(leafy).reshape(-1, 3).T

    def column(name: str) -> Array:
        return np.array([getattr(place, name) for place in places], dtype=float)

    covers = tuple(COVERS[place.cover] for place in places)
    return Traits(
        ball=ball_of(containers, [place.standing for place in places]),
        capacity_l=capacity_l(containers),
        canopy_m2=np.array([pi / 4 * (tree.crown_cm / 100) ** 2 for tree in footing.trees]),
        covers=covers,
        sky_view=column("sky_view"),
        sun_from=column("sun_from"),
        sun_until=column("sun_until"),
        wind_factor=column("wind_factor"),
        height_m=column("height_m"),
        leaf_width_m=width_m,
        transpiring=share,
        crop=crop,
        roofed=np.array([one.rain_share == 0 for one in covers]),
        bagged=np.array(bagged, dtype=bool),
    )


def _leafy(limits: HardinessClass, stage: Stage, roots_cut: bool) -> tuple[float, float, float]:
    """Leaf width, m, share of full transpiration, and crop factor."""
    share = leaf_share(limits.kind, stage)
    width_m = limits.leaf_width.value if share > 0 else BUD_WIDTH_M
    full = LEAFLESS_CROP + (limits.kc_leaf.value - LEAFLESS_CROP) * share
    return width_m, share, min(full, ROOT_CUT_CROP) if roots_cut else full
