"""The words that all messages and pages share: clocks, chances, spots, numbers with their unit."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from math import isfinite
from typing import NamedTuple
from zoneinfo import ZoneInfo

from underbench.daemon.wording.units import Units
from underbench.rules.hazards.hazard import Action
from underbench.rules.limits.limit import MeasuredOn

BAG_KNOWN_TO_K = 5.0
CHANCE_STEP_PCT = 5  # a chance is known no finer
WEEK_DAYS = 7

FIRST_WORD = {
    Action.PROTECT: "PROTECT",
    Action.SHADE: "SHADE",
    Action.VENT: "SEE TO",
    Action.WATER: "WATER",
    Action.LIGHT: "LET OUT",
}
_SHOWN_AS = {
    MeasuredOn.WATER: "{:.0%}",
    MeasuredOn.MOSS: "{:.0%}",
    MeasuredOn.SUN: "{:.0f} W/m²",
    MeasuredOn.FROZEN: "{:.0f} h",
    MeasuredOn.DARK: "{:.0f} h",
    MeasuredOn.SODDEN: "{:.0f} days",
}


class Words(NamedTuple):
    """A message's title and body, and the trees that they name."""

    title: str
    body: str
    trees: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Made:
    """Since when the forecast has been as it is, whom to credit for it, and why it may mislead."""

    at: datetime
    attribution: str
    doubt: str = ""


class Teller:
    """Writes for one garden: its clock, its units."""

    def __init__(self, timezone: str, units: Units) -> None:
        self._zone = ZoneInfo(timezone)
        self.units = units

    def local(self, moment: datetime) -> datetime:
        """Return a moment by the garden's clock."""
        return moment.astimezone(self._zone)

    def clock(self, moment: datetime) -> str:
        """Return a moment's time of day."""
        return self.units.clock(self.local(moment))

    def day(self, moment: datetime, now: datetime) -> str:
        """Return a moment's day: none for what is past today, "today", "tomorrow", or its name. A
        week ahead and later it has its date."""
        local = self.local(moment)
        away = (local.date() - self.local(now).date()).days
        if away == 0:
            return "today" if moment >= now else ""
        if away >= WEEK_DAYS:
            return f"{local:%A} {local.day} {local:%B}"
        return "tomorrow" if away == 1 else f"{local:%A}"

    def when(self, moment: datetime, now: datetime) -> str:
        """Return a moment as a grower says it: the clock, and the day if that is not past."""
        return f"{self.clock(moment)} {self.day(moment, now)}".strip()

    def by(self, moment: datetime, now: datetime) -> str:
        """Return a deadline as short as a title has it. A clock without a day is today's."""
        return "now" if moment <= now else f"by {self.when(moment, now).removesuffix(' today')}"

    def stretch(self, first: datetime, last: datetime, now: datetime) -> str:
        """Return from when to when, with the days."""
        begins, ends = self.local(first), self.local(last)
        if first == last:
            return f"at {self.when(first, now)}"
        if begins.date() == ends.date():
            return f"{self.clock(first)}–{self.clock(last)} {self.day(last, now)}".strip()
        return f"from {self.when(first, now)} to {self.when(last, now)}"

    def credit(self, made: Made, now: datetime) -> str:
        """Return the forecast's age, whom to credit for it, and a line where it is in doubt."""
        credit = f"Forecast of {self.when(made.at, now)}. {made.attribution}."
        if not made.doubt:
            return credit
        return f"{credit}\nFORECAST IN DOUBT: {made.doubt}. Look at another one too."


def joined(names: Sequence[str]) -> str:
    """Return names as a sentence has them: "Ash, Elm and Yew"."""
    return " and ".join(part for part in (", ".join(names[:-1]), *names[-1:]) if part)


def counted(number: int, noun: str = "tree") -> str:
    """Return a number of things: "1 tree", "2 trees"."""
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def at_spot(spot: str) -> str:
    """Return a spot as a place to stand; "at under the bench" is no English."""
    return spot if spot.casefold().startswith("under") else f"at {spot}"


def the_spot(spot: str) -> str:
    """Return a spot with its article. A name that begins large is its own."""
    if spot.casefold().startswith("under"):
        return f"{spot[0].lower()}{spot[1:]}"
    return f"the {spot}" if spot[0].islower() and not spot.startswith("the ") else spot


def chance_words(share: float) -> str:
    """Return a chance in steps of 5 %. Nothing is certain."""
    pct = round(100 * share / CHANCE_STEP_PCT) * CHANCE_STEP_PCT
    if pct <= 0:
        return f"under {CHANCE_STEP_PCT}%"
    return f"over {100 - CHANCE_STEP_PCT}%" if pct >= 100 else f"{pct}%"


def quantity(value: float, kind: MeasuredOn, units: Units) -> str:
    """Write a value in the unit of what it is measured on; a dash where no such limit is known."""
    if not isfinite(value):
        return "–"
    if kind is MeasuredOn.GUST:
        return units.speed(value)
    if kind in _SHOWN_AS:
        return _SHOWN_AS[kind].format(value)
    return units.temp(value)


def short_quantity(value: float, kind: MeasuredOn, units: Units) -> str:
    """Write a value as short as a small mark has it: "−6°", "31%", "15w" (a gust), "60h"."""
    number, _, unit = quantity(value, kind, units).partition(" ")
    if kind is MeasuredOn.GUST:
        return f"{number}w"
    if unit.startswith("°"):
        return f"{units.temp_whole(value).partition(' ')[0]}°"
    return f"{number}{unit[:1]}"
