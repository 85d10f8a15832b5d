"""What ``winter`` prints: one line for each tree, in the order of what there is to do."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from textwrap import wrap
from typing import Any

from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.planning.lacking import Shortfall, words_on
from underbench.daemon.planning.winter import GOING_IN, Winter
from underbench.daemon.wording.json_form import document
from underbench.daemon.wording.tables import Columns, table
from underbench.daemon.wording.units import Units
from underbench.rules.planning.past_years import DateRange
from underbench.rules.planning.winter import (
    HARDENING_OFF_DAYS,
    SHADE_DAYS,
    Cold,
    Doing,
    counts_chill,
    hardening_off,
)
from underbench.rules.plants.stages import BASE_C

HEADS = ("", "tree", "in below", "nights in", "chill days", "cold usually here")
WIDTH = 100
NO_TREES = "There are no living trees."
KEY = (
    "Nights are counted by screen air. Chill: days with a mean of {base} or less since 1 November "
    "(May in the south); - if not counted now, or not known. Common practice, no source."
)


class WinterView:
    """Trees in winter, in words."""

    def __init__(
        self, outlook: Outlook, found: Sequence[Winter], short: Shortfall | None = None
    ) -> None:
        self._short = short
        self._found, self._units = found, Units(outlook.settings.units)
        self._today, self._latitude = outlook.today, outlook.settings.garden.latitude
        self._credit = f"{outlook.supplied.attribution}."

    def text(self) -> str:
        """A table, then the lines under it."""
        if not self._found:
            return NO_TREES
        wrapped = [part for line in self.notes() for part in wrap(line, WIDTH)]
        return "\n".join([table(*self.columns()), "", *wrapped])

    def columns(self) -> Columns:
        """Return a row for each tree. What is the same for all stands among the notes."""
        shown = len(HEADS) if len(self._said()) > 1 else len(HEADS) - 1
        return Columns(HEADS[:shown], [self._row(one)[:shown] for one in self._found])

    def notes(self) -> list[str]:
        """Return the lines that belong to more than one tree, and whose weather it is."""
        said = self._said()
        shared = [f"Cold usually here: {said.pop()}."] if len(said) == 1 else []
        key = KEY.format(base=self._units.temp_whole(BASE_C))
        return [*shared, *self._beside(), key, self._credit]

    def _said(self) -> set[str]:
        return {cold_words(one.cold) for one in self._found}

    def _row(self, one: Winter) -> tuple[str, ...]:
        return (
            one.doing,
            one.tree,
            self._units.temp_whole(one.facts.near_c),
            str(one.facts.nights) if one.facts.nights else "-",
            self._chill(one),
            cold_words(one.cold),
        )

    def _chill(self, one: Winter) -> str:
        if not one.facts.rests:
            return "needs none"
        if one.facts.chill_days is None or not counts_chill(self._today, self._latitude):
            return "-"
        if one.facts.chill_days >= one.facts.rest_days:
            return "met"
        return f"{one.facts.chill_days:.0f} of {one.facts.rest_days:.0f}"

    def _beside(self) -> Iterator[str]:
        nights: dict[date, list[str]] = {}
        for one in self._found:
            if one.doing in GOING_IN and one.facts.near_on:
                nights.setdefault(one.facts.near_on, []).append(one.tree)
        for night, trees in sorted(nights.items()):
            named = ", ".join(trees)
            yield f"A night so cold is forecast by {night:%A} {_day(night)}: {named}."
        yield from self._hardened_off()
        glass = dict.fromkeys(one.spot for one in self._found if one.opens)
        if glass:
            yield f"Open by day, shut before dusk: {', '.join(glass)}."
        if self._short:
            yield words_on(self._short, self._units)

    def _hardened_off(self) -> Iterator[str]:
        """How trees in leaf are led out, once for all that begin on the same day."""
        groups: dict[date, list[str]] = {}
        for one in self._found:
            if self._hardens_off(one):
                named = f"{one.tree} ({one.facts.stay_nights} nights in)"
                groups.setdefault(one.out_from, []).append(named)
        for begins, trees in groups.items():
            first, *_, last = hardening_off(begins)
            yield (
                f"In leaf after their nights in: {', '.join(trees)}. Harden off over "
                f"{HARDENING_OFF_DAYS} days from {_day(first.day)} on: {first.hours} h out on the "
                f"first, in shade, an hour more each day to {last.hours} h; shade for the first "
                f"{SHADE_DAYS}, in by evening until it is done."
            )

    @staticmethod
    def _hardens_off(one: Winter) -> bool:
        return one.doing is Doing.COME_OUT and one.facts.hardens_off

    def as_json(self) -> str:
        """Everything for programs; °C and local days."""
        trees = [self._json(one) for one in self._found]
        return document({"trees": trees, "lacking": self._short})

    def _json(self, one: Winter) -> dict[str, Any]:
        facts, cold = one.facts, one.cold
        return {
            "tree": one.tree,
            "do": one.doing,
            "spot": one.spot,
            "under_cover": facts.under,
            "in_below_c": facts.near_c,
            "nights_under_cover": facts.nights,
            "needs_chill": facts.rests,
            "chill_days": facts.chill_days if facts.rests else None,
            "forecast_cold_on": facts.near_on,
            "first_cold_night": cold.first,
            "last_cold_night": cold.last,
            "winters_known": cold.winters,
            "open_by_day": one.opens,
            "harden_off": hardening_off(one.out_from) if self._hardens_off(one) else (),
        }


def cold_words(cold: Cold) -> str:
    """Return when it usually gets so cold, and the number of winters behind that."""
    if not cold.winters:
        return "not known yet, so the forecast alone tells"
    known = "1 winter" if cold.winters == 1 else f"{cold.winters} winters"
    if cold.first is None or cold.last is None:
        return f"never in {known}"
    rests = known if cold.first.years == cold.winters else f"{cold.first.years} of {known}"
    return f"from {_span(cold.first)} until {_span(cold.last)} ({rests})"


def _span(found: DateRange) -> str:
    if found.first == found.last:
        return _day(found.first)
    return f"{_day(found.first)}–{_day(found.last)}"


def _day(day: date) -> str:
    return f"{day.day} {day:%b}"
