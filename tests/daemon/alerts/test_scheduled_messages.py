"""Messages by the clock: the round-up, a sign of life, and that no fresh forecast comes."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from spring_frosts import DAY, EVENING, GARDEN, HOUR, ZONE, Labs, in_leaf, spring

from underbench.daemon.alerts.message_kinds import Kind
from underbench.daemon.alerts.scheduled_messages import round_up_due, say
from underbench.daemon.store.store import Message
from underbench.daemon.weather.provider import Answer

AT_HALF_PAST_SIX = GARDEN + '[telling]\nround_up = "18:30"\n'
EVERY_THREE_DAYS = GARDEN + "[telling]\nstill_watching_days = 3\n"
HALF_PAST_SIX = datetime(2024, 4, 23, 16, 30, tzinfo=UTC)


def ticks(
    garden: Any, first: datetime, hours: int, every: int = 1
) -> list[tuple[datetime, Message]]:
    """The messages of so many hours that passes themselves do not send. The clock goes on: the pass
    is that of the first hour, but its forecast is the one that is to be had."""
    done, found = garden.run(first), []
    for number in range(0, hours, every):
        now = first + number * HOUR
        supplied = garden.supply.latest(now, past_days=2)
        now_done = replace(done, outlook=replace(done.outlook, supplied=supplied))
        found += [(now, message) for message in say(now_done, garden.settings, garden.store, now)]
    return found


# Round-up


def test_a_round_up_comes_once_a_day_at_its_time(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make, 2.0), AT_HALF_PAST_SIX)
    said = ticks(garden, HALF_PAST_SIX - 26 * HOUR, 32)
    assert [message.kind for _, message in said] == [Kind.ROUND_UP] * 2
    assert {at.astimezone(ZONE).hour for at, _ in said} == {18}


def test_a_round_up_is_three_days_in_six_lines_with_what_is_unlikely(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make, 7.0), AT_HALF_PAST_SIX)
    ((_, message),) = ticks(garden, HALF_PAST_SIX, 1)
    lines = message.body.splitlines()
    assert len(lines) <= 6
    assert [line[:4] for line in lines[:3]] == ["Tue:", "Wed:", "Thu:"]
    assert any("unlikely" in line for line in lines)
    assert message.title.startswith("ROUND-UP: ")


def test_without_a_time_set_there_is_no_round_up(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make, 2.0))
    assert ticks(garden, HALF_PAST_SIX - 12 * HOUR, 24, 6) == []


@pytest.mark.parametrize(
    ("minutes", "due"), [(-1, False), (0, True), (179, True), (180, False)], ids=str
)
def test_a_round_up_much_too_late_is_left_out(
    labs: Labs, make: Any, minutes: int, due: bool
) -> None:
    garden = labs(AT_HALF_PAST_SIX + TREE, spring(make))
    at = HALF_PAST_SIX + minutes * HOUR / 60
    assert round_up_due(garden.settings, garden.store, at) is due


@pytest.mark.parametrize("day", ["2024-03-31", "2024-10-27"])
def test_a_round_up_comes_once_on_days_of_23_and_25_hours(labs: Labs, make: Any, day: str) -> None:
    """Clocks change at 01:00 UTC on these Sundays: EU Directive 2000/84/EC, from memory."""
    garden = labs(AT_HALF_PAST_SIX.replace("18:30", "02:30") + TREE, spring(make))
    midnight = datetime.fromisoformat(day).replace(tzinfo=ZoneInfo("Europe/Ljubljana"))
    sent = 0
    for minute in range(0, 25 * 60, 10):
        now = midnight.astimezone(UTC) + minute * HOUR / 60
        if now.astimezone(ZONE).date() == midnight.date() and round_up_due(
            garden.settings, garden.store, now
        ):
            garden.store.duties.done(Kind.ROUND_UP, now)
            sent += 1
    assert sent == 1


# Still watching


def test_after_quiet_days_there_is_a_sign_of_life(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make), EVERY_THREE_DAYS)
    said = ticks(garden, EVENING - 10 * DAY, 24 * 7, 12)
    assert [message.kind for _, message in said] == [Kind.WATCHING] * 2
    (first, message), (second, _) = said
    assert second - first >= 3 * DAY
    assert message.title == "Still watching: nothing to do"
    assert 6 <= first.astimezone(ZONE).hour < 21


def test_a_round_up_each_day_is_sign_enough(labs: Labs, make: Any) -> None:
    telling = AT_HALF_PAST_SIX + "still_watching_days = 1\n"
    garden = in_leaf(labs, spring(make), telling)
    said = ticks(garden, HALF_PAST_SIX - 8 * DAY, 24 * 4, 12)
    assert {message.kind for _, message in said} == {Kind.ROUND_UP}


def test_a_message_is_sign_enough(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make, 2.0), EVERY_THREE_DAYS)
    ticks(garden, EVENING - 2 * DAY, 1)  # quiet days are counted from here
    assert ticks(garden, EVENING, 48, 4) == []  # a message is told here
    assert [message.kind for _, message in ticks(garden, EVENING + 3 * DAY, 1)] == [Kind.WATCHING]


# No fresh forecast


def test_twelve_hours_without_a_fresh_forecast_are_said_loudly_once_a_day(
    labs: Labs, make: Any
) -> None:
    garden = in_leaf(labs, spring(make))
    morning = datetime(2024, 4, 20, 5, 10, tzinfo=UTC)
    garden.run(morning)
    garden.sky.down = True
    said = ticks(garden, morning + 4 * HOUR, 36, 4)
    assert [message.kind for _, message in said] == [Kind.BLIND] * 2
    (first, message), _ = said
    assert first - morning == 12 * HOUR
    assert message.title == "NO FRESH FORECAST for 12 h"
    assert message.strength == "danger"
    assert "Watch the weather yourself" in message.body


def test_a_run_that_is_sent_again_and_again_is_said_as_loudly(labs: Labs, make: Any) -> None:
    garden = in_leaf(labs, spring(make))
    morning = datetime(2024, 4, 20, 5, 10, tzinfo=UTC)
    fetch = garden.sky.fetch
    garden.sky.fetch = lambda place, past, ahead, now, held="": fetch(
        place, past, ahead, morning, held
    )
    said = ticks(garden, morning, 40, 4)
    assert [message.kind for _, message in said] == [Kind.BLIND] * 2
    (first, message), _ = said
    assert first - morning == 12 * HOUR
    assert message.title == "NO FRESH FORECAST for 12 h"


def test_half_a_day_of_weather_from_elsewhere_is_said_loudly_once_a_day(
    labs: Labs, make: Any
) -> None:
    garden = astray(in_leaf(labs, spring(make)))
    morning = datetime(2024, 4, 20, 5, 10, tzinfo=UTC)
    said = ticks(garden, morning, 40, 4)
    assert [message.kind for _, message in said] == [Kind.BLIND] * 2
    (first, message), _ = said
    assert first - morning == 12 * HOUR
    assert message.title == "FORECAST IN DOUBT for 12 h"
    assert message.strength == "danger"
    lines = message.body.splitlines()
    assert lines[:2] == [
        "Watch the weather yourself: the trees are judged by a forecast that may be wrong.",
        "Open-Meteo sent weather for a place 450 km from the garden.",
    ]


def test_every_message_by_a_forecast_in_doubt_says_so(labs: Labs, make: Any) -> None:
    garden = astray(in_leaf(labs, spring(make, 0.0), AT_HALF_PAST_SIX))
    before = garden.run(EVENING)
    said = ticks(garden, HALF_PAST_SIX, 1)
    advice, round_up = [*before.messages, *(message for _, message in said)]
    assert (advice.kind, round_up.kind) == (Kind.ADVICE, Kind.ROUND_UP)
    for message in (advice, round_up):
        assert message.body.splitlines()[-1] == (
            "FORECAST IN DOUBT: Open-Meteo sent weather for a place 450 km from the garden. "
            "Look at another one too."
        )


def astray(garden: Any) -> Any:
    """The garden with a service that answers for a place four degrees further north."""
    fetch = garden.sky.fetch

    def fetched(*args: Any) -> Answer:
        answer = fetch(*args)
        body = json.loads(answer.body)
        body["latitude"] += 4.05  # of 111.2 km: 450 km
        return replace(answer, body=json.dumps(body).encode())

    garden.sky.fetch = fetched
    return garden


TREE = '[[tree]]\nname = "Heath"\nspecies = "Pinus sylvestris"\nlitres = 3\nspot = "top bench"\n'
