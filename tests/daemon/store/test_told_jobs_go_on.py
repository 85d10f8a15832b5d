"""Jobs told by an earlier version go on: nothing is told twice, and done jobs are understood.

``old_databases/jobs`` holds the dump of a database on the morning after a night of frost. The named
version wrote it. Forecasts, pictures and older hours were left out for size.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from told_garden import TOML, two_nights_of_frost

from underbench.daemon.journal.mark_done import note_handled
from underbench.daemon.journal.outcomes import note_outcome
from underbench.daemon.journal.undo import undo
from underbench.rules.garden.journal import Handled, Move, Outcome, Watering, Work
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards import HAZARDS

DUMP = Path(__file__).parents[2] / "old_databases" / "jobs" / "0009_past_days.sql"
MORNING = datetime(2024, 4, 24, 4, 50, tzinfo=UTC)  # 06:50 in the garden
NEXT_HOUR = MORNING + timedelta(minutes=50)


@pytest.fixture
def old(make: Any, labs: Callable[..., Any], tmp_path: Path) -> Any:
    """The garden of that time, with its database."""
    (tmp_path / "one").mkdir()
    with closing(sqlite3.connect(tmp_path / "one" / "underbench.db")) as db:
        db.executescript(DUMP.read_text(encoding="utf-8"))
    return labs(TOML, two_nights_of_frost(make))


def told(old: Any) -> dict[Any, Any]:
    """When each job was told, by tree and beginning of its span."""
    rows = old.store.episodes.since(MORNING - timedelta(days=40))
    return {(row.tree, row.action, row.span_start): row.told_at for row in rows if row.told_at}


def test_hazards_and_remedies_are_kept_by_their_keys(old: Any) -> None:
    rows = old.store.episodes.since(MORNING - timedelta(days=40))
    assert {row.hazard for row in rows} <= HAZARDS.keys()
    assert {row.remedy for row in rows if row.told_at} == {
        *("into-spot", "fleece-1", "ground", "slit-bag", "open-bag"),
        *("wet-moss", "light", "stay"),
    }


def test_what_was_told_is_not_told_again(old: Any) -> None:
    before = told(old)
    assert len(before) > 10
    done = old.run(NEXT_HOUR)
    assert [one.message.title for one in done.all_said] == []
    assert before.items() <= told(old).items()  # a tree under cover stays there as told
    found = {finding.key for finding in (*done.outlook.findings, *done.outlook.at_home)}
    assert found <= done.episodes.keys()


@pytest.mark.parametrize(
    ("tree", "entry", "words"),
    [
        ("Ember", Move(tree="Ember", at=MORNING, spot="shed"), "Ember is in the shed"),
        ("Lane", Watering(tree="Lane", at=MORNING, moss=True), "moss of Lane wet through"),
        ("Pine", Handled(tree="Pine", at=MORNING), "Pine down on the ground"),
        (
            "Alder",
            Work(tree="Alder", at=MORNING, work=WorkKind.SLIT_BAG),
            "Alder covered; bag of Alder slit",
        ),
        (
            "Stump",
            Work(tree="Stump", at=MORNING, work=WorkKind.OPEN_BAG),
            "Stump covered; bag of Stump open",
        ),
    ],
)
def test_what_was_told_can_be_said_to_be_done(old: Any, tree: str, entry: Any, words: str) -> None:
    said = note_handled(old.store, old.settings, [tree], MORNING).splitlines()[0]
    parts = sorted(said.removeprefix("Noted: ").removesuffix(".").split("; "))
    assert set(words.split("; ")) <= set(parts)
    assert entry in old.store.journal.entries()
    assert not any(tree in key for key in open_jobs(old))


def open_jobs(old: Any) -> set[tuple[str, str]]:
    rows = old.store.episodes.since(MORNING)
    return {(row.tree, row.action) for row in rows if row.told_at and not row.handled_at}


def test_what_was_noted_then_can_be_taken_back(old: Any) -> None:
    notes = [note for note in old.store.notes.latest() if note.undone_at is None]
    assert [type(note.entries[0]) for note in notes[:2]] == [Outcome, Handled]
    assert ("Heath", "protect") not in open_jobs(old)
    undo(old.store, old.settings, MORNING)
    undo(old.store, old.settings, MORNING)
    assert ("Heath", "protect") in open_jobs(old)


def test_how_a_tree_came_through_is_set_beside_what_was_told(old: Any) -> None:
    said = note_outcome(old.store, old.settings, ["Ember", "fine"], None, NEXT_HOUR)
    assert "Told: " in said
    first, second = (entry for entry in old.store.journal.entries() if isinstance(entry, Outcome))
    assert first.hazard == second.hazard
