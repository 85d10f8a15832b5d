"""A rehearsal over days gone by at the garden's place, out of the archive."""

from __future__ import annotations

from datetime import date, timedelta
from pathlib import Path
from typing import Any

import pytest
from commanding import Garden, fails, strict_json
from garden_toml import EMBER
from openmeteo_service import Query, Reply
from series_csv import write_series

from underbench.rules.weather.hourly import Weather

APRIL = ("--from", "2024-04-23T14:00", "--to", "2024-04-23T20:00")


@pytest.fixture
def looking_back(garden: Garden) -> Garden:
    text = garden.config.read_text(encoding="utf-8")
    where = f'timeout_s = 5\narchive_url = "{garden.server.url}"'
    garden.config.write_text(text.replace("timeout_s = 5", where), encoding="utf-8")
    return garden


def messages(garden: Garden, *words: str) -> list[dict[str, Any]]:
    done = garden.do("rehearse", "--json", *words)
    assert done.exit_code == 0, done.output
    found: list[dict[str, Any]] = strict_json(done.stdout)["messages"]
    return found


def test_days_gone_by_are_rehearsed_as_from_a_file(
    looking_back: Garden, spring: Weather, tmp_path: Path
) -> None:
    """The same messages as with the same hours in a CSV file."""
    csv = tmp_path / "spring.csv"
    write_series(csv, spring)
    archived = messages(looking_back, *APRIL)
    filed = messages(looking_back, "--weather", str(csv), *APRIL)
    for one in ("at", "title", "body", "kind"):
        assert [message[one] for message in archived] == [message[one] for message in filed]
    assert any(one.get("action") == "protect" for one in archived)


def test_it_is_asked_from_the_autumn_before_to_what_a_forecast_would_have_seen(
    looking_back: Garden,
) -> None:
    done = looking_back.do("rehearse", *APRIL)
    assert done.exit_code == 0, done.output
    assert "rehearsed with archived weather from Open-Meteo.com (CC BY 4.0, adapted)" in done.output
    assert "23 Apr 2024 to 23 Apr 2024" in done.output
    (query,) = looking_back.service.asked
    assert (query["start_date"], query["end_date"]) == ("2023-09-01", "2024-04-29")
    assert not looking_back.database.exists()


def test_long_stretches_are_asked_for_in_years_on_end(looking_back: Garden) -> None:
    looking_back.service.answer = lambda query: _other_days(looking_back, query)
    looking_back.do("rehearse", "--from", "2023-03-05", "--to", "2024-04-01")
    asked = [(q["start_date"], q["end_date"]) for q in looking_back.service.asked]
    assert asked == [("2022-09-01", "2023-08-31"), ("2023-09-01", "2024-04-07")]
    days = [date.fromisoformat(day) for pair in asked for day in pair]
    assert days[2] - days[1] == timedelta(days=1)


def test_in_early_autumn_pots_have_a_month_to_settle(looking_back: Garden) -> None:
    looking_back.do("rehearse", "--from", "2023-09-05", "--to", "2023-09-20")
    assert looking_back.service.asked[0]["start_date"] == "2023-08-06"


def test_what_the_archive_lacks_is_left_out_and_said(looking_back: Garden) -> None:
    """Here it begins on 5 March: of the days before there is nothing."""
    done = looking_back.do("rehearse", "--from", "2024-03-04", "--to", "2024-03-06")
    assert done.exit_code == 0, done.output
    assert "Passes left out in gaps of more than a day" in done.output


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "give --weather FILE.csv, or --from and --to"),
        (("--from", "2024-04-18"), "give --weather FILE.csv, or --from and --to"),
        (("--from", "2024-04-18", "--to", "2024-04-10"), "must be later than --from"),
        (("--from", "2024-04-18", "--to", "2190-01-01"), "is still ahead"),
        (("--from", "2020-01-01", "--to", "2024-01-01"), "two years at a go"),
        (("--from", "2021-01-01", "--to", "2021-02-01"), "nothing for these days"),
    ],
)
def test_what_cannot_be_looked_up_is_one_clear_line(
    looking_back: Garden, words: tuple[str, ...], said: str
) -> None:
    looking_back.service.answer = lambda query: _other_days(looking_back, query)
    fails(looking_back.do("rehearse", *words), said)


def _other_days(garden: Garden, query: Query) -> bytes | Reply:
    return garden.service.good({**query, "start_date": "2024-04-01", "end_date": "2024-04-02"})


def test_without_an_archive_it_says_where_to_set_one(garden: Garden) -> None:
    fails(garden.do("rehearse", *APRIL), "set archive_url", "--weather FILE.csv")


def test_a_service_that_is_down_is_one_clear_line(looking_back: Garden) -> None:
    looking_back.service.answer = lambda _query: Reply(b"<html>502</html>", 502, "text/html")
    fails(looking_back.do("rehearse", *APRIL), "is down or overloaded")


def test_two_files_are_compared_over_archived_weather(looking_back: Garden) -> None:
    other = looking_back.folder / "other.toml"
    text = looking_back.config.read_text(encoding="utf-8")
    other.write_text(text.replace(EMBER, ""), encoding="utf-8")
    done = looking_back.do("rehearse", "--with", str(other), *APRIL)
    assert done.exit_code == 0, done.output
    assert "rehearsed with archived weather" in " ".join(done.output.split())
    assert len(looking_back.service.asked) == 1
