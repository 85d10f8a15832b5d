"""The garden's file changed by program: only what was meant, checked, and with a copy kept."""

from __future__ import annotations

import os
import tempfile
import tomllib
from pathlib import Path

import pytest
from commanding import not_root

from underbench.daemon.config.reloading import Reloading
from underbench.daemon.faults import Fault
from underbench.daemon.journal import garden_edit
from underbench.daemon.journal.garden_edit import Refused, add, change, seen, written

FILE = """# Orchard End, kept since 2019

[garden]
name = "Orchard End"   # the old name
latitude = 46.05
longitude = 14.51
elevation_m = 300
timezone = "Europe/Ljubljana"

[[spot]]
name = "top bench"
kind = "bench"
sky_view = 0.6      # measured

[[tree]]
name = "Ember"
species = "Acer palmatum"
litres = 4          # by water
spot = "top bench"

  [tree.limits]
  root_frost_c = -2   # lost a branch at -3

[[watering]]
times = ["07:00"]

[[tree]]
name = "Heath"      # from the moor
species = 'Pinus sylvestris'
litres = 9
spot = "top bench"
# the end
"""


@pytest.fixture
def path(file: Path) -> Path:
    file.write_text(FILE, encoding="utf-8")
    return file


def test_a_change_touches_its_line_and_nothing_else(path: Path) -> None:
    settings = change(path, "tree", "heath", {"litres": 12, "tied": True}, seen(path))
    assert {tree.name: tree.container.litres for tree in settings.trees}["Heath"] == 12
    lines = path.read_text(encoding="utf-8").splitlines()
    old = FILE.splitlines()
    assert [line for line in lines if line not in old] == ["litres = 12", "tied = true"]
    assert [line for line in old if line not in lines] == ["litres = 9"]


def test_a_comment_on_the_line_changed_stays(path: Path) -> None:
    change(path, "tree", "Ember", {"litres": 5.5}, seen(path))
    assert "litres = 5.5          # by water\n" in path.read_text(encoding="utf-8")
    change(path, "spot", "top bench", {"sky_view": 0.7}, seen(path))
    assert "sky_view = 0.7      # measured\n" in path.read_text(encoding="utf-8")


def test_a_key_is_taken_out_and_what_is_the_same_is_left(path: Path) -> None:
    change(path, "spot", "top bench", {"sky_view": None, "kind": "bench"}, seen(path))
    assert path.read_text(encoding="utf-8") == FILE.replace("sky_view = 0.6      # measured\n", "")


def test_a_change_that_changes_nothing_writes_nothing(path: Path) -> None:
    change(path, "tree", "Ember", {"litres": 4, "cultivar": None}, seen(path))
    assert path.read_text(encoding="utf-8") == FILE
    assert sorted(p.name for p in path.parent.iterdir()) == ["garden.toml"]


def test_a_tree_is_added_at_the_end(path: Path) -> None:
    values = {"name": 'Quill "Q"', "species": "Acer palmatum", "litres": 3, "spot": "top bench"}
    settings = add(path, "tree", {**values, "cultivar": None}, seen(path))
    assert [tree.name for tree in settings.trees] == ["Ember", "Heath", 'Quill "Q"']
    text = path.read_text(encoding="utf-8")
    assert text.startswith(FILE)
    assert tomllib.loads(text)["tree"][2] == values


def test_what_would_not_load_is_refused_in_the_loaders_words(path: Path) -> None:
    values = {"name": "Quill", "species": "Acer palmatun", "litres": -1, "spot": "top bench"}
    with pytest.raises(Refused) as refused:
        add(path, "tree", values, seen(path))
    assert set(refused.value.by_field) == {"species", "litres"}
    assert "did you mean 'Acer palmatum' or" in refused.value.by_field["species"]
    assert refused.value.by_field["litres"].startswith("expected more than 0")
    assert str(path) in str(refused.value)
    assert ".new" not in str(refused.value)
    assert path.read_text(encoding="utf-8") == FILE
    assert sorted(p.name for p in path.parent.iterdir()) == ["garden.toml"]


def test_a_name_twice_is_refused_beside_the_name(path: Path) -> None:
    values = {"name": "ember", "species": "Acer palmatum", "litres": 1, "spot": "top bench"}
    with pytest.raises(Refused) as refused:
        add(path, "tree", values, seen(path))
    assert "has this name already" in refused.value.by_field["name"]


def test_five_copies_are_kept_the_newest_first(path: Path) -> None:
    os.chmod(path, 0o640)
    texts = []
    for litres in range(10, 17):
        texts.insert(0, path.read_text(encoding="utf-8"))
        change(path, "tree", "Heath", {"litres": litres}, seen(path))
    kept = [path.with_name(f"garden.toml.{n}") for n in range(1, 6)]
    assert [copy.read_text(encoding="utf-8") for copy in kept] == texts[:5]
    assert sorted(path.parent.iterdir()) == [path, *kept]
    assert path.stat().st_mode & 0o777 == 0o640


def test_a_file_changed_by_hand_meanwhile_is_not_written_over(path: Path) -> None:
    shown = seen(path)
    path.write_text(FILE + "# a note by hand\n", encoding="utf-8")
    with pytest.raises(Fault, match="has changed since it was shown"):
        change(path, "tree", "Ember", {"litres": 5}, shown)
    assert path.read_text(encoding="utf-8").endswith("# a note by hand\n")


def test_a_link_is_not_replaced_by_a_file(path: Path, tmp_path: Path) -> None:
    real = tmp_path / "real.toml"
    path.rename(real)
    path.symlink_to(real)
    with pytest.raises(Fault, match="is a link to another file"):
        change(path, "tree", "Ember", {"litres": 5}, seen(path))
    assert path.is_symlink()


@pytest.mark.parametrize(
    ("folder_mode", "file_mode", "said"),
    [(0o777, 0o444, "read-only"), (0o555, 0o666, "cannot be written: Permission denied")],
)
def test_a_file_that_may_not_be_written_is_said(
    folder_mode: int, file_mode: int, said: str
) -> None:
    with tempfile.TemporaryDirectory() as folder:  # pytest's own are shut to others
        path = Path(folder) / "garden.toml"
        path.write_text(FILE, encoding="utf-8")
        path.chmod(file_mode)
        Path(folder).chmod(folder_mode)
        with not_root(), pytest.raises(Fault, match=said):
            change(path, "tree", "Ember", {"litres": 5}, seen(path))


def test_windows_line_ends_stay(path: Path) -> None:
    path.write_bytes(FILE.replace("\n", "\r\n").encode())
    change(path, "tree", "Heath", {"litres": 12}, seen(path))
    raw = path.read_bytes()
    assert raw == FILE.replace("litres = 9", "litres = 12").replace("\n", "\r\n").encode()


def test_what_is_written_is_shown_as_written(path: Path) -> None:
    assert written(path, "spot", "TOP bench")["sky_view"] == 0.6
    with pytest.raises(Fault, match="no tree called 'Embre'"):
        written(path, "tree", "Embre")
    assert garden_edit.MOST_COPIES == 5


# A program that goes on while the file changes


def test_a_changed_file_is_taken_up_and_a_bad_one_is_not(path: Path) -> None:
    garden = Reloading(path)
    first = garden.settings()
    assert garden.settings() is first
    change(path, "tree", "Heath", {"litres": 12}, seen(path))
    assert garden.settings().trees[1].container.litres == 12
    path.write_text(FILE + "litre = 3\n", encoding="utf-8")
    assert garden.settings().trees[1].container.litres == 12
    assert "did you mean 'litres'?" in str(garden.problem())
    path.write_text(FILE, encoding="utf-8")
    assert garden.problem() is None
    assert garden.settings().trees[1].container.litres == 9
    path.unlink()
    assert "no such file" in str(garden.problem())
    assert len(garden.settings().trees) == 2
