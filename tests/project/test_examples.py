"""Each example file is loaded and run as it stands, in weather that suits its garden."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from openmeteo_service import StandIn, serving

from underbench.daemon.commands.cli import main
from underbench.daemon.config.settings import load
from underbench.rules.garden.inventory import Garden
from underbench.rules.weather.hourly import HOUR_S, Weather

FOLDER = Path(__file__).parents[2] / "config_examples"
# A cold spell in leaf, or a hot spell: where the garden is decides what is told.
SPELLS = {
    "away_in_may.toml": (datetime(2027, 5, 3, 16, tzinfo=UTC), 4.0),
    "club_yard.toml": (datetime(2027, 7, 12, 20, tzinfo=UTC), 25.0),
    "continental_balcony.toml": (datetime(2027, 1, 14, 17, tzinfo=UTC), -16.0),
    "degrees_fahrenheit.toml": (datetime(2027, 4, 21, 21, tzinfo=UTC), 3.0),
    "dry_south.toml": (datetime(2027, 1, 20, 19, tzinfo=UTC), 33.0),
    "first_garden.toml": (datetime(2027, 4, 26, 16, tzinfo=UTC), 3.0),
    "large_collection.toml": (datetime(2027, 4, 26, 16, tzinfo=UTC), 3.0),
    "tropical_shelf.toml": (datetime(2027, 9, 28, 16, tzinfo=UTC), 8.0),
}


def test_no_example_is_left_out() -> None:
    assert {path.name for path in FOLDER.iterdir()} - {"README.md"} == SPELLS.keys()


def weather(make: Any, garden: Garden, now: datetime, spell_c: float) -> Weather:
    """Ten mild days, then a clear and calm week of the spell, with the garden's own sun."""
    first, hours = now - timedelta(days=10), 17 * 24
    ends = first.timestamp() / HOUR_S + np.arange(1, hours + 1)
    solar = (ends + garden.longitude / 15) % 24
    mild = np.arange(hours) < 8 * 24
    day_c = np.where(mild, max(spell_c, 12.0), spell_c) - 6 * np.cos((solar - 4) / 12 * np.pi)
    made = make.weather(first, hours, mean_c=day_c, swing_k=0.0, garden=garden)
    assert isinstance(made, Weather)
    return made


@pytest.mark.parametrize("name", SPELLS)
def test_an_example_runs_and_tells_what_its_weather_asks_for(
    name: str, tmp_path: Path, make: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    now, spell_c = SPELLS[name]
    garden = load(FOLDER / name, {"HOME": str(tmp_path)}).garden
    with StandIn(serving(weather(make, garden, now, spell_c), lambda: now)) as service:
        monkeypatch.setenv("UNDERBENCH_WEATHER__BASE_URL", service.url)
        monkeypatch.setenv("UNDERBENCH_STORE__PATH", str(tmp_path / "state.db"))
        words = ["once", "--dry-run", "--json", "--at", now.isoformat()]
        done = CliRunner().invoke(main, ["--config", str(FOLDER / name), *words])
    assert done.exit_code == 0, done.output
    seen = json.loads(done.stdout)
    assert seen["findings"], "nothing threatens: the spell is no spell"
