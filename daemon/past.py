"""The garden's shared past: each tree's state now, from its checkpoint and the hours as used."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from contextlib import suppress
from datetime import datetime, timedelta

import numpy as np

from underbench.daemon.faults import Fault
from underbench.daemon.store import Checkpoint, Store
from underbench.rules import state as states
from underbench.rules.course import Course, Row, Setting, follow
from underbench.rules.estimate import complete
from underbench.rules.garden import Tree
from underbench.rules.journal import Entry
from underbench.rules.members import known_site
from underbench.rules.potwater import capacity_l
from underbench.rules.state import State
from underbench.rules.weather import NEEDED, Weather

# Raise it when a change to the rules makes carried states wrong: all trees are then walked again.
RULES_VERSION = "1"
HISTORY = timedelta(days=92)  # as far back as the forecast service reaches
KEPT_CHECKPOINTS = 8
DAY = timedelta(days=1)


class NoPast(Fault):
    """There are no hours of weather before now; ``str()`` is one clear line."""


def bring_up(
    store: Store, setting: Setting, trees: Sequence[Tree], journal: Sequence[Entry], hour: datetime
) -> State:
    """Return the state of ``trees`` at ``hour`` and keep a checkpoint for each midnight passed.

    A tree without a checkpoint of this rules' version and its present container starts at the
    beginning of the kept record, at most 92 days back. Raises NoPast when nothing is kept.
    """
    stamps = {tree.name: _stamp(setting, tree) for tree in trees}
    kept = _usable(store.checkpoints(hour), stamps)
    starts = {name: kept[name][0] if name in kept else None for name in stamps}
    found: dict[str, State] = {}
    for start in set(starts.values()):
        group = [tree for tree in trees if starts[tree.name] == start]
        begun = states.join([kept[tree.name][1] for tree in group]) if start else None
        course = _walk(store, setting, group, journal, begun, start, hour)
        end = course.end if course else begun
        if end is None:
            raise NoPast("no weather of the past days is known yet; it comes with a forecast")
        found |= {tree.name: end.take([row]) for row, tree in enumerate(group)}
        if course:
            _keep(store, group, course, stamps)
    return states.join([found[tree.name] for tree in trees])


def _usable(
    checkpoints: Mapping[str, Checkpoint], stamps: Mapping[str, str]
) -> dict[str, tuple[datetime, State]]:
    """Moment and state of the checkpoints made with the present rules and configuration."""
    found = {}
    for name, checkpoint in checkpoints.items():
        if checkpoint.stamp == stamps.get(name):
            with suppress(ValueError):  # what cannot be read counts as none
                found[name] = checkpoint.at, states.from_text(checkpoint.state)
    return found


def _walk(
    store: Store,
    setting: Setting,
    trees: Sequence[Tree],
    journal: Sequence[Entry],
    begun: State | None,
    start: datetime | None,
    hour: datetime,
) -> Course | None:
    """The course from ``start`` (None: the record's beginning) to ``hour``; None without hours."""
    # A day more than is walked, so that a gap at its start repeats the day before.
    known = store.hours((start or hour - HISTORY) - DAY, hour)
    if any(np.isnan(getattr(known, name)).all() for name in NEEDED):
        return None
    whole, _ = complete(known, setting.garden)
    weather = whole.between(start, hour) if start else whole
    if not weather.hours:
        return None
    if begun is None:
        first_day_c = float(weather.air_c[0, :24].mean())
        begun = states.begin(capacity_l([tree.container for tree in trees]), first_day_c)
    return follow(setting, [Row(tree) for tree in trees], journal, begun, weather, known_site())


def _keep(store: Store, trees: Sequence[Tree], course: Course, stamps: dict[str, str]) -> None:
    for midnight, state in course.midnights[-KEPT_CHECKPOINTS:]:
        texts = {tree.name: states.to_text(state, row) for row, tree in enumerate(trees)}
        store.keep_checkpoints(midnight, texts, {name: stamps[name] for name in texts})
        store.prune_checkpoints(midnight - KEPT_CHECKPOINTS * DAY)


def _stamp(setting: Setting, tree: Tree) -> str:
    """What a tree's carried state depends on beside weather and journal."""
    parts = [
        RULES_VERSION,
        tree.model_dump_json(),
        *(spot.model_dump_json() for _, spot in sorted(setting.spots.items())),
        *(routine.model_dump_json() for routine in setting.routines),
        setting.garden.model_dump_json(),
    ]
    return hashlib.sha256("\n".join(parts).encode()).hexdigest()[:16]


def unknown_days(store: Store, hour: datetime) -> int:
    """Return how many past days to ask for, to heal what the kept record lacks (1 to 92)."""
    known: Weather = store.hours(hour - HISTORY, hour)
    if not known.hours:
        return HISTORY.days
    missing = hour.timestamp() - float(known.times[-1])
    return min(HISTORY.days, 1 + int(missing // DAY.total_seconds()) + 1)
