"""Readings by HTTP POST: JSON with a token, taken by a server of one thread."""

from __future__ import annotations

import hmac
import json
import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from datetime import UTC, datetime
from http.server import BaseHTTPRequestHandler, HTTPServer
from socket import AF_INET, AF_INET6, SHUT_RDWR
from socketserver import TCPServer
from typing import Any

from pydantic import SecretStr

from underbench.daemon.readings.parse import Known
from underbench.daemon.wording.reading_units import NoReading
from underbench.rules.garden.readings import Reading

LARGEST_BODY = 65536
MOST_DIGITS = 9  # of a length: Python refuses to read numbers of thousands
MOST_AT_ONCE = 1000
REQUEST_S = 5.0  # a request that takes longer is cut off: the next one waits
BEARER = "Bearer "


class Taker:
    """Takes the bodies of posts. ``known`` may be replaced while it does; ``put`` is called with
    the readings of each body, and says whether there was room for them."""

    def __init__(
        self, token: SecretStr, known: Known, put: Callable[[Sequence[Reading]], bool]
    ) -> None:
        self.known = known
        self._token, self._put = token, put

    def take_post(self, body: bytes, token: str, now: datetime) -> tuple[int, str]:
        """Return the HTTP status and a line of text for a body posted with a token.

        The body is JSON in UTF-8: one reading, or a list of them; all are taken or none.
        """
        ours = self._token.get_secret_value().encode()
        if not hmac.compare_digest(token.encode("utf-8", errors="replace"), ours):
            return 401, "the token is not the one that is set"
        if len(body) > LARGEST_BODY:
            return 413, f"expected {LARGEST_BODY} bytes or fewer"
        try:
            readings = self._readings(body, now)
        except NoReading as fault:
            return 400, str(fault)
        if not self._put(readings):
            return 503, "too many readings are waiting: try again in a minute"
        return 202, f"taken: {len(readings)}"

    def _readings(self, body: bytes, now: datetime) -> list[Reading]:
        try:
            said = json.loads(body.decode("utf-8"))
        except (ValueError, RecursionError):
            raise NoReading("expected JSON: one reading, or a list of them") from None
        said = said if isinstance(said, list) else [said]
        if len(said) > MOST_AT_ONCE:
            raise NoReading(f"expected {MOST_AT_ONCE} readings or fewer at once")
        readings = []
        for number, one in enumerate(said, start=1):
            try:
                readings.append(self._reading(one, now))
            except NoReading as fault:
                raise NoReading(
                    f"reading {number}: {fault}" if len(said) > 1 else str(fault)
                ) from None
        return readings

    def _reading(self, said: Any, now: datetime) -> Reading:
        if not isinstance(said, dict):
            raise NoReading('expected a reading such as {"quantity": "air", "value": -2.5}')
        return self.known.reading(said, "post", now)


class Server(HTTPServer):
    """The server, answering in a thread of its own from ``start`` to ``stop``.

    One request after the other, each cut off when it takes too long: whoever can reach the port
    costs the garden no more than this thread. Raises OSError when it cannot listen.
    """

    def __init__(self, listen: tuple[str, int], taker: Taker) -> None:
        self.taker = taker
        self.address_family = AF_INET6 if ":" in listen[0] else AF_INET
        super().__init__(listen, _Handler)
        self._thread = threading.Thread(
            target=self.serve_forever, name="readings", kwargs={"poll_interval": 0.2}, daemon=True
        )

    def server_bind(self) -> None:
        """Take the port without asking the network for this machine's name, as the parent does."""
        TCPServer.server_bind(self)

    def start(self) -> None:
        """Begin to answer."""
        self._thread.start()

    def stop(self) -> None:
        """Stop answering, and let go of the port."""
        self.shutdown()
        self._thread.join()
        self.server_close()

    def handle_error(self, request: object, client_address: object) -> None:
        """A client that hangs up is nobody's fault."""


class _Handler(BaseHTTPRequestHandler):
    server: Server
    timeout = REQUEST_S

    def setup(self) -> None:
        super().setup()
        self._watch = threading.Timer(REQUEST_S, self._cut)
        self._watch.daemon = True
        self._watch.start()

    def finish(self) -> None:
        self._watch.cancel()
        super().finish()

    def _cut(self) -> None:
        """End a request that comes byte by byte, each within the timeout."""
        with suppress(OSError):
            self.connection.shutdown(SHUT_RDWR)

    def do_POST(self) -> None:
        length = self.headers.get("Content-Length", "")
        if not length.isascii() or not length.isdigit():
            return self._answer(411, "expected Content-Length")
        if len(length) > MOST_DIGITS or int(length) > LARGEST_BODY:
            return self._answer(413, f"expected {LARGEST_BODY} bytes or fewer")
        said = self.headers.get("Authorization", "")
        token = said[len(BEARER) :] if said.startswith(BEARER) else ""
        body = self.rfile.read(int(length))
        return self._answer(*self.server.taker.take_post(body, token, datetime.now(UTC)))

    def _answer(self, status: int, text: str) -> None:
        body = f"{text}\n".encode()
        self.send_response(status)
        self.send_header("Content-Type", "text/plain; charset=utf-8")
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def version_string(self) -> str:
        return "underbench"

    def log_message(self, *_args: object) -> None:
        """What comes over the network is not written into the log."""
