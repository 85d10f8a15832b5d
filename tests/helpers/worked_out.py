"""What is worked out once for all tests: pure functions of the physics, by the bytes of what is
asked, and the tables of a new database.

Half of a first pass is the walk through the weeks before it, and most gardens of the tests share
those weeks. A thousand tests make a database of their own.
"""

from __future__ import annotations

import hashlib
import pickle
from collections.abc import Callable
from threading import current_thread, main_thread
from typing import Any, TypeVar

from sqlite_utils import Database

from underbench.rules.course.course import Course
from underbench.rules.garden.inventory import Garden
from underbench.rules.physics.exposure import EXPOSED, Exposure, Traits
from underbench.rules.physics.state import State
from underbench.rules.weather.hourly import Weather
from underbench.rules.weather.spread import Site

COURSES, STRETCHES = 128, 20_000  # of some 0.5 MB and 5 kB

_T = TypeVar("_T")
Felt = tuple[Exposure, State]


def following_once(follow: Callable[..., Course]) -> Callable[..., Course]:
    """The same as ``follow``."""
    known: dict[bytes, Course] = {}

    def kept(*given: Any) -> Course:
        asked = _bytes_of(given)
        return _latest(known, asked, known.pop(asked, None) or follow(*given), COURSES)

    return kept


def advancing_once(advance: Callable[..., Felt]) -> Callable[..., Felt]:
    """The same as ``advance``; what a past of one member was like is kept."""
    known: dict[bytes, Felt] = {}

    def kept(
        state: State,
        traits: Traits,
        weather: Weather,
        site: Site,
        garden: Garden,
        watered: Any,
        into: Exposure | None = None,
    ) -> Felt:
        given = (state, traits, weather, site, garden, watered)
        if weather.members > 1:
            return advance(*given, into)
        asked = _bytes_of(given)
        felt, end = _latest(known, asked, known.pop(asked, None) or advance(*given), STRETCHES)
        if into is None:
            return felt, end
        for name in EXPOSED:
            getattr(into, name)[:] = getattr(felt, name)
        return into, end

    return kept


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


def _bytes_of(given: tuple[Any, ...]) -> bytes:
    return hashlib.sha256(pickle.dumps(given)).digest()


def _latest(known: dict[bytes, _T], asked: bytes, found: _T, most: int) -> _T:
    """Keep ``found`` as the latest of at most so many."""
    known[asked] = found
    if len(known) > most:
        del known[next(iter(known))]
    return found
