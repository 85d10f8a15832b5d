"""The garden's shared past: each tree's state now, from its checkpoint and the hours as used."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np

from underbench.daemon.faults import Fault
from underbench.daemon.store.store import Store
from underbench.rules.course.course import Course, follow
from underbench.rules.course.inputs import Row, Setting
from underbench.rules.garden.inventory import Tree
from underbench.rules.garden.journal import Entry, fold
from underbench.rules.garden.local_time import Stretch
from underbench.rules.limits.aftercare import cuts_roots, usual_root_warmth_cd
from underbench.rules.physics import state as states
from underbench.rules.physics.pot_water import capacity_l
from underbench.rules.physics.state import State
from underbench.rules.plants.hardening import usual_faded
from underbench.rules.weather.fill_gaps import complete
from underbench.rules.weather.hourly import HOUR_S, NEEDED, Weather
from underbench.rules.weather.spread import known_site

# Raise it when a change to the rules makes carried states wrong: all trees are then walked again.
RULES_VERSION = "8"
FIRST_DAYS_H = 240
HISTORY = timedelta(days=92)  # as far back as the forecast service reaches
RECORD = timedelta(days=400)  # a tree that was never walked is walked from there
KEPT_CHECKPOINTS = 8
LOOKED_AT = timedelta(days=14)  # a layer's moss is looked at by then; common practice, no source
DAY, WEEK = timedelta(days=1), timedelta(days=7)


class NoPast(Fault):
    """No hours of weather before now are known; ``str()`` is one clear line."""


def bring_up(
    store: Store, setting: Setting, trees: Sequence[Tree], journal: Sequence[Entry], hour: datetime
) -> State:
    """Return the state of ``trees`` at ``hour`` and keep a checkpoint for each midnight passed.

    A tree without a usable checkpoint starts at the beginning of the kept record. Raises NoPast
    when nothing is kept.
    """
    stamps = {tree.name: _stamp(setting, tree) for tree in trees}
    kept = _starts(store, trees, stamps, journal, hour)
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


def _starts(
    store: Store,
    trees: Sequence[Tree],
    stamps: Mapping[str, str],
    journal: Sequence[Entry],
    hour: datetime,
) -> dict[str, tuple[datetime, State]]:
    """From which moment and state each tree is walked on; a tree without a checkpoint is left out.

    A tree whose configuration has changed starts from its oldest checkpoint: its season and its
    roots go on, while heat and water have some days to find their new course.
    """
    latest, oldest = store.checkpoints.before(hour), store.checkpoints.oldest()
    found = {}
    for tree in trees:
        checkpoint, changed = latest.get(tree.name), False
        if checkpoint and checkpoint.stamp != stamps[tree.name]:
            checkpoint, changed = oldest.get(tree.name), True
        if checkpoint is None or not checkpoint.stamp.startswith(f"{RULES_VERSION}:"):
            continue
        with suppress(ValueError):  # an unreadable checkpoint counts as none
            state = states.from_text(checkpoint.state)
            if changed:
                pot = fold(tree, journal, checkpoint.at).tree.container
                state = states.refilled(state, capacity_l([pot]))
            found[tree.name] = checkpoint.at, state
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
    # A day more than is walked, so that a gap at the start can repeat the day before.
    known = store.hours.between((start or hour - RECORD) - DAY, hour)
    if any(np.isnan(getattr(known, name)).all() for name in NEEDED):
        return None
    whole, _ = complete(known, setting.garden)
    weather = whole.between(start, hour) if start else whole
    if not weather.hours:
        return None
    if begun is None:
        begun = _begun(setting, trees, journal, weather)
    return follow(setting, [Row(tree) for tree in trees], journal, begun, weather, known_site())


def _begun(
    setting: Setting, trees: Sequence[Tree], journal: Sequence[Entry], weather: Weather
) -> State:
    """Trees at the record's beginning. Roots cut before it have gained the usual warmth since. Moss
    wetted long before counts as dry, so that somebody looks."""
    first = datetime.fromtimestamp(int(weather.times[0]), tz=UTC)
    first_day_c = float(weather.air_c[0, :24].mean())
    standing = [fold(tree, journal, first) for tree in trees]
    begun = states.begin(capacity_l([at.tree.container for at in standing]), first_day_c)
    # One cold day says little of the ground below a bed, which remembers it for weeks.
    subsoil_c = np.full_like(begun.subsoil_c, weather.air_c[0, :FIRST_DAYS_H].mean())
    gained = begun.root_warmth_cd.copy()
    for row, at in enumerate(standing):
        work = next((work for work in reversed(at.works) if cuts_roots(work)), None)
        if work is not None:
            gained[row] = usual_root_warmth_cd(work.at, first, setting.garden.latitude)
    faded = usual_faded(first.date(), setting.garden.latitude)
    wet = [
        at.moss_dries_since is None or at.moss_dries_since > first - LOOKED_AT for at in standing
    ]
    return replace(
        begun,
        subsoil_c=subsoil_c,
        root_warmth_cd=gained,
        faded=begun.faded + faded,
        moss_left=np.array(wet, dtype=float),
    )


def _keep(store: Store, trees: Sequence[Tree], course: Course, stamps: dict[str, str]) -> None:
    for midnight, state in course.midnights[-KEPT_CHECKPOINTS:]:
        texts = {tree.name: states.to_text(state, row) for row, tree in enumerate(trees)}
        store.checkpoints.keep(midnight, texts, {name: stamps[name] for name in texts})
        store.checkpoints.prune(midnight - KEPT_CHECKPOINTS * DAY)


NOT_PHYSICAL = {"limits", "kin_limits", "act_from", "kill_from", "flowers_from"}


def _stamp(setting: Setting, tree: Tree) -> str:
    """The rules' version, and all that heat and water depend on besides weather and journal."""
    garden = setting.garden
    parts = [
        tree.model_dump_json(exclude=NOT_PHYSICAL),
        *(spot.model_dump_json(exclude={"limits"}) for _, spot in sorted(setting.spots.items())),
        *(routine.model_dump_json() for routine in setting.routines),
        garden.model_dump_json(exclude={"name"}),
    ]
    return f"{RULES_VERSION}:{hashlib.sha256(chr(10).join(parts).encode()).hexdigest()[:16]}"


def as_it_was(
    store: Store, setting: Setting, tree: Tree, journal: Sequence[Entry], span: Stretch
) -> Course | None:
    """Return the course of a tree through ``span``, by the hours as used. None if an hour is
    unknown or no earlier checkpoint is kept. Keeps nothing."""
    wanted = int((span.end - span.start).total_seconds()) // HOUR_S
    known = store.hours.between(span.start, span.end)
    whole = all(np.isfinite(getattr(known, name)).sum() == wanted for name in NEEDED)
    begun = _starts(store, [tree], {tree.name: _stamp(setting, tree)}, journal, span.start)
    if not whole or tree.name not in begun:
        return None
    at, state = begun[tree.name]
    return _walk(store, setting, [tree], journal, state, at, span.end) if at <= span.start else None


def unknown_days(store: Store, hour: datetime) -> int:
    """Return how many past days to ask for, to fill gaps of the kept record (1 to 92).

    The archive fills gaps older than a week.
    """
    for back in (WEEK, HISTORY):  # the last days nearly always suffice, and are quick to read
        known = store.hours.known(hour - back, hour)
        if len(known):
            whole = np.arange(known[0], hour.timestamp() + 1, HOUR_S)
            missing = whole[~np.isin(whole, known)]
            lacking_s = hour.timestamp() - float(missing[0]) if len(missing) else 0.0
            return min(HISTORY.days, 1 + int(lacking_s // DAY.total_seconds()) + 1)
    return HISTORY.days
