"""The daemon ticked by hand, for the tests: its sky, its store, its keeper's phone."""

from __future__ import annotations

import json
import queue
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from garden_toml import PLACE
from openmeteo_service import serving
from pydantic import SecretStr

from underbench.daemon.config.settings import Settings, load
from underbench.daemon.delivery.outbox import Services
from underbench.daemon.running.scheduler import tick
from underbench.daemon.store.store import Store
from underbench.daemon.weather.openmeteo import ATTRIBUTION, NAME, facts, parse
from underbench.daemon.weather.provider import Answer, Facts, Unreachable
from underbench.daemon.weather.supply import Supply
from underbench.rules.garden.inventory import Garden
from underbench.rules.weather.hourly import Weather

GARDEN = f"""{PLACE}
[hands_on]
weekdays = ["00:00-24:00"]
weekends = ["00:00-24:00"]

[[spot]]
name = "top bench"
kind = "bench"

[[tree]]
name = "Heath"
species = "Pinus sylvestris"
litres = 3
height_cm = 90
spot = "top bench"
"""


class Phone(ThreadingHTTPServer):
    """A push service on the loopback that takes everything; ``got`` are the titles as they come."""

    daemon_threads = True

    def __init__(self) -> None:
        super().__init__(("127.0.0.1", 0), _Taker)
        self.got: queue.SimpleQueue[str] = queue.SimpleQueue()

    @property
    def url(self) -> str:
        return f"json://127.0.0.1:{self.server_port}/"

    def titles(self) -> list[str]:
        """What has come since the last call."""
        return [self.got.get() for _ in range(self.got.qsize())]


class _Taker(BaseHTTPRequestHandler):
    server: Phone

    def do_POST(self) -> None:
        body = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
        self.server.got.put(body["title"])  # before the answer: a test looks after it
        self.send_response(200)
        self.send_header("Content-Length", "0")
        self.end_headers()

    def log_message(self, *_args: object) -> None:
        pass


@contextmanager
def ringing() -> Iterator[Phone]:
    """A phone for the block."""
    with Phone() as server:
        thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.02})
        thread.start()
        try:
            yield server
        finally:
            server.shutdown()
            thread.join()


class Sky:
    """A provider that can fail; ``asked`` are the moments at which it was asked."""

    name, attribution = NAME, ATTRIBUTION

    def __init__(self, weather: Weather) -> None:
        self.weather, self.down = weather, False
        self.asked: list[datetime] = []

    def fetch(
        self, garden: Garden, past_days: int, forecast_days: int, now: datetime, held: str = ""
    ) -> Answer:
        self.asked.append(now)
        if self.down:
            raise Unreachable("the weather service cannot be reached")
        query = {"past_days": f"{past_days}", "forecast_days": f"{forecast_days}"}
        query |= {"latitude": f"{garden.latitude}", "longitude": f"{garden.longitude}"}
        query |= {"elevation": f"{garden.elevation_m}", "timeformat": "unixtime"}
        body = serving(self.weather, lambda: now)(query)
        assert isinstance(body, bytes)
        return Answer(body, "memory")

    def parse(self, body: bytes) -> Weather:
        return parse(body)

    def facts(self, body: bytes) -> Facts:
        return facts(body)


class Daemon:
    """What a running daemon holds, ticked by hand."""

    def __init__(
        self, config: Path, settings: Settings, store: Store, sky: Sky, phone: Phone
    ) -> None:
        self.config, self.settings = config, settings
        self.store, self.sky, self.phone = store, sky, phone
        self.supply = Supply(sky, settings.garden, store.answers)
        self.services = Services([SecretStr(phone.url)])

    def tick(self, now: datetime) -> None:
        tick(self.settings, self.store, self.supply, self.services, now)


@contextmanager
def ticking(folder: Path, weather: Weather, phone: Phone) -> Iterator[Daemon]:
    """The daemon of `GARDEN` in a folder, under a sky of ``weather``."""
    config = folder / "garden.toml"
    config.write_text(GARDEN, encoding="utf-8")
    settings = load(config, {"UNDERBENCH_STORE__PATH": "underbench.db"})
    with Store.open(settings.store_path) as store:
        yield Daemon(config, settings, store, Sky(weather), phone)
