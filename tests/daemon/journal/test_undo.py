"""Taking back the last note: its entries, the jobs it answered, the trees it made."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest
from commanding import EVENING, NOTED, Garden, stamp
from sqlite_utils import Database

from underbench.daemon.store.migrations import MIGRATIONS
from underbench.daemon.store.store import Store
from underbench.daemon.store.undo_log import Note

ON = ("--on", "2024-04-13")


def works_of(garden: Garden) -> list[str]:
    with Store.open(garden.database) as store:
        return [f"{entry.tree} {entry.kind}" for entry in store.journal.entries()]


def test_the_last_command_is_taken_back_whole_and_then_the_one_before(garden: Garden) -> None:
    garden.do("watered", "Heath", *ON)
    garden.do("did", "repot", "Heath", "Ember", "--roots", "25%", *ON)
    said = garden.do("undo")
    assert said.stdout == "Taken back: repot of Heath and Ember on 13 April 2024.\n"
    assert works_of(garden) == ["Heath watering"]
    assert garden.do("undo").stdout == "Taken back: Heath watered on 13 April 2024.\n"
    assert works_of(garden) == []
    last = garden.do("undo")
    assert (last.exit_code, last.stdout) == (0, "Nothing that was noted is left to take back.\n")


def test_what_was_taken_back_is_still_listed(garden: Garden) -> None:
    garden.do("moved", "Ember", "shed", *ON)
    garden.do("seen", "dormant", "Ember", *ON)
    garden.do("undo")
    today, *lines = garden.do("undo", "--list").stdout.splitlines()
    assert f"{datetime.now(UTC):%Y}" in today
    assert lines == [
        "  Ember seen dormant on 13 April 2024 (taken back)",
        "  Ember moved to shed on 13 April 2024",
    ]


def test_nothing_is_judged_by_what_was_taken_back(garden: Garden) -> None:
    before = garden.seen_at()["findings"]
    garden.do("moved", "Ember", "Heath", "shed", "--on", "2024-04-22")
    assert garden.seen_at()["findings"] != before
    garden.do("undo")
    assert garden.seen_at()["findings"] == before


def test_a_tree_made_by_a_work_goes_with_it(garden: Garden) -> None:
    garden.do("did", "start-layer", "Ember", "--on", "2023-05-20")
    garden.do("did", "sever-layer", "Ember", "--as", "Spark", *ON)
    assert "Spark" in garden.do("trees").stdout
    assert "which made Spark" in garden.do("undo").stdout
    assert "Spark" not in garden.do("trees").stdout
    assert garden.do("did", "sever-layer", "Ember", "--as", "Spark", *ON).exit_code == 0


def test_a_slip_leaves_nothing_to_take_back(garden: Garden) -> None:
    garden.do("moved", "Ember", "shed", *ON)
    assert garden.do("did", "repot", "Embre").exit_code == 2
    assert garden.do("undo").stdout == "Taken back: Ember moved to shed on 13 April 2024.\n"


def told(garden: Garden) -> list[str]:
    assert garden.do("once", "--at", stamp(EVENING)).exit_code in (0, 1)
    with Store.open(garden.database) as store:
        return [row.tree for row in store.episodes.since(EVENING) if row.told_at]


def open_jobs(garden: Garden) -> list[str]:
    with Store.open(garden.database) as store:
        return [r.tree for r in store.episodes.since(EVENING) if r.told_at and not r.handled_at]


@pytest.mark.parametrize("words", [("handled",), ("moved", "Ember", "Heath", "shed")])
def test_jobs_that_it_answered_are_open_again(garden: Garden, words: tuple[str, ...]) -> None:
    jobs = told(garden)
    assert jobs
    assert garden.do(*words, "--on", "2024-04-23").exit_code == 0
    assert open_jobs(garden) == []
    said = garden.do("undo").stdout
    assert "counts as not done." in said
    assert open_jobs(garden) == jobs


def test_what_was_reckoned_since_is_forgotten(garden: Garden) -> None:
    garden.do("watered", "Ember", *ON)
    noon = datetime(2024, 4, 13, 10, tzinfo=UTC)
    days = [noon + timedelta(days=n) for n in (-1, 1, 2)]
    with Store.open(garden.database) as store:
        for at in days:
            store.checkpoints.keep(at, {"Ember": "state"}, {"Ember": "stamp"})
    garden.do("undo")
    with Store.open(garden.database) as store:
        assert store.checkpoints.before(days[-1])["Ember"].at == days[0]


def test_an_episode_that_moved_on_since_is_left_as_it_is(garden: Garden) -> None:
    told(garden)
    garden.do("handled", "--on", "2024-04-23")
    with Store.open(garden.database) as store:
        store.db.execute("UPDATE episode SET state = 'over' WHERE handled_at IS NOT NULL")
        store.db.commit()
        note = store.notes.last()
        assert isinstance(note, Note)
        store.notes.take_back(note, EVENING)
        rows = [row for row in store.episodes.since(EVENING) if row.told_at]
    assert {row.state for row in rows} == {"over"}
    assert {row.handled_at for row in rows} == {None}


def test_a_journal_from_before_there_was_undo_stays_and_is_not_taken_back(
    garden: Garden,
) -> None:
    db = Database(garden.database)
    MIGRATIONS.apply(db, stop_before="0007_page")
    columns = {column.name for column in db["journal"].columns}
    assert "undone_at" not in columns
    entry = NOTED.model_dump_json()
    db["journal"].insert({"at": 1, "tree": "Heath", "kind": "watering", "entry": entry})
    db.close()
    assert garden.do("undo").stdout == "Nothing that was noted is left to take back.\n"
    assert garden.intact()
