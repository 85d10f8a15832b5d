"""A spring: aftercare opens with its work and closes when a grower would expect.

The weather is invented, like that of a lowland garden at 46° N: a mean of 0 °C in January and 20 °C
in July. The dates are common practice, no source. A spring repot has taken by about the end of May.
A sighting outlasts its year: the next spring is the earlier. What is guarded through winters stands
in ``test_aftercare.py``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from underbench.rules.course.course import Course
from underbench.rules.garden.journal import Stage, Work
from underbench.rules.garden.works import WorkKind
from underbench.rules.limits.aftercare import Aftercare
from underbench.rules.physics.state import State

DAYS = 90
Year = dict[date, tuple[Any, ...]]


def spring(
    make: Any,
    year: int,
    trees: Sequence[Any],
    works: Sequence[Any] = (),
    start: State | None = None,
) -> Course:
    """Trees from 15 March to the middle of June."""
    days = np.arange(24 * DAYS) / 24 + 58  # since the coldest day
    mean_c = 10.0 - 10.0 * np.cos(days / 365.25 * 2 * np.pi)
    weather = make.weather(datetime(year, 3, 15, tzinfo=UTC), len(days), mean_c=mean_c, cloud=0.7)
    found: Course = make.follow(trees, weather, works, start=start)
    return found


@pytest.fixture(scope="module")
def course(make: Any) -> Course:
    trees = [make.tree(name) for name in ("Repotted", "Heavily cut", "Early", "Usual")]
    works = [
        work("Repotted", WorkKind.REPOT, (2025, 3, 20)),
        work("Heavily cut", WorkKind.REPOT, (2025, 3, 20), 60),
        make.seen("Early", datetime(2025, 4, 4, tzinfo=UTC), Stage.LEAFING_OUT),
    ]
    return spring(make, 2025, trees, works)


@pytest.fixture(scope="module")
def year(course: Course) -> Year:
    return dict(course.conditions)


def work(
    tree: str, kind: WorkKind, day: tuple[int, int, int], roots_pct: float | None = None
) -> Work:
    return Work(tree=tree, at=datetime(*day, 9, tzinfo=UTC), work=kind, roots_pct=roots_pct)


def care(year: Year, row: int, day: date) -> Aftercare:
    known: Aftercare = year[day][row].aftercare
    return known


def closes(year: Year, row: int, part: str, since: date) -> date:
    day = since
    while getattr(care(year, row, day), part) is not None:
        day += timedelta(days=1)
    return day


def test_a_spring_repot_has_taken_by_the_end_of_may(year: Year) -> None:
    done = date(2025, 3, 21)
    assert care(year, 0, done - timedelta(days=2)) == Aftercare()
    assert care(year, 0, done).floor_c == -1.0
    assert date(2025, 5, 1) < closes(year, 0, "roots", done) < date(2025, 6, 10)
    assert closes(year, 0, "shelter", done) == date(2025, 4, 18)  # four weeks, whatever the weather


def test_a_heavy_cut_takes_weeks_longer(year: Year) -> None:
    done = date(2025, 3, 21)
    later = closes(year, 1, "roots", done) - closes(year, 0, "roots", done)
    assert timedelta(weeks=1) <= later <= timedelta(weeks=5)
    assert care(year, 1, done).floor_c == 0.0


def test_a_sighting_this_year_opens_the_buds_sooner_next_year(make: Any, course: Course) -> None:
    """Two trees are alike, but Early was seen in leaf while its kind still slept."""
    early, usual = course.end.pace.tolist()[-2:]
    assert early < 0.95
    assert usual == 1.0
    trees = [make.tree(name) for name in ("Early", "Usual")]
    learnt = replace(make.begin(trees, 4.0), pace=course.end.pace[-2:])
    after = spring(make, 2026, trees, start=learnt).conditions
    opened = [
        next(day for day, facts in after.items() if facts[row].stage is Stage.LEAFING_OUT)
        for row in (0, 1)
    ]
    assert 1 <= (opened[1] - opened[0]).days <= 30
