"""The hazard that presses a tree most, crossed or not: one limit, one span, all weathers."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from underbench.daemon.outlook.outlook import Outlook, act_from
from underbench.rules.advice.advice import by_risk
from underbench.rules.garden.inventory import Tree
from underbench.rules.garden.local_time import Stretch
from underbench.rules.hazards.findings import Finding
from underbench.rules.hazards.hazard import Hazard, Judged, Mask
from underbench.rules.hazards.judge import outcomes
from underbench.rules.limits.limit import Limit, MeasuredOn
from underbench.rules.weather.hourly import Array

MOST_HOURS = 24
EITHER_SIDE_H = 2
CALM_HOURS = 8  # shown around the worst hour when no weather harms
WORST_TENTH = 0.1
# The difference that counts as near to harm as one kelvin, to find the nearest limit; judgement.
_LIKE_A_KELVIN = {
    MeasuredOn.GUST: 1.0,
    MeasuredOn.WATER: 0.05,
    MeasuredOn.SUN: 50.0,
    MeasuredOn.FROZEN: 12.0,
}


@dataclass(frozen=True, slots=True)
class Pressing:
    """One hazard against one tree in one span; ``value`` (NaN while a bag is open), ``harm`` and
    ``kill`` (member, hour).

    ``times``: UTC seconds at the end of each hour; ``finding`` is None where fewer than one weather
    in ten crosses the limit.
    """

    hazard: Hazard
    span: Stretch
    times: NDArray[np.int64]
    value: Array
    harm: Mask
    kill: Mask
    limit: Limit
    finding: Finding | None

    @property
    def chance(self) -> float:
        """Share of the weathers that harm the tree."""
        return float((self.harm | self.kill).any(axis=1).mean())

    @property
    def kill_chance(self) -> float:
        """Share of the weathers that kill the tree."""
        return float(self.kill.any(axis=1).mean())

    def worst(self, share: float) -> float:
        """Return the value that this share of the weathers reaches or passes."""
        worst = np.nanmin(self.value, axis=1) if self.hazard.low else np.nanmax(self.value, axis=1)
        return float(np.quantile(worst, share if self.hazard.low else 1 - share))

    def short_of_harm(self, share: float) -> float:
        """Return how far ``worst(share)`` is from the limit; negative beyond it."""
        gap = self.worst(share) - self.limit.harm
        return gap if self.hazard.low else -gap

    def middle(self) -> Array:
        """Return the middle of the weathers, (hour,)."""
        return np.asarray(np.median(self.value, axis=0))

    def tenth(self) -> Array:
        """Return the value that one weather in ten passes, (hour,)."""
        share = WORST_TENTH if self.hazard.low else 1 - WORST_TENTH
        return np.asarray(np.quantile(self.value, share, axis=0))

    def shares(self) -> tuple[Array, Array]:
        """Return the share of weathers that harm, and that kill, by each hour's end; (hour,)."""
        return (self.harm | self.kill).mean(axis=0), self.kill.mean(axis=0)

    def hours(self) -> range:
        """Return the hours worth showing: those that harm and some around, or the worst ones."""
        middle = self.middle()
        worst = int(np.nanargmin(middle) if self.hazard.low else np.nanargmax(middle))
        bad = np.flatnonzero((self.harm | self.kill).any(axis=0)).tolist()
        side = EITHER_SIDE_H if bad else CALM_HOURS // 2
        first, last = min([worst, *bad]) - side, max([worst, *bad]) + side
        if last - first >= MOST_HOURS:
            first = min(max(first, worst - MOST_HOURS // 2), last - MOST_HOURS + 1)
            last = first + MOST_HOURS - 1
        return range(max(0, first), min(len(self.times), last + 1))


def acts(chances: tuple[float, float], harm: float, kill: float) -> bool:
    """Return whether the shares ``harm`` and ``kill`` reach either of the chances to act from."""
    return harm >= chances[0] or kill >= chances[1]


def chances_of(outlook: Outlook, tree: Tree) -> tuple[float, float]:
    """Return the chances of harm and of killing from which this keeper acts for a tree."""
    deadly = tree.kill_from
    return act_from(outlook.settings, tree), (
        outlook.settings.chance.kill_from if deadly is None else deadly
    )


def findings_of(outlook: Outlook, row: int) -> list[Finding]:
    """Return what was found for the tree at ``row`` where it stands, the gravest first."""
    name = outlook.settings.trees[row].name
    return sorted((f for f in outlook.findings if f.tree == name), key=by_risk)


def most_pressing(outlook: Outlook, row: int) -> Pressing | None:
    """Return the gravest finding of a tree, or the nearest to one; None without any limit.

    What comes on by days is no hazard of the weather, and is never returned.
    """
    every = list(_against(outlook, row))
    graver = findings_of(outlook, row)
    found = [one for finding in graver for one in every if one.finding is finding]
    return found[0] if found else min(every, key=_far, default=None)


def _far(one: Pressing) -> tuple[float, float]:
    like = _LIKE_A_KELVIN.get(one.limit.measured_on, 1.0)
    return -one.chance, one.short_of_harm(WORST_TENTH) / like


def _against(outlook: Outlook, row: int) -> Iterator[Pressing]:
    found = {(f.hazard, f.span.start): f for f in findings_of(outlook, row)}
    course = outlook.course.take([row])
    for span, times, judged in outcomes(outlook.setting, course, outlook.site):
        one = _of(judged, span, times, found.get((judged.hazard, span.start)))
        if one is not None:
            yield one


def _of(
    judged: Judged, span: Stretch, times: NDArray[np.int64], finding: Finding | None
) -> Pressing | None:
    limit = judged.limits[0]
    if limit is None or np.isnan(judged.value[0]).all():
        return None
    return Pressing(
        hazard=judged.hazard,
        span=span,
        times=times,
        value=judged.value[0],
        harm=judged.harm[0],
        kill=judged.kill[0],
        limit=limit,
        finding=finding,
    )
