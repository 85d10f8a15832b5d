"""Earlier years at the garden: the record's own days, and an archive's where it is short."""

from __future__ import annotations

import logging
from datetime import date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from underbench.daemon.store.hours import MOST_OF_A_DAY_H
from underbench.daemon.store.store import Store
from underbench.daemon.weather.provider import PastSource, SupplyError
from underbench.rules.course.course import DAY_S
from underbench.rules.garden.inventory import Garden
from underbench.rules.planning.past_years import PastDay, Usual
from underbench.rules.weather.hourly import Array

TRIED = "years gone by tried"
AGAIN_AFTER = timedelta(days=1)
YEARS = 5  # enough for early and late years, few enough to ask for in one go; judgement
WHOLE_YEAR_DAYS = 330
EPOCH = date(1970, 1, 1)
DAY = timedelta(days=1)

_log = logging.getLogger(__name__)


def usual_of(store: Store, garden: Garden) -> Usual:
    """Return what is known about earlier years. Raises StoreError."""
    days = {EPOCH + n * DAY: PastDay(mean_c, low_c) for n, mean_c, low_c in store.hours.days()}
    return Usual(days, garden.latitude)


def bring_years(store: Store, garden: Garden, archive: PastSource | None, now: datetime) -> None:
    """Keep the days of the last five calendar years that are not known yet.

    They are asked for at most once a day. A failure is only logged; dates then come from fewer
    years.
    """
    tried = store.duties.last_done(TRIED)
    if archive is None or (tried and timedelta(0) <= now - tried < AGAIN_AFTER):
        return
    missing = _missing_years(store, now)
    if not missing:
        return
    store.duties.done(TRIED, now)
    try:
        for year in missing:
            weather = archive.between(garden, date(year, 1, 1), date(year, 12, 31), now)
            store.hours.keep_days(daily(weather.times, weather.air_c[0]))
    except SupplyError as error:
        _log.warning("the years gone by could not be had: %s", error)


def _missing_years(store: Store, now: datetime) -> list[int]:
    known = [(EPOCH + day * DAY).year for day, _, _ in store.hours.days()]
    wanted = range(now.year - 1, now.year - 1 - YEARS, -1)
    return [year for year in wanted if known.count(year) < WHOLE_YEAR_DAYS]


def daily(times: NDArray[np.int64], air_c: Array) -> list[tuple[int, float, float]]:
    """Return the UTC days (since 1970) of hours (hour,) with their mean and lowest air, °C. Days
    with few known hours are left out."""
    numbers = (times - 1) // DAY_S
    found = []
    for number in np.unique(numbers).tolist():
        known = air_c[(numbers == number) & np.isfinite(air_c)]
        if len(known) >= MOST_OF_A_DAY_H:
            found.append((number, float(known.mean()), float(known.min())))
    return found
