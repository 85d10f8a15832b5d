"""Hardiness of tops: cold deepens it, warmth fades it; frost on moving sap; both hemispheres."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underbench.rules.garden.journal import Stage
from underbench.rules.hazards import LEAF_FROST, MOVING_SAP, ROOT_FROST
from underbench.rules.hazards.findings import Finding
from underbench.rules.hazards.hazard import Hazard
from underbench.rules.plants.hardening import (
    FULL_K,
    Hardens,
    advance_faded,
    sap_moves,
    usual_faded,
)
from underbench.rules.plants.stages import RESTED_CHILL_DAYS

NORTH, SOUTH = 51.0, -38.0
DAY = timedelta(days=1)
FEBRUARY, MARCH = date(2026, 2, 1), date(2026, 3, 1)


def through(
    faded: float,
    means_c: Sequence[float],
    chill_days: float,
    first: date = FEBRUARY,
    latitude: float = NORTH,
    hardens: Hardens = Hardens.LATE,
) -> float:
    share, like = np.array([faded]), np.array([hardens])
    for ahead, mean_c in enumerate(means_c):
        chill, mean = np.array([chill_days]), np.array([mean_c])
        share = advance_faded(share, mean, chill, first + ahead * DAY, latitude, like)
    return float(share[0])


def winter_means(first: date, days: int) -> list[float]:
    """Means that swing between 17 °C in July and -1 in January."""
    of_year = [(first + n * DAY).timetuple().tm_yday for n in range(days)]
    return [8.0 - 9.0 * float(np.cos(2 * np.pi * (day - 15) / 365)) for day in of_year]


# Deaths of half the buds, °C: means of the days round the first of a month, read off the series
# that `tests/bench/hardening.py` names, with the days' own temperatures there. Vines: mean of
# 'Merlot', 'Riesling' and 'Chardonnay' at Prosser; cherries: of 'Lapins' and 'Sweetheart' at
# Summerland.
MEASURED: dict[Hardens, list[tuple[date, float, float]]] = {
    Hardens.LATE: [
        (date(2025, 11, 1), 8.9, -15.6),
        (date(2025, 12, 1), 2.9, -22.3),
        (date(2026, 1, 1), -0.2, -23.9),
        (date(2026, 2, 1), 1.9, -23.1),
        (date(2026, 3, 1), 3.7, -21.2),
        (date(2026, 4, 1), 7.8, -13.7),
    ],
    Hardens.EARLY: [
        (date(2025, 11, 1), 8.1, -10.7),
        (date(2025, 12, 1), -0.1, -16.7),
        (date(2026, 1, 1), -3.2, -19.8),
        (date(2026, 2, 1), 0.0, -17.7),
        (date(2026, 3, 1), 2.2, -12.7),
        (date(2026, 4, 1), 7.9, -5.9),
    ],
}


@pytest.mark.parametrize("hardens", [Hardens.LATE, Hardens.EARLY])
def test_months_fall_where_buds_were_measured(hardens: Hardens) -> None:
    """Fitted to these; a slip in a figure or its date would show."""
    hardiest_c, range_k = {Hardens.LATE: (-25.1, 23.9), Hardens.EARLY: (-18.5, 12.5)}[hardens]
    for day, mean_c, dies_c in MEASURED[hardens]:
        share = through(0.5, [mean_c] * 60, 60.0, day - 59 * DAY, hardens=hardens)
        assert hardiest_c + range_k * share == pytest.approx(dies_c, abs=2.0), day


def test_a_usual_autumn_hardens_by_midwinter() -> None:
    """Lindström & Stattin 1994 (abstract): tender in October, hardiest in January."""
    autumn = date(2025, 9, 1)
    for like in Hardens:
        by_month = [
            through(0.9, winter_means(autumn, days), 0.0, autumn, hardens=like)
            for days in (45, 91, 135)
        ]
        assert by_month == sorted(by_month, reverse=True), like
        assert by_month[0] > 0.35
        assert by_month[-1] < 0.12


def test_a_warm_autumn_leaves_trees_tenderer_than_a_cold_one() -> None:
    for like in Hardens:
        warm, cold = (
            through(0.6, [mean_c] * 90, 0.0, date(2025, 9, 1), hardens=like)
            for mean_c in (11.0, 4.0)
        )
        assert warm > cold


def test_conifers_harden_by_cold_and_by_night() -> None:
    """Leinonen 1996, from memory: 18.5 K of night at 16 h, and 47 K of cold between 10 and -16 °C;
    Smit-Spinks 1985 (second hand): short days alone take Scots pine to -22 °C, with cold to -40."""
    november, conifer = date(2025, 11, 25), Hardens.CONIFER
    short, cold = (
        through(1.0, [c] * 120, 0.0, november - 119 * DAY, 60.0, conifer) for c in (12.0, -1.0)
    )
    assert -4.5 - FULL_K * (1.0 - short) == pytest.approx(-22.0, abs=2.0)
    assert -4.5 - FULL_K * (1.0 - cold) == pytest.approx(-40.0, abs=4.0)


def test_a_warm_fortnight_costs_hardiness_only_once_rest_is_over() -> None:
    """Deacclimation waits for chill: Kovaleski's Ψ rises from 0 to 1 with it (hardiness research
    §5.5)."""
    fortnight = [10.0] * 14
    resting, rested = (through(0.1, fortnight, c) for c in (RESTED_CHILL_DAYS - 1, 80.0))
    assert rested > resting + 0.05


def test_cold_after_it_wins_some_back() -> None:
    faded = through(0.05, [10.0] * 14, 80.0)
    assert 0.05 < through(faded, [0.0] * 14, 80.0) < faded


@given(
    faded=st.floats(0, 1),
    mean_c=st.floats(-40, 40),
    warmer_k=st.floats(0, 20),
    chill=st.floats(0, 150),
    day=st.dates(date(2025, 1, 1), date(2026, 12, 31)),
    like=st.sampled_from(Hardens),
)
def test_bounds_and_order(
    faded: float, mean_c: float, warmer_k: float, chill: float, day: date, like: Hardens
) -> None:
    less, more = (
        through(faded, [c], chill, day, hardens=like) for c in (mean_c, mean_c + warmer_k)
    )
    assert 0 <= less <= more <= 1


@given(month=st.integers(1, 12), day=st.integers(1, 28), mean_c=st.floats(-20, 25))
def test_the_south_is_half_a_year_later(month: int, day: int, mean_c: float) -> None:
    north, south = date(2026, month, day), date(2026 + (month > 6), (month + 5) % 12 + 1, day)
    args = (0.3, [mean_c], 50.0)
    assert through(*args, north, NORTH) == pytest.approx(through(*args, south, SOUTH))
    assert usual_faded(north, NORTH) == usual_faded(south, SOUTH)
    share, chill, like = np.array([0.3]), np.array([50.0]), np.array([Hardens.LATE])
    assert sap_moves(share, chill, north, NORTH, like) == sap_moves(
        share, chill, south, SOUTH, like
    )


def test_usual_shares_follow_the_year() -> None:
    """Five kelvin of some fifteen in mid-March and mid-November: the project's design value."""
    months = {month: usual_faded(date(2026, month, 15), NORTH) for month in range(1, 13)}
    assert months[1] <= 0.05
    assert months[3] == months[11] == pytest.approx(5 / 15, abs=0.01)
    assert months[7] == pytest.approx(1, abs=0.3)


# ---- frost on moving sap ------------------------------------------------------------------------

START = datetime(2026, 1, 25, tzinfo=UTC)


def winter(make: Any, middle_c: float, freeze_c: float) -> Any:
    """A cold week, sixteen days of ``middle_c``, and a night that falls to ``freeze_c``."""
    means_c = np.repeat([*([-1.0] * 7), *([middle_c] * 16), freeze_c + 4, freeze_c + 2], 24.0)
    return make.weather(START, len(means_c), mean_c=means_c, swing_k=4.0)  # and tissue 4 K less


def frosts(found: list[Finding], tree: str) -> set[Hazard]:
    return {f.hazard for f in found if f.tree == tree and f.hazard is not ROOT_FROST}


def test_a_freeze_after_a_warm_fortnight_is_a_hazard_of_its_own(make: Any) -> None:
    """Common practice, no source: sap that has risen in a warm spell freezes where the same cold
    did nothing in midwinter. A maple's wood bears −15 °C then (class figure)."""
    trees = [make.tree("Ember")]
    warm = make.findings(trees, winter(make, 8.5, -10.1))
    cold = make.findings(trees, winter(make, -1.0, -10.1))
    sap = [f for f in warm if f.hazard is MOVING_SAP]
    assert sap
    assert "sap" in sap[0].limit.trail[-1].what
    assert -15 < sap[0].limit.harm < -11
    assert frosts(cold, "Ember") == set()


def test_one_frost_of_the_top_a_night(make: Any) -> None:
    found = make.findings([make.tree("Ember")], winter(make, 7.5, -21.0))
    nights = [f.span.start for f in found if f.hazard in (LEAF_FROST, MOVING_SAP)]
    assert nights
    assert len(nights) == len(set(nights))


def test_evergreens_have_no_sap_hazard(make: Any) -> None:
    pine = make.tree("Crag", species="Pinus thunbergii")
    found = make.findings([pine], winter(make, 7.5, -35.0))
    assert MOVING_SAP not in frosts(found, "Crag")
    assert found


def test_buds_in_a_bag_wake_by_the_air_in_the_bag(make: Any) -> None:
    """Common practice: a bag in the sun brings a chopped tree on."""
    trees = [make.tree("In"), make.tree("Out")]
    sunny = make.weather(START, 24 * 20, mean_c=5.0, swing_k=6.0)
    course = make.follow(trees, sunny, [make.work("In", START - DAY, "bag")])
    inside, outside = course.end.warmth_cd.tolist()
    assert inside > outside + 10
    stages = [fact.stage for fact in list(course.conditions.values())[-1]]
    order = list(Stage)
    assert order.index(stages[0]) >= order.index(stages[1])
