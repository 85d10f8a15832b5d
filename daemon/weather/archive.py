"""The weather since autumn, asked of Open-Meteo's archive where the kept record has none.

The season's clocks begin in autumn. Without this, a garden first watched in midwinter, or one whose
machine was off for long, does not know its chill. The contract is as read in the service's
documentation: like the forecast's, with ``start_date`` and ``end_date``; not tried against the live
service.
"""

from __future__ import annotations

import logging
from datetime import UTC, date, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from underbench.daemon.store.store import Store
from underbench.daemon.weather.openmeteo import MOST_PAST_DAYS, OpenMeteo
from underbench.daemon.weather.provider import PastSource, SupplyError
from underbench.rules.garden.inventory import Garden
from underbench.rules.garden.local_time import Stretch
from underbench.rules.plants.stages import last_autumn
from underbench.rules.weather.hourly import HOUR_S, Weather, known_times

TRIED = "weather archive tried"
AGAIN_AFTER = timedelta(days=1)
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
LATE = timedelta(days=6)  # the reanalysis comes five days late; the forecast has the days since
LEAST_HOLE_H = 6  # shorter holes are bridged, or repeat the day before, and cost no season
MOST_HOLES = 4  # asked for in one day

_log = logging.getLogger(__name__)


class Archive(OpenMeteo):
    """The archive service, asked as the forecast service is."""

    path = "/v1/archive"

    def between(self, garden: Garden, first: date, last: date, now: datetime) -> Weather:
        """Return the hours of the UTC days from ``first`` to ``last``; raises SupplyError."""
        stretch = {"start_date": f"{first}", "end_date": f"{last}"}
        return self.parse(self.ask(garden, stretch, now).body)


def autumn_known(store: Store, garden: Garden, now: datetime) -> bool:
    """Return whether the kept record or the forecast's own past days reach back to autumn."""
    first = _autumn(garden, now)
    if first >= now - MOST_PAST_DAYS * DAY:
        return True
    return store.hours.between(first, first + DAY).hours > 0


def bring_autumn(
    store: Store, garden: Garden, archive: PastSource | None, brought: Weather, now: datetime
) -> None:
    """Keep the hours since autumn that neither the record nor ``brought`` knows.

    ``brought`` is what the forecast has of days gone by. The holes are looked for once a day, and
    only they are asked for. A failure is only logged: trees then count as fully chilled, which errs
    on the early side. Trees that were walked across a hole are walked again.
    """
    looked = store.duties.last_done(TRIED)
    if archive is None or (looked and timedelta(0) <= now - looked < AGAIN_AFTER):
        return
    store.duties.done(TRIED, now)
    first, last = _autumn(garden, now), _whole_hour(now) - LATE
    known = np.union1d(store.hours.known(first - HOUR, last), known_times(brought))
    try:
        for hole in holes(known, first, last)[:MOST_HOLES]:
            weather = archive.between(garden, hole.start.date(), hole.end.date(), now)
            _fill(store, weather, hole, now)
    except SupplyError as error:
        _log.warning("the weather since autumn could not be had: %s", error)


def holes(known: NDArray[np.int64], first: datetime, last: datetime) -> list[Stretch]:
    """Return the stretches of unknown hours between ``first`` and ``last``. Each has `LEAST_HOLE_H`
    hours or more and runs from its first hour to its last. ``known`` are UTC seconds, in order."""
    begins, ends = int(first.timestamp()), int(last.timestamp())
    inside = known[(known >= begins) & (known <= ends)]
    edges = np.concatenate([[begins - HOUR_S], inside, [ends + HOUR_S]])
    gaps = np.flatnonzero(np.diff(edges) > LEAST_HOLE_H * HOUR_S)
    return [Stretch(_moment(edges[i] + HOUR_S), _moment(edges[i + 1] - HOUR_S)) for i in gaps]


def _fill(store: Store, weather: Weather, hole: Stretch, now: datetime) -> None:
    found = weather.between(hole.start - HOUR, hole.end)
    if not len(known_times(found)):
        return
    with store.transaction():
        store.hours.keep(found)
        for tree in store.checkpoints.before(now):
            store.checkpoints.forget(tree, hole.start)


def _whole_hour(now: datetime) -> datetime:
    return now.astimezone(UTC).replace(minute=0, second=0, microsecond=0)


def _moment(second: int) -> datetime:
    return datetime.fromtimestamp(int(second), tz=UTC)


def _autumn(garden: Garden, now: datetime) -> datetime:
    first = last_autumn(now.astimezone(UTC).date(), garden.latitude)
    return datetime(first.year, first.month, first.day, tzinfo=UTC)
