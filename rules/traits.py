"""What the models need of a tree, from its species, stage, aftercare, container and place."""

from __future__ import annotations

from collections.abc import Sequence
from math import pi

import numpy as np

from underbench.rules import wind
from underbench.rules.cover import COVERS
from underbench.rules.exposure import Traits
from underbench.rules.garden import Container, Standing, Tree
from underbench.rules.journal import Stage
from underbench.rules.limits import Condition
from underbench.rules.places import Place
from underbench.rules.potwater import capacity_l
from underbench.rules.rootball import ball_of
from underbench.rules.species import Kind, Species
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
_NEEDLED = (Kind.CONIFER_EVERGREEN, Kind.CONIFER_DECIDUOUS)
_LEAFLESS = (Kind.BROADLEAF_DECIDUOUS, Kind.CONIFER_DECIDUOUS)


def leaf_share(kind: Kind, stage: Stage) -> float:
    """Return how much of its leaf a tree carries at a stage, 0..1; evergreens always some."""
    if kind in _LEAFLESS or stage is not Stage.DORMANT:
        return _LEAF_SHARE[stage]
    return 0.5  # an evergreen at rest


def traits_of(
    species: Sequence[Species],
    facts: Sequence[Condition],
    places: Sequence[Place],
    bagged: Sequence[bool],
) -> Traits:
    """Return the traits of trees of ``species`` in their conditions at ``places``."""
    containers = [fact.tree.container for fact in facts]
    pairs = list(zip(species, facts, strict=True))
    shares = [leaf_share(kind.limits.kind, fact.stage) for kind, fact in pairs]

    def column(values: Sequence[float]) -> np.ndarray:
        return np.array(values, dtype=float)

    crowns = column([fact.tree.crown_cm / 100 for fact in facts])
    return Traits(
        ball=ball_of(containers, [place.standing for place in places]),
        capacity_l=capacity_l(containers),
        canopy_m2=pi / 4 * crowns**2,
        covers=tuple(COVERS[place.cover] for place in places),
        sky_view=column([place.sky_view for place in places]),
        sun_from=column([place.sun_from for place in places]),
        sun_until=column([place.sun_until for place in places]),
        wind_factor=column([place.wind_factor for place in places]),
        height_m=column([place.height_m for place in places]),
        leaf_width_m=column(
            [_width_m(kind, share) for (kind, _), share in zip(pairs, shares, strict=True)]
        ),
        transpiring=column(shares),
        crop=column([_crop(kind, fact, s) for (kind, fact), s in zip(pairs, shares, strict=True)]),
        roofed=np.array([COVERS[place.cover].rain_share == 0 for place in places]),
        bagged=np.array(bagged, dtype=bool),
    )


def _width_m(species: Species, share: float) -> float:
    return species.limits.leaf_width.value if share > 0 else BUD_WIDTH_M


def _crop(species: Species, fact: Condition, share: float) -> float:
    full = LEAFLESS_CROP + (species.limits.kc_leaf.value - LEAFLESS_CROP) * share
    return min(full, ROOT_CUT_CROP) if fact.aftercare.roots else full


def tipping_gust(tree: Tree, kind: Kind, stage: Stage, water_rel: float) -> float:
    """Return the gust at the bench, m/s, that tips this tree as it stands; in the ground: 99."""
    container = tree.container
    if container.kind == "bed" or container.tied:
        return 99.0
    height_m, crown_m = tree.height_cm / 100, tree.crown_cm / 100
    mass = wind.standing_mass_kg(
        np.array([container.litres]),
        water_rel,
        [container.wall],
        wind.tree_mass_kg(height_m, crown_m),
    )
    crown = Crown.EVERGREEN
    if kind in _LEAFLESS:
        crown = Crown.BROADLEAF if leaf_share(kind, stage) else Crown.LEAFLESS
    base_m, depth_m = _footprint(container)
    gust = wind.tipping_gust_ms(
        mass_kg=mass,
        base_m=base_m,
        crown_height_m=depth_m + 0.6 * height_m,
        frontal_area_m2=wind.silhouette_m2(height_m, crown_m),
        crown=crown,
    )
    return float(np.asarray(gust).reshape(-1)[0])


def _footprint(container: Container) -> tuple[float, float]:
    """Narrower width and depth of the container, m, from the faces of its root ball."""
    ball = ball_of([container], [Standing.BENCH])
    plan = float(ball.top_m2[0])
    return float(np.sqrt(plan * 4 / pi)) * 0.85, float(ball.height_m[0])
