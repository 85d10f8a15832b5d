"""Told means taken by a service. What no service took in a day is open again and told as missed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from told_rows import DAY, HOUR, NIGHT_ENDS, NOW, told

from underbench.daemon.alerts.message_kinds import Kind
from underbench.daemon.alerts.untaken import missed_message, open_again, reopened
from underbench.daemon.config.settings import Settings, load
from underbench.daemon.store.episodes import key_of
from underbench.daemon.store.message_queue import Due, Message, Tells
from underbench.daemon.store.store import Store
from underbench.rules.hazards.findings import Strength

LATER = NOW + DAY
GARDEN = """
[garden]
name = "Orchard End"
latitude = 46.05
longitude = 14.51
elevation_m = 300
timezone = "Europe/Ljubljana"
[[spot]]
name = "top bench"
kind = "bench"
[[tree]]
name = "Ember"
species = "Acer palmatum"
litres = 4
spot = "top bench"
"""


@pytest.fixture
def settings(file: Path) -> Settings:
    file.write_text(GARDEN, encoding="utf-8")
    return load(file, {"UNDERBENCH_STORE__PATH": "underbench.db"})


@pytest.fixture
def store(settings: Settings) -> Iterator[Store]:
    with Store.open(settings.store_path) as opened:
        yield opened


def message(number: int = 1, **given: Any) -> Message:
    usual = {
        "key": f"message {number}",
        "title": f"PROTECT {number} trees by 19:00 today",
        "body": "Words.",
        "strength": Strength.ACT,
        "queued_at": NOW,
    }
    return Message(**usual | given)


# What is open again


SEASON_ENDS = NOW + 60 * DAY
CASES = {
    "a frost still ahead": (told("Ember", NIGHT_ENDS + DAY, told_at=NOW), {"told_at": None}),
    "a night that is past": (told("Ember", NIGHT_ENDS, told_at=NOW), {}),
    "a season that goes on": (
        told("Ember", SEASON_ENDS, told_at=NOW, span_start=NOW - 9 * DAY, until_at=NOW + 3 * HOUR),
        {"told_at": None},
    ),
    "done all the same": (
        told("Ember", NIGHT_ENDS + DAY, told_at=NOW, handled_at=NOW + HOUR),
        {},
    ),
    "told again since": (told("Ember", NIGHT_ENDS + DAY, told_at=NOW + HOUR), {}),
    "told to go back": (
        told("Ember", NIGHT_ENDS, state="over", told_at=NOW - 2 * DAY, back_told_at=NOW),
        {"back_told_at": None},
    ),
    "asked about": (
        told("Ember", NIGHT_ENDS, state="over", told_at=NOW - 2 * DAY, asked_at=NOW),
        {"asked_at": None},
    ),
}


@pytest.mark.parametrize("name", CASES)
def test_what_was_not_taken_is_open_again_where_it_still_matters(name: str) -> None:
    row, changes = CASES[name]
    if "told_at" in changes:
        changes = {**changes, "told_strength": None, "told_do_by": None}
    assert reopened(row, NOW, LATER) == replace(row, **changes)


def test_only_what_no_service_took_in_a_day_is_opened_again(
    settings: Settings, store: Store
) -> None:
    rows = [told(tree, NIGHT_ENDS + 2 * DAY, told_at=NOW) for tree in ("Ember", "Heath")]
    store.episodes.put(rows)
    for number, row in enumerate(rows, start=1):
        store.messages.queue(message(number, tells=Tells((key_of(row),))))
    store.messages.trying(Due(message(1), "phone", 0), NOW, NOW + HOUR)
    store.messages.delivered(Due(message(1), "phone", 1), NOW + HOUR)
    open_again(settings, store, LATER - timedelta(seconds=1))
    assert [row.told_at for row in store.episodes.since(NOW)] == [NOW, NOW]
    open_again(settings, store, LATER)
    assert {row.tree: row.told_at for row in store.episodes.since(NOW)} == {
        "Ember": NOW,
        "Heath": None,
    }


def test_what_is_said_once_a_season_is_due_again_with_its_round_up(
    settings: Settings, store: Store
) -> None:
    for duty, at in (("winter Ember", NOW), ("windows", NOW + HOUR)):
        store.duties.done(duty, at)
    duties = ("winter Ember", "windows")
    store.messages.queue(message(kind=Kind.ROUND_UP, tells=Tells(duties=duties)))
    open_again(settings, store, LATER)
    assert store.duties.last_done("winter Ember") is None
    assert store.duties.last_done("windows") == NOW + HOUR  # said again since
    # Nobody wants yesterday's round-up itself.
    assert waiting(store) == []


# What was missed


def waiting(store: Store) -> list[Message]:
    return store.messages.waiting(Kind.MISSED, NOW - 30 * DAY)


def test_one_message_says_what_was_missed_until_a_service_takes_it(
    settings: Settings, store: Store
) -> None:
    ember = key_of(told("Ember"))
    store.messages.queue(message(1, tells=Tells((ember,))))
    store.messages.queue(message(2, queued_at=NOW + 5 * HOUR))
    open_again(settings, store, LATER)
    (first,) = waiting(store)
    assert first.title == "MISSED: 1 message reached no phone"
    assert first.body.splitlines() == [
        "No service took this within a day. You are told again what is still ahead.",
        "Tue 17:00: PROTECT 1 trees by 19:00 today: Ember",
    ]
    open_again(settings, store, LATER + 5 * HOUR)
    (second,) = waiting(store)
    assert second.title == "MISSED: 2 messages reached no phone"
    for hours in (6, 20, 40, 80):  # it waits, is written anew when stale, and is never there twice
        open_again(settings, store, LATER + hours * HOUR)
        assert len(store.messages.waiting(Kind.MISSED, LATER + (hours - 24) * HOUR)) == 1
    (live,) = store.messages.waiting(Kind.MISSED, LATER + 56 * HOUR)
    assert live.title == second.title
    store.messages.trying(Due(live, "phone", 0), LATER + 81 * HOUR, LATER + 82 * HOUR)
    store.messages.delivered(Due(live, "phone", 1), LATER + 81 * HOUR)
    open_again(settings, store, LATER + 120 * HOUR)
    assert store.messages.waiting(Kind.MISSED, LATER + 96 * HOUR) == []


def test_it_goes_to_whoever_missed_it_and_names_all_trees(
    settings: Settings,
) -> None:
    keys = tuple(key_of(told(f"Tree {number}")) for number in range(8))
    many = [message(n, to=("Ana",), tells=Tells(keys)) for n in range(80)]
    said = missed_message(settings, many, LATER)
    assert said.to == ("keeper", "Ana")
    assert 3800 < len(said.body) <= 4000
    assert "Tree 5, Tree 6, Tree 7\n" in said.body
    head, *lines, last = said.body.splitlines()
    assert head.startswith("No service took this")
    assert lines[0].startswith("Tue 17:00: PROTECT 79 trees")  # the newest first
    assert last == f"And {80 - len(lines)} earlier ones."


def test_messages_of_before_are_left_alone(settings: Settings, store: Store) -> None:
    """Messages of an older version do not say which episodes they told."""
    store.messages.queue(message())
    with store.transaction():
        store.db.execute("UPDATE message SET tells = ''")
    open_again(settings, store, LATER)
    assert waiting(store) == []
