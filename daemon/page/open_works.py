"""What is still open on a tree, when each part ends, and what was noted about the tree."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta
from typing import NamedTuple

from underbench.daemon.config.settings import Settings
from underbench.daemon.journal.noting import day_words, move_words
from underbench.daemon.page.one_tree import Glance
from underbench.daemon.wording.units import Units
from underbench.rules.garden.journal import (
    Entry,
    FlowersSeen,
    Handled,
    Move,
    Outcome,
    Sighting,
    Watering,
    Work,
)
from underbench.rules.limits.aftercare import SHADE_AFTER_BAG, SOFT_SHOOTS, care_of

SHOWN_NOTES = 20


class Part(NamedTuple):
    """One part of aftercare: what it asks, since which work, until when, and the ``share`` done."""

    asks: str
    since: str
    until: str
    share: float | None = None


class Noted(NamedTuple):
    """One line of a tree's journal."""

    at: datetime
    words: str


def open_parts(glance: Glance, settings: Settings) -> Iterator[Part]:
    """Yield the aftercare still open: roots, sun and wind, soft shoots, the bag."""
    outlook, row, units = glance.outlook, glance.row, Units(settings.units)
    care = outlook.condition(row).aftercare
    if care.roots and care.floor_c is not None:
        asked = care_of(care.roots)
        gained = float(outlook.state.root_warmth_cd[row])
        need = asked.root_warmth_cd if asked else 0.0
        weeks = asked.root_weeks if asked else 0.0
        first = day_words(care.roots.at + timedelta(weeks=weeks), settings)
        yield Part(
            f"Root ball no colder than {units.temp(care.floor_c)}",
            _since(care.roots, settings),
            f"ends when roots have taken: {units.warmth(gained)} of {units.warmth(need)} gained, "
            f"not before {first}",
            min(1.0, gained / need) if need else None,
        )
    if care.shelter:
        asked = care_of(care.shelter)
        until = care.shelter.at + timedelta(weeks=asked.shelter_weeks if asked else 0)
        since = _since(care.shelter, settings)
        yield Part("Out of strong sun and wind", since, f"ends {day_words(until, settings)}")
    if care.after_bag and care.bag is None:
        until = care.after_bag.at + SHADE_AFTER_BAG
        if until > outlook.now:
            since = _since(care.after_bag, settings)
            yield Part("Lead it back to the sun", since, f"ends {day_words(until, settings)}")
    if care.soft_shoots:
        until = care.soft_shoots.at + SOFT_SHOOTS
        since = _since(care.soft_shoots, settings)
        yield Part("Soft shoots, tenderer in frost", since, f"ends {day_words(until, settings)}")
    if care.bag:
        since = f"bagged on {day_words(care.bag.since, settings)}"
        yield Part(
            f"In a {care.bag.film} bag, {care.bag.opening}", since, "ends when you take it off"
        )
    if care.girdled:
        yield Part("A layer is rooting", _since(care.girdled, settings), "ends when it is severed")


def _since(work: Work, settings: Settings) -> str:
    return f"{work.work} on {day_words(work.at, settings)}"


def noted(journal: Sequence[Entry], tree: str) -> list[Noted]:
    """Return what was noted about a tree lately, the newest first."""
    mine = [Noted(entry.at, words_of(entry)) for entry in journal if entry.tree == tree]
    return mine[::-1][:SHOWN_NOTES]


def words_of(entry: Entry) -> str:
    """Return what an entry says, in a few words."""
    match entry:
        case Work():
            cut = f", {entry.roots_pct:.0f} % of roots" if entry.roots_pct is not None else ""
            into = f", into {entry.into.kind}" if entry.into else ""
            return f"{entry.work}{cut}{into}"
        case Sighting() | FlowersSeen():
            return f"seen: {entry.stage}"
        case Move():
            return move_words(entry)
        case Watering():
            return "moss watered" if entry.moss else "watered"
        case Outcome():
            return f"came through {entry.fate} ({_day(entry.night)})"
        case Handled():
            return "done what was told"


def _day(day: date) -> str:
    return f"{day.day} {day:%B}"
