"""A reading typed by the keeper: what is meant, and what the forecast had."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from functools import partial
from math import isnan, nan
from typing import NamedTuple
from zoneinfo import ZoneInfo

from underbench.daemon.config.settings import Settings
from underbench.daemon.faults import Fault
from underbench.daemon.journal.lookup import named
from underbench.daemon.journal.noting import day_gone
from underbench.daemon.outlook.garden_now import journal_at
from underbench.daemon.readings.parse import quantity_named
from underbench.daemon.readings.sensor_report import where_words
from underbench.daemon.store.store import Store
from underbench.daemon.wording.reading_units import value_of, written
from underbench.daemon.wording.units import Units
from underbench.rules.garden.inventory import Spot, Tree
from underbench.rules.garden.journal import fold
from underbench.rules.garden.local_time import NOON, local_day, local_moment, nights
from underbench.rules.garden.readings import OF_A_TREE, Quantity, Reading
from underbench.rules.weather.sensor_checks import Aside, Told, judge

A_DAY, A_HOUR, A_SECOND = timedelta(days=1), timedelta(hours=1), timedelta(seconds=1)
_COMPARED = (Quantity.AIR, Quantity.AIR_MIN, Quantity.WIND)
_NAMES = {
    Quantity.AIR: "air",
    Quantity.AIR_MIN: "lowest air",
    Quantity.BENCH_SURFACE: "bench surface",
    Quantity.ROOT_BALL: "root ball",
    Quantity.BAG: "air in the bag",
    Quantity.FRAME: "air in the frame",
    Quantity.RAIN: "rain",
    Quantity.WIND: "wind",
}
_DOUBTS = {
    Aside.IMPOSSIBLE: "no such value is possible there",
    Aside.BEYOND: "that is not possible in that weather; look where the thermometer lies",
    Aside.FAHRENHEIT: "that looks like °F taken for °C; say it with its unit",
    Aside.CELSIUS: "that looks like °C taken for °F; say it with its unit",
}


class Said(NamedTuple):
    """What was typed."""

    value: str
    quantity: str
    place: str
    day: str | None
    clock: str | None


def note_reading(store: Store, settings: Settings, said: Said, now: datetime | None = None) -> str:
    """Record a reading and return the line that answers it; said again, it is put right.

    Raises Fault.
    """
    now = (now or datetime.now(UTC)).replace(microsecond=0)
    quantity = quantity_named(said.quantity)
    value = value_of(said.value, quantity, settings.units)
    at = _when(said, quantity, settings, now)
    reading = Reading(
        at, quantity, value, *_where(said.place, quantity, store, settings, at), "command"
    )
    hours = store.hours.between(at - A_DAY, at + A_HOUR)
    (judged,) = judge([reading], hours, now)
    why, words = judged.aside[0], partial(written, quantity=quantity, units=settings.units)
    if why is Aside.IMPOSSIBLE:
        raise Fault(f"{words(value)}: {_DOUBTS[why]}; nothing is noted")
    replaced = store.readings.put(reading, *_replaces(reading, settings))
    instead = f", in place of {words(replaced[-1].value)}" if replaced else ""
    where = where_words(reading) or " in the garden"
    noted = (
        f"Noted: {_NAMES[quantity]} {words(value)}{where}, "
        f"{_when_words(reading, settings)}{instead}."
    )
    had = float(Told(hours).of(quantity, [reading])[0]) if quantity in _COMPARED else nan
    weather = "" if isnan(had) else f"The weather service had {words(had)}."
    doubt = f"Set aside: {_DOUBTS[why]}." if why else ""
    return " ".join(filter(None, [noted, weather, doubt]))


def _when(said: Said, quantity: Quantity, settings: Settings, now: datetime) -> datetime:
    """The moment meant. A night's lowest is over at noon: typed in the evening, it still is that
    of the night before. Raises Fault."""
    zone = settings.garden.timezone
    today = local_day(now, zone)
    day = day_gone("--on", said.day, today) if said.day else today
    if said.clock:
        at = local_moment(day, _clock(said.clock), zone)
        if at > now:
            raise Fault(f"--at {said.clock}: that is yet to come; with --on it is of another day")
        return at
    noon = local_moment(day, NOON, zone)
    return min(now, noon) if said.day or quantity is Quantity.AIR_MIN else now


def _clock(text: str) -> time:
    try:
        return time.fromisoformat(text if ":" in text else "").replace(tzinfo=None)
    except ValueError:
        raise Fault(f"--at {text}: expected a time of the clock, such as 06:30") from None


def _replaces(reading: Reading, settings: Settings) -> tuple[datetime, datetime]:
    """From when to when a reading takes the place of others: a night has one lowest."""
    if reading.quantity is not Quantity.AIR_MIN:
        return reading.at, reading.at
    night = nights(reading.at - A_SECOND, reading.at, settings.garden.timezone)[0]
    return night.start + A_SECOND, night.end


def _where(
    place: str, quantity: Quantity, store: Store, settings: Settings, at: datetime
) -> tuple[str | None, str | None]:
    """The spot or tree meant; of air the spot, also where a tree on it is named. Raises Fault."""
    trees = {tree.name: tree for tree in settings.trees}
    if not place:
        if quantity in OF_A_TREE:
            raise Fault(f"{quantity}: of which tree? Name it after {quantity}")
        return None, None
    if quantity in OF_A_TREE:
        return None, named("tree", place, trees).name
    known: dict[str, Tree | Spot] = {**settings.spots, **trees}
    found = named("spot or tree", place, known)
    if isinstance(found, Tree):
        return fold(found, journal_at(settings, store, at), at).spot, None
    return found.name, None


def _when_words(reading: Reading, settings: Settings) -> str:
    local = reading.at.astimezone(ZoneInfo(settings.garden.timezone))
    day = f"{local.day} {local:%B %Y}"
    if reading.quantity is Quantity.AIR_MIN:
        return f"the night to {day}"
    return f"{day} {Units(settings.units).clock(local)}"
