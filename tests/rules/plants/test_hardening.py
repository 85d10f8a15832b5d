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
from underbench.rules.plants.hardening import AUTUMN_SHARE, advance_faded, sap_moves, usual_faded
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
) -> float:
    share = np.array([faded])
    for ahead, mean_c in enumerate(means_c):
        chill = np.array([chill_days])
        share = advance_faded(share, np.array([mean_c]), chill, first + ahead * DAY, latitude)
    return float(share[0])


def vine_c(start_c: float, means_c: Sequence[float], rested: bool) -> float:
    """What a tenth of buds bears, day by day: 'Cabernet Sauvignon' of Ferguson et al. 2014. It is
    in the model's own °C, written out from the authors' workbook (a public copy of its macro)."""
    hardiest_c, tenderest_c = -25.1, -1.2
    threshold_c, gains, loses, bend = (5.0, 0.10, 0.10, 7.0) if rested else (13.0, 0.12, 0.08, 1.0)
    range_k, bears_c = tenderest_c - hardiest_c, start_c
    for mean_c in means_c:
        warm, cold = max(mean_c - threshold_c, 0.0), min(mean_c - threshold_c, 0.0)
        fades_k = warm * loses * (1.0 - ((bears_c - hardiest_c) / range_k) ** bend)
        hardens_k = cold * gains * (1.0 - (tenderest_c - bears_c) / range_k)
        bears_c = min(max(bears_c + fades_k + hardens_k, hardiest_c), tenderest_c)
    return bears_c


@pytest.mark.parametrize("rested", [False, True], ids=["at rest", "rested"])
def test_shares_are_the_published_course_of_vines(rested: bool) -> None:
    means_c = (12.0 - 10.0 * np.sin(np.arange(120) / 15)).tolist()  # −… to 22 °C, both branches
    chill = RESTED_CHILL_DAYS if rested else 0.0
    for days in (1, 7, 40, 120):
        share = through(AUTUMN_SHARE, means_c[:days], chill, first=date(2025, 11, 2))
        expected_c = vine_c(-10.3, means_c[:days], rested)
        assert -25.1 + 23.9 * share == pytest.approx(expected_c, abs=1e-9)


def test_a_usual_autumn_hardens_by_midwinter() -> None:
    """London's monthly means (from memory, some 15, 12, 8, 6 °C). Lindström & Stattin 1994
    (abstract): tender in October, hardiest in January."""
    autumn = [15.0] * 30 + [12.0] * 31 + [8.0] * 30 + [6.0] * 31
    by_month = [through(0.9, autumn[:days], 0.0, date(2025, 9, 1)) for days in (45, 91, 122)]
    assert by_month == sorted(by_month, reverse=True)
    assert by_month[0] > 0.5
    assert by_month[-1] < 0.1


def test_a_warm_autumn_leaves_trees_tenderer_than_a_cold_one() -> None:
    warm, cold = ([mean_c] * 90 for mean_c in (11.0, 4.0))
    assert through(0.6, warm, 0.0, date(2025, 9, 1)) > through(0.6, cold, 0.0, date(2025, 9, 1))


def test_a_warm_fortnight_costs_hardiness_only_once_rest_is_over() -> None:
    """Deacclimation waits for chill: Kovaleski's Ψ rises from 0 to 1 with it (hardiness research
    §5.5); Ferguson et al. raise the threshold before rest is over."""
    fortnight = [10.0] * 14
    assert through(0.05, fortnight, RESTED_CHILL_DAYS - 1) < 0.05
    assert through(0.05, fortnight, RESTED_CHILL_DAYS) > 0.25


def test_cold_after_it_wins_some_back_more_slowly() -> None:
    """Rehardening competence falls once growth has begun: Leinonen et al. 1997 (abstract)."""
    faded = through(0.05, [10.0] * 14, 80.0)
    regained = through(faded, [0.0] * 14, 80.0)
    assert 0.05 < regained < faded
    assert faded - regained < faded - 0.05  # the days were as many K under 5 °C as above it before


@given(
    faded=st.floats(0, 1),
    mean_c=st.floats(-40, 40),
    warmer_k=st.floats(0, 20),
    chill=st.floats(0, 150),
    day=st.dates(date(2025, 1, 1), date(2026, 12, 31)),
)
def test_bounds_and_order(
    faded: float, mean_c: float, warmer_k: float, chill: float, day: date
) -> None:
    less, more = (through(faded, [c], chill, day) for c in (mean_c, mean_c + warmer_k))
    assert 0 <= less <= more <= 1


@given(month=st.integers(1, 12), day=st.integers(1, 28), mean_c=st.floats(-20, 25))
def test_the_south_is_half_a_year_later(month: int, day: int, mean_c: float) -> None:
    north, south = date(2026, month, day), date(2026 + (month > 6), (month + 5) % 12 + 1, day)
    args = (0.3, [mean_c], 50.0)
    assert through(*args, north, NORTH) == through(*args, south, SOUTH)
    assert usual_faded(north, NORTH) == usual_faded(south, SOUTH)
    share, chill = np.array([0.3]), np.array([50.0])
    assert sap_moves(share, chill, north, NORTH) == sap_moves(share, chill, south, SOUTH)


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
    did nothing in midwinter. A maple's wood bears −20 °C then (class figure)."""
    trees = [make.tree("Ember")]
    warm = make.findings(trees, winter(make, 7.5, -15.1))
    cold = make.findings(trees, winter(make, -1.0, -15.1))
    sap = [f for f in warm if f.hazard is MOVING_SAP]
    assert sap
    assert "sap" in sap[0].limit.trail[-1].what
    assert -20 < sap[0].limit.harm < -15
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
