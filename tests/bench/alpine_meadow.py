"""Reads the hours of Matsch, a meadow in the Alps, for `near_ground.py`, which names the source."""

from __future__ import annotations

import csv
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from underbench.rules.weather.hourly import Array


def meadow(path: Path) -> dict[str, Array]:
    """Return Matsch's hours from the first to the last with longwave, gaps drawn over; ``whole``
    says which were measured. Its clock is UTC+1."""
    with path.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    times = [datetime.strptime(row["Date12.DDMMYYYYhhmm."], "%d/%m/%Y %H:%M") for row in rows]
    back = timedelta(hours=1)
    found = {"time_utc": np.array([(t - back).replace(tzinfo=UTC).timestamp() for t in times])}
    for name, header in MATSCH.items():
        values = np.array([float(row[header]) for row in rows])
        found[name] = np.where(values > -9000, values, np.nan)
    known = np.isfinite(list(found.values())).all(axis=0)
    run = slice(np.flatnonzero(known)[0], np.flatnonzero(known)[-1] + 1)
    out = {name: _over_gaps(values[run]) for name, values in found.items()}
    return {**out, "whole": known[run]}


MATSCH = {
    "air_c": "air_temperature",
    "humidity": "relative_humidity",
    "wind_ms": "wind_speed",
    "sun_wm2": "surface_downwelling_shortwave_flux",
    "back_wm2": "surface_upwelling_shortwave_flux",
    "longwave_wm2": "surface_downwelling_longwave_flux",
    "emitted_wm2": "surface_upwelling_longwave_flux",
}


def _over_gaps(values: Array) -> Array:
    hours, known = np.arange(len(values)), np.isfinite(values)
    return np.asarray(np.interp(hours, hours[known], values[known]))
