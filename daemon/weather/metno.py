"""MET Norway's Locationforecast 2.0, ``complete``: asks it by its terms, and reads its answers.

Its terms (https://api.met.no/doc/TermsOfService, as summed up at second hand from its published
documentation; not tried against the live service): a User-Agent that names program and contact,
coordinates of at most four decimals, no request before ``Expires``, ``If-Modified-Since`` as the
last answer had it.

Steps are hourly for some 60 h, then every 6 h. An instant holds at its ``time``. A sum is for the
hours that **follow** it; ours are for the hour that ends, so they move on by an hour. Between
6-hourly steps instants are drawn straight (air through the lowest and highest given for the
stretch), and a sum is spread evenly. There is no radiation, no snow depth, in most places no gust,
and nothing about hours gone by.
"""

from __future__ import annotations

import json
import logging
import math
from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from itertools import pairwise
from typing import Any

import numpy as np
import requests
from numpy.typing import NDArray

from underbench.daemon.weather.http import Client, Reply
from underbench.daemon.weather.provider import (
    Answer,
    BadAnswer,
    Facts,
    NotNow,
    SupplyError,
    Throttled,
)
from underbench.rules.garden.inventory import Garden
from underbench.rules.weather.air import dew_point_c, pressure_kpa, vapour_kpa
from underbench.rules.weather.hourly import (
    HOUR_S,
    NEEDED,
    Array,
    Weather,
    drop_implausible,
    from_columns,
)

NAME = "MET Norway"
ATTRIBUTION = "Data from MET Norway (CC BY 4.0), adapted"
DECIMALS = 10_000
TAIL_H = 6
REFUSED_FOR = timedelta(days=1)
THROTTLED_FOR = timedelta(hours=1)  # judgement: no time is given, and asking on gets a ban
LATEST_S = 2**34
DEPRECATED, UNCHANGED = 203, 304

# Our name: the service's, its unit, and the factor to ours.
INSTANTS = {
    "air_c": ("air_temperature", "celsius", 1.0),
    "dew_c": ("dew_point_temperature", "celsius", 1.0),
    "humidity": ("relative_humidity", "%", 1.0),
    "wind_ms": ("wind_speed", "m/s", 1.0),
    "gust_ms": ("wind_speed_of_gust", "m/s", 1.0),
    "cloud": ("cloud_area_fraction", "%", 0.01),
    "pressure_kpa": ("air_pressure_at_sea_level", "hPa", 0.1),
}
RAIN, RAIN_UNIT = "precipitation_amount", "mm"
SPOKEN = {"air_c": "air temperature", "dew_c": "dew point or humidity", "wind_ms": "wind"}

_log = logging.getLogger(__name__)


class MetNorway:
    """The service at ``url``; it insists on ``contact`` (an address or web page)."""

    name = NAME
    attribution = ATTRIBUTION

    def __init__(
        self, url: str, contact: str, timeout_s: float, session: requests.Session | None = None
    ) -> None:
        self._client = Client(
            NAME,
            url.rstrip("/") + "/complete",
            contact,
            timeout_s,
            follows=True,
            setting="second_url",
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
        """Ask for all there is: ``past_days`` and ``forecast_days`` have no effect.

        Raises SupplyError, and NotNow when asking again soon would only get a ban.
        """
        asked = {
            "lat": _cut(garden.latitude),
            "lon": _cut(garden.longitude),
            "altitude": f"{garden.elevation_m:.0f}",
        }
        reply = self._client.get(asked, {"If-Modified-Since": held} if held else None)
        unchanged = reply.status == UNCHANGED and bool(held)
        if reply.status not in (200, DEPRECATED) and not unchanged:
            raise self._refusal(reply, now)
        if reply.status == DEPRECATED:
            _log.error(
                "%s says that this version of its service is to end (HTTP 203): update Underbench",
                NAME,
            )
        return Answer(
            body=b"" if unchanged else reply.body,
            url_without_key=self._client.bare_url(asked),
            last_modified=reply.headers.get("last-modified", held if unchanged else ""),
            expires=_http_date(reply.headers.get("expires", "")),
            unchanged=unchanged,
        )

    def parse(self, body: bytes) -> Weather:
        """Read an answer: see `parse`."""
        return parse(body)

    def facts(self, body: bytes) -> Facts:
        """Return what an answer says of itself: see `facts`."""
        return facts(body)

    def _refusal(self, reply: Reply, now: datetime) -> SupplyError:
        if reply.status == 403:
            return NotNow(
                f"{NAME} does not let us in (HTTP 403): set the weather contact to an e-mail "
                "address or web page of yours; it is left in peace for a day",
                now + REFUSED_FOR,
            )
        if reply.status == 422:
            return NotNow(
                f"{NAME} has no forecast for this place (HTTP 422): are the garden's "
                "coordinates right?",
                now + REFUSED_FOR,
            )
        if reply.status == 429:
            return Throttled((now + THROTTLED_FOR).astimezone(UTC))
        refused = BadAnswer(f"{self._client.who} refused (HTTP {reply.status})")
        return self._client.trouble(reply) or refused


def parse(body: bytes) -> Weather:
    """Return the one-member hourly weather in an answer.

    Impossible values become gaps and stay so. A missing dew point comes from relative humidity.
    Pressure at sea level is brought to the answer's altitude. Raises BadAnswer.
    """
    properties, units = _read(body)
    steps = _steps(properties)
    times = np.arange(steps[0][0], steps[-1][0] + HOUR_S, HOUR_S, dtype=np.int64)
    columns = {name: _instants(name, steps, units, times) for name in INSTANTS}
    humidity_pct = np.clip(columns.pop("humidity"), 0.0, 100.0)
    made = dew_point_c(vapour_kpa(columns["air_c"], np.where(humidity_pct, humidity_pct, np.nan)))
    columns["dew_c"] = np.where(np.isnan(columns["dew_c"]), made, columns["dew_c"])
    elevation_m = facts(body).elevation_m
    columns["pressure_kpa"] *= pressure_kpa(elevation_m or 0.0) / pressure_kpa(0.0)
    columns["rain_mm"] = _rain(steps, units, times)
    weather, dropped = drop_implausible(from_columns(times, columns))
    if dropped:
        _log.info("%s: impossible values left out: %s", NAME, dropped)
    for name in NEEDED:
        if not np.isfinite(getattr(weather, name)).any():
            raise BadAnswer(f"{NAME} sent no {SPOKEN[name]}")
    return weather


def facts(body: bytes) -> Facts:
    """Return the place an answer is for, and when its run was made. Raises BadAnswer."""
    answer = _answer(body)
    made_at = _block(_block(answer, "properties"), "meta").get("updated_at")
    place = _block(answer, "geometry").get("coordinates")
    if not isinstance(place, list) or not all(_number(one) for one in place):
        place = []
    longitude, latitude, elevation_m = (place + [None] * 3)[:3]
    return Facts(latitude, longitude, elevation_m, _moment(made_at))


def _answer(body: bytes) -> dict[str, Any]:
    if not body.strip():
        raise BadAnswer(f"{NAME} sent an empty answer")
    if body.lstrip().startswith(b"<"):
        raise BadAnswer(f"{NAME} sent a web page in place of a forecast")
    try:
        answer = json.loads(body, parse_int=float, parse_constant=lambda _: None)
    except (ValueError, RecursionError):
        raise BadAnswer(f"{NAME} sent an answer that is broken or cut short") from None
    if not isinstance(answer, dict):
        raise BadAnswer(f"{NAME} did not send a forecast")
    return answer


def _block(outer: dict[str, Any], key: str) -> dict[str, Any]:
    block = outer.get(key)
    if not isinstance(block, dict):
        raise BadAnswer(f"{NAME} sent no {key}")
    return block


def _read(body: bytes) -> tuple[dict[str, Any], dict[str, Any]]:
    properties = _block(_answer(body), "properties")
    return properties, _block(_block(properties, "meta"), "units")


Step = tuple[int, dict[str, Any]]


def _steps(properties: dict[str, Any]) -> list[Step]:
    """The answer's steps as (UTC second, data), on whole hours and in order."""
    series = properties.get("timeseries")
    if not isinstance(series, list) or not series:
        raise BadAnswer(f"{NAME} sent no hours")
    steps: list[Step] = []
    for one in series:
        at = _moment(one.get("time")) if isinstance(one, dict) else None
        data = one.get("data") if isinstance(one, dict) else None
        if at is None or not isinstance(data, dict):
            raise BadAnswer(f"{NAME} sent times that cannot be read")
        steps.append((int(at.timestamp()), data))
    apart = [after - before for (before, _), (after, _) in pairwise(steps)]
    if steps[0][0] % HOUR_S or any(gap <= 0 or gap % HOUR_S for gap in apart):
        raise BadAnswer(f"{NAME} sent times that are not hour by hour")
    if steps[-1][0] - steps[0][0] > 100 * 24 * HOUR_S:
        raise BadAnswer(f"{NAME} sent impossible times")
    return steps


def _instants(
    name: str, steps: list[Step], units: dict[str, Any], times: NDArray[np.int64]
) -> Array:
    """A variable for every hour, drawn straight between steps at most 6 h apart, else NaN."""
    theirs, unit, factor = INSTANTS[name]
    found = [
        (at, value * factor)
        for at, data in steps
        if (value := _value(data, "instant", theirs)) is not None
    ]
    out = np.full(len(times), np.nan)
    if not found:
        return out
    _expect(theirs, units, unit)
    if name == "air_c":
        found = sorted([*found, *_extremes(steps)])
    known = np.array([at for at, _ in found])
    values = np.array([value for _, value in found])
    # Nobody knows what is between two steps that are farther apart.
    near = np.searchsorted(known, times)
    gap = known[np.minimum(near, len(known) - 1)] - known[np.maximum(near - 1, 0)]
    there = (times >= known[0]) & (times <= known[-1])
    there &= np.isin(times, known) | (gap <= TAIL_H * HOUR_S)
    out[there] = np.interp(times[there], known, values)
    return out


def _extremes(steps: list[Step]) -> list[tuple[int, float]]:
    """The lowest or highest air between 6-hourly steps, where it lies beyond both of them. It is
    put in the middle. Without it, a night's frost could be lost between two steps."""
    out = []
    for (at, data), (after, later) in pairwise(steps):
        ends = [_value(one, "instant", "air_temperature") for one in (data, later)]
        known = [value for value in ends if value is not None]
        if after - at != TAIL_H * HOUR_S or not known:
            continue
        low = _value(data, "next_6_hours", "air_temperature_min")
        high = _value(data, "next_6_hours", "air_temperature_max")
        middle = at + TAIL_H * HOUR_S // 2
        if low is not None and low < min(known):
            out.append((middle, low))
        elif high is not None and high > max(known):
            out.append((middle, high))
    return out


def _rain(steps: list[Step], units: dict[str, Any], times: NDArray[np.int64]) -> Array:
    """Precipitation of the hour that ends: an hour's sum, or a sixth of a six hours' sum. The sixth
    is used only where no hourly sum follows."""
    out = np.full(len(times), np.nan)
    for period, hours in (("next_6_hours", TAIL_H), ("next_1_hours", 1)):
        # A later step knows its hours better than an earlier step's sum does.
        for at, data in steps:
            value = _value(data, period, RAIN)
            if value is None:
                continue
            _expect(RAIN, units, RAIN_UNIT)
            first = (at - int(times[0])) // HOUR_S + 1
            out[first : first + hours] = value / hours
    return out


def _value(data: dict[str, Any], period: str, theirs: str) -> float | None:
    part = data.get(period)
    details = part.get("details") if isinstance(part, dict) else None
    value = details.get(theirs) if isinstance(details, dict) else None
    return value if _number(value) else None


def _number(value: object) -> bool:
    return isinstance(value, float) and math.isfinite(value)


def _expect(theirs: str, units: dict[str, Any], unit: str) -> None:
    if units.get(theirs) != unit:
        raise BadAnswer(f"{NAME} sent {theirs} in an unknown unit: {units.get(theirs)}")


def _moment(text: object) -> datetime | None:
    try:
        moment = datetime.fromisoformat(text) if isinstance(text, str) else None
    except ValueError:
        return None
    if moment is None or moment.tzinfo is None or not 0 < moment.timestamp() < LATEST_S:
        return None
    return moment.astimezone(UTC)


def _cut(degrees: float) -> str:
    """Four decimals, cut and not rounded, as the service asks."""
    return f"{math.trunc(round(degrees * DECIMALS, 4)) / DECIMALS:.4f}"


def _http_date(text: str) -> datetime | None:
    try:
        moment = parsedate_to_datetime(text)
    except (ValueError, TypeError):
        return None
    return moment.replace(tzinfo=moment.tzinfo or UTC).astimezone(UTC)
