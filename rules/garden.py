"""The inventory: what stands in the garden and where. Frozen models; units in field names."""

from __future__ import annotations

from datetime import date, time
from enum import StrEnum
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field


class Model(BaseModel):
    """A frozen record that refuses unknown keys and never repeats its input in an error."""

    model_config = ConfigDict(frozen=True, extra="forbid", hide_input_in_errors=True)


Share = Annotated[float, Field(ge=0, le=1)]
LocalHour = Annotated[float, Field(ge=0, le=24)]


class SpotKind(StrEnum):
    """A kind of place where trees stand."""

    BENCH = "bench"
    SHELF = "shelf"
    GROUND_ROW = "ground row"
    BED = "bed"
    UNDER_BENCH = "under the bench"
    COLD_FRAME = "cold frame"
    GREENHOUSE = "greenhouse"
    SHED = "shed"
    INDOORS = "indoors"


class Overhead(StrEnum):
    """What is over a spot that is no room of its own."""

    OPEN_SKY = "open sky"
    LATH = "lath"
    ROOF = "roof"


class Standing(StrEnum):
    """What is under the pot."""

    BENCH = "bench"
    SLAB = "slab"
    GROUND = "ground"
    INSULATED = "insulated"


class ContainerKind(StrEnum):
    """What the roots are in."""

    POT = "pot"
    TRAINING_BOX = "training box"
    POND_BASKET = "pond basket"
    NURSERY_CAN = "nursery can"
    SLAB = "slab"
    BED = "bed"


class Wall(StrEnum):
    """What the container is made of."""

    GLAZED = "glazed"
    UNGLAZED = "unglazed"
    PLASTIC = "plastic"
    MESH = "mesh"
    WOOD = "wood"
    NONE = "none"


class Colour(StrEnum):
    """How the wall takes the sun."""

    PALE = "pale"
    BROWN = "brown"
    DARK = "dark"


class Shape(StrEnum):
    """Proportions of the container, from which its faces follow."""

    ROUND = "round"
    OVAL = "oval"
    RECTANGLE = "rectangle"
    FLAT = "flat"
    GROUND = "ground"


class Garden(Model):
    """One place on earth."""

    name: str
    latitude: Annotated[float, Field(ge=-90, le=90)]
    longitude: Annotated[float, Field(ge=-180, le=180)]
    elevation_m: Annotated[float, Field(ge=-430, le=6000)]
    timezone: str


class OwnLimits(Model):
    """A keeper's own limits; None leaves the derived one. °C, m/s."""

    leaf_frost_c: float | None = None
    bud_frost_c: float | None = None
    hardened_frost_c: float | None = None
    dormant_tops_c: float | None = None
    root_frost_c: float | None = None
    air_min_c: float | None = None
    leaf_hot_c: float | None = None
    root_hot_c: float | None = None
    gust_ms: Annotated[float, Field(gt=0)] | None = None


class KinLimits(Model):
    """A keeper's own limits for all trees of a kind; ``of`` names it: a class or a species."""

    of: str
    limits: OwnLimits


class Spot(Model):
    """A place where trees stand.

    ``sky_view`` is the share of the upper half-space that is open sky, not counting what is
    ``overhead``, of which glass and sheds have none of their own; ``wind_factor`` the share
    of the open-field wind that reaches the trees; ``sun_from``/``sun_until`` the local clock
    hours between which the sun reaches it. ``room`` and ``max_litres`` say what else can be
    carried there when it is used as a shelter (None: not offered as a shelter). ``limits`` are the
    keeper's own for the trees that stand there.
    """

    name: str
    kind: SpotKind
    overhead: Overhead = Overhead.OPEN_SKY
    sky_view: Share
    sun_from: LocalHour
    sun_until: LocalHour
    wind_factor: Share
    standing: Standing
    height_cm: Annotated[float, Field(ge=0, le=400)]
    room: Annotated[int, Field(ge=0)] | None = None
    max_litres: Annotated[float, Field(gt=0)] | None = None
    limits: OwnLimits = OwnLimits()


class Container(Model):
    """What the roots are in. ``litres`` is the volume of mix; ``tied`` means wired or screwed
    down to what it stands on."""

    kind: ContainerKind
    litres: Annotated[float, Field(gt=0, le=5000)]
    wall: Wall
    colour: Colour
    shape: Shape
    tied: bool = False


class Tree(Model):
    """One tree as the inventory has it; what was done since is in the journal.

    ``kin_limits``: what its keeper says of its class, then of its species.
    ``parent``: the tree it was layered or divided from.
    """

    name: str
    species: str
    cultivar: str = ""
    hardiness: str | None = None
    container: Container
    spot: str
    height_cm: Annotated[float, Field(gt=0, le=2000)]
    crown_cm: Annotated[float, Field(gt=0, le=2000)]
    parent: str | None = None
    kin_limits: tuple[KinLimits, ...] = ()
    limits: OwnLimits = OwnLimits()
    act_from: Share | None = None
    kill_from: Share | None = None


class Hours(Model):
    """A stretch of one local day."""

    start: time
    end: time


class Away(Model):
    """Whole local days on which nobody is there, both ends included."""

    first: date
    last: date


class HandsOn(Model):
    """When somebody can carry trees, by local clock."""

    weekdays: tuple[Hours, ...]
    weekends: tuple[Hours, ...]
    away: tuple[Away, ...] = ()


class Routine(Model):
    """The recorded watering: every ``every_days`` days at ``times``, from and until (month, day)
    inclusive. A routine may run over the new year."""

    times: tuple[time, ...]
    every_days: Annotated[int, Field(ge=1, le=60)] = 1
    first: tuple[int, int] = (1, 1)
    last: tuple[int, int] = (12, 31)


class Means(Model):
    """What the garden has to help with, beside spots that take trees in."""

    fleece_layers: Annotated[int, Field(ge=0, le=2)] = 0
    shade_cloth: bool = False
    lift_litres: Annotated[float, Field(gt=0)] = 15.0


class Chance(Model):
    """Chance of harm (and of killing) from which this keeper acts."""

    act_from: Share = 0.3
    kill_from: Share = 0.15
