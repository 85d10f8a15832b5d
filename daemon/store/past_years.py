"""Days of earlier years in the state database: the garden's own, else an archive's."""

from __future__ import annotations

from collections.abc import Sequence

from underbench.daemon.store.database import Opened
from underbench.rules.course.course import DAY_S

MOST_OF_A_DAY_H = 20


class PastDays(Opened):
    """What the store knows of days gone by. All methods raise StoreError."""

    def keep_past_days(self, days: Sequence[tuple[int, float, float]]) -> None:
        """Keep days of years before the record: UTC days since 1970, mean and lowest air in °C."""
        self._write("INSERT OR REPLACE INTO past_day (day, mean_c, low_c) VALUES (?, ?, ?)", days)

    def past_days(self) -> list[tuple[int, float, float]]:
        """Return all days gone by of which most hours are known, in order; the garden's own hours
        count before an archive's."""
        rows = self._rows(
            f"SELECT (at - 1) / {DAY_S} AS day, avg(air_c) AS mean_c, min(air_c) AS low_c"
            " FROM hour WHERE air_c IS NOT NULL GROUP BY 1 HAVING count(*) >= :hours"
            " UNION ALL SELECT day, mean_c, low_c FROM past_day WHERE day NOT IN"
            f" (SELECT (at - 1) / {DAY_S} FROM hour WHERE air_c IS NOT NULL"
            " GROUP BY 1 HAVING count(*) >= :hours) ORDER BY day",
            {"hours": MOST_OF_A_DAY_H},
        )
        return [(row["day"], row["mean_c"], row["low_c"]) for row in rows]
