"""What a keeper hears when trees stand under cover, when nobody is there, and in a dry spell."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import pytest
from garden_toml import EMBER, HANDS_ON, PLACE
from spring_frosts import (
    DAY,
    EVENING,
    GARDEN,
    HOUR,
    SPOTS,
    ZONE,
    Labs,
    hourly,
    in_leaf,
    move,
    spring,
)

from underbench.rules.hazards.hazard import Action
from underbench.rules.weather.hourly import Weather

# Under cover


def test_of_a_tree_that_is_safe_under_cover_nothing_is_said(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make))
    move(garden, "shed", EVENING - 2 * DAY)
    assert hourly(garden, EVENING - 4 * HOUR, 1) == []
    garden.sky.weather = spring(make, 2.0)
    assert hourly(garden, EVENING - 2 * HOUR, 14, 4) == []
    garden.sky.weather = spring(make)  # the frost eases, and comes back
    assert hourly(garden, EVENING + 12 * HOUR, 1) == []


def test_who_carried_a_tree_in_as_told_does_not_hear_to_leave_it_in(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make, 2.0, 2.0))
    ((_, one),) = hourly(garden, EVENING, 1)
    assert one.message.title.startswith("BRING Ember into the shed by ")
    assert "2 nights in a row" in one.message.body
    move(garden, "shed", EVENING + HOUR)
    assert hourly(garden, EVENING + 2 * HOUR, 26, 8) == []


@pytest.mark.parametrize("spot", ["home", "top bench"])
def test_back_out_on_a_night_it_was_told_of_it_is_told_again(
    labs: Labs, make: Any, spot: str
) -> None:
    garden = in_leaf(labs, spring(make, 2.0))
    assert len(hourly(garden, EVENING, 1)) == 1
    move(garden, "shed", EVENING + HOUR)
    assert hourly(garden, EVENING + HOUR, 1) == []
    move(garden, spot, EVENING + 2 * HOUR)
    ((_, one),) = hourly(garden, EVENING + 2 * HOUR, 3)
    assert one.message.title.startswith("BRING Ember into the shed ")
    assert [job.stay for job in one.advice.jobs] == [False]


# A dry spell

THURSDAY = datetime(2024, 6, 13, 5, 10, tzinfo=UTC)


def dry(make: Any) -> Weather:
    """A hot, dry, breezy June."""
    weather: Weather = make.weather(
        datetime(2024, 6, 5, tzinfo=UTC),
        24 * 25,
        mean_c=26.0,
        swing_k=8.0,
        dew_drop_k=14.0,
        wind_ms=3.0,
    )
    return weather


def routine(every_days: int) -> str:
    return f'[[watering]]\ntimes = ["07:00"]\nevery_days = {every_days}\n'


def pot(litres: float) -> str:
    return EMBER.replace("litres = 4", f"litres = {litres}")


def waterings(told: list[tuple[datetime, Any]]) -> list[tuple[datetime, Any]]:
    return [(at, one) for at, one in told if one.advice.action is Action.WATER]


def test_pots_that_dry_while_nobody_is_there_are_a_message_of_their_own(
    labs: Labs, make: Any
) -> None:
    """It is dry from Friday on. The keeper is away from Saturday to Monday, when the routine
    waters nothing."""
    away = PLACE + HANDS_ON + 'away = ["2024-06-15 to 2024-06-17"]\n' + SPOTS
    garden = labs(away + pot(3) + routine(1), dry(make))
    asked = waterings(hourly(garden, THURSDAY + DAY, 24, 10))
    (_, here), (at, gone) = asked
    assert here.advice.in_hand
    assert "Nobody" not in here.message.body
    assert not gone.advice.in_hand
    assert "ask somebody in." in gone.message.body
    assert at.astimezone(ZONE).date() < date(2024, 6, 15)  # while help can still be arranged
    days = {f.first_at.astimezone(ZONE).date() for f in gone.advice.findings}
    assert date(2024, 6, 16) in days
    assert days.isdisjoint(f.first_at.astimezone(ZONE).date() for f in here.advice.findings)


def test_a_shohin_dry_by_evening_is_not_helped_by_one_more_can_in_the_morning(
    labs: Labs, make: Any
) -> None:
    garden = labs(GARDEN + pot(0.5) + routine(1), dry(make))
    ((_, one),) = waterings(hourly(garden, THURSDAY, 16, 8))
    first = one.advice.findings[0]
    assert one.advice.do_by < first.first_at  # this watering comes together with the routine's
    line = one.message.body.splitlines()[0]
    assert "full shade" in line or "again at midday" in line
    choice = one.advice.jobs[0].choice
    assert choice.way.words in line
    assert ("midday" in line) == (len(choice.way.waterings) == 2)  # all help is said


def test_a_big_pot_the_routine_leaves_dry_needs_no_more_than_water(labs: Labs, make: Any) -> None:
    """The pot is watered only every third day. One watering carries it over the day."""
    garden = labs(GARDEN + pot(6) + routine(3), dry(make))
    (_, one), *_ = waterings(hourly(garden, THURSDAY, 50, 8))
    assert "Check, and water till it drains, at the top bench: Ember" in one.message.body
