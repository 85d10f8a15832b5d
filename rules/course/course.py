"""The course of a garden through weather: day by day, fold → season → aftercare → traits → advance.

Days are UTC days: a leg runs from one midnight, or one entry of the journal, to the next. What a
tree is in a leg follows from the days before it. So a pass that stops and starts again walks the
same legs and meets the same hours.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from functools import partial
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from underbench.rules.course.inputs import Row, Setting
from underbench.rules.course.journal_steps import (
    Notes,
    begin_of,
    folded,
    noted,
    root_clock,
    watered,
)
from underbench.rules.course.traits import STAGES, Footing, traits_of
from underbench.rules.garden.inventory import Spot, Tree
from underbench.rules.garden.journal import Entry, Flower, Stage, TreeAt, fold
from underbench.rules.limits.aftercare import Aftercare, open_aftercare
from underbench.rules.limits.condition import Condition
from underbench.rules.physics import exposure as exposures
from underbench.rules.physics import moss, sodden
from underbench.rules.physics.exposure import Exposure, Traits
from underbench.rules.physics.moss import Moss
from underbench.rules.physics.places import COLD_C, VENTED_FROM_C, Place, place_of
from underbench.rules.physics.state import State
from underbench.rules.physics.surroundings import distinct
from underbench.rules.plants import hardening
from underbench.rules.plants import stages as season
from underbench.rules.plants.flowers import flower_of
from underbench.rules.plants.species import Kind
from underbench.rules.weather.hourly import HOUR_S, Array, Weather
from underbench.rules.weather.spread import Site

DAY = timedelta(days=1)
DAY_S = 24 * HOUR_S
NOTHING_OPEN = Aftercare()


@dataclass(frozen=True, slots=True)
class Course:
    """A run through weather. It holds the exposures of all hours, the state at the end and at each
    UTC midnight passed, and the condition of each row on each UTC day that it touched."""

    times: NDArray[np.int64]
    exposure: Exposure
    end: State
    midnights: tuple[tuple[datetime, State], ...]
    conditions: Conditions

    def take(self, rows: Sequence[int]) -> Course:
        """Return the course of some rows, in the order asked, without the midnights."""
        known = self.conditions  # not self: its exposures are the larger part

        def on(day: date) -> tuple[Condition, ...]:
            return tuple(known[day][row] for row in rows)

        facts = Conditions({day: partial(on, day) for day in known})
        return Course(self.times, self.exposure.take(rows), self.end.take(rows), (), facts)


class Conditions(Mapping[date, tuple[Condition, ...]]):
    """The condition of each row by UTC day. A day is put together when it is first asked for,
    because a run through a long past asks for none."""

    def __init__(self, facts: Mapping[date, Callable[[], tuple[Condition, ...]]]) -> None:
        self._facts = facts
        self._made: dict[date, tuple[Condition, ...]] = {}

    def __getitem__(self, day: date) -> tuple[Condition, ...]:
        if day not in self._made:
            self._made[day] = self._facts[day]()
        return self._made[day]

    def __iter__(self) -> Iterator[date]:
        return iter(self._facts)

    def __len__(self) -> int:
        return len(self._facts)


def follow(
    setting: Setting,
    rows: Sequence[Row],
    journal: Sequence[Entry],
    start: State,
    weather: Weather,
    site: Site,
) -> Course:
    """Return the course of ``rows`` from ``start``, their state at the hour before ``weather``.

    ``weather`` must be complete (:func:`rules.weather.fill_gaps.complete`) and not empty, and
    ``site`` has its members. A ``start`` of one member is the past that all of them share.
    """
    notes = Notes.of(rows, journal)
    footing = Footing.of([row.stands for row in rows], setting.species)
    places, known = _PlacesKept(setting, rows), dict[int, TreeAt]()
    state, midnights, traits = start.fork(weather.members), [], _TraitsKept(footing)
    felt = exposures.blank(len(rows), weather.members, weather.hours)
    facts: dict[date, Callable[[], tuple[Condition, ...]]] = {}
    for leg in _legs(notes, weather):
        hours = weather.hours_at(leg)
        begins = begin_of(hours)
        if _is_midnight(begins) and state.day_hours.any():  # a checkpoint has counted its day
            state = _new_day(state, begins, setting.garden.latitude, footing)
            midnights.append((begins, state))
        state = noted(state, notes, begins, rows, setting)
        known = folded(rows, notes, begins, known)
        repotted = _repotted(footing, known)
        if repotted is not None:
            footing = Footing.of(repotted, setting.species)
            traits = _TraitsKept(footing)
        today = _today(setting, rows, footing, known, state, begins.date())
        facts[begins.date()] = today.conditions
        state = replace(state, bare_s=_bare_s(state, today, begins))
        _, state = exposures.advance(
            state,
            traits.of(today, places.of(known, state)),
            hours,
            site,
            setting.garden,
            watered(setting, rows, notes, hours),
            felt.hours(leg),
        )
    return Course(weather.times, felt, state, tuple(midnights), Conditions(facts))


def _bare_s(state: State, today: _Today, begins: datetime) -> Array:
    """Return when each tree last had no leaves, to the day."""
    midnight_s = begins.timestamp() // DAY_S * DAY_S
    return np.where(today.footing.leaf_shares(today.stages) == 0.0, midnight_s, state.bare_s)


def _repotted(footing: Footing, known: Mapping[int, TreeAt]) -> list[Tree] | None:
    """Return the trees in their containers of now; None when no tree changed its container."""
    trees = footing.trees
    moved = {
        row: at.tree
        for row, at in known.items()
        if at.tree is not trees[row] and at.tree.container != trees[row].container
    }
    return [moved.get(row, tree) for row, tree in enumerate(trees)] if moved else None


@dataclass(frozen=True, slots=True)
class _Today:
    """What each tree is in a leg; its limits and its traits follow from it. ``stages`` are numbers.
    ``cares`` is the aftercare of the trees that the journal mentions."""

    setting: Setting
    rows: Sequence[Row]
    footing: Footing
    known: Mapping[int, TreeAt]
    state: State
    day: date
    stages: NDArray[np.intp]
    cares: Mapping[int, Aftercare]

    def conditions(self) -> tuple[Condition, ...]:
        """Return each tree's stage, aftercare and footing, as its limits depend on them."""
        latitude, state, stages = self.setting.garden.latitude, self.state, self.stages
        unhardened_k = season.unhardened_k(self.day, latitude)
        chill = state.chill_days * self.footing.chill_worth
        sap = hardening.sap_moves(state.faded, chill, self.day, latitude, self.footing.hardens)
        tips_ms = self.footing.tipping_gusts_ms(stages, state.wetness.mean(axis=1))
        columns = (tips_ms, self.footing.rocking_shares(stages), state.faded, sap)
        by_row = zip(stages.tolist(), *(values.tolist() for values in columns), strict=True)
        return tuple(
            Condition(
                tree=self.footing.trees[row],
                stage=STAGES[stage],
                aftercare=self.cares.get(row, NOTHING_OPEN),
                unhardened_k=unhardened_k,
                tip_gust_ms=tip_ms,
                rocking_share=rocking,
                spot=self._spot(row),
                faded=faded,
                sap_moving=moving,
                moss=self._moss(row),
                leafy_there_since=self._leafy_there_since(row),
                flower=self._flower(row),
                sodden_days=float(state.sodden_days[row]),
            )
            for row, (stage, tip_ms, rocking, faded, moving) in enumerate(by_row)
        )

    def _leafy_there_since(self, row: int) -> datetime | None:
        at = self.known.get(row)
        if at is None or at.there_since is None:
            return None
        return max(at.there_since, datetime.fromtimestamp(float(self.state.bare_s[row]), tz=UTC))

    def _flower(self, row: int) -> Flower | None:
        at, state = self.known.get(row), self.state
        return flower_of(
            self.footing.limits[row],
            self.day,
            self.setting.garden.latitude,
            float(state.warmth_cd[row] / state.pace[row]),
            at.flowers if at else None,
        )

    def _spot(self, row: int) -> Spot:
        wanted, at = self.rows[row], self.known.get(row)
        return self.setting.spots[wanted.spot or (wanted.tree.spot if at is None else at.spot)]

    def _moss(self, row: int) -> Moss | None:
        at = self.known.get(row)
        dries_since = None if at is None else at.moss_dries_since
        if dries_since is None:
            return None
        return Moss(float(self.state.moss_left[row]), dries_since)


def _today(
    setting: Setting,
    rows: Sequence[Row],
    footing: Footing,
    known: Mapping[int, TreeAt],
    state: State,
    day: date,
) -> _Today:
    """Return what each tree is on ``day``, its stage at the early edge of what the warmth allows.
    Frost meets the leaves that may be open, and a bag the buds that may be moving."""
    cares = {}
    for row, at in known.items():
        conifer = footing.limits[row].kind in (Kind.CONIFER_EVERGREEN, Kind.CONIFER_DECIDUOUS)
        care = open_aftercare(at, root_clock(state, row), conifer)
        cares[row] = care.with_opening(rows[row].opening)
    stages = _stages(footing, known, state, day, setting.garden.latitude)
    return _Today(setting, rows, footing, known, state, day, stages, cares)


def _stages(
    footing: Footing,
    known: Mapping[int, TreeAt],
    state: State,
    day: date,
    latitude: float,
) -> NDArray[np.intp]:
    """Return the number of each row's stage. Trees of one kind that had the same days are at the
    same stage, unless one was seen at another."""
    clocks = (state.warmth_cd, state.chill_days, state.pace)
    first, alike = distinct(np.column_stack([footing.classes, *clocks]))

    def stage(row: int, seen: season.Seen | None) -> int:
        warmth_cd, chill_days, pace = (float(clock[row]) for clock in clocks)
        found = season.stage_of(
            footing.limits[row],
            day,
            latitude,
            warmth_cd,
            seen,
            season.EARLY_EDGE,
            chill_days=chill_days,
            pace=pace,
        )
        return STAGES.index(found)

    stages = np.array([stage(row, None) for row in first.tolist()], dtype=np.intp)[alike]
    for row, at in known.items():
        seen = seen_of(at, state, row)
        if seen is not None:
            stages[row] = stage(row, seen)
    return stages


def stages_at(
    setting: Setting, trees: Sequence[Tree], journal: Sequence[Entry], state: State, at: datetime
) -> list[Stage]:
    """Return the stages of ``trees`` at ``at``, from ``state`` at the midnight before."""
    known = {row: fold(tree, journal, at) for row, tree in enumerate(trees)}
    footing = Footing.of(trees, setting.species)
    numbers = _stages(footing, known, state, at.date(), setting.garden.latitude)
    return [STAGES[number] for number in numbers.tolist()]


def seen_of(at: TreeAt | None, state: State, row: int) -> season.Seen | None:
    """Return the stage last seen of a tree, with the warmth it had then; None without one."""
    if at is None or at.sighting is None:
        return None
    warmth_cd = float(state.seen_warmth_cd[row])
    return season.Seen(at.sighting.stage, at.sighting.at.date(), warmth_cd)


class _PlacesKept:
    """Where each row stands, kept until a tree is moved or a frame opened or shut."""

    def __init__(self, setting: Setting, rows: Sequence[Row]) -> None:
        self._setting, self._rows = setting, rows
        self._made_of: object = None
        self._places: list[Place] = []

    def of(self, known: Mapping[int, TreeAt], state: State) -> list[Place]:
        vented = (state.ten_days_c >= VENTED_FROM_C).tolist()
        stood = {row: (at.spot, at.layers, at.on_ground, at.cloth) for row, at in known.items()}
        made_of = (vented, stood)
        if made_of != self._made_of:
            self._places, self._made_of = self._placed(*made_of), made_of
        return self._places

    def _placed(self, vented: Sequence[bool], stood: Mapping[int, _Stood]) -> list[Place]:
        made: dict[tuple[_Stood, bool], Place] = {}

        def place(one: _Stood, airy: bool) -> Place:
            if (one, airy) not in made:
                spot, layers, on_ground, cloth = one
                bare = place_of(self._setting.spots[spot], _SHUT_AND_OPEN[airy])
                made[one, airy] = bare.as_left(layers, on_ground=on_ground, cloth=cloth)
            return made[one, airy]

        return [
            row.place or place(stood.get(number, (row.tree.spot, 0, False, False)), airy)
            for number, (row, airy) in enumerate(zip(self._rows, vented, strict=True))
        ]


_Stood = tuple[str, int, bool, bool]  # the spot, layers of fleece, on the ground, shade cloth
_SHUT_AND_OPEN = (COLD_C, VENTED_FROM_C)  # means at which frames stand shut, and open


class _TraitsKept:
    """The traits of the leg before, kept until something that they come from changes."""

    def __init__(self, footing: Footing) -> None:
        self._footing = footing
        self._made_of: object = None
        self._traits: Traits | None = None

    def of(self, today: _Today, places: list[Place]) -> Traits:
        rooting = {row for row, care in today.cares.items() if care.roots is not None}
        bags = {row: care.bag for row, care in today.cares.items() if care.bag is not None}
        stripped = {row for row, care in today.cares.items() if care.stripped is not None}
        made_of = (today.stages.tolist(), rooting, stripped, places, bags)
        if self._traits is None or made_of != self._made_of:
            trees = range(len(places))
            self._traits = traits_of(
                self._footing,
                today.stages,
                [row in rooting for row in trees],
                places,
                [bags.get(row) for row in trees],
                stripped,
            )
            self._made_of = made_of
        return self._traits


def _legs(notes: Notes, weather: Weather) -> list[slice]:
    """Cut the hours at UTC midnights and at the hours with an entry in these trees' journal.

    An hour's value ends at its time, so a leg that begins at midnight has 01:00 as its first.
    """
    begins = (weather.times - HOUR_S).tolist()
    cuts = [i for i, at in enumerate(begins) if i and (at % DAY_S == 0 or at in notes.by_hour)]
    edges = [0, *cuts, weather.hours]
    return [slice(a, b) for a, b in pairwise(edges)]


def _is_midnight(moment: datetime) -> bool:
    return moment.timestamp() % DAY_S == 0


def _new_day(state: State, midnight: datetime, latitude: float, footing: Footing) -> State:
    """Count the day that has ended into the season, and note how wet the pots are."""
    day = midnight.date() - DAY
    known = state.day_hours > 0
    mean_c = state.day_sum_c / np.maximum(state.day_hours, 1)
    clock = season.Clock(day - DAY, state.warmth_cd, state.chill_days)
    after = season.advance_clock(clock, day, np.where(known, mean_c, season.BASE_C), latitude)
    chill = after.chill_days * footing.chill_worth
    faded = hardening.advance_faded(state.faded, mean_c, chill, day, latitude, footing.hardens)
    blank = np.zeros_like(state.day_sum_c)
    return replace(
        state,
        warmth_cd=after.warmth_cd,
        chill_days=np.where(known, after.chill_days, state.chill_days),
        faded=np.where(known, faded, state.faded),
        day_sum_c=blank,
        day_hours=blank,
        wetness=state.water_left,
        root_warmth_cd=state.root_warmth_cd + state.root_day_cd,
        root_day_cd=blank,
        moss_left=moss.day_later(state.moss_left, mean_c),
        day_rain_mm=blank,
        sodden_days=sodden.day_later(
            state.sodden_days, state.day_rain_mm, state.water_left.mean(axis=1)
        ),
        ten_days_c=state.deep_c.mean(axis=1),
    )
