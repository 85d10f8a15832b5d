"""What lies ahead of the garden at one moment: weather, exposures, findings, and remedies."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

import numpy as np

from underbench.daemon.config.settings import Settings
from underbench.daemon.outlook.checkpoints import bring_up, unknown_days
from underbench.daemon.outlook.garden_now import grown, journal_at, setting_of
from underbench.daemon.outlook.members import learned_of, members_of, with_departures
from underbench.daemon.store.store import Store, weather_place
from underbench.daemon.weather.archive import bring_autumn
from underbench.daemon.weather.ensemble import Ensemble, bring_ensemble, kept_ensemble
from underbench.daemon.weather.supply import Source, Supplied
from underbench.rules.advice.remedies import (
    Choice,
    Here,
    Trial,
    Way,
    after_frost,
    candidates,
    choose,
)
from underbench.rules.course.course import Course, follow
from underbench.rules.course.inputs import Row, Setting
from underbench.rules.garden.inventory import Spot, Tree
from underbench.rules.garden.journal import (
    Entry,
    Flower,
    Opening,
    Stage,
    TreeAt,
    Work,
    fold,
)
from underbench.rules.garden.local_time import NOON, hands_on_between, local_day, local_moment
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.hazard import Action, Help
from underbench.rules.hazards.hot_bag import frost_ends
from underbench.rules.hazards.judge import judge, left_of
from underbench.rules.limits.condition import Condition
from underbench.rules.physics.places import Place, place_of
from underbench.rules.physics.state import State
from underbench.rules.weather.fill_gaps import complete
from underbench.rules.weather.hourly import Weather
from underbench.rules.weather.learned import Learned
from underbench.rules.weather.spread import Site, drawn_sites

AHEAD = timedelta(days=5)
NEXT_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Outlook:
    """One moment's view ahead.

    ``course`` runs the trees where they stand, in the settings' order. ``findings`` are for where
    they stand; ``at_home`` are those that only the home spot has. ``central`` is the run as
    forecast; ``learned`` corrected it before it became members.
    """

    now: datetime
    supplied: Supplied
    setting: Setting
    settings: Settings
    journal: tuple[Entry, ...]
    standing: tuple[TreeAt, ...]
    state: State
    central: Weather
    learned: Learned
    weather: Weather
    site: Site
    course: Course
    findings: tuple[Finding, ...]
    at_home: tuple[Finding, ...]
    estimated: frozenset[str]
    ensemble: Ensemble | None

    def stage(self, row: int) -> Stage:
        """Return the stage at which a tree is judged today."""
        return self.condition(row).stage

    def flower(self, row: int) -> Flower | None:
        """Return how far a tree's flowers are today; None while frost has none to hurt."""
        return self.condition(row).flower

    def condition(self, row: int) -> Condition:
        """Return what a tree is today, as its limits depend on it."""
        return next(iter(self.course.conditions.values()))[row]

    @property
    def today(self) -> date:
        """The local day it is."""
        return local_day(self.now, self.settings.garden.timezone)

    @property
    def reaches(self) -> datetime:
        """The last hour judged."""
        return datetime.fromtimestamp(int(self.course.times[-1]), tz=UTC)

    def open_works(self) -> dict[str, Work]:
        """Return, by tree, the work whose aftercare is open today."""
        facts = next(iter(self.course.conditions.values()))
        cares = {fact.tree.name: fact.aftercare for fact in facts}
        works = {name: c.roots or c.after_bag or c.shelter for name, c in cares.items()}
        return {name: work for name, work in works.items() if work is not None}

    def place(self, row: int, spot: str) -> Place:
        """Return a spot as the place it is for a tree today."""
        return place_of(self.settings.spots[spot], float(self.state.ten_days_c[row].mean()))

    def stands(self, row: int) -> Place:
        """Return the place where a tree is, as its keeper left it."""
        at = self.standing[row]
        bare = self.place(row, at.spot)
        return bare.as_left(at.layers, on_ground=at.on_ground, cloth=at.cloth)


def fetch(settings: Settings, store: Store, supply: Source, now: datetime) -> Supplied:
    """Return the weather to judge by, asking for as many past days as the record lacks.

    Weather kept for another place, from before the coordinates were corrected, is forgotten first.
    Raises SupplyError without usable weather.
    """
    garden = settings.garden
    store.settle(weather_place(garden))
    supplied = supply.latest(now, past_days=unknown_days(store, _whole_hour(now)))
    bring_autumn(store, garden, supply.archive, supplied.weather, now)
    bring_ensemble(store, garden, supply.ensembles, now)
    return supplied


def _whole_hour(now: datetime) -> datetime:
    return now.replace(minute=0, second=0, microsecond=0)


def look(settings: Settings, store: Store, supplied: Supplied, now: datetime) -> Outlook:
    """Return what lies ahead at ``now``; keeps the hours that have passed, and checkpoints.

    Raises NoPast without any hour before now, StoreError.
    """
    hour = _whole_hour(now)
    settings = grown(settings, store, now)
    store.hours.keep(supplied.weather.between(hour - timedelta(days=93), hour))
    setting = setting_of(settings)
    journal = journal_at(settings, store, now)
    state = bring_up(store, setting, settings.trees, journal, hour)
    central, estimated = complete(supplied.weather.between(hour, hour + AHEAD), settings.garden)
    learned = learned_of(store).faded(int(hour.timestamp()))
    settings = with_departures(settings, learned)
    setting = setting_of(settings)
    ensemble = kept_ensemble(store, settings.weather.ensemble, now)
    members = members_of(central, hour, settings, ensemble, learned)
    site = drawn_sites(members.members)
    standing = tuple(fold(tree, journal, now) for tree in settings.trees)
    here, away = courses(setting, standing, journal, state, members, site)
    stands = {at.tree.name: at for at in standing}
    living = {name for name, at in stands.items() if not at.lost}
    there = [
        finding
        for finding in judge(setting, here, site, settings.chance)
        if finding.tree in living and not _later_than_its_stay(finding, standing, now)
    ]
    home = [
        finding
        for finding in (judge(setting, away, site, settings.chance) if away else ())
        if finding.tree in living and keeps_away(finding, stands[finding.tree])
    ]
    findings, at_home = graver(there, home)
    return Outlook(
        now=now,
        supplied=supplied,
        setting=setting,
        settings=settings,
        journal=journal,
        standing=standing,
        state=state,
        central=central,
        learned=learned,
        weather=members,
        site=site,
        course=here,
        findings=findings,
        at_home=at_home,
        estimated=estimated,
        ensemble=ensemble,
    )


def courses(
    setting: Setting,
    standing: Sequence[TreeAt],
    journal: Sequence[Entry],
    state: State,
    members: Weather,
    site: Site,
) -> tuple[Course, Course | None]:
    """Return the trees where they stand, and the trees that stand away from home at their home
    spots.

    Frost and gale at home decide the return. Both are one run, because the weather is the same.
    """
    away = [i for i, at in enumerate(standing) if not at.at_home]
    rows = [Row(at.tree) for at in standing]
    for i in away:
        tree, mean_c = standing[i].tree, float(state.ten_days_c[i])
        rows.append(Row(tree, place_of(setting.spots[tree.spot], mean_c), spot=tree.spot))
    trees = range(len(standing))
    course = follow(setting, rows, journal, state.take([*trees, *away]), members, site)
    if not away:
        return course, None
    return course.take(trees), course.take(range(len(standing), len(rows)))


def keeps_away(finding: Finding, at: TreeAt) -> bool:
    """Whether a threat at a tree's home spot is a reason to leave it where it is. A dry wind is one
    for a tree that was only set down beside its bench."""
    set_down = at.on_ground and at.spot == at.tree.spot
    return finding.action is Action.PROTECT and (finding.hazard.keeps_in or set_down)


def graver(
    there: Sequence[Finding], home: Sequence[Finding]
) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
    """Return the findings where trees stand, and those at home, each once. What is worth a notice
    where a tree stands does not hide what is to be acted on at home."""
    acting = {finding.key for finding in home if finding.strength is not Strength.NOTICE}
    kept = [f for f in there if f.strength is not Strength.NOTICE or f.key not in acting]
    found = {finding.key for finding in kept}
    return tuple(kept), tuple(finding for finding in home if finding.key not in found)


def _later_than_its_stay(finding: Finding, standing: Sequence[TreeAt], now: datetime) -> bool:
    """Whether a tree away from home is likely to be back there before ``finding`` begins.

    Heat, dark and drought under cover count only for the hours that it will spend there; the nights
    ahead are judged at home as well.
    """
    if finding.action is Action.PROTECT or finding.span.start <= now + NEXT_DAY:
        return False
    return any(at.tree.name == finding.tree and not at.at_home for at in standing)


def run_rows(
    outlook: Outlook,
    rows: Sequence[Row],
    indices: Sequence[int],
    *,
    until: datetime | None = None,
    noted: Sequence[Entry] = (),
) -> Course:
    """Run changed rows of the trees at ``indices`` from now through the same members.

    ``noted`` is added to the journal. They run no further than ``until``: what helps through a
    night is known when it is over.
    """
    ahead = outlook.weather.between(_whole_hour(outlook.now), until or outlook.reaches)
    journal = (*outlook.journal, *noted)
    return follow(outlook.setting, rows, journal, outlook.state.take(indices), ahead, outlook.site)


def remedies(outlook: Outlook, findings: Sequence[Finding], do_by: datetime) -> dict[str, Choice]:
    """Return the least sufficient remedy for each tree of ``findings`` (most at risk first).

    A remedy suffices when it answers every finding of its tree in ``findings``; a watering, done at
    ``do_by``, when it answers those of the first day.
    """
    index = {tree.name: i for i, tree in enumerate(outlook.settings.trees)}
    own: dict[str, list[Finding]] = {}
    for finding in findings:
        own.setdefault(finding.tree, []).append(finding)
    for tree, found in own.items():
        if found[0].hazard.help is Help.WATER:
            own[tree] = [min(found, key=lambda f: f.span.start)]
    ordered = [(f[0], _candidates(outlook, f[0], index, do_by)) for f in own.values()]
    pairs = [(finding, way) for finding, several in ordered for way in several]
    if not pairs:
        return {}
    rows = [
        Row(
            outlook.settings.trees[index[finding.tree]],
            way.place,
            way.remedy.opening,
            way.waterings,
        )
        for finding, way in pairs
    ]
    asked = [own[finding.tree] for finding, _ in pairs]
    over = max(finding.span.end for findings in asked for finding in findings)
    course = run_rows(outlook, rows, [index[finding.tree] for finding, _ in pairs], until=over)
    watered = [way.waterings[0] if way.waterings else None for _, way in pairs]
    trials = _trials(outlook, course, asked, watered)
    firsts = np.cumsum([0, *(len(several) for _, several in ordered)]).tolist()
    settings = outlook.settings
    return choose(
        ordered,
        lambda i, j: trials[firsts[i] + j],
        {at.tree.name: at.tree.container for at in outlook.standing},
        _free(outlook),
        settings.means,
        {tree.name: act_from(settings, tree) for tree in settings.trees},
    )


def _free(outlook: Outlook) -> dict[str, Spot]:
    """The spots with the room that trees already there leave."""
    there = Counter(at.spot for at in outlook.standing if not at.lost)
    return {
        name: spot
        if spot.room is None
        else spot.model_copy(update={"room": max(0, spot.room - there[name])})
        for name, spot in outlook.settings.spots.items()
    }


def act_from(settings: Settings, tree: Tree) -> float:
    """Return the chance of harm from which this keeper acts for a tree."""
    return settings.chance.act_from if tree.act_from is None else tree.act_from


def kill_from(settings: Settings, tree: Tree) -> float:
    """Return the chance of death from which this keeper acts for a tree."""
    return settings.chance.kill_from if tree.kill_from is None else tree.kill_from


def _candidates(
    outlook: Outlook, finding: Finding, index: Mapping[str, int], do_by: datetime
) -> list[Way]:
    row = index[finding.tree]
    home, bag = outlook.stands(row), outlook.standing[row].bag
    zone = outlook.settings.garden.timezone
    midday = local_moment(local_day(finding.first_at, zone), NOON, zone)
    times, gusts = outlook.course.times, np.median(outlook.course.exposure.gust_ms[row], axis=0)
    span = (times > finding.span.start.timestamp()) & (times <= finding.span.end.timestamp())
    here = outlook.standing[row].spot
    elsewhere = {name: spot for name, spot in outlook.settings.spots.items() if name != here}
    around = Here(
        home,
        outlook.standing[row].tree.container,
        elsewhere,
        outlook.settings.means,
        float(gusts[span].max()),
        bag.opening if bag else Opening.SHUT,
        (do_by, midday) if do_by < midday else (do_by,),
    )
    ways = candidates(finding.hazard.help, around)
    if finding.hazard.help is not Help.VENT:
        return ways
    air_c = outlook.course.exposure.air_c[row]
    ends = frost_ends(air_c, times, do_by, finding.first_at)
    hands_on = outlook.settings.hands_on
    there = hands_on_between(hands_on, ends or do_by, finding.first_at, zone)
    return after_frost(ways, ends, finding.first_at, there)


def _trials(
    outlook: Outlook,
    course: Course,
    asked: Sequence[Sequence[Finding]],
    watered: Sequence[datetime | None],
) -> list[Trial]:
    """How each row of ``course`` fares on all findings asked of it; the value is of the first.
    ``watered``: when each row is first watered, if that is what is tried."""
    # One finding for each hazard and span, whichever tree has it: all rows are judged at once.
    kinds = {(f.hazard.key, f.span.start): f for findings in asked for f in findings}
    left = {
        kind: left_of(outlook.setting, course, outlook.site, finding, watered)
        for kind, finding in kinds.items()
    }
    trials = []
    for row, findings in enumerate(asked):
        outcomes = [left[(finding.hazard.key, finding.span.start)] for finding in findings]
        chance = max(float(harmed[row]) for harmed, _ in outcomes)
        trials.append(Trial(chance, float(outcomes[0][1][row])))
    return trials
