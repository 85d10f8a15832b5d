"""Where a tree stands and how it is covered there, by the journal."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from underbench.rules.advice.remedy import COVERED
from underbench.rules.garden.journal import Move, TreeAt, Work, fold
from underbench.rules.garden.works import WorkKind
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


SHED, CLOTH, TIED, FLEECE = {"spot": "shed"}, {"cloth": True}, {"tied": True}, {"layers": 1}


@pytest.mark.parametrize(
    ("moves", "cloth", "tied", "layers"),
    [
        ([CLOTH], True, False, 0),
        ([TIED], False, True, 0),
        ([CLOTH, TIED], True, True, 0),
        ([FLEECE, TIED], False, True, 1),  # the fleece stays on
        ([FLEECE, CLOTH], True, False, 1),
        ([TIED, FLEECE], False, True, 1),
        ([TIED, FLEECE, {}], False, True, 0),  # covers come off, straps stay
        ([CLOTH, {}], False, False, 0),
        ([TIED, {"on_ground": True}], False, False, 0),  # it was set down
        ([TIED, SHED], False, False, 0),
        ([TIED, SHED, {}], False, False, 0),  # back home it stands loose
        ([CLOTH, SHED, {}], False, False, 0),
    ],
)
def test_straps_and_cloth_stay_until_the_tree_is_carried_off(
    make: Any, moves: list[dict[str, Any]], cloth: bool, tied: bool, layers: int
) -> None:
    there = stands(make, *moves)
    assert (there.cloth, there.tree.container.tied, there.layers) == (cloth, tied, layers)


def test_straps_do_not_hold_a_new_pot(make: Any) -> None:
    tied = Move(tree="Ember", at=NOON, spot="top bench", tied=True)
    pot = make.container(litres=2.0)
    slipped = Work(tree="Ember", at=NOON + DAY, work=WorkKind.SLIP_POT, into=pot)
    assert not fold(make.tree("Ember"), [tied, slipped], NOON + 2 * DAY).tree.container.tied


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
