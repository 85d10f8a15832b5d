"""Words of other messages: what to do first, short enough for a lock screen, in any garden."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from bare_outlook import found, outlook_of
from hypothesis import given
from hypothesis import strategies as st
from told_rows import DAY, HOUR
from told_rows import NOW as TOLD_AT

from underbench.daemon.alerts.message_kinds import Asking, Back, Placed, StandDown
from underbench.daemon.alerts.other_texts import (
    Words,
    ask_words,
    back_words,
    day_line,
    stale_words,
    stand_down_words,
)
from underbench.daemon.weather.supply import Supplied
from underbench.daemon.wording.units import Units
from underbench.daemon.wording.vocabulary import Made, Teller
from underbench.rules.garden.local_time import Stretch
from underbench.rules.hazards import DRY_WIND, GALE, LEAF_FROST, ROOT_FROST
from underbench.rules.hazards.hazard import Action
from underbench.rules.weather.hourly import Weather

NOW = datetime(2026, 4, 25, 7, tzinfo=UTC)  # 09:00 by the garden's clock, a Saturday
MADE = Made(NOW - timedelta(hours=1), "Weather data by somebody")
METRIC, US = (Teller("Europe/Paris", Units(system)) for system in ("metric", "us"))
EMBER = Placed("Ember", "shed", "top bench")

names = st.text(st.characters(categories=["L"]), min_size=1, max_size=40)
placed = st.builds(Placed, names, names, names)
crowds = st.lists(placed, min_size=1, max_size=60, unique_by=lambda one: one.tree)


def back(*trees: Placed, **given: object) -> Back:
    usual = {"quiet_until": NOW + timedelta(days=4), "shade_first": frozenset(), "asked": ()}
    return Back(trees, **(usual | given))  # type: ignore[arg-type]


def off(*trees: Placed) -> StandDown:
    return StandDown(Action.PROTECT, LEAF_FROST, trees, NOW + timedelta(hours=18))


def lines(words: Words) -> list[str]:
    return words.body.splitlines()


def test_who_goes_back_to_wind_is_tied_down_there() -> None:
    words = back_words(METRIC, back(EMBER, tie=("Ember",)), MADE, NOW)
    assert lines(words)[1] == "Tie down with straps or wire there: Ember."


def test_trees_that_go_back_are_told_from_where_to_where() -> None:
    words = back_words(METRIC, back(EMBER, Placed("Spark", "shed", "low shelf")), MADE, NOW)
    assert words.title == "BACK OUT 2 trees"
    assert lines(words)[:2] == [
        "From the shed to the top bench: Ember",
        "From the shed to the low shelf: Spark",
    ]
    assert lines(words)[2].startswith("No frost or gale threatens them there until 09:00 Wednesday")
    assert "underbench moved TREE home" in words.body
    assert "outcome" not in words.body
    assert lines(words)[-1] == "Forecast of 08:00. Weather data by somebody."


def test_covers_to_take_off_are_told_as_such() -> None:
    covered = Placed("Ember", "top bench", "top bench", covered=True)
    alone = back_words(METRIC, back(covered), MADE, NOW)
    assert alone.title == "COVERS OFF Ember"
    assert "Covers off, at the top bench: Ember" in alone.body
    elsewhere = Placed("Lane", "shelf", "low bench", covered=True)
    both = back_words(METRIC, back(covered, elsewhere), MADE, NOW)
    assert both.title == "BACK OUT 2 trees"
    assert "From the shelf to the low bench, covers off: Lane" in both.body


@pytest.mark.parametrize(
    ("covered", "down", "deed"),
    [
        (True, False, "covers off"),
        (False, True, "back up"),
        (True, True, "covers off, and back up"),
    ],
)
def test_a_tree_beside_its_bench_goes_up_and_what_is_covered_is_uncovered(
    covered: bool, down: bool, deed: str
) -> None:
    one = Placed("Ember", "top bench", "top bench", covered, down)
    words = back_words(METRIC, back(one), MADE, NOW)
    assert words.title == f"{deed.upper()} Ember"
    assert words.body.startswith(f"{deed.capitalize()}, at the top bench: Ember\n")


def test_leaves_from_the_dark_go_into_shade_and_after_danger_it_is_asked() -> None:
    told = back(EMBER, shade_first=frozenset({"Ember"}), asked=("Ember",))
    words = back_words(METRIC, told, MADE, NOW)
    assert "Into half shade for the first days: Ember." in lines(words)
    assert "How did Ember come through? Say it with: underbench outcome TREE" in words.body


def test_what_is_called_off_says_what_and_since_when() -> None:
    words = stand_down_words(METRIC, off(EMBER), MADE, NOW)
    assert words.title == "STAND DOWN: leave Ember as it is"
    assert lines(words)[:2] == ["No need to protect:", "• at the shed: Ember"]
    assert lines(words)[2] == "Frost for 03:00 tomorrow is no longer expected."


def test_the_question_says_how_to_answer_it() -> None:
    words = ask_words(METRIC, Asking(LEAF_FROST, ("Ember", "Lane"), date(2026, 4, 23)))
    assert words.title == "HOW DID THEY COME THROUGH?"
    assert lines(words)[0] == "Look at Ember and Lane when you pass."
    assert "last on Thursday 23 April." in words.body
    assert "underbench outcome TREE fine, damaged or lost" in words.body


def test_clocks_are_those_of_the_keeper_s_country() -> None:
    words = stand_down_words(US, off(EMBER), MADE, NOW)
    assert "3:00 am tomorrow" in words.body
    assert "Forecast of 8:00 am." in words.body


@pytest.mark.parametrize(("hour", "said"), [(0, "12:05 am"), (12, "12:05 pm"), (23, "11:05 pm")])
def test_the_twelve_hour_clock_has_no_zero_hour(hour: int, said: str) -> None:
    assert Units("us").clock(datetime(2026, 4, 25, hour, 5)) == said
    assert Units("metric").clock(datetime(2026, 4, 25, hour, 5)) == f"{hour:02}:05"


@given(trees=crowds)
def test_every_tree_of_any_garden_is_named(trees: list[Placed]) -> None:
    own = tuple(trees)
    all_names = tuple(one.tree for one in own)
    told = back(*own, shade_first=frozenset(all_names), asked=all_names)
    asked = Asking(LEAF_FROST, all_names, date(2026, 4, 24))
    for words in (
        back_words(US, told, MADE, NOW),
        stand_down_words(US, off(*own), MADE, NOW),
        ask_words(US, asked),
    ):
        assert all(tree in words.body for tree in all_names)
        assert len(words.title) <= 100


# A day in a line, and a forecast in doubt


def supplied(weather: Weather, **given: Any) -> Supplied:
    made = {"fetched_at": TOLD_AT, "changed_at": TOLD_AT, "age": HOUR, "problem": None}
    return Supplied(weather, **{**made, "source": "S", "attribution": "By S.", **given})


@pytest.mark.parametrize(("days", "shown"), [(1, [False, True, False]), (7, [False, False, True])])
def test_a_threat_stands_on_the_day_of_its_harm(make: Any, days: int, shown: list[bool]) -> None:
    """A night counts for the day before it; of a week only its bad hours do."""
    monday = datetime(2024, 4, 21, 22, tzinfo=UTC)
    begins = monday + DAY if days == 1 else monday
    bad = monday + 2 * DAY + 4 * HOUR
    one = found(span=Stretch(begins, begins + days * DAY), first_at=bad, until_at=bad + HOUR)
    outlook = replace(outlook_of(make, [one]), weather=make.weather(monday, 24 * 5, mean_c=9.0))
    lines = [day_line(METRIC, outlook, date(2024, 4, day)) for day in (22, 23, 24)]
    assert ["nothing" not in line.lower() for line in lines] == shown


def test_a_day_names_its_three_gravest_threats(make: Any) -> None:
    chances = {DRY_WIND: 0.5, GALE: 0.6, LEAF_FROST: 0.8, ROOT_FROST: 0.7}
    threats = [found(hazard=hazard, chance=chance) for hazard, chance in chances.items()]
    weather = make.weather(datetime(2024, 4, 22, 22, tzinfo=UTC), 48, mean_c=9.0)
    line = day_line(METRIC, replace(outlook_of(make, threats), weather=weather), date(2024, 4, 23))
    assert line.partition(". ")[2] == "Frost (1); frost in the root balls (1); gale (1)."


def test_a_forecast_in_doubt_says_why_though_the_service_is_down_too(make: Any) -> None:
    doubt = {"doubt": "S answers for a place 900 km away", "doubted_for": 13 * HOUR}
    down = "S cannot be reached; using the forecast from 2 h ago"
    weather = make.weather(TOLD_AT, 24)
    outlook = replace(outlook_of(make), supplied=supplied(weather, problem=down, **doubt))
    words = stale_words(METRIC, outlook, TOLD_AT + 2 * HOUR)
    assert words.title == "FORECAST IN DOUBT for 13 h"
    assert "900 km away" in words.body
