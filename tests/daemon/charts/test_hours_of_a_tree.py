"""What one tree feels, hour by hour: the keeper's table and the chart."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from garden_toml import BENCH, EMBER, FIG, HANDS_ON, PLACE
from openmeteo_service import Query, Reply, StandIn, serving

from underbench.daemon.commands.cli import main
from underbench.rules.weather.hourly import Weather

FIRST_DAY = datetime(2024, 3, 5, tzinfo=UTC)
FROST_DAY = datetime(2024, 4, 24, tzinfo=UTC)
EVENING = datetime(2024, 4, 23, 15, 10, tzinfo=UTC)  # 17:10 in the garden, a Tuesday
MORNING = datetime(2024, 5, 18, 5, tzinfo=UTC)
WIDEST = 100

SHELF = """
[[spot]]
name = "the long shelf by the kitchen window now"
kind = "shelf"
sun = "08:00-18:00"
"""
THIMBLE = """
[[tree]]
name = "Thimble & Sons, the smallest of them all"
species = "Acer palmatum"
cultivar = "A cultivar with a name as long as it goes"
litres = 0.4
height_cm = 15
crown_cm = 14
spot = "the long shelf by the kitchen window now"
"""
STUMP = """
[[tree]]
name = "Stump"
species = "Quercus robur"
litres = 14
spot = "top bench"
"""
GARDEN = HANDS_ON + BENCH + SHELF + EMBER + THIMBLE + STUMP + FIG
WATERED = """
[[watering]]
times = ["07:00"]
every_days = 3
"""
SMALL = "Thimble & Sons, the smallest of them all"


@pytest.fixture(scope="module")
def weather(make: Any) -> Weather:
    """A spring from 7 to 13 °C with one clear frost in April, then dry days of 24 °C."""
    spring, summer = np.linspace(7, 13, 65).repeat(24), np.full(20 * 24, 24.0)
    night = 24 * (FROST_DAY - FIRST_DAY).days
    spring[night - 12 : night + 12] = 2.0
    daily = np.concatenate([spring, summer])
    made: Weather = make.weather(FIRST_DAY, len(daily), mean_c=daily, swing_k=6.0)
    return made


class Told:
    """A garden's folder with the loopback's weather, and the command run for it."""

    def __init__(self, folder: Path, weather: Weather) -> None:
        self.folder, self.weather, self.down = folder, weather, False

    def run(
        self, *words: str, at: datetime = EVENING, units: str = "metric", more: str = ""
    ) -> Result:
        def answer(query: Query) -> bytes | Reply:
            return Reply(b"", 503) if self.down else serving(self.weather, lambda: at)(query)

        with StandIn(answer) as service:
            text = PLACE + f'units = "{units}"' + GARDEN + more
            text += f'\n[weather]\nbase_url = "{service.url}"\n[store]\npath = "underbench.db"\n'
            (self.folder / "garden.toml").write_text(text, encoding="utf-8")
            options = ["--config", str(self.folder / "garden.toml"), *words]
            return CliRunner().invoke(main, options)

    def feels(self, tree: str = "Ember", *words: str, at: datetime = EVENING, **given: str) -> str:
        done = self.run("feels", tree, "--at", at.isoformat(), *words, at=at, **given)
        assert done.exit_code == 0, done.output
        assert all(len(line) <= WIDEST for line in done.stdout.splitlines())
        return done.stdout

    def both(self, tree: str = "Ember", **given: Any) -> tuple[str, ET.Element]:
        """The table and the chart."""
        file = self.folder / "tree.svg"
        shown = self.feels(tree, "--chart", str(file), **given)
        return shown, ET.fromstring(file.read_text(encoding="utf-8"))


@pytest.fixture
def told(tmp_path: Path, weather: Weather) -> Told:
    return Told(tmp_path, weather)


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("frost")


@pytest.fixture(scope="module")
def shown(folder: Path, weather: Weather) -> str:
    """Ember before the night of frost, and its chart in ``folder / "tree.svg"``."""
    return Told(folder, weather).feels("Ember", "--chart", str(folder / "tree.svg"))


@pytest.fixture(scope="module")
def dry(weather: Weather, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, ET.Element]:
    """The smallest tree in the dry days, watered each third day: its table and its chart. Both are
    in US units."""
    told = Told(tmp_path_factory.mktemp("dry"), weather)
    return told.both(SMALL, at=MORNING, units="us", more=WATERED)


@pytest.fixture(scope="module")
def bagged(weather: Weather, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, ET.Element]:
    """A chopped stump in its bag: its table and its chart."""
    told = Told(tmp_path_factory.mktemp("bagged"), weather)
    told.run("did", "chop", "Stump", "--on", "2024-03-01")
    told.run("did", "bag", "Stump", "--on", "2024-03-02")
    return told.both("Stump")


@pytest.fixture(scope="module")
def american(weather: Weather, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, ET.Element]:
    """Ember before the night of frost, in US units: its table and its chart."""
    return Told(tmp_path_factory.mktemp("american"), weather).both(units="us")


def rows(shown: str) -> list[tuple[str, list[str]]]:
    """The table's hours, each with its cells: the time and what follows it."""
    found = re.findall(r"^  (\d\d:\d\d)  +(.+)$", shown, re.MULTILINE)
    return [(clock, re.split(r"  +", cells.strip())) for clock, cells in found]


def svg_words(root: ET.Element) -> list[str]:
    return ["".join(e.itertext()) for e in root.iter("{http://www.w3.org/2000/svg}text")]


def c(cell: str) -> float:
    return float(cell.split(maxsplit=1)[0].replace("−", "-"))


# The table


def test_what_it_can_bear_stands_at_the_head(shown: str) -> None:
    assert shown.startswith("Ember: Acer palmatum, 4.0 L pot at top bench, ")
    # The class's figure for open leaves of Japanese maple; common practice, no source.
    assert re.search(r"^frost on leaves +−2\.5 °C +−4\.5 °C", shown, re.MULTILINE)


def test_two_days_are_hourly_and_the_rest_every_third_hour(shown: str) -> None:
    clocks = [clock for clock, _ in rows(shown)]
    assert clocks[:8] == ["18:00", "19:00", "20:00", "21:00", "22:00", "23:00", "00:00", "01:00"]
    assert clocks[47] == "17:00"
    assert clocks[48:51] == ["20:00", "23:00", "02:00"]
    assert len(clocks) == 48 + (5 - 2) * 24 // 3


def test_days_are_named_by_the_local_calendar(shown: str) -> None:
    assert re.findall(r"^(\w{3} \d+ Apr)$", shown, re.MULTILINE) == [
        "Tue 23 Apr",
        "Wed 24 Apr",
        "Thu 25 Apr",
        "Fri 26 Apr",
        "Sat 27 Apr",
        "Sun 28 Apr",
    ]


def test_harm_is_marked_on_the_hours_of_frost_and_only_there(shown: str) -> None:
    marked = {n: cells for n, (_, cells) in enumerate(rows(shown)) if "!" in cells[-1]}
    assert marked
    for hour, cells in marked.items():
        assert 0 < hour < 20  # the first night
        assert re.fullmatch(r"\d+% !!?", cells[-1])
        leaf = re.fullmatch(r"−\d+\.\d \((−\d+\.\d)\)", cells[1])
        assert leaf, cells  # a middle, and the worst tenth beside it
        assert c(leaf[1]) < -2.5


def test_the_table_and_why_agree_on_the_night(told: Told, shown: str) -> None:
    why = told.run("why", "Ember", "--at", EVENING.isoformat()).stdout
    listed = re.search(r"^!!? +Frost +\S.*?(−\d+\.\d °C) +−2\.5 °C +(\d+%)", shown, re.MULTILINE)
    assert listed
    assert re.search(rf"PROTECT, \w+: Frost {listed[1]} at .*chance {listed[2]}", why)


def test_the_air_is_that_of_the_forecast(shown: str) -> None:
    """It is made to order: mean 2 °C, swing 6 K, warmest at 16:00, coldest at 04:00 UTC."""
    by_clock = dict(reversed(rows(shown)[:24]))
    assert c(by_clock["18:00"][0]) == pytest.approx(8.0, abs=0.3)
    assert c(by_clock["06:00"][0]) == pytest.approx(-4.0, abs=0.6)


def test_water_is_followed_only_with_a_routine(shown: str, dry: tuple[str, ET.Element]) -> None:
    assert "Water is not followed" in shown
    watered, _ = dry
    assert "Water is not followed" not in watered
    assert re.search(r"^ +air +leaf +edge +core +wall +gust +water +harm$", watered, re.MULTILINE)
    assert re.search(r"^!!? +Dry pots", watered, re.MULTILINE)


def test_a_bag_takes_the_place_of_the_leaf(bagged: tuple[str, ET.Element]) -> None:
    shown, _ = bagged
    assert re.search(r"^ +air +in bag +edge +core +wall", shown, re.MULTILINE)
    assert "the bag's inside is known to ±5 °C" in shown
    assert "heat in the bag" in shown


def test_a_tropical_is_shown_its_cold_air(told: Told) -> None:
    shown = told.feels("Fig")
    assert re.search(r"^cold air +\S+ °C", shown, re.MULTILINE)
    assert "frost on" not in shown
    assert re.search(r"^!!? +Too cold for tropicals", shown, re.MULTILINE)


def test_it_ends_with_the_age_of_the_forecast_and_whose_it_is(shown: str) -> None:
    *_, age = shown.split("\n\n")
    assert age.startswith("Forecast of Tue 23 Apr 17:10, 0 h old.")
    assert "Open-Meteo.com" in age


@pytest.mark.usefixtures("no_pauses")
def test_an_older_forecast_says_how_old(told: Told) -> None:
    told.run("once", "--at", EVENING.isoformat())
    told.down = True
    *_, age = told.feels(at=EVENING + timedelta(hours=3)).split("\n\n")
    assert age.startswith("Forecast of Tue 23 Apr 17:10, 3 h old.")


def test_in_fahrenheit_and_miles(american: tuple[str, ET.Element], shown: str) -> None:
    table, _ = american
    assert re.search(r"^frost on leaves +27\.5 °F", table, re.MULTILINE)
    assert "°F, gusts in mph" in table
    assert "°C" not in table
    first_c, first_f = c(rows(shown)[0][1][0]), c(rows(table)[0][1][0])
    assert first_f == pytest.approx(first_c * 1.8 + 32, abs=0.2)


def test_the_longest_names_are_no_wider_than_the_page(dry: tuple[str, ET.Element]) -> None:
    shown, _ = dry
    assert SMALL in shown.replace("\n", " ")
    assert all(len(line) <= WIDEST for line in shown.splitlines())


def test_nothing_is_kept_and_nothing_told(told: Told, shown: str) -> None:
    assert told.feels() == shown
    assert "not told" in told.run("why", "Ember", "--at", EVENING.isoformat()).stdout


def test_an_unknown_tree_is_one_line(told: Told) -> None:
    done = told.run("feels", "Embre")
    assert done.exit_code == 2
    assert done.stderr == "no tree called 'Embre'; did you mean 'Ember'?\n"


# The chart


@pytest.mark.usefixtures("shown")
def test_a_frost_night_is_drawn_with_its_limits(folder: Path) -> None:
    said = svg_words(ET.fromstring((folder / "tree.svg").read_text(encoding="utf-8")))
    assert "Ember" in said
    assert "on top bench, Tue 23 Apr to Thu 25 Apr" in said
    assert {"air", "leaf", "root ball", "Temperature, °C"} <= set(said)
    assert "harms leaves −2.5 °C" in said
    assert "kills leaves −4.5 °C" in said
    assert any("Open-Meteo.com" in line for line in said)
    assert not any("Water" in line for line in said)


def test_a_dry_pot_has_its_water_drawn(dry: tuple[str, ET.Element]) -> None:
    said = svg_words(dry[1])
    assert SMALL in said
    assert "Water left in the pot, %" in said
    assert "harms the tree 15%" in said


def test_a_bag_is_drawn_against_what_it_may_reach(bagged: tuple[str, ET.Element]) -> None:
    said = svg_words(bagged[1])
    assert "bag" in said
    assert "leaf" not in said
    assert "The bag's inside is known to ±5 °C." in said


def test_limits_out_of_reach_are_left_off_and_that_is_said(told: Told, make: Any) -> None:
    first = EVENING.replace(hour=0, minute=0) - timedelta(days=10)
    told.weather = make.weather(first, 24 * 20, mean_c=12.0, swing_k=3.0, cloud=1.0)
    said = svg_words(told.both()[1])
    assert "Temperature, °C (far from every limit)" in said
    assert not any(line.startswith(("harms", "kills")) for line in said)


def test_the_axis_is_in_the_keepers_unit(american: tuple[str, ET.Element]) -> None:
    said = svg_words(american[1])
    assert "Temperature, °F" in said
    assert "harms leaves 27.5 °F" in said
    assert "40" in said


def test_a_file_that_cannot_be_written_is_one_line(told: Told) -> None:
    lost = told.folder / "no such folder" / "tree.svg"
    done = told.run("feels", "Ember", "--at", EVENING.isoformat(), "--chart", str(lost))
    assert done.exit_code == 2
    assert re.fullmatch(r".*tree\.svg: cannot be written: .+\n", done.stderr)
