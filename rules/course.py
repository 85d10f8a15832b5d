"""The course of a garden through weather: day by day, fold → season → aftercare → traits → advance.

Days are UTC days: a leg runs from one midnight, or one entry of the journal, to the next. What a
tree is in a leg comes from the days before it, so that a pass which stops and starts again walks
the same legs and meets the same hours.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from underbench.rules import exposure as exposures
from underbench.rules import season
from underbench.rules.aftercare import ROOT_WORKS, RootClock, open_aftercare, roots_open
from underbench.rules.exposure import Exposure, Traits
from underbench.rules.garden import Garden, HandsOn, Routine, Spot, Tree
from underbench.rules.hours import waterings_between
from underbench.rules.journal import Entry, Sighting, TreeAt, Watering, Work, fold
from underbench.rules.limits import Condition
from underbench.rules.members import Site
from underbench.rules.places import Place, place_of
from underbench.rules.species import Kind, Species
from underbench.rules.state import State
from underbench.rules.traits import tipping_gust, traits_of
from underbench.rules.weather import HOUR_S, Weather

DAY = timedelta(days=1)
DAY_S = 24 * HOUR_S


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
    """One tree to follow; ``place`` and ``bag_open`` are a remedy's, None and False its own."""

    tree: Tree
    place: Place | None = None
    bag_open: bool = False


@dataclass(frozen=True, slots=True)
class Course:
    """A run through weather: exposures of all its hours, the state at its end and at each UTC
    midnight passed, and the condition of each row on each UTC day it touched."""

    times: NDArray[np.int64]
    exposure: Exposure
    end: State
    midnights: tuple[tuple[datetime, State], ...]
    conditions: Mapping[date, tuple[Condition, ...]]


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
    state, parts, midnights = start, [], []
    conditions: dict[date, tuple[Condition, ...]] = {}
    for leg in _legs(rows, journal, weather):
        hours = weather.hours_at(leg)
        begins = _begin(hours)
        if _is_midnight(begins) and state.day_hours.any():  # a checkpoint has counted its day
            state = _new_day(state, begins, setting.garden.latitude)
            midnights.append((begins, state))
        state = _noted(state, rows, journal, begins)
        standing = [fold(row.tree, journal, _since(row.tree, journal, begins)) for row in rows]
        facts = conditions_at(setting, standing, state)
        conditions[begins.date()] = facts
        felt, state = exposures.advance(
            state,
            _traits(setting, rows, standing, facts, state),
            hours,
            site,
            setting.garden,
            _watered(setting, rows, journal, hours),
        )
        parts.append(felt)
    return Course(weather.times, exposures.join(parts), state, tuple(midnights), conditions)


def conditions_at(
    setting: Setting, standing: Sequence[TreeAt], state: State
) -> tuple[Condition, ...]:
    """Return each tree's stage, aftercare and footing, as its limits depend on them.

    The stage is the early edge of what the warmth so far allows: frost meets the leaves that may
    be open, and a bag the buds that may be moving.
    """
    return tuple(_condition(setting, at, state, row) for row, at in enumerate(standing))


def _condition(setting: Setting, at: TreeAt, state: State, row: int) -> Condition:
    limits = setting.species[at.tree.name].limits
    day, latitude = at.at.date(), setting.garden.latitude
    seen = None
    if at.sighting is not None:
        seen_cd = float(state.seen_warmth_cd[row])
        seen = season.Seen(at.sighting.stage, at.sighting.at.date(), seen_cd)
    warmth_cd = float(state.warmth_cd[row])
    stage = season.stage_of(
        limits,
        day,
        latitude,
        warmth_cd,
        seen,
        season.EARLY_EDGE,
        chill_days=float(state.chill_days[row]),
    )
    conifer = limits.kind in (Kind.CONIFER_EVERGREEN, Kind.CONIFER_DECIDUOUS)
    return Condition(
        tree=at.tree,
        stage=stage,
        aftercare=open_aftercare(at, _root_clock(state, row), conifer),
        unhardened_k=season.unhardened_k(day, latitude),
        tip_gust_ms=tipping_gust(at.tree, limits.kind, stage, float(state.wetness[row].mean())),
    )


def _traits(
    setting: Setting,
    rows: Sequence[Row],
    standing: Sequence[TreeAt],
    facts: Sequence[Condition],
    state: State,
) -> Traits:
    means_c = state.ten_days_c.tolist()
    places = [
        row.place or place_of(setting.spots[at.spot], mean_c)
        for row, at, mean_c in zip(rows, standing, means_c, strict=True)
    ]
    bagged = [
        fact.aftercare.bagged and not row.bag_open for row, fact in zip(rows, facts, strict=True)
    ]
    species = [setting.species[row.tree.name] for row in rows]
    return traits_of(species, facts, places, bagged)


def _legs(rows: Sequence[Row], journal: Sequence[Entry], weather: Weather) -> list[slice]:
    """Cut the hours at UTC midnights and at the hours in which these trees' journal says something.

    An hour's value ends at its time, so a leg that begins at midnight has 01:00 as its first.
    """
    begins = weather.times - HOUR_S
    names = {row.tree.name for row in rows}
    noted = {_hour_after(entry.at) for entry in journal if entry.tree in names}
    cuts = [i for i, at in enumerate(begins.tolist()) if i and (at % DAY_S == 0 or at in noted)]
    edges = [0, *cuts, weather.hours]
    return [slice(a, b) for a, b in pairwise(edges)]


def _hour_after(moment: datetime) -> int:
    """The first whole hour at or after a moment, UTC seconds: from then on it counts."""
    return -(-int(moment.timestamp()) // HOUR_S) * HOUR_S


def _begin(hours: Weather) -> datetime:
    return datetime.fromtimestamp(int(hours.times[0]) - HOUR_S, tz=UTC)


def _since(tree: Tree, journal: Sequence[Entry], begins: datetime) -> datetime:
    """Since when a tree is as it stands: the UTC midnight before, or its own entry after that.

    Not ``begins`` itself: where a run is cut, or what else is in it, must change nothing.
    """
    midnight = begins.replace(hour=0)
    noted = [_hour_after(e.at) for e in journal if e.tree == tree.name and e.at <= begins]
    return max([midnight, *(datetime.fromtimestamp(at, tz=UTC) for at in noted)])


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


def _noted(state: State, rows: Sequence[Row], journal: Sequence[Entry], begins: datetime) -> State:
    """Set the clocks that start with an entry of the hour before ``begins``."""
    root, day = state.root_warmth_cd.copy(), state.root_day_cd.copy()
    seen, taken = state.seen_warmth_cd.copy(), state.taken_before_s.copy()
    for row, wanted in enumerate(rows):
        for entry in journal:
            if entry.tree != wanted.tree.name or _hour_after(entry.at) != begins.timestamp():
                continue
            if isinstance(entry, Work) and entry.work in ROOT_WORKS:
                if not _some_open(wanted.tree, journal, entry, _root_clock(state, row)):
                    taken[row] = entry.at.timestamp()
                root[row] = day[row] = 0.0
            elif isinstance(entry, Sighting):
                seen[row] = state.warmth_cd[row]
    return replace(
        state, root_warmth_cd=root, root_day_cd=day, seen_warmth_cd=seen, taken_before_s=taken
    )


def _some_open(tree: Tree, journal: Sequence[Entry], entry: Work, clock: RootClock) -> bool:
    """Whether roots cut before ``entry`` had yet to take when it was done."""
    earlier = (
        e for e in journal if e.tree == tree.name and isinstance(e, Work) and e.at < entry.at
    )
    return any(roots_open(work, entry.at, clock) for work in earlier)


def _watered(
    setting: Setting, rows: Sequence[Row], journal: Sequence[Entry], hours: Weather
) -> NDArray[np.bool_]:
    """Whether each tree is watered in each hour (tree, hour): by the routine, or as noted."""
    begins = _begin(hours)
    ends = datetime.fromtimestamp(int(hours.times[-1]), tz=UTC)
    routine = waterings_between(
        setting.routines, setting.hands_on, begins, ends, setting.garden.timezone
    )
    by_hand = [entry for entry in journal if isinstance(entry, Watering)]
    by_tree = [
        [*routine, *(e.at for e in by_hand if e.tree == row.tree.name and begins < e.at <= ends)]
        for row in rows
    ]
    return np.array(
        [np.isin(hours.times, [_hour_after(m) for m in moments]) for moments in by_tree],
        dtype=bool,
    ).reshape(len(rows), hours.hours)
