"""A push service on the loopback, for the tests."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from typing import Any

from pydantic import SecretStr

from underbench.daemon.delivery.outbox import Manner
from underbench.rules.garden.inventory import HandsOn


class Receiver(ThreadingHTTPServer):
    """A push service on the loopback that keeps (path, JSON body) of each request, and the buttons
    in its header ("" without). It answers 200, or 403 for a path in ``refusing`` or a title in
    ``refusing_titles``. A path in ``hanging`` gets no answer before ``released``, one in ``mute``
    none at all, and one in ``cut`` a part of it."""

    daemon_threads = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), Handler)
        self.got: list[tuple[str, dict[str, Any]]] = []
        self.buttons: list[str] = []
        self.refusing: set[str] = set()
        self.refusing_titles: set[str] = set()
        self.hanging: set[str] = set()
        self.mute: set[str] = set()
        self.cut: set[str] = set()
        self.released = threading.Event()
        self.asked = threading.Event()  # something has come

    def url(self, path: str, user: str = "", options: str = "") -> SecretStr:
        return SecretStr(f"json://{user}127.0.0.1:{self.server_port}{path}{options}")

    def titles(self, path: str) -> list[str]:
        return [body["title"] for got, body in self.got if got == path]


class Handler(BaseHTTPRequestHandler):
    server: Receiver

    def do_POST(self) -> None:
        body = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
        path = self.path.partition("?")[0]
        self.server.got.append((path, body))
        self.server.buttons.append(self.headers.get("X-Actions", ""))
        self.server.asked.set()
        if path in self.server.hanging:
            self.server.released.wait()
        if path in self.server.mute:
            return
        refused = path in self.server.refusing or body["title"] in self.server.refusing_titles
        self.send_response(403 if refused else 200)
        self.send_header("Content-Length", "9" if path in self.server.cut else "0")
        self.end_headers()

    def log_message(self, *_args: object) -> None:
        pass


@contextmanager
def receiving() -> Iterator[Receiver]:
    """A receiver that runs for the block."""
    with Receiver() as server:
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
        thread.start()
        try:
            yield server
        finally:
            server.released.set()
            server.shutdown()
            thread.join()


def within(most_an_hour: int, quiet: tuple[time, time] = (time(0), time(0))) -> Manner:
    """How messages may disturb: so many an hour, at any hour unless ``quiet`` ones are given."""
    return Manner(most_an_hour, HandsOn(weekdays=(), weekends=(), quiet=quiet), "Europe/Berlin")
