"""The course of a garden through weather: day by day, fold → season → aftercare → traits → advance.

Days are UTC days: a leg runs from one midnight, or one entry of the journal, to the next. What a
tree is in a leg comes from the days before it, so that a pass which stops and starts again walks
the same legs and meets the same hours.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from underbench.rules import exposure as exposures
from underbench.rules import season
from underbench.rules.aftercare import (
    ROOT_WORKS,
    Aftercare,
    RootClock,
    open_aftercare,
    roots_untaken,
)
from underbench.rules.exposure import Exposure, Traits
from underbench.rules.garden import Garden, HandsOn, Routine, Spot, Tree
from underbench.rules.hours import waterings_between
from underbench.rules.journal import Entry, Sighting, Stage, TreeAt, Watering, Work, fold
from underbench.rules.limits import Condition
from underbench.rules.members import Site
from underbench.rules.places import VENTED_FROM_C, Place, place_of
from underbench.rules.species import Kind, Species
from underbench.rules.state import State
from underbench.rules.traits import Footing, traits_of
from underbench.rules.weather import HOUR_S, Weather

DAY = timedelta(days=1)
DAY_S = 24 * HOUR_S
NOTHING_OPEN = Aftercare()


@dataclass(frozen=True, slots=True)
class Setting:
    """The garden as configured (``species`` by tree), and what its keeper does by the clock."""

    garden: Garden
    spots: Mapping[str, Spot]
    species: Mapping[str, Species]
    routines: tuple[Routine, ...]
    hands_on: HandsOn


@dataclass(frozen=True, slots=True)
class Row:
    """One tree to follow; ``place``, ``bag_open`` and ``waterings`` are a remedy's: None, False
    and none leave it as it is."""

    tree: Tree
    place: Place | None = None
    bag_open: bool = False
    waterings: tuple[datetime, ...] = ()


@dataclass(frozen=True, slots=True)
class Course:
    """A run through weather: exposures of all its hours, the state at its end and at each UTC
    midnight passed, and the condition of each row on each UTC day it touched."""

    times: NDArray[np.int64]
    exposure: Exposure
    end: State
    midnights: tuple[tuple[datetime, State], ...]
    conditions: Mapping[date, tuple[Condition, ...]]

    def take(self, rows: Sequence[int]) -> Course:
        """Return the course of some rows, in the order asked, without the midnights."""
        facts = {day: tuple(known[row] for row in rows) for day, known in self.conditions.items()}
        return Course(self.times, self.exposure.take(rows), self.end.take(rows), (), facts)


def follow(
    setting: Setting,
    rows: Sequence[Row],
    journal: Sequence[Entry],
    start: State,
    weather: Weather,
    site: Site,
) -> Course:
    """Return the course of ``rows`` from ``start``, their state at the hour before ``weather``.

    ``weather`` must be complete (:func:`underbench.rules.estimate.complete`) and not empty; it and
    ``site`` have the members of ``start``.
    """
    notes = _Notes.of(rows, journal)
    footing = Footing.of([row.tree for row in rows], setting.species)
    known: dict[tuple[str, bool], Place] = {}
    state, midnights, traits = start, [], _TraitsKept(footing)
    felt = exposures.blank(len(rows), weather.members, weather.hours)
    conditions: dict[date, tuple[Condition, ...]] = {}
    for leg in _legs(notes, weather):
        hours = weather.hours_at(leg)
        begins = _begin(hours)
        if _is_midnight(begins) and state.day_hours.any():  # a checkpoint has counted its day
            state = _new_day(state, begins, setting.garden.latitude)
            midnights.append((begins, state))
        state = _noted(state, notes, begins)
        folded = _folded(rows, notes, begins)
        facts = _conditions(setting, footing, folded, state, begins.date())
        conditions[begins.date()] = facts
        _, state = exposures.advance(
            state,
            traits.of(rows, facts, _placed(setting, rows, folded, state, known)),
            hours,
            site,
            setting.garden,
            _watered(setting, rows, notes, hours),
            felt.hours(leg),
        )
    return Course(weather.times, felt, state, tuple(midnights), conditions)


@dataclass(frozen=True, slots=True)
class _Notes:
    """The journal of the trees followed: by tree in its order, by the hour from which an entry
    counts (UTC seconds), and the rows of each tree."""

    by_tree: Mapping[str, list[Entry]]
    by_hour: Mapping[int, list[Entry]]
    rows: Mapping[str, list[int]]

    @classmethod
    def of(cls, rows: Sequence[Row], journal: Sequence[Entry]) -> _Notes:
        notes = cls(defaultdict(list), defaultdict(list), defaultdict(list))
        for number, row in enumerate(rows):
            notes.rows[row.tree.name].append(number)
        for entry in journal:
            if entry.tree in notes.rows:
                notes.by_tree[entry.tree].append(entry)
                notes.by_hour[_hour_after(entry.at)].append(entry)
        return notes


def _folded(rows: Sequence[Row], notes: _Notes, begins: datetime) -> dict[int, TreeAt]:
    """Return the rows of which the journal says something, as they stand at ``begins``."""
    found: dict[int, TreeAt] = {}
    for name, entries in notes.by_tree.items():
        mine = notes.rows[name]
        tree = rows[mine[0]].tree
        found |= dict.fromkeys(mine, fold(tree, entries, _since(entries, begins)))
    return found


def _conditions(
    setting: Setting,
    footing: Footing,
    folded: Mapping[int, TreeAt],
    state: State,
    day: date,
) -> tuple[Condition, ...]:
    """Return each tree's stage, aftercare and footing, as its limits depend on them.

    The stage is the early edge of what the warmth so far allows: frost meets the leaves that may
    be open, and a bag the buds that may be moving.
    """
    latitude = setting.garden.latitude
    stages = _stages(footing, folded, state, day, latitude)
    cares = [NOTHING_OPEN] * len(stages)
    for row, at in folded.items():
        conifer = footing.limits[row].kind in (Kind.CONIFER_EVERGREEN, Kind.CONIFER_DECIDUOUS)
        cares[row] = open_aftercare(at, _root_clock(state, row), conifer)
    unhardened_k = season.unhardened_k(day, latitude)
    tips_ms = footing.tipping_gusts_ms(stages, state.wetness.mean(axis=1)).tolist()
    return tuple(
        Condition(tree, stage, care, unhardened_k, tip_ms)
        for tree, stage, care, tip_ms in zip(footing.trees, stages, cares, tips_ms, strict=True)
    )


def _stages(
    footing: Footing,
    folded: Mapping[int, TreeAt],
    state: State,
    day: date,
    latitude: float,
) -> list[Stage]:
    """Return the stage of each row; trees of one kind that had the same days are at the same."""
    known: dict[tuple[int, float, float], Stage] = {}
    stages = []
    warmths, chills = state.warmth_cd.tolist(), state.chill_days.tolist()
    for row, (limits, warmth_cd, chill_days) in enumerate(
        zip(footing.limits, warmths, chills, strict=True)
    ):
        seen = _seen(folded.get(row), state, row)
        alike = (id(limits), warmth_cd, chill_days)
        stage = None if seen else known.get(alike)
        if stage is None:
            edge = season.EARLY_EDGE
            stage = season.stage_of(
                limits, day, latitude, warmth_cd, seen, edge, chill_days=chill_days
            )
            if not seen:
                known[alike] = stage
        stages.append(stage)
    return stages


def _seen(at: TreeAt | None, state: State, row: int) -> season.Seen | None:
    if at is None or at.sighting is None:
        return None
    warmth_cd = float(state.seen_warmth_cd[row])
    return season.Seen(at.sighting.stage, at.sighting.at.date(), warmth_cd)


def _placed(
    setting: Setting,
    rows: Sequence[Row],
    folded: Mapping[int, TreeAt],
    state: State,
    known: dict[tuple[str, bool], Place],
) -> list[Place]:
    """Return where each row stands; ``known`` keeps the places of spots from leg to leg."""
    places = []
    for number, (row, mean_c) in enumerate(zip(rows, state.ten_days_c.tolist(), strict=True)):
        if row.place is not None:
            places.append(row.place)
            continue
        at = folded.get(number)
        key = (row.tree.spot if at is None else at.spot, mean_c >= VENTED_FROM_C)
        if key not in known:
            known[key] = place_of(setting.spots[key[0]], mean_c)
        places.append(known[key])
    return places


class _TraitsKept:
    """The traits of the leg before, as long as nothing they come from has changed."""

    def __init__(self, footing: Footing) -> None:
        self._footing = footing
        self._made_of: object = None
        self._traits: Traits | None = None

    def of(self, rows: Sequence[Row], facts: Sequence[Condition], places: list[Place]) -> Traits:
        stages = [fact.stage for fact in facts]
        rooting = [fact.aftercare.roots is not None for fact in facts]
        bagged = [
            fact.aftercare.bagged and not row.bag_open
            for row, fact in zip(rows, facts, strict=True)
        ]
        made_of = (stages, rooting, places, bagged)
        if self._traits is None or made_of != self._made_of:
            self._traits, self._made_of = traits_of(self._footing, *made_of), made_of
        return self._traits


def _legs(notes: _Notes, weather: Weather) -> list[slice]:
    """Cut the hours at UTC midnights and at the hours in which these trees' journal says something.

    An hour's value ends at its time, so a leg that begins at midnight has 01:00 as its first.
    """
    begins = (weather.times - HOUR_S).tolist()
    cuts = [i for i, at in enumerate(begins) if i and (at % DAY_S == 0 or at in notes.by_hour)]
    edges = [0, *cuts, weather.hours]
    return [slice(a, b) for a, b in pairwise(edges)]


def _hour_after(moment: datetime) -> int:
    """The first whole hour at or after a moment, UTC seconds: from then on it counts."""
    return -(-int(moment.timestamp()) // HOUR_S) * HOUR_S


def _begin(hours: Weather) -> datetime:
    return datetime.fromtimestamp(int(hours.times[0]) - HOUR_S, tz=UTC)


def _since(entries: Sequence[Entry], begins: datetime) -> datetime:
    """Since when a tree is as it stands: the UTC midnight before, or its own entry after that.

    Not ``begins`` itself: where a run is cut, or what else is in it, must change nothing.
    """
    noted = [_hour_after(entry.at) for entry in entries if entry.at <= begins]
    return max([begins.replace(hour=0), *(datetime.fromtimestamp(at, tz=UTC) for at in noted)])


def _is_midnight(moment: datetime) -> bool:
    return moment.timestamp() % DAY_S == 0


def _new_day(state: State, midnight: datetime, latitude: float) -> State:
    """Count the day that has ended into the season, and look at how wet the pots are."""
    day = midnight.date() - DAY
    known = state.day_hours > 0
    mean_c = state.day_sum_c / np.maximum(state.day_hours, 1)
    clock = season.Clock(day - DAY, state.warmth_cd, state.chill_days)
    after = season.advance_clock(clock, day, np.where(known, mean_c, season.BASE_C), latitude)
    blank = np.zeros_like(state.day_sum_c)
    return replace(
        state,
        warmth_cd=after.warmth_cd,
        chill_days=np.where(known, after.chill_days, state.chill_days),
        day_sum_c=blank,
        day_hours=blank,
        wetness=state.water_left,
        root_warmth_cd=state.root_warmth_cd + state.root_day_cd,
        root_day_cd=blank,
        ten_days_c=state.deep_c.mean(axis=1),
    )


def _root_clock(state: State, row: int) -> RootClock:
    return RootClock(float(state.root_warmth_cd[row]), float(state.taken_before_s[row]))


def _noted(state: State, notes: _Notes, begins: datetime) -> State:
    """Set the clocks that start with an entry of the hour before ``begins``."""
    entries = notes.by_hour.get(int(begins.timestamp()))
    if not entries:
        return state
    root, day = state.root_warmth_cd.copy(), state.root_day_cd.copy()
    seen, taken = state.seen_warmth_cd.copy(), state.taken_before_s.copy()
    for entry in entries:
        for row in notes.rows[entry.tree]:
            if isinstance(entry, Work) and entry.work in ROOT_WORKS:
                if not _some_untaken(notes.by_tree[entry.tree], entry, _root_clock(state, row)):
                    taken[row] = entry.at.timestamp()
                root[row] = day[row] = 0.0
            elif isinstance(entry, Sighting):
                seen[row] = state.warmth_cd[row]
    return replace(
        state, root_warmth_cd=root, root_day_cd=day, seen_warmth_cd=seen, taken_before_s=taken
    )


def _some_untaken(own: Sequence[Entry], entry: Work, clock: RootClock) -> bool:
    """Whether roots cut before ``entry`` had yet to take when it was done."""
    earlier = (e for e in own if isinstance(e, Work) and e.at < entry.at)
    return any(roots_untaken(work, entry.at, clock) for work in earlier)


def _watered(
    setting: Setting, rows: Sequence[Row], notes: _Notes, hours: Weather
) -> NDArray[np.bool_]:
    """Whether each tree is watered in each hour (tree, hour): by the routine, or as noted."""
    begins = _begin(hours)
    ends = datetime.fromtimestamp(int(hours.times[-1]), tz=UTC)
    routine = waterings_between(
        setting.routines, setting.hands_on, begins, ends, setting.garden.timezone
    )
    out = np.empty((len(rows), hours.hours), dtype=bool)
    out[:] = _hours_of(routine, hours)
    for row, wanted in enumerate(rows):
        if wanted.waterings:
            out[row] |= _hours_of(wanted.waterings, hours)
    for name, entries in notes.by_tree.items():
        by_hand = [e.at for e in entries if isinstance(e, Watering) and begins < e.at <= ends]
        if by_hand:
            out[notes.rows[name]] |= _hours_of(by_hand, hours)
    return out


def _hours_of(moments: Sequence[datetime], hours: Weather) -> NDArray[np.bool_]:
    return np.isin(hours.times, [_hour_after(moment) for moment in moments])
