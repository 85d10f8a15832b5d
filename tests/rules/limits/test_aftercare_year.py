"""A whole year: aftercare opens with its work and closes when a grower would expect.

The weather is invented, like that of a lowland garden at 46° N: a mean of 0 °C in January and 20 °C
in July. The dates are common practice, no source. A spring repot has taken by about the end of May.
A layer severed in August is guarded until the next summer, a collected pine through a second
winter. A sighting outlasts its year: the next spring is the earlier.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from underbench.rules.course.course import Course
from underbench.rules.garden.journal import Stage, Work
from underbench.rules.garden.works import WorkKind
from underbench.rules.limits.aftercare import Aftercare

START = datetime(2025, 1, 1, tzinfo=UTC)
DAYS = 640
Year = dict[date, tuple[Any, ...]]


@pytest.fixture(scope="module")
def course(make: Any) -> Course:
    hours = np.arange(24 * DAYS)
    mean_c = 10.0 - 10.0 * np.cos((hours / 24 - 15) / 365.25 * 2 * np.pi)
    trees = [
        make.tree("Repotted"),
        make.tree("Severed"),
        make.tree("Collected", "Pinus sylvestris"),
        make.tree("Heavily cut"),
        make.tree("Early"),
        make.tree("Usual"),
    ]
    works = [
        work("Repotted", WorkKind.REPOT, (2025, 3, 20)),
        work("Severed", WorkKind.SEVER_LAYER, (2025, 8, 1)),
        work("Collected", WorkKind.COLLECT, (2025, 4, 1)),
        work("Heavily cut", WorkKind.REPOT, (2025, 3, 20), 60),
        make.seen("Early", datetime(2025, 4, 4, tzinfo=UTC), Stage.LEAFING_OUT),
    ]
    weather = make.weather(START, hours=len(hours), mean_c=mean_c, cloud=0.7)
    found: Course = make.follow(trees, weather, works)
    return found


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
    later = closes(year, 3, "roots", done) - closes(year, 0, "roots", done)
    assert timedelta(weeks=1) <= later <= timedelta(weeks=5)
    assert care(year, 3, done).floor_c == 0.0


def test_a_layer_severed_in_august_is_guarded_through_its_first_winter(year: Year) -> None:
    assert care(year, 1, date(2025, 8, 15)).floor_c == 0.0
    assert care(year, 1, date(2026, 1, 15)).floor_c == -2.0
    assert date(2026, 7, 31) <= closes(year, 1, "roots", date(2026, 1, 15)) <= date(2026, 8, 3)


def test_a_collected_pine_is_guarded_through_a_second_winter(year: Year) -> None:
    assert care(year, 2, date(2025, 5, 1)).floor_c == 0.0
    assert care(year, 2, date(2026, 1, 15)).floor_c == -2.0
    assert care(year, 2, date(2026, 9, 20)).floor_c == -2.0


def test_a_sighting_this_year_opens_the_buds_sooner_next_year(course: Course, year: Year) -> None:
    """Two trees are alike, but Early was seen in leaf while its kind still slept."""
    early, usual = course.end.pace.tolist()[-2:]
    assert early < 0.95
    assert usual == 1.0
    spring = {day: facts for day, facts in year.items() if day.year == 2026}
    opened = [
        next(day for day, facts in spring.items() if facts[row].stage is Stage.LEAFING_OUT)
        for row in (-2, -1)
    ]
    assert 1 <= (opened[1] - opened[0]).days <= 30
