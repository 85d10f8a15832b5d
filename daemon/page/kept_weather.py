"""The kept weather: looking at the page asks no service for a forecast."""

from __future__ import annotations

from datetime import datetime

from underbench.daemon.weather.provider import EnsembleSource, PastSource, SupplyError
from underbench.daemon.weather.supply import Supplied, Supply


class KeptWeather:
    """A source for a pass that knows only the last kept forecast."""

    archive: PastSource | None = None
    ensembles: EnsembleSource | None = None

    def __init__(self, supply: Supply) -> None:
        self._supply = supply

    def latest(self, now: datetime, past_days: int) -> Supplied:
        """Return the kept forecast. Raises SupplyError if it does not cover the next hour."""
        found = self._supply.kept(now)
        if found is None:
            raise SupplyError("no forecast is kept for the coming hours; the daemon fetches one")
        return found
