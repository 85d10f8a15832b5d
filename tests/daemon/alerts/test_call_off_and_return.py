"""What follows a job told: stand-down, return, the last word before a deadline, the question."""

from __future__ import annotations

from datetime import UTC, datetime, time, timedelta
from typing import Any

import pytest
from spring_frosts import (
    DAY,
    EVENING,
    GARDEN,
    HOUR,
    ZONE,
    Labs,
    heard,
    in_leaf,
    move,
    spring,
)

from underbench.daemon.alerts.compose import Said
from underbench.daemon.alerts.message_kinds import Kind
from underbench.daemon.journal.noting import keep, note
from underbench.rules.garden.journal import Fate, Handled, Outcome

MORNING = datetime(2024, 4, 23, 4, 10, tzinfo=UTC)  # 06:10 by the garden's clock


def kinds(told: list[tuple[datetime, Any]]) -> list[str]:
    return [one.kind if isinstance(one, Said) else Kind.ADVICE for _, one in told]


def only(told: list[tuple[datetime, Any]], kind: Kind) -> list[tuple[datetime, Said]]:
    return [(at, one) for at, one in told if isinstance(one, Said) and one.kind is kind]


# Back


def test_trees_go_back_on_the_third_morning_of_three_nights_of_frost(labs: Labs, make: Any) -> None:
    """In, stay, out: a run of cold nights is planned as one, whatever the days between are like."""
    home = GARDEN.replace('"06:30-07:30", "17:00-21:00"', '"06:00-21:00"')
    garden = in_leaf(labs, spring(make, 2.0, 2.0, 2.0), home)
    first = heard(garden, EVENING, 1)
    assert kinds(first) == [Kind.ADVICE]
    move(garden, "shed", EVENING + HOUR)
    later = heard(garden, EVENING + 2 * HOUR, 24 * 3 - 6, 3)
    assert kinds(later) == [Kind.BACK]
    ((at, back),) = later
    local = at.astimezone(ZONE)
    assert local.date() == (EVENING + 3 * DAY).astimezone(ZONE).date()
    assert time(9) <= local.time() < time(13)
    assert back.trees == ("Ember",)


def test_nobody_is_told_to_carry_out_into_another_cold_night(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make, 2.0))
    heard(garden, EVENING, 1)
    move(garden, "shed", EVENING + HOUR)
    heard(garden, EVENING + 2 * HOUR, 10, 3)
    garden.sky.weather = spring(make, 2.0, 2.0)  # by morning the next night has turned cold too
    day = heard(garden, EVENING + 12 * HOUR, 20, 2)
    assert Kind.BACK not in kinds(day)
    assert Kind.BACK in kinds(heard(garden, EVENING + 32 * HOUR, 24, 2))


def test_told_is_not_moved_so_nothing_is_told_to_come_back(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make, 2.0))
    assert Kind.BACK not in kinds(heard(garden, EVENING, 60, 3))


def test_a_tree_taken_in_unasked_is_left_to_its_keeper(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make))
    move(garden, "shed", EVENING - 3 * DAY)
    assert heard(garden, EVENING - 2 * DAY, 40, 3) == []


def test_what_stays_in_after_it_was_told_to_go_back_is_not_nagged(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make, 2.0))
    heard(garden, EVENING, 1)
    move(garden, "shed", EVENING + HOUR)
    assert kinds(heard(garden, EVENING + 2 * HOUR, 60, 3)) == [Kind.BACK]


def test_a_frost_that_returns_after_trees_were_sent_back_is_told(labs: Labs, make: Any) -> None:
    """Sent back and not noted: it may be out there."""
    garden = in_leaf(labs, spring(make, 2.0, 2.0, 0.0))
    heard(garden, EVENING, 1)
    move(garden, "shed", EVENING + HOUR)
    garden.sky.weather = spring(make, 2.0)
    assert kinds(heard(garden, EVENING + 2 * HOUR, 24, 2)) == [Kind.BACK]
    garden.sky.weather = spring(make, 2.0, 9.0, 0.0)
    assert Kind.ADVICE in kinds(heard(garden, EVENING + 26 * HOUR, 24, 2))


def test_a_tree_taken_home_early_hears_of_the_nights_that_follow(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make, 2.0, 0.0, 0.0))
    heard(garden, EVENING, 1)
    move(garden, "shed", EVENING + HOUR)
    heard(garden, EVENING + 2 * HOUR, 14, 2)
    move(garden, "home", EVENING + 16 * HOUR)
    assert Kind.ADVICE in kinds(heard(garden, EVENING + 17 * HOUR, 8))


def test_going_back_is_told_anew_after_a_second_frost(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make, 2.0, 9.0, 9.0, 9.0, 2.0))
    for night in (0, 4):
        evening = EVENING + night * DAY
        told = heard(garden, evening - 12 * HOUR, 13)
        assert Kind.ADVICE in kinds(told)
        move(garden, "shed", evening + HOUR)
        assert kinds(heard(garden, evening + 2 * HOUR, 26, 2))[:1] == [Kind.BACK]
        move(garden, "home", evening + 28 * HOUR)


def test_a_forecast_that_outgrows_the_help_named_is_told_though_it_is_done(
    labs: Labs, make: Any
) -> None:
    garden = in_leaf(labs, spring(make, 0.0), GARDEN.replace("room = 2", "room = 0"))
    ((_, one),) = heard(garden, MORNING, 2)
    note(garden.store, garden.settings, [Handled(tree="Ember", at=MORNING + 2 * HOUR)])
    assert heard(garden, MORNING + 2 * HOUR, 4) == []
    garden.sky.weather = spring(make, -5.0)
    ((_, worse),) = heard(garden, MORNING + 6 * HOUR, 3)
    assert worse.advice.lead.worst < one.advice.lead.worst - 2.0


# Stand-down


def test_a_frost_no_longer_expected_is_called_off_once(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make, 2.0))
    assert len(heard(garden, MORNING, 2)) == 1
    garden.sky.weather = spring(make)
    ((at, off),) = heard(garden, MORNING + 2 * HOUR, 30, 2)
    assert (off.kind, off.trees) == (Kind.STAND_DOWN, ("Ember",))
    assert at >= MORNING + 9 * HOUR  # one milder run of the forecast calls nothing off


def test_a_hazard_that_comes_back_after_its_stand_down_is_told_again(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make, 2.0))
    heard(garden, MORNING, 2)
    garden.sky.weather = spring(make)
    assert kinds(heard(garden, MORNING + 2 * HOUR, 9)) == [Kind.STAND_DOWN]
    garden.sky.weather = spring(make, 2.0)
    assert kinds(heard(garden, MORNING + 11 * HOUR, 1)) == [Kind.ADVICE]


def test_a_forecast_that_wavers_makes_no_messages(labs: Labs, make: Any) -> None:
    """Every other hour there is no frost in it."""
    garden = in_leaf(labs, spring(make, 2.0))
    assert len(heard(garden, MORNING, 2)) == 1
    said = []
    for number in range(6):
        garden.sky.weather = spring(make, 9.0 if number % 2 else 2.0)
        said += heard(garden, MORNING + (2 + number) * HOUR, 1)
    assert said == []


def test_who_has_carried_a_tree_in_is_not_told_to_stand_down(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make, 2.0))
    heard(garden, MORNING, 2)
    move(garden, "shed", MORNING + 2 * HOUR)
    garden.sky.weather = spring(make)
    assert kinds(heard(garden, MORNING + 3 * HOUR, 40, 2)) == [Kind.BACK]


# Once more


def reminded(garden: Any) -> list[tuple[datetime, Said]]:
    return only(heard(garden, MORNING + 2 * HOUR, 20), Kind.REMINDER)


def test_danger_is_told_once_more_as_its_deadline_nears(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make, 0.0))
    ((_, one),) = heard(garden, MORNING, 2)
    ((at, again),) = reminded(garden)
    assert again.trees == ("Ember",)
    assert timedelta(0) < one.advice.do_by - at <= 2 * HOUR


def test_who_has_said_that_it_is_done_is_not_reminded(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make, 0.0))
    heard(garden, MORNING, 2)
    move(garden, "shed", MORNING + 2 * HOUR)
    assert reminded(garden) == []


def test_what_only_asks_to_act_is_said_once(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make, 5.2))
    ((_, one),) = heard(garden, MORNING, 2)
    assert one.advice.strength == "act"
    assert reminded(garden) == []


# How did they come through?


def test_after_a_danger_the_keeper_is_asked_once(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make, 0.0))
    heard(garden, EVENING, 1)
    ((at, question),) = only(heard(garden, EVENING + 8 * HOUR, 24 * 3, 3), Kind.OUTCOME)
    assert question.trees == ("Ember",)
    assert at >= EVENING + DAY
    assert 6 <= at.astimezone(ZONE).hour < 21


def test_who_has_told_already_is_not_asked(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make, 0.0))
    heard(garden, EVENING, 14)
    night = EVENING.date()
    outcome = Outcome(tree="Ember", at=EVENING + 14 * HOUR, fate=Fate.FINE, night=night)
    keep(garden.store, [outcome])
    assert only(heard(garden, EVENING + 15 * HOUR, 66, 3), Kind.OUTCOME) == []


def test_of_trees_under_cover_it_is_asked_as_they_go_back(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make, 0.0))
    heard(garden, EVENING, 1)
    move(garden, "shed", EVENING + HOUR)
    told = heard(garden, EVENING + 2 * HOUR, 60, 3)
    assert kinds(told) == [Kind.BACK]
    assert "underbench outcome" in told[0][1].message.body


# Whom


STAND_IN = """
[[stand_in]]
name = "Basile"
days = ["2024-04-23 to 2024-04-25"]
weekdays = ["07:00-20:00"]
urls = ["json://localhost/basile"]
"""


@pytest.mark.parametrize(
    ("mean_c", "to"), [(5.2, ("Basile",)), (0.0, ("Basile", "keeper"))], ids=["act", "danger"]
)
def test_who_stands_in_is_told_and_of_danger_the_keeper_too(
    labs: Labs, make: Any, mean_c: float, to: tuple[str, ...]
) -> None:
    garden = in_leaf(labs, spring(make, mean_c), GARDEN + STAND_IN)
    ((_, one), *_) = heard(garden, MORNING, 4)
    assert one.message.to == to
