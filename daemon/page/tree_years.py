"""The years behind a tree: its works and outcomes, and how cold each winter came."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import groupby
from typing import NamedTuple

from underbench.daemon.page.open_works import Noted, words_of
from underbench.rules.garden.journal import Entry, Outcome, Work

EPOCH, A_DAY = date(1970, 1, 1), timedelta(days=1)
Days = Sequence[tuple[int, float, float]]  # UTC days since 1970, mean and lowest air, °C


class Year(NamedTuple):
    """A garden's year, from summer to summer. ``low_c`` is the coldest air of the garden in it,
    None where nothing is known."""

    name: str
    low_c: float | None
    noted: tuple[Noted, ...]


def years_behind(journal: Sequence[Entry], tree: str, days: Days, latitude: float) -> list[Year]:
    """Return the years in which something was done to a tree or it was harmed, and those after
    them until now, the latest first."""
    mine = [e for e in journal if e.tree == tree and isinstance(e, Work | Outcome)]
    if not mine:
        return []
    first = min(_year(entry.at.date(), latitude) for entry in mine)
    by_year = {
        year: min(low for _, low in own)
        for year, own in groupby(
            ((_year(EPOCH + day * A_DAY, latitude), low) for day, _, low in days),
            key=lambda one: one[0],
        )
    }
    last = max([_year(mine[-1].at.date(), latitude), *by_year])
    return [
        Year(
            _named(year, latitude),
            by_year.get(year),
            tuple(
                Noted(entry.at, words_of(entry))
                for entry in reversed(mine)
                if _year(entry.at.date(), latitude) == year
            ),
        )
        for year in range(last, first - 1, -1)
    ]


def _year(day: date, latitude: float) -> int:
    """The calendar year in which a garden's year begins: in July, in the south in January."""
    return day.year if latitude < 0 or day.month > 6 else day.year - 1


def _named(year: int, latitude: float) -> str:
    return f"{year}" if latitude < 0 else f"{year}/{(year + 1) % 100:02d}"
