"""Weather as it was used, hour by hour, and days of earlier years."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from underbench.daemon.store.database import Opened, seconds
from underbench.rules.course.course import DAY_S
from underbench.rules.weather.hourly import HOUR_S, NEEDED, VARIABLES, Weather, from_columns

MOST_OF_A_DAY_H = 20


class Hours(Opened):
    """Hours and days gone by in the state database. All methods raise StoreError."""

    def keep(self, weather: Weather) -> None:
        """Keep the hours of a one-member weather.

        A kept value never changes; only gaps are filled. Hours without any known value are ignored.

        Raises ValueError for more than one member.
        """
        if weather.members != 1:
            raise ValueError(f"one past is kept, not {weather.members}")
        values = np.column_stack([getattr(weather, name)[0] for name in VARIABLES])
        lacking = np.isnan(values)
        some = ~lacking.all(axis=1)
        cells = values.astype(object)
        cells[lacking] = None
        times = weather.times[some].tolist()
        rows = [(at, *row) for at, row in zip(times, cells[some].tolist(), strict=True)]
        heal = ", ".join(f"{name} = coalesce(hour.{name}, excluded.{name})" for name in VARIABLES)
        self._write(
            f"INSERT INTO hour (at, {', '.join(VARIABLES)})"
            f" VALUES (?{', ?' * len(VARIABLES)}) ON CONFLICT (at) DO UPDATE SET {heal}",
            rows,
        )

    def between(self, start: datetime, end: datetime) -> Weather:
        """Return the kept hours with start < time ≤ end, from the first known to the last known.

        Missing hours in between are NaN. If no hours are kept, the weather has none.
        """
        rows = self._tuples(
            f"SELECT at, {', '.join(VARIABLES)} FROM hour WHERE at > ? AND at <= ? ORDER BY at",
            (seconds(start), seconds(end)),
        )
        known = np.array([row[0] for row in rows], dtype=np.int64)
        times = np.arange(known[0], known[-1] + 1, HOUR_S) if rows else known
        values = np.full((len(VARIABLES), len(times)), np.nan)
        if rows:
            values[:, np.searchsorted(times, known)] = np.array(rows, dtype=float)[:, 1:].T
        return from_columns(times, dict(zip(VARIABLES, values, strict=True)))

    def known(self, start: datetime, end: datetime) -> NDArray[np.int64]:
        """Return the hours (UTC seconds, in order) with all needed values; start < time ≤ end."""
        there = " AND ".join(f"{name} IS NOT NULL" for name in NEEDED)
        rows = self._rows(
            f"SELECT at FROM hour WHERE at > ? AND at <= ? AND {there} ORDER BY at",
            (seconds(start), seconds(end)),
        )
        return np.array([row["at"] for row in rows], dtype=np.int64)

    def keep_days(self, days: Sequence[tuple[int, float, float]]) -> None:
        """Keep days of years before the record: UTC days since 1970, mean and lowest air in °C."""
        self._write("INSERT OR REPLACE INTO past_day (day, mean_c, low_c) VALUES (?, ?, ?)", days)

    def days(self) -> list[tuple[int, float, float]]:
        """Return all days gone by with most hours known, in order. The garden's own hours count
        before an archive's."""
        rows = self._rows(
            f"SELECT (at - 1) / {DAY_S} AS day, avg(air_c) AS mean_c, min(air_c) AS low_c"
            " FROM hour WHERE air_c IS NOT NULL GROUP BY 1 HAVING count(*) >= :hours"
            " UNION ALL SELECT day, mean_c, low_c FROM past_day WHERE day NOT IN"
            f" (SELECT (at - 1) / {DAY_S} FROM hour WHERE air_c IS NOT NULL"
            " GROUP BY 1 HAVING count(*) >= :hours) ORDER BY day",
            {"hours": MOST_OF_A_DAY_H},
        )
        return [(row["day"], row["mean_c"], row["low_c"]) for row in rows]
