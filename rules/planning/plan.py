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

from underbench.rules.garden.inventory import Spot, SpotKind
from underbench.rules.garden.journal import Stage

TIE = 1e-9  # costs nearer than this are the same; the plan with fewer moves is taken


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
    by_key = {one.key: one for one in prospects}
    if start not in by_key:
        raise ValueError(f"{start}: no such place for the tree")
    nights = len(by_key[start].harm)
    states = [(one, again) for one in prospects for again in (False, True)]
    # Costs to go from each night, backwards; with them the moves still to come.
    ahead = {(one.key, again): (one.after, 0) for one, again in states}
    choices: list[dict[_At, _At]] = []
    for night in reversed(range(nights)):
        open_ = [at for at in ahead if at[0] == start or (at[0], night) not in full]
        there = {
            at: (by_key[at[0]].cost(night, weights) + ahead[at][0], ahead[at][1]) for at in open_
        }
        found = {
            (one.key, again): _best(one, again, there, by_key, weights) for one, again in states
        }
        ahead = {at: onward for at, (_, onward) in found.items()}
        choices.insert(0, {at: chosen for at, (chosen, _) in found.items()})
    path, now = list[str](), (start, False)
    for choice in choices:
        now = choice[now]
        path.append(now[0])
    stay = sum(by_key[start].cost(n, weights) for n in range(nights)) + by_key[start].after
    return Plan(start, tuple(path), ahead[start, False][0], stay)


_At = tuple[str, bool]  # a place, and whether the tree came home in this plan before


def _best(
    one: Prospect,
    again: bool,
    there: Mapping[_At, tuple[float, int]],
    by_key: Mapping[str, Prospect],
    weights: Weights,
) -> tuple[_At, tuple[float, int]]:
    """Where to be in a night for a tree that comes from ``one``, and the cost from there on.
    ``there``: the cost from each place on, and the moves still to come."""

    def onward(other: Prospect) -> tuple[_At, float, int]:
        to = other.key, again or (not one.is_home and other.is_home)
        cost, moves = there[to]
        out = weights.changed if again and one.is_home and not other.is_home else 0.0
        return to, cost + moving(one, other, weights) + out, moves + (other.key != one.key)

    open_ = [other for other in by_key.values() if (other.key, again) in there]
    stays = next((other for other in open_ if other is one), open_[0])
    best, least, fewest = onward(stays)
    for other in open_:
        to, cost, moves = onward(other)
        if cost < least - TIE or (cost < least + TIE and moves < fewest):
            best, least, fewest = to, cost, moves
    return best, (least, fewest)


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
        return self.plan(roomed).cost - self.plan().cost


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
