"""An ensemble service for the tests: members made to order, written in Open-Meteo's form.

Keys are as in recorded answers of the service: the control has the bare name, the others
``_memberNN`` from 01. The model's name stands at the end only where several are sent.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any

import numpy as np
from commanding import Service
from openmeteo_service import Query, Reply

from underbench.daemon.weather.ensemble import ASKED
from underbench.daemon.weather.openmeteo import COLUMNS
from underbench.rules.weather.hourly import Array, Weather

UNITS = {"air_c": "°C", "dew_c": "°C", "wind_ms": "m/s", "cloud": "%", "global_wm2": "W/m²"}
MODEL = "ecmwf_ifs025_ensemble"


def ensemble_body(runs: Mapping[str, Weather], lacking: tuple[str, ...] = ()) -> bytes:
    """Return the members of each model as the service writes them. Variables in ``lacking`` are all
    null with the unit "undefined"."""
    times = next(iter(runs.values())).times
    hourly: dict[str, Any] = {"time": times.tolist()}
    units = {"time": "unixtime"}
    for model, run in runs.items():
        for name in ASKED:
            theirs, factor = COLUMNS[name][0][0], 100.0 if name == "cloud" else 1.0
            for number, values in enumerate(getattr(run, name) * factor):
                key = theirs + (f"_member{number:02d}" if number else "")
                key += f"_{model}" if len(runs) > 1 else ""
                units[key] = "undefined" if name in lacking else UNITS.get(name, "mm")
                hourly[key] = _numbers(np.full_like(values, np.nan) if name in lacking else values)
    place = {"latitude": 46.0, "longitude": 14.5, "elevation": 300.0, "utc_offset_seconds": 0}
    return json.dumps(
        {**place, "timezone": "GMT", "hourly_units": units, "hourly": hourly}
    ).encode()


def members_of(run: Weather, count: int, spread_k: float = 2.0, seed: int = 7) -> Weather:
    """Return ``count`` members around a one-member ``run``. The clearer a member, the colder its
    nights and the brighter its days. Every other one is dry."""
    draw = np.random.default_rng(seed).standard_normal((3, count, 1))
    air_c = run.air_c + spread_k * draw[0]
    cloud = np.clip(run.cloud + 0.3 * draw[0] + 0.1 * draw[1], 0.0, 1.0)
    alike = np.zeros_like(air_c)
    return replace(
        run,
        air_c=air_c,
        dew_c=np.minimum(run.dew_c + 0.7 * spread_k * draw[0], air_c),
        wind_ms=run.wind_ms * np.exp(0.3 * draw[2]),
        gust_ms=run.gust_ms + alike,
        cloud=cloud,
        global_wm2=run.global_wm2 * (1 - 0.75 * cloud**3.4) / (1 - 0.75 * run.cloud**3.4),
        diffuse_wm2=run.diffuse_wm2 + alike,
        rain_mm=run.rain_mm + 0.3 * (np.arange(count) % 2)[:, None],
        pressure_kpa=run.pressure_kpa + alike,
        snow_m=run.snow_m + alike,
    )


class WithEnsemble:
    """Adds an ensemble of ``weather`` to what a `Service` answers; ``body`` may be changed."""

    def __init__(self, service: Service, weather: Weather, count: int = 51) -> None:
        self.body: bytes | Reply = ensemble_body({MODEL: members_of(weather, count)})
        self.asked: list[Query] = []
        self._service = service
        service.answer = self

    def __call__(self, query: Query) -> bytes | Reply:
        if "models" not in query:
            return self._service.good(query)
        self.asked.append(query)
        return self.body


def hours_of(run: Weather, start: datetime, hours: int) -> Weather:
    """Return ``hours`` of a run from ``start`` on; ``start`` is one of its times."""
    first = int(np.searchsorted(run.times, start.timestamp()))
    return run.hours_at(slice(first, first + hours))


def _numbers(values: Array) -> list[float | None]:
    return [round(v, 3) if np.isfinite(v) else None for v in values.tolist()]
