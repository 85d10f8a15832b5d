"""What earlier years brought at a garden: when a work came into season there, and its frosts.

Daily means and lows of years gone by (the garden's own record, an archive where that is short) are
walked by the same clock as the season (`underbench.rules.plants.stages`). Nothing here is a
forecast: it says how early and how late things came.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from math import cos, pi

import numpy as np

from underbench.rules.garden.journal import Stage
from underbench.rules.planning.misgivings import northern_month
from underbench.rules.plants.species import HardinessClass
from underbench.rules.plants.stages import Clock, advance_clock, last_autumn, stage_of

DAY = timedelta(days=1)
YEAR_DAYS = 365
WEEKS_AFTER, WINTER_WEEKS = 3, 8  # so far beyond the forecast a plan looks; for a tree at rest
# Where no earlier year is known, the weeks ahead are as those gone by, less what the season changes
# between: half the yearly range of daily means in a temperate climate, coldest on 20 January.
SEASON_K, COLDEST = 10.0, 20
# That misses the lowest of the weeks ahead, in the root mean square, by 2.8 K (New York 2013), 4.4
# (London 2012), 4.7 and 7 K (typical years of Amsterdam and Chicago) from November to February, and
# by 2 to 3 K from April to September. With what years differ anyway, a cold year is so much colder.
COLD_YEAR_K, COLD_SUMMER_K = 4.5, 2.0
SUMMER_HALF = range(4, 10)  # of the northern year
MIDSUMMER_DAYS = 184  # from the first of July to the end of the year
WHOLE_YEAR_DAYS = 330  # a season counts with so many days known
FROST_C = 0.0  # screen air
MOST_BREAK_DAYS = 14  # between two stages that both suit; judgement
LAST_SUMMERS_CD = 5000.0  # leaves are hard in September, whatever the summer was


@dataclass(frozen=True, slots=True)
class PastDay:
    """One day gone by: mean and lowest screen air, °C."""

    mean_c: float
    low_c: float


@dataclass(frozen=True, slots=True)
class DateRange:
    """How early and how late something was, in days of the year asked about. ``years`` is the
    number of years in which it was seen."""

    first: date
    last: date
    years: int


@dataclass(frozen=True, slots=True)
class Usual:
    """The days gone by of one garden."""

    days: Mapping[date, PastDay]
    latitude: float

    def frost_share(self, day: date, weeks: float, below_c: float = FROST_C) -> float | None:
        """Return the share of known years with air below ``below_c`` in the ``weeks`` from
        ``day``'s date on. None where no year is known so far."""
        spans = [self._lows(start, weeks) for start in self._same_day(day)]
        known = [lows for lows in spans if lows is not None]
        if not known:
            return None
        return sum(min(lows) < below_c for lows in known) / len(known)

    def coldest(self, day: date) -> tuple[PastDay | None, int]:
        """Return the coldest day known from the winters before ``day``, and how many are known."""
        winters: dict[int, list[PastDay]] = {}
        for one, known in self.days.items():
            if one < day:
                winters.setdefault(_winter_year(one, self.latitude), []).append(known)
        whole = [own for own in winters.values() if len(own) >= WHOLE_YEAR_DAYS]
        every = [known for own in whole for known in own]
        return min(every, key=lambda known: known.low_c, default=None), len(whole)

    def lows_after(self, day: date, weeks: int = WEEKS_AFTER) -> list[float]:
        """Return the lowest air, °C, of the ``weeks`` from ``day``'s date on, in each earlier year.

        Without any it is that of the weeks before ``day`` that are known, moved by the season, in a
        cold, a usual and a mild year. Empty without these.
        """
        spans = [self._lows(start, weeks) for start in self._same_day(day)]
        known = [min(lows) for lows in spans if lows is not None]
        if known:
            return known
        ago = range(1, 7 * WEEKS_AFTER + 8)
        before = [self.days[day - n * DAY].low_c for n in ago if day - n * DAY in self.days]
        if not before:
            return []
        usual_c = min(before) + self._season_k(day, weeks, ago[-1])
        summer = northern_month(day, self.latitude) in SUMMER_HALF
        by_k = COLD_SUMMER_K if summer else COLD_YEAR_K
        return [usual_c - by_k, usual_c, usual_c + by_k]

    def _season_k(self, day: date, weeks: int, back_days: int) -> float:
        """By how much the coldest of the ``weeks`` after ``day`` are usually warmer than
        ``back_days`` before it."""
        half_year = YEAR_DAYS / 2 if self.latitude < 0 else 0.0

        def mean_k(moment: date) -> float:
            turned = moment.timetuple().tm_yday - COLDEST - half_year
            return -SEASON_K * cos(2 * pi * turned / YEAR_DAYS)

        half = 7 * WEEKS_AFTER // 2
        coldest_k = min(mean_k(day + n * DAY) for n in range(half, 7 * weeks - half + 1, 7))
        return coldest_k - mean_k(day - back_days // 2 * DAY)

    def _same_day(self, day: date) -> Iterator[date]:
        for year in sorted({known.year for known in self.days}):
            if year < day.year:
                yield moved_to(day, year)

    def _lows(self, start: date, weeks: float) -> list[float] | None:
        wanted = [start + n * DAY for n in range(round(7 * weeks))]
        known = [self.days[one].low_c for one in wanted if one in self.days]
        return known if len(known) >= 0.9 * len(wanted) else None

    def stages(self, limits: HardinessClass, pace: float) -> dict[int, dict[date, Stage]]:
        """Return the likely stage on each day of each whole season known. Seasons are by the year
        in which they began, in autumn."""
        return {
            begins.year: dict(_walked(limits, begins, self.days, self.latitude, pace))
            for begins in sorted({last_autumn(day, self.latitude) for day in self.days})
            if sum(begins + n * DAY in self.days for n in range(YEAR_DAYS)) >= WHOLE_YEAR_DAYS
        }


def _walked(
    limits: HardinessClass,
    begins: date,
    days: Mapping[date, PastDay],
    latitude: float,
    pace: float,
) -> Iterator[tuple[date, Stage]]:
    """The season's clock from autumn on; an unknown day repeats the day before."""
    clock = Clock(begins - DAY, np.full(1, LAST_SUMMERS_CD), np.zeros(1))
    mean_c = 5.0
    for n in range(YEAR_DAYS):
        day = begins + n * DAY
        warmth_cd, chill_days = float(clock.warmth_cd[0]), float(clock.chill_days[0])
        stage = stage_of(limits, day, latitude, warmth_cd, chill_days=chill_days, pace=pace)
        yield day, stage
        mean_c = days[day].mean_c if day in days else mean_c
        clock = advance_clock(clock, day, np.array([mean_c]), latitude)


def usual_last_frost(latitude: float, elevation_m: float, below_c: float, day: date) -> date:
    """Return when air below ``below_c`` usually comes for the last time in the spring of ``day``,
    where no year is known.

    Judgement, no source: the last night below 0 °C falls on 5 April at sea level at 42° and two
    days later for each degree poleward, a day later for each 30 m of height, and eight days earlier
    for each K colder. Coasts are weeks ahead of it, hollows behind.
    """
    number = 95 + 2.2 * (abs(latitude) - 42) + elevation_m / 30 + 8 * min(below_c, 0.0)
    in_the_south = latitude < 0
    begins = date(day.year, 7 if in_the_south else 1, 1)
    return begins + round(number - 1) * DAY


def next_window(
    seasons: Mapping[int, Mapping[date, Stage]],
    suits: Callable[[Stage, date], bool],
    today: date,
) -> tuple[DateRange, DateRange] | None:
    """Return when a work usually next comes into season after ``today``, and when it goes out.

    ``suits`` says whether a tree at a stage on a day is in season. None where no year tells.
    """
    spans = []
    for season in seasons.values():
        ahead = {_ahead(day, today): suits(stage, day) for day, stage in season.items()}
        span = _next_run(ahead)
        if span is not None:
            spans.append(span)
    if not spans:
        return None
    soonest = min(opens for opens, _ in spans)
    # A year whose season began just before today's date belongs with years whose season begins soon
    # after.
    near = [
        (o - YEAR_DAYS, c - YEAR_DAYS) if o - soonest > YEAR_DAYS / 2 else (o, c) for o, c in spans
    ]
    opens, closes = zip(*near, strict=True)
    return tuple(  # type: ignore[return-value]
        DateRange(today + min(ns) * DAY, today + max(ns) * DAY, len(spans))
        for ns in (opens, closes)
    )


def _ahead(day: date, today: date) -> int:
    """Days from ``today`` to the next day of that date."""
    then = moved_to(day, today.year)
    return ((then if then >= today else moved_to(day, today.year + 1)) - today).days


def _next_run(ahead: Mapping[int, bool]) -> tuple[int, int] | None:
    """The next stretch of days that begins to suit; short breaks do not end it. A stretch that
    suits today already began earlier. It comes again at the end of the year ahead."""
    runs: list[list[int]] = []
    for n in sorted(n for n, suits in ahead.items() if suits):
        if runs and n - runs[-1][1] <= MOST_BREAK_DAYS:
            runs[-1][1] = n
        else:
            runs.append([n, n])
    if len(runs) > 1 and runs[0][0] == 0:
        now, last = runs.pop(0), runs[-1]
        if last[1] >= YEAR_DAYS - 1 - MOST_BREAK_DAYS:
            last[1] = YEAR_DAYS + now[1]
    return (runs[0][0], runs[0][1]) if runs else None


def _winter_year(day: date, latitude: float) -> int:
    """The year to which a day's winter is counted: from the middle of one summer to the next."""
    return day.year if latitude < 0 else (day + MIDSUMMER_DAYS * DAY).year


def moved_to(day: date, year: int) -> date:
    """Return the same date in another year; 29 February becomes the 28th where there is none."""
    leap_day = day.month == 2 and day.day == 29
    return day.replace(year=year, day=28) if leap_day else day.replace(year=year)
