"""A limit on guesses at the password: for each address, and for all together."""

from __future__ import annotations

from collections import deque
from datetime import datetime, timedelta
from threading import Lock

FREE = 5  # guesses of one address before it has to wait
FREE_IN_ALL = 30
FIRST_WAIT, LONGEST_WAIT = timedelta(seconds=30), timedelta(hours=1)
KEPT = timedelta(hours=1)
MOST_ADDRESSES = 2000  # beyond this, only the limit on all together holds


class Guesses:
    """The guesses of the last hour, in memory. Every guess counts at the moment it is made, so many
    at once get no further than one after the other."""

    def __init__(self) -> None:
        self._by_address: dict[str, deque[datetime]] = {}
        self._all: deque[datetime] = deque()
        self._lock = Lock()

    def wait(self, address: str, now: datetime, *, known: bool = False) -> timedelta:
        """Count a guess from ``address`` at ``now`` and return zero, or how long it has to wait.
        While it waits, nothing is counted and nothing may be checked. For a ``known`` device the
        guesses of others do not count."""
        with self._lock:
            self._forget(now)
            own = self._by_address.get(address, deque())
            others = timedelta(0) if known else _wait(self._all, FREE_IN_ALL, now)
            waits = (_wait(own, FREE, now), others)
            if max(waits) > timedelta(0):
                return max(waits)
            if known or address in self._by_address or len(self._by_address) < MOST_ADDRESSES:
                self._by_address.setdefault(address, deque()).append(now)
            if not known:
                self._all.append(now)
            return timedelta(0)

    def right(self, address: str) -> None:
        """Forget the guesses of an address that knew the password."""
        with self._lock:
            for made in self._by_address.pop(address, deque()):
                if made in self._all:  # a known device's are not
                    self._all.remove(made)

    def _forget(self, now: datetime) -> None:
        for guesses in (self._all, *self._by_address.values()):
            while guesses and not timedelta(0) <= now - guesses[0] < KEPT:
                guesses.popleft()
        self._by_address = {a: made for a, made in self._by_address.items() if made}


def _wait(made: deque[datetime], free: int, now: datetime) -> timedelta:
    """The wait from the last guess on: it doubles with each guess beyond the free ones."""
    beyond = len(made) - free
    if beyond < 0:
        return timedelta(0)
    pause: timedelta = min(FIRST_WAIT * 2 ** min(beyond, 10), LONGEST_WAIT)
    return max(timedelta(0), made[-1] + pause - now)
