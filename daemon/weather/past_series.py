"""Past weather at the garden's place, from the archive, as a series to rehearse with."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import numpy as np

from underbench.daemon.faults import Fault
from underbench.daemon.store.store import Store
from underbench.daemon.weather.csv_series import Series, made_whole
from underbench.daemon.weather.provider import PastSource
from underbench.rules.garden.inventory import Garden
from underbench.rules.plants.stages import last_autumn
from underbench.rules.weather.hourly import HOUR_S, NEEDED, VARIABLES, Weather, at_times

NAME = "archived weather from Open-Meteo.com (CC BY 4.0, adapted)"
DAY = timedelta(days=1)
LONGEST = timedelta(days=731)
ONE_ANSWER = timedelta(days=365)  # a year of hours is well under a megabyte
LEAST_RECORD = timedelta(days=300)
SPIN_UP = timedelta(days=30)  # a big box remembers its start for weeks
AHEAD = timedelta(days=6)  # the last pass sees these days as its forecast
HOW = "--weather FILE.csv, or --from and --to for the archived weather of the garden's place"


def archived_series(
    archive: PastSource | None,
    garden: Garden,
    start: datetime | None,
    end: datetime | None,
    now: datetime,
) -> Series:
    """Return the archived weather from ``start`` to ``end``, and some days around it.

    The days before reach back to autumn; those after are what a forecast would have had. Nothing is
    kept. Raises Fault for an impossible or too long stretch and without an archive; SupplyError.
    """
    if start is None or end is None:
        raise Fault(f"no weather to rehearse with: give {HOW}")
    if archive is None:
        raise Fault(
            "no archive belongs to the base_url under [weather]: set archive_url, or give"
            " --weather FILE.csv"
        )
    if not start < end <= now:
        when = "must be later than --from" if end <= start else "is still ahead"
        raise Fault(f"--to {end:%Y-%m-%d %H:%M} UTC {when}")
    if end - start > LONGEST:
        raise Fault("--from and --to are more than two years apart: take two years at a go")
    first = min(last_autumn(start.date(), garden.latitude), (start - SPIN_UP).date())
    last = min(end + AHEAD, now).date()
    whole = _joined(archive, garden, first, last, now)
    if any(np.isnan(getattr(whole, name)).all() for name in NEEDED):
        raise Fault("the weather archive has nothing for these days")
    return made_whole(NAME, whole, garden)


def last_winters(now: datetime) -> tuple[datetime, datetime]:
    """Return two years that end a week ago, when the archive knows all of them."""
    return now - LONGEST + 8 * DAY, now - 7 * DAY


def recorded_series(path: Path, garden: Garden, start: datetime, end: datetime) -> Series | None:
    """Return the weather as the garden's own store at ``path`` keeps it; None where it keeps less
    than most of a year between ``start`` and ``end``. Raises StoreError."""
    if not path.exists():
        return None
    with Store.copy(path) as store:
        known = store.hours.between(start - SPIN_UP, end)
    hours = [np.isfinite(getattr(known, name)).sum() for name in NEEDED]
    if min(hours) < LEAST_RECORD / timedelta(hours=1):
        return None
    return made_whole("the garden's own record", known, garden)


def _joined(archive: PastSource, garden: Garden, first: date, last: date, now: datetime) -> Weather:
    """All hours of the days from first to last, NaN where the archive sent none."""
    begins, ends = (datetime.combine(day, time(), UTC).timestamp() for day in (first, last + DAY))
    times = np.arange(int(begins), int(ends), HOUR_S, dtype=np.int64)
    blank = np.full((1, len(times)), np.nan)
    columns = dict.fromkeys(VARIABLES, blank)
    for start, end in _pieces(first, last):
        piece = at_times(archive.between(garden, start, end, now), times)
        for name, values in columns.items():
            columns[name] = np.where(np.isnan(values), getattr(piece, name), values)
    return Weather(times=times, **columns)


def _pieces(first: date, last: date) -> Iterator[tuple[date, date]]:
    while first <= last:
        end = min(first + ONE_ANSWER - DAY, last)
        yield first, end
        first = end + DAY
