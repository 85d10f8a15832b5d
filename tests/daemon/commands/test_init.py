"""The first questions give a file that loads, an address that is private, and a unit that fits."""

from __future__ import annotations

import shutil
import subprocess
from pathlib import Path

import pytest
import requests
import responses
from click.testing import CliRunner, Result
from hypothesis import given
from hypothesis import strategies as st
from receiving import Receiver, receiving

from underbench.daemon.commands.cli import main
from underbench.daemon.commands.unit_file import system_unit
from underbench.daemon.config.limits_table import name_fault
from underbench.daemon.config.settings import load
from underbench.daemon.journal.first_garden import (
    NewGarden,
    NewSpot,
    NewTree,
    as_toml,
    keep_garden,
)
from underbench.daemon.weather.gazetteer import URL
from underbench.rules.plants.likeness import LIKENESSES

UNIT = Path(__file__).parents[3] / "deploy" / "underbench.service"
PLACES = {
    "results": [
        {
            "name": "Elmswick",
            "admin1": "Westshire",
            "country": "Nowhere",
            "latitude": 52.25,
            "longitude": -1.5,
            "elevation": 81.0,
            "timezone": "Europe/London",
        },
        {"name": "Elmswick", "country": "Elsewhere", "latitude": -41.0, "longitude": 174.0},
    ],
    "generationtime_ms": 0.6,
}
BY_NAME = ["metric", "Elmswick", "1", "", "Mill Yard", "bench", "top bench", "08:00-15:30"]
BY_NAME += ["gravel", "70"]
BY_MAP = ["us", "45.1, -93.2", "870", "America/Chicago", "Mill Yard", "bench", "", "", "", ""]
FLEECE = ["2"]
SHED = ["shed", "", "5", "none", *FLEECE]
TREES = ["Ember", "Acer palmatum", "4", "Heath", "Scots pine", "6", ""]
NO_PHONE, NO_UNIT = [""], ["n"]


def init(path: Path, *answers: str) -> Result:
    text = "".join(f"{answer}\n" for answer in answers)
    return CliRunner().invoke(main, ["--config", str(path), "init"], input=text)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "garden.toml"


def test_a_height_that_cannot_be_is_asked_for_again(path: Path) -> None:
    by_map = [*BY_MAP[:2], "87000", *BY_MAP[2:]]
    done = init(path, *by_map, *SHED, *TREES, *NO_PHONE, *NO_UNIT)
    assert done.exit_code == 0, done.output
    assert "87000 is not in the range" in done.output
    assert load(path, {}).garden.elevation_m == pytest.approx(870 * 0.3048)


@responses.activate
def test_a_garden_found_by_its_place_name(path: Path) -> None:
    asked = responses.get(URL, json=PLACES)
    done = init(path, *BY_NAME, *SHED, *TREES, *NO_PHONE, *NO_UNIT)
    assert done.exit_code == 0, done.output
    assert "1  Elmswick, Westshire, Nowhere (52.25, -1.50)" in done.output
    assert asked.calls[0].request.params["name"] == "Elmswick"
    settings = load(path, {})
    garden = settings.garden
    assert (garden.name, garden.latitude, garden.elevation_m) == ("Mill Yard", 52.25, 81.0)
    assert garden.timezone == "Europe/London"
    bench = settings.spots["top bench"]
    assert (bench.sun_from, bench.sun_until) == (8.0, 15.5)
    assert (bench.surface, bench.height_cm) == ("gravel", 70)
    assert settings.spots["shed"].room == 5
    assert settings.means.fleece_layers == 2
    assert [tree.name for tree in settings.trees] == ["Ember", "Heath"]
    assert settings.trees[0].container.litres == 4


@responses.activate
@pytest.mark.parametrize(
    "trouble",
    [
        {"json": {"generationtime_ms": 0.5}},  # as the service answers when it knows none
        {"body": b"<html>busy</html>", "status": 502},
        {"body": requests.ConnectionError("no route")},
        {"json": [1, 2]},
    ],
)
def test_where_no_name_is_known_coordinates_do(path: Path, trouble: dict[str, object]) -> None:
    responses.get(URL, **trouble)  # type: ignore[arg-type]
    us, there, *rest = BY_MAP
    done = init(path, us, "Elmswick", "95, 4", there, *rest, *SHED, *TREES, *NO_PHONE, *NO_UNIT)
    assert done.exit_code == 0, done.output
    assert "Traceback" not in done.output
    assert "latitude, longitude" in done.output
    assert "Latitude is -90 to 90" in done.output
    settings = load(path, {})
    assert settings.units == "us"
    assert settings.garden.elevation_m == pytest.approx(870 * 0.3048)  # the international foot
    assert settings.trees[0].container.litres == pytest.approx(4 * 3.785411784)  # US gallons


@pytest.mark.parametrize(("units", "degrees"), [("metric", "2.5"), ("us", "36.5")])
def test_a_garden_has_all_its_refuges_and_how_cold_they_get(
    path: Path, units: str, degrees: str
) -> None:
    shelters = ["plunge bed", "", "9", "greenhouse", "Glasshouse", "12", "y", degrees]
    shelters += ["garage", "glasshouse", "garage", "3", "n", "none", "0"]
    done = init(path, units, *BY_MAP[1:], *shelters, *TREES, *NO_PHONE, *NO_UNIT)
    assert done.exit_code == 0, done.output
    assert "there is one of that name already" in done.output
    settings = load(path, {})
    assert list(settings.spots) == ["bench", "plunge bed", "Glasshouse", "garage"]
    assert settings.spots["Glasshouse"].keeps_above_c == pytest.approx(2.5)
    assert settings.spots["garage"].keeps_above_c is None
    assert settings.spots["garage"].is_dark
    assert settings.means.fleece_layers == 0


def test_a_slip_is_asked_again_with_the_nearest_name(path: Path) -> None:
    slips = ["metric", "46.05, 14.5", "300", "Europe/Ljublana", "Europe/Ljubljana", "", "Yard"]
    sun = ["bench", "", "all day", "none", "lawn", "grass", ""]
    trees = ["", "Ember", "Acer palmatun", "", "Acer palmatum", "0", "4", "ember", ""]
    done = init(path, *slips, *sun, *SHED, *trees, *NO_PHONE, *NO_UNIT)
    assert done.exit_code == 0, done.output
    for word in ("did you mean 'Europe/Ljubljana'?", "I mistyped it: Acer palmatum"):
        assert word in done.output
    assert "One tree at least" in done.output
    assert "There is one already" in done.output
    assert [tree.name for tree in load(path, {}).trees] == ["Ember"]


def test_the_phone_gets_a_test_message_and_the_address_is_for_nobody_else(path: Path) -> None:
    with receiving() as receiver:
        answers = [*BY_MAP, *SHED, *TREES, address(receiver), "y", *NO_UNIT]
        done = init(path, *answers)
        assert done.exit_code == 0, done.output
        assert receiver.titles("/s3cret") == ["Underbench: a test"]
    assert "entry 1 (json://1***): taken, all 1000 characters" in done.output
    kept = path.parent / "secrets" / "telling_urls"
    assert kept.stat().st_mode & 0o777 == 0o600
    assert kept.parent.stat().st_mode & 0o777 == 0o700
    assert "s3cret" not in path.read_text(encoding="utf-8")
    assert len(load(path, {}).telling.urls) == 1


def test_a_decimal_comma_or_a_unit_is_asked_again_as_it_is_written(path: Path) -> None:
    trees = ["Ember", "Acer palmatum", "2,5", "2.5 gal", "2.5", ""]
    done = init(path, *BY_MAP, *SHED, *trees, *NO_PHONE, *NO_UNIT)
    assert done.exit_code == 0, done.output
    assert "write 2.5, with a point" in done.output
    assert "write 2.5, the number alone" in done.output


def test_an_address_that_no_service_reads_is_asked_for_again(path: Path) -> None:
    slips = ["not-an-address", "ntfyy://garden", "tgram://t0ken"]
    done = init(path, *BY_MAP, *SHED, *TREES, *slips, "json://localhost", "n", *NO_UNIT)
    assert done.exit_code == 0, done.output
    assert "no service has addresses that begin like this" in done.output
    assert "did you mean ntfy://?" in done.output
    assert "a part of this address is missing or wrong" in done.output
    kept = path.parent / "secrets" / "telling_urls"
    assert kept.read_text(encoding="utf-8") == "json://localhost\n"


def address(receiver: Receiver) -> str:
    return receiver.url("/s3cret").get_secret_value()


def test_a_garden_that_is_there_is_left_alone(path: Path) -> None:
    path.write_text("precious", encoding="utf-8")
    done = init(path)
    assert done.exit_code == 2
    assert "is there already" in done.stderr
    assert path.read_text(encoding="utf-8") == "precious"


def test_the_unit_runs_what_is_installed_here(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(path.parent / "state"))
    done = init(path, *BY_MAP, *SHED, *TREES, *NO_PHONE, "y")
    assert done.exit_code == 0, done.output
    unit = (path.parent / "underbench.service").read_text(encoding="utf-8")
    assert f"--config {path} run" in unit
    assert f"ReadWritePaths={path.parent / 'state' / 'underbench'}" in unit
    assert (path.parent / "state" / "underbench").is_dir()


def test_the_unit_in_the_checkout_is_the_one_the_code_writes() -> None:
    assert UNIT.read_text(encoding="utf-8") == system_unit()


@pytest.mark.skipif(shutil.which("systemd-analyze") is None, reason="no systemd-analyze here")
def test_the_unit_is_shut_in() -> None:
    """On systemd's own scale 0 is confined and 10 is exposed."""
    done = subprocess.run(
        ["systemd-analyze", "security", "--offline=true", "--threshold=15", str(UNIT)],
        capture_output=True,
        encoding="utf-8",
        check=False,
        timeout=60,
    )
    assert done.returncode == 0, done.stdout[-300:] + done.stderr


SEEN = st.characters(exclude_categories=["C", "Z"], include_characters=" ")
words = st.text(SEEN, min_size=1, max_size=30).filter(
    lambda text: (
        text.strip() == text and " ".join(text.split()) == text and name_fault(text) is None
    )
)


@given(garden=words, spot=words, tree=words, litres=st.floats(0.05, 900))
def test_any_names_make_a_file_that_reads_back(
    tmp_path_factory: pytest.TempPathFactory, garden: str, spot: str, tree: str, litres: float
) -> None:
    path = tmp_path_factory.mktemp("garden") / "garden.toml"
    keep_garden(
        as_toml(
            NewGarden(
                garden,
                -33.9,
                18.4,
                40.0,
                "Africa/Johannesburg",
                "metric",
                [NewSpot(spot, "bench", sun="none")],
                [NewTree(tree, "Olea europaea", litres, spot)],
            )
        ),
        path,
    )
    settings = load(path, {})
    assert settings.garden.name == garden
    assert [(one.name, one.spot) for one in settings.trees] == [(tree, spot)]


def test_a_species_that_is_not_in_the_table_gets_its_class_by_a_question(path: Path) -> None:
    likes = [one.hardiness for one in LIKENESSES]
    olive = str(likes.index("mediterranean evergreen") + 1)
    trees = ["Grey", "Olearia traversii", "99", olive, "6", "Ember", "Acer palmatum", "4", ""]
    done = init(path, *BY_MAP, *SHED, *trees, *NO_PHONE, *NO_UNIT)
    assert done.exit_code == 0, done.output
    assert "Olearia traversii is not in the table of species." in done.output
    grey, ember = load(path, {}).trees
    assert (grey.species, grey.hardiness) == ("Olearia traversii", "mediterranean evergreen")
    assert ember.hardiness is None
