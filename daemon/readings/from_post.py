"""Readings in the body of an HTTP POST, which the page takes from devices."""

from __future__ import annotations

import hmac
import json
from datetime import datetime
from typing import Any

from pydantic import SecretStr

from underbench.daemon.readings.parse import Known
from underbench.daemon.wording.reading_units import NoReading
from underbench.rules.garden.readings import Reading

LARGEST_BODY = 65536
MOST_AT_ONCE = 1000
_SCHEME = "bearer"


def may_post(authorization: str, token: SecretStr) -> bool:
    """Return whether a header ``Authorization: Bearer TOKEN`` holds the token that is set. The
    scheme's name may be in small letters too (RFC 9110, 11.1)."""
    scheme, _, sent = authorization.partition(" ")
    ours, theirs = token.get_secret_value().encode(), sent.encode("utf-8", errors="replace")
    return scheme.casefold() == _SCHEME and hmac.compare_digest(theirs, ours)


def readings_in(body: bytes, known: Known, now: datetime) -> list[Reading]:
    """Return the readings of a body: JSON in UTF-8, one reading or a list of them.

    Raises NoReading where one of them is none.
    """
    try:
        said = json.loads(body.decode("utf-8"))
    except (ValueError, RecursionError):
        raise NoReading("expected JSON: one reading, or a list of them") from None
    if not isinstance(said, list):
        return [_reading(said, known, now)]
    if len(said) > MOST_AT_ONCE:
        raise NoReading(f"expected {MOST_AT_ONCE} readings or fewer at once")
    readings = []
    for number, one in enumerate(said, start=1):
        try:
            readings.append(_reading(one, known, now))
        except NoReading as fault:
            raise NoReading(f"reading {number}: {fault}") from None
    return readings


def _reading(said: Any, known: Known, now: datetime) -> Reading:
    if not isinstance(said, dict):
        raise NoReading('expected a reading such as {"quantity": "air", "value": -2.5}')
    return known.reading(said, "post", now)
