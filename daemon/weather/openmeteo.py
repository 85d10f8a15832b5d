"""Open-Meteo: asks for hourly weather, and reads the answer.

The request is always in UTC and for hourly values. The service applies one UTC offset, that of the
moment of asking, to a whole series and to its daily windows; that is wrong across a change of
clocks. The contract is as read in the service's published source (open-meteo/open-meteo) and its
documentation; none of it was tried against the live service.
"""

from __future__ import annotations

import json
import logging
import math
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import requests
from numpy.typing import NDArray
from pydantic import SecretStr

from underbench.daemon.weather.http import Client, Reply
from underbench.daemon.weather.provider import (
    Answer,
    BadAnswer,
    Facts,
    SupplyError,
    Throttled,
    elevation_of,
)
from underbench.rules.garden.inventory import Garden
from underbench.rules.weather.air import dew_point_c, vapour_kpa
from underbench.rules.weather.hourly import (
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
LATEST_S = 2**34  # year 2514: a later stamp is milliseconds or nonsense

_log = logging.getLogger(__name__)

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

# Our name: the service's spellings (the one asked for comes first), and the units it may come in.
# Temperature, dew point, wind, cloud, pressure and snow depth are instants. Gust (maximum),
# radiation (mean) and precipitation (sum) are for the preceding hour. `Weather` has them alike.
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


class OpenMeteo:
    """The forecast service at ``base_url``: free, paid (``api_key``), or the keeper's own.

    ``contact`` and ``timeout_s``: see `Client`.
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
        key = api_key.get_secret_value().strip() if api_key else ""
        self._client = Client(
            NAME,
            base_url.rstrip("/") + self.path,
            contact,
            timeout_s,
            key=("apikey", key) if key else None,
            session=session,
        )

    def fetch(
        self,
        garden: Garden,
        past_days: int,
        forecast_days: int,
        now: datetime,
        held: str = "",
    ) -> Answer:
        """Ask for ``past_days`` (at most 92 are sent) and ``forecast_days`` of hourly weather.

        ``now`` (aware) only serves to say when a spent allowance is renewed. The service knows no
        conditional requests, so ``held`` is not sent. Raises Unreachable, Throttled or BadAnswer;
        none of them holds the key.
        """
        past, ahead = str(min(past_days, MOST_PAST_DAYS)), str(forecast_days)
        return self.ask(garden, {"past_days": past, "forecast_days": ahead}, now)

    def ask(self, garden: Garden, stretch: Mapping[str, str], now: datetime) -> Answer:
        """Ask for hourly weather over a ``stretch`` in the service's own words; see `fetch`."""
        asked = {**_question(garden), **stretch}
        reply = self._client.get(asked)
        if reply.status != 200:
            raise self._refusal(reply, now)
        return Answer(body=reply.body, url_without_key=self._client.bare_url(asked))

    def parse(self, body: bytes) -> Weather:
        """Read an answer: see `parse`."""
        return parse(body)

    def facts(self, body: bytes) -> Facts:
        """Return what an answer says of itself: see `facts`."""
        return facts(body)

    def _refusal(self, reply: Reply, now: datetime) -> SupplyError:
        reason = self._client.hidden(_reason(reply.body))
        if reply.status == 429:
            return Throttled(allowance_renewed(reason, now))
        refused = f"{self._client.who} refused: {reason or 'no reason given'}"
        return self._client.trouble(reply) or BadAnswer(f"{refused} (HTTP {reply.status})")


def allowance_renewed(reason: str, now: datetime) -> datetime:
    """Return when a spent allowance is renewed, UTC, from the service's reason text.

    The service sends no Retry-After. It clears its counters on the full minute, the full hour and
    at 00:00 UTC (open-meteo/open-meteo, RateLimiter.swift). An unknown reason waits for the full
    hour.
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

    The answer's own units and times count, not those asked for. Impossible values become gaps, and
    gaps of up to three hours are bridged. A missing dew point comes from relative humidity. Raises
    BadAnswer.
    """
    answer = read_answer(body)
    hourly, units = (read_block(answer, key) for key in ("hourly", "hourly_units"))
    times = read_times(hourly.get("time"), units.get("time"), answer.get("utc_offset_seconds", 0.0))
    found = {name: read_column(hourly, units, len(times), *spec) for name, spec in COLUMNS.items()}
    columns = {name: values for name, values in found.items() if values is not None}
    weather, dropped = drop_implausible(from_columns(times, columns))
    if dropped:
        _log.info("%s: impossible values left out: %s", NAME, dropped)
    humidity_pct = read_column(hourly, units, len(times), *HUMIDITY)
    if humidity_pct is not None:
        weather = _with_dew(weather, humidity_pct)
    for name in NEEDED:
        if not np.isfinite(getattr(weather, name)).any():
            raise BadAnswer(f"{NAME} sent no {SPOKEN[name]}")
    return bridge_gaps(weather)


def facts(body: bytes) -> Facts:
    """Return the place of an answer's cell; the answer does not tell its run. Raises BadAnswer,
    also for an elevation that cannot be."""
    answer = read_answer(body)
    named = {name: answer.get(name) for name in ("latitude", "longitude", "elevation")}
    latitude, longitude, elevation_m = (
        value if isinstance(value, float) else None for value in named.values()
    )
    return Facts(latitude, longitude, elevation_of(NAME, elevation_m))


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


def _reason(body: bytes) -> str:
    try:
        answer = json.loads(body)
    except (ValueError, RecursionError):
        return ""
    reason = answer.get("reason", "") if isinstance(answer, dict) else ""
    return " ".join(str(reason).split())[:200]


def read_answer(body: bytes) -> dict[str, Any]:
    """Return the JSON object of an answer; raises BadAnswer if it is none."""
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


def read_block(answer: dict[str, Any], key: str) -> dict[str, Any]:
    """Return an answer's ``hourly`` or ``hourly_units``; raises BadAnswer without it."""
    block = answer.get(key)
    if not isinstance(block, dict):
        raise BadAnswer(f"{NAME} sent no {key}")
    return block


def read_times(stamps: object, unit: object, offset_s: object) -> NDArray[np.int64]:
    """Return an answer's hours as UTC seconds, one hour apart; raises BadAnswer."""
    if not isinstance(stamps, list) or not stamps:
        raise BadAnswer(f"{NAME} sent no hours")
    if not isinstance(offset_s, float) or not abs(offset_s) < 24 * HOUR_S:
        raise BadAnswer(f"{NAME} sent an impossible UTC offset")
    try:
        seconds = _utc_seconds(stamps, unit, offset_s)
    except (ValueError, TypeError):
        raise BadAnswer(f"{NAME} sent times that cannot be read") from None
    # If the offset has half or quarter hours, the service reads the weather at the offset cut to
    # whole hours (towards zero) but labels it with the true offset: ForecastapiQuery.swift.
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


def read_column(
    hourly: dict[str, Any],
    units: dict[str, Any],
    hours: int,
    spellings: tuple[str, ...],
    known_units: Units,
) -> Array | None:
    """Return a variable in our unit, (hour,), NaN where null; None where the answer has none.

    Raises BadAnswer for an unknown unit, another length, or values that are no numbers.
    """
    # The server of 2021 wrote data under the new spelling and the unit under the old.
    values = next((hourly[name] for name in spellings if name in hourly), None)
    unit = next((units[name] for name in spellings if name in units), None)
    if values is None or unit == "undefined":
        return None
    name = spellings[0]
    if not isinstance(unit, str) or unit not in known_units:
        raise BadAnswer(f"{NAME} sent {name} in an unknown unit: {unit}")
    if not isinstance(values, list) or len(values) != hours:
        raise BadAnswer(f"{NAME} sent {name} not for every hour")
    if not {float, type(None)}.issuperset(map(type, values)):  # quick: there are many
        raise BadAnswer(f"{NAME} sent {name} that is not all numbers")
    factor, addend = known_units[unit]
    return np.array(values, dtype=float) * factor + addend


def _with_dew(weather: Weather, humidity_pct: Array) -> Weather:
    # Models let humidity run a little over 100; far over 100, or zero, is a broken value.
    sound = (humidity_pct > 0) & (humidity_pct <= 110)
    capped = np.where(sound, np.minimum(humidity_pct, 100.0), np.nan)
    made = dew_point_c(vapour_kpa(weather.air_c, capped[None, :]))
    return replace(weather, dew_c=np.where(np.isnan(weather.dew_c), made, weather.dew_c))
