"""Containers as the root ball's heat and water see them: volume, faces, walls, what is below."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from typing import Final

import numpy as np
from numpy.typing import NDArray

from underbench.rules.garden.inventory import (
    Colour,
    Container,
    ContainerKind,
    Shape,
    Standing,
    Wall,
)
from underbench.rules.weather.hourly import Array

# Width and height over length. Common practice, no source: 3 L is about 24 × 17 × 7 cm.
PROPORTIONS: Final = {
    Shape.ROUND: (1.0, 0.6),
    Shape.OVAL: (0.75, 0.3),
    Shape.RECTANGLE: (0.72, 0.3),
    Shape.FLAT: (0.65, 0.12),
    Shape.GROUND: (1.0, 0.5),
}
NURSERY_CAN: Final = (1.0, 0.8)
GROUND_DEPTH_M: Final = 0.25
DEEP_M: Final = 0.5  # from the core of a bed to the deep ground; judgement, no source
SOIL_WMK: Final = 0.9  # moist soil; handbook value, from memory
SNOW_WMK: Final = 0.1  # settled, some 250 kg/m³: Sturm et al. 1997, J. Glaciol. 43, from memory

# Handbook values from memory: 6 mm stoneware, 8 mm terracotta, 1.5 mm plastic, 18 mm softwood.
WALL_M2K_W: Final = {
    Wall.GLAZED: 0.006 / 1.1,
    Wall.UNGLAZED: 0.008 / 0.8,
    Wall.PLASTIC: 0.0015 / 0.2,
    Wall.WOOD: 0.018 / 0.13,
    Wall.MESH: 0.0,
    Wall.NONE: 0.0,
}
# Share of a free water surface's evaporation when wet. Judgement, no source.
WALL_WETNESS: Final = {
    Wall.GLAZED: 0.0,
    Wall.UNGLAZED: 0.15,
    Wall.PLASTIC: 0.0,
    Wall.WOOD: 0.1,
    Wall.MESH: 0.35,
    Wall.NONE: 0.35,
}
ABSORPTANCE: Final = {Colour.PALE: 0.35, Colour.BROWN: 0.72, Colour.DARK: 0.93}  # from memory
# W/m²K below the pot: slatted bench, slab, soil (trading with the deep ground), insulation.
# Judgement, no source. A plunged pot has no base of its own: its figure does not count.
BASE_WM2K: Final = {
    Standing.BENCH: 6.0,
    Standing.SLAB: 9.0,
    Standing.GROUND: 5.0,
    Standing.PLUNGED: 5.0,
    Standing.INSULATED: 0.5,
}

IN_SOIL: Final = (Standing.GROUND, Standing.PLUNGED)


@dataclass(frozen=True, slots=True)
class Ball:
    """Root balls, one per tree; every field (tree,).

    ``path_m`` is volume over the faces that pass heat. ``base_deep`` is true where the base trades
    with the ground below rather than the air; ``on_ground`` where snow can lie round it; ``ground``
    where only the top is free: in a bed, and in a pot plunged up to its rim.
    """

    volume_m3: Array
    side_m2: Array
    top_m2: Array
    base_m2: Array
    height_m: Array
    width_m: Array
    path_m: Array
    wall_m2k_w: Array
    absorptance: Array
    side_wetness: Array
    base_wm2k: Array
    base_deep: NDArray[np.bool_]
    on_ground: NDArray[np.bool_]
    ground: NDArray[np.bool_]

    def take(self, rows: slice) -> Ball:
        """Return the balls of some trees."""
        return Ball(**{f.name: getattr(self, f.name)[rows] for f in fields(self)})

    def standing_on(self, some: Sequence[Standing], which: NDArray[np.intp]) -> Ball:
        """Return the same balls, each standing on ``some[which]``; ``which`` is (tree,)."""
        base_wm2k, deep, low = _below(some)
        plunged = np.array([one is Standing.PLUNGED for one in some], dtype=bool)[which]
        stood = replace(
            self,
            base_wm2k=base_wm2k[which],
            base_deep=deep[which],
            on_ground=low[which] | self.ground,
            ground=self.ground | plunged,
        )
        return stood if not plunged.any() else _sunk(stood)


def _sunk(ball: Ball) -> Ball:
    """Give balls in the ground the shape of soil that holds roots, whatever they stand in."""
    top_m2 = np.where(ball.ground, ball.volume_m3 / GROUND_DEPTH_M, ball.top_m2)
    return replace(
        ball,
        top_m2=top_m2,
        side_m2=np.where(ball.ground, 0.0, ball.side_m2),
        base_m2=np.where(ball.ground, 0.0, ball.base_m2),
        height_m=np.where(ball.ground, GROUND_DEPTH_M, ball.height_m),
        width_m=np.sqrt(4.0 * top_m2 / np.pi),
        path_m=np.where(ball.ground, GROUND_DEPTH_M, ball.path_m),
    )


def _below(standing: Sequence[Standing]) -> tuple[Array, NDArray[np.bool_], NDArray[np.bool_]]:
    """W/m²K below a pot, whether it leads to the deep ground, and whether snow can lie round it."""
    return (
        np.array([BASE_WM2K[one] for one in standing]),
        np.array([one in IN_SOIL for one in standing], dtype=bool),
        np.array([one in (*IN_SOIL, Standing.SLAB) for one in standing], dtype=bool),
    )


def ball_of(containers: Sequence[Container], standing: Sequence[Standing]) -> Ball:
    """Return the balls of ``containers`` standing on ``standing``, one of each per tree."""
    volume = np.array([one.litres for one in containers]) / 1000.0
    width, height = np.array([_proportions(one) for one in containers]).T
    curved = np.array([one.shape in (Shape.ROUND, Shape.OVAL) for one in containers])
    ground = np.array([in_ground(one) for one in containers])
    base_wm2k, deep, low = _below(standing)
    plan = np.where(curved, np.pi / 4.0, 1.0) * width
    # Right to 1 % for the rim of an ellipse of these proportions.
    rim = np.where(curved, np.pi * np.sqrt((1.0 + width**2) / 2.0), 2.0 * (1.0 + width))
    length_m = np.cbrt(volume / (plan * height))
    top, side = plan * length_m**2, rim * height * length_m**2
    pot = Ball(
        volume_m3=volume,
        side_m2=side,
        top_m2=top,
        base_m2=top,
        height_m=height * length_m,
        width_m=np.sqrt(4.0 * top / np.pi),
        path_m=volume / (side + 2.0 * top),
        wall_m2k_w=np.array([WALL_M2K_W[one.wall] for one in containers]),
        absorptance=np.array([ABSORPTANCE[one.colour] for one in containers]),
        side_wetness=np.array([WALL_WETNESS[one.wall] for one in containers]),
        base_wm2k=base_wm2k,
        base_deep=deep,
        on_ground=low | ground,
        ground=ground,
    )
    return _sunk(pot)


def in_ground(container: Container) -> bool:
    """Return whether roots are in the ground rather than in a pot."""
    return container.kind is ContainerKind.BED or container.shape is Shape.GROUND


def _proportions(container: Container) -> tuple[float, float]:
    if container.kind is ContainerKind.NURSERY_CAN and container.shape is Shape.ROUND:
        return NURSERY_CAN
    return PROPORTIONS[container.shape]
