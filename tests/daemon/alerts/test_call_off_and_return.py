"""What follows a told job, through whole passes: stand-down, return, the last word, the question.

Tables test the rules (``test_what_follows.py`` and its neighbours). These tests show that each rule
holds from pass to pass."""

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

MORNING = datetime(2024, 4, 23, 4, 10, tzinfo=UTC)  # 06:10 by the garden's clock


def kinds(told: list[tuple[datetime, Any]]) -> list[str]:
    return [one.kind if isinstance(one, Said) else Kind.ADVICE for _, one in told]


# Back


def test_trees_go_back_on_the_third_morning_of_three_nights_of_frost_and_are_not_nagged(
    labs: Labs, make: Any
) -> None:
    """In, stay, out: a run of cold nights is planned as one, whatever the days between are like.
    The keeper is asked how the trees came through when they go back. A keeper who leaves them in
    hears no more."""
    home = GARDEN.replace('"06:30-07:30", "17:00-21:00"', '"06:00-21:00"')
    garden = in_leaf(labs, spring(make, 0.0, 2.0, 2.0), home)
    first = heard(garden, EVENING, 1)
    assert kinds(first) == [Kind.ADVICE]
    move(garden, "shed", EVENING + HOUR)
    later = heard(garden, EVENING + 2 * HOUR, 24 * 3, 3)  # later the dark is a hazard
    assert kinds(later) == [Kind.BACK]
    ((at, back),) = later
    local = at.astimezone(ZONE)
    assert local.date() == (EVENING + 3 * DAY).astimezone(ZONE).date()
    assert time(9) <= local.time() < time(13)
    assert back.trees == ("Ember",)
    assert "underbench outcome" in back.message.body


def test_a_frost_that_returns_after_trees_were_sent_back_is_told(labs: Labs, make: Any) -> None:
    """The tree was sent back and nothing was noted, so it may be outside."""
    garden = in_leaf(labs, spring(make, 2.0))
    heard(garden, EVENING, 1)
    move(garden, "shed", EVENING + HOUR)
    assert kinds(heard(garden, EVENING + 14 * HOUR, 12, 2)) == [Kind.BACK]
    garden.sky.weather = spring(make, 2.0, 9.0, 0.0)
    assert Kind.ADVICE in kinds(heard(garden, EVENING + 38 * HOUR, 12, 2))


# Stand-down


def test_a_frost_no_longer_expected_is_called_off_once_and_told_again_if_it_comes_back(
    labs: Labs, make: Any
) -> None:
    garden = in_leaf(labs, spring(make, 2.0))
    assert len(heard(garden, MORNING, 2)) == 1
    garden.sky.weather = spring(make)
    ((at, off),) = heard(garden, MORNING + 2 * HOUR, 9)
    assert (off.kind, off.trees) == (Kind.STAND_DOWN, ("Ember",))
    assert at >= MORNING + 9 * HOUR  # one milder run of the forecast calls nothing off
    assert heard(garden, MORNING + 11 * HOUR, 1) == []
    garden.sky.weather = spring(make, 2.0)
    assert kinds(heard(garden, MORNING + 12 * HOUR, 1)) == [Kind.ADVICE]


# Once more, and afterwards


def test_danger_is_told_once_more_and_afterwards_the_keeper_is_asked_once(
    labs: Labs, make: Any
) -> None:
    garden = in_leaf(labs, spring(make, 0.0))
    ((_, one),) = heard(garden, MORNING, 2)
    later = heard(garden, MORNING + 8 * HOUR, 24 * 3, 2)
    assert kinds(later) == [Kind.REMINDER, Kind.OUTCOME]
    (at, again), (asked_at, question) = later
    assert again.trees == question.trees == ("Ember",)
    assert timedelta(0) < one.advice.do_by - at <= 2 * HOUR
    assert asked_at >= EVENING + DAY
    assert 6 <= asked_at.astimezone(ZONE).hour < 21


# Whom


STAND_IN = """
[[stand_in]]
name = "Basile"
days = ["2024-04-23 to 2024-04-25"]
weekdays = ["07:00-20:00"]
urls = ["json://localhost/basile"]
"""


@pytest.mark.parametrize(
    ("mean_c", "to"), [(6.0, ("Basile",)), (0.0, ("Basile", "keeper"))], ids=["act", "danger"]
)
def test_who_stands_in_is_told_and_of_danger_the_keeper_too(
    labs: Labs, make: Any, mean_c: float, to: tuple[str, ...]
) -> None:
    garden = in_leaf(labs, spring(make, mean_c), GARDEN + STAND_IN)
    ((_, one), *_) = heard(garden, MORNING, 2)
    assert one.message.to == to
