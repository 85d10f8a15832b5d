"""Windows for work in one garden: the outlook's days, each tree's works, what is usual here."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import cached_property

import numpy as np

from underbench.daemon.outlook.outlook import Outlook, act_from
from underbench.rules.garden.journal import Stage, WorkKind
from underbench.rules.garden.local_time import local_day, local_moment
from underbench.rules.physics.places import place_of
from underbench.rules.planning.misgivings import possible_stages
from underbench.rules.planning.past_years import DateRange, Usual, next_window
from underbench.rules.planning.work_season import DryWork, Planned, Suit, in_season
from underbench.rules.planning.work_windows import Day, Planning, Verdict, inapplicable, verdicts
from underbench.rules.weather.hourly import Array

MORNING, NEXT_MORNING = time(6), time(9)  # a night's cold is often past sunrise
DAY = timedelta(days=1)
SOON_DAYS = 60
Reduce = Callable[..., Array]


@dataclass(frozen=True, slots=True)
class Window:
    """How the coming days suit one work on one tree; ``opens`` and ``closes`` are when it usually
    comes into season next and goes out of it, None where no earlier year tells; ``closing`` the
    last coming day on which the tree's own year allows it, None while that goes on or soon will
    again, as for an evergreen between rest and its new shoots."""

    work: Planned
    tree: str
    days: tuple[Verdict, ...]
    opens: DateRange | None = None
    closes: DateRange | None = None
    closing: date | None = None

    @property
    def offered(self) -> tuple[Verdict, ...]:
        """The days on which it can be done."""
        return tuple(day for day in self.days if day.suit is not Suit.NO)

    @property
    def good_days(self) -> int:
        """How many of them are good ones."""
        return sum(day.suit is Suit.GOOD for day in self.days)


def _closing(work: WorkKind, tree: Planning, days: Sequence[Verdict]) -> date | None:
    seasonal = [day.in_season for day in days]
    if not seasonal or not seasonal[0] or all(seasonal):
        return None
    last = days[seasonal.index(False) - 1].day
    return None if _reopens(work, tree, last) else last


def _reopens(work: WorkKind, tree: Planning, last: date) -> bool:
    """Whether an evergreen, whose season goes by months, is back in it within two months."""
    limits = tree.species.limits
    if limits.leafless:
        return False
    ahead = (last + n * DAY for n in range(1, SOON_DAYS))
    return any(
        in_season(work, limits, stage, day, tree.latitude)
        for day in ahead
        for stage in possible_stages(limits, day, tree.latitude)
    )


class Planner:
    """Works out windows from one outlook; days and seasons are put together once a tree."""

    def __init__(self, outlook: Outlook, usual: Usual | None, *, second_job: bool = False) -> None:
        self.outlook = outlook
        self._usual, self._second_job = usual, second_job
        self._seasons: dict[tuple[str, float], dict[int, dict[date, Stage]]] = {}

    def windows(
        self, works: Sequence[Planned], rows: Sequence[int], *, even_if_never: bool = False
    ) -> Iterator[Window]:
        """Yield the windows of ``works`` for the living trees at ``rows`` that they apply to, or
        (``even_if_never``) for all."""
        for row in rows:
            tree = self._planning(row)
            if tree.standing.lost:
                continue
            days = self._days(row)
            for work in works:
                if even_if_never or inapplicable(work, tree) is None:
                    yield self._window(work, tree, days, row)

    def frost_share(self, weeks: int) -> float | None:
        """Return the share of the years known that had a frost in the ``weeks`` from today's date
        on; None where no year is known."""
        return self._usual.frost_share(self.today, weeks) if self._usual else None

    def verdict(self, work: WorkKind, row: int, day: date) -> Verdict | None:
        """Return how one day suits a work on one tree; None where its night is not known."""
        days = [self._day(row, day, begins) for one, begins in self._mornings if one == day]
        found = verdicts(work, self._planning(row), days)
        return found[0] if found else None

    def _window(self, work: Planned, tree: Planning, days: Sequence[Day], row: int) -> Window:
        name, found = tree.standing.tree.name, tuple(verdicts(work, tree, days))
        if isinstance(work, DryWork):
            return Window(work, name, found)
        opens, closes = self._usually(work, tree, row) or (None, None)
        return Window(work, name, found, opens, closes, _closing(work, tree, found))

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
            lambda stage, day: in_season(work, limits, stage, day, tree.latitude),
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

        spot = outlook.settings.spots[outlook.standing[row].spot]
        rain_mm = rain_mm * place_of(spot).covers.rain_share
        conditions = outlook.course.conditions
        noon = max(begins + timedelta(hours=6), outlook.now).date()
        dry_from = max(begins, outlook.now)  # in the evening, the day ahead is what counts
        one, two = dry_from + DAY, dry_from + 2 * DAY
        return Day(
            day=day,
            condition=conditions[noon if noon in conditions else max(conditions)][row],
            root_c=low(shell_c, begins, min(second_over, end)),
            later_root_c=low(shell_c, second_over, end),
            low_c=low(air_c, begins, night_over),
            high_c=self._over(air_c, begins, night_over, np.max),
            later_low_c=low(air_c, begins, end),
            rain_24_mm=self._over(rain_mm, dry_from, one, np.sum),
            rain_48_mm=self._over(rain_mm, dry_from, two, np.sum),
            low_24_c=low(air_c, dry_from, one),
            low_48_c=low(air_c, dry_from, two),
        )

    def _over(self, values: Array, first: datetime, last: datetime, take: Reduce) -> Array:
        """(member,) of (member, hour) over the hours of a stretch; NaN where it is not known to its
        end, or nothing of it is ahead."""
        times = self.outlook.course.times
        inside = (times > first.timestamp()) & (times <= last.timestamp())
        if not inside.any() or last > self.outlook.reaches:
            return np.full(values.shape[0], np.nan)
        return np.asarray(take(values[:, inside], axis=1), dtype=float)
