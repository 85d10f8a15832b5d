"""Told jobs as lists to carry by: their order, their words, what is done of them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from garden_toml import PLACE
from settings_toml import loaded
from told_rows import DAY, HOUR, NIGHT_ENDS, NOW, told

from underbench.daemon.page.carry import Carry, carries
from underbench.daemon.store.episodes import EpisodeRow
from underbench.daemon.wording.units import Units
from underbench.daemon.wording.vocabulary import Teller
from underbench.rules.garden.journal import Move, fold

SPOTS = "".join(
    f'\n[[spot]]\nname = "{name}"\nkind = "{kind}"\n'
    for name, kind in (("top bench", "bench"), ("shelf", "shelf"), ("shed", "shed"))
)
TREES = "".join(
    f'\n[[tree]]\nname = "{name}"\nspecies = "Acer palmatum"\nlitres = {litres}\nspot = "{spot}"\n'
    for name, litres, spot in (
        ("Ember", 4, "top bench"),
        ("Argo", 60, "top bench"),
        ("Wren", 2, "shelf"),
        ("Lane", 8, "top bench"),
    )
)
TELLER = Teller("Europe/Ljubljana", Units("metric"))
SHED: dict[str, Any] = {"remedy": "into-spot", "into_spot": "shed"}


def jobs(
    rows: Iterable[EpisodeRow],
    about: Sequence[Mapping[str, Any]] = (),
    moves: Sequence[Move] = (),
    now: Any = NOW,
) -> list[Carry]:
    with TemporaryDirectory() as folder:
        settings = loaded(Path(folder) / "garden.toml", PLACE + SPOTS + TREES)
    standing = [fold(tree, moves, now) for tree in settings.trees]
    return carries(rows, standing, settings, now, (), about)


def walked(job: Carry) -> list[tuple[str, list[list[str]]]]:
    """Where to, and the trees of each bench."""
    spots = ["top bench", "shelf", "shed"]
    return [(words, [[one.tree for one in g] for g in own]) for words, own in job.ways(spots)]


def test_one_goes_bench_by_bench_and_heavy_pots_come_last() -> None:
    names = ("Lane", "Wren", "Argo", "Ember")
    (job,) = jobs([told(name, **SHED) for name in names])
    assert walked(job) == [
        ("Into the shed", [["Ember", "Lane"], ["Wren"]]),
        ("Last, with two people: into the shed", [["Argo"]]),
    ]
    assert job.title(TELLER, NOW) == "BRING 4 trees into the shed by 20:00"
    assert [load.whence for load in job.loads][:1] == ["from the top bench"]
    by_name = {load.tree: load for load in job.loads}
    assert by_name["Argo"].last
    assert int(by_name["Argo"].weighs.removesuffix(" kg")) > 60
    assert int(by_name["Wren"].weighs.removesuffix(" kg")) < 5


def test_jobs_of_one_deadline_are_one_and_danger_stands_first() -> None:
    sooner, later = NIGHT_ENDS - 18 * HOUR, NIGHT_ENDS - 16 * HOUR
    rows = [
        told("Ember", told_do_by=sooner),
        told("Wren", told_do_by=later, **SHED),
        told("Lane", told_do_by=later, told_strength="danger", remedy="fleece-1"),
    ]
    first, second = jobs(rows)
    assert (first.danger, second.danger) == (True, False)
    assert first.title(TELLER, NOW) == "PROTECT 2 trees by 20:00: shed 1, cover 1"
    assert walked(second)[0][1] == [["Ember"]]


def test_what_is_done_goes_behind_and_what_was_done_before_it_was_told_is_no_job() -> None:
    done = told("Ember", handled_at=NOW, **SHED)
    before = replace(done, tree="Lane", handled_at=NOW - 2 * HOUR)
    move = Move(tree="Ember", at=NOW, spot="shed")
    first, gone = jobs([told("Wren", told_do_by=NIGHT_ENDS), done, before], moves=[move])
    assert [load.tree for load in first.loads] == ["Wren"]
    assert [one.trees for one in gone.done] == [("Ember",)]
    assert gone.loads == ()
    assert len(jobs([told("Wren"), done], now=NOW + DAY)) == 0  # the night is over


def test_trees_that_stay_have_no_deadline() -> None:
    back = NIGHT_ENDS - 4 * HOUR
    rows = [told(name, remedy="stay", back_at=back) for name in ("Ember", "Lane")]
    (job,) = jobs(rows, now=NIGHT_ENDS - 10 * HOUR)
    assert not job.late(NIGHT_ENDS - 10 * HOUR)
    assert job.title(TELLER, NOW) == "LEAVE IN 2 trees until 08:00 tomorrow"


def test_the_last_word_on_each_tree_is_shown_once() -> None:
    both = {"action": "protect", "trees": ["Ember", "Wren"]}
    about = [
        both | {"lines": ["Old."]},
        both | {"lines": ["By 20:00 today."]},
        {"action": "water", "trees": ["Ember"], "lines": ["Dry."]},
    ]
    (job,) = jobs([told("Ember"), told("Wren"), told("Lane")], about)
    assert job.about == ("By 20:00 today.",)
    assert job.what == "Frost"
