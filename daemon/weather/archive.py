"""The weather since autumn, asked of Open-Meteo's archive where the forecast reaches less far back.

The season's clocks begin in autumn; a garden first watched in midwinter would else not know its
chill. Contract as read in the service's documentation: like the forecast's, with ``start_date`` and
``end_date``; not tried against the live service.
"""

from __future__ import annotations

import logging
from datetime import UTC, date, datetime, timedelta

from underbench.daemon.store import Store
from underbench.daemon.weather.openmeteo import MOST_PAST_DAYS, OpenMeteo
from underbench.daemon.weather.supply import PastSource, SupplyError
from underbench.rules.garden import Garden
from underbench.rules.season import last_autumn
from underbench.rules.weather import Weather

TRIED = "weather archive tried"
AGAIN_AFTER = timedelta(days=1)
DAY = timedelta(days=1)

_log = logging.getLogger(__name__)


class Archive(OpenMeteo):
    """The archive service, asked as the forecast service is."""

    path = "/v1/archive"

    def between(self, garden: Garden, first: date, last: date, now: datetime) -> Weather:
        """Return the hours of the UTC days from ``first`` to ``last``; raises SupplyError."""
        stretch = {"start_date": f"{first}", "end_date": f"{last}"}
        return self.parse(self.ask(garden, stretch, now).body)


def autumn_known(store: Store, garden: Garden, now: datetime) -> bool:
    """Return whether the kept record, or the forecast's own past days, reach back to autumn."""
    first = _autumn(garden, now)
    if first >= now - MOST_PAST_DAYS * DAY:
        return True
    return store.hours(first, first + DAY).hours > 0


def bring_autumn(store: Store, garden: Garden, archive: PastSource | None, now: datetime) -> None:
    """Keep the hours since autumn that the forecast does not reach, where they are not known.

    Asked once when that succeeds, else once a day; a failure is only logged, since trees then count
    as fully chilled, which errs on the early side. Trees walked without it are walked again.
    """
    if archive is None or autumn_known(store, garden, now):
        return
    tried = store.last_done(TRIED)
    if tried and timedelta(0) <= now - tried < AGAIN_AFTER:
        return
    store.done(TRIED, now)
    try:
        last = (now - MOST_PAST_DAYS * DAY).date()
        weather = archive.between(garden, _autumn(garden, now).date(), last, now)
    except SupplyError as error:
        _log.warning("the weather since autumn could not be had: %s", error)
        return
    with store.transaction():
        store.keep_hours(weather.between(_autumn(garden, now) - DAY, now))
        for tree in store.checkpoints(now):
            store.forget_checkpoints(tree, datetime.fromtimestamp(0, tz=UTC))


def _autumn(garden: Garden, now: datetime) -> datetime:
    first = last_autumn(now.astimezone(UTC).date(), garden.latitude)
    return datetime(first.year, first.month, first.day, tzinfo=UTC)
