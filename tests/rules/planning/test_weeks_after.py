"""What to expect after a work, week by week. Common practice, no source."""

from __future__ import annotations

from datetime import UTC, datetime

import pytest

from underbench.rules.garden.journal import Work
from underbench.rules.garden.works import WorkKind, works_that
from underbench.rules.limits.aftercare import care_of
from underbench.rules.planning.weeks_after import Phase, now_and_next, phases_after
from underbench.rules.plants.species import Kind

MAPLE, PINE = Kind.BROADLEAF_DECIDUOUS, Kind.CONIFER_EVERGREEN
AT = datetime(2026, 3, 14, 10, tzinfo=UTC)


def after(kind: WorkKind, plant: Kind = MAPLE, roots_pct: float | None = None) -> tuple[Phase, ...]:
    return phases_after(Work(tree="Ember", at=AT, work=kind, roots_pct=roots_pct), plant)


def words(phases: tuple[Phase, ...]) -> str:
    return " ".join(one.words for one in phases)


@pytest.mark.parametrize("kind", works_that(lambda does: does.planned or does.care is not None))
@pytest.mark.parametrize("plant", [MAPLE, PINE])
def test_each_larger_work_has_its_weeks(kind: WorkKind, plant: Kind) -> None:
    phases = after(kind, plant)
    assert phases
    assert all(1 <= one.first <= one.last <= 52 for one in phases)
    assert [one.first for one in phases] == sorted(one.first for one in phases)


@pytest.mark.parametrize("kind", [WorkKind.FEED, WorkKind.UNWIRE, WorkKind.CHECK])
def test_small_works_have_none(kind: WorkKind) -> None:
    assert after(kind) == ()


@pytest.mark.parametrize(("roots_pct", "weeks"), [(None, 4), (25.0, 4), (40.0, 8)])
def test_the_floor_and_its_weeks_are_those_of_the_work(roots_pct: float | None, weeks: int) -> None:
    (floor,) = (one for one in after(WorkKind.REPOT, MAPLE, roots_pct) if one.floor_c is not None)
    care = care_of(Work(tree="Ember", at=AT, work=WorkKind.REPOT, roots_pct=roots_pct))
    assert care is not None
    assert (floor.last, floor.floor_c) == (weeks, care.root_floor_c)


@pytest.mark.parametrize(
    ("kind", "plant", "said", "unsaid"),
    [
        (WorkKind.DEFOLIATE, MAPLE, "Full light", "Out of strong sun"),
        (WorkKind.REPOT, PINE, "Mist the needles", "once it is in leaf"),
        (WorkKind.REPOT, MAPLE, "once it is in leaf", "Mist the needles"),
        (WorkKind.CHOP, Kind.CONIFER_DECIDUOUS, "above a live branch", "Mist"),
        (WorkKind.CHOP, MAPLE, "Buds show on the trunk", "above a live branch"),
        (WorkKind.COLLECT, PINE, "first winter free of frost", "Seal"),
    ],
)
def test_what_is_said_fits_the_plant(kind: WorkKind, plant: Kind, said: str, unsaid: str) -> None:
    assert said in words(after(kind, plant))
    assert unsaid not in words(after(kind, plant))


def test_only_this_week_and_the_next_are_shown() -> None:
    phases = after(WorkKind.DEFOLIATE)
    assert [one.first for one in now_and_next(phases, 2)] == [1, 3]
    assert [one.first for one in now_and_next(phases, 6)] == [5]
    assert now_and_next(phases, 20) == ()
