"""The journal's part in a course: what its entries set, and when pots are watered."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from underbench.rules.course.inputs import Row, Setting
from underbench.rules.garden.journal import Entry, Sighting, TreeAt, Watering, Work, fold
from underbench.rules.garden.local_time import waterings_between
from underbench.rules.garden.works import WorkKind
from underbench.rules.limits.aftercare import RootClock, cuts_roots, roots_untaken
from underbench.rules.physics.pot_water import capacity_l
from underbench.rules.physics.state import State
from underbench.rules.plants import stages as season
from underbench.rules.weather.hourly import HOUR_S, Array, Weather

AS_NEEDED_BELOW = 0.4  # a finger finds the mix dry an inch down; common practice, no source


@dataclass(frozen=True, slots=True)
class Notes:
    """The journal of the trees followed.

    ``by_tree`` holds each tree's entries in the journal's order, ``hours`` the hours from which
    they count (UTC seconds). ``by_hour`` holds all entries by that hour, ``rows`` the rows of each
    tree.
    """

    by_tree: Mapping[str, list[Entry]]
    hours: Mapping[str, list[int]]
    by_hour: Mapping[int, list[Entry]]
    rows: Mapping[str, list[int]]

    @classmethod
    def of(cls, rows: Sequence[Row], journal: Sequence[Entry]) -> Notes:
        """Return the entries of ``journal`` about ``rows``."""
        notes = cls(*(defaultdict(list) for _ in range(4)))
        for number, row in enumerate(rows):
            notes.rows[row.tree.name].append(number)
        for entry in journal:
            if entry.tree in notes.rows:
                hour = hour_after(entry.at)
                notes.by_tree[entry.tree].append(entry)
                notes.hours[entry.tree].append(hour)
                notes.by_hour[hour].append(entry)
        return notes


def noted(
    state: State, notes: Notes, begins: datetime, rows: Sequence[Row], setting: Setting
) -> State:
    """Set what starts with an entry of the hour before ``begins``: clocks and water.

    Every root work ends with the pot watered till it drains, every layer begins with wet moss.
    """
    entries = notes.by_hour.get(int(begins.timestamp()))
    if not entries:
        return state
    changed = {name: getattr(state, name).copy() for name in _SET_BY_ENTRIES}
    for entry in entries:
        own = notes.by_tree[entry.tree]
        for row in notes.rows[entry.tree]:
            if isinstance(entry, Work) and cuts_roots(entry):
                if not _some_untaken(own, entry, root_clock(state, row)):
                    changed["taken_before_s"][row] = entry.at.timestamp()
                changed["root_warmth_cd"][row] = changed["root_day_cd"][row] = 0.0
                pot = fold(rows[row].tree, own, entry.at).tree.container
                changed["water_l"][row] = capacity_l([pot])[0]
                changed["water_left"][row] = changed["wetness"][row] = 1.0
            elif isinstance(entry, Sighting):
                changed["seen_warmth_cd"][row] = state.warmth_cd[row]
                changed["pace"][row] = _learnt_pace(setting, state, row, entry)
            if _wets_moss(entry):
                changed["moss_left"][row] = 1.0
    return replace(state, **changed)


_SET_BY_ENTRIES = (
    "root_warmth_cd",
    "root_day_cd",
    "taken_before_s",
    "seen_warmth_cd",
    "pace",
    "moss_left",
    "water_l",
    "water_left",
    "wetness",
)


def _learnt_pace(setting: Setting, state: State, row: int, entry: Sighting) -> float:
    warmth_cd, chill_days, pace = (
        float(clock[row]) for clock in (state.warmth_cd, state.chill_days, state.pace)
    )
    return season.learnt_pace(
        setting.species[entry.tree].limits,
        season.Seen(entry.stage, entry.at.date(), warmth_cd),
        chill_days,
        pace,
        setting.garden.latitude,
    )


def _wets_moss(entry: Entry) -> bool:
    if isinstance(entry, Watering):
        return entry.moss
    return isinstance(entry, Work) and entry.work is WorkKind.START_LAYER


def _some_untaken(own: Sequence[Entry], entry: Work, clock: RootClock) -> bool:
    """Whether roots cut before ``entry`` had yet to take when it was done."""
    earlier = (e for e in own if isinstance(e, Work) and e.at < entry.at)
    return any(roots_untaken(work, entry.at, clock) for work in earlier)


def root_clock(state: State, row: int) -> RootClock:
    """Return how far the roots of a row have come."""
    return RootClock(float(state.root_warmth_cd[row]), float(state.taken_before_s[row]))


def watered(setting: Setting, rows: Sequence[Row], notes: Notes, hours: Weather) -> Array:
    """Return the share below which each tree's pot is filled in each hour (tree, hour).

    It is 1 where the routine waters or a watering was noted, and ``AS_NEEDED_BELOW`` where the
    keeper looks.
    """
    begins = begin_of(hours)
    ends = datetime.fromtimestamp(int(hours.times[-1]), tz=UTC)

    def routine(*, looks: bool) -> Sequence[datetime]:
        zone = setting.garden.timezone
        return waterings_between(
            setting.routines, setting.hands_on, begins, ends, zone, looks=looks
        )

    out = np.zeros((len(rows), hours.hours))
    out[:, _hours_of(routine(looks=True), hours)] = AS_NEEDED_BELOW
    out[:, _hours_of(routine(looks=False), hours)] = 1.0
    for row, wanted in enumerate(rows):
        if wanted.waterings:
            out[row, _hours_of(wanted.waterings, hours)] = 1.0
    for name, entries in notes.by_tree.items():
        pots = (e.at for e in entries if isinstance(e, Watering) and not e.moss)
        by_hand = [at for at in pots if begins < at <= ends]
        if by_hand:
            out[np.ix_(np.array(notes.rows[name]), _hours_of(by_hand, hours))] = 1.0
    return out


def _hours_of(moments: Sequence[datetime], hours: Weather) -> NDArray[np.bool_]:
    return np.isin(hours.times, [hour_after(moment) for moment in moments])


def folded(
    rows: Sequence[Row], notes: Notes, begins: datetime, before: Mapping[int, TreeAt]
) -> dict[int, TreeAt]:
    """Return the rows that the journal mentions, as they stand at ``begins``.

    ``before`` holds rows as they stood at an earlier moment; it may be empty. Each row is taken at
    the UTC midnight before, or at its own entry after that. It is not taken at ``begins`` itself:
    where a run is cut, or what else is in it, must change nothing.
    """
    midnight, begins_s = begins.replace(hour=0), int(begins.timestamp())
    found: dict[int, TreeAt] = {}
    for name, entries in notes.by_tree.items():
        mine = sorted(notes.rows[name], key=lambda row: rows[row].tied)
        last_s = max((hour for hour in notes.hours[name] if hour <= begins_s), default=0)
        at = max(midnight, datetime.fromtimestamp(last_s, tz=UTC))
        known = before.get(mine[0])
        if known is None or last_s > known.at.timestamp():
            known = fold(rows[mine[0]].tree, entries, at)
        elif known.at != at:  # a day later, nothing noted
            known = known.model_copy(update={"at": at})
        found |= {row: _as_in(rows[row], known) for row in mine}
    return found


def _as_in(row: Row, known: TreeAt) -> TreeAt:
    return known.model_copy(update={"tree": known.tree.tied_down()}) if row.tied else known


def hour_after(moment: datetime) -> int:
    """The first whole hour at or after a moment, UTC seconds; an entry counts from then on."""
    return -(-int(moment.timestamp()) // HOUR_S) * HOUR_S


def begin_of(hours: Weather) -> datetime:
    """Return when the first of ``hours`` begins."""
    return datetime.fromtimestamp(int(hours.times[0]) - HOUR_S, tz=UTC)
