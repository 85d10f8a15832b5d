"""The dated facts of a garden, and a tree at a moment: the inventory folded with them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import AwareDatetime, Field

from underbench.rules.garden.inventory import Container, Model, Tree
from underbench.rules.garden.works import WorkKind


class Film(StrEnum):
    """What a bag is made of."""

    DARK = "dark"
    CLEAR = "clear"


class Opening(StrEnum):
    """How far a bag is open."""

    SHUT = "shut"
    SLIT = "slit"
    OPEN = "open"

    def as_far_as(self, other: Opening) -> bool:
        """Whether it is open as far as ``other``, or further."""
        order = list(Opening)
        return order.index(self) >= order.index(other)


class Bag(Model):
    """A bag over a tree, on it since ``since``."""

    film: Film
    opening: Opening
    since: AwareDatetime


class Stage(StrEnum):
    """How far a tree is in its year. Pines and junipers extend where others leaf out."""

    DORMANT = "dormant"
    BUD_SWELL = "bud swell"
    LEAFING_OUT = "leafing out"
    EXTENDING = "extending"
    HARDENED = "hardened"
    COLOURING = "colouring"

    @property
    def in_leaf(self) -> bool:
        """Whether leaves or needles are open and want light."""
        return self in (Stage.LEAFING_OUT, Stage.EXTENDING, Stage.HARDENED)


class Flower(StrEnum):
    """How far the flowers of a tree are. They open beside its leaves, before or after them."""

    BUD = "flower bud"
    OPEN = "flowering"
    FALLING = "petal fall"
    FRUIT = "young fruit"
    OVER = "flowers over"


class Work(Model):
    """Something done to a tree.

    ``roots_pct`` is the share of roots cut, when told. ``film`` is what a bag is made of (None:
    dark). ``into`` is the new container, when it changed. ``makes`` is the tree that a severed
    layer or a division became. ``risky`` says that its kind bears the work badly at that time or to
    that extent, as judged when it was noted.
    """

    kind: Literal["work"] = "work"
    tree: str
    at: AwareDatetime
    work: WorkKind
    roots_pct: Annotated[float, Field(ge=0, le=100)] | None = None
    film: Film | None = None
    into: Container | None = None
    makes: Tree | None = None
    risky: bool = False

    def __hash__(self) -> int:
        return hash((self.tree, self.at))  # the same for equal ones, and quicker than all they hold


class Sighting(Model):
    """A stage as the keeper saw it."""

    kind: Literal["sighting"] = "sighting"
    tree: str
    at: AwareDatetime
    stage: Stage


class FlowersSeen(Model):
    """How far a tree's flowers were, as the keeper saw it."""

    kind: Literal["flowers"] = "flowers"
    tree: str
    at: AwareDatetime
    stage: Flower


class Move(Model):
    """A tree carried to a spot, or covered where it stands: under so many ``layers`` of fleece,
    ``on_ground`` instead of up on its bench, under half-shade ``cloth``, or ``tied`` down."""

    kind: Literal["move"] = "move"
    tree: str
    at: AwareDatetime
    spot: str
    layers: Annotated[int, Field(ge=0, le=2)] = 0
    on_ground: bool = False
    cloth: bool = False
    tied: bool = False

    @property
    def covers(self) -> bool:
        """Whether the tree is covered, or set down where it stands."""
        return self.layers > 0 or self.on_ground

    @property
    def adds(self) -> bool:
        """Whether the tree is shaded or tied down, and else left as it stands."""
        return self.cloth or self.tied


class Watering(Model):
    """A watering besides the routine, until it drained; ``moss``: of its layer's moss instead."""

    kind: Literal["watering"] = "watering"
    tree: str
    at: AwareDatetime
    moss: bool = False


class Handled(Model):
    """What was told for a tree is done; nothing else in the journal shows it."""

    kind: Literal["handled"] = "handled"
    tree: str
    at: AwareDatetime


class Fate(StrEnum):
    """How a tree came through."""

    FINE = "fine"
    DAMAGED = "damaged"
    LOST = "lost"


class Outcome(Model):
    """How a tree came through a night or day, as the keeper saw it afterwards.

    ``night`` is the local day on which it began. The rest is what was known; None where nothing was
    told or kept. ``hazard`` is its key, that of frost on leaves or buds for a night without a
    message. ``forecast`` and ``chance`` are the worst value forecast and its chance. ``felt`` is
    the worst that the tree felt in the weather as it came. Values are in the unit of ``limit``.
    ``figure`` is the key of the keeper's limit that the night says something of; None if it says
    nothing, as of a tree that was covered.
    """

    kind: Literal["outcome"] = "outcome"
    tree: str
    at: AwareDatetime
    fate: Fate
    night: date
    hazard: str | None = None
    limit: float | None = None
    forecast: float | None = None
    chance: float | None = None
    felt: float | None = None
    figure: str | None = None


Entry = Annotated[
    Work | Sighting | FlowersSeen | Move | Watering | Handled | Outcome,
    Field(discriminator="kind"),
]


class TreeAt(Model):
    """A tree at one moment: config folded with the journal up to then.

    ``layers`` and ``on_ground`` are how it is covered there; ``cloth`` is half-shade cloth over it.
    ``there_since`` is when it was carried to where it stands, or covered; None when it belongs
    there and is not covered. ``lost`` says that its keeper found it dead and has not said otherwise
    since.
    """

    tree: Tree
    at: AwareDatetime
    spot: str
    layers: int = 0
    on_ground: bool = False
    cloth: bool = False
    works: tuple[Work, ...] = ()
    sighting: Sighting | None = None
    flowers: FlowersSeen | None = None
    waterings: tuple[AwareDatetime, ...] = ()
    moss_wetted: tuple[AwareDatetime, ...] = ()
    there_since: AwareDatetime | None = None
    lost: bool = False

    @property
    def covered(self) -> bool:
        """Whether it is under fleece, or down on the ground."""
        return self.layers > 0 or self.on_ground

    @property
    def at_home(self) -> bool:
        """Whether it stands where it belongs, and is not covered. Shade cloth does not count."""
        return self.spot == self.tree.spot and not self.covered

    @property
    def bag(self) -> Bag | None:
        """The bag on the tree; None without one. A bag put on again is shut."""
        bag: Bag | None = None
        for work in self.works:
            if work.work is WorkKind.BAG:
                bag = Bag(film=work.film or Film.DARK, opening=Opening.SHUT, since=work.at)
            elif work.work is WorkKind.UNBAG:
                bag = None
            elif bag and work.work is WorkKind.OPEN_BAG:
                bag = bag.model_copy(update={"opening": Opening.OPEN})
            elif bag and work.work is WorkKind.SLIT_BAG and bag.opening is Opening.SHUT:
                bag = bag.model_copy(update={"opening": Opening.SLIT})
        return bag

    @property
    def aired(self) -> Work | None:
        """The work that last let the tree out of a shut bag: opening it, or else taking it off."""
        aired: Work | None = None
        for work in self.works:
            if work.work is WorkKind.BAG:
                aired = None
            elif work.work is WorkKind.OPEN_BAG:
                aired = aired or work
            elif work.work is WorkKind.UNBAG:
                aired = aired if aired and aired.work is WorkKind.OPEN_BAG else work
        return aired

    @property
    def layer(self) -> Work | None:
        """The layer started on the tree and not severed since; None without one."""
        last = self.last(WorkKind.START_LAYER, WorkKind.SEVER_LAYER)
        return last if last and last.work is WorkKind.START_LAYER else None

    @property
    def moss_dries_since(self) -> datetime | None:
        """When the moss of the tree's layer was last wet through; None without a layer."""
        started = self.layer
        return None if started is None else max(started.at, *self.moss_wetted, started.at)

    def last(self, *kinds: WorkKind) -> Work | None:
        """The latest work of these kinds; None when there was none."""
        return next((work for work in reversed(self.works) if work.work in kinds), None)


def fold(tree: Tree, entries: Iterable[Entry], at: datetime) -> TreeAt:
    """Return ``tree`` as it stands at ``at``, counting entries up to and including that moment.

    Entries of other trees are ignored. Order does not matter, but of entries with equal times the
    later in ``entries`` wins.
    """
    mine = sorted((e for e in entries if e.tree == tree.name and e.at <= at), key=lambda e: e.at)
    sighting, flowers, since, lost = None, None, None, False
    left = Move(tree=tree.name, at=at, spot=tree.spot)
    for entry in mine:
        if isinstance(entry, Move):
            before, left = left, _left(left, entry)
            same = (before.spot, before.covers) == (left.spot, left.covers)
            since = since if same else entry.at
        elif isinstance(entry, Sighting):
            sighting = entry
        elif isinstance(entry, FlowersSeen):
            flowers = entry
        elif isinstance(entry, Outcome):
            lost = entry.fate is Fate.LOST
        elif isinstance(entry, Work) and entry.into is not None:
            tree = tree.model_copy(update={"container": entry.into})
            left = left.model_copy(update={"tied": False})
    away = left.spot != tree.spot or left.covers
    return TreeAt(
        tree=tree.tied_down() if left.tied else tree,
        at=at,
        spot=left.spot,
        layers=left.layers,
        on_ground=left.on_ground,
        cloth=left.cloth,
        works=tuple(e for e in mine if isinstance(e, Work)),
        sighting=sighting,
        flowers=flowers,
        waterings=tuple(e.at for e in mine if isinstance(e, Watering) and not e.moss),
        moss_wetted=tuple(e.at for e in mine if isinstance(e, Watering) and e.moss),
        there_since=since if away else None,
        lost=lost,
    )


def _left(before: Move, move: Move) -> Move:
    """How a tree is left after a move, from how it was left ``before``. Straps stay until it is
    carried elsewhere or set down."""
    if move.spot != before.spot:
        return move
    if move.adds:
        both = {"cloth": before.cloth or move.cloth, "tied": before.tied or move.tied}
        return before.model_copy(update=both)
    return move.model_copy(update={"tied": before.tied and not move.on_ground})


def inventory(trees: Sequence[Tree], entries: Iterable[Entry], at: datetime) -> tuple[Tree, ...]:
    """Return the trees there are at ``at``: ``trees`` as configured, then those that works made.

    If a tree was made and later written into the configuration, the configured one counts.
    """
    known = {tree.name.casefold() for tree in trees}
    made = [e.makes for e in entries if isinstance(e, Work) and e.makes and e.at <= at]
    return (*trees, *(tree for tree in made if tree.name.casefold() not in known))
