"""Trees for which no place suffices are said by the coldest night that earlier winters brought."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest
from spring_frosts import EMBER, EVENING, GARDEN, Labs, spring

from underbench.daemon.planning.lacking import Lacking, Shortfall, lacking, lacking_line, words_on
from underbench.daemon.wording.units import Units
from underbench.rules.garden.inventory import Garden
from underbench.rules.planning.cold_spell import cold_spell
from underbench.rules.planning.past_years import PastDay, Usual

DAY = timedelta(days=1)
EPOCH, FIRST = date(1970, 1, 1), date(2019, 7, 1)
CELLAR = """
[[spot]]
name = "cellar"
kind = "cellar"
"""


def winters(*coldest_c: float, first: date = FIRST) -> dict[date, PastDay]:
    """Whole winters, each with one coldest night in its January."""
    days = {first + n * DAY: PastDay(8.0, 4.0) for n in range(365 * len(coldest_c) + 1)}
    nights = {date(first.year + n + 1, 1, 20): c for n, c in enumerate(coldest_c)}
    return days | {day: PastDay(c + 4.0, c) for day, c in nights.items()}


@pytest.mark.parametrize(
    ("latitude", "first", "low_c", "known"),
    [
        (51.0, FIRST, -15.0, 2),
        (-41.0, date(2019, 1, 1), -7.0, 2),
        (51.0, date(2020, 1, 1), -7.0, 1),
    ],
)
def test_the_coldest_night_is_that_of_whole_winters(
    latitude: float, first: date, low_c: float, known: int
) -> None:
    usual = Usual(winters(-7.0, -15.0, first=first), latitude)
    coldest, count = usual.coldest(date(2023, 10, 1))
    assert coldest is not None
    assert (coldest.low_c, count) == (low_c, known)


def test_without_a_whole_winter_nothing_is_known() -> None:
    young = {FIRST + n * DAY: PastDay(0.0, -9.0) for n in range(200)}
    assert Usual(young, 51.0).coldest(date(2023, 10, 1)) == (None, 0)


def test_each_day_of_the_spell_is_as_cold_as_the_day_known() -> None:
    garden = Garden(name="x", latitude=51, longitude=13.5, elevation_m=9, timezone="Etc/UTC")
    times = 3600 * np.arange(1, 97, dtype=np.int64)
    spell = cold_spell(times, PastDay(-8.0, -14.0), garden)
    by_day = spell.air_c[0].reshape(4, 24)
    np.testing.assert_allclose(by_day.mean(axis=1), -8.0, atol=1e-9)
    np.testing.assert_allclose(by_day.min(axis=1), -14.0, atol=0.1)


@pytest.mark.parametrize(
    ("places", "coldest_c", "lacks"), [("", -21.0, True), (CELLAR, -21.0, False), ("", -2.0, False)]
)
def test_a_tree_lacks_a_place_where_its_roots_would_die_everywhere(
    labs: Labs, make: Any, places: str, coldest_c: float, lacks: bool
) -> None:
    """A cellar keeps above 4 °C; of one without a house round it a shed follows such cold."""
    garden = labs(GARDEN + places + EMBER, spring(make))
    days = winters(coldest_c, -1.0)
    garden.store.hours.keep_days(
        ((day - EPOCH).days, one.mean_c, one.low_c) for day, one in days.items()
    )
    outlook = garden.run(EVENING, dry_run=True).outlook
    short = lacking(outlook, garden.store)
    assert (short is not None) is lacks
    if short:
        assert (short.coldest_c, short.winters) == (coldest_c, 2)
        assert [one.tree for one in short.trees] == ["Ember"]
    assert lacking_line(outlook, garden.store) == []  # it is spring


def test_what_grows_in_the_ground_lacks_no_place(labs: Labs, make: Any) -> None:
    bed = GARDEN.replace('kind = "bench"', 'kind = "bed"', 1)
    planted = EMBER.replace("litres = 4", 'container = "bed"')
    garden = labs(bed + planted, spring(make))
    garden.store.hours.keep_days(
        ((day - EPOCH).days, one.mean_c, one.low_c) for day, one in winters(-40.0).items()
    )
    assert lacking(garden.run(EVENING, dry_run=True).outlook, garden.store) is None


def test_it_is_said_with_a_place_that_would_do() -> None:
    olive, layer = Lacking("Argo", -9.2, -5.0), Lacking("Little", -8.0, -10.0)
    words = words_on(Shortfall(-18.0, 4, (olive, layer)), Units("metric"))
    assert words == (
        "No place here keeps the roots of Argo (they die from −5 °C) and Little (they die from"
        " −10 °C) alive in a night of −18 °C, the coldest of 4 winters. Argo and Little need a cool"
        " room, a cellar or a heated greenhouse."
    )
    one = words_on(Shortfall(-18.0, 1, (olive,)), Units("us"))
    assert "0 °F, the coldest of the last winter. Argo needs" in one


def test_a_pot_too_heavy_to_carry_is_to_be_wrapped_where_it_stands() -> None:
    both = Lacking("Argo", -9.2, -5.0), Lacking("Atlas", -8.0, -7.0, heavy=True)
    words = words_on(Shortfall(-18.0, 4, both), Units("metric"))
    assert "Argo needs a cool room, a cellar or a heated greenhouse. Atlas is too heavy" in words
    assert words.endswith(": wrap the pot where it stands, or pack it in bark or leaves.")
    alone = words_on(Shortfall(-18.0, 4, both[1:]), Units("metric"))
    assert "cellar" not in alone


@pytest.mark.parametrize(("litres", "heavy"), [(4, False), (40, True)])
def test_the_pot_decides_whether_its_tree_can_be_carried(
    labs: Labs, make: Any, litres: int, heavy: bool
) -> None:
    garden = labs(GARDEN + EMBER.replace("litres = 4", f"litres = {litres}"), spring(make))
    garden.store.hours.keep_days(
        ((day - EPOCH).days, one.mean_c, one.low_c) for day, one in winters(-35.0).items()
    )
    short = lacking(garden.run(EVENING, dry_run=True).outlook, garden.store)
    assert short is not None
    assert [one.heavy for one in short.trees] == [heavy]
