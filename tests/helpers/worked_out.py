"""What is worked out once for all tests: the physics of each tree, by the bytes of what is asked,
the days that a garden has come through, and the tables of a new database.

Most of a first pass is the walk through the weeks before it, and most gardens of the tests have
trees that others have, in the same weather. A thousand tests make a database of their own.
"""

from __future__ import annotations

import hashlib
import pickle
from collections.abc import Callable, Sequence
from dataclasses import fields
from functools import partial
from threading import Lock, current_thread, main_thread
from typing import Any

import numpy as np
from numpy.typing import NDArray
from sqlite_utils import Database

from underbench.rules.course.course import DAY_S, Conditions, Course
from underbench.rules.course.inputs import Row, Setting
from underbench.rules.garden.inventory import Garden
from underbench.rules.garden.journal import Entry
from underbench.rules.physics import exposure
from underbench.rules.physics import state as states
from underbench.rules.physics.exposure import EXPOSED, Exposure, Traits, blank
from underbench.rules.physics.pots import Ball
from underbench.rules.physics.state import State
from underbench.rules.weather.hourly import VARIABLES, Weather
from underbench.rules.weather.spread import Site

MOST_BYTES = 250_000_000
OBJECTS_BYTES = 5_000  # of the state of one row
WORTH_H, MOST_WALKS = 5 * 24, 60  # of a walk, and of walks that are kept
MOST_TREES = 60  # beyond that, telling trees apart takes longer than walking them

Felt = tuple[Exposure, State]


def advancing_once(advance: Callable[..., Felt]) -> Callable[..., Felt]:
    """The same as ``advance``; what each tree was like through a stretch of hours is kept."""
    known, one_at_a_time = _Kept(), Lock()

    def kept(
        state: State,
        traits: Traits,
        weather: Weather,
        site: Site,
        garden: Garden,
        watered: Any,
        into: Exposure | None = None,
    ) -> Felt:
        keys = _keys(state, traits, (weather, site, garden), watered)
        first = {key: row for row, key in enumerate(keys)}  # trees that are alike are one
        if len(first) > MOST_TREES:
            return advance(state, traits, weather, site, garden, watered, into)
        felt = into or blank(state.trees, weather.members, weather.hours)
        with one_at_a_time:
            missing = [key for key in first if key not in known]
            if missing:
                rows = np.array([first[key] for key in missing])
                some = state.take(rows), _taken(traits, rows), weather, site, garden, watered[rows]
                known.keep(missing, *advance(*some))
            return felt, known.tell(keys, felt)

    return kept


class _Kept:
    """Rows of exposures and states by key: the latest, up to so many bytes."""

    def __init__(self) -> None:
        self._rows: dict[bytes, tuple[Exposure, State, int]] = {}
        self._bytes = 0

    def __contains__(self, key: bytes) -> bool:
        return key in self._rows

    def keep(self, keys: Sequence[bytes], felt: Exposure, end: State) -> None:
        self._rows |= {key: (felt, end, row) for row, key in enumerate(keys)}
        self._bytes += len(keys) * _size_of_row(felt)

    def tell(self, keys: Sequence[bytes], into: Exposure) -> State:
        """Write what is kept under ``keys`` into ``into``; return the states."""
        self._rows |= {key: self._rows.pop(key) for key in set(keys)}  # now the latest
        found = [self._rows[key] for key in keys]
        parts, order = [], []
        for run in {id(end): (felt, end) for felt, end, _ in found}.values():
            at = [number for number, (_, end, _) in enumerate(found) if end is run[1]]
            rows = np.array([found[number][2] for number in at])
            for name in EXPOSED:
                getattr(into, name)[at] = getattr(run[0], name)[rows]
            parts.append(run[1].take(rows))
            order += at
        while self._bytes > MOST_BYTES:
            self._bytes -= _size_of_row(self._rows.pop(next(iter(self._rows)))[0])
        ends = states.join(parts)
        return ends if len(parts) == 1 else ends.take(np.argsort(order))


def walking_once(follow: Callable[..., Course]) -> Callable[..., Course]:
    """The same as ``follow``; the whole days at the beginning of a past are kept. A course that is
    cut at a midnight and continued gives the same bits."""
    known: dict[bytes, tuple[Course, Setting]] = {}  # a setting keeps its species, and their ids

    def kept(
        setting: Setting,
        rows: Sequence[Row],
        journal: Sequence[Entry],
        start: State,
        weather: Weather,
        site: Site,
    ) -> Course:
        hours = int((weather.times <= weather.times[-1] // DAY_S * DAY_S).sum())
        if not WORTH_H <= hours < weather.hours or len(rows) > MOST_TREES:
            return follow(setting, rows, journal, start, weather, site)
        days, today = weather.hours_at(slice(hours)), weather.hours_at(slice(hours, None))
        key = _walked(setting, rows, journal, start, days)
        if key not in known:
            while len(known) >= MOST_WALKS:
                known.pop(next(iter(known)))
            known[key] = follow(setting, rows, journal, start, days, site), setting
        known[key] = known.pop(key)  # now the latest
        past = known[key][0]
        last = follow(setting, rows, journal, past.end, today, site)
        both = past.conditions, last.conditions
        return Course(
            weather.times,
            exposure.join([past.exposure, last.exposure]),
            last.end,
            (*past.midnights, *last.midnights),
            Conditions({day: partial(facts.__getitem__, day) for facts in both for day in facts}),
        )

    return kept


def _walked(
    setting: Setting, rows: Sequence[Row], journal: Sequence[Entry], start: State, days: Weather
) -> bytes:
    """What a walk is made of, as a number. Its one member has the site that the keeper told."""
    kinds = [(name, id(species)) for name, species in setting.species.items()]
    own = setting.garden, dict(setting.spots), setting.routines, setting.hands_on
    key = hashlib.sha256(repr((own, kinds, rows, journal)).encode())
    arrays = [getattr(start, f.name) for f in fields(start)]
    for values in (days.times, *(getattr(days, name) for name in VARIABLES), *arrays):
        key.update(np.ascontiguousarray(values))
    return key.digest()


def _size_of_row(felt: Exposure) -> int:
    return OBJECTS_BYTES + sum(getattr(felt, name)[0].nbytes for name in EXPOSED)


def _keys(
    state: State, traits: Traits, around: tuple[Weather, Site, Garden], watered: Any
) -> list[bytes]:
    """What each row is made of, as a number for its bytes."""
    weather, site, garden = around
    shared = hashlib.sha256(repr((weather.air_c.shape, garden)).encode())
    hourly = (getattr(weather, name) for name in VARIABLES)
    drawn = (getattr(site, f.name) for f in fields(site))
    for values in (weather.times, *hourly, *drawn):
        shared.update(np.ascontiguousarray(values))
    ball, own = traits.ball, {f.name: getattr(traits, f.name) for f in fields(traits)}
    columns = [getattr(ball, f.name) for f in fields(ball)]
    columns += [values for values in own.values() if isinstance(values, np.ndarray)]
    columns += [getattr(state, f.name) for f in fields(state)] + [watered]
    matrix = np.column_stack([np.reshape(one, (state.trees, -1)) for one in columns])
    named = zip(traits.covers, traits.bags, strict=True)
    keys = []
    for row, names in enumerate(named):
        key = shared.copy()
        key.update(matrix[row])
        key.update(pickle.dumps(names))
        keys.append(key.digest())
    return keys


def _taken(traits: Traits, rows: NDArray[np.intp]) -> Traits:
    own: dict[str, Any] = {f.name: getattr(traits, f.name) for f in fields(traits)}
    ball: Ball = own.pop("ball")
    taken = {f.name: getattr(ball, f.name)[rows] for f in fields(ball)}
    for name, values in own.items():
        many = isinstance(values, tuple)
        own[name] = tuple(values[row] for row in rows) if many else values[rows]
    return Traits(ball=Ball(**taken), **own)


def migrating_once(migrate: Callable[[Database], None]) -> Callable[[Database], None]:
    """The same as ``migrate``; a new database gets a copy of the tables made for the first. Only
    for this thread: what several do at once is really done."""
    new = Database(memory=True, execute_plugins=False)

    def kept(db: Database) -> None:
        if current_thread() is not main_thread() or db.table_names():
            migrate(db)
            return
        if not new.table_names():
            migrate(new)
        new.conn.backup(db.conn)
        db.enable_wal()

    return kept
