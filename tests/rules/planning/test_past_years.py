"""Windows by earlier years: twelve species in three climates against growers' calendars.

Climates: monthly mean air of London (maritime), Warsaw (continental) and Melbourne (southern),
1991-2020, from memory, to half a degree; straight lines between. Dates of work are common practice,
no source: deciduous trees when buds swell and before leaves, larch first; pines and junipers in
spring or after the summer's heat; olives once it is warm; tropicals in summer; never in a leafy
midsummer.
"""

from __future__ import annotations

from datetime import date, timedelta
from functools import cache

import numpy as np
import pytest

from underbench.rules.garden.journal import Stage
from underbench.rules.garden.works import WorkKind
from underbench.rules.planning.misgivings import misgiving
from underbench.rules.planning.past_years import (
    COLD_SUMMER_K,
    COLD_YEAR_K,
    DateRange,
    PastDay,
    Usual,
    next_window,
)
from underbench.rules.plants.species_lookup import find

DAY = timedelta(days=1)
MONTHLY_C = {
    "London": (5.5, 6.0, 8.0, 10.5, 14.0, 17.0, 19.0, 18.5, 16.0, 12.5, 8.5, 6.0),
    "Warsaw": (-1.5, -0.5, 3.5, 9.5, 14.0, 17.5, 19.5, 19.0, 14.0, 9.0, 4.0, 0.5),
    "Melbourne": (20.5, 20.5, 18.5, 15.5, 13.0, 10.5, 10.0, 11.0, 13.0, 15.0, 17.0, 19.0),
}
LATITUDE = {"London": 51.5, "Warsaw": 52.2, "Melbourne": -37.8}
CLIMATES = tuple(MONTHLY_C)
SWING_K = 5.0  # from a day's mean to its low


@cache
def usual(climate: str) -> Usual:
    first, middles = date(2021, 1, 1), [30.4 * month + 15 for month in range(12)]
    days = {}
    for n in range(3 * 365):
        mean_c = float(np.interp(n % 365, middles, MONTHLY_C[climate], period=365))
        days[first + n * DAY] = PastDay(mean_c, mean_c - SWING_K)
    return Usual(days, LATITUDE[climate])


@cache
def seasons(species: str, climate: str) -> dict[int, dict[date, Stage]]:
    known = find(species)
    assert known is not None
    return usual(climate).stages(known.limits, 1.0)


def suits(species: str, climate: str, month: int, day: int) -> bool:
    known = find(species)
    assert known is not None
    on = date(2022, month, day)
    stage = next(season[on] for season in seasons(species, climate).values() if on in season)
    lat = LATITUDE[climate]
    return misgiving(WorkKind.REPOT, None, known.limits, (stage,), on, lat) is None


# Species: a day in the middle of its window in each climate, and a day on which it is never
# repotted.
CALENDAR = [
    ("Acer palmatum", [(3, 10), (4, 5), (8, 20)], [(6, 20), (6, 20), (12, 20)]),
    ("Acer buergerianum", [(3, 10), (4, 5), (8, 20)], [(6, 20), (6, 20), (12, 20)]),
    ("Ulmus parvifolia", [(3, 10), (4, 5), (8, 20)], [(6, 20), (6, 20), (12, 20)]),
    ("Fagus sylvatica", [(3, 20), (4, 10), (8, 25)], [(6, 1), (6, 1), (12, 1)]),
    ("Carpinus betulus", [(3, 1), (3, 31), (8, 10)], [(6, 1), (6, 1), (12, 1)]),
    ("Larix decidua", [(3, 1), (3, 25), (7, 25)], [(6, 1), (6, 1), (12, 1)]),
    ("Pinus sylvestris", [(4, 1), (4, 10), (8, 25)], [(7, 15), (7, 15), (1, 15)]),
    ("Juniperus chinensis", [(4, 15), (4, 25), (9, 15)], [(12, 15), (12, 15), (6, 15)]),
    ("Taxus baccata", [(3, 15), (4, 5), (9, 5)], [(12, 15), (12, 15), (6, 15)]),
    ("Rhododendron indicum", [(3, 15), (3, 25), (9, 5)], [(11, 15), (11, 15), (5, 15)]),
    ("Olea europaea", [(5, 1), (5, 10), (11, 1)], [(1, 15), (1, 15), (7, 15)]),
    ("Ficus microcarpa", [(7, 1), (7, 1), (1, 5)], [(1, 15), (1, 15), (7, 15)]),
]


@pytest.mark.parametrize("climate", CLIMATES)
@pytest.mark.parametrize(("species", "good", "never"), CALENDAR, ids=[c[0] for c in CALENDAR])
def test_repotting_is_in_season_as_growers_have_it(
    species: str, climate: str, good: list[tuple[int, int]], never: list[tuple[int, int]]
) -> None:
    place = CLIMATES.index(climate)
    assert suits(species, climate, *good[place])
    assert not suits(species, climate, *never[place])


def next_repot(species: str, climate: str, today: date) -> tuple[date, date]:
    known = find(species)
    assert known is not None
    found = next_window(
        seasons(species, climate),
        lambda stage, day: (
            misgiving(WorkKind.REPOT, None, known.limits, (stage,), day, LATITUDE[climate]) is None
        ),
        today,
    )
    assert found is not None
    return found[0].first, found[1].last


def test_a_cold_spring_closes_later_and_the_south_is_half_a_year_on() -> None:
    autumn = date(2026, 11, 1)
    closes = {where: next_repot("Acer palmatum", where, autumn)[1] for where in CLIMATES}
    assert closes["London"] <= closes["Warsaw"]  # its smooth winter brings no day of chill
    assert closes["Warsaw"].month in (4, 5)
    assert closes["Melbourne"].month in (8, 9, 10)


def test_larch_goes_before_beech() -> None:
    autumn = date(2026, 11, 1)
    larch, beech = (
        next_repot(s, "Warsaw", autumn)[1] for s in ("Larix decidua", "Fagus sylvatica")
    )
    assert larch < beech


def test_a_window_ahead_is_not_last_springs() -> None:
    opens, closes = next_repot("Acer palmatum", "London", date(2026, 5, 25))
    assert date(2027, 1, 15) < opens < closes < date(2027, 5, 25)


def test_years_differ_and_are_given_as_a_range() -> None:
    """A year 3 K warmer than the others opens sooner: exact by construction."""
    even = usual("Warsaw")
    mixed = {
        day: PastDay(known.mean_c + 3 * (day >= date(2022, 9, 1)), known.low_c)
        for day, known in even.days.items()
    }
    limits = find("Acer palmatum")
    assert limits is not None
    found = next_window(
        Usual(mixed, 52.2).stages(limits.limits, 1.0),
        lambda stage, _day: stage is Stage.BUD_SWELL,
        date(2026, 11, 1),
    )
    assert found is not None
    assert found[0].first < found[0].last
    assert found[0].years == 2


def test_a_window_some_years_have_opened_already_is_one_range() -> None:
    """Years that opened on 2, 6 and 10 April, asked on the 4th."""
    seasons = {
        year: {
            date(year, 1, 1) + n * DAY: Stage.BUD_SWELL
            if date(year, 4, opens) <= date(year, 1, 1) + n * DAY < date(year, 5, 1)
            else Stage.DORMANT
            for n in range(365)
        }
        for year, opens in ((2021, 2), (2022, 6), (2023, 10))
    }
    found = next_window(seasons, lambda stage, _: stage is Stage.BUD_SWELL, date(2025, 4, 4))
    assert found is not None
    assert found[0] == DateRange(date(2025, 4, 2), date(2025, 4, 10), 3)
    assert found[1].first == found[1].last == date(2025, 4, 30)


# Frost: shares of years are exact.


def test_the_share_of_years_with_frost_in_the_weeks_after_a_date() -> None:
    cold = date(2022, 10, 20)
    days = {date(2021, 1, 1) + n * DAY: PastDay(10.0, 5.0) for n in range(2 * 365)}
    days[cold] = PastDay(2.0, -1.0)
    known = Usual(days, 50.0)
    assert known.frost_share(date(2026, 9, 1), 8) == 0.5  # 20 October is 49 days on
    assert known.frost_share(date(2026, 8, 20), 8) == 0.0  # and 61 days on
    assert known.frost_share(date(2026, 12, 20), 8) == 0.0  # only one year is known in full
    assert Usual({}, 50.0).frost_share(date(2026, 9, 1), 8) is None


def test_the_weeks_after_a_day_are_judged_by_their_coldest_night_in_earlier_years() -> None:
    days = [date(2020, 1, 1) + n * timedelta(days=1) for n in range(5 * 366)]
    lows = {day: PastDay(5.0, -float(day.year % 10)) for day in days}
    assert Usual(lows, 51.0).lows_after(date(2024, 3, 10)) == [-0.0, -1.0, -2.0, -3.0]
    assert Usual({}, 51.0).lows_after(date(2024, 3, 10)) == []


@pytest.mark.parametrize(
    ("latitude", "month", "warmer"), [(51.0, 4, True), (51.0, 10, False), (-35.0, 4, False)]
)
def test_without_earlier_years_the_weeks_gone_by_and_the_season_tell(
    latitude: float, month: int, warmer: bool
) -> None:
    """Common knowledge: the north warms in April and cools in October, the south the reverse."""
    today = date(2024, month, 15)
    gone = {today - n * timedelta(days=1): PastDay(5.0, 2.0) for n in range(1, 29)}
    cold, low, mild = Usual(gone, latitude).lows_after(today)
    assert cold < low < mild
    in_summer = (month == 4) is (latitude > 0)
    assert mild - cold == pytest.approx(2 * (COLD_SUMMER_K if in_summer else COLD_YEAR_K))
    assert (low > 2.0) is warmer
    assert abs(low - 2.0) < 6.0
