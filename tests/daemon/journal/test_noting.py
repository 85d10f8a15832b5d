"""Noting moves: which trees, where they go, and which told jobs that takes back."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from garden_toml import BENCH, HANDS_ON, PLACE
from told_rows import HOUR, NOW, told

from underbench.daemon.commands.cli import main
from underbench.daemon.config.settings import Settings, load
from underbench.daemon.journal.noting import note_move, spot_at_the_end, trees_named
from underbench.daemon.store.store import Store
from underbench.rules.garden.inventory import SpotKind
from underbench.rules.garden.journal import Move

SPOTS = """
[[spot]]
name = "bench"
kind = "bench"

[[spot]]
name = "front room"
kind = "indoors"
"""
TREES = "".join(
    f'[[tree]]\nname = "{name}"\nspecies = "Acer palmatum"\nlitres = 4\nspot = "top bench"\n'
    for name in ("Ember", "Plume", "Old Heath")
)
GARDEN = PLACE + HANDS_ON + BENCH + SPOTS + TREES
Do = Callable[..., Result]


@pytest.fixture
def settings(tmp_path: Path) -> Settings:
    config = tmp_path / "garden.toml"
    config.write_text(GARDEN, encoding="utf-8")
    return load(config, {"UNDERBENCH_STORE__PATH": "underbench.db"})


@pytest.fixture
def store(settings: Settings) -> Iterator[Store]:
    with Store.open(settings.store_path) as opened:
        yield opened


@pytest.fixture
def do(tmp_path: Path, settings: Settings) -> Do:
    def run(*words: str) -> Result:
        env = {"UNDERBENCH_STORE__PATH": "underbench.db"}
        config = str(tmp_path / "garden.toml")
        return CliRunner().invoke(main, ["--config", config, *words], env=env)

    return run


@pytest.mark.parametrize(
    ("words", "trees", "spot"),
    [
        ("Ember Plume top bench", ["Ember", "Plume"], "top bench"),
        ("Ember TOP Bench", ["Ember"], "TOP Bench"),
        ("Ember bench", ["Ember"], "bench"),
        ("Ember home", ["Ember"], "home"),
        ("Ember Plume nowhere", ["Ember", "Plume"], "nowhere"),
        ("bench", [], "bench"),
    ],
)
def test_a_spot_may_be_of_several_words(
    settings: Settings, words: str, trees: list[str], spot: str
) -> None:
    names, found = spot_at_the_end(settings, words.split())
    assert (list(names), found) == (trees, spot)


def test_trees_are_moved_to_a_spot_of_two_words_without_quotes(do: Do, store: Store) -> None:
    said = do("moved", "ember", "plume", "top", "bench")
    assert (said.exit_code, said.stdout) == (0, "Noted: Ember and Plume moved to top bench.\n")
    moves = store.journal.entries(datetime.now(UTC))
    assert [(m.tree, m.spot) for m in moves if isinstance(m, Move)] == [
        ("Ember", "top bench"),
        ("Plume", "top bench"),
    ]


@pytest.mark.parametrize("words", [("Old Heath", "front room"), ("Old Heath", "front", "room")])
def test_with_quotes_it_is_the_same(do: Do, words: tuple[str, ...]) -> None:
    assert do("moved", *words).stdout == "Noted: Old Heath moved to front room.\n"


@pytest.mark.parametrize("words", [("bench",), ("top bench",)])
def test_a_spot_without_a_tree_is_asked_for_one(do: Do, words: tuple[str, ...]) -> None:
    said = do("moved", *words)
    assert said.exit_code == 2
    assert "name one tree or more, and then the spot" in said.stderr


def test_a_spot_that_is_not_there_is_named(do: Do) -> None:
    said = do("moved", "Ember", "top", "bnech")
    assert said.exit_code == 2
    assert "Traceback" not in said.stderr


def test_a_room_takes_trees_in(settings: Settings) -> None:
    room = settings.spots["front room"]
    assert room.kind is SpotKind.INDOORS
    assert room.room


# What was told of a night ahead


@pytest.mark.parametrize(
    ("spot", "untold"),
    [("home", {"Ember"}), ("Top Bench", {"Ember"}), ("bench", set()), ("front room", set())],
)
def test_only_going_home_takes_back_what_was_told_and_only_of_what_lies_ahead(
    settings: Settings, store: Store, spot: str, untold: set[str]
) -> None:
    ahead, over = NOW + 19 * HOUR, NOW - HOUR
    store.episodes.put([told("Ember", ahead), told("Ember", over), told("Plume", ahead)])
    note_move(store, settings, trees_named(settings, ["Ember"]), spot, NOW)
    rows = store.episodes.since(NOW - 30 * HOUR)
    assert {row.tree for row in rows if row.told_at is None} == untold
    assert all(row.told_at for row in rows if row.span_end == over)


def test_a_night_that_has_been_stays_told_when_trees_go_home_in_the_morning(
    settings: Settings, store: Store
) -> None:
    """Otherwise nobody would be asked how they came through. The night's span lasts until noon."""
    store.episodes.put([told("Ember", told_strength="danger")])
    note_move(store, settings, trees_named(settings, ["Ember"]), "home", NOW + 16 * HOUR)
    assert [row.told_strength for row in store.episodes.since(NOW)] == ["danger"]
