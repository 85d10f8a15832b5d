"""From exposures against limits to findings: one limit crossed by one tree in one span.

A hazard's own file says, hour by hour and member by member, where a tree is harmed or killed
(``Judged``); this module counts the members and picks the weather that is told.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from underbench.rules.garden.inventory import NEVER, Chance, Tree
from underbench.rules.garden.local_time import Stretch
from underbench.rules.hazards.hazard import Action, Hazard, Judged, Mask
from underbench.rules.limits.limit import Limit, MeasuredOn

MOST = 0.5
NOTICE_FROM = 0.10  # with fewer than one member in ten nothing is told, not even in a round-up


class Strength(StrEnum):
    """How hard a finding speaks."""

    NOTICE = "notice"
    ACT = "act"
    DANGER = "danger"


@dataclass(frozen=True, slots=True)
class Finding:
    """One limit crossed by one tree in one span, told through one weather that could happen.

    ``early_sun``: the sun reaches the tree before it has thawed.
    """

    tree: str
    hazard: Hazard
    span: Stretch
    first_at: datetime
    until_at: datetime
    worst_at: datetime
    worst: float
    limit: Limit
    chance: float
    kill_chance: float
    strength: Strength
    early_sun: bool = False

    @property
    def key(self) -> tuple[str, str, datetime]:
        """The key by which an episode is the same from pass to pass."""
        return (self.tree, self.hazard.key, self.span.start)

    @property
    def action(self) -> Action:
        """What is asked for."""
        return self.hazard.action


def find(
    judged: Judged,
    span: Stretch,
    times: NDArray[np.int64],
    trees: Sequence[Tree],
    chance: Chance,
) -> list[Finding]:
    """Return what ``judged`` found, tree by tree; its hours are exactly those of ``span``.

    ``times``: UTC seconds, shape (hour,). A tree is found when at least one member in ten harms it.
    """
    harmed: Mask = np.asarray((judged.harm | judged.kill).any(axis=2))
    if not harmed.any():
        return []
    killed: Mask = np.asarray(judged.kill.any(axis=2))
    found = []
    for row in np.flatnonzero(harmed.mean(axis=1) >= NOTICE_FROM).tolist():
        limit, from_chance = judged.limits[row], judged.hazard.acts_from(trees[row], chance)
        if limit is not None and from_chance < NEVER:
            shares = float(harmed[row].mean()), float(killed[row].mean())
            telling = _telling_member(judged, row, times, harmed[row])
            strength = _strength(trees[row], shares, chance, from_chance)
            sun = _early_sun(judged, row, harmed[row])
            name, hazard = trees[row].name, judged.hazard
            found.append(Finding(name, hazard, span, *telling, limit, *shares, strength, sun))
    return found


def _early_sun(judged: Judged, row: int, harmed: Mask) -> bool:
    """Whether the sun falls on frozen leaves in most members that harm the tree."""
    limit = judged.limits[row]
    if judged.thaw is None or limit is None or limit.measured_on is not MeasuredOn.LEAF:
        return False
    return bool(judged.thaw[row, harmed].any(axis=1).mean() > MOST)


def _telling_member(
    judged: Judged, row: int, times: NDArray[np.int64], harmed: Mask
) -> tuple[datetime, datetime, datetime, float]:
    """First and last bad hour, worst hour and value of the median member among those harmed.

    One member is a weather that could happen. An average of members is a night nobody will see.
    """
    # A value is unknown where a bag was open for part of the span.
    unknown = np.inf if judged.hazard.low else -np.inf
    value = np.where(np.isnan(judged.value[row]), unknown, judged.value[row])
    worst = value.min(axis=1) if judged.hazard.low else value.max(axis=1)
    members = np.flatnonzero(harmed)
    member = members[np.argsort(worst[members], kind="stable")[len(members) // 2]]
    bad = np.flatnonzero((judged.harm | judged.kill)[row, member])
    at = int(value[member].argmin() if judged.hazard.low else value[member].argmax())
    first, last, peak = (
        datetime.fromtimestamp(int(times[index]), tz=UTC)
        for index in (int(bad[0]), int(bad[-1]), at)
    )
    return first, last, peak, float(value[member, at])


def _strength(tree: Tree, shares: tuple[float, float], chance: Chance, act_from: float) -> Strength:
    harm, kill = shares
    if kill >= (chance.kill_from if tree.kill_from is None else tree.kill_from):
        return Strength.DANGER
    if harm >= act_from:
        return Strength.ACT
    return Strength.NOTICE
