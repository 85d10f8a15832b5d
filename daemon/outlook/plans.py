"""The plan of each tree: where it is to be in the nights ahead, with room shared out.

Trees are planned for that something threatens as the keeper acts on it, and those that stand away
from home or were told to. A tropical goes in for the season and is not planned for by nights.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import cache, partial

from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.outlook.past_years import usual_of
from underbench.daemon.outlook.prospects import (
    FLEECED,
    Prospects,
    keys_of,
    planned_hazard,
    prospects_of,
)
from underbench.daemon.store.episodes import EASED, OVER, EpisodeRow
from underbench.daemon.store.store import Store
from underbench.rules.advice.remedies import Choice, Way
from underbench.rules.advice.remedy import GROUND, LEE, STAY
from underbench.rules.garden.journal import Entry, Move
from underbench.rules.garden.local_time import LONG_AGO
from underbench.rules.hazards.findings import NOTICE_FROM, Finding, Strength
from underbench.rules.hazards.hazard import Action
from underbench.rules.limits.layering import tender
from underbench.rules.planning.plan import Plan, Wanted, shared

A_DAY, ANSWERED_BY = timedelta(days=1), timedelta(hours=12)


@dataclass(frozen=True, slots=True)
class TreePlan:
    """The plan of one tree, and what it was chosen from.

    ``here`` is the key of where it stands, ``home`` of where it belongs, ``start`` of where it is
    or was told to be. ``sent``: its keeper was told to bring it to where it stands, and so will be
    told when to take it back. The rest takes the physics of each place and is worked out for all
    trees when it is first asked for: most passes have nothing to tell and never ask.
    """

    here: str
    home: str
    start: str
    sent: bool
    worked_out: Callable[[], tuple[Plan, Prospects]]

    @property
    def plan(self) -> Plan:
        """Where the tree is to be, night by night."""
        return self.worked_out()[0]

    @property
    def of(self) -> Prospects:
        """How it would fare at each place."""
        return self.worked_out()[1]

    def place_on(self, finding: Finding) -> str:
        """Return where the tree is to be when ``finding`` begins."""
        return self.plan.path[self.of.night_of(finding.first_at)]

    def moves_for(self, finding: Finding) -> bool:
        """Return whether the tree is to be elsewhere by then than where it is, or was told to be,
        and fares better there. From where it was brought already it moves only to be safe."""
        to, night = self.place_on(finding), self.of.night_of(finding.first_at)
        returns = to == self.here and self.start == self.home
        if to == self.start or not (to in self.of.ways or returns):
            return False
        now, then, weights = self.of.trials[self.start], self.of.trials[to], self.of.weights
        harm, kill = then.harm[night], then.kill[night]
        if self.start == self.home:
            return bool(max(now.harm[night] - harm, now.kill[night] - kill) >= NOTICE_FROM)
        saves = now.kill[night] >= weights.kill_from > kill
        return bool(saves or now.harm[night] >= weights.act_from > harm)

    def fleece_fails(self, finding: Finding) -> bool:
        """Whether fleece that is on the tree is carried off by the wind or too thin that night. The
        physics under fleece do not know of the first."""
        if self.here not in FLEECED:
            return False
        harm = self.of.trials[self.here].harm[self.of.night_of(finding.first_at)]
        return bool(harm >= self.of.weights.act_from)

    def moves_by(self, moment: datetime) -> bool:
        """Return whether the tree is brought elsewhere by the night of ``moment``."""
        nights = self.plan.path[: self.of.night_of(moment) + 1]
        return not set(nights) <= {self.start}

    @property
    def unsafe_until(self) -> datetime:
        """The end of the last night that the plan has the tree away from home and home would not
        do."""
        home, weights = self.of.trials[self.home], self.of.weights
        unsafe = (home.harm >= weights.act_from) | (home.kill >= weights.kill_from)
        away = [n for n, at in enumerate(self.plan.path) if at != self.home and unsafe[n]]
        return self.of.nights[max(away, default=0)].end

    @property
    def ends_its_stay(self) -> bool:
        """Whether the tree, which was sent where it is, goes home as far ahead as is known."""
        return self.sent and self.plan.path[-1] == self.home

    @property
    def goes_home(self) -> bool:
        """Whether the tree goes home now, for good as far as the forecast reaches, and is safe
        there. A place that is no worse than where it is does not do."""
        if self.here == self.home or set(self.plan.path) != {self.home}:
            return False
        home, weights = self.of.trials[self.home], self.of.weights
        return bool((home.harm < weights.act_from).all() and (home.kill < weights.kill_from).all())

    def choice(self, findings: Sequence[Finding]) -> Choice | None:
        """Return what is to be done about ``findings`` (the gravest in front): the first place that
        the tree is to be brought to in their nights, and how it fares there. None if it stays."""
        by_time = sorted(findings, key=lambda finding: finding.first_at)
        moving = [finding for finding in by_time if self.moves_for(finding)]
        key = self.place_on((moving or by_time)[0])
        way = self.of.ways.get(key)
        if way is None and key == self.here != self.start:
            way = Way(STAY, self.of.place, key)
        if way is None:
            return None
        trial, helped = self.of.trials[key], moving or list(findings)
        lead = next(finding for finding in findings if finding in helped)
        chance = max(float(trial.harm[self.of.night_of(f.first_at)]) for f in helped)
        left = float(trial.worst[lead.hazard.key][self.of.night_of(lead.first_at)])
        enough, heavy = chance < self.of.weights.act_from, way.remedy.carries and self.of.two_people
        return Choice(way, enough, chance, left, lead.limit.measured_on, heavy)


def stays_of(outlook: Outlook, store: Store) -> list[EpisodeRow]:
    """Return the episodes, however old, for which trees stand away from home. Raises StoreError."""
    since = {at.tree.name: at.there_since - A_DAY for at in outlook.standing if at.there_since}
    return store.episodes.told_for(since)


def plans_of(
    outlook: Outlook, store: Store, episodes: Iterable[EpisodeRow], stays: Iterable[EpisodeRow]
) -> dict[str, TreePlan]:
    """Return the plan of each tree that needs one. Room goes first to those it does most for.
    ``stays``: see `stays_of`.

    Raises StoreError.
    """
    told = told_places(outlook, episodes)
    threatened = _threatened(outlook)
    asked = [
        row
        for row, at in enumerate(outlook.standing)
        if not at.lost
        and not tender(outlook.setting.species[at.tree.name])
        and (not at.at_home or at.tree.name in told or at.tree.name in threatened)
    ]
    if not asked:
        return {}
    usual = usual_of(store, outlook.settings.garden)
    keys = {outlook.standing[row].tree.name: keys_of(outlook, row) for row in asked}
    # A tree that was told to go somewhere is taken to be there.
    starts = {name: told[name] if told.get(name) in own else own[0] for name, own in keys.items()}
    homes = {tree.name: tree.spot for tree in outlook.settings.trees}
    sent = _sent(outlook, stays)

    @cache
    def worked_out() -> dict[str, tuple[Plan, Prospects]]:
        found = {one.tree: one for one in prospects_of(outlook, asked, usual)}
        wanted = {
            name: Wanted(one.places, starts[name], one.weights) for name, one in found.items()
        }
        plans = shared(wanted, _free(outlook, told))
        return {name: (plans[name], one) for name, one in found.items()}

    return {
        name: TreePlan(
            own[0], homes[name], starts[name], name in sent, partial(_of, worked_out, name)
        )
        for name, own in keys.items()
    }


def _of(
    worked_out: Callable[[], Mapping[str, tuple[Plan, Prospects]]], tree: str
) -> tuple[Plan, Prospects]:
    return worked_out()[tree]


def told_places(outlook: Outlook, episodes: Iterable[EpisodeRow]) -> dict[str, str]:
    """Return the place by tree, for trees that the keeper was told to bring there, to cover or to
    take home, and has not moved since. Only hazards still ahead count."""
    moved = last_moves(outlook.journal)
    homes = {tree.name: tree.spot for tree in outlook.settings.trees}
    said: dict[str, tuple[datetime, str | None]] = {}
    for row in episodes:
        at, place = row.told_at, row.into_spot or row.remedy
        if row.back_told_at is not None:
            at, place = row.back_told_at, homes.get(row.tree)
        elif row.action != Action.PROTECT or row.state in (EASED, OVER):
            continue
        known, _ = said.get(row.tree, (moved.get(row.tree, LONG_AGO), None))
        if at is not None and at >= known:
            said[row.tree] = at, GROUND.key if place == LEE.key else place
    return {tree: place for tree, (_, place) in said.items() if place is not None}


def last_moves(journal: Iterable[Entry]) -> dict[str, datetime]:
    """Return when each tree was last brought elsewhere."""
    moves = (entry for entry in journal if isinstance(entry, Move) and not entry.adds)
    return {move.tree: move.at for move in sorted(moves, key=lambda move: move.at)}


def _sent(outlook: Outlook, stays: Iterable[EpisodeRow]) -> set[str]:
    """The trees that were told to go where they stand. A keeper who saw it coming moves first and
    is told afterwards."""
    went = {at.tree.name: at.there_since for at in outlook.standing if at.there_since}
    return {
        row.tree for row in stays if row.told_at and row.told_at <= went[row.tree] + ANSWERED_BY
    }


def _threatened(outlook: Outlook) -> set[str]:
    """The trees that cold or wind threatens, if it threatens any as its keeper acts on it. Those
    with less of a chance may go along."""
    cold = [finding for finding in outlook.findings if planned_hazard(finding.hazard)]
    acting = any(finding.strength is not Strength.NOTICE for finding in cold)
    return {finding.tree for finding in cold} if acting else set()


def _free(outlook: Outlook, told: Mapping[str, str]) -> dict[str, int]:
    """The room that trees already there, or told to go there, leave."""
    there = Counter(told.get(at.tree.name, at.spot) for at in outlook.standing if not at.lost)
    spots = outlook.settings.spots.items()
    return {name: spot.room - there[name] for name, spot in spots if spot.room is not None}
