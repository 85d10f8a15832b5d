"""A rehearsal: the daemon's own passes over a weather series, hour by hour, told to nobody.

What the series holds for the hours after a pass is that pass's forecast: a perfect one. Everything
is kept in memory; of the real store the journal is read, and nothing is changed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Self
from zoneinfo import ZoneInfo

from underbench.daemon.alerts.compose import Said, Told
from underbench.daemon.alerts.hourly_pass import Pass, run_pass
from underbench.daemon.alerts.message_kinds import Kind
from underbench.daemon.config.settings import Settings
from underbench.daemon.faults import Fault
from underbench.daemon.journal.noting import cover, note
from underbench.daemon.rehearsal.quiet import quiet_until
from underbench.daemon.store.store import Store
from underbench.daemon.weather.csv_series import Series
from underbench.daemon.weather.provider import PastSource
from underbench.daemon.weather.supply import Source, Supplied
from underbench.rules.advice.advice import Advice, Job
from underbench.rules.garden.inventory import Garden, HandsOn
from underbench.rules.garden.journal import Entry, Handled, Move, Watering
from underbench.rules.garden.local_time import LONG_AGO, hands_on_between
from underbench.rules.hazards.hazard import Action, Help
from underbench.rules.weather.hourly import HOUR_S, Weather

# The daemon passes every hour. Here: every twelfth, and as hands-on hours begin, which is when
# messages fall due; the forecast being perfect, nothing new turns up in between. With every third,
# six weeks of a Chicago spring brought the same 31 messages, of which two were told five hours
# sooner.
EVERY_H = 12
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
GIVEN_AHEAD = timedelta(days=6)
SOURCE = "the series"


@dataclass(frozen=True, slots=True)
class Journal:
    """The keeper's entries, moved back by whole years where all are later than the weather."""

    entries: tuple[Entry, ...]
    years_back: int


@dataclass(frozen=True, slots=True)
class Plan:
    """What is to be rehearsed: moments of the passes (UTC), and of those left out in gaps."""

    settings: Settings
    series: Series
    journal: Journal
    moments: tuple[datetime, ...]
    in_gaps: int

    @property
    def zone(self) -> ZoneInfo:
        """The garden's time zone."""
        return ZoneInfo(self.settings.garden.timezone)


@dataclass(frozen=True, slots=True)
class Heard:
    """A message, and when it would have come: an advice, or what is said beside advice."""

    at: datetime
    told: Told | Said

    @property
    def advice(self) -> Advice | None:
        """The advice told; None where the message is of another kind."""
        return self.told.advice if isinstance(self.told, Told) else None

    @property
    def trees(self) -> tuple[str, ...]:
        """The trees it is about."""
        if isinstance(self.told, Said):
            return self.told.trees
        return tuple(job.tree for job in self.told.advice.jobs)


def plan(
    settings: Settings,
    series: Series,
    start: datetime | None = None,
    end: datetime | None = None,
    journal: Journal | None = None,
) -> Plan:
    """Return the rehearsal of ``series`` between ``start`` and ``end``: all of it without them.
    ``journal``: None for the one in the settings' store.

    The first day only sets the pots going. Raises Fault when no pass is left, StoreError when the
    journal cannot be read.
    """
    times = series.weather.times
    first, last = (datetime.fromtimestamp(int(times[i]), tz=UTC) for i in (0, -1))
    begins = max(start or first, first + DAY - HOUR)
    ends = min(end or last, last)
    zone = settings.garden.timezone
    hours = decision_hours(begins, ends, settings.hands_on, zone)
    known = [hour for hour in hours if _in_known(series, hour, first)]
    if not known:
        raise Fault(
            f"nothing to rehearse: the weather runs from {first:%Y-%m-%d %H:%M} to"
            f" {last:%Y-%m-%d %H:%M} UTC, and its first day only sets the pots going"
        )
    journal = journal or journal_for(settings.store_path, last)
    return Plan(settings, series, journal, tuple(known), len(hours) - len(known))


def decision_hours(
    start: datetime, end: datetime, hands_on: HandsOn, zone: str, every_h: int = EVERY_H
) -> tuple[datetime, ...]:
    """Return the whole hours in [start, end) at which a pass is rehearsed."""
    opens = opening_hours(start, end, hands_on, zone)
    first, last = (_hour_from(moment) for moment in (start, end))
    every = {_moment_of(hour) for hour in range(first, last) if hour % every_h == 0}
    return tuple(sorted(every | {at for at in opens if start <= at < end}))


def opening_hours(start: datetime, end: datetime, hands_on: HandsOn, zone: str) -> set[datetime]:
    """Return the whole hours by which the hands-on hours between two moments have begun."""
    stretches = hands_on_between(hands_on, start, end, zone)
    return {_moment_of(_hour_from(stretch.start)) for stretch in stretches}


def _hour_from(moment: datetime) -> int:
    return -(-int(moment.timestamp()) // HOUR_S)


def _moment_of(hour: int) -> datetime:
    return datetime.fromtimestamp(hour * HOUR_S, tz=UTC)


def _in_known(series: Series, hour: datetime, first: datetime) -> bool:
    index = int((hour - first) / HOUR)
    return bool(series.known[index : index + 2].all())


def journal_for(path: Path, last: datetime) -> Journal:
    """Return the journal in the store at ``path`` for weather that ends at ``last``.

    When every entry is later than that, the weather is of other years: the journal is moved back
    by whole years until its last entry is not. Without a store it is empty. Raises StoreError.
    """
    with Store.copy(path) as store:
        entries = store.journal.entries()
    years = 0
    while entries and entries[0].at > last and _years_back(entries[-1].at, years) > last:
        years += 1
    moved = [e.model_copy(update={"at": _years_back(e.at, years)}) for e in entries]
    return Journal(tuple(moved), years)


def _years_back(moment: datetime, years: int) -> datetime:
    if moment.month == 2 and moment.day == 29:
        moment -= DAY
    return moment.replace(year=moment.year - years)


def _unseen(_now: datetime) -> None:
    """Nobody looks on."""


Seen = Callable[[datetime], None]


def rehearse(planned: Plan, seen: Seen = _unseen) -> Iterator[Heard]:
    """Yield each message as it would have come. What is told is taken as done, see `Keeper`.

    Passes that cannot say anything are left out (`quiet_until`). ``seen`` is called with the moment
    of each pass, run or left out.
    """
    before = quiet = LONG_AGO  # the first pass is due
    entries, hindsight = planned.journal.entries, Hindsight(planned.series)
    with Rehearsal(planned.settings, hindsight, entries) as rehearsal:
        for now in planned.moments:
            seen(now)
            due = rehearsal.keeper.is_due(now) or any(before < entry.at <= now for entry in entries)
            if due or now >= quiet:
                done, heard = rehearsal.run(now)
                quiet = quiet_until(done)
                yield from heard
            before = now


class Rehearsal:
    """Passes with a keeper who does as told, over a store in memory. It is a context manager."""

    def __init__(self, settings: Settings, supply: Source, journal: Iterable[Entry]) -> None:
        self.keeper = Keeper(settings)
        self.store = Store.blank()
        self._settings, self._supply = settings, supply
        self.store.journal.add(journal)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.store.close()

    def run(self, now: datetime) -> tuple[Pass, list[Heard]]:
        """Run the pass at ``now``; return it, and what is told."""
        note(self.store, self._settings, self.keeper.act(now))
        done = run_pass(self._settings, self.store, self._supply, now)
        self.keeper.homes = {tree.name: tree.spot for tree in done.outlook.settings.trees}
        for one in done.all_said:
            self.keeper.hear(one, now)
        return done, [Heard(now, one) for one in done.all_said]


class Keeper:
    """Does as told in the last hands-on hours before the deadline, and says so: else each day would
    be told anew for want of a note. Trees go back when they are told to."""

    def __init__(self, settings: Settings) -> None:
        self.homes: dict[str, str] = {}  # where each tree there is belongs
        self._settings = settings
        self._plans: list[Entry] = []

    def is_due(self, now: datetime) -> bool:
        """Return whether something is to be noted by ``now``."""
        return any(entry.at <= now for entry in self._plans)

    def act(self, now: datetime) -> list[Entry]:
        """Return the notes on what was done by ``now``."""
        done = [entry for entry in self._plans if entry.at <= now]
        self._plans = [entry for entry in self._plans if entry.at > now]
        return done

    def hear(self, one: Told | Said, now: datetime) -> None:
        """Plan what a message asks for, or drop what it calls off."""
        if isinstance(one, Told):
            self._plans += notes_on(one.advice, self._when(one.advice, now))
        elif one.kind is Kind.STAND_DOWN:
            self._plans = [entry for entry in self._plans if entry.tree not in one.trees]
        elif one.kind is Kind.BACK:
            self._plans += [Move(tree=tree, at=now, spot=self.homes[tree]) for tree in one.trees]

    def _when(self, advice: Advice, now: datetime) -> datetime:
        hands_on, zone = self._settings.hands_on, self._settings.garden.timezone
        by = max(now, advice.do_by)
        hours = hands_on_between(hands_on, now, by, zone) if advice.in_hand else []
        return hours[-1].start if hours else by


def notes_on(advice: Advice, at: datetime) -> list[Entry]:
    """Return what a keeper notes who has done as told at ``at``: waterings, trees carried under
    cover, and of the rest that it is done."""
    if advice.action is Action.WATER:
        return _waterings(advice, at)
    return [_note_on(job, at, stays=advice.stays(job)) for job in advice.jobs]


def _note_on(job: Job, at: datetime, *, stays: bool) -> Entry:
    if (spot := job.into) and not job.stay:
        return Move(tree=job.tree, at=at, spot=spot)
    if stays:
        return cover(job.tree, at, job.spot, job.remedy)
    return Handled(tree=job.tree, at=at)


def _waterings(advice: Advice, at: datetime) -> list[Entry]:
    moss = [job.tree for job in advice.jobs if job.remedy.wets_moss]
    pots = [job.tree for job in advice.jobs if job.tree not in moss]
    days = {f.span for f in advice.findings if f.hazard.help is Help.WATER}
    return [
        *(Watering(tree=tree, at=at, moss=True) for tree in moss),
        *(Watering(tree=tree, at=at + n * DAY) for n in range(max(1, len(days))) for tree in pots),
    ]


class Hindsight:
    """Gives each pass the hours that really followed as its forecast."""

    ensembles = None

    def __init__(self, series: Series) -> None:
        self._weather = series.weather

    @property
    def archive(self) -> PastSource:
        """What the series holds of the months before serves as the archive."""
        return self

    def between(self, garden: Garden, first: date, last: date, now: datetime) -> Weather:
        """Return the hours of the UTC days from ``first`` to ``last`` that the series has."""
        start, end = (datetime.combine(day, time(), UTC) for day in (first, last + DAY))
        return self._weather.between(start - timedelta(seconds=1), end - timedelta(seconds=1))

    def latest(self, now: datetime, past_days: int) -> Supplied:
        """Return the weather around ``now``."""
        return Supplied(
            weather=self._weather.between(now - past_days * DAY, now + GIVEN_AHEAD),
            fetched_at=now,
            changed_at=now,
            age=timedelta(0),
            problem=None,
            source=SOURCE,
            attribution="Weather from a file",
        )
