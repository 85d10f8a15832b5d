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
from told_rows import told

from underbench.daemon.alerts import outcome_question
from underbench.daemon.alerts.compose import Said, Told
from underbench.daemon.alerts.message_kinds import Kind
from underbench.daemon.alerts.scheduled_messages import say
from underbench.daemon.store.episodes import OVER
from underbench.rules.garden.journal import Move

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
    later = heard(garden, EVENING + 2 * HOUR, 24 * 3, 8)  # later the dark is a hazard
    assert kinds(later) == [Kind.BACK]
    ((at, back),) = later
    local = at.astimezone(ZONE)
    assert local.date() == (EVENING + 3 * DAY).astimezone(ZONE).date()
    assert time(9) <= local.time() < time(13)
    assert back.trees == ("Ember",)
    assert "underbench outcome" in back.message.body


@pytest.mark.parametrize("ago", [9, 75])
def test_a_tree_is_not_forgotten_under_cover_however_long_ago_it_went(
    labs: Labs, make: Any, ago: int
) -> None:
    garden = in_leaf(labs, spring(make))
    night_ends = EVENING - ago * DAY
    row = told("Ember", night_ends, told_at=night_ends - DAY, state=OVER, into_spot="shed")
    garden.store.episodes.put([row])
    garden.store.journal.add([Move(tree="Ember", at=night_ends - 20 * HOUR, spot="shed")])
    said = kinds(heard(garden, EVENING + 18 * HOUR, 12, 6))
    assert said.count(Kind.BACK) == 1


def test_a_frost_that_returns_after_trees_were_sent_back_is_told(labs: Labs, make: Any) -> None:
    """The tree was sent back and nothing was noted, so it may be outside."""
    garden = in_leaf(labs, spring(make, 2.0))
    heard(garden, EVENING, 1)
    move(garden, "shed", EVENING + HOUR)
    assert kinds(heard(garden, EVENING + 18 * HOUR, 12, 6)) == [Kind.BACK]
    garden.sky.weather = spring(make, 2.0, 9.0, 0.0)
    assert Kind.ADVICE in kinds(heard(garden, EVENING + 38 * HOUR, 12, 6))


# Stand-down


def test_a_frost_no_longer_expected_is_called_off_once_and_told_again_if_it_comes_back(
    labs: Labs, make: Any
) -> None:
    garden = in_leaf(labs, spring(make, 2.0))
    assert len(heard(garden, MORNING + HOUR, 1)) == 1
    garden.sky.weather = spring(make)
    ((at, off),) = heard(garden, MORNING + 2 * HOUR, 9, 4)
    assert (off.kind, off.trees) == (Kind.STAND_DOWN, ("Ember",))
    assert at >= MORNING + 9 * HOUR  # one milder run of the forecast calls nothing off
    assert heard(garden, MORNING + 11 * HOUR, 1) == []
    garden.sky.weather = spring(make, 2.0)
    assert kinds(heard(garden, MORNING + 12 * HOUR, 1)) == [Kind.ADVICE]


# Once more, and afterwards


def test_danger_is_told_once_more_and_afterwards_the_keeper_is_asked_once(
    labs: Labs, make: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The question waits for a message that it can go with: here a week."""
    monkeypatch.setattr(outcome_question, "WAITS_FOR_ANOTHER", 7 * DAY)
    garden = in_leaf(labs, spring(make, 0.0))
    ((_, one),) = heard(garden, MORNING + HOUR, 1)
    ((at, again),) = heard(garden, MORNING + 8 * HOUR, 8, 2)
    assert heard(garden, MORNING + 16 * HOUR, 40, 13) == []
    assert (again.kind, again.trees) == (Kind.REMINDER, ("Ember",))
    assert timedelta(0) < one.advice.do_by - at <= 2 * HOUR
    ((asked_at, question),) = heard(garden, EVENING + 7 * DAY, 36, 12)
    assert (question.kind, question.trees) == (Kind.OUTCOME, ("Ember",))
    assert asked_at >= EVENING + 7 * DAY
    assert 6 <= asked_at.astimezone(ZONE).hour < 21


def test_a_round_up_asks_how_trees_came_through_once(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make, 0.0), f'{GARDEN}[telling]\nround_up = "18:30"\n')
    heard(garden, MORNING + HOUR, 1)
    evening, bodies = datetime(2024, 4, 24, 16, 30, tzinfo=UTC), []
    for number in range(3):
        now = evening + number * DAY
        done = garden.run(now)
        assert Kind.OUTCOME not in [one.kind for one in done.said]
        bodies += [one.body for one in say(done, garden.settings, garden.store, now)]
    assert len(bodies) == 3
    asked = [body for body in bodies if "How did Ember come through Tuesday 23 April?" in body]
    assert asked == [bodies[1]]  # a day after it is over, when damage shows
    assert "underbench outcome TREE fine, damaged or lost" in asked[0]


# What stands safe

FIG = (
    GARDEN
    + """
[[spot]]
name = "front room"
kind = "indoors"

[[tree]]
name = "Fig"
species = "Ficus microcarpa"
litres = 3
spot = "top bench"
"""
)


def test_nothing_is_told_of_a_tropical_that_is_indoors(labs: Labs, make: Any) -> None:
    """Nights of frost threaten it where it belongs, which it left weeks ago."""
    garden = in_leaf(labs, spring(make, 0.0, 0.0), FIG)
    garden.store.journal.add([Move(tree="Fig", at=EVENING - 20 * DAY, spot="front room")])
    told = [one for _, one in heard(garden, MORNING + HOUR, 36, 12)]
    trees = {job.tree for one in told if isinstance(one, Told) for job in one.advice.jobs}
    assert trees == {"Ember"}
    assert not any("Fig" in one.message.body or "LEAVE IN" in one.message.title for one in told)


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
    ((_, one), *_) = heard(garden, MORNING + HOUR, 1)
    assert one.message.to == to
