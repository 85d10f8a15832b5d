"""What goes out when, on bare records, without a service or a database."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from underbench.daemon.delivery.outbox import first_due, second_due, within_rate
from underbench.daemon.store.message_queue import Due, Message, Record, Tries
from underbench.rules.hazards.findings import Strength

NOON = datetime(2031, 3, 9, 12, tzinfo=UTC)
MINUTE, HOUR = timedelta(minutes=1), timedelta(hours=1)
A_SECOND = timedelta(seconds=1)
GALE = Message("gale 1", "Protect 1 tree", "Gale by noon.", Strength.DANGER, NOON)
FROST = replace(GALE, key="frost 1", strength=Strength.ACT)


class Phones:
    """Services by their short names: the keeper's ``own``, and the second route."""

    def __init__(self, *own: str) -> None:
        self.own, self.second = own, ("siren",)

    def first(self, _to: tuple[str, ...]) -> tuple[str, ...]:
        return self.own


def tries(**given: Any) -> Tries:
    """A first try at noon, without an answer yet."""
    usual = {"attempts": 1, "tried_at": NOON, "reason": None, "next_try": NOON + MINUTE}
    return Tries(**{**usual, "delivered_at": None, **given})


TAKEN = tries(delivered_at=NOON)


@pytest.mark.parametrize(
    ("message", "own", "after", "goes"),
    [
        (GALE, {"phone": tries()}, 10 * MINUTE - A_SECOND, False),
        (GALE, {"phone": tries()}, 10 * MINUTE, True),
        (GALE, {}, 10 * MINUTE, True),
        (GALE, {"phone": TAKEN}, 10 * MINUTE, False),
        (FROST, {"phone": tries()}, 10 * MINUTE, False),
        (GALE, {"phone": tries()}, -A_SECOND, True),  # queued after now: nobody knows for how long
        (GALE, {"phone": tries(), "siren": TAKEN}, 10 * MINUTE, False),
        (GALE, {"phone": tries()}, 24 * HOUR, False),
    ],
)
def test_the_second_route_is_for_danger_that_the_first_has_not_taken_in_ten_minutes(
    message: Message, own: dict[str, Tries], after: timedelta, goes: bool
) -> None:
    due = second_due([Record(message, own)], Phones("phone"), NOON + after)
    assert [item.service for item in due] == (["siren"] if goes else [])


def test_without_a_phone_of_its_own_danger_goes_the_second_route_at_once() -> None:
    assert second_due([Record(GALE, {})], Phones(), NOON)


@pytest.mark.parametrize(
    ("ago", "counts"),
    [
        (timedelta(0), True),
        (HOUR - A_SECOND, True),
        (HOUR, False),
        (-A_SECOND, False),  # the clock was set back since, so the message would count for ever
    ],
)
def test_the_rate_counts_what_a_phone_took_in_the_hour_before(ago: timedelta, counts: bool) -> None:
    took = Record(replace(FROST, key="frost 0"), {"phone": tries(delivered_at=NOON - ago)})
    out = within_rate([Due(FROST, "phone", 0)], [took], NOON, most_an_hour=1)
    assert (out == []) is counts


def test_the_rate_holds_back_no_danger_and_no_other_phone() -> None:
    took = Record(replace(FROST, key="frost 0"), {"phone": TAKEN})
    due = [Due(GALE, "phone", 0), Due(FROST, "phone", 0), Due(FROST, "tablet", 0)]
    assert within_rate(due, [took], NOON, most_an_hour=1) == [due[0], due[2]]


def test_the_parts_of_a_message_count_as_one() -> None:
    parts = [replace(FROST, key=f"frost 1#{n}") for n in (1, 2, 3)]
    due = [Due(part, "phone", 0) for part in parts]
    other = Due(replace(FROST, key="frost 2"), "phone", 0)
    assert within_rate([*due, other], [], NOON, most_an_hour=1) == due
    took = Record(parts[0], {"phone": TAKEN})
    assert within_rate([*due[1:], other], [took], NOON, most_an_hour=1) == due[1:]


@pytest.mark.parametrize(
    ("at_phone", "now", "is_open"),
    [
        (tries(), NOON + MINUTE - A_SECOND, False),
        (tries(), NOON + MINUTE, True),
        (tries(), NOON - A_SECOND, True),  # the clock was set back: its next try may be far off
        (TAKEN, NOON + HOUR, False),
        (TAKEN, NOON - A_SECOND, False),
    ],
)
def test_a_service_is_tried_again_when_its_wait_is_over(
    at_phone: Tries, now: datetime, is_open: bool
) -> None:
    due = first_due([Record(FROST, {"phone": at_phone})], Phones("phone"), now)
    assert bool(due) is is_open
