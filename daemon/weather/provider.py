"""A weather provider is one class in one file that asks a service and reads its answer."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Protocol

from underbench.daemon.faults import Fault
from underbench.rules.garden.inventory import Garden
from underbench.rules.weather.hourly import Weather


class SupplyError(Fault):
    """Weather could not be had; ``str()`` is one clear line without secrets."""


class Unreachable(SupplyError):
    """Nothing usable came back: network, time-out, server down."""


class BadAnswer(SupplyError):
    """Something came back that is no forecast to trust."""


class NotNow(SupplyError):
    """The service wants no requests for a while: asking before ``retry_at`` is no use."""

    def __init__(self, words: str, retry_at: datetime) -> None:
        super().__init__(words)
        self.retry_at = retry_at


class Throttled(NotNow):
    """Too many requests from this address."""

    def __init__(self, retry_at: datetime) -> None:
        super().__init__(
            "the weather service has had too many requests from this address; "
            f"asking again after {retry_at:%Y-%m-%d %H:%M %Z}",
            retry_at,
        )


@dataclass(frozen=True, slots=True)
class Answer:
    """A provider's answer as it came, and the address asked, without any key.

    It is ``unchanged`` and without a body when the held answer is still the newest.
    ``last_modified`` is sent back as it is. The service asks not to be asked again before
    ``expires``.
    """

    body: bytes = field(repr=False)
    url_without_key: str
    last_modified: str = ""
    expires: datetime | None = None
    unchanged: bool = False


@dataclass(frozen=True, slots=True)
class Facts:
    """What an answer says of itself: its place, and when its run was made. None where it says
    nothing."""

    latitude: float | None = None
    longitude: float | None = None
    elevation_m: float | None = None
    made_at: datetime | None = None


class Provider(Protocol):
    """A weather service."""

    name: str
    attribution: str

    def fetch(
        self,
        garden: Garden,
        past_days: int,
        forecast_days: int,
        now: datetime,
        held: str = "",
    ) -> Answer:
        """Ask for the garden's weather; raises SupplyError. ``held`` is the ``last_modified`` of
        the kept answer."""

    def parse(self, body: bytes) -> Weather:
        """Read an answer; raises BadAnswer."""

    def facts(self, body: bytes) -> Facts:
        """Return what a readable answer says of itself; raises BadAnswer."""


class PastSource(Protocol):
    """Where the weather of earlier months comes from."""

    def between(self, garden: Garden, first: date, last: date, now: datetime) -> Weather:
        """Return the hours of the UTC days from ``first`` to ``last``; raises SupplyError."""


class EnsembleSource(Protocol):
    """Where forecast ensembles come from."""

    models: str

    def members(self, garden: Garden, now: datetime) -> bytes:
        """Ask for the coming days of every member of ``models``; raises SupplyError."""
