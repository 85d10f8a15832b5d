"""The dated facts of a garden, and a tree at a moment: the inventory folded with them."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime
from enum import StrEnum
from typing import Annotated, Literal

from pydantic import AwareDatetime, Field

from underbench.rules.garden import Model, Tree


class WorkKind(StrEnum):
    """Work done to a tree, in the trade's words."""

    REPOT = "repot"
    SLIP_POT = "slip pot"
    ROOT_PRUNE = "root prune"
    DIVIDE = "divide"
    COLLECT = "collect"
    CHOP = "chop"
    HARD_PRUNE = "hard prune"
    WIRE = "wire"
    DEFOLIATE = "defoliate"
    START_LAYER = "start layer"
    SEVER_LAYER = "sever layer"
    BAG = "bag"
    UNBAG = "unbag"


class Stage(StrEnum):
    """How far a tree is in its year. Pines and junipers extend where others leaf out."""

    DORMANT = "dormant"
    BUD_SWELL = "bud swell"
    LEAFING_OUT = "leafing out"
    EXTENDING = "extending"
    HARDENED = "hardened"
    COLOURING = "colouring"


class Work(Model):
    """Something done to a tree; ``roots_pct`` is the share of roots cut, when told."""

    kind: Literal["work"] = "work"
    tree: str
    at: AwareDatetime
    work: WorkKind
    roots_pct: Annotated[float, Field(ge=0, le=100)] | None = None


class Sighting(Model):
    """A stage as the keeper saw it."""

    kind: Literal["sighting"] = "sighting"
    tree: str
    at: AwareDatetime
    stage: Stage


class Move(Model):
    """A tree carried to a spot."""

    kind: Literal["move"] = "move"
    tree: str
    at: AwareDatetime
    spot: str


class Watering(Model):
    """A watering beside the routine, until it drained."""

    kind: Literal["watering"] = "watering"
    tree: str
    at: AwareDatetime


Entry = Annotated[Work | Sighting | Move | Watering, Field(discriminator="kind")]


class TreeAt(Model):
    """A tree at one moment: config folded with the journal up to then."""

    tree: Tree
    at: AwareDatetime
    spot: str
    works: tuple[Work, ...] = ()
    sighting: Sighting | None = None
    waterings: tuple[AwareDatetime, ...] = ()

    @property
    def bagged_since(self) -> datetime | None:
        """When the present bag was shut over it; None without one."""
        for work in reversed(self.works):
            if work.work is WorkKind.BAG:
                return work.at
            if work.work is WorkKind.UNBAG:
                return None
        return None

    def last(self, *kinds: WorkKind) -> Work | None:
        """The latest work of these kinds; None when there was none."""
        return next((work for work in reversed(self.works) if work.work in kinds), None)


def fold(tree: Tree, entries: Iterable[Entry], at: datetime) -> TreeAt:
    """Return ``tree`` as it stands at ``at``, counting entries up to and including that moment.

    Entries of other trees are passed over; order does not matter, for equal times the later in
    ``entries`` wins.
    """
    mine = sorted((e for e in entries if e.tree == tree.name and e.at <= at), key=lambda e: e.at)
    spot, sighting = tree.spot, None
    for entry in mine:
        if isinstance(entry, Move):
            spot = entry.spot
        elif isinstance(entry, Sighting):
            sighting = entry
    return TreeAt(
        tree=tree,
        at=at,
        spot=spot,
        works=tuple(e for e in mine if isinstance(e, Work)),
        sighting=sighting,
        waterings=tuple(e.at for e in mine if isinstance(e, Watering)),
    )
