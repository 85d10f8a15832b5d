"""The inventory: what stands in the garden and where. Frozen models; units in field names."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, time
from enum import StrEnum
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field


class Model(BaseModel):
    """A frozen record that refuses unknown keys and never repeats its input in an error."""

    model_config = ConfigDict(frozen=True, extra="forbid", hide_input_in_errors=True)


Share = Annotated[float, Field(ge=0, le=1)]
NEVER = 2.0  # as a chance to act from: no chance is as high


def _never(value: Any) -> Any:
    return NEVER if value == "never" else value


def _share_or_never(value: float) -> float:
    if not (0 <= value <= 1 or value == NEVER):
        raise ValueError('expected a share from 0 to 1, or "never"')
    return value


ShareOrNever = Annotated[float, BeforeValidator(_never), AfterValidator(_share_or_never)]
_SATURDAY = 5
LocalHour = Annotated[float, Field(ge=0, le=24)]


class SpotKind(StrEnum):
    """A kind of place where trees stand."""

    BENCH = "bench"
    SHELF = "shelf"
    GROUND_ROW = "ground row"
    BED = "bed"
    UNDER_BENCH = "under the bench"
    PLUNGE_BED = "plunge bed"
    COLD_FRAME = "cold frame"
    GREENHOUSE = "greenhouse"
    SHED = "shed"
    GARAGE = "garage"
    CELLAR = "cellar"
    COOL_ROOM = "cool room"
    INDOORS = "indoors"


DARK_KINDS = (SpotKind.SHED, SpotKind.GARAGE, SpotKind.CELLAR)


class Overhead(StrEnum):
    """What is over a spot that is no room of its own."""

    OPEN_SKY = "open sky"
    LATH = "lath"
    ROOF = "roof"


class Standing(StrEnum):
    """What is under the pot; plunged pots stand up to the rim in soil or bark."""

    BENCH = "bench"
    SLAB = "slab"
    GROUND = "ground"
    PLUNGED = "plunged"
    INSULATED = "insulated"


class Surface(StrEnum):
    """What the ground about a spot is made of."""

    GRASS = "grass"
    GRAVEL = "gravel"
    SOIL = "soil"
    PAVING = "paving"
    DECKING = "decking"
    FLAT_ROOF = "flat roof"


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
    """How much sun the wall absorbs."""

    PALE = "pale"
    BROWN = "brown"
    DARK = "dark"


class Shape(StrEnum):
    """Proportions of the container; its faces follow from them."""

    ROUND = "round"
    OVAL = "oval"
    RECTANGLE = "rectangle"
    FLAT = "flat"
    GROUND = "ground"


LOWEST_M, HIGHEST_M = -430.0, 6000.0  # the shore of the Dead Sea; above the highest towns


class Garden(Model):
    """One place on earth."""

    name: str
    latitude: Annotated[float, Field(ge=-90, le=90)]
    longitude: Annotated[float, Field(ge=-180, le=180)]
    elevation_m: Annotated[float, Field(ge=LOWEST_M, le=HIGHEST_M)]
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


@dataclass(frozen=True, slots=True)
class Departure:
    """By how much the air of a spot departs from that of the garden, K."""

    always_k: float = 0.0
    night_k: float = 0.0
    clear_calm_k: float = 0.0

    @property
    def parts_k(self) -> tuple[float, float, float]:
        """The three, in order."""
        return self.always_k, self.night_k, self.clear_calm_k


NO_DEPARTURE = Departure()


class Spot(Model):
    """A place where trees stand.

    ``sky_view`` is the share of the upper half-space that is open sky, without counting what is
    ``overhead``; glass and sheds have nothing overhead. ``wind_factor`` is the share of the
    open-field wind that reaches the trees. ``surface`` is the ground about it; ``height_cm`` is how
    far above it the pots stand. The sun reaches the spot between the local clock hours
    ``sun_from`` and ``sun_until``. ``room`` and ``max_litres`` say what else can be carried there
    for shelter (None: not offered as a shelter). ``limits`` are the keeper's own for the trees that
    stand there. ``minutes`` is how long one takes to carry from there (None: as anywhere).
    A heater or the house keeps the air above ``keeps_above_c`` (None: nothing does). ``dark`` says
    whether leaves want for light there (None: as is usual for its kind).
    ``departs`` is what was learned of its air; it is no part of the inventory.
    """

    name: str
    kind: SpotKind
    overhead: Overhead = Overhead.OPEN_SKY
    sky_view: Share
    sun_from: LocalHour
    sun_until: LocalHour
    wind_factor: Share
    standing: Standing
    surface: Surface = Surface.GRASS
    height_cm: Annotated[float, Field(ge=0, le=400)]
    room: Annotated[int, Field(ge=0)] | None = None
    max_litres: Annotated[float, Field(gt=0)] | None = None
    minutes: Annotated[float, Field(gt=0)] | None = None
    keeps_above_c: float | None = None
    dark: bool | None = None
    limits: OwnLimits = OwnLimits()
    departs: Annotated[Departure, Field(exclude=True)] = NO_DEPARTURE

    @property
    def is_dark(self) -> bool:
        """Whether leaves want for light there."""
        return self.kind in DARK_KINDS if self.dark is None else self.dark

    def __hash__(self) -> int:
        return hash(self.name)  # the same for equal ones, and quicker than all they hold


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

    ``kin_limits`` are the keeper's limits for its class, then for its species. ``parent`` is the
    tree it was layered or divided from.
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
    flowers_from: ShareOrNever | None = None

    def tied_down(self) -> Tree:
        """Return the tree with its container tied down."""
        return self.model_copy(
            update={"container": self.container.model_copy(update={"tied": True})}
        )

    def __hash__(self) -> int:
        return hash(self.name)  # the same for equal ones, and quicker than all they hold


class Hours(Model):
    """A stretch of one local day."""

    start: time
    end: time


class Away(Model):
    """Whole local days on which nobody is there, both ends included."""

    first: date
    last: date


class Days(Model):
    """Hands-on hours by the day of the week, local clock.

    ``own`` gives a day (0: Monday) its own hours instead of those of weekdays or weekends.
    """

    weekdays: tuple[Hours, ...]
    weekends: tuple[Hours, ...]
    own: Mapping[int, tuple[Hours, ...]] = {}

    def on(self, day: date) -> tuple[Hours, ...]:
        """Return the hours of a day."""
        usual = self.weekends if day.weekday() >= _SATURDAY else self.weekdays
        return self.own.get(day.weekday(), usual)


class StandIn(Days):
    """Somebody who looks after the garden on ``days`` in the keeper's place, in hours of their own.
    ``waters`` says whether they keep up the watering routine too."""

    name: str
    days: tuple[Away, ...]
    waters: bool = True

    def there(self, day: date) -> bool:
        """Return whether they stand in on a local day."""
        return any(stretch.first <= day <= stretch.last for stretch in self.days)


class HandsOn(Days):
    """When somebody can carry trees, and who. ``quiet`` are the hours (from, until) in which only
    danger may wake anybody."""

    away: tuple[Away, ...] = ()
    stand_ins: tuple[StandIn, ...] = ()
    quiet: tuple[time, time] = (time(22), time(6))

    def stand_in(self, day: date) -> StandIn | None:
        """Return who stands in on a local day; None when the keeper is there, or nobody."""
        return next((one for one in self.stand_ins if one.there(day)), None)

    def anybody(self, day: date) -> tuple[Hours, ...]:
        """Return the hours of a day in which somebody can carry trees, whoever it is."""
        instead = self.stand_in(day)
        if instead is not None:
            return instead.on(day)
        gone = any(stretch.first <= day <= stretch.last for stretch in self.away)
        return () if gone else self.on(day)

    def watered(self, day: date) -> bool:
        """Return whether somebody keeps up the watering routine, by hand, on a local day."""
        instead = self.stand_in(day)
        if instead is not None:
            return instead.waters
        return not any(stretch.first <= day <= stretch.last for stretch in self.away)


class Routine(Model):
    """The recorded watering: every ``every_days`` days at ``times``. It runs from ``first`` to
    ``last`` (month, day), both included, and may run over the new year. ``as_needed``: the keeper
    looks then, and waters what has become dry."""

    times: tuple[time, ...]
    every_days: Annotated[int, Field(ge=1, le=60)] = 1
    first: tuple[int, int] = (1, 1)
    last: tuple[int, int] = (12, 31)
    as_needed: bool = False


class Minutes(Model):
    """Minutes one tree takes: to carry, to carry by two people, to water. Judgement, no source."""

    carry: Annotated[float, Field(gt=0)] = 3.0
    heavy: Annotated[float, Field(gt=0)] = 10.0
    water: Annotated[float, Field(gt=0)] = 1.0


class Means(Model):
    """What the garden has to help trees with, besides spots that take them in. An old sheet is a
    layer of fleece, and every house has one."""

    fleece_layers: Annotated[int, Field(ge=0, le=2)] = 1
    shade_cloth: bool = False
    lift_litres: Annotated[float, Field(gt=0)] = 15.0
    minutes: Minutes = Minutes()


class Chance(Model):
    """Chance of harm (and of killing) from which this keeper acts, and of flowers lost."""

    act_from: Share = 0.3
    kill_from: Share = 0.15
    flowers_from: ShareOrNever = 0.5
