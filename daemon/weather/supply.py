"""Which weather is used: a fresh answer when there is a good one, else the last good one, aged."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import Protocol

from underbench.daemon.faults import Fault
from underbench.rules.garden import Garden
from underbench.rules.weather import Weather, covered_until

# Models run every few hours; asking more often only spends the service's free allowance.
REFETCH_AFTER = timedelta(minutes=30)
# Two nights: with less ahead a keeper cannot be told in time to prepare.
LEAST_AHEAD = timedelta(hours=48)
FORECAST_DAYS = 7


class SupplyError(Fault):
    """Weather could not be had; ``str()`` is one clear line without secrets."""


class Unreachable(SupplyError):
    """Nothing usable came back: network, time-out, server down."""


class BadAnswer(SupplyError):
    """Something came back, and it is not a forecast that can be trusted."""


class Throttled(SupplyError):
    """Too many requests from this address; asking before ``retry_at`` is no use."""

    def __init__(self, retry_at: datetime) -> None:
        super().__init__(
            "the weather service has had too many requests from this address; "
            f"asking again after {retry_at:%Y-%m-%d %H:%M %Z}"
        )
        self.retry_at = retry_at


@dataclass(frozen=True, slots=True)
class Answer:
    """A provider's answer as it came, and the address asked, without any key."""

    body: bytes = field(repr=False)
    url_without_key: str


class Provider(Protocol):
    """A weather service."""

    name: str
    attribution: str

    def fetch(self, garden: Garden, past_days: int, forecast_days: int, now: datetime) -> Answer:
        """Ask for the garden's weather; raises SupplyError."""

    def parse(self, body: bytes) -> Weather:
        """Read an answer; raises BadAnswer."""


class PastSource(Protocol):
    """Where the weather of earlier months comes from."""

    def between(self, garden: Garden, first: date, last: date, now: datetime) -> Weather:
        """Return the hours of the UTC days from ``first`` to ``last``; raises SupplyError."""


class ForecastCache(Protocol):
    """Where the last good answer is kept over restarts."""

    def keep_forecast(self, body: bytes, fetched_at: datetime) -> None:
        """Replace the kept answer."""

    def last_forecast(self) -> tuple[bytes, datetime] | None:
        """Return the kept answer and when it was fetched (UTC); None without one."""


@dataclass(frozen=True, slots=True)
class Supplied:
    """Weather to judge by. ``problem`` is one line for the keeper when not all is well."""

    weather: Weather
    fetched_at: datetime
    age: timedelta
    problem: str | None
    source: str
    attribution: str

    @property
    def fresh(self) -> bool:
        """Whether it is no older than a regular fetch leaves it."""
        return self.age < REFETCH_AFTER


class Source(Protocol):
    """Where a pass gets its weather."""

    @property
    def archive(self) -> PastSource | None:
        """Where earlier months come from; None where there is nowhere to ask."""

    def latest(self, now: datetime, past_days: int) -> Supplied:
        """Return the best weather there is at ``now``; raises SupplyError."""


class Supply:
    """One garden's weather from one provider, kept in a cache against bad days.

    ``archive``: where the months before come from; None where there is nowhere to ask.
    """

    def __init__(
        self,
        provider: Provider,
        garden: Garden,
        cache: ForecastCache,
        archive: PastSource | None = None,
    ) -> None:
        self.archive = archive
        self._provider = provider
        self._garden = garden
        self._cache = cache
        self._ask_again_at: datetime | None = None

    def latest(self, now: datetime, past_days: int, forecast_days: int = FORECAST_DAYS) -> Supplied:
        """Return the best weather there is at ``now`` (aware).

        Asks the provider unless the kept answer is younger than `REFETCH_AFTER`. When that fails,
        or what comes reaches less far ahead than what is kept, the kept one is used and the
        problem said. Raises SupplyError when neither covers the next hour.
        """
        kept = self._kept(now)
        if kept and timedelta(0) <= now - kept.fetched_at < REFETCH_AFTER:
            return kept
        try:
            fetched = self._fetched(now, past_days, forecast_days)
        except SupplyError as error:
            if kept is None:
                raise
            return _fallen_back(kept, str(error))
        if kept and fetched.problem and _ahead(kept.weather, now) > _ahead(fetched.weather, now):
            return _fallen_back(kept, fetched.problem)
        return fetched

    def _kept(self, now: datetime) -> Supplied | None:
        last = self._cache.last_forecast()
        if last is None:
            return None
        body, fetched_at = last
        try:
            weather = self._provider.parse(body)
        except BadAnswer:  # kept by another version or provider: as good as none
            return None
        return self._supplied(weather, fetched_at, now) if _ahead(weather, now) else None

    def _fetched(self, now: datetime, past_days: int, forecast_days: int) -> Supplied:
        if self._ask_again_at and now < self._ask_again_at:
            raise Throttled(self._ask_again_at)
        try:
            answer = self._provider.fetch(self._garden, past_days, forecast_days, now)
        except Throttled as error:
            self._ask_again_at = error.retry_at
            raise
        weather = self._provider.parse(answer.body)
        ahead = _ahead(weather, now)
        if not ahead:
            raise BadAnswer(f"{self._provider.name} sent no weather for the next hour")
        fetched = self._supplied(weather, now, now)
        if ahead < LEAST_AHEAD:
            short = f"{self._provider.name} sent weather for the next {_spoken(ahead)} only"
            return replace(fetched, problem=short)
        self._cache.keep_forecast(answer.body, now)
        return fetched

    def _supplied(self, weather: Weather, fetched_at: datetime, now: datetime) -> Supplied:
        return Supplied(
            weather=weather,
            fetched_at=fetched_at,
            age=max(now - fetched_at, timedelta(0)),
            problem=None,
            source=self._provider.name,
            attribution=self._provider.attribution,
        )


def _ahead(weather: Weather, now: datetime) -> timedelta:
    until = covered_until(weather, now)
    return until - now if until else timedelta(0)


def _fallen_back(kept: Supplied, problem: str) -> Supplied:
    return replace(kept, problem=f"{problem}; using the forecast from {_spoken(kept.age)} ago")


def _spoken(span: timedelta) -> str:
    minutes = int(span.total_seconds() // 60)
    if minutes < 120:
        return f"{minutes} min"
    return f"{minutes // 60} h" if minutes < 72 * 60 else f"{minutes // 1440} days"
