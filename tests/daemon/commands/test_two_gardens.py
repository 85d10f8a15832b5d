"""Two gardens of one user keep apart: each has a database of its own."""

from __future__ import annotations

import sqlite3
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from commanding import NOTED, Garden, fails
from garden_toml import BENCH, EMBER, HEATH, PLACE

from underbench.daemon.commands.cli import main
from underbench.daemon.commands.open_garden import open_copy
from underbench.daemon.config.settings import load
from underbench.daemon.store.store import Store

OTHER = PLACE.replace('name = "', 'name = "Other ', 1)


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("HOME", str(tmp_path))
    for name in ("XDG_STATE_HOME", "STATE_DIRECTORY", "UNDERBENCH_STORE__PATH"):
        monkeypatch.delenv(name, raising=False)
    return tmp_path


def written(folder: Path, toml: str) -> Path:
    folder.mkdir()
    (folder / "garden.toml").write_text(toml, encoding="utf-8")
    return folder / "garden.toml"


def do(config: Path, *words: str) -> Result:
    return CliRunner().invoke(main, ["--config", str(config), *words])


def noted(config: Path) -> list[str]:
    with Store.open(load(config).store_path) as store:
        return [entry.tree for entry in store.journal.entries()]


def test_what_is_noted_in_one_garden_is_not_in_the_other(home: Path) -> None:
    yard = written(home / "yard", PLACE + BENCH + EMBER)
    roof = written(home / "roof", OTHER + BENCH + HEATH)
    assert do(yard, "did", "repot", "Ember").exit_code == 0
    assert do(roof, "did", "repot", "Heath").exit_code == 0
    assert (noted(yard), noted(roof)) == (["Ember"], ["Heath"])
    assert load(yard).store_path.parent == load(roof).store_path.parent


def test_the_database_all_gardens_shared_is_copied_once_by_those_it_knows(home: Path) -> None:
    yard = written(home / "yard", PLACE + BENCH + EMBER)
    roof = written(home / "roof", OTHER + BENCH + HEATH)
    shared = load(yard).store_path.with_name("underbench.db")
    with Store.open(shared) as store:
        store.journal.add([NOTED.model_copy(update={"tree": "Ember"})])
    first = do(yard, "trees")
    assert first.exit_code == 0
    assert "was copied from underbench.db, which stays as it was" in first.stderr
    assert do(yard, "trees").stderr == ""
    assert do(roof, "trees").stderr == ""
    assert (noted(yard), noted(roof)) == (["Ember"], [])
    assert do(yard, "did", "repot", "Ember").exit_code == 0
    assert len(noted(yard)) == 2
    with Store.open(shared) as store:
        assert len(store.journal.entries()) == 1  # the shared one stays as it was


def test_a_database_that_belongs_to_a_garden_is_not_copied_by_its_neighbour(
    garden: Garden,
) -> None:
    garden.note()
    assert garden.do("trees").exit_code == 0  # it belongs to this garden from now on
    text = garden.config.read_text(encoding="utf-8")
    other = garden.config.with_name("other.toml")
    other.write_text(text.replace('path = "underbench.db"', 'path = "other.db"'), encoding="utf-8")
    assert do(other, "trees").stderr == ""
    assert noted(other) == []


def test_a_database_of_another_garden_is_refused(garden: Garden, tmp_path: Path) -> None:
    assert garden.do("trees").exit_code == 0
    text = garden.config.read_text(encoding="utf-8")
    other = tmp_path / "other.toml"
    other.write_text(text.replace('name = "', 'name = "Other ', 1), encoding="utf-8")
    again = f'path = "{garden.database}"'
    other.write_text(
        other.read_text(encoding="utf-8").replace('path = "underbench.db"', again),
        encoding="utf-8",
    )
    for words in (["trees"], ["ahead"], ["alive"]):
        line = fails(do(other, *words), "belongs to the garden", str(garden.config))
        assert "[store]" in line
    assert garden.do("trees").exit_code == 0


def test_a_garden_may_be_renamed_or_moved(garden: Garden) -> None:
    garden.note()
    assert garden.do("trees").exit_code == 0
    text = garden.config.read_text(encoding="utf-8")
    garden.config.write_text(text.replace('name = "', 'name = "New ', 1), encoding="utf-8")
    assert garden.do("trees").exit_code == 0
    moved = garden.config.rename(garden.folder / "moved.toml")
    assert do(moved, "trees").exit_code == 0


def test_a_garden_whose_folder_was_moved_takes_its_database_along(home: Path) -> None:
    yard = written(home / "yard", PLACE + BENCH + EMBER)
    assert do(yard, "did", "repot", "Ember").exit_code == 0
    moved = yard.parent.rename(home / "yard by the mill") / "garden.toml"
    assert "was copied from garden-" in do(moved, "trees").stderr
    assert noted(moved) == ["Ember"]
    assert do(moved, "trees").stderr == ""
    other = written(home / "yard", PLACE + BENCH + EMBER)  # of that name too, while both are there
    assert do(other, "did", "feed", "Ember").exit_code == 0
    assert noted(moved) == ["Ember"]


def test_a_dry_run_makes_no_database_of_the_shared_one(home: Path) -> None:
    yard = written(home / "yard", PLACE + BENCH + EMBER)
    shared = load(yard).store_path.with_name("underbench.db")
    with Store.open(shared) as store:
        store.journal.add([NOTED.model_copy(update={"tree": "Ember"})])
    with open_copy(load(yard)) as copy:
        assert [entry.tree for entry in copy.journal.entries()] == ["Ember"]
    assert not load(yard).store_path.exists()


def test_an_entry_that_cannot_be_read_is_set_aside_and_named(
    garden: Garden, caplog: pytest.LogCaptureFixture
) -> None:
    garden.note()
    garden.note()
    with sqlite3.connect(garden.database) as db:
        db.execute('UPDATE journal SET entry = \'{"kind": "no such"}\' WHERE id = 1')
    db.close()
    assert garden.do("trees").exit_code == 0
    assert garden.do("trees").exit_code == 0
    assert caplog.text.count("journal entry 1 (") == 1
    checked = garden.do("check")
    assert "journal entry 1 (" in checked.stdout
    assert "cannot be read and is left out" in checked.stdout
    with Store.open(garden.database) as store:
        assert store.journal.entries() == [NOTED]
