"""Places by name: Open-Meteo's geocoding service, which answers from GeoNames.

The contract is as read in the service's documentation: ``results`` is left out where nothing is
found; ``elevation`` and ``timezone`` may be missing. Not tried against the live service.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import requests

from underbench.daemon.faults import Fault

URL = "https://geocoding-api.open-meteo.com/v1/search"
TIMEOUT_S = 15.0
MOST = 8
# Errors raised on reading an answer in another form than the documented one.
BROKEN = (ValueError, TypeError, LookupError, AttributeError, ArithmeticError, RecursionError)


class NotAnswered(Fault):
    """The service could not be asked, or its answer not understood."""


@dataclass(frozen=True, slots=True)
class Found:
    """A place: its full name and where it is. ``elevation_m`` and ``timezone`` are None where the
    service does not know them."""

    name: str
    latitude: float
    longitude: float
    elevation_m: float | None
    timezone: str | None


def look_up(name: str, url: str = URL) -> list[Found]:
    """Return the places called ``name``, the best known first; empty if there are none.

    Raises NotAnswered.
    """
    asked = {"name": name, "count": str(MOST), "format": "json"}
    try:
        answer = requests.get(url, params=asked, timeout=TIMEOUT_S)
        answer.raise_for_status()
        results = answer.json().get("results", [])
        return [_found(one) for one in results]
    except (requests.RequestException, *BROKEN):
        raise NotAnswered("the place-name service did not answer, or not in its form") from None


def _found(one: dict[str, Any]) -> Found:
    parts = dict.fromkeys(one[key] for key in ("name", "admin1", "country") if one.get(key))
    elevation_m, timezone = one.get("elevation"), one.get("timezone")
    return Found(
        ", ".join(map(str, parts)),
        float(one["latitude"]),
        float(one["longitude"]),
        None if elevation_m is None else float(elevation_m),
        None if timezone is None else str(timezone),
    )
