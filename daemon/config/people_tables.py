"""The sections about people: who can carry trees, when, and how each is told."""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from datetime import time
from itertools import combinations
from typing import Annotated, Any

from pydantic import AfterValidator, BeforeValidator, Field, SecretStr
from pydantic_settings import NoDecode

from underbench.daemon.config.clock_times import Clock, DaysList, HoursList, Quiet
from underbench.daemon.config.limits_table import Name, Table
from underbench.daemon.config.tomlfile import Key
from underbench.rules.garden.inventory import HandsOn, Hours, StandIn

KEEPER = "keeper"  # how messages name the person who keeps the garden
WEEK = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def url_lines(value: Any) -> Any:
    """Split a text of one URL a line (or a JSON list); blank lines and # lines are skipped."""
    if not isinstance(value, str):
        return value
    if value.lstrip().startswith("["):
        try:
            return json.loads(value)
        except ValueError:
            raise ValueError("expected one URL a line, or a JSON list of URLs") from None
    return [line for _, line in numbered_lines(value)]


def numbered_lines(text: str) -> list[tuple[int, str]]:
    """Return the lines that say something, with their numbers (from 1)."""
    lines = ((number, line.strip()) for number, line in enumerate(text.splitlines(), start=1))
    return [(number, line) for number, line in lines if line and not line.startswith("#")]


def _not_the_keeper(name: str) -> str:
    if name.casefold() == KEEPER:
        raise ValueError("this name stands for yourself; expected another")
    return name


Urls = Annotated[tuple[SecretStr, ...], NoDecode, BeforeValidator(url_lines)]


class DaysTable(Table):
    """Hands-on hours by the day of the week. The defaults suit somebody with a day job (common
    practice, no source)."""

    weekdays: HoursList = (
        Hours(start=time(7), end=time(8)),
        Hours(start=time(18), end=time(21)),
    )
    weekends: HoursList = (Hours(start=time(8), end=time(20)),)
    monday: HoursList | None = None
    tuesday: HoursList | None = None
    wednesday: HoursList | None = None
    thursday: HoursList | None = None
    friday: HoursList | None = None
    saturday: HoursList | None = None
    sunday: HoursList | None = None

    def week(self) -> dict[str, Any]:
        """Return the fields of ``inventory.Days``: the usual hours, and the days' own."""
        given = {number: getattr(self, name) for number, name in enumerate(WEEK)}
        own = {number: hours for number, hours in given.items() if hours is not None}
        return {"weekdays": self.weekdays, "weekends": self.weekends, "own": own}


class HandsOnTable(DaysTable):
    """``[hands_on]``"""

    quiet: Annotated[Quiet, NoDecode] = (time(22), time(6))
    away: DaysList = ()


class StandInTable(DaysTable):
    """``[[stand_in]]``: without ``urls`` of their own, the keeper gets their messages."""

    name: Annotated[Name, AfterValidator(_not_the_keeper)]
    days: Annotated[DaysList, Field(min_length=1)]
    waters: bool = True
    urls: Urls = ()


class Telling(Table):
    """``[telling]``: how the keeper is told.

    ``urls`` are push addresses; ``danger_urls`` are a second route for danger. ``round_up`` is its
    local time (None: none is sent). Without it, after ``still_watching_days`` days of silence a
    message says that all is being watched (0: never). ``most_an_hour`` limits messages that are
    not of danger.
    """

    urls: Urls = ()
    danger_urls: Urls = ()
    round_up: Clock | None = None
    still_watching_days: Annotated[int, Field(ge=0, le=60)] = 30
    most_an_hour: Annotated[int, Field(ge=1, le=60)] = 6


def hands_on_of(keeper: HandsOnTable, others: Iterable[StandInTable]) -> HandsOn:
    """Return who can carry trees, and when."""
    stand_ins = tuple(
        StandIn(name=one.name, days=one.days, waters=one.waters, **one.week()) for one in others
    )
    return HandsOn(away=keeper.away, quiet=keeper.quiet, stand_ins=stand_ins, **keeper.week())


def people_faults(stand_ins: Iterable[StandInTable], telling: Telling) -> Iterator[tuple[Key, str]]:
    """Yield settings that contradict each other, with their key paths: a day with two stand-ins, a
    second route that is the first."""
    for (_, first), (number, second) in combinations(enumerate(stand_ins), 2):
        for n, stretch in enumerate(second.days):
            shared = [d for d in first.days if d.first <= stretch.last and stretch.first <= d.last]
            if shared:
                since = max(stretch.first, shared[0].first)
                key = ("stand_in", number, "days", n)
                yield key, f"{first.name} stands in on {since} already; expected other days"
    for n, url in enumerate(telling.danger_urls):
        if url in telling.urls:
            yield ("telling", "danger_urls", n), "urls has this address already; expected another"
