"""Weather and places at the edge of the earth, and impossible readings: they give numbers or a
refusal."""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from commanding import DAY, Garden
from garden_toml import BENCH, EMBER, HANDS_ON, PLACE
from hypothesis import given, settings
from hypothesis import strategies as st

from underbench.daemon.commands.cli import main
from underbench.rules.physics.exposure import EXPOSED
from underbench.rules.weather.fill_gaps import complete
from underbench.rules.weather.hourly import (
    HOUR_S,
    NEEDED,
    PLAUSIBLE,
    VARIABLES,
    Weather,
    bridge_gaps,
    drop_implausible,
    from_columns,
)

JUNE, DECEMBER = datetime(2026, 6, 20, tzinfo=UTC), datetime(2026, 12, 20, tzinfo=UTC)
HOURS = 30
READINGS = st.one_of(
    st.just(float("nan")), st.floats(-150, 150), st.floats(allow_nan=True, allow_infinity=True)
)
COLUMNS = st.fixed_dictionaries(
    {name: st.lists(READINGS, min_size=HOURS, max_size=HOURS) for name in NEEDED},
    optional={
        name: st.lists(READINGS, min_size=HOURS, max_size=HOURS)
        for name in VARIABLES
        if name not in NEEDED
    },
)


def made(start: datetime, columns: dict[str, Any]) -> Weather:
    times = int(start.timestamp()) + HOUR_S * np.arange(1, HOURS + 1)
    return from_columns(times, {name: np.array(values) for name, values in columns.items()})


@settings(max_examples=25)
@given(COLUMNS)
def test_any_readings_become_a_weather_that_could_be_or_are_refused(
    make: Any, columns: dict[str, list[float]]
) -> None:
    """Every source's numbers go this way: the impossible is left out, gaps are bridged, the rest is
    estimated."""
    kept, dropped = drop_implausible(made(JUNE, columns))
    for name, (low, high) in PLAUSIBLE.items():
        values = getattr(kept, name)
        assert np.isnan(values[~((values >= low) & (values <= high))]).all(), name
    assert set(dropped) <= set(columns)
    nowhere = [name for name in NEEDED if np.isnan(getattr(kept, name)).all()]
    if nowhere:
        with pytest.raises(ValueError, match=f"no {nowhere[0]} in the whole weather"):
            complete(bridge_gaps(kept), make.garden)
        return
    whole, _ = complete(bridge_gaps(kept), make.garden)
    for name in VARIABLES:
        assert np.isfinite(getattr(whole, name)).all(), name
    assert (whole.dew_c <= whole.air_c).all()
    assert (whole.gust_ms >= whole.wind_ms).all()
    assert (whole.diffuse_wm2 <= whole.global_wm2).all()


@settings(max_examples=25)
@given(
    st.sampled_from([-45.0, 0.0, 50.0]),
    st.sampled_from([0.0, 80.0]),
    st.sampled_from([0.0, 60.0]),
    st.sampled_from([0.001, 2000.0]),
    st.sampled_from([JUNE, DECEMBER]),
    st.sampled_from([-90.0, 90.0]),
    st.sampled_from([None, "dew_c", "wind_ms", "air_c"]),
)
def test_the_worst_of_weathers_is_felt_in_numbers(
    make: Any,
    mean_c: float,
    drop_k: float,
    wind_ms: float,
    litres: float,
    start: datetime,
    latitude: float,
    lost: str | None,
) -> None:
    """Fog and bone-dry air, dead calm and hurricane, polar day and night, a variable half lost."""
    garden = make.garden.model_copy(update={"latitude": latitude, "longitude": 180.0})
    columns = {
        "air_c": np.full(HOURS, mean_c),
        "dew_c": np.full(HOURS, max(mean_c - drop_k, -99.0)),
        "wind_ms": np.full(HOURS, wind_ms),
    }
    if lost:
        columns[lost][: HOURS // 2] = np.nan
    weather, estimated = complete(made(start, columns), garden)
    assert lost is None or lost in estimated
    tree = make.tree(litres=litres)
    felt = make.follow([tree], weather, setting=make.setting([tree], garden=garden)).exposure
    for name in EXPOSED:
        if name != "bag_c":
            assert np.isfinite(getattr(felt, name)).all(), name
    assert ((felt.water_left >= 0) & (felt.water_left <= 1)).all()
    assert (felt.vpd_kpa >= -1e-6).all()


# The command


@pytest.fixture
def rehearse(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    (tmp_path / "garden.toml").write_text(PLACE + HANDS_ON + BENCH + EMBER, encoding="utf-8")

    def run(rows: list[str]) -> Result:
        head = "time,temperature_c,relative_humidity_pct,wind_ms,gust_ms,shortwave_wm2"
        stamps = (DECEMBER + timedelta(hours=hour) for hour in range(len(rows)))
        lines = [f"{at:%Y-%m-%dT%H:%M}Z,{row}" for at, row in zip(stamps, rows, strict=True)]
        (tmp_path / "w.csv").write_text("\n".join([head, *lines]), encoding="utf-8")
        words = ["--config", str(tmp_path / "garden.toml"), "rehearse", "--json"]
        return CliRunner().invoke(main, [*words, "--weather", str(tmp_path / "w.csv")])

    return run


@pytest.mark.parametrize("row", ["-45,100,0,0,0", "-45,1,60,110,0", "50,40,60,110,1300"])
def test_three_days_at_the_edge_are_rehearsed(rehearse: Any, row: str) -> None:
    done = rehearse([row] * 73)
    assert done.exit_code == 0, done.output
    assert "NaN" not in done.stdout
    assert json.loads(done.stdout)["messages"]  # Ember would be frozen, baked or blown over


@pytest.mark.parametrize("row", ["50,0,60,110,1300", "50,100,0,0,0"])
def test_air_no_hygrometer_has_met_is_one_line(rehearse: Any, row: str) -> None:
    """Air without moisture, and fog at 50 °C. The highest dew point on record is 35 °C (memory)."""
    done = rehearse([row] * 73)
    assert done.exit_code == 2
    (line,) = done.stderr.splitlines()
    assert line.endswith("no usable value of dew_point_c in the whole file")


def test_readings_that_are_none_are_left_out_and_said(rehearse: Any) -> None:
    rows = ["8,80,2,4,0"] * 73
    rows[10:14] = ["nan,80,2,4,0", "-999,80,2,4,0", "8,80,900,4,0", "8,,2,-1,0"]
    done = rehearse(rows)
    assert done.exit_code == 0, done.output
    weather = json.loads(done.stdout)["weather"]
    said = {flag["what"].split(":")[0]: flag["lines"] for flag in weather["flags"]}
    assert said == {"temperature_c": [13], "wind_ms": [14], "gust_ms": [15]}
    assert weather["hours"] == 73


@pytest.mark.parametrize("wind", ["inf", "-inf", "1e400", "two"])
def test_what_is_no_number_is_one_line(rehearse: Any, wind: str) -> None:
    done = rehearse(["8,80,2,4,0"] * 10 + [f"8,80,{wind},4,0"] * 63)
    assert done.exit_code == 2
    (line,) = done.stderr.splitlines()
    assert "w.csv:12: wind_ms" in line


@pytest.mark.parametrize("variable", range(3))
def test_a_variable_that_is_nowhere_is_one_line(rehearse: Any, variable: int) -> None:
    row = ["8", "80", "2", "4", "0"]
    row[variable] = ""
    done = rehearse([",".join(row)] * 73)
    assert done.exit_code == 2
    assert len(done.stderr.strip().splitlines()) == 1
    assert "no usable value of" in done.stderr


@pytest.mark.parametrize(
    ("latitude", "longitude", "zone"),
    [
        (90, 180, "Pacific/Apia"),
        (-90, -180, "Asia/Kathmandu"),
        (0, 180, "Pacific/Kiritimati"),
        (-43.9, -176.6, "Pacific/Chatham"),  # 45 minutes, with summer time
    ],
)
def test_a_garden_anywhere_is_checked_and_looked_after(
    garden: Garden, make: Any, latitude: float, longitude: float, zone: str
) -> None:
    """The poles, the date line, and clocks a quarter of an hour off."""
    now = datetime.now(UTC)
    today = now.replace(hour=0, minute=0, second=0, microsecond=0)
    place = PLACE.replace("46.05", f"{latitude}").replace("14.51", f"{longitude}")
    garden.service.now = now
    garden.service.weather = make.weather(today - 10 * DAY, 24 * 20, mean_c=-4.0)
    garden.write(place.replace("Europe/Ljubljana", zone) + HANDS_ON + BENCH + EMBER)
    checked = garden.do("check")
    assert "ok   configuration: Orchard End" in checked.stdout
    assert "ok   weather" in checked.stdout, checked.output
    (asked,) = garden.service.asked
    assert (float(asked["latitude"]), float(asked["longitude"])) == (latitude, longitude)
    done = garden.do("once", "--dry-run")
    assert done.exit_code == 0, done.output
    assert "nan" not in done.stdout
    assert garden.do("ahead").exit_code == 0
