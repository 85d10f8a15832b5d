"""A weather series as a file for `underbench rehearse`, and that command run over it."""

from __future__ import annotations

import csv
from datetime import UTC, datetime
from pathlib import Path

from click.testing import CliRunner, Result

from underbench.daemon.commands.cli import main
from underbench.rules.weather.hourly import Weather

COLUMNS = {"temperature_c": "air_c", "dew_point_c": "dew_c", "wind_ms": "wind_ms"}


def write_series(path: Path, weather: Weather) -> None:
    """Write every hour of one member; reading estimates what is not written."""
    columns = [getattr(weather, name)[0].tolist() for name in COLUMNS.values()]
    cloud_pct = (100 * weather.cloud[0]).tolist()
    with path.open("w", encoding="utf-8", newline="") as file:
        out = csv.writer(file)
        out.writerow(["time", *COLUMNS, "cloud_pct"])
        for second, *row in zip(weather.times.tolist(), *columns, cloud_pct, strict=True):
            out.writerow([f"{datetime.fromtimestamp(second, tz=UTC):%Y-%m-%dT%H:%M}", *row])


def rehearse(config: Path, series: Path, *words: str) -> Result:
    command = ["--config", str(config), "rehearse", "--weather", str(series), *words]
    return CliRunner().invoke(main, command)
