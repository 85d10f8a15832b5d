"""Open-Meteo: asking for hourly weather, and reading the answer.

The request is always in UTC and for hourly values: the service applies one UTC offset, that of the
moment of asking, to a whole series and to its daily windows, which is wrong across a change of
clocks. Contract as read in the service's published source (open-meteo/open-meteo) and its
documentation; none of it was tried against the live service.
"""

from __future__ import annotations

import json
import logging
import math
from collections.abc import Callable, Mapping
from concurrent.futures import Future
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from importlib import metadata
from threading import Thread
from typing import Any, TypeVar
from urllib.parse import quote_plus, urlencode, urlsplit

import numpy as np
import requests
import urllib3
from numpy.typing import NDArray
from pydantic import SecretStr
from requests.adapters import HTTPAdapter

from underbench.daemon.weather.supply import Answer, BadAnswer, SupplyError, Throttled, Unreachable
from underbench.rules.air import dew_point_c, vapour_kpa
from underbench.rules.garden import Garden
from underbench.rules.weather import (
    HOUR_S,
    NEEDED,
    Array,
    Weather,
    bridge_gaps,
    drop_implausible,
    from_columns,
)

NAME = "Open-Meteo"
ATTRIBUTION = "Weather data by Open-Meteo.com (CC BY 4.0), adapted"
MOST_PAST_DAYS = 92
MOST_BYTES = 20_000_000  # a hundred days of ten variables are well under one
CHUNK_BYTES = 65_536
DEADLINE_PER_TIMEOUT = 4  # connecting, three tries and their pauses
LATEST_S = 2**34  # year 2514: a stamp beyond is milliseconds or nonsense

_log = logging.getLogger(__name__)
_T = TypeVar("_T")

# What the service's unit strings mean, as (factor, addend) to our units.
Units = Mapping[str, tuple[float, float]]
TEMPERATURE: Units = {"°C": (1, 0), "°F": (5 / 9, -160 / 9)}
SPEED: Units = {
    "m/s": (1, 0),
    "km/h": (1 / 3.6, 0),
    "mp/h": (0.44704, 0),  # the service's own spelling
    "kn": (1852 / 3600, 0),
}
RADIATION: Units = {"W/m²": (1, 0)}

# Our name: the service's spellings, the one asked for first, and the units it may come in.
# Instants: temperature, dew point, wind, cloud, pressure, snow depth. For the preceding hour:
# gust (maximum), radiation (mean), precipitation (sum): as `Weather` has them.
COLUMNS: dict[str, tuple[tuple[str, ...], Units]] = {
    "air_c": (("temperature_2m",), TEMPERATURE),
    "dew_c": (("dew_point_2m", "dewpoint_2m"), TEMPERATURE),
    "wind_ms": (("wind_speed_10m", "windspeed_10m"), SPEED),
    "gust_ms": (("wind_gusts_10m", "windgusts_10m"), SPEED),
    "cloud": (("cloud_cover", "cloudcover"), {"%": (0.01, 0)}),
    "global_wm2": (("shortwave_radiation",), RADIATION),
    "diffuse_wm2": (("diffuse_radiation",), RADIATION),
    "rain_mm": (("precipitation",), {"mm": (1, 0), "inch": (25.4, 0)}),
    "pressure_kpa": (("surface_pressure",), {"hPa": (0.1, 0)}),
    "snow_m": (("snow_depth",), {"m": (1, 0), "ft": (0.3048, 0)}),
}
HUMIDITY = (("relative_humidity_2m", "relativehumidity_2m"), {"%": (1.0, 0.0)})
HOURLY = ",".join(spellings[0] for spellings, _ in [*COLUMNS.values(), HUMIDITY])
SPOKEN = {"air_c": "air temperature", "dew_c": "dew point or humidity", "wind_ms": "wind"}


@dataclass(frozen=True, slots=True)
class _Reply:
    status: int
    body: bytes
    location: str


class OpenMeteo:
    """The forecast service at ``base_url``, free or paid (``api_key``), or one's own.

    ``contact`` tells the service whom to write to. ``timeout_s`` is the longest silence while
    connecting or reading; the whole fetch ends after `DEADLINE_PER_TIMEOUT` times as long.
    """

    name = NAME
    attribution = ATTRIBUTION
    path = "/v1/forecast"

    def __init__(
        self,
        base_url: str,
        api_key: SecretStr | None,
        contact: str,
        timeout_s: float,
        session: requests.Session | None = None,
    ) -> None:
        self._url = base_url.rstrip("/") + self.path
        self._host = urlsplit(base_url).hostname or "base_url"
        self._key = api_key.get_secret_value().strip() if api_key else ""
        self._agent = _user_agent(contact)
        self._timeout_s = timeout_s
        self._session = session or _session()
        if self._host in ("127.0.0.1", "localhost", "::1"):
            self._session.trust_env = False  # no proxy knows this machine's own loopback
        if self._key:
            _hide_in_logs(self._key)

    def fetch(self, garden: Garden, past_days: int, forecast_days: int, now: datetime) -> Answer:
        """Ask for ``past_days`` (at most 92 are sent) and ``forecast_days`` of hourly weather.

        ``now`` (aware) only serves to say when a spent allowance is renewed. Raises Unreachable,
        Throttled or BadAnswer; none of them holds the key.
        """
        past, ahead = str(min(past_days, MOST_PAST_DAYS)), str(forecast_days)
        return self.ask(garden, {"past_days": past, "forecast_days": ahead}, now)

    def ask(self, garden: Garden, stretch: Mapping[str, str], now: datetime) -> Answer:
        """Ask for hourly weather over a ``stretch`` in the service's own words; see `fetch`."""
        asked = {**_question(garden), **stretch}
        reply = self._within_deadline(lambda: self._get(asked))
        if reply.status != 200:
            raise self._refusal(reply, now)
        parts = urlsplit(f"{self._url}?{urlencode(asked)}")
        bare = parts._replace(netloc=parts.netloc.rpartition("@")[2])
        return Answer(body=reply.body, url_without_key=bare.geturl())

    def parse(self, body: bytes) -> Weather:
        """Read an answer: see `parse`."""
        return parse(body)

    def _get(self, asked: dict[str, str]) -> _Reply:
        try:
            with self._session.get(
                self._url,
                params=asked | ({"apikey": self._key} if self._key else {}),
                headers={"User-Agent": self._agent},
                timeout=(self._timeout_s, self._timeout_s),
                allow_redirects=False,  # would carry the key to wherever it points
                stream=True,
            ) as response:
                location = response.headers.get("Location", "")
                return _Reply(response.status_code, _read(response), location)
        except (requests.RequestException, urllib3.exceptions.HTTPError, ValueError) as error:
            trouble = _trouble(error)
        # Raised out here so that it does not carry the original, whose text holds the key.
        raise Unreachable(f"the weather service at {self._host} {trouble}")

    def _within_deadline(self, work: Callable[[], _T]) -> _T:
        # A thread, since name look-ups and servers that drip a byte at a time outlast any socket
        # time-out; a daemon, so that one still hanging cannot hold up the end of the program.
        future: Future[_T] = Future()

        def run() -> None:
            try:
                future.set_result(work())
            except BaseException as error:
                future.set_exception(error)

        Thread(target=run, name="open-meteo", daemon=True).start()
        deadline_s = DEADLINE_PER_TIMEOUT * self._timeout_s
        try:
            return future.result(timeout=deadline_s)
        except TimeoutError:
            late = f"took longer than {deadline_s:g} s"
        raise Unreachable(f"the weather service at {self._host} {late}")

    def _refusal(self, reply: _Reply, now: datetime) -> SupplyError:
        reason = _hidden(_reason(reply.body), self._key)
        who = f"the weather service at {self._host}"
        if reply.status == 429:
            return Throttled(allowance_renewed(reason, now))
        if reply.status >= 500:
            return Unreachable(f"{who} is down or overloaded (HTTP {reply.status})")
        if 300 <= reply.status < 400:
            there = urlsplit(reply.location).hostname or "another address"
            return Unreachable(f"{who} sends us on to {there}: set that as the weather base_url")
        return BadAnswer(f"{who} refused: {reason or 'no reason given'} (HTTP {reply.status})")


def allowance_renewed(reason: str, now: datetime) -> datetime:
    """Return when a spent allowance is renewed, UTC, from the service's reason text.

    No Retry-After is sent; counters are cleared on the full minute, the full hour and at 00:00
    UTC (open-meteo/open-meteo, RateLimiter.swift). An unknown reason waits for the full hour.
    """
    text, now = reason.lower(), now.astimezone(UTC)
    minute = now.replace(second=0, microsecond=0)
    if "minut" in text or "concurrent" in text:
        return minute + timedelta(minutes=1)
    if "daily" in text or "tomorrow" in text:
        return minute.replace(hour=0, minute=0) + timedelta(days=1)
    return minute.replace(minute=0) + timedelta(hours=1)


def parse(body: bytes) -> Weather:
    """Return the one-member weather in an answer of the service.

    Believes what the answer says of its units and times, not what was asked for. Impossible values
    become gaps, gaps of up to three hours are bridged, a missing dew point is made from relative
    humidity. Raises BadAnswer.
    """
    answer = _answer(body)
    hourly, units = (_block(answer, key) for key in ("hourly", "hourly_units"))
    times = _times(hourly.get("time"), units.get("time"), answer.get("utc_offset_seconds", 0.0))
    found = {name: _column(hourly, units, len(times), *spec) for name, spec in COLUMNS.items()}
    columns = {name: values for name, values in found.items() if values is not None}
    weather, dropped = drop_implausible(from_columns(times, columns))
    if dropped:
        _log.info("%s: impossible values left out: %s", NAME, dropped)
    humidity_pct = _column(hourly, units, len(times), *HUMIDITY)
    if humidity_pct is not None:
        weather = _with_dew(weather, humidity_pct)
    for name in NEEDED:
        if not np.isfinite(getattr(weather, name)).any():
            raise BadAnswer(f"{NAME} sent no {SPOKEN[name]}")
    return bridge_gaps(weather)


def _question(garden: Garden) -> dict[str, str]:
    return {
        "latitude": f"{garden.latitude:.4f}",
        "longitude": f"{garden.longitude:.4f}",
        "elevation": f"{garden.elevation_m:.1f}",
        "hourly": HOURLY,
        "wind_speed_unit": "ms",
        "timezone": "GMT",
        "timeformat": "unixtime",
    }


def _session() -> requests.Session:
    # No second try after a read time-out: the service is still working on the first.
    tries = urllib3.Retry(
        total=2,
        read=False,
        backoff_factor=1,
        status_forcelist=(500, 502, 503, 504),
        allowed_methods=("GET",),
        raise_on_status=False,
        respect_retry_after_header=False,
    )
    session = requests.Session()
    for scheme in ("https://", "http://"):
        session.mount(scheme, HTTPAdapter(max_retries=tries))
    return session


def _user_agent(contact: str) -> bytes:
    try:
        version = metadata.version("underbench")
    except metadata.PackageNotFoundError:
        version = "uninstalled"
    whom = " ".join(contact.split())
    return (f"Underbench/{version} (+{whom})" if whom else f"Underbench/{version}").encode()


def _read(response: requests.Response) -> bytes:
    body = bytearray()
    while chunk := response.raw.read1(CHUNK_BYTES, decode_content=True):
        body += chunk
        if len(body) > MOST_BYTES:
            raise BadAnswer(f"{NAME} sent more than {MOST_BYTES / 1e6:g} MB")
    return bytes(body)


def _trouble(error: Exception) -> str:
    timeouts = (requests.Timeout, urllib3.exceptions.TimeoutError)
    if isinstance(error, timeouts):
        return "did not answer in time"
    if isinstance(error, requests.exceptions.SSLError):
        return "has a certificate this machine does not trust; is its date right?"
    if isinstance(error, requests.ConnectionError):
        return "cannot be reached; is the network up?"
    if isinstance(error, urllib3.exceptions.HTTPError):
        return "broke off in the middle of its answer"
    return "cannot be asked or understood; is base_url written correctly?"


def _hide_in_logs(key: str) -> None:
    # urllib3 writes addresses, and so the key, into its log: a retry even as a warning.
    def hide(record: logging.LogRecord) -> bool:
        record.msg, record.args = _hidden(record.getMessage(), key), ()
        return True

    for name in ("urllib3.connectionpool", "urllib3.util.retry"):
        logging.getLogger(name).addFilter(hide)


def _hidden(text: str, key: str) -> str:
    if not key:
        return text
    return text.replace(key, "***").replace(quote_plus(key), "***")


def _reason(body: bytes) -> str:
    try:
        answer = json.loads(body)
    except (ValueError, RecursionError):
        return ""
    reason = answer.get("reason", "") if isinstance(answer, dict) else ""
    return " ".join(str(reason).split())[:200]


def _answer(body: bytes) -> dict[str, Any]:
    if not body.strip():
        raise BadAnswer(f"{NAME} sent an empty answer")
    if body.lstrip().startswith(b"<"):
        raise BadAnswer(f"{NAME} sent a web page in place of a forecast")
    try:
        answer = json.loads(body, parse_int=float, parse_constant=lambda _: None)
    except (ValueError, RecursionError):
        raise BadAnswer(f"{NAME} sent an answer that is broken or cut short") from None
    if isinstance(answer, list) and len(answer) == 1:
        answer = answer[0]
    if not isinstance(answer, dict):
        raise BadAnswer(f"{NAME} did not send a forecast for one place")
    if answer.get("error"):
        raise BadAnswer(f"{NAME} refused: {_reason(body) or 'no reason given'}")
    return answer


def _block(answer: dict[str, Any], key: str) -> dict[str, Any]:
    block = answer.get(key)
    if not isinstance(block, dict):
        raise BadAnswer(f"{NAME} sent no {key}")
    return block


def _times(stamps: object, unit: object, offset_s: object) -> NDArray[np.int64]:
    if not isinstance(stamps, list) or not stamps:
        raise BadAnswer(f"{NAME} sent no hours")
    if not isinstance(offset_s, float) or not abs(offset_s) < 24 * HOUR_S:
        raise BadAnswer(f"{NAME} sent an impossible UTC offset")
    try:
        seconds = _utc_seconds(stamps, unit, offset_s)
    except (ValueError, TypeError):
        raise BadAnswer(f"{NAME} sent times that cannot be read") from None
    # Where the offset has half or quarter hours the service reads the weather at the offset cut to
    # whole hours (towards zero) but labels it with the true one: ForecastapiQuery.swift.
    seconds = seconds + math.fmod(offset_s, HOUR_S)
    if not ((seconds > 0) & (seconds < LATEST_S)).all():
        raise BadAnswer(f"{NAME} sent impossible times")
    if seconds[0] % HOUR_S or (np.diff(seconds) != HOUR_S).any():
        raise BadAnswer(f"{NAME} sent times that are not hour by hour")
    return seconds.astype(np.int64)


def _utc_seconds(stamps: list[Any], unit: object, offset_s: float) -> Array:
    if unit == "unixtime" and all(isinstance(stamp, float) for stamp in stamps):
        return np.array(stamps)
    if unit != "iso8601":
        raise ValueError(f"time unit {unit}")
    clock = [datetime.fromisoformat(stamp) for stamp in stamps]
    if any(moment.tzinfo for moment in clock):
        raise ValueError("local times with an offset of their own")
    return np.array([moment.replace(tzinfo=UTC).timestamp() for moment in clock]) - offset_s


def _column(
    hourly: dict[str, Any],
    units: dict[str, Any],
    hours: int,
    spellings: tuple[str, ...],
    known_units: Units,
) -> Array | None:
    # The 2021 server wrote data under the new spelling and the unit under the old.
    values = next((hourly[name] for name in spellings if name in hourly), None)
    unit = next((units[name] for name in spellings if name in units), None)
    if values is None or unit == "undefined":
        return None
    name = spellings[0]
    if not isinstance(unit, str) or unit not in known_units:
        raise BadAnswer(f"{NAME} sent {name} in an unknown unit: {unit}")
    if not isinstance(values, list) or len(values) != hours:
        raise BadAnswer(f"{NAME} sent {name} not for every hour")
    if not all(value is None or isinstance(value, float) for value in values):
        raise BadAnswer(f"{NAME} sent {name} that is not all numbers")
    factor, addend = known_units[unit]
    return np.array(values, dtype=float) * factor + addend


def _with_dew(weather: Weather, humidity_pct: Array) -> Weather:
    # Models let humidity run a little over 100; far over, or none at all, is a broken value.
    sound = (humidity_pct > 0) & (humidity_pct <= 110)
    capped = np.where(sound, np.minimum(humidity_pct, 100.0), np.nan)
    made = dew_point_c(vapour_kpa(weather.air_c, capped[None, :]))
    return replace(weather, dew_c=np.where(np.isnan(weather.dew_c), made, weather.dew_c))
