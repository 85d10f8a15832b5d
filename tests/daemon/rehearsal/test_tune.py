"""`underbench tune`: what other values of a limit would have brought in a spring with frosts."""

from __future__ import annotations

import re
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest
from click.testing import CliRunner, Result
from garden_toml import BENCH, EMBER, HANDS_ON, HEATH, MEANS, PLACE, SHED
from series_csv import write_series

from underbench.daemon.commands.cli import main

FIRST = datetime(2024, 3, 1, tzinfo=UTC)
# Mean air, °C, from that day of the series on: frost on open leaves on 15 and 16 April.
SPELLS_C = {0: 9.0, 45: 5.7, 47: 10.0}
SPAN = ("--from", "2024-04-14T15:00", "--to", "2024-04-15T14:00")
GARDEN = PLACE + HANDS_ON + MEANS + BENCH + SHED + EMBER + HEATH


@pytest.fixture(scope="module")
def config(tmp_path_factory: pytest.TempPathFactory, make: Any) -> Path:
    folder: Path = tmp_path_factory.mktemp("tune")
    days = np.arange(56)
    mean_c = np.array([SPELLS_C[max(at for at in SPELLS_C if at <= day)] for day in days])
    weather = make.weather(FIRST, 24 * 56, mean_c=np.repeat(mean_c, 24), swing_k=6.0)
    write_series(folder / "spring.csv", weather)
    (folder / "garden.toml").write_text(GARDEN, "utf-8")
    return folder / "garden.toml"


def _tune(config: Path, *words: str, span: tuple[str, ...] = SPAN) -> Result:
    weather = str(config.with_name("spring.csv"))
    command = ["--config", str(config), "tune", *words, "--weather", weather, *span]
    return CliRunner().invoke(main, command)


def test_a_milder_limit_tells_no_more_and_harms_no_less(config: Path) -> None:
    chart = config.with_name("ember.svg")
    result = _tune(config, "Ember", "leaf_frost_c", "--chart", str(chart))

    assert result.exit_code == 0, result.output
    rows = re.findall(r"^(-?[\d.]+)(  today)? +(\d+) +(\d+) +(\d+)$", result.stdout, re.MULTILINE)
    values, messages, harmed = ([float(row[n]) for row in rows] for n in (0, 2, 4))
    assert values == [-3.5, -3.0, -2.5, -2.0, -1.5]
    assert [row[0] for row in rows if row[1]] == ["-2.5"]
    assert messages == sorted(messages)
    assert messages[-1] > 0
    assert harmed == sorted(harmed, reverse=True)
    assert "[tree.limits]" in result.stdout
    assert re.search(r"^leaf_frost_c = -\d", result.stdout, re.MULTILINE)
    bars = [e for e in ElementTree.parse(chart).iter() if e.get("class") in ("bar", "today")]
    assert len(bars) == 3 * len(values)


def test_where_no_night_comes_near_the_limit_nothing_is_told_or_harmed(config: Path) -> None:
    bare = ("--from", "2024-03-08T12:00", "--to", "2024-03-09T12:00")
    result = _tune(config, "Ember", "leaf_frost_c", span=bare)

    assert result.exit_code == 0, result.output
    rows = re.findall(r"^-[\d.]+(?:  today)? +(\d+) +(\d+) +(\d+)$", result.stdout, re.MULTILINE)
    assert rows == [("0", "0", "0")] * 5
    assert "In this weather all these values come to the same." in result.stdout
    assert "Least harm" not in result.stdout


def test_a_keeper_of_us_units_reads_and_writes_fahrenheit(config: Path) -> None:
    us = config.with_name("us.toml")
    place = PLACE.replace("timezone", 'units = "us"\ntimezone')
    own = "[tree.limits]\nleaf_frost_f = 27.5\n"
    us.write_text(place + HANDS_ON + MEANS + BENCH + SHED + HEATH + EMBER + own, "utf-8")
    result = _tune(us, "Ember", "leaf_frost_f")

    assert result.exit_code == 0, result.output
    assert result.stdout.startswith("leaf_frost_f of Ember")
    assert re.search(r"^27\.5  today ", result.stdout, re.MULTILINE)
    assert re.search(r"^leaf_frost_f = \d", result.stdout, re.MULTILINE)
    assert "°C" not in result.stdout


def test_the_limit_with_most_leverage_is_named(config: Path) -> None:
    result = _tune(config, "acer palmatum")

    assert result.exit_code == 0, result.output
    assert result.stdout.startswith("leaf_frost_c of Acer palmatum (1 tree)")
    assert '[limits.species."Acer palmatum"]' in result.stdout


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (
            ("Embre", "leaf_frost_c"),
            "no tree, spot or species called 'Embre'; did you mean 'Ember'?",
        ),
        (("Ember", "leaf_frost"), "no limit called 'leaf_frost'; did you mean 'leaf_frost_c'?"),
        (("Ember", "air_min_c"), "Ember has no air_min_c yet: set one in the file to go by"),
    ],
)
def test_what_is_not_there_is_one_clear_line(
    config: Path, words: tuple[str, str], said: str
) -> None:
    result = _tune(config, *words)

    assert result.exit_code == 2
    assert result.stderr.strip() == said
