"""Notes how trees came through, beside what was forecast and what they felt."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

import numpy as np

from underbench.daemon.config.settings import Settings
from underbench.daemon.faults import Fault
from underbench.daemon.journal.borne import proposals
from underbench.daemon.journal.lookup import named
from underbench.daemon.journal.noting import day_gone, keep, trees_named
from underbench.daemon.outlook.checkpoints import as_it_was
from underbench.daemon.outlook.garden_now import journal_at, setting_of
from underbench.daemon.store.episodes import EpisodeRow
from underbench.daemon.store.store import Store
from underbench.daemon.wording.units import Units
from underbench.daemon.wording.vocabulary import quantity
from underbench.rules.garden.inventory import Tree
from underbench.rules.garden.journal import Fate, Outcome
from underbench.rules.garden.local_time import NOON, Stretch, local_day, local_moment
from underbench.rules.hazards import hazard_of
from underbench.rules.hazards.findings import Strength
from underbench.rules.hazards.hazard import Action, Hazard
from underbench.rules.hazards.judge import judged_in
from underbench.rules.hazards.leaf_frost import LEAF_FROST, figure_in_force
from underbench.rules.weather.spread import known_site

MIDNIGHT = time(0)
LATELY = timedelta(days=30)
A_DAY, AN_HOUR = timedelta(days=1), timedelta(hours=1)
BY_DAY = (Action.SHADE, Action.VENT, Action.WATER, Action.LIGHT)
_FATES = {fate.value: fate for fate in Fate}


@dataclass(frozen=True, slots=True)
class _Night:
    """A night, or the day of a hazard by day. ``day`` is the local day on which it began; ``told``
    is what was told about it, None if nothing was."""

    day: date
    span: Stretch
    told: EpisodeRow | None

    @property
    def hazard(self) -> Hazard:
        """The hazard looked at; frost on leaves for a night that nothing was told about."""
        return hazard_of(self.told.hazard) if self.told else LEAF_FROST

    @property
    def covered(self) -> bool:
        """Whether the tree was covered where it stood, or seen to in some other way."""
        told = self.told
        return told is not None and told.handled_at is not None and told.into_spot is None

    @property
    def words(self) -> str:
        by_day = self.told is not None and self.told.action in BY_DAY
        return f"the {'day' if by_day else 'night'} of {self.day.day} {self.day:%B}"


def note_outcome(
    store: Store, settings: Settings, words: Sequence[str], night: str | None, now: datetime
) -> str:
    """Record how trees came through a night; return it beside what was known.

    ``words`` name the trees and, in one word, their fate. The night began on the day ``night``
    (None: the night told last). Raises Fault for unknown names, and for what is no day.
    """
    names, fate = _fate_among(settings, words)
    day = night and day_gone("--night", night, local_day(now, settings.garden.timezone))
    with store.transaction():
        trees = trees_named(settings, names)
        nights = [_night(store, settings, tree, day or None, now) for tree in trees]
        noted = [
            _outcome(store, settings, tree, fate, one, now)
            for tree, one in zip(trees, nights, strict=True)
        ]
        keep(store, noted)
        if fate is Fate.LOST:
            close_all(store, {tree.name for tree in trees}, now)
        ask = [] if fate is Fate.LOST else proposals(store, settings, trees)
    lines = [_words(*pair, settings) for pair in zip(noted, nights, strict=True)]
    lines += [one.words(Units(settings.units)) for one in ask]
    return "\n".join([*lines, *([_taken_out(trees)] if fate is Fate.LOST else [])])


def _fate_among(settings: Settings, words: Sequence[str]) -> tuple[Sequence[str], Fate]:
    """Split words into tree names and the fate, which stands last or anywhere else."""
    trees = {tree.name.casefold() for tree in settings.trees}
    fates = [i for i, word in enumerate(words) if word.casefold() in _FATES]
    where = fates[-1] if fates else len(words) - 1
    if not fates and words[where].casefold() in trees:
        raise Fault(f"say how it came through: {', '.join(_FATES)}")
    fate = named("outcome", words[where], _FATES)
    names = [*words[:where], *words[where + 1 :]]
    if not names:
        raise Fault(f"{fate}: which tree? Name one or more before it")
    return names, fate


def _night(store: Store, settings: Settings, tree: Tree, day: date | None, now: datetime) -> _Night:
    """The night of ``day``, and what was told about it. Without a day it is the night of the last
    danger within a month, else of the last alert, else last night."""
    zone = settings.garden.timezone
    since = now - LATELY if day is None else local_moment(day, MIDNIGHT, zone)
    told = [
        row
        for row in store.episodes.since(since)
        if row.tree == tree.name
        and row.told_at is not None
        and row.from_at <= now
        and day in (None, _began(row, zone))
    ]
    if not told:
        day = day or local_day(now, zone) - A_DAY
        return _Night(day, _around(day, NOON, zone), None)
    row = max(told, key=lambda row: _weight(row, zone))
    day = _began(row, zone)
    span = Stretch(row.span_start, row.span_end)
    if row.span.is_long:
        span = _around(day, MIDNIGHT if row.action in BY_DAY else NOON, zone)
    return _Night(day, span, row)


def _weight(row: EpisodeRow, zone: str) -> tuple[bool, date, float]:
    return row.told_strength == Strength.DANGER, _began(row, zone), row.told_chance or row.chance


def _began(row: EpisodeRow, zone: str) -> date:
    """The day that stands for an episode: its span's first, or a season's first bad day."""
    return local_day(row.from_at if row.span.is_long else row.span_start, zone)


def _around(day: date, clock: time, zone: str) -> Stretch:
    return Stretch(local_moment(day, clock, zone), local_moment(day + A_DAY, clock, zone))


def _outcome(
    store: Store, settings: Settings, tree: Tree, fate: Fate, night: _Night, now: datetime
) -> Outcome:
    felt, limit, figure = _felt(store, settings, tree, night, now) or (None, None, None)
    told = night.told
    return Outcome(
        tree=tree.name,
        at=now.replace(microsecond=0),
        fate=fate,
        night=night.day,
        hazard=night.hazard.key,
        limit=told.told_limit if told else limit,
        forecast=told.told_worst if told else None,
        chance=told.told_chance if told else None,
        felt=felt,
        figure=None if night.covered else figure,
    )


def _felt(
    store: Store, settings: Settings, tree: Tree, night: _Night, now: datetime
) -> tuple[float, float, str | None] | None:
    """The worst that a tree felt in the weather as it came, its limit, and the key of the keeper's
    limit if that alone was in force. It is judged where the tree stood then. None if what it felt
    is unknown, or the tree has no such limit."""
    # For a night not over yet, as far as an hourly pass has kept it.
    end = min(night.span.end, now.replace(minute=0, second=0, microsecond=0) - AN_HOUR)
    span = Stretch(night.span.start, end)
    setting = setting_of(settings)
    journal = journal_at(settings, store, now)
    course = as_it_was(store, setting, tree, journal, span) if span.start < end else None
    if course is None:
        return None
    _, one = judged_in(setting, course, known_site(), span, night.hazard)
    if one is None or one.limits[0] is None:
        return None
    known = one.value[np.isfinite(one.value)]
    worst = np.min if night.hazard.low else np.max
    if not known.size:
        return None
    condition = course.conditions[max(course.conditions)][0]
    kind = setting.species[tree.name]
    figure = figure_in_force(kind, condition) if night.hazard is LEAF_FROST else None
    return float(worst(known)), one.limits[0].harm, figure


def close_all(store: Store, names: Collection[str], now: datetime) -> None:
    """Close all that is open for trees that are gone: no calling off, no telling to go back."""
    for name in names:
        store.episodes.untell(name, now)
    store.episodes.put(
        replace(row, back_told_at=row.back_told_at or now)
        for row in store.episodes.since(now - LATELY)
        if row.tree in names and row.told_at is not None
    )


def _words(noted: Outcome, night: _Night, settings: Settings) -> str:
    how = (
        f"{noted.tree} was lost in {night.words}"
        if noted.fate is Fate.LOST
        else f"{noted.tree} came through {night.words} {noted.fate}"
    )
    return " ".join(
        [f"Noted: {how}.", _told(noted, night, settings), _as_felt(noted, night, settings)]
    )


def _told(noted: Outcome, night: _Night, settings: Settings) -> str:
    if noted.forecast is None or noted.limit is None or noted.chance is None:
        return "Nothing was told of it." if night.told is None else "What was told is not kept."
    worst, limit = (_quantity(value, night, settings) for value in (noted.forecast, noted.limit))
    return f"Told: {night.hazard.short} {worst} (limit {limit}), chance {noted.chance:.0%}."


def _as_felt(noted: Outcome, night: _Night, settings: Settings) -> str:
    if noted.felt is None:
        return "What it felt is not known: some of the weather of those hours was not kept."
    felt = _quantity(noted.felt, night, settings)
    if night.told is None and noted.limit is not None:
        felt = f"{night.hazard.short} {felt} (limit {_quantity(noted.limit, night, settings)})"
    bare = ", without a cover" if night.covered else ""
    return f"Felt, by the weather as it was{bare}: {felt}."


def _quantity(value: float, night: _Night, settings: Settings) -> str:
    return quantity(value, night.hazard.measured_on, Units(settings.units))


def _taken_out(trees: Sequence[Tree]) -> str:
    if len(trees) == 1:
        return "It is no longer watched. It stays in the file until you take it out."
    return "They are no longer watched. They stay in the file until you take them out."
