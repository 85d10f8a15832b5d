"""Decides which weather is used: several sources in order, fresh answers and kept ones.

The first source is asked whenever its kept answer is not fresh. If its answer can be trusted
(`trust`), it is used, and that is all. While the source is down or wants no requests, its kept
answer serves until it is `FIRST_GOOD_FOR` old: a run ages slowly, another model differs by more
than three hours of ageing cost, and an outage is mostly over by then.

After that, or when an answer is doubtful (stale, too short, of elsewhere, impossible), the next
source is asked, and its good answer is used and named. The first is still asked each time, and used
again as soon as it answers well. Weather of elsewhere does not take the place of a kept forecast
for the garden that still reaches two days ahead. When no answer is good, the least bad is used, and
the message says so. An answer without doubts comes first, then one that reaches two days ahead,
then the one fetched last.

A forecast is as old as its content: a run that is sent again and again grows old.
"""

from __future__ import annotations

import logging
from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from typing import Protocol

from underbench.daemon.store.kept_answers import Answers, Kept
from underbench.daemon.weather.provider import (
    Answer,
    BadAnswer,
    EnsembleSource,
    Facts,
    NotNow,
    PastSource,
    Provider,
    SupplyError,
)
from underbench.daemon.weather.trust import (
    LEAST_AHEAD,
    SAME_FOR,
    Doubt,
    aged,
    examined,
    mislabelled,
    same_values,
    with_past,
)
from underbench.rules.garden.inventory import Garden
from underbench.rules.weather.hourly import Weather, covered_until

# Models run every few hours; asking more often only spends the service's free allowance.
REFETCH_AFTER = timedelta(minutes=30)
FIRST_GOOD_FOR = timedelta(hours=3)
LONGEST_HELD = timedelta(hours=6)  # a later Expires is a wrong clock, theirs or ours
LONGEST_PEACE = timedelta(days=1, hours=1)  # likewise
WRONG = {"far", "unit"}  # kinds of doubt that make an answer none of this garden's
FORECAST_DAYS = 7

_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Supplied:
    """Weather to judge by. ``changed_at`` is when its content last changed, and ``age`` counts from
    then. ``problem`` is one line for the keeper when not all is well. ``notes`` are worth knowing
    but dealt with. ``doubt`` says why it may mislead, and ``doubted_for`` how long that has been
    so."""

    weather: Weather
    fetched_at: datetime
    changed_at: datetime
    age: timedelta
    problem: str | None
    source: str
    attribution: str
    notes: tuple[str, ...] = ()
    doubt: str = ""
    doubted_for: timedelta = timedelta(0)


class Source(Protocol):
    """Where a pass gets its weather."""

    @property
    def archive(self) -> PastSource | None:
        """Where earlier months come from; None if there is nowhere to ask."""

    @property
    def ensembles(self) -> EnsembleSource | None:
        """Where ensembles come from; None if chance comes from the one forecast."""

    def latest(self, now: datetime, past_days: int) -> Supplied:
        """Return the best weather there is at ``now``; raises SupplyError."""


@dataclass(frozen=True, slots=True)
class _Read:
    """A source's answer as read: how far it reaches ``ahead`` of now, and what is doubted."""

    provider: Provider
    kept: Kept
    weather: Weather
    doubts: tuple[Doubt, ...]
    ahead: timedelta
    error: str | None = None  # why nothing newer came

    @property
    def grave(self) -> list[Doubt]:
        return [doubt for doubt in self.doubts if doubt.grave]

    @property
    def wrong(self) -> tuple[Doubt, ...]:
        """What makes it no weather of this garden."""
        return tuple(doubt for doubt in self.doubts if doubt.kind in WRONG)

    @property
    def rank(self) -> tuple[bool, bool, datetime]:
        return not self.grave, self.ahead >= LEAST_AHEAD, self.kept.fetched_at

    @property
    def trouble(self) -> str | None:
        """One line on what is wrong with the answer."""
        if self.error:
            return self.error
        if self.grave:
            return f"{self.provider.name} {self.grave[0].words}"
        if self.ahead < LEAST_AHEAD:
            return f"{self.provider.name} sent weather for the next {_spoken(self.ahead)} only"
        return None


class Supply:
    """One garden's weather from providers in order, kept on a shelf against bad days.

    ``archive`` is where earlier months come from, ``ensembles`` where members come from; None if
    there is nowhere to ask. ``second`` is asked when ``provider`` fails.
    """

    def __init__(
        self,
        provider: Provider,
        garden: Garden,
        shelf: Answers,
        archive: PastSource | None = None,
        ensembles: EnsembleSource | None = None,
        second: Provider | None = None,
    ) -> None:
        self.archive, self.ensembles = archive, ensembles
        self._first, self._second = provider, second
        self._garden, self._shelf = garden, shelf
        self._day: date | None = None
        self._asked_today: Counter[str] = Counter()
        # One answer is read several times: as fetched, as repeated, and as kept for the next pass.
        self._parsed = lru_cache(maxsize=2)(_parsed)

    def latest(self, now: datetime, past_days: int) -> Supplied:
        """Return the best weather there is at ``now`` (aware): see the head of this file.

        Raises SupplyError when nothing covers the next hour.
        """
        asking = now, past_days
        found, error = self._from(self._first, *asking)
        if self._second is None or (found and _serves(found, now)):
            if found is None:
                raise error or BadAnswer("no weather")
            self._say_of(found, now)
            return self._supplied(found, now, found.trouble and _aged(found, now))
        return self._from_second(self._second, found, error, asking)

    def kept(self, now: datetime) -> Supplied | None:
        """Return the best kept answer, asking nobody; None if none covers the next hour."""
        sources = [self._first, *([self._second] if self._second else [])]
        found = [read for source in sources if (read := self._kept(source, now))]
        best = max(found, key=lambda read: read.rank, default=None)
        return self._supplied(best, now, None) if best else None

    def _from_second(
        self,
        second: Provider,
        first: _Read | None,
        error: SupplyError | None,
        asking: tuple[datetime, int],
    ) -> Supplied:
        now = asking[0]
        other, other_error = self._from(second, *asking)
        trouble = str(error) if error else (first and first.trouble) or ""
        note = f"{trouble}; {second.name} is used in its place"
        if other and (first is None or other.rank > first.rank):
            known = first.doubts if first else ()
            self._say(self._first, (Doubt("replaced", f"fails: {note}", grave=False), *known), now)
            self._say_of(other, now)
            used = replace(other, weather=self._backed(other, first, now))
            return self._supplied(used, now, other.trouble and _aged(other, now), [note])
        if other_error:
            self._say(second, (_failing(str(other_error)),), now)
        if first is None:
            raise error or other_error or BadAnswer("no weather")
        self._say_of(first, now)
        lines = [str(other_error)] if other_error else []
        return self._supplied(first, now, first.trouble and _aged(first, now), lines)

    def _backed(self, other: _Read, first: _Read | None, now: datetime) -> Weather:
        """Fill hours gone by that the second source lacks with what the first knew or forecast."""
        return with_past(other.weather, first.weather, now) if first else other.weather

    def _from(
        self, provider: Provider, now: datetime, past_days: int
    ) -> tuple[_Read | None, SupplyError | None]:
        """The best of a source's fetched and kept answers, or why there is none."""
        last = self._last(provider, now)
        kept = last if last and last.ahead else None
        if kept and _held(kept.kept, now):
            return kept, None
        try:
            fetched = self._fetched(provider, last, now, past_days)
        except SupplyError as error:
            return (replace(kept, error=str(error)), None) if kept else (None, error)
        return _better(fetched, kept), None

    def _kept(self, provider: Provider, now: datetime) -> _Read | None:
        last = self._last(provider, now)
        return last if last and last.ahead else None

    def _last(self, provider: Provider, now: datetime) -> _Read | None:
        """The kept answer, though nothing of it may lie ahead any more."""
        kept = self._shelf.last_forecast(provider.name)
        if kept is None:
            return None
        try:
            return self._read(provider, kept, now)
        except BadAnswer:  # another version kept it: as good as none
            return None

    def _fetched(
        self,
        provider: Provider,
        before: _Read | None,
        now: datetime,
        past_days: int,
    ) -> _Read:
        answer = self._asked(provider, before, now, past_days)
        if answer.unchanged and before:
            kept = replace(before.kept, fetched_at=now, expires=answer.expires)
        else:
            kept = Kept(answer.body, now, now, answer.last_modified, answer.expires)
        read = self._read(provider, kept, now)
        if before and same_values(before.weather, read.weather, now):
            kept = replace(kept, same_since=before.kept.same_since)
            read = self._read(provider, kept, now)
        unit = mislabelled(before.weather, read.weather) if before else None
        read = replace(read, doubts=(*read.doubts, *([unit] if unit else [])))
        if not read.ahead:
            raise BadAnswer(f"{provider.name} sent no weather for the next hour")
        if read.ahead < LEAST_AHEAD:
            return replace(read, error=read.trouble)
        if before and read.wrong and not before.wrong:
            return read  # the kept one knows better, and stays
        if before:
            read = replace(read, weather=with_past(read.weather, before.weather, now))
        self._shelf.keep_forecast(provider.name, kept)
        return read

    def _asked(
        self,
        provider: Provider,
        before: _Read | None,
        now: datetime,
        past_days: int,
    ) -> Answer:
        standing = self._shelf.standing(provider.name)
        if standing.ask_at and now < standing.ask_at <= now + LONGEST_PEACE:
            raise NotNow(standing.why, standing.ask_at)
        held = before.kept.last_modified if before else ""
        self._count(provider, now)
        try:
            return provider.fetch(self._garden, past_days, FORECAST_DAYS, now, held)
        except NotNow as error:
            refused = replace(standing, ask_at=error.retry_at, why=str(error))
            self._shelf.keep_standing(provider.name, refused)
            raise

    def _count(self, provider: Provider, now: datetime) -> None:
        day = now.astimezone(UTC).date()
        if day != self._day:
            for name, asked in self._asked_today.items():
                _log.info("%s was asked %d times on %s", name, asked, self._day)
            self._day, self._asked_today = day, Counter()
        self._asked_today[provider.name] += 1

    def _read(self, provider: Provider, kept: Kept, now: datetime) -> _Read:
        raw, facts = self._parsed(provider.parse, provider.facts, kept.body)
        weather, doubts = examined(raw, facts, self._garden, now)
        age = aged(kept.same_since, kept.fetched_at, now)
        until = covered_until(weather, now)
        ahead = until - now if until else timedelta(0)
        return _Read(provider, kept, weather, (*doubts, *([age] if age else [])), ahead)

    def _say_of(self, read: _Read, now: datetime) -> None:
        failing = (_failing(read.error),) if read.error and not read.wrong else ()
        self._say(read.provider, (*failing, *read.doubts), now)

    def _say(self, provider: Provider, doubts: Sequence[Doubt], now: datetime) -> None:
        """Log once what is newly wrong with a source, and once when all is well again; keep since
        when it has been in grave doubt."""
        standing = self._shelf.standing(provider.name)
        kinds, grave = frozenset(d.kind for d in doubts), any(d.grave for d in doubts)
        since = (standing.doubted_since or now) if grave else None
        if (kinds, since) == (standing.said, standing.doubted_since):
            return
        for doubt in doubts:
            if doubt.kind not in standing.said:
                _log.warning("%s %s", provider.name, doubt.words)
        if not kinds:
            _log.info("%s answers well again", provider.name)
        fresh = replace(standing, said=kinds, doubted_since=since)
        self._shelf.keep_standing(provider.name, fresh)

    def _supplied(
        self, read: _Read, now: datetime, problem: str | None, lines: Iterable[str] = ()
    ) -> Supplied:
        name, zero = read.provider.name, timedelta(0)
        doubts = [doubt for doubt in read.doubts if not (read.error and doubt.kind == "silent")]
        said = {f"{name} {doubt.words}" for doubt in doubts} - {problem}
        age = max(now - read.kept.same_since, zero)
        since = self._shelf.standing(name).doubted_since
        return Supplied(
            weather=read.weather,
            fetched_at=read.kept.fetched_at,
            changed_at=read.kept.same_since,
            age=age,
            problem=problem,
            source=name,
            attribution=read.provider.attribution,
            notes=(*lines, *sorted(said)),
            doubt=_doubt_of(read, age),
            doubted_for=max(age if age >= SAME_FOR else zero, now - (since or now)),
        )


def _parsed(
    parse: Callable[[bytes], Weather], facts: Callable[[bytes], Facts], body: bytes
) -> tuple[Weather, Facts]:
    return parse(body), facts(body)


def _better(fetched: _Read, kept: _Read | None) -> _Read:
    """A source's fetched answer, or its kept one with what is wrong with the fetched one."""
    if kept is None:
        return fetched
    # Of weather of elsewhere no more is taken than has to be.
    enough = min(LEAST_AHEAD, fetched.ahead)
    if fetched.wrong and not kept.wrong and kept.ahead >= enough:
        return replace(kept, doubts=(*fetched.wrong, *kept.doubts), error=fetched.trouble)
    if fetched.error and kept.ahead > fetched.ahead:
        return replace(kept, error=fetched.error)
    return fetched


def _failing(why: str) -> Doubt:
    return Doubt("failing", f"fails: {why}", grave=False)


def _serves(first: _Read, now: datetime) -> bool:
    """Whether the first source's answer is good enough not to ask another."""
    young = not first.error or now - first.kept.fetched_at < FIRST_GOOD_FOR
    return young and not first.grave and first.ahead >= LEAST_AHEAD


def _held(kept: Kept, now: datetime) -> bool:
    """Whether it is too early to ask for an answer again."""
    age = now - kept.fetched_at
    if not timedelta(0) <= age:
        return False
    wanted = kept.expires is not None and now < min(kept.expires, kept.fetched_at + LONGEST_HELD)
    return age < REFETCH_AFTER or wanted


def _doubt_of(read: _Read, age: timedelta) -> str:
    """Why what is used may mislead; empty where nothing speaks against it."""
    if read.grave:
        return f"{read.provider.name} {read.grave[0].words}"
    return f"nothing newer has come for {_spoken(age)}" if age >= SAME_FOR else ""


def _aged(read: _Read, now: datetime) -> str | None:
    """The trouble with the answer in use, and its age if it was kept."""
    age = now - read.kept.same_since
    if not read.error or not age:
        return read.trouble
    return f"{read.error}; using the forecast from {_spoken(age)} ago"


def _spoken(span: timedelta) -> str:
    minutes = int(span.total_seconds() // 60)
    if minutes < 120:
        return f"{minutes} min"
    return f"{minutes // 60} h" if minutes < 72 * 60 else f"{minutes // 1440} days"
