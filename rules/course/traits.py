"""What the models need of a tree, from its species, stage, aftercare, container and place."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from math import pi

import numpy as np
from numpy.typing import NDArray

from underbench.rules.garden.inventory import ContainerKind, Standing, Tree
from underbench.rules.garden.journal import Bag, Opening, Stage
from underbench.rules.physics import wind
from underbench.rules.physics.exposure import Traits
from underbench.rules.physics.near_ground import SURFACES
from underbench.rules.physics.places import Place
from underbench.rules.physics.pot_water import capacity_l
from underbench.rules.physics.pots import Ball, ball_of
from underbench.rules.physics.wind import Crown
from underbench.rules.plants.hardening import hardens_like
from underbench.rules.plants.species import HardinessClass, Kind, Species
from underbench.rules.plants.stages import chill_worth
from underbench.rules.weather.hourly import Array

BUD_WIDTH_M = 0.005  # of a swelling bud or a bare twig; judgement
# A canopy without leaves, or with freshly cut roots, draws this share of what grass draws. The
# design's horticultural default, common practice.
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
STAGES = tuple(Stage)  # a tree's stage is held as its index here
_KINDS = tuple(Kind)
HELD_MS = np.inf  # no wind tips a tree that is tied down or in the ground
BASE_OF_TOP = 0.85  # narrower side of the foot over diameter of the top; judgement
_LEAFLESS = (Kind.BROADLEAF_DECIDUOUS, Kind.CONIFER_DECIDUOUS)


def leaf_share(kind: Kind, stage: Stage) -> float:
    """Return how much of its leaf a tree carries at a stage, 0..1; evergreens always carry some."""
    if kind in _LEAFLESS or stage is not Stage.DORMANT:
        return _LEAF_SHARE[stage]
    return 0.5  # an evergreen at rest


def crown_of(kind: Kind, stage: Stage) -> Crown:
    """Return how the crown of a kind of tree gives way to wind at a stage."""
    if kind not in _LEAFLESS:
        return Crown.EVERGREEN
    return Crown.BROADLEAF if leaf_share(kind, stage) else Crown.LEAFLESS


# The answers of `leaf_share` and `crown_of`, (kind, stage), to look up many trees at once.
_SHARES = np.array([[leaf_share(kind, stage) for stage in STAGES] for kind in _KINDS])
_CROWNS = np.array([[crown_of(kind, stage) for stage in STAGES] for kind in _KINDS], dtype=np.intp)


def numbered(stages: Sequence[Stage]) -> NDArray[np.intp]:
    """Return the numbers of stages in ``STAGES``."""
    return np.array([STAGES.index(stage) for stage in stages], dtype=np.intp)


@dataclass(frozen=True, slots=True)
class Footing:
    """Trees as they stand in their containers, worked out once; every field has one per tree.

    ``classes`` and ``kinds`` are each tree's class and kind as numbers, ``hardens`` its
    :class:`rules.plants.hardening.Hardens`, ``chill_worth`` what a day of chill is worth to it.
    ``ball`` stands on a bench. ``mass_kg`` is with dry mix; ``water_kg`` is what a full pot adds.
    ``lever_m`` is the height of the crown's middle over the foot. ``held`` trees are in the ground
    or tied down. Stages are given as numbers (`numbered`).
    """

    trees: tuple[Tree, ...]
    limits: tuple[HardinessClass, ...]
    classes: Array
    kinds: NDArray[np.intp]
    hardens: NDArray[np.intp]
    chill_worth: Array
    leaf_width_m: Array
    crop_in_leaf: Array
    ball: Ball
    capacity_l: Array
    mass_kg: Array
    water_kg: Array
    lever_m: Array
    height_m: Array
    crown_m: Array
    held: NDArray[np.bool_]

    @classmethod
    def of(cls, trees: Sequence[Tree], species: Mapping[str, Species]) -> Footing:
        """Return how ``trees`` stand; ``species`` by the tree's name."""
        limits = tuple(species[tree.name].limits for tree in trees)
        several = {id(one): one for one in limits}
        per_class = {key: (n, *_figures(one)) for n, (key, one) in enumerate(several.items())}
        figures = np.array([per_class[id(one)] for one in limits]).reshape(-1, 4)
        classes, kinds, width_m, crop = figures.T
        pots = [tree.container for tree in trees]
        ball = ball_of(pots, [Standing.BENCH] * len(pots))
        height_m = np.array([tree.height_cm for tree in trees]) / 100
        crown_m = np.array([tree.crown_cm for tree in trees]) / 100
        litres, walls = 1000.0 * ball.volume_m3, [pot.wall for pot in pots]
        tree_kg = wind.tree_mass_kg(height_m, crown_m)
        dry_kg = wind.standing_mass_kg(litres, 0.0, walls, tree_kg)
        return cls(
            trees=tuple(trees),
            limits=limits,
            classes=classes,
            kinds=kinds.astype(np.intp),
            chill_worth=np.array([chill_worth(one) for one in limits]),
            hardens=np.array([hardens_like(one) for one in limits], dtype=np.intp),
            leaf_width_m=width_m,
            crop_in_leaf=crop,
            ball=ball,
            capacity_l=capacity_l(pots),
            mass_kg=dry_kg,
            water_kg=wind.standing_mass_kg(litres, 1.0, walls, tree_kg) - dry_kg,
            lever_m=ball.height_m + wind.CROWN_MIDDLE * height_m,
            height_m=height_m,
            crown_m=crown_m,
            held=np.array([pot.tied or pot.kind is ContainerKind.BED for pot in pots]),
        )

    def tipping_gusts_ms(self, stages: NDArray[np.intp], water_rel: Array) -> Array:
        """Return the gust at the bench, m/s, that tips each tree; `HELD_MS` where it is held."""
        tips = wind.tipping_gust_ms(
            mass_kg=self.mass_kg + self.water_kg * water_rel,
            base_m=BASE_OF_TOP * self.ball.width_m,
            crown_height_m=self.lever_m,
            frontal_area_m2=wind.silhouette_m2(self.height_m, self.crown_m),
            crown=_CROWNS[self.kinds, stages],
        )
        return np.where(self.held, HELD_MS, tips)

    def rocking_shares(self, stages: NDArray[np.intp]) -> Array:
        """Return `wind.rocking_share` of each tree."""
        return wind.rocking_share(
            litres=1000.0 * self.ball.volume_m3,
            width_m=self.ball.width_m,
            height_m=self.height_m,
            crown_m=self.crown_m,
            crown=_CROWNS[self.kinds, stages],
        )

    def leaf_shares(self, stages: NDArray[np.intp]) -> Array:
        """Return `leaf_share` of each tree."""
        return np.asarray(_SHARES[self.kinds, stages])


def _figures(limits: HardinessClass) -> tuple[int, float, float]:
    """The number of a class's kind, its leaf width, m, and its crop factor in full leaf."""
    return _KINDS.index(limits.kind), limits.leaf_width.value, limits.kc_leaf.value


def traits_of(
    footing: Footing,
    stages: NDArray[np.intp],
    rooting: Sequence[bool],
    places: Sequence[Place],
    bags: Sequence[Bag | None],
    stripped: Collection[int] = (),
) -> Traits:
    """Return the traits of trees at ``stages`` and ``places``.

    ``rooting`` marks trees whose roots have yet to take. ``stripped`` has the numbers of those
    whose leaves were taken off. Nothing dries off in a bag that is not open.
    """
    numbers: dict[int, int] = {}  # by identity: places are few and slow to hash
    several = {id(place): place for place in places}
    at = np.array([numbers.setdefault(id(place), len(numbers)) for place in places], dtype=np.intp)

    def column(name: str) -> Array:
        return np.array([getattr(place, name) for place in several.values()], dtype=float)[at]

    covers = [place.covers for place in several.values()]
    close = np.array([bag is not None and bag.opening is not Opening.OPEN for bag in bags])
    share = footing.leaf_shares(stages)
    share[list(stripped)] = 0.0
    crop = LEAFLESS_CROP + (footing.crop_in_leaf - LEAFLESS_CROP) * share
    crop = np.where(np.asarray(rooting, dtype=bool), np.minimum(crop, ROOT_CUT_CROP), crop)
    return Traits(
        ball=footing.ball.standing_on([place.standing for place in several.values()], at),
        capacity_l=footing.capacity_l,
        canopy_m2=pi / 4 * footing.crown_m**2,
        covers=tuple(covers[number] for number in at.tolist()),
        sky_view=column("sky_view"),
        sun_from=column("sun_from"),
        sun_until=column("sun_until"),
        wind_factor=column("wind_factor"),
        height_m=column("height_m"),
        surface=np.array([float(SURFACES.index(p.surface)) for p in several.values()])[at],
        departs_k=np.array([place.departs.parts_k for place in several.values()])[at],
        leaf_width_m=np.where(share > 0, footing.leaf_width_m, BUD_WIDTH_M),
        transpiring=share,
        crop=np.where(close, 0.0, crop),
        roofed=np.array([one.rain_share == 0 for one in covers], dtype=bool)[at],
        bags=tuple(bags),
        bagged=np.array([bag is not None for bag in bags], dtype=bool),
    )
