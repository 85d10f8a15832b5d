"""How trees came through, beside what was told and what they felt in the weather as it came."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from commanding import EVENING, HEAD, Garden, fails, stamp
from garden_toml import BENCH, EMBER, HANDS_ON, HEATH, PLACE
from told_rows import DAY, HOUR, NIGHT_ENDS, NOW, told

from underbench.daemon.config.settings import Settings, load
from underbench.daemon.journal.outcomes import note_outcome
from underbench.daemon.outlook.garden_now import setting_of
from underbench.daemon.store.store import Store
from underbench.rules.garden.journal import Fate, Outcome
from underbench.rules.weather.hourly import Weather

NIGHT = ("--night", "2024-04-23")
NOON = datetime(2024, 4, 23, 10, tzinfo=UTC)  # by the garden's clock: the night begins
UNKNOWN = "What it felt is not known"
FROST = "leaf-frost"


def outcomes(garden: Garden) -> list[Outcome]:
    with Store.open(garden.database) as store:
        return [entry for entry in store.journal.entries() if isinstance(entry, Outcome)]


def of_the_night(weather: Weather) -> Any:
    """Which hours belong to the hazard night that began on 23 April."""
    return (weather.times > NOON.timestamp()) & (weather.times <= NOON.timestamp() + 86_400)


def through_the_night(garden: Garden, warmer_k: float = 0.0) -> None:
    """A pass in the evening, and one a day later. The night came ``warmer_k`` milder."""
    told_at = garden.do("once", "--at", stamp(EVENING))
    assert told_at.exit_code == 0, told_at.output
    weather = garden.service.weather
    mild = np.where(weather.times > EVENING.timestamp(), warmer_k, 0.0)
    garden.service.weather = replace(
        weather, air_c=weather.air_c + mild, dew_c=weather.dew_c + mild
    )
    garden.do("once", "--at", stamp(EVENING + 24 * HOUR))


# What it felt


@pytest.mark.parametrize("warmer_k", [0.0, 1.3])
def test_a_limit_in_air_is_set_against_the_coldest_air_there_was(
    garden: Garden, warmer_k: float
) -> None:
    """This is known without a model: the screen air at an open bench is that of the weather. The
    service gives tenths of a degree."""
    garden.write(HEAD + HEATH + '\n[limits.spot."top bench"]\nair_min_c = 4\n')
    found = garden.seen_at()["findings"]
    in_air = (f for f in found if f["measured_on"] == "screen air")
    cold = next(f for f in in_air if f["span"][0].startswith("2024-04-23"))
    through_the_night(garden, warmer_k)
    said = garden.do("outcome", "heath", "damaged", *NIGHT)
    assert said.exit_code == 0, said.output
    (noted,) = outcomes(garden)
    assert (noted.fate, noted.night) == (Fate.DAMAGED, date(2024, 4, 23))
    assert (noted.hazard, noted.limit) == (cold["hazard"], 4.0)
    assert noted.forecast == pytest.approx(cold["worst"], abs=0.05)
    assert noted.chance == cold["chance"]
    weather = garden.service.weather
    assert noted.felt == pytest.approx(weather.air_c[0, of_the_night(weather)].min(), abs=0.06)
    coldest, forecast = (
        f"{value:.1f} °C".replace("-", "−") for value in (noted.felt, cold["worst"])
    )
    assert said.stdout == (
        "Noted: Heath came through the night of 23 April damaged. "
        f"Told: cold air {forecast} (limit 4.0 °C), chance {cold['chance']:.0%}. "
        f"Felt, by the weather as it was: {coldest}.\n"
    )


def test_leaves_felt_what_the_models_make_of_the_hours(garden: Garden, make: Any) -> None:
    """The rules alone, run in one go through all the weather, give the same for that night.

    Outside check: on a clear, nearly calm night leaves in the open are 1 to 4 K colder than the air
    (from memory). In a shed they are not.
    """
    through_the_night(garden)
    assert garden.do("outcome", "Ember", "fine", *NIGHT).exit_code == 0
    assert garden.do("moved", "Ember", "shed", "--on", "2024-04-23").exit_code == 0
    assert garden.do("outcome", "Ember", "fine", *NIGHT).exit_code == 0
    at_bench, in_shed = (noted.felt or 0.0 for noted in outcomes(garden))
    settings, weather = load(garden.config), garden.service.weather
    night = of_the_night(weather)
    course = make.follow(settings.trees, weather, setting=setting_of(settings))
    assert at_bench == pytest.approx(course.exposure.leaf_c[0, 0, night].min(), abs=0.06)
    coldest_c = float(weather.air_c[0, night].min())
    assert 1.0 <= coldest_c - at_bench <= 4.0
    assert in_shed > coldest_c


@pytest.mark.parametrize("gone", ["hour", "checkpoint"])
def test_what_is_not_kept_is_said_not_guessed(garden: Garden, gone: str) -> None:
    through_the_night(garden)
    with Store.open(garden.database) as store:
        before = "at = :midnight" if gone == "hour" else "at <= :midnight"
        midnight = {"midnight": int(NOON.timestamp()) + (14 if gone == "hour" else 0) * 3600}
        with store.transaction():
            store.db.execute(f"DELETE FROM {gone} WHERE {before}", midnight)
    said = garden.do("outcome", "Ember", "fine", *NIGHT)
    assert (said.exit_code, UNKNOWN in said.stdout) == (0, True)
    assert "Told: frost −" in said.stdout
    (noted,) = outcomes(garden)
    assert noted.felt is None
    assert noted.forecast is not None


def test_of_a_cover_nothing_is_known(garden: Garden) -> None:
    garden.do("once", "--at", stamp(EVENING))
    assert "Heath covered" in garden.do("handled", "--on", "2024-04-23").stdout
    garden.do("once", "--at", stamp(EVENING + 24 * HOUR))
    said = garden.do("outcome", "Ember", "Heath", "fine", *NIGHT).stdout.splitlines()
    assert [", without a cover: " in line for line in said] == [False, True]


def test_of_a_night_of_which_nothing_was_told_the_frost_is_noted(garden: Garden) -> None:
    through_the_night(garden)
    said = garden.do("outcome", "Ember", "damaged", "--night", "2024-04-22").stdout
    assert "Nothing was told of it. Felt, by the weather as it was: frost " in said
    (noted,) = outcomes(garden)
    assert (noted.forecast, noted.chance, noted.limit) == (None, None, -2.5)


# A tree that is lost


def test_nothing_is_told_of_a_lost_tree_until_it_shoots_again(garden: Garden) -> None:
    garden.do("once", "--at", stamp(EVENING - 2 * DAY))
    assert {f["tree"] for f in garden.seen_at()["findings"]} == {"Ember", "Heath"}
    lost = Outcome(tree="Ember", at=EVENING - DAY, fate=Fate.LOST, night=date(2024, 4, 21))
    with Store.open(garden.database) as store:
        store.journal.add([lost])
    assert {f["tree"] for f in garden.seen_at()["findings"]} == {"Heath"}
    for words in (["why", "Ember"], ["feels", "Ember"], ["ahead"]):
        assert garden.do(*words, "--at", stamp(EVENING)).exit_code == 0
    with Store.open(garden.database) as store:
        store.journal.add([lost.model_copy(update={"at": EVENING - HOUR, "fate": Fate.DAMAGED})])
    assert {f["tree"] for f in garden.seen_at()["findings"]} == {"Ember", "Heath"}


def test_a_lost_tree_stays_in_the_file_and_that_is_said(garden: Garden) -> None:
    said = garden.do("outcome", "Ember", "lost", *NIGHT).stdout
    assert said.startswith("Noted: Ember was lost in the night of 23 April. Nothing was told")
    assert said.endswith("It is no longer watched. It stays in the file until you take it out.\n")
    assert "Ember" in garden.do("trees").stdout
    many = garden.do("outcome", "Ember", "Heath", "lost", *NIGHT).stdout
    assert many.endswith(
        "They are no longer watched. They stay in the file until you take them out.\n"
    )


# Which night is meant


@pytest.fixture
def settings(file: Path) -> Settings:
    file.write_text(PLACE + HANDS_ON + BENCH + EMBER, encoding="utf-8")
    return load(file, {"UNDERBENCH_STORE__PATH": "underbench.db"})


@pytest.fixture
def store(settings: Settings) -> Iterator[Store]:
    with Store.open(settings.store_path) as opened:
        yield opened


def nights_ago(nights: int, strength: str, **given: Any) -> Any:
    return told("Ember", NIGHT_ENDS - nights * DAY, told_strength=strength, **given)


@pytest.mark.parametrize(
    ("rows", "night", "hazard"),
    [
        (
            [nights_ago(1, "act"), nights_ago(5, "danger"), nights_ago(9, "danger")],
            18,
            "leaf-frost",
        ),
        ([nights_ago(1, "act"), nights_ago(5, "act")], 22, FROST),
        (
            [nights_ago(0, "danger"), nights_ago(3, "act")],
            20,
            "leaf-frost",
        ),  # tonight is still ahead
        ([nights_ago(40, "danger")], 22, FROST),
        ([nights_ago(2, "danger", told_at=None), nights_ago(4, "act")], 19, FROST),
        ([], 22, FROST),
        (
            [
                nights_ago(1, "act", chance=0.4),
                nights_ago(1, "act", hazard="gale", action="protect"),
            ],
            22,
            "gale",
        ),
    ],
    ids=[
        "last danger",
        "last alert",
        "not tonight",
        "not last month",
        "untold",
        "none",
        "likelier",
    ],
)
def test_without_a_date_it_is_the_last_danger_told_else_the_last_alert_else_last_night(
    settings: Settings, store: Store, rows: list[Any], night: int, hazard: str
) -> None:
    store.episodes.put(rows)
    note_outcome(store, settings, ["Ember", "fine"], None, NOW)
    (noted,) = store.journal.entries()
    assert isinstance(noted, Outcome)
    assert noted.night == date(2024, 4, night)
    assert hazard in (noted.hazard or "")


def test_a_hazard_by_day_is_of_its_day(settings: Settings, store: Store) -> None:
    hot = {"hazard": "hot-bag", "action": "vent", "span_start": NOW - 3 * DAY}
    store.episodes.put([told("Ember", NOW + 4 * DAY, from_at=NOW - 2 * DAY, **hot)])
    said = note_outcome(store, settings, ["fine", "Ember"], None, NOW)
    assert said.startswith("Noted: Ember came through the day of 21 April fine.")


# Slips


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["Ember", "damagd"], "no outcome called 'damagd'; did you mean 'damaged'?"),
        (["Embre", "fine"], "no tree called 'Embre'; did you mean 'Ember'?"),
        (["Ember", "Heath"], "say how it came through: fine, damaged, lost"),
        (["fine"], "which tree?"),
        (["Ember", "fine", "--night", "23 April"], "--night 23 April: expected a day like"),
        (["Ember", "fine", "--night", "2124-04-01"], "that day has yet to come"),
    ],
)
def test_a_slip_is_one_line_and_nothing_is_noted(
    garden: Garden, words: list[str], said: str
) -> None:
    garden.note()
    fails(garden.do("outcome", *words), said)
    assert garden.intact()
