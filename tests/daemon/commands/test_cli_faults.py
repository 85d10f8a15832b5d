"""What the command says when something is wrong. It harms nothing."""

from __future__ import annotations

import json
import re
import tempfile
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from commanding import (
    COMMAND,
    EVENING,
    HEAD,
    HOUR,
    NO_PAUSES,
    Garden,
    fails,
    not_root,
    stamp,
)
from garden_toml import EMBER, HEATH
from openmeteo_service import Query, Reply, StandIn, serving

from underbench.daemon.store.store import Store
from underbench.rules.weather.hourly import Weather

# The configuration


@pytest.mark.parametrize(
    ("good", "bad", "said"),
    [
        ("Acer palmatum", "Acer palmatun", "did you mean 'Acer palmatum' or"),
        ("litres = 4", "litres = 0", "expected more than 0, not 0"),
        ('spot = "top bench"', 'spot = "top bunch"', "did you mean 'top bench'?"),
        ('name = "Heath"', 'name = "ember"', "tree 1 has this name already"),
        ("latitude = 46.05", "latitude = 46,05", "garden.toml"),
        ("tied = true", "tide = true", "did you mean 'tied'?"),
    ],
)
def test_a_mistake_in_the_file_is_one_line_that_says_where(
    garden: Garden, good: str, bad: str, said: str
) -> None:
    garden.note()
    garden.write((HEAD + EMBER + HEATH).replace(good, bad, 1))
    line = fails(garden.do("once", "--at", stamp(EVENING)), said)
    assert re.search(r"garden\.toml:\d+: |line \d+", line)
    assert garden.intact()


def test_a_species_that_is_not_listed_is_known_by_its_class(garden: Garden) -> None:
    unlisted = EMBER.replace("Acer palmatum", "Acer inventum")
    garden.write(HEAD + unlisted + 'hardiness = "japanese maple"\n')
    assert {f["tree"] for f in garden.seen_at()["findings"]} == {"Ember"}


def test_no_configuration_at_all(garden: Garden) -> None:
    garden.config.unlink()
    fails(garden.do("once"), "garden.toml")


# The weather


def cut_short(garden: Garden) -> Callable[[Query], bytes | Reply]:
    def answer(query: Query) -> bytes:
        whole = garden.service.good(query)
        assert isinstance(whole, bytes)
        return whole[: len(whole) // 2]

    return answer


def without_wind(garden: Garden) -> Callable[[Query], bytes | Reply]:
    blank = np.full_like(garden.service.weather.wind_ms, np.nan)
    return serving(replace(garden.service.weather, wind_ms=blank), lambda: EVENING)


def without_the_coming_day(garden: Garden) -> Callable[[Query], bytes | Reply]:
    return serving(with_gap(garden.service.weather, 0, 24), lambda: EVENING)


def without_the_past_of_wind(garden: Garden) -> Callable[[Query], bytes | Reply]:
    return serving(with_gap(garden.service.weather, -24 * 120, 24 * 120), lambda: EVENING)


def too_many(_garden: Garden) -> Callable[[Query], bytes | Reply]:
    # The service's own words: open-meteo/open-meteo, RateLimiter.swift, read for the adapter.
    reason = "Minutely API request limit exceeded. Please try again in one minute."
    body = json.dumps({"error": True, "reason": reason}).encode()
    return lambda _query: Reply(body, 429)


def bad_gateway(_garden: Garden) -> Callable[[Query], bytes | Reply]:
    return lambda _query: Reply(b"<html><h1>502 Bad Gateway</h1></html>", 502, "text/html")


def with_gap(weather: Weather, first_h: int, hours: int) -> Weather:
    """``weather`` without air and wind in so many hours, counted from the evening."""
    since_h = (weather.times - EVENING.timestamp()) / 3600
    lost = (since_h > first_h) & (since_h <= first_h + hours)
    blanked = {n: np.where(lost, np.nan, getattr(weather, n)) for n in ("air_c", "wind_ms")}
    return replace(weather, **blanked)


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        (bad_gateway, "is down or overloaded (HTTP 502)"),
        (cut_short, "broken or cut short"),
        (too_many, "too many requests"),
        (without_wind, "sent no wind"),
        (without_the_coming_day, "no weather for the next hour"),
        (without_the_past_of_wind, "no weather of the past days is known"),
    ],
)
def test_weather_that_cannot_be_used_is_one_line(
    garden: Garden, fault: Callable[[Garden], Callable[[Query], bytes | Reply]], said: str
) -> None:
    garden.note()
    garden.service.answer = fault(garden)
    fails(garden.do("once", "--at", stamp(EVENING)), said)
    assert garden.intact()
    garden.service.answer = garden.service.good
    assert garden.do("once", "--at", stamp(EVENING + HOUR)).stdout.startswith("PROTECT 2 trees")


def test_a_spent_allowance_says_when_to_ask_again(garden: Garden) -> None:
    garden.service.answer = too_many(garden)
    fails(garden.do("once", "--at", "2024-04-23T15:10:20"), "after 2024-04-23 15:11 UTC")


def test_no_network_is_one_line_of_a_program_of_its_own(garden: Garden) -> None:
    garden.note()
    garden.go_offline()
    done = garden.command("once", "--at", stamp(EVENING), program=NO_PAUSES + COMMAND)
    fails(done, "cannot be reached; is the network up?")
    assert garden.intact()


def test_without_a_network_the_last_good_forecast_serves_and_its_age_is_said(
    garden: Garden,
) -> None:
    early = EVENING - 50 * HOUR  # two days before, the danger would be told
    garden.service.now = early
    assert garden.do("once", "--at", stamp(early)).stdout.startswith("Nothing to tell now.")
    garden.go_offline()
    done = garden.do("once", "--at", stamp(EVENING))
    assert done.exit_code == 0
    assert done.stdout.startswith("PROTECT 2 trees")
    assert "using the forecast from 50 h ago" in done.stdout
    assert "Forecast of 15:10 Sunday" in done.stdout  # in the message itself


def test_three_missing_hours_are_bridged(garden: Garden) -> None:
    garden.service.weather = with_gap(garden.service.weather, 3, 3)
    body = garden.seen_at()
    assert body["forecast"]["problem"] is None
    assert {f["tree"] for f in body["findings"]} == {"Ember", "Heath"}


def test_a_long_gap_is_judged_as_far_as_is_known_and_said(garden: Garden) -> None:
    garden.service.weather = with_gap(garden.service.weather, 30, 9)
    body = garden.seen_at()
    assert body["forecast"]["problem"] == "Open-Meteo sent weather for the next 29 h only"
    assert {"air_c", "wind_ms"} <= set(body["estimated"])
    assert len(body["told"]) == 1


# The database


def test_a_full_disk_is_one_line_and_leaves_what_was_there(garden: Garden) -> None:
    garden.note()
    room = garden.database.stat().st_size
    full = f"import resource as r; r.setrlimit(r.RLIMIT_FSIZE, ({room}, {room})); " + COMMAND
    done = garden.command("once", "--at", stamp(EVENING), program=full)
    fails(done, "underbench.db: the disk ")
    assert garden.intact()
    assert garden.do("once", "--at", stamp(EVENING)).stdout.startswith("PROTECT 2 trees")


def test_a_read_only_database_is_one_line(garden: Garden) -> None:
    garden.do("trees")  # another user may not be able to read what it imports
    # Not tmp_path: when root runs the tests, another user cannot reach it.
    with tempfile.TemporaryDirectory() as name:
        garden.config = garden.config.rename(Path(name) / "garden.toml")
        garden.database = Path(name) / "underbench.db"
        garden.note()
        garden.database.chmod(0o444)
        Path(name).chmod(0o555)
        with not_root():
            fails(garden.do("watered", "Ember"), "underbench.db", "Permission denied")
        Path(name).chmod(0o755)
        garden.database.chmod(0o600)
        assert garden.intact()


def test_what_is_no_database_is_left_alone(garden: Garden) -> None:
    garden.database.write_text("Dear trees, it will be cold tonight. " * 40)
    fails(garden.do("once", "--at", stamp(EVENING)), "not a state database")
    assert garden.database.read_text().startswith("Dear trees")


# Delivery


def test_a_push_address_that_cannot_be_used_is_refused_without_its_secret(garden: Garden) -> None:
    garden.note()
    garden.write(HEAD + EMBER + '[telling]\nurls = ["tgram://HUSHHUSH"]\n')
    line = fails(garden.do("once", "--at", stamp(EVENING)), "telling.urls entry 1 (tgram://")
    assert "HUSHHUSH" not in line
    assert garden.intact()


def test_a_push_service_that_does_not_take_it_is_named_and_the_message_waits(
    garden: Garden,
) -> None:
    with StandIn(lambda _query: b"") as gone:
        port = gone.url.rpartition(":")[2]
    garden.write(HEAD + EMBER + f'[telling]\nurls = ["json://127.0.0.1:{port}/HUSHHUSH"]\n')
    done = garden.do("once", "--at", stamp(EVENING))
    assert done.exit_code == 1
    assert done.stdout.startswith("BRING Ember into the shed")
    assert "not delivered to entry 1 (json://1***)" in done.stderr
    assert "HUSHHUSH" not in done.stdout + done.stderr
    assert "Traceback" not in done.stderr
    with Store.open(garden.database) as store:
        (row,) = store.db.query("SELECT delivered_at, attempts FROM delivery")
    assert row == {"delivered_at": None, "attempts": 1}
