"""What was forecast for each night, and the correction learned from it.

There are three leads for each night and place, some 400 bytes each: 0.5 MB a year and place.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

import numpy as np

from underbench.daemon.store.database import Opened, moment, seconds
from underbench.rules.weather.hourly import Array


@dataclass(frozen=True, slots=True)
class NightForecast:
    """The lowest air of a night as forecast ``lead_h`` before six o'clock of its morning.

    ``spot`` None is the garden. ``forecast_c`` is as the service had it, for a spot with what its
    ground takes; ``corrected_c`` is as learned by then. ``plain_c`` and ``members_c`` (member,) are
    the same as members. ``clear_calm``, ``centre_k`` and ``variance_k2`` are those of the coldest
    hour, as a `Pair` has them.
    """

    night_end: datetime
    spot: str | None
    lead_h: int
    coldest_at: datetime
    forecast_c: float
    corrected_c: float
    plain_c: Array
    members_c: Array
    clear_calm: float
    centre_k: float
    variance_k2: float


class Learning(Opened):
    """Forecasts of nights, and what was learned, in the state database. Raises StoreError."""

    def keep_night(self, row: NightForecast) -> None:
        """Keep a forecast of a night, unless one with that lead is kept."""
        night = [seconds(row.night_end), row.spot or "", row.lead_h, seconds(row.coldest_at)]
        lows = [row.forecast_c, row.corrected_c, _text(row.plain_c, 1), _text(row.members_c, 1)]
        self._write(
            "INSERT OR IGNORE INTO night_forecast (night_end, spot, lead_h, coldest_at, forecast_c,"
            " corrected_c, plain, members, clear_calm, centre_k, variance_k2)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
            [[*night, *lows, row.clear_calm, row.centre_k, row.variance_k2]],
        )

    def nights(self, since: datetime, until: datetime) -> list[NightForecast]:
        """Return what was forecast for nights with since < end ≤ until, oldest first."""
        rows = self._rows(
            "SELECT * FROM night_forecast WHERE night_end > ? AND night_end <= ?"
            " ORDER BY night_end, spot, lead_h",
            (seconds(since), seconds(until)),
        )
        return self._readable(rows, _night, "the forecast of a night")

    def forget_nights(self, before: datetime) -> None:
        """Forget forecasts of nights that ended before ``before``."""
        self._write("DELETE FROM night_forecast WHERE night_end < ?", [(seconds(before),)])

    def keep(self, text: str, until: datetime) -> None:
        """Keep what was learned from the nights until then; it replaces what was kept."""
        self._write(
            "INSERT OR REPLACE INTO learned (id, until, state) VALUES (1, ?, ?)",
            [(seconds(until), text)],
        )

    def learned(self) -> tuple[str, datetime] | None:
        """Return what was learned, and until when; None before there was anything."""
        for row in self._rows("SELECT state, until FROM learned"):
            return row["state"], moment(row["until"])
        return None


def _text(values: Array, digits: int) -> str:
    return json.dumps([round(value, digits) for value in values.tolist()], separators=(",", ":"))


def _night(row: dict[str, Any]) -> NightForecast:
    return NightForecast(
        night_end=moment(row["night_end"]),
        spot=row["spot"] or None,
        lead_h=row["lead_h"],
        coldest_at=moment(row["coldest_at"]),
        forecast_c=row["forecast_c"],
        corrected_c=row["corrected_c"],
        plain_c=np.array(json.loads(row["plain"]), float),
        members_c=np.array(json.loads(row["members"]), float),
        clear_calm=row["clear_calm"],
        centre_k=row["centre_k"],
        variance_k2=row["variance_k2"],
    )
