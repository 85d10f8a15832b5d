"""Windows for work: how the coming days suit it, when days usually suit it, round-up lines."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import cached_property

import numpy as np

from underbench.daemon.outlook.outlook import Outlook, act_from
from underbench.daemon.outlook.past_years import usual_of
from underbench.daemon.planning.round_up_line import RoundUpLine, named_or_counted
from underbench.daemon.store.store import Store
from underbench.rules.garden.journal import Stage, TreeAt
from underbench.rules.garden.local_time import local_moment
from underbench.rules.garden.works import WorkKind, works_that
from underbench.rules.physics.places import place_of
from underbench.rules.planning.misgivings import possible_stages
from underbench.rules.planning.past_years import DateRange, Usual, next_window
from underbench.rules.planning.work_season import DryWork, Planned, Suit, Why, in_season
from underbench.rules.planning.work_windows import Day, Planning, Verdict, inapplicable, verdicts
from underbench.rules.weather.hourly import Array

MORNING, NEXT_MORNING = time(6), time(9)  # a night's cold is often past sunrise
DAY = timedelta(days=1)
SOON_DAYS = 60
# A window comes once a year. A conifer has two, in spring and autumn, half a year apart.
ONE_WINDOW = timedelta(days=120)
# A tree repotted last spring is left alone: every second or third year is common practice.
REPOTTED_FOR = timedelta(days=540)
MOST_LINES, FEW_DAYS = 2, 2
SHELTER_AFTER = (Why.LATER_ROOT_FROST, Why.USUAL_ROOT_FROST, Why.USUAL_LAST_FROST)
Reduce = Callable[..., Array]


@dataclass(frozen=True, slots=True)
class Window:
    """How the coming days suit one work on one tree.

    ``opens`` and ``closes``: when the work usually comes into season next, and goes out of it; None
    where no earlier year is known. ``closing``: the last coming day on which the tree's year allows
    the work. It is None while the season goes on, or if it soon comes back, as for an evergreen
    between rest and new shoots.
    """

    work: Planned
    tree: str
    days: tuple[Verdict, ...]
    opens: DateRange | None = None
    closes: DateRange | None = None
    closing: date | None = None

    @property
    def offered(self) -> tuple[Verdict, ...]:
        """The days on which the work can be done."""
        return tuple(day for day in self.days if day.suit is not Suit.NO)

    @property
    def good_days(self) -> int:
        """The number of good days."""
        return sum(day.suit is Suit.GOOD for day in self.days)

    @property
    def sheltered_days(self) -> int:
        """The number of days that are good, or would be with shelter from the frosts to come."""
        asks = (day.against.why if day.against else None for day in self.days)
        return self.good_days + sum(why in SHELTER_AFTER for why in asks)


def _closing(work: WorkKind, tree: Planning, days: Sequence[Verdict]) -> date | None:
    seasonal = [day.in_season for day in days]
    if not seasonal or not seasonal[0] or all(seasonal):
        return None
    last = days[seasonal.index(False) - 1].day
    return None if _reopens(work, tree, last) else last


def _reopens(work: WorkKind, tree: Planning, last: date) -> bool:
    """Whether an evergreen is back in season within two months. Its season goes by months."""
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
    """Works out windows from one outlook. Days and seasons are put together once for each tree."""

    def __init__(
        self,
        outlook: Outlook,
        usual: Usual | None,
        *,
        second_job: bool = False,
        seasons: bool = True,
    ) -> None:
        """``seasons``: when works usually come into season is told too, which takes long."""
        self.outlook, self._tells_seasons = outlook, seasons
        self._usual, self._second_job = usual, second_job
        self._seasons: dict[tuple[str, float], dict[int, dict[date, Stage]]] = {}

    def windows(
        self, works: Sequence[Planned], rows: Sequence[int], *, even_if_never: bool = False
    ) -> Iterator[Window]:
        """Yield the windows of ``works`` for the living trees at ``rows``. Works that do not apply
        to a tree are left out, unless ``even_if_never``."""
        for row in rows:
            tree = self._planning(row)
            if tree.standing.lost:
                continue
            days = self._days(row)
            for work in works:
                if even_if_never or inapplicable(work, tree) is None:
                    yield self._window(work, tree, days, row)

    def verdict(self, work: WorkKind, row: int, day: date) -> Verdict | None:
        """Return how one day suits a work on one tree; None if the night after it is not known."""
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
            outlook.settings.garden.elevation_m,
        )

    def _usually(
        self, work: WorkKind, tree: Planning, row: int
    ) -> tuple[DateRange, DateRange] | None:
        if self._usual is None or not self._tells_seasons:
            return None
        limits, pace = tree.species.limits, float(self.outlook.state.pace[row])
        key = (tree.species.name, pace)
        if key not in self._seasons:
            self._seasons[key] = self._usual.stages(limits, pace)
        return next_window(
            self._seasons[key],
            lambda stage, day: in_season(work, limits, stage, day, tree.latitude),
            self.outlook.today,
        )

    @cached_property
    def _mornings(self) -> list[tuple[date, datetime]]:
        """The days whose night is wholly known, and when each begins."""
        zone, found, day = self.outlook.settings.garden.timezone, [], self.outlook.today
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
        dry_from = max(begins, outlook.now)  # in the evening, only the hours ahead count
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
        """Reduce (member, hour) to (member,) over the hours of a stretch. The result is NaN if the
        stretch is not known to its end, or if no hour of it is ahead."""
        times = self.outlook.course.times
        inside = (times > first.timestamp()) & (times <= last.timestamp())
        if not inside.any() or last > self.outlook.reaches:
            return np.full(values.shape[0], np.nan)
        return np.asarray(take(values[:, inside], axis=1), dtype=float)


@dataclass(frozen=True, slots=True)
class _Event:
    """One tree's window that opens, or that closes with the day ``last``."""

    window: Window
    stage: Stage
    last: date | None

    @property
    def duty(self) -> str:
        return f"window {self.window.work} {'closes' if self.last else 'opens'} {self.window.tree}"


def window_lines(
    outlook: Outlook, store: Store, now: datetime, rooted: Collection[str]
) -> list[RoundUpLine]:
    """Return the lines on windows that are due now. ``rooted``: trees whose layer may have rooted.
    Raises StoreError."""
    events = [event for event in _events(outlook, store, rooted) if _fresh(event, store, now)]
    groups: dict[tuple[WorkKind | str, Stage, date | None], list[_Event]] = {}
    for event in events:
        groups.setdefault((event.window.work, event.stage, event.last), []).append(event)
    # A window that closes comes first: it cannot wait for tomorrow's round-up.
    ordered = sorted(groups.values(), key=lambda group: group[0].last or date.max)
    return [_line(group) for group in ordered[:MOST_LINES]]


def _events(outlook: Outlook, store: Store, rooted: Collection[str]) -> Iterator[_Event]:
    layers = [row for row, at in enumerate(outlook.standing) if at.tree.name in rooted]
    due = [row for row, at in enumerate(outlook.standing) if _due_for_repotting(at)]
    species = outlook.setting.species
    leafless = [name for name, one in species.items() if one.limits.leafless]
    planner = Planner(outlook, usual_of(store, outlook.settings.garden), seasons=False)
    yield from _of(planner.windows([WorkKind.REPOT], due), leafless)
    yield from _of(planner.windows([WorkKind.SEVER_LAYER], layers), leafless)


def _of(windows: Iterable[Window], leafless: Collection[str]) -> Iterator[_Event]:
    for window in windows:
        today = window.days[0] if window.days else None
        if today is None or not today.in_season or not window.sheltered_days:
            continue
        if window.closing or _opens(window, today.stage, leafless):
            yield _Event(window, today.stage, window.closing)


def _opens(window: Window, stage: Stage, leafless: Collection[str]) -> bool:
    """Whether a window is worth a line. It needs more than one day that is good, if only with
    shelter to follow. A leafless tree also has
    to have moving buds, which show that its time has come."""
    resting = stage is Stage.DORMANT and window.tree in leafless
    return window.sheltered_days >= FEW_DAYS and not resting


def _due_for_repotting(at: TreeAt) -> bool:
    last = at.last(*works_that(lambda does: does.on_roots), WorkKind.SLIP_POT)
    return last is None or at.at - last.at >= REPOTTED_FOR


def _fresh(event: _Event, store: Store, now: datetime) -> bool:
    said = store.duties.last_done(event.duty)
    return said is None or not timedelta(0) <= now - said < ONE_WINDOW


def _line(group: Sequence[_Event]) -> RoundUpLine:
    first, names = group[0], [event.window.tree for event in group]
    trees, work = named_or_counted(names), first.window.work
    if first.last:
        its = "its" if len(names) == 1 else "their"
        words = f"Last good days to {_done_to(work, trees)}: {its} season ends on {first.last:%A}."
    else:
        good = min(event.window.good_days for event in group)
        days = f"{good} good {'day' if good == 1 else 'days'} ahead"
        what = "sever it" if work is WorkKind.SEVER_LAYER else work
        words = f"{_sign(first, trees)}; {days}: {what} this week."
        if not good:
            words = f"{_sign(first, trees)}: {what} this week, if it then stands free of frost."
    return RoundUpLine(words, tuple(event.duty for event in group), first.last)


def _done_to(work: WorkKind | str, trees: str) -> str:
    return f"sever the layer on {trees}" if work is WorkKind.SEVER_LAYER else f"{work} {trees}"


def _sign(event: _Event, trees: str) -> str:
    if event.window.work is WorkKind.SEVER_LAYER:
        return f"The layer on {trees} may have rooted"
    if event.stage is Stage.BUD_SWELL:
        return f"Buds swelling on {trees}"
    return f"Root work suits {trees} now"
