"""MET Norway's service on the loopback, by its terms, for the tests.

Forms and headers follow the service's documentation; the values are the test's own weather.
"""

from __future__ import annotations

import json
from datetime import UTC, datetime, timedelta
from email.utils import format_datetime
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from threading import Thread
from typing import Any
from urllib.parse import parse_qsl, urlsplit

import numpy as np

from underbench.rules.weather.air import relative_humidity_pct
from underbench.rules.weather.hourly import HOUR_S, Weather

HOURLY_H, LAST_H, EXPIRES_AFTER = 60, 204, timedelta(minutes=31)
PATH = "/weatherapi/locationforecast/2.0"
UNITS = {
    "air_pressure_at_sea_level": "hPa",
    "air_temperature": "celsius",
    "cloud_area_fraction": "%",
    "dew_point_temperature": "celsius",
    "precipitation_amount": "mm",
    "relative_humidity": "%",
    "wind_speed": "m/s",
}


def met_body(
    weather: Weather, at: datetime, lat: float, lon: float, altitude: float, made_at: datetime
) -> bytes:
    """``weather`` from the whole hour of ``at`` on, as the service writes it. Steps are hourly and
    then 6-hourly; sums are for the hours that follow."""
    first = int(at.timestamp()) // HOUR_S * HOUR_S
    begin = int(np.searchsorted(weather.times, first))
    last = min(LAST_H, weather.hours - begin - 1)
    hours = [h for h in range(last + 1) if h <= HOURLY_H or h % 6 == 0]
    series = [_step(weather, begin + h, h <= HOURLY_H - 1, last - h) for h in hours]
    meta = {"updated_at": f"{made_at:%Y-%m-%dT%H:%M:%SZ}", "units": UNITS}
    return json.dumps(
        {
            "type": "Feature",
            "geometry": {"type": "Point", "coordinates": [lon, lat, altitude]},
            "properties": {"meta": meta, "timeseries": series},
        }
    ).encode()


def _step(weather: Weather, i: int, hourly: bool, left_h: int) -> dict[str, Any]:
    air, dew = float(weather.air_c[0, i]), float(weather.dew_c[0, i])
    cloud = float(np.nan_to_num(weather.cloud[0, i], nan=0.0))
    details = {
        "air_pressure_at_sea_level": 1015.0,
        "air_temperature": round(air, 1),
        "cloud_area_fraction": round(100 * cloud, 1),
        "dew_point_temperature": round(dew, 1),
        "relative_humidity": round(float(relative_humidity_pct(air, dew)), 1),
        "wind_speed": round(float(weather.wind_ms[0, i]), 1),
    }
    data: dict[str, Any] = {"instant": {"details": details}}
    rain = np.nan_to_num(weather.rain_mm[0])
    if hourly and left_h >= 1:
        data["next_1_hours"] = {"details": {"precipitation_amount": round(float(rain[i + 1]), 1)}}
    if left_h >= 6:
        six = round(float(rain[i + 1 : i + 7].sum()), 1)
        data["next_6_hours"] = {"details": {"precipitation_amount": six}}
    moment = datetime.fromtimestamp(int(weather.times[i]), tz=UTC)
    return {"time": f"{moment:%Y-%m-%dT%H:%M:%SZ}", "data": data}


class MetService:
    """The service while entered. It answers with ``status`` if that is not 200. ``asked`` are the
    queries; ``headers`` are what came with them. Moving ``made_at`` makes a new run."""

    def __init__(self, weather: Weather, now: datetime) -> None:
        self.weather, self.now, self.made_at = weather, now, now - timedelta(hours=2)
        self.status = 200
        self.asked: list[dict[str, str]] = []
        self.headers: list[dict[str, str]] = []
        self._server = _Server(("127.0.0.1", 0), _Handler)
        self._server.service = self
        self._thread = Thread(
            target=self._server.serve_forever, kwargs={"poll_interval": 0.02}, daemon=True
        )

    @property
    def url(self) -> str:
        """The address to set as second_url."""
        return f"http://127.0.0.1:{self._server.server_address[1]}{PATH}"

    def __enter__(self) -> MetService:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()

    def reply(self, query: dict[str, str], since: str) -> tuple[int, dict[str, str], bytes]:
        """Status, headers and body of an answer."""
        modified = format_datetime(self.made_at, usegmt=True)
        headers = {
            "Last-Modified": modified,
            "Expires": format_datetime(self.now + EXPIRES_AFTER, usegmt=True),
            "Content-Type": "application/json",
        }
        if self.status == 200 and since == modified:
            return 304, headers, b""
        if self.status not in (200, 203):
            return self.status, {"Content-Type": "text/html"}, b"<html>no</html>"
        place = (float(query[name]) for name in ("lat", "lon", "altitude"))
        return self.status, headers, met_body(self.weather, self.now, *place, self.made_at)


class _Server(ThreadingHTTPServer):
    service: MetService


class _Handler(BaseHTTPRequestHandler):
    server: _Server

    def do_GET(self) -> None:
        parts, service = urlsplit(self.path), self.server.service
        query = dict(parse_qsl(parts.query))
        service.asked.append(query)
        service.headers.append({name.lower(): value for name, value in self.headers.items()})
        if parts.path != f"{PATH}/complete":
            status, headers, body = 404, {}, b"<html>404</html>"
        else:
            status, headers, body = service.reply(query, self.headers.get("If-Modified-Since", ""))
        self.send_response(status)
        for name, value in headers.items():
            self.send_header(name, value)
        self.send_header("Content-Length", str(len(body)))
        self.end_headers()
        self.wfile.write(body)

    def log_message(self, format: str, *args: Any) -> None:
        """Stay silent."""
