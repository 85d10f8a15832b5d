"""``ahead`` in a terminal: a value for each day, what to do, and no more than 100 columns."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from commanding import EVENING, FIRST_DAY, HEAD, Garden, stamp
from garden_toml import EMBER, FIG, HEATH

from underbench.daemon.page.last_pass import ahead_of
from underbench.daemon.views.ahead import WIDTH, about

ROOM = """
[[spot]]
name = "front room"
kind = "indoors"
"""
LONG = EMBER.replace("Ember", "Old cascade from the quarry above Elmswick")
NIGHTS_C = (-2.0, 2.0, 6.0)  # the means about three nights in turn; a maple in leaf bears two


@pytest.fixture
def cold(garden: Garden, make: Any) -> Garden:
    """Nights that are cold, less cold and mild, in turn."""
    hours = 24 * 70
    daily, first = np.full(hours, 9.0), 24 * (EVENING - FIRST_DAY).days + 12
    for number in range(6):
        night = first + 24 * number
        daily[night : night + 24] = NIGHTS_C[number % 3]
    garden.service.weather = make.weather(FIRST_DAY, hours, mean_c=daily, swing_k=6.0)
    return garden


def ahead(garden: Garden) -> list[str]:
    done = garden.do("ahead", "--at", stamp(EVENING))
    assert done.exit_code == 0, done.output
    return done.stdout.splitlines()


def block(lines: list[str], name: str) -> list[str]:
    """The three lines of one tree."""
    first = next(n for n, line in enumerate(lines) if line.startswith(name))
    return lines[first : first + 3]


@pytest.mark.parametrize("units", ["", 'units = "us"\n'])
def test_no_line_is_longer_than_a_terminal(cold: Garden, units: str) -> None:
    head = HEAD.replace("elevation_m", f"{units}elevation_m")
    cold.write(head + ROOM + EMBER + HEATH + FIG + LONG.replace("Elmswick", "E."))
    lines = ahead(cold)
    assert max(map(len, lines)) <= WIDTH
    assert any(line.startswith("Old cascade from th…") for line in lines)


def test_each_day_has_its_own_worst_value_and_what_to_do(cold: Garden) -> None:
    cold.write(HEAD + ROOM + EMBER + FIG + HEATH.replace('"top bench"', '"front room"'))
    lines = ahead(cold)
    hazards, values, job = block(lines, "Fig")
    assert hazards.split("  ")[0] == "Fig"
    found = [float(word.split("°")[0].replace("−", "-")) for word in values.split() if "°" in word]
    assert len(found) == 5
    assert len(set(found)) == 5  # one spell, but a value for each of its nights
    assert found[0] < found[1] < found[2]
    assert found[3] < found[4]
    assert job.strip().startswith("At top bench. ")
    assert "Indoors for the cold season, to a light place." in job
    assert "Tue, " in block(lines, "Ember")[2]
    assert "Into the " in block(lines, "Ember")[2]
    assert "Nothing threatens Heath." in lines


def test_the_page_has_the_same_value_for_each_day(cold: Garden, labs: Any) -> None:
    lab = labs(HEAD + ROOM + FIG, cold.service.weather)
    days = ahead_of(lab.run(EVENING).outlook)["trees"]["Fig"]["days"]
    values = [day["value"] for day in days]
    assert len(set(values)) == 5


def test_a_chance_is_told_in_steps_of_five() -> None:
    assert [about(one) for one in (0.0, 0.12, 0.13, 0.98, 1.0)] == [
        "0%",
        "10%",
        "15%",
        "100%",
        "100%",
    ]


# why, winter, feels


def test_why_begins_with_what_to_do(cold: Garden) -> None:
    cold.write(HEAD + ROOM + EMBER + HEATH.replace('"top bench"', '"front room"'))

    def first(tree: str) -> str:
        return cold.do("why", tree, "--at", stamp(EVENING)).stdout.splitlines()[0]

    assert first("Ember").startswith("To do: Into the ")
    assert first("Ember").endswith("by Tue 23 Apr 20:00.")
    assert first("Heath").startswith("Nothing to do: ")


def test_winter_says_once_what_holds_for_all_trees(cold: Garden) -> None:
    cold.write(HEAD + ROOM + EMBER + HEATH + FIG)
    done = cold.do("winter", "--at", stamp(EVENING)).stdout
    assert done.count("not known yet, so the forecast alone tells") == 1
    assert max(map(len, done.splitlines())) <= WIDTH


def test_the_key_of_feels_says_which_air_it_is(cold: Garden) -> None:
    assert "air: 2 m above the ground" in cold.do("feels", "Ember", "--at", stamp(EVENING)).stdout
