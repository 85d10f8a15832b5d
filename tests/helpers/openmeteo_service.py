"""A weather service on the loopback, speaking Open-Meteo's form."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from math import isfinite
from threading import Thread
from types import TracebackType
from typing import Any
from urllib.parse import parse_qsl, urlsplit

import numpy as np

from underbench.rules.weather.hourly import VARIABLES, Array, Weather

Query = dict[str, str]
MOST_DECIMALS = 3
PATHS = ("/v1/forecast", "/v1/archive", "/v1/ensemble")

# Our name: the service's, its unit, and the factor to it.
_FORM = {
    "air_c": ("temperature_2m", "°C", 1.0),
    "dew_c": ("dew_point_2m", "°C", 1.0),
    "wind_ms": ("wind_speed_10m", "m/s", 1.0),
    "gust_ms": ("wind_gusts_10m", "m/s", 1.0),
    "cloud": ("cloud_cover", "%", 100.0),
    "global_wm2": ("shortwave_radiation", "W/m²", 1.0),
    "diffuse_wm2": ("diffuse_radiation", "W/m²", 1.0),
    "rain_mm": ("precipitation", "mm", 1.0),
    "pressure_kpa": ("surface_pressure", "hPa", 10.0),
    "snow_m": ("snow_depth", "m", 1.0),
}


@dataclass(frozen=True, slots=True)
class Reply:
    """What to send back; pieces of a body are sent as they come, and closing ends it."""

    body: bytes | Iterable[bytes]
    status: int = 200
    content_type: str = "application/json"


Answerer = Callable[[Query], bytes | Reply]


class StandIn:
    """Serves ``answer(query)`` at `PATHS` while entered; ``url`` is its address."""

    def __init__(self, answer: Answerer, host: str = "127.0.0.1", port: int = 0) -> None:
        self._server = _Server((host, port), _Handler)
        self._server.answer = answer
        self._thread = Thread(
            target=self._server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True
        )

    @property
    def url(self) -> str:
        """The base address to ask."""
        host, port = self._server.server_address[:2]
        return f"http://{host!s}:{port}"

    def __enter__(self) -> StandIn:
        self._thread.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()


class _Server(ThreadingHTTPServer):
    answer: Answerer


class _Handler(BaseHTTPRequestHandler):
    server: _Server
    wbufsize = -1  # head and body in one packet

    def do_GET(self) -> None:
        parts = urlsplit(self.path)
        if parts.path not in PATHS:
            reply: bytes | Reply = Reply(b'{"error":true,"reason":"Not Found"}', status=404)
        else:
            reply = self.server.answer(dict(parse_qsl(parts.query)))
        try:
            self._send(reply if isinstance(reply, Reply) else Reply(reply))
        except ConnectionError:
            self.close_connection = True  # the asker has left

    def _send(self, reply: Reply) -> None:
        self.send_response(reply.status)
        self.send_header("Content-Type", reply.content_type)
        if isinstance(reply.body, bytes):
            self.send_header("Content-Length", str(len(reply.body)))
        self.end_headers()
        for piece in [reply.body] if isinstance(reply.body, bytes) else reply.body:
            self.wfile.write(piece)
            self.wfile.flush()

    def log_message(self, format: str, *args: Any) -> None:
        """Stay silent: the asker logs requests."""


def serving(weather: Weather, now: Callable[[], datetime]) -> Answerer:
    """Return an answerer that serves ``weather`` as if it were ``now()``, at any place asked for.

    The stretch follows ``start_date`` and ``end_date``, else ``past_days`` and ``forecast_days`` (0
    and 7 when not asked). Days are UTC days, as the service has them for timezone=GMT. Hours that
    ``weather`` lacks are not sent.
    """

    def answer(query: Query) -> bytes:
        today = now().astimezone(UTC).replace(hour=0, minute=0, second=0, microsecond=0)
        first = today - timedelta(days=int(query.get("past_days", "0")))
        after = today + timedelta(days=int(query.get("forecast_days", "7")))
        if "start_date" in query:
            first, last = (_midnight(query[name]) for name in ("start_date", "end_date"))
            after = last + timedelta(days=1)
        before_s = timedelta(seconds=1)  # `between` excludes its start and includes its end
        return openmeteo_body(
            weather.between(first - before_s, after - before_s),
            latitude=float(query["latitude"]),
            longitude=float(query["longitude"]),
            elevation_m=float(query.get("elevation", "0")),
            unixtime=query.get("timeformat") == "unixtime",
        )

    return answer


MOST_BODIES = 60
_BODIES: dict[bytes, bytes] = {}


def openmeteo_body(
    weather: Weather,
    latitude: float,
    longitude: float,
    elevation_m: float,
    unixtime: bool = True,
) -> bytes:
    """Return a one-member ``weather`` as the service would write it, in UTC and SI units.

    A gap is ``null``; a variable missing throughout is all null with the unit "undefined". What
    many tests ask for is written once. Raises ValueError for more than one member.
    """
    arrays = (np.ascontiguousarray(getattr(weather, name)) for name in ("times", *VARIABLES))
    place = (latitude, longitude, elevation_m, unixtime)
    key = hashlib.sha256(b"".join([repr(place).encode(), *(one.tobytes() for one in arrays)]))
    body = _BODIES.pop(key.digest(), None) or _written(weather, *place)
    if len(_BODIES) >= MOST_BODIES:
        _BODIES.pop(next(iter(_BODIES)))
    _BODIES[key.digest()] = body  # now the latest
    return body


def _written(
    weather: Weather, latitude: float, longitude: float, elevation_m: float, unixtime: bool
) -> bytes:
    if weather.members != 1:
        raise ValueError(f"one member can be written, not {weather.members}")
    times = weather.times.tolist()
    stamps = times if unixtime else [_iso(second) for second in times]
    units, hourly = {"time": "unixtime" if unixtime else "iso8601"}, {"time": stamps}
    for name, (theirs, unit, factor) in _FORM.items():
        values = getattr(weather, name)[0] * factor
        units[theirs] = unit if np.isfinite(values).any() else "undefined"
        hourly[theirs] = _numbers(values)
    answer = {
        "latitude": latitude,
        "longitude": longitude,
        "generationtime_ms": 1.0,
        "utc_offset_seconds": 0,
        "timezone": "GMT",
        "timezone_abbreviation": "GMT",
        "elevation": elevation_m,
        "hourly_units": units,
        "hourly": hourly,
    }
    return json.dumps(answer, ensure_ascii=False, allow_nan=False).encode()


def _midnight(day: str) -> datetime:
    return datetime.fromisoformat(day).replace(tzinfo=UTC)


def _iso(second: int) -> str:
    return f"{datetime.fromtimestamp(second, tz=UTC):%Y-%m-%dT%H:%M}"


def _numbers(values: Array) -> list[float | None]:
    return [round(v, MOST_DECIMALS) if isfinite(v) else None for v in values.tolist()]
