"""The plan of one tree: where it is to be through the nights ahead, so that all costs it least.

A tree can be where it is, at home, covered there, or at any spot that takes it. The physics say
for each of these places what each night would do to it. The plan is the cheapest sequence of
places, found by a dynamic programme over (night, place). Staying is always possible.

All costs are in trips: carrying this tree in and out again once is one trip. The keeper acts from a
certain chance of harm (``act_from``), so that chance costs a trip and the day inside that goes with
it.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from math import erf, sqrt

import numpy as np
from numpy.typing import NDArray

from underbench.rules.garden.inventory import Spot, SpotKind
from underbench.rules.garden.journal import Stage
from underbench.rules.weather.hourly import Array

TIE = 1e-9  # what a move costs beside its way, so that fewer are made for the same


@dataclass(frozen=True, slots=True)
class Weights:
    """What things cost, in trips. All is judgement but the first two, which the keeper sets.

    ``act_from``, ``kill_from``: the chance of harm, of death, that is worth a trip and costs
    ``worth``. ``sure``: a chance as good as certain; between two such places nobody carries.
    ``changed``: a tree that was covered or carried in is brought elsewhere, be it by way of its
    home, so that its keeper was told in vain. ``lows_spread_k``: how far the coldest
    night of some weeks lies from that of the same weeks in another year.
    """

    act_from: float = 0.3
    kill_from: float = 0.15
    worth: float = 1.25
    sure: float = 0.7
    changed: float = 2.0
    lows_spread_k: float = 2.0


# What a day costs a tree under cover or covered, by what light and warmth it wants. After three
# days in the dark a leaf weakens (see `underbench.rules.hazards.darkness`).
DARK_LEAF, DARK_LEAF_LATER, DARK_AFTER_DAYS = 0.2, 0.6, 3
DARK_SWELL, DARK_NEEDLES, REST = 0.1, 0.03, 0.01
WARM_REST, LIGHT_ROOM = 0.4, 0.1  # a heated room: a tree at rest wakes; a leaf lacks light
WARM_C = 10.0  # air that wakes a tree at rest
# Fleece over a tree: less light and air, and it must be looked at; over a tree at rest less often.
COVERED, COVERED_REST = 0.15, 0.02
WEEKS_DAYS = 14  # so long a stay a tree is spared that goes home with no cold ahead


def is_warm(spot: Spot) -> bool:
    """Return whether a tree at rest wakes at a spot."""
    return spot.kind is SpotKind.INDOORS or (spot.keeps_above_c or 0.0) >= WARM_C


ROOMS = (SpotKind.INDOORS, SpotKind.COOL_ROOM)


def strain(
    spot: Spot, stage: Stage, *, evergreen: bool = False, bagged: bool = False, days: int = 0
) -> float:
    """Return what one more day at a spot under cover costs a tree that has been there ``days``. A
    ``bagged`` stump has no leaves that want light."""
    leafy = stage.in_leaf and not bagged
    if is_warm(spot) and not leafy:
        return WARM_REST
    if not spot.is_dark:
        in_leaf = LIGHT_ROOM if spot.kind in ROOMS else 2 * REST
        return in_leaf if leafy else REST
    if leafy:
        return DARK_LEAF if days < DARK_AFTER_DAYS else DARK_LEAF_LATER
    if stage is Stage.BUD_SWELL and not bagged:
        return DARK_SWELL
    return DARK_NEEDLES if evergreen else REST


@dataclass(frozen=True, slots=True)
class Prospect:
    """One place for a tree, night by night.

    ``key`` names the place. ``harm`` and ``kill``: the chance in each night. ``days``: the cost of
    the day after each night. ``reach``: the cost of bringing the tree there from home, or back.
    ``after``: what the weeks beyond the forecast cost from there. ``roomed``: the place has so
    much room and no more. ``at_home``: the tree stays at home there.
    """

    key: str
    harm: tuple[float, ...]
    kill: tuple[float, ...]
    days: tuple[float, ...]
    reach: float = 0.0
    after: float = 0.0
    roomed: bool = False
    at_home: bool = False

    @property
    def is_home(self) -> bool:
        """Whether a tree there is where it belongs, bare or tied down."""
        return self.at_home or not self.reach

    def cost(self, night: int, weights: Weights) -> float:
        """Return what a night there costs, and the day after it."""
        harm, kill = min(self.harm[night], weights.sure), min(self.kill[night], weights.sure)
        risk = harm / weights.act_from + kill / weights.kill_from
        return weights.worth * risk + self.days[night]


@dataclass(frozen=True, slots=True)
class Plan:
    """Where a tree is to be in each night (``path``, keys of places) and what that costs.

    ``start``: where it is, or where it was told to go and is taken to be. ``stay_cost``: what
    leaving it there through all nights costs.
    """

    start: str
    path: tuple[str, ...]
    cost: float
    stay_cost: float

    @property
    def stays(self) -> bool:
        """Whether the tree is left where it is through all nights."""
        return set(self.path) <= {self.start}


def moving(one: Prospect, other: Prospect, weights: Weights) -> float:
    """Return what it costs to bring a tree from one place to another."""
    if one.key == other.key:
        return 0.0
    fee = 0.0 if one.is_home or other.is_home else weights.changed
    return max(one.reach, other.reach) + fee


def cheapest(
    prospects: Sequence[Prospect],
    start: str,
    weights: Weights,
    full: Collection[tuple[str, int]] = (),
) -> Plan:
    """Return the cheapest plan from ``start`` through all nights.

    ``full``: places without room, by night; the start keeps its own room. Of equal plans the one
    with fewer moves is taken, then the one whose places stand first. Raises ValueError if no place
    is the start.
    """
    keys = [one.key for one in prospects]
    if start not in keys:
        raise ValueError(f"{start}: no such place for the tree")
    at, came_before, path = keys.index(start), 0, list[str]()
    costs = _nightly(prospects, weights)
    stay_cost = float(costs[:, at].sum()) + prospects[at].after
    for key, night in full:
        if key in keys and key != start:
            costs[night, keys.index(key)] = np.inf
    steps, came_home = _steps(prospects, weights)
    choices, ahead = _backwards(costs, steps, came_home, [one.after for one in prospects])
    cost = float(ahead[0, at])
    for choice in choices:
        to = int(choice[came_before, at])
        came_before, at = int(came_home[came_before, at, to]), to
        path.append(keys[to])
    return Plan(start, tuple(path), cost, stay_cost)


def _nightly(prospects: Sequence[Prospect], weights: Weights) -> Array:
    """What each night costs at each place, (night, place)."""
    nights = range(len(prospects[0].harm))
    return np.array([[one.cost(night, weights) for one in prospects] for night in nights])


def _backwards(
    costs: Array, steps: Array, came_home: NDArray[np.intp], after: Sequence[float]
) -> tuple[list[NDArray[np.intp]], Array]:
    """Return the place to be at in each night and the cost from the first one on; both by whether
    the tree came home before, and by the place it comes from."""
    ahead = np.tile(after, (2, 1))
    choices: list[NDArray[np.intp]] = []
    for night in costs[::-1]:
        onward = steps + (night + ahead)[came_home, np.arange(len(after))]
        choices.insert(0, onward.argmin(axis=2))
        ahead = onward.min(axis=2)
    return choices, ahead


def _steps(prospects: Sequence[Prospect], weights: Weights) -> tuple[Array, NDArray[np.intp]]:
    """What it costs to be brought from one place to another, (came home before, from, to), and
    whether the tree came home before once it is there."""
    ways = np.array([[moving(one, other, weights) for other in prospects] for one in prospects])
    home = np.array([one.is_home for one in prospects])
    out, back = home[:, None] & ~home, ~home[:, None] & home
    ways += TIE * ~np.eye(len(prospects), dtype=bool)
    steps = np.stack([ways, ways + weights.changed * out])
    return steps, np.stack([back, np.ones_like(back)]).astype(np.intp)


@dataclass(frozen=True, slots=True)
class Wanted:
    """A tree to be planned for: its prospects, where it starts, its keeper's weights."""

    prospects: tuple[Prospect, ...]
    start: str
    weights: Weights

    def plan(self, full: Collection[tuple[str, int]] = ()) -> Plan:
        """Return its cheapest plan."""
        return cheapest(self.prospects, self.start, self.weights, full)

    def risk(self) -> float:
        """Return how much worse the tree fares if no other place with room takes it."""
        roomed = {
            (one.key, n) for one in self.prospects if one.roomed for n in range(len(one.harm))
        }
        free = self.plan()
        if roomed.isdisjoint(zip(free.path, range(len(free.path)), strict=True)):
            return 0.0
        return self.plan(roomed).cost - free.cost


def shared(wanted: Mapping[str, Wanted], room: Mapping[str, int]) -> dict[str, Plan]:
    """Return the plan of each tree; room goes first to the trees for which it does most.

    ``room``: how many trees each place can still take beside those that start there. A tree keeps
    its room where it starts until its own plan leaves it.
    """
    taken: dict[tuple[str, int], int] = {}
    plans: dict[str, Plan] = {}
    for tree in sorted(wanted, key=lambda name: (-wanted[name].risk(), name)):
        one = wanted[tree]
        full = {
            (place.key, night)
            for place in one.prospects
            if place.roomed
            for night in range(len(place.harm))
            if room.get(place.key, 0) - taken.get((place.key, night), 0) <= 0
        }
        plans[tree] = one.plan(full)
        for night, place in enumerate(plans[tree].path):
            taken[place, night] = taken.get((place, night), 0) + 1
            taken[one.start, night] = taken.get((one.start, night), 0) - 1
    return plans


def share_of_cold(lows_c: Sequence[float], harms_below_c: float, weights: Weights) -> float:
    """Return the chance that the weeks after the forecast bring a night colder than
    ``harms_below_c``. ``lows_c``: their coldest night in earlier years; without any, nothing is
    known and the chance is even."""
    if not lows_c:
        return 0.5
    steps = ((harms_below_c - low) / (weights.lows_spread_k * sqrt(2.0)) for low in lows_c)
    return sum(0.5 * (1.0 + erf(step)) for step in steps) / len(lows_c)


def after_at_home(cold_share: float) -> float:
    """Return what the weeks after the forecast cost a tree at home: it goes in again."""
    return cold_share


def after_inside(cold_share: float, a_day: float, reach: float, moved_on: float = 0.0) -> float:
    """Return what they cost a tree under cover: it goes out some day. Until then it stands there
    for nothing if no cold comes, or it goes home at once. ``a_day``: the strain of a day there;
    ``reach``: the cost of the way back; ``moved_on``: that of being brought elsewhere, as likely as
    cold comes which another place here keeps out and this one does not."""
    stays = (1.0 - cold_share) * WEEKS_DAYS * a_day + moved_on
    return reach + min(after_at_home(cold_share), stays)
