"""From readings to a corrected outlook, through real passes; and what ``underbench skill`` says."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from commanding import strict_json
from garden_toml import BENCH, EMBER, HANDS_ON, MEANS, PLACE, SHED

from underbench.daemon.alerts.hourly_pass import Pass
from underbench.daemon.commands.cli import main
from underbench.daemon.outlook.members import learned_of
from underbench.daemon.readings.nightly_learning import learn_nights
from underbench.daemon.readings.sensor_report import new_troubles
from underbench.rules.garden.readings import Quantity, Reading
from underbench.rules.physics.places import place_of
from underbench.rules.physics.surroundings import near_ground_k
from underbench.rules.weather.hourly import Weather
from underbench.rules.weather.learned import Learned, Pair, learn, to_text
from underbench.rules.weather.thermometer import DAY as DAYLIGHT
from underbench.rules.weather.thermometer import Hours

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
FIRST_DAY = datetime(2024, 2, 14, tzinfo=UTC)
FIRST_PASS = datetime(2024, 2, 20, 7, 10, tzinfo=UTC)  # in the morning, a day before a morning
NIGHTS = 14
TOML = PLACE + HANDS_ON + MEANS + BENCH + SHED + "room = 1\nmax_litres = 20\n" + EMBER


@pytest.fixture(scope="module")
def weather(make: Any) -> Weather:
    made: Weather = make.weather(FIRST_DAY, 24 * 40, mean_c=6.0, swing_k=5.0)  # nights at 1 °C
    return made


def morning(at: datetime, value: float, spot: str | None = None) -> Reading:
    return Reading(at, Quantity.AIR_MIN, value, spot, None, "command")


def lived(lab: Any, low_c: float, spot: str | None = None, nights: int = NIGHTS) -> list[Pass]:
    """A pass a morning, with the night's minimum read before it, a little different each night."""
    done = []
    for day in range(nights):
        now = FIRST_PASS + day * DAY
        lab.store.readings.add([morning(now - HOUR, low_c + 0.2 * (-1) ** day, spot)])
        done.append(lab.run(now))
    return done


def hours_of_noon(at: datetime) -> np.ndarray:
    """The parts of a daylight hour's correction."""
    one = np.zeros(1)
    return Hours(np.array([int(at.timestamp())]), one, one, one).day_rows[0]


def lowest_c(done: Pass) -> float:
    """The middle of the lowest airs of the coming night, °C."""
    air_c = done.outlook.weather.air_c[:, :24]
    return float(np.median(air_c.min(axis=1)))


@pytest.fixture(scope="module")
def plain_low_c(make: Any, weather: Weather, tmp_path_factory: pytest.TempPathFactory) -> float:
    from conftest import Lab  # noqa: PLC0415

    lab = Lab(tmp_path_factory.mktemp("plain"), TOML, weather)
    done = [lab.run(FIRST_PASS), lab.run(FIRST_PASS + (NIGHTS - 1) * DAY)][-1]
    assert lab.count("night_forecast") == 0  # nobody measures, so nothing is kept
    assert to_text(done.outlook.learned) == to_text(Learned())
    lab.store.close()
    return lowest_c(done)


@pytest.fixture(scope="module")
def cold(weather: Weather, tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Any, Pass]]:
    """A garden 2 °C colder than each night's forecast, and the last of its passes."""
    from conftest import Lab  # noqa: PLC0415

    lab = Lab(tmp_path_factory.mktemp("cold"), TOML, weather)
    yield lab, lived(lab, -1.0)[-1]  # the forecast has 1 °C each night
    lab.store.close()


def test_a_cold_garden_is_learned_and_foreseen_colder(
    cold: tuple[Any, Pass], weather: Weather, plain_low_c: float
) -> None:
    lab, last = cold
    assert last.outlook.learned.nights >= NIGHTS - 4
    assert plain_low_c - 2.2 < lowest_c(last) < plain_low_c - 1.2
    dew_k = last.outlook.weather.air_c - last.outlook.weather.dew_c
    assert dew_k.min() >= 0.0
    # The hours as used stay as the service had them, and so does what was felt in them.
    kept = lab.store.hours.between(FIRST_PASS, FIRST_PASS + 9 * DAY)
    np.testing.assert_allclose(
        kept.air_c,
        weather.between(FIRST_PASS, FIRST_PASS + 9 * DAY).air_c,
        atol=0.001,  # as the service rounds
    )
    nights = lab.store.learning.nights(FIRST_PASS, FIRST_PASS + 60 * DAY)
    assert {row.spot for row in nights} == {None}
    assert {row.lead_h for row in nights} == {24, 48, 72}
    assert nights[-1].corrected_c < nights[-1].forecast_c - 1.0
    assert len(nights[-1].members_c) == last.outlook.weather.members


def test_a_cold_spot_is_colder_for_the_trees_that_stand_there(
    labs: Callable[..., Any], weather: Weather
) -> None:
    lab = labs(TOML, weather, "hollow")
    for day in range(8):
        lab.store.readings.add([morning(FIRST_PASS + day * DAY - HOUR, 1.0)])  # the garden's
    outlook = lived(lab, -1.0, "top bench", nights=8)[-1].outlook
    departs = outlook.settings.spots["top bench"].departs
    assert departs.always_k + departs.night_k + departs.clear_calm_k < -0.3
    night = outlook.weather.air_c[:, :24].argmin(axis=1)
    members = np.arange(outlook.weather.members)
    garden_c = outlook.weather.air_c[members, night]
    bench_c = outlook.course.exposure.air_c[0][members, night]
    assert (bench_c < garden_c - 0.3).all()
    assert outlook.settings.spots["shed"].departs.parts_k == (0.0, 0.0, 0.0)


def test_a_spot_as_cold_as_its_ground_makes_it_teaches_nothing(
    labs: Callable[..., Any], weather: Weather, plain_low_c: float
) -> None:
    """The bench lies below the air of 2 m, and the models know. So neither garden nor spot is made
    colder for it."""
    lab = labs(TOML, weather, "as reckoned")
    spot, garden = lab.settings.spots["top bench"], lab.settings.garden
    bench_c = weather.air_c + near_ground_k([place_of(spot)], weather, garden)[0]
    low_c = float(np.median(bench_c.reshape(-1, 24).min(axis=1)))
    assert low_c < weather.air_c.min() - 1.0
    outlook = lived(lab, low_c, "top bench", nights=8)[-1]
    assert lowest_c(outlook) == pytest.approx(plain_low_c, abs=0.4)
    departs = outlook.outlook.settings.spots["top bench"].departs
    assert departs.parts_k == pytest.approx((0.0, 0.0, 0.0), abs=0.3)


def test_readings_in_a_shed_teach_nothing(labs: Callable[..., Any], weather: Weather) -> None:
    lab = labs(TOML, weather, "indoors")
    last = lived(lab, 9.0, "shed", nights=4)[-1]
    assert not last.outlook.learned.places
    assert lab.count("night_forecast") == 0


def test_hours_that_are_measured_teach_too_and_learning_twice_changes_nothing(
    labs: Callable[..., Any], weather: Weather
) -> None:
    lab = labs(TOML, weather, "hours")
    lab.run(FIRST_PASS)
    hours = weather.between(FIRST_PASS - 3 * DAY, FIRST_PASS)
    lab.store.readings.add(
        Reading(datetime.fromtimestamp(int(at), UTC), Quantity.AIR, air - 1.5, None, None, "mqtt")
        for at, air in zip(hours.times.tolist(), hours.air_c[0].tolist(), strict=True)
    )
    learn_nights(lab.settings, lab.store, FIRST_PASS + 9 * HOUR)
    once = to_text(learned_of(lab.store))
    (one,) = learned_of(lab.store).places.values()
    assert one.nights == 0.0  # no night was foreseen yet
    by_day = one.known.coefficients(DAYLIGHT)
    assert -1.5 < float(by_day @ hours_of_noon(FIRST_PASS)) < -0.5
    learn_nights(lab.settings, lab.store, FIRST_PASS + 10 * HOUR)
    assert to_text(learned_of(lab.store)) == once


def test_what_cannot_be_read_any_more_is_learned_anew(
    labs: Callable[..., Any], weather: Weather
) -> None:
    lab = labs(TOML, weather, "broken")
    lab.store.learning.keep("{}", FIRST_PASS)
    assert to_text(learned_of(lab.store)) == to_text(Learned())


def skill(lab: Any, *words: str) -> Result:
    config = str(lab.folder / "garden.toml")
    at = (FIRST_PASS + (NIGHTS - 1) * DAY).isoformat()
    env = {"UNDERBENCH_STORE__PATH": "underbench.db"}
    return CliRunner().invoke(main, ["--config", config, "skill", "--at", at, *words], env=env)


def test_skill_says_what_to_do_before_there_is_any(
    labs: Callable[..., Any], weather: Weather
) -> None:
    lab = labs(TOML, weather, "none")
    done = skill(lab)
    assert done.exit_code == 0, done.output
    assert "underbench reading -2.5 air-min" in done.stdout
    assert strict_json(skill(lab, "--json").stdout)["scores"] == []


def test_skill_shows_nights_and_scores(cold: tuple[Any, Pass]) -> None:
    lab, _ = cold
    done = skill(lab)
    assert done.exit_code == 0, done.output
    for word in (
        "corrected",
        "measured",
        "CRPS",
        "Brier",
        "climatology",
        "not yet wholly believed",
    ):
        assert word in done.stdout
    assert max(map(len, done.stdout.splitlines())) <= 100
    body = strict_json(skill(lab, "--json").stdout)
    scores = {way["name"]: way["crps_k"] for way in body["scores"]}
    # The later nights are foreseen by what the earlier ones taught.
    assert scores["corrected"] < scores["as forecast"]
    assert len(body["nights"]) >= NIGHTS - 4


def test_two_places_measured_in_one_night_count_as_one(
    labs: Callable[..., Any], weather: Weather
) -> None:
    lab = labs(TOML, weather, "two")
    for day in range(6):
        now = FIRST_PASS + day * DAY
        readings = [morning(now - HOUR, -1.0 - 0.1 * day, spot) for spot in (None, "top bench")]
        lab.store.readings.add(readings)
        done = lab.run(now)
    # The first morning foresees the second; the last one's night ends in the afternoon to come.
    assert done.outlook.learned.nights == pytest.approx(4.0)


def test_a_root_ball_s_reading_stands_beside_the_model_s(
    labs: Callable[..., Any], weather: Weather
) -> None:
    lab = labs(TOML, weather, "pots")
    for hour in (0, 1):
        lab.run(FIRST_PASS + (NIGHTS - 2 + hour) * DAY)
    last = FIRST_PASS + (NIGHTS - 1) * DAY - 2 * HOUR
    pots = [(Quantity.ROOT_BALL, "Ember"), (Quantity.BAG, "Ember"), (Quantity.ROOT_BALL, "Nobody")]
    lab.store.readings.add(Reading(last, kind, 3.0, None, tree, "mqtt") for kind, tree in pots)
    (one,) = strict_json(skill(lab, "--json").stdout)["beside"]  # no bag, and no such tree
    assert (one["quantity"], one["tree"], one["observed_c"]) == ("root-ball", "Ember", 3.0)
    assert -2.0 < one["modelled_c"] < 12.0  # the air has been between 1 and 11 °C
    assert "root-ball Ember" in skill(lab).stdout


def test_a_thermometer_that_is_moved_is_told_of_once_with_what_to_do(
    labs: Callable[..., Any], weather: Weather
) -> None:
    lab = labs(TOML, weather, "moved")
    learned = Learned()
    for night in range(120):
        at_s = int((FIRST_PASS - (120 - night) * DAY).timestamp())
        low_c = 3.0 * float(np.sin(2.4 * night))
        off_k = 4.0 if night >= 60 else 0.0
        learned = learn(learned, [Pair(at_s, "top bench", 24.0, low_c, low_c + off_k)])
        if learned.held:
            break
    assert learned.held == ["top bench"]
    lab.store.learning.keep(to_text(learned), FIRST_PASS)
    lab.store.readings.add([morning(FIRST_PASS - HOUR, 1.0, "top bench")])
    (line,) = new_troubles(lab.store, FIRST_PASS)
    assert "underbench reading --new-sensor 'top bench'" in line
    assert new_troubles(lab.store, FIRST_PASS + HOUR) == []
