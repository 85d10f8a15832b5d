"""The question how trees came through goes with another message, or waits for one."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from told_rows import told

from underbench.daemon.alerts.message_kinds import Asking
from underbench.daemon.alerts.outcome_question import (
    MOST_CHARACTERS,
    WAITS_FOR_ANOTHER,
    asked_in,
    question,
    takes,
    waited_long,
)
from underbench.daemon.store.episodes import OVER, key_of
from underbench.daemon.store.message_queue import Message, Tells
from underbench.rules.hazards.findings import Strength
from underbench.rules.hazards.leaf_frost import LEAF_FROST

NOW = datetime(2027, 4, 26, 16, tzinfo=UTC)
ASKING = Asking(LEAF_FROST, ("Ember", "Old Heath"), date(2027, 4, 23))
CALM = Message("back 1", "BACK OUT 1 tree", "From shed to top bench: Plume", Strength.NOTICE, NOW)


def test_it_names_the_trees_and_the_night_and_how_to_answer() -> None:
    head = "How did Ember and Old Heath come through Friday 23 April? "
    typed = question(ASKING, None)
    assert typed == f"{head}Say it with: underbench outcome TREE fine, damaged or lost."
    tapped = question(ASKING, "https://garden.example")
    assert tapped == f"{head}Say: https://garden.example/do/?tree=Ember&tree=Old+Heath"


@pytest.mark.parametrize(
    ("message", "fits"),
    [
        (CALM, True),
        (Message("a", "PROTECT", "Now.", Strength.DANGER, NOW), False),
        (Message("a", "BACK OUT", "Home.", Strength.NOTICE, NOW, to=("Robin",)), False),
        (Message("a", "BACK OUT", "x" * (MOST_CHARACTERS - 10), Strength.NOTICE, NOW), False),
    ],
)
def test_it_goes_under_no_danger_to_the_keeper_and_where_there_is_room(
    message: Message, fits: bool
) -> None:
    assert takes(message, question(ASKING, None)) is fits


def test_an_untaken_message_asks_again() -> None:
    row, own = told("Ember", state=OVER), told("Plume")
    with_it = asked_in(Message(**vars_of(CALM, tells=Tells((key_of(own),), ("a",)))), "How?", [row])
    assert with_it.body.splitlines()[-1] == "How?"
    assert with_it.tells == Tells((key_of(own), key_of(row)), ("a",))


def vars_of(message: Message, **changed: object) -> dict[str, object]:
    return {name: getattr(message, name) for name in message.__slots__} | changed


def test_it_goes_by_itself_after_weeks_without_a_message() -> None:
    row = told("Ember", state=OVER)
    late = row.until_at + WAITS_FOR_ANOTHER
    assert not waited_long([row], late - timedelta(minutes=1))
    assert waited_long([row], late)
