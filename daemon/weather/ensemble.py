"""Open-Meteo's forecast ensembles: chances are counted over their members; kept over restarts.

The contract is as read in the service's published source and documentation (not tried against the
live service). Keys tell members apart: the control run has the variable's bare name, the others
``_member01`` and on; with several models every key ends in the model's name. Missing members are
left out and the rest numbered anew, so they are counted, never assumed.

A call weighs variables × members / 10, times days / 14 where that is more than 1: 51 members × 6
variables weigh 30.6. Asked every 6 hours, that is 122.4 a day, besides some 30 for hourly
forecasts; 10 000 a day are free.
"""

from __future__ import annotations

import logging
import re
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

import numpy as np
import requests
from pydantic import SecretStr

from underbench.daemon.store.store import Store
from underbench.daemon.weather.openmeteo import (
    COLUMNS,
    NAME,
    OpenMeteo,
    read_answer,
    read_block,
    read_column,
    read_times,
)
from underbench.daemon.weather.provider import BadAnswer, EnsembleSource, SupplyError
from underbench.rules.garden.inventory import Garden
from underbench.rules.weather.hourly import VARIABLES, Array, Weather, bridge_gaps, drop_implausible

# Variables that all models of the service have. Few models have gusts, pressure and snow, so these
# come from the forecast. Some models lack the dew point (ICON-EU-EPS); it then follows the air.
ASKED = ("air_c", "dew_c", "wind_ms", "cloud", "global_wm2", "rain_mm")
FORECAST_DAYS = 7  # UTC days with today; an old answer still reaches five days ahead
REFETCH_AFTER = timedelta(hours=6)  # global models run every 6 to 12 h
AGAIN_AFTER = timedelta(hours=3)  # a failure
OLDEST = timedelta(hours=18)  # by then its spread is a run and a half behind the central run
FREE_A_DAY = 10_000
FAILED = "ensemble failed"
LEAST_MEMBERS = 2

_log = logging.getLogger(__name__)
_NAMES = {COLUMNS[name][0][0]: name for name in ASKED}
_KEY = re.compile(rf"({'|'.join(_NAMES)})(?:_member(\d+))?(?:_(.+))?")


@dataclass(frozen=True, slots=True)
class Ensemble:
    """What is kept of an ensemble. ``runs`` holds the members of each model, (member, hour), NaN
    where it knows nothing. ``models`` is as asked for."""

    runs: tuple[Weather, ...]
    models: str
    fetched_at: datetime

    @property
    def members(self) -> int:
        """How many members there are in all."""
        return sum(run.members for run in self.runs)


class EnsembleService(OpenMeteo):
    """The ensemble service, asked like the forecast service; ``models`` are names with commas."""

    path = "/v1/ensemble"

    def __init__(
        self,
        base_url: str,
        api_key: SecretStr | None,
        contact: str,
        timeout_s: float,
        models: str,
        session: requests.Session | None = None,
    ) -> None:
        super().__init__(base_url, api_key, contact, timeout_s, session)
        self.models = models

    def members(self, garden: Garden, now: datetime) -> bytes:
        """Ask for the coming days of every member; raises SupplyError."""
        asked = {
            "hourly": ",".join(_NAMES),
            "models": self.models,
            "forecast_days": str(FORECAST_DAYS),
        }
        return self.ask(garden, asked, now).body


def call_weight(members: int, variables: int = len(ASKED), days: int = FORECAST_DAYS) -> float:
    """Return what one call costs of the service's free allowance (by its documentation)."""
    tenth = variables * members / 10
    return max(1.0, tenth, tenth * days / 14)


def parse_members(body: bytes) -> tuple[Weather, ...]:
    """Return the members in an answer of the service, one weather for each model.

    Impossible values become gaps, and short gaps are bridged. Members without any air temperature
    are left out. Raises BadAnswer, also for fewer than two members.
    """
    answer = read_answer(body)
    hourly, units = (read_block(answer, key) for key in ("hourly", "hourly_units"))
    times = read_times(hourly.get("time"), units.get("time"), answer.get("utc_offset_seconds", 0.0))
    models: dict[str, dict[int, dict[str, Array]]] = defaultdict(lambda: defaultdict(dict))
    for key in hourly:
        if read := _KEY.fullmatch(key):
            name = _NAMES[read[1]]
            values = read_column(hourly, units, len(times), (key,), COLUMNS[name][1])
            if values is not None:
                models[read[3] or ""][int(read[2] or 0)][name] = values
    runs = [_run(times, list(members.values())) for members in models.values()]
    found = tuple(run for run in runs if run is not None)
    if sum(run.members for run in found) < LEAST_MEMBERS:
        raise BadAnswer(f"{NAME} sent no ensemble members")
    return found


def _run(times: np.ndarray, members: list[Mapping[str, Array]]) -> Weather | None:
    """The members of one model that know the air; None where none does."""
    known = [one for one in members if "air_c" in one and np.isfinite(one["air_c"]).any()]
    if not known:
        return None
    blank = np.full(len(times), np.nan)
    columns = {name: np.array([one.get(name, blank) for one in known]) for name in VARIABLES}
    run, dropped = drop_implausible(Weather(times=times, **columns))
    if dropped:
        _log.info("%s: impossible values of members left out: %s", NAME, dropped)
    return bridge_gaps(run)


def bring_ensemble(
    store: Store, garden: Garden, source: EnsembleSource | None, now: datetime
) -> None:
    """Keep a new ensemble where the kept one is older than `REFETCH_AFTER`.

    A failure is only logged (the first as a warning), and asking is tried again after
    `AGAIN_AFTER`. The kept ensemble serves until `OLDEST`; after that, dressed members do.
    """
    if source is None:
        return
    kept, failed = store.answers.last_ensemble(source.models), store.duties.last_done(FAILED)
    if kept and timedelta(0) <= now - kept[1] < REFETCH_AFTER:
        return
    if failed and timedelta(0) <= now - failed < AGAIN_AFTER:
        return
    try:
        body = source.members(garden, now)
        members = sum(run.members for run in parse_members(body))
    except SupplyError as error:
        first = failed is None or (kept is not None and failed < kept[1])
        _log.log(
            logging.WARNING if first else logging.INFO,
            "the forecast ensemble could not be had; without one for %g hours, chances come from"
            " the one forecast: %s",
            *(OLDEST / timedelta(hours=1), error),
        )
        store.duties.done(FAILED, now)
        return
    weight = call_weight(members)
    a_day = weight * (timedelta(days=1) / REFETCH_AFTER)
    _log.info(
        "ensemble %s: %d members; the call weighs %.1f, %.0f a day of %d that are free",
        *(source.models, members, weight, a_day, FREE_A_DAY),
    )
    store.answers.keep_ensemble(source.models, body, now)


def kept_ensemble(store: Store, models: str, now: datetime) -> Ensemble | None:
    """Return the kept ensemble of ``models``, unless it is too old."""
    kept = store.answers.last_ensemble(models)
    if kept is None or not timedelta(0) <= now - kept[1] < OLDEST:
        return None
    try:
        return Ensemble(parse_members(kept[0]), models, kept[1])
    except BadAnswer:  # another version kept it: as good as none
        return None
