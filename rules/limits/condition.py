"""What a tree's limits depend on beside its species: the tree as it stands on one day."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from typing import NamedTuple

from underbench.rules.garden.inventory import OwnLimits, Spot, Tree
from underbench.rules.garden.journal import Flower, Stage
from underbench.rules.limits.aftercare import Aftercare
from underbench.rules.physics.moss import Moss


# One is made for each tree and day, and a dataclass takes four times as long to make.
class Condition(NamedTuple):
    """A tree on one day.

    ``unhardened_k``: how far mature roots are from midwinter hardiness. ``faded``: the share of
    midwinter hardiness that tops lack, 0..1. ``sap_moving``: warm days since midwinter took it.
    ``tip_gust_ms``: gust at the bench that tips the tree. ``rocking_share``: the gust that rocks it
    on loose roots, as a share of an ordinary tree's. ``spot``: the spot whose own limits hold for
    it. ``moss``: the moss of its layer. ``leafy_there_since``: since when it has stood where it
    was carried to, and had leaves; None if it belongs there. ``flower``: how far its flowers are,
    None without any.
    ``sodden_days``: as in :mod:`rules.physics.sodden`.
    """

    tree: Tree
    stage: Stage
    aftercare: Aftercare
    unhardened_k: float
    tip_gust_ms: float
    rocking_share: float = 1.0
    spot: Spot | None = None
    faded: float = 0.0
    sap_moving: bool = False
    moss: Moss | None = None
    leafy_there_since: datetime | None = None
    flower: Flower | None = None
    sodden_days: float = 0.0

    @property
    def keeper(self) -> Iterator[tuple[str, OwnLimits]]:
        """The keeper's own limits and what they are for (`keeper_limits`)."""
        return keeper_limits(self.tree, self.spot)

    @property
    def in_leaf(self) -> bool:
        """Whether its leaves are open, and on it."""
        return self.aftercare.stripped is None and self.stage in (
            Stage.LEAFING_OUT,
            Stage.HARDENED,
            Stage.COLOURING,
            Stage.EXTENDING,
        )


def keeper_limits(tree: Tree, spot: Spot | None) -> Iterator[tuple[str, OwnLimits]]:
    """Yield the keeper's own limits and what they are for: class, species, spot, then the tree.

    Limits that set no figure are left out; most trees have none."""
    yield from ((kin.of, kin.limits) for kin in tree.kin_limits)
    if spot is not None and spot.limits.model_fields_set:
        yield f"your spot {spot.name}", spot.limits
    if tree.limits.model_fields_set:
        yield "own limit", tree.limits
