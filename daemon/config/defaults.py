"""Fills in what a keeper need not write down of spots, containers and trees, with the reason.

Every default here is common practice or a rule of thumb without a published source, unless it says
otherwise. The file can set any of them.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

from underbench.daemon.config.file import SpotTable, TreeTable
from underbench.daemon.config.group_limits import own_limits
from underbench.daemon.wording import units
from underbench.rules.garden.inventory import (
    Colour,
    Container,
    ContainerKind,
    Shape,
    Spot,
    SpotKind,
    Standing,
    Surface,
    Tree,
    Wall,
)

Derived = dict[str, str]
"""The reason for a value, by its field."""


class SpotDefaults(NamedTuple):
    """What a kind of spot is usually like; the fields are those of Spot."""

    sky_view: float
    sun: tuple[float, float]
    wind_factor: float
    standing: Standing
    height_cm: float
    room: int | None
    why: str
    surface: Surface = Surface.GRASS  # the coldest by night, so the careful guess
    keeps_above_c: float | None = None


_NO_SUN = (12.0, 12.0)
SPOT_DEFAULTS: dict[SpotKind, SpotDefaults] = {
    SpotKind.BENCH: SpotDefaults(
        0.8, (9, 18), 0.7, Standing.BENCH, 80, None, "an open bench in a garden with hedges"
    ),
    SpotKind.SHELF: SpotDefaults(
        0.5,
        (10, 16),
        0.5,
        Standing.BENCH,
        120,
        None,
        "a shelf on a wall: half the sky, half the wind",
    ),
    SpotKind.GROUND_ROW: SpotDefaults(
        0.8, (9, 18), 0.5, Standing.GROUND, 0, None, "on the ground the wind is weaker"
    ),
    SpotKind.BED: SpotDefaults(
        0.8,
        (9, 18),
        0.5,
        Standing.GROUND,
        0,
        None,
        "growing in the ground of an open bed",
        Surface.SOIL,
    ),
    SpotKind.UNDER_BENCH: SpotDefaults(
        0.2, _NO_SUN, 0.4, Standing.GROUND, 0, 10, "the bench hides the sky and the sun"
    ),
    SpotKind.PLUNGE_BED: SpotDefaults(
        0.6, (9, 17), 0.4, Standing.PLUNGED, 0, 10, "pots up to the rim in soil or bark"
    ),
    SpotKind.COLD_FRAME: SpotDefaults(
        0.7, (9, 17), 0.1, Standing.GROUND, 0, 6, "a shut frame: light, hardly any wind"
    ),
    SpotKind.GREENHOUSE: SpotDefaults(
        0.7, (9, 17), 0.1, Standing.BENCH, 80, 10, "light, hardly any wind"
    ),
    SpotKind.INDOORS: SpotDefaults(
        0.0,
        (9, 17),
        0.0,
        Standing.SLAB,
        80,
        10,
        "a warm room, by a window",
        Surface.PAVING,
    ),
    SpotKind.SHED: SpotDefaults(
        0.0,
        _NO_SUN,
        0.0,
        Standing.SLAB,
        0,
        10,
        "no sky, no sun, no wind; a hard floor",
        Surface.PAVING,
    ),
    SpotKind.GARAGE: SpotDefaults(
        0.0, _NO_SUN, 0.0, Standing.SLAB, 0, 10, "dark, unheated; a hard floor", Surface.PAVING
    ),
    SpotKind.CELLAR: SpotDefaults(
        0.0, _NO_SUN, 0.0, Standing.SLAB, 0, 10, "dark, below ground", Surface.PAVING, 4.0
    ),
    SpotKind.COOL_ROOM: SpotDefaults(
        0.0, (9, 17), 0.0, Standing.SLAB, 0, 6, "unheated, by a window", Surface.PAVING, 5.0
    ),
}


class Make(NamedTuple):
    """How a kind of container is usually made."""

    wall: Wall
    colour: Colour
    shape: Shape


MAKES: dict[ContainerKind, Make] = {
    ContainerKind.POT: Make(Wall.UNGLAZED, Colour.BROWN, Shape.RECTANGLE),
    ContainerKind.TRAINING_BOX: Make(Wall.WOOD, Colour.BROWN, Shape.RECTANGLE),
    ContainerKind.POND_BASKET: Make(Wall.MESH, Colour.DARK, Shape.ROUND),
    ContainerKind.NURSERY_CAN: Make(Wall.PLASTIC, Colour.DARK, Shape.ROUND),
    ContainerKind.SLAB: Make(Wall.UNGLAZED, Colour.BROWN, Shape.FLAT),
    ContainerKind.BED: Make(Wall.NONE, Colour.BROWN, Shape.GROUND),
}

# The share of length × width × depth, measured inside, that mix fills. Geometry (ellipse π/4,
# heaped half-ellipsoid π/6) times 0.9 where walls taper and corners are round (rule of thumb).
FILL: dict[Shape, float] = {
    Shape.RECTANGLE: 0.9,
    Shape.OVAL: 0.9 * math.pi / 4,
    Shape.ROUND: 0.9 * math.pi / 4,
    Shape.FLAT: math.pi / 6,
    Shape.GROUND: 1.0,
}

ROOTED_SOIL = "the rooted soil of a tree in a bed"
BED_LITRES = 200.0  # about 80 × 80 × 30 cm of rooted soil

# A pot is about two thirds as long as its tree is high (common practice). With width 0.7 and depth
# 0.3 of its length, filled to 0.9, it holds 0.19 × length³. So height ≈ 1.5 (1000 litres / 0.19)^⅓.
HEIGHT_CM_PER_CUBE_ROOT_LITRE = 26.0
CROWN_OF_HEIGHT = 0.85


def complete_spot(table: SpotTable) -> tuple[Spot, Derived]:
    """Return the spot; its kind fills in what the file leaves out."""
    usual = SPOT_DEFAULTS[table.kind]
    given: dict[str, Any] = {
        "sky_view": table.sky_view,
        "sun": table.sun,
        "wind_factor": table.wind_factor,
        "standing": table.standing,
        "surface": table.surface,
        "height_cm": either(table.height_cm, table.height_in, units.CM_PER_INCH),
        "room": table.room,
        "keeps_above_c": _keeps_above_c(table),
    }
    derived: Derived = {
        field: f"{table.kind}: {usual.why}"
        for field, value in given.items()
        if value is None and getattr(usual, field) is not None
    }
    if table.surface is None and table.standing is Standing.SLAB:
        given["surface"], derived["surface"] = Surface.PAVING, "its pots stand on a slab"
    values = {f: getattr(usual, f) if value is None else value for f, value in given.items()}
    values["sun_from"], values["sun_until"] = values.pop("sun")
    values["max_litres"] = either(table.max_litres, table.max_gallons, units.LITRES_PER_GALLON)
    values["minutes"], values["dark"] = table.minutes, table.dark
    if table.overhead is not None:
        values["overhead"] = table.overhead
    spot = Spot.model_validate({"name": table.name, "kind": table.kind, **values})
    return spot, derived


def _keeps_above_c(table: SpotTable) -> float | None:
    if table.keeps_above_f is not None:
        return units.c_from_f(table.keeps_above_f)
    return table.keeps_above_c


def complete_tree(table: TreeTable, spot_kind: SpotKind) -> tuple[Tree, Derived]:
    """Return the tree; what the file says of it fills in its container and size."""
    container, derived = _container(table, spot_kind)
    height_cm = either(table.height_cm, table.height_in, units.CM_PER_INCH)
    if height_cm is None:
        height_cm = round(HEIGHT_CM_PER_CUBE_ROOT_LITRE * math.cbrt(container.litres))
        derived["height_cm"] = f"usual over {container.litres:.3g} litres of roots"
    crown_cm = either(table.crown_cm, table.crown_in, units.CM_PER_INCH)
    if crown_cm is None:
        crown_cm = round(CROWN_OF_HEIGHT * height_cm)
        derived["crown_cm"] = f"{CROWN_OF_HEIGHT} of the height"
    tree = Tree(
        name=table.name,
        species=table.species,
        cultivar=table.cultivar,
        hardiness=table.hardiness,
        container=container,
        spot=table.spot,
        height_cm=height_cm,
        crown_cm=crown_cm,
        limits=own_limits(table.limits),
        act_from=table.act_from,
        kill_from=table.kill_from,
        flowers_from=table.flowers_from,
    )
    return tree, derived


def _container(table: TreeTable, spot_kind: SpotKind) -> tuple[Container, Derived]:
    derived: Derived = {}
    kind = table.container
    if kind is None:
        in_bed = spot_kind is SpotKind.BED
        kind = ContainerKind.BED if in_bed else ContainerKind.POT
        derived["container"] = "its spot is a bed" if in_bed else "most trees stand in a pot"
    make = MAKES[kind]
    for field in Make._fields:
        if getattr(table, field) is None:
            derived[field] = f"usual for a {kind}"
    shape = table.shape or make.shape
    litres, why = _litres(table, shape)
    if why:
        derived["litres"] = why
    container = Container(
        kind=kind,
        litres=litres,
        wall=table.wall or make.wall,
        colour=table.colour or make.colour,
        shape=shape,
        tied=table.tied,
    )
    return container, derived


def _litres(table: TreeTable, shape: Shape) -> tuple[float, str]:
    """Return the volume of mix in litres, and the reason if the file does not give it."""
    litres = either(table.litres, table.gallons, units.LITRES_PER_GALLON)
    if litres is not None:
        return litres, ""
    size_cm = table.size_cm or tuple(side * units.CM_PER_INCH for side in table.size_in or ())
    if not size_cm:
        return BED_LITRES, ROOTED_SOIL
    litres = round(math.prod(size_cm) / 1000 * FILL[shape], 2)
    return litres, f"length × width × depth × {FILL[shape]:.2f} for a {shape} shape"


def either(metric: float | None, us: float | None, metric_per_us: float) -> float | None:
    """Return a quantity in its metric unit from the one that was given; None if neither was."""
    return metric if us is None else us * metric_per_us
