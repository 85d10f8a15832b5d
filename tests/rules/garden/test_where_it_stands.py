"""Where a tree stands and how it is covered there, by the journal."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from underbench.rules.advice.remedy import COVERED
from underbench.rules.garden.journal import Move, TreeAt, fold
from underbench.rules.physics.cover import CoverKind

NOON = datetime(2024, 1, 9, 12, tzinfo=UTC)
DAY = timedelta(days=1)


def stands(make: Any, *moves: dict[str, Any]) -> TreeAt:
    """Ember, of the top bench, after moves a day apart."""
    noted = [
        Move(tree="Ember", at=NOON + number * DAY, **{"spot": "top bench", **one})
        for number, one in enumerate(moves)
    ]
    return fold(make.tree("Ember"), noted, NOON + len(noted) * DAY)


@pytest.mark.parametrize(
    ("moves", "at_home", "since"),
    [
        ([], True, None),
        ([{"layers": 2}], False, NOON),
        ([{"on_ground": True}], False, NOON),
        ([{"layers": 2}, {}], True, None),  # the cover is off
        ([{"layers": 1}, {"layers": 2}], False, NOON),  # covered all the while
        ([{"spot": "shed"}, {"layers": 1}], False, NOON + DAY),
        ([{"spot": "shed"}, {"spot": "shed", "layers": 1}], False, NOON + DAY),
        ([{"layers": 1}, {"spot": "shed"}], False, NOON + DAY),  # the fleece stays behind
    ],
)
def test_a_tree_is_at_home_where_it_belongs_and_uncovered(
    make: Any, moves: list[dict[str, Any]], at_home: bool, since: datetime | None
) -> None:
    there = stands(make, *moves)
    assert there.at_home is at_home
    assert there.there_since == since


@pytest.mark.parametrize("how", list(COVERED))
def test_a_place_has_the_cover_that_the_remedy_names(make: Any, how: tuple[int, bool]) -> None:
    layers, on_ground = how
    bench = make.place()
    covered = bench.with_cover(layers, on_ground=on_ground)
    fleece = [CoverKind.OPEN, CoverKind.FLEECE_1, CoverKind.FLEECE_2]
    assert covered.cover is fleece[layers]
    assert (covered.height_m == 0.0) is on_ground
    assert (COVERED[how].layers, COVERED[how].on_ground) == how


def test_fleece_in_a_frame_counts_for_nothing(make: Any) -> None:
    frame = replace(make.place(), cover=CoverKind.FRAME_SHUT)
    assert frame.with_cover(2, on_ground=False) == frame
