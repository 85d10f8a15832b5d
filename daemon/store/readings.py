"""What a keeper's own thermometers said, and the file that their readings came from.

Readings are kept as they came for 60 days, then as one for each hour: ten sensors, hourly, are some
6 MB a year.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from underbench.daemon.store.database import Opened, moment, seconds
from underbench.rules.garden.readings import Quantity, Reading
from underbench.rules.weather.hourly import HOUR_S

RAW_FOR = timedelta(days=60)


class FilePlace(NamedTuple):
    """How far a file of readings was read, in bytes and lines, and the last bytes before that."""

    offset: int
    lines: int
    tail: bytes


class Readings(Opened):
    """Readings in the state database. All methods raise StoreError."""

    def add(self, readings: Iterable[Reading]) -> int:
        """Keep readings and return how many of them were new.

        Another reading of the same moment, quantity, spot, tree and source changes nothing.
        """
        rows = [
            (seconds(r.at), r.quantity, r.spot or "", r.tree or "", r.source, r.value, r.lowest)
            for r in readings
        ]
        with self.transaction():
            before = self.db.conn.total_changes
            self._write(
                "INSERT OR IGNORE INTO reading (at, quantity, spot, tree, source, value, lowest)"
                " VALUES (?, ?, ?, ?, ?, ?, ?)",
                rows,
            )
            return int(self.db.conn.total_changes - before)

    def put(self, reading: Reading, since: datetime, until: datetime) -> list[Reading]:
        """Keep a reading; return those it replaces: of its sensor, with since ≤ at ≤ until."""
        sensor = "quantity = :quantity AND spot = :spot AND tree = :tree AND source = :source"
        row = {"since": seconds(since), "until": seconds(until), "quantity": reading.quantity}
        row |= {"spot": reading.spot or "", "tree": reading.tree or "", "source": reading.source}
        where = f"FROM reading WHERE at >= :since AND at <= :until AND {sensor}"
        with self.transaction():
            replaced = [_reading(found) for found in self._rows(f"SELECT * {where}", row)]
            self._write(f"DELETE {where}", [row])
            self.add([reading])
        return replaced

    def between(self, quantity: Quantity | None, since: datetime, until: datetime) -> list[Reading]:
        """Return a quantity's readings (None: all) with since < at ≤ until, oldest first."""
        rows = self._rows(
            "SELECT * FROM reading WHERE at > :since AND at <= :until"
            " AND (:quantity IS NULL OR quantity = :quantity)"
            " ORDER BY at, quantity, spot, tree, source",
            {"since": seconds(since), "until": seconds(until), "quantity": quantity},
        )
        return [_reading(row) for row in rows]

    def last(self) -> list[Reading]:
        """Return the latest reading of each sensor: quantity, spot, tree and source."""
        # max() takes the other columns from its row; see Checkpoints.before.
        rows = self._rows(
            "SELECT *, max(at) AS at FROM reading GROUP BY quantity, spot, tree, source"
        )
        return [_reading(row) for row in rows]

    def thin(self, now: datetime) -> None:
        """Put the readings of each hour older than 60 days into one at the hour's end. It holds the
        mean and the lowest; for rain, the sum. A night's minimum stays as it is."""
        cutoff = seconds(now - RAW_FOR) // HOUR_S * HOUR_S
        old = self._rows(
            "SELECT (at + 3599) / 3600 * 3600 AS at, quantity, spot, tree, source,"
            " CASE quantity WHEN :rain THEN sum(value) ELSE avg(value) END AS value,"
            " min(coalesce(lowest, value)) AS lowest"
            " FROM reading WHERE at <= :cutoff AND quantity != :night"
            " GROUP BY (at + 3599) / 3600, quantity, spot, tree, source"
            " HAVING count(*) > 1 OR max(at % 3600) > 0",
            {"cutoff": cutoff, "rain": Quantity.RAIN, "night": Quantity.AIR_MIN},
        )
        hours = [_reading(row) for row in old]
        with self.transaction():
            self._write(
                "DELETE FROM reading WHERE at > :end - 3600 AND at <= :end AND"
                " quantity = :quantity AND spot = :spot AND tree = :tree AND source = :source",
                [{**row, "end": row["at"]} for row in old],
            )
            self.add(replace(r, lowest=None) if r.quantity is Quantity.RAIN else r for r in hours)

    def file_place(self, path: str) -> FilePlace:
        """Return how far the file of readings at ``path`` was read."""
        for row in self._rows("SELECT * FROM reading_file WHERE path = ?", (path,)):
            return FilePlace(row["offset"], row["lines"], row["tail"])
        return FilePlace(0, 0, b"")

    def keep_file_place(self, path: str, place: FilePlace) -> None:
        """Keep how far the file was read, and forget any other file."""
        with self.transaction():
            self._write("DELETE FROM reading_file WHERE path != ?", [(path,)])
            self._write("INSERT OR REPLACE INTO reading_file VALUES (?, ?, ?, ?)", [(path, *place)])


def _reading(row: dict[str, Any]) -> Reading:
    return Reading(
        at=moment(row["at"]),
        quantity=Quantity(row["quantity"]),
        value=row["value"],
        spot=row["spot"] or None,
        tree=row["tree"] or None,
        source=row["source"],
        lowest=row["lowest"],
    )
