"""A told job is done: what ``handled`` notes, and which other notes count as done."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from commanding import EVENING, Garden, fails, stamp
from garden_toml import BENCH, EMBER, HANDS_ON, HEATH, PLACE, SHED
from told_rows import DAY, HOUR, NIGHT_ENDS, NOW, told

from underbench.daemon.config.settings import Settings, load
from underbench.daemon.faults import Fault
from underbench.daemon.journal.mark_done import NOTHING, TOLD_WHEN, note_handled
from underbench.daemon.journal.noting import note_move, note_watering, trees_named
from underbench.daemon.journal.works import Told, note_work
from underbench.daemon.store.store import Store
from underbench.rules.garden.journal import Entry, Handled, Move, Opening, Watering, Work, fold
from underbench.rules.garden.works import WorkKind

UNDER = '\n[[spot]]\nname = "under the bench"\nkind = "under the bench"\n'
LOW = BENCH.replace("top bench", "low bench")
GARDEN = PLACE + HANDS_ON + BENCH + LOW + SHED + UNDER + EMBER + HEATH
FLEECE = "Cover with 1 layer of fleece, clear of the leaves, weighted"


@pytest.fixture
def settings(file: Path) -> Settings:
    file.write_text(GARDEN, encoding="utf-8")
    return load(file, {"UNDERBENCH_STORE__PATH": "underbench.db"})


@pytest.fixture
def store(settings: Settings) -> Iterator[Store]:
    with Store.open(settings.store_path) as opened:
        yield opened


def into_shed(tree: str, **given: Any) -> Any:
    words = {"into_spot": "shed", "remedy": "into-spot", "back_at": NIGHT_ENDS - 2 * HOUR}
    return told(tree, **{**words, **given})


# By the command


def test_what_a_pass_told_is_noted_once_and_then_nothing_is_left(garden: Garden) -> None:
    """A frost as in ``test_cli.py``: Ember goes into the shed, and Heath gets fleece."""
    asked = garden.do("once", "--at", stamp(EVENING)).stdout
    assert "Into the shed, from the top bench: Ember" in asked
    assert f"{FLEECE}, at the top bench: Heath" in asked
    said = garden.do("handled", "--on", "2024-04-23")
    back = asked.split("Back out, and covers off ")[1].split(".\n")[0]
    assert (said.exit_code, said.stdout) == (
        0,
        "Noted: Ember is in the shed; Heath covered.\n"
        f"Ember may go back out from {back}; Heath may be uncovered from {back}."
        f" {TOLD_WHEN}\n",
    )
    with Store.open(garden.database) as store:
        kept = store.journal.entries()
        assert {row.state for row in store.episodes.since(EVENING)} == {"handled"}
    assert kept == [Move(tree="Ember", at=EVENING, spot="shed"), Handled(tree="Heath", at=EVENING)]
    again = garden.do("handled", "--on", "2024-04-23")
    assert (again.exit_code, again.stdout) == (0, f"{NOTHING}\n")
    fails(garden.do("handled", "ember", "--on", "2024-04-23"), "nothing", "to do for Ember")
    with Store.open(garden.database) as store:
        assert store.journal.entries() == kept


def test_long_after_nothing_is_taken_for_done(garden: Garden) -> None:
    garden.do("once", "--at", stamp(EVENING))
    assert garden.do("handled").stdout == f"{NOTHING}\n"
    fails(garden.do("handled", "Embre"), "no tree called 'Embre'; did you mean 'Ember'?")
    with Store.open(garden.database) as store:
        assert store.journal.entries() == []


# What it means for the journal


def test_a_spot_or_a_species_stands_for_its_trees(settings: Settings, store: Store) -> None:
    store.episodes.put([into_shed("Ember"), into_shed("Heath")])
    said = note_handled(store, settings, ["pinus", "sylvestris"], NOW)
    assert said.startswith("Noted: Heath is in the shed.")
    said = note_handled(store, settings, ["top bench"], NOW)
    assert said == (
        f"Noted: Ember is in the shed.\nEmber may go back out from 10:00 tomorrow. {TOLD_WHEN}"
    )
    with pytest.raises(Fault, match="no tree stands on top bench"):
        note_handled(store, settings, ["top bench"], NOW)


def test_of_several_named_those_with_nothing_to_do_are_said(
    settings: Settings, store: Store
) -> None:
    store.episodes.put([into_shed("Ember")])
    said = note_handled(store, settings, ["Ember", "Heath"], NOW)
    assert said.splitlines()[-1] == "Nothing that was told is still to do for Heath."


@pytest.mark.parametrize(
    ("row", "entry", "words"),
    [
        (
            told("Ember", action="water", hazard="dry-pot", remedy="water"),
            Watering(tree="Ember", at=NOW),
            "Ember watered",
        ),
        (
            told("Ember", action="water", hazard="dry-moss", remedy="wet-moss"),
            Watering(tree="Ember", at=NOW, moss=True),
            "moss of Ember wet through",
        ),
        (
            told("Ember", action="vent", hazard="hot-bag", remedy="slit-bag"),
            Work(tree="Ember", at=NOW, work=WorkKind.SLIT_BAG),
            "bag of Ember slit",
        ),
        (
            told("Ember", action="vent", hazard="hot-bag", remedy="open-bag-full-shade"),
            Work(tree="Ember", at=NOW, work=WorkKind.OPEN_BAG),
            "bag of Ember open",
        ),
        (
            told("Ember", action="shade", hazard="scorch", remedy="half-shade", back_at=NOW + DAY),
            Handled(tree="Ember", at=NOW),
            "Ember shaded",
        ),
        (  # until the keeper is told to take it off
            told("Ember", action="shade", hazard="scorch", remedy="half-shade", back_at=None),
            Move(tree="Ember", at=NOW, spot="top bench", cloth=True),
            "Ember shaded",
        ),
        (
            told("Ember", remedy="fleece-1", back_at=NOW + DAY),
            Handled(tree="Ember", at=NOW),
            "Ember covered",
        ),
        (  # until the keeper is told to take it off
            told("Ember", remedy="fleece-2", back_at=None),
            Move(tree="Ember", at=NOW, spot="top bench", layers=2),
            "Ember covered",
        ),
        (
            told("Ember", remedy="ground-fleece-1", back_at=None),
            Move(tree="Ember", at=NOW, spot="top bench", layers=1, on_ground=True),
            "Ember down on the ground",
        ),
        (told("Ember", remedy="shelter"), Handled(tree="Ember", at=NOW), "Ember seen to"),
        (into_shed("Ember", into_spot="gone"), Handled(tree="Ember", at=NOW), "Ember seen to"),
    ],
)
def test_each_remedy_leaves_its_own_mark(
    settings: Settings, store: Store, row: Any, entry: Entry, words: str
) -> None:
    bagged = Work(tree="Ember", at=NOW - 9 * DAY, work=WorkKind.BAG)
    store.journal.add([bagged])
    store.episodes.put([row])
    assert note_handled(store, settings, [], NOW).splitlines()[0] == f"Noted: {words}."
    assert store.journal.entries() == [bagged, entry]
    assert store.episodes.since(NOW)[0].handled_at == NOW


def test_a_bag_already_open_is_not_slit(settings: Settings, store: Store) -> None:
    works = [
        Work(tree="Ember", at=NOW - days * DAY, work=work)
        for days, work in ((9, WorkKind.BAG), (1, WorkKind.OPEN_BAG))
    ]
    store.journal.add(works)
    store.episodes.put([told("Ember", action="vent", hazard="hot-bag", remedy="slit-bag")])
    note_handled(store, settings, [], NOW)
    assert store.journal.entries() == works


def test_two_jobs_of_a_tree_are_both_done_and_a_run_of_nights_once(
    settings: Settings, store: Store
) -> None:
    nights = [into_shed("Ember", ends=NIGHT_ENDS + day * DAY) for day in range(3)]
    dry = told("Ember", action="water", hazard="dry-pot", remedy="water")
    store.episodes.put([*nights, dry])
    said = note_handled(store, settings, [], NOW)
    assert said.startswith("Noted: Ember is in the shed; Ember watered.\n")
    assert sorted(entry.kind for entry in store.journal.entries()) == ["move", "watering"]
    assert all(row.handled_at for row in store.episodes.since(NOW))


def test_who_has_carried_it_elsewhere_is_taken_at_their_word(
    settings: Settings, store: Store
) -> None:
    store.episodes.put([into_shed("Ember"), into_shed("Heath")])
    low = Move(tree="Ember", at=NOW - HOUR / 2, spot="low bench")
    store.journal.add([low])
    said = note_handled(store, settings, [], NOW)
    assert said.startswith("Noted: Ember is at low bench; Heath is in the shed.\n")
    assert store.journal.entries() == [low, Move(tree="Heath", at=NOW, spot="shed")]


@pytest.mark.parametrize(
    ("said_at", "done_at"),
    [
        (NOW + 10 * HOUR, NOW + 10 * HOUR),  # in the night: late, and still before the worst
        (NIGHT_ENDS - 2 * HOUR, NIGHT_ENDS - 16 * HOUR),  # next morning: by the deadline, then
        (NOW - 5 * HOUR, NOW - HOUR),  # "on that day", which stands for its noon: not before told
    ],
)
def test_said_after_the_harm_it_was_done_in_time(
    settings: Settings, store: Store, said_at: datetime, done_at: datetime
) -> None:
    store.episodes.put([into_shed("Ember")])
    note_handled(store, settings, [], said_at)
    assert store.journal.entries() == [Move(tree="Ember", at=done_at, spot="shed")]
    assert fold(settings.trees[0], store.journal.entries(), done_at).spot == "shed"


def test_a_season_told_long_ago_is_not_what_is_meant(settings: Settings, store: Store) -> None:
    chill = told(
        "Ember",
        hazard="chill",
        span_start=NOW - 30 * DAY,
        span_end=NOW + 90 * DAY,
        until_at=NOW - 20 * DAY,
        into_spot="shed",
    )
    store.episodes.put([chill])
    assert note_handled(store, settings, [], NOW) == NOTHING


# What else says it


@pytest.mark.parametrize(
    ("spot", "answered"), [("shed", True), ("under the bench", True), ("low bench", False)]
)
def test_a_tree_carried_to_its_spot_or_to_any_shelter_is_seen_to(
    settings: Settings, store: Store, spot: str, answered: bool
) -> None:
    store.episodes.put([into_shed("Ember"), into_shed("Heath")])
    note_move(store, settings, trees_named(settings, ["Ember"]), spot, NOW)
    done = {row.tree: row.handled_at for row in store.episodes.since(NOW)}
    assert done == {"Ember": NOW if answered else None, "Heath": None}


@pytest.mark.parametrize(
    ("hazard", "remedy", "moss", "answered"),
    [
        ("dry-pot", "water", False, True),
        ("dry-pot", "water", True, False),
        ("dry-moss", "wet-moss", True, True),
        ("dry-moss", "wet-moss", False, False),
    ],
)
def test_a_watering_noted_answers_for_what_it_wets(
    settings: Settings, store: Store, hazard: str, remedy: str, moss: bool, answered: bool
) -> None:
    store.journal.add([Work(tree="Ember", at=NOW - 60 * DAY, work=WorkKind.START_LAYER)])
    dry = told("Ember", action="water", hazard=hazard, remedy=remedy)
    store.episodes.put([dry, into_shed("Ember")])
    note_watering(store, settings, trees_named(settings, ["Ember"]), NOW, moss=moss)
    done = {row.hazard: row.handled_at for row in store.episodes.since(NOW)}
    assert (done[hazard] == NOW) is answered
    assert done["leaf-frost"] is None


@pytest.mark.parametrize(
    ("work", "remedy", "answered"),
    [
        (WorkKind.OPEN_BAG, "open-bag", True),
        (WorkKind.OPEN_BAG, "slit-bag", True),
        (WorkKind.UNBAG, "slit-bag", True),
        (WorkKind.SLIT_BAG, "slit-bag", True),
        (WorkKind.SLIT_BAG, "open-bag", False),
    ],
)
def test_a_bag_opened_as_far_as_was_told_is_seen_to(
    settings: Settings, store: Store, work: WorkKind, remedy: str, answered: bool
) -> None:
    store.journal.add([Work(tree="Ember", at=NOW - 9 * DAY, work=WorkKind.BAG)])
    store.episodes.put([told("Ember", action="vent", hazard="hot-bag", remedy=remedy)])
    note_work(store, settings, trees_named(settings, ["Ember"]), work, NOW, Told())
    assert (store.episodes.since(NOW)[0].handled_at == NOW) is answered
    bag = fold(settings.trees[0], store.journal.entries(), NOW).bag
    assert bag is None or bag.opening is not Opening.SHUT
