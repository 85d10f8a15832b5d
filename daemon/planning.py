"""Windows for work in one garden: the outlook's days, each tree's works, what is usual here."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import cached_property

import numpy as np

from underbench.daemon.outlook import Outlook, act_from
from underbench.rules.hours import local_day, local_moment
from underbench.rules.journal import Stage, WorkKind
from underbench.rules.timing import misgiving
from underbench.rules.usual import DateRange, Usual, next_window
from underbench.rules.weather import Array
from underbench.rules.windows import (
    Day,
    DryWork,
    Planned,
    Planning,
    Suit,
    Verdict,
    applies,
    verdicts,
)

MORNING, NEXT_MORNING = time(6), time(9)  # a night's cold is often past sunrise
DAY = timedelta(days=1)
Reduce = Callable[..., Array]


@dataclass(frozen=True, slots=True)
class Window:
    """How the coming days suit one work on one tree; ``opens`` and ``closes`` are when it usually
    comes into season next and goes out of it, None where no earlier year tells."""

    work: Planned
    tree: str
    days: tuple[Verdict, ...]
    opens: DateRange | None = None
    closes: DateRange | None = None

    @property
    def offered(self) -> tuple[Verdict, ...]:
        """The days on which it can be done."""
        return tuple(day for day in self.days if day.suit is not Suit.NO)

    @property
    def good_days(self) -> int:
        """How many of them are good ones."""
        return sum(day.suit is Suit.GOOD for day in self.days)

    @property
    def closing(self) -> date | None:
        """The last coming day on which the tree's own year allows it; None while that goes on."""
        in_season = [day.in_season for day in self.days]
        if not in_season[0] or all(in_season):
            return None
        return self.days[in_season.index(False) - 1].day


class Planner:
    """Works out windows from one outlook; days and seasons are put together once a tree."""

    def __init__(self, outlook: Outlook, usual: Usual | None, *, second_job: bool = False) -> None:
        self.outlook = outlook
        self._usual, self._second_job = usual, second_job
        self._seasons: dict[tuple[str, float], dict[int, dict[date, Stage]]] = {}

    def windows(self, works: Sequence[Planned], rows: Sequence[int]) -> Iterator[Window]:
        """Yield the windows of ``works`` for the living trees at ``rows`` that they apply to."""
        for row in rows:
            tree = self._planning(row)
            if tree.standing.lost:
                continue
            days = self._days(row)
            for work in works:
                if isinstance(work, DryWork) or applies(work, tree):
                    yield self._window(work, tree, days, row)

    def _window(self, work: Planned, tree: Planning, days: Sequence[Day], row: int) -> Window:
        usual = None if isinstance(work, DryWork) else self._usually(work, tree, row)
        opens, closes = usual or (None, None)
        name = tree.standing.tree.name
        return Window(work, name, tuple(verdicts(work, tree, days)), opens, closes)

    def _planning(self, row: int) -> Planning:
        outlook, standing = self.outlook, self.outlook.standing[row]
        return Planning(
            outlook.setting.species[standing.tree.name],
            standing,
            outlook.settings.garden.latitude,
            act_from(outlook.settings, standing.tree),
            self._usual,
            self._second_job,
        )

    def _usually(
        self, work: WorkKind, tree: Planning, row: int
    ) -> tuple[DateRange, DateRange] | None:
        if self._usual is None:
            return None
        limits, pace = tree.species.limits, float(self.outlook.state.pace[row])
        key = (tree.species.name, pace)
        if key not in self._seasons:
            self._seasons[key] = self._usual.stages(limits, pace)
        return next_window(
            self._seasons[key],
            lambda stage, day: misgiving(work, None, limits, (stage,), day, tree.latitude) is None,
            self.today,
        )

    @property
    def today(self) -> date:
        """The local day it is."""
        return local_day(self.outlook.now, self.outlook.settings.garden.timezone)

    @cached_property
    def _mornings(self) -> list[tuple[date, datetime]]:
        """The days whose own night is wholly known, and when each begins."""
        zone, found, day = self.outlook.settings.garden.timezone, [], self.today
        while local_moment(day + DAY, NEXT_MORNING, zone) <= self.outlook.reaches:
            found.append((day, local_moment(day, MORNING, zone)))
            day += DAY
        return found

    def _days(self, row: int) -> list[Day]:
        return [self._day(row, day, begins) for day, begins in self._mornings]

    def _day(self, row: int, day: date, begins: datetime) -> Day:
        outlook, zone = self.outlook, self.outlook.settings.garden.timezone
        night_over, second_over = (local_moment(day + n * DAY, NEXT_MORNING, zone) for n in (1, 2))
        shell_c, air_c = (getattr(outlook.course.exposure, n)[row] for n in ("shell_c", "air_c"))
        rain_mm, end = outlook.weather.rain_mm, outlook.reaches

        def low(values: Array, first: datetime, last: datetime) -> Array:
            return self._over(values, first, last, np.min)

        conditions = outlook.course.conditions
        noon = max(begins + timedelta(hours=6), outlook.now).date()
        one, two = begins + DAY, begins + 2 * DAY
        return Day(
            day=day,
            condition=conditions[noon if noon in conditions else max(conditions)][row],
            root_c=low(shell_c, begins, min(second_over, end)),
            later_root_c=low(shell_c, second_over, end),
            low_c=low(air_c, begins, night_over),
            high_c=self._over(air_c, begins, night_over, np.max),
            later_low_c=low(air_c, begins, end),
            rain_24_mm=self._over(rain_mm, begins, one, np.sum),
            rain_48_mm=self._over(rain_mm, begins, two, np.sum),
            low_24_c=low(air_c, begins, one),
            low_48_c=low(air_c, begins, two),
        )

    def _over(self, values: Array, first: datetime, last: datetime, take: Reduce) -> Array:
        """(member,) of (member, hour) over the hours of a stretch; NaN where it is not known to its
        end, or nothing of it is ahead."""
        times = self.outlook.course.times
        inside = (times > first.timestamp()) & (times <= last.timestamp())
        if not inside.any() or last > self.outlook.reaches:
            return np.full(values.shape[0], np.nan)
        return np.asarray(take(values[:, inside], axis=1), dtype=float)
