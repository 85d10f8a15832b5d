"""Whether a request went out whole: then a service may have taken it, though no answer came.

A push library says only that a send failed. All its HTTP services share urllib3's connections, and
these know what went over the wire.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any

from urllib3.connection import HTTPConnection, HTTPSConnection
from urllib3.connectionpool import HTTPConnectionPool, HTTPSConnectionPool
from urllib3.response import HTTPResponse


class Outgoing:
    """The last request of a block. ``whole`` is True once all of it was sent."""

    whole = False


_OUTGOING: ContextVar[Outgoing | None] = ContextVar("outgoing", default=None)


@contextmanager
def watched() -> Iterator[Outgoing]:
    """Watch what goes out in the block. Threads that it starts with its context count too."""
    outgoing = Outgoing()
    token = _OUTGOING.set(outgoing)
    try:
        yield outgoing
    finally:
        _OUTGOING.reset(token)


class _Watched(HTTPConnection):
    """A connection that notes how far its request has come."""

    def connect(self) -> None:
        _note(whole=False)
        super().connect()

    def request(self, *args: Any, **named: Any) -> None:
        _note(whole=False)
        super().request(*args, **named)

    def getresponse(self) -> HTTPResponse:  # type: ignore[override]
        _note(whole=True)  # the answer is asked for once all is sent
        return super().getresponse()


class _WatchedSafely(_Watched, HTTPSConnection):
    """A watched connection over TLS."""


def _note(*, whole: bool) -> None:
    outgoing = _OUTGOING.get()
    if outgoing is not None:
        outgoing.whole = whole


HTTPConnectionPool.ConnectionCls = _Watched
HTTPSConnectionPool.ConnectionCls = _WatchedSafely
