"""The moss of a layer: it dries by warm days, is told once, and stays wet once it is wetted."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime, timedelta
from typing import Any

import pytest
from commanding import EVENING, Garden, stamp
from hypothesis import given
from hypothesis import strategies as st

from underbench.rules.advice.deadlines import do_by
from underbench.rules.garden.journal import Watering, Work
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards import DRY_MOSS
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.physics import moss

START = datetime(2024, 6, 1, tzinfo=UTC)
DAY = timedelta(days=1)


def days_until(left: float, mean_c: float) -> int:
    now, days = 1.0, 0
    while now > left:
        now, days = float(moss.day_later(now, mean_c)), days + 1
    return days


def test_it_is_looked_at_every_week_or_two_in_summer() -> None:
    """Common practice, no source: about half of its water is gone by then."""
    assert 7 <= days_until(0.5, 20.0) <= 14
    assert days_until(0.5, 2.0) > 30  # it keeps in the cool


@given(left=st.floats(0, 1), cool_c=st.floats(-45, 50), warmer_k=st.floats(0, 30))
def test_a_warmer_day_never_leaves_more(left: float, cool_c: float, warmer_k: float) -> None:
    after, hotter = moss.day_later(left, cool_c), moss.day_later(left, cool_c + warmer_k)
    assert 0.0 <= hotter <= after <= left


def layered(make: Any, *more: Any, days: int) -> list[Finding]:
    """What is found about the layer's moss on the day after ``days`` warm days."""
    started = Work(tree="Ember", at=START, work=WorkKind.START_LAYER)
    trees, journal = [make.tree()], [started, *more]
    before = make.follow(trees, make.weather(START, hours=24 * days, mean_c=22.0), journal)
    today = make.weather(START + days * DAY, hours=24, mean_c=22.0)
    found = make.findings(trees, today, journal, start=before.end)
    return [finding for finding in found if finding.hazard is DRY_MOSS]


def test_dry_moss_is_found_and_wetting_it_ends_that(make: Any) -> None:
    assert layered(make, days=7) == []
    (found,) = layered(make, days=14)
    assert (found.tree, found.strength, found.span.start) == ("Ember", Strength.ACT, START)
    assert 0.0 < found.worst < found.limit.harm
    wetted = Watering(tree="Ember", at=START + 10 * DAY, moss=True)
    assert layered(make, wetted, days=14) == []


def test_a_severed_layer_has_no_moss_to_look_at(make: Any) -> None:
    severed = Work(tree="Ember", at=START + 12 * DAY, work=WorkKind.SEVER_LAYER)
    assert layered(make, severed, days=14) == []


def test_a_can_of_water_does_not_reach_the_moss(make: Any) -> None:
    waterings = [Watering(tree="Ember", at=START + n * DAY) for n in range(14)]
    assert [f.hazard for f in layered(make, *waterings, days=14)] == [DRY_MOSS]


def test_it_is_seen_to_the_next_time_somebody_is_there(make: Any) -> None:
    (found,) = layered(make, days=14)
    now = START + 14 * DAY  # a Saturday, 02:00 in the garden
    by, in_hand = do_by(found, make.garden, make.hands_on, now)
    assert (by, in_hand) == (datetime(2024, 6, 15, 19, tzinfo=UTC), True)
    gone = make.away(date(2024, 6, 15), date(2024, 6, 20))
    assert do_by(found, make.garden, gone, now) == (now + 2 * DAY, False)


@pytest.mark.parametrize("day", ["2023-06-01", "2024-03-06"])
def test_moss_forgotten_for_months_is_told_and_wetting_it_ends_that(
    garden: Garden, day: str
) -> None:
    """Before the record or within it: a span that had run out broke every pass once."""
    garden.do("did", "start-layer", "Ember", "--on", day)
    told = garden.do("once", "--dry-run", "--at", stamp(EVENING))
    assert told.exit_code == 0, told.output
    line = next(one for one in told.stdout.splitlines() if one.startswith("Moss"))
    moss = r"Moss of a layer drying out: Ember, (under )?\d+% of the water left in it; chance .+\."
    assert re.fullmatch(moss, line)
    assert "Covers off" not in told.stdout.split("WET THE MOSS")[1]
    assert "Wet the moss of the layer through" in told.stdout
    garden.do("watered", "Ember", "--moss", "--on", "2024-04-22")
    assert "Moss" not in garden.do("once", "--dry-run", "--at", stamp(EVENING)).stdout
