"""The works: what each does to a tree, what it needs, and what it asks for afterwards.

The floors and weeks are common practice, no source.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum


@dataclass(frozen=True, slots=True)
class Care:
    """What one work asks for.

    ``root_floor_c``: the shell of the root ball may get no colder. ``root_warmth_cd``: degree-days
    above 6 °C until roots have taken; that takes at least ``root_weeks``. ``shelter_weeks``: weeks
    out of strong sun and wind. ``winter_floor_c``: the floor through the first winter after.
    ``loose``: the tree stands loosely until roots have taken.
    """

    root_floor_c: float | None = None
    root_weeks: float = 0
    root_warmth_cd: float = 0
    shelter_weeks: float = 0
    winter_floor_c: float | None = None
    loose: bool = False


SLIPPED = Care(-3.0, 2, 150, 0, loose=True)
REPOTTED = Care(-1.0, 4, 300, 4, loose=True)
HEAVY = Care(0.0, 8, 450, 8, loose=True)
COLLECTED = Care(0.0, 12, 600, 12, winter_floor_c=-2.0, loose=True)
SEVERED = Care(0.0, 8, 450, 4, winter_floor_c=-2.0, loose=True)


class On(StrEnum):
    """What must be on a tree before a work can be done."""

    BAG = "bag"
    LAYER = "layer"
    WIRE = "wire"


@dataclass(frozen=True, slots=True, kw_only=True)
class Nature:
    """What a work is.

    ``care``: what it asks for afterwards. ``needs``: what must be on the tree. ``on_roots``: it
    cuts the tree's own roots. ``opens_pot``: it disturbs roots and may change the container.
    ``cuts_back``: new shoots follow on the cut. ``strips``: leaves are taken off. ``frees_shoots``:
    it lets out shoots that grew in a bag. ``makes_tree``: a part becomes a tree of its own.
    ``major``: one a year is enough. ``planned``: good days for it are looked for; ``usual``: they
    are looked for even when nobody asks. ``changes``: the tree is not as before.
    """

    care: Care | None = None
    needs: On | None = None
    on_roots: bool = False
    opens_pot: bool = False
    cuts_back: bool = False
    strips: bool = False
    frees_shoots: bool = False
    makes_tree: bool = False
    major: bool = False
    planned: bool = False
    usual: bool = False
    changes: bool = True


NO_MORE = Nature()


def _on_roots(care: Care, *, makes_tree: bool = False, usual: bool = False) -> Nature:
    return Nature(
        care=care,
        on_roots=True,
        opens_pot=True,
        makes_tree=makes_tree,
        major=True,
        planned=True,
        usual=usual,
    )


class WorkKind(StrEnum):
    """Work done to a tree, in the trade's words. Each has its key, which never changes, and what
    the work is."""

    _value_: str
    does: Nature

    def __new__(cls, key: str, does: Nature = NO_MORE) -> WorkKind:
        kind = str.__new__(cls, key)
        kind._value_, kind.does = key, does
        return kind

    REPOT = "repot", _on_roots(REPOTTED, usual=True)
    SLIP_POT = "slip pot", Nature(care=SLIPPED, opens_pot=True, planned=True)
    ROOT_PRUNE = "root prune", _on_roots(REPOTTED)
    DIVIDE = "divide", _on_roots(HEAVY, makes_tree=True)
    COLLECT = "collect", _on_roots(COLLECTED)
    CHOP = "chop", Nature(cuts_back=True, major=True, planned=True, usual=True)
    HARD_PRUNE = "hard prune", Nature(cuts_back=True, major=True, planned=True)
    WIRE = "wire", Nature(care=Care(shelter_weeks=2), planned=True, usual=True)
    DEFOLIATE = "defoliate", Nature(strips=True, major=True, planned=True, usual=True)
    START_LAYER = "start layer", Nature(planned=True, usual=True)
    SEVER_LAYER = (
        "sever layer",
        Nature(care=SEVERED, opens_pot=True, makes_tree=True, major=True, planned=True, usual=True),
    )
    BAG = "bag", Nature(planned=True, usual=True)
    SLIT_BAG = "slit bag", Nature(needs=On.BAG)
    OPEN_BAG = "open bag", Nature(needs=On.BAG, frees_shoots=True)
    UNBAG = "unbag", Nature(needs=On.BAG, frees_shoots=True)
    UNWIRE = "unwire", Nature(needs=On.WIRE, changes=False)
    FEED = "feed", Nature(changes=False)
    CHECK = "check", Nature(changes=False)  # a check of all that is open
    CHECK_BAG = "check bag", Nature(needs=On.BAG, changes=False)
    CHECK_WIRE = "check wire", Nature(needs=On.WIRE, changes=False)
    CHECK_MOSS = "check moss", Nature(needs=On.LAYER, changes=False)
    SUPPORT_LIMB = "support limb", Nature(needs=On.LAYER, changes=False)


def works_that(hold: Callable[[Nature], bool]) -> tuple[WorkKind, ...]:
    """Return the works for which ``hold`` is true, in the order of the table."""
    return tuple(kind for kind in WorkKind if hold(kind.does))
