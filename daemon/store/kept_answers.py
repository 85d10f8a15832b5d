"""What is kept about each weather source over restarts: its last good answer and its standing."""

from __future__ import annotations

import zlib
from dataclasses import dataclass, field
from datetime import datetime

from underbench.daemon.store.database import Opened, moment, seconds


@dataclass(frozen=True, slots=True)
class Kept:
    """A source's last good answer. ``same_since`` is when these values first came;
    ``last_modified`` and ``expires`` are what the service said about asking again."""

    body: bytes = field(repr=False)
    fetched_at: datetime
    same_since: datetime
    last_modified: str = ""
    expires: datetime | None = None


@dataclass(frozen=True, slots=True)
class Standing:
    """How things stand with a source. It is not asked before ``ask_at``, for the reason ``why``.
    ``said`` are the kinds of trouble that were reported already."""

    ask_at: datetime | None = None
    why: str = ""
    said: frozenset[str] = frozenset()


class Answers(Opened):
    """Answers of the weather services in the state database. All methods raise StoreError."""

    def keep_forecast(self, source: str, kept: Kept) -> None:
        """Keep a source's answer; it replaces the one before."""
        expires = None if kept.expires is None else seconds(kept.expires)
        self._write(
            "INSERT OR REPLACE INTO forecast"
            " (source, fetched_at, same_since, last_modified, expires, body)"
            " VALUES (?, ?, ?, ?, ?, ?)",
            [
                (
                    source,
                    seconds(kept.fetched_at),
                    seconds(kept.same_since),
                    kept.last_modified,
                    expires,
                    zlib.compress(kept.body),
                )
            ],
        )

    def last_forecast(self, source: str) -> Kept | None:
        """Return the kept answer of a source; None when there is none."""
        for row in self._rows("SELECT * FROM forecast WHERE source = ?", (source,)):
            return Kept(
                body=zlib.decompress(row["body"]),
                fetched_at=moment(row["fetched_at"]),
                same_since=moment(row["same_since"]),
                last_modified=row["last_modified"],
                expires=None if row["expires"] is None else moment(row["expires"]),
            )
        return None

    def keep_standing(self, source: str, standing: Standing) -> None:
        """Keep how things stand with a source."""
        ask_at = None if standing.ask_at is None else seconds(standing.ask_at)
        said = " ".join(sorted(standing.said))
        self._write(
            "INSERT OR REPLACE INTO source (name, ask_at, why, said) VALUES (?, ?, ?, ?)",
            [(source, ask_at, standing.why, said)],
        )

    def standing(self, source: str) -> Standing:
        """Return how things stand with a source; an unknown source stands well."""
        for row in self._rows("SELECT * FROM source WHERE name = ?", (source,)):
            ask_at = None if row["ask_at"] is None else moment(row["ask_at"])
            return Standing(ask_at, row["why"], frozenset(row["said"].split()))
        return Standing()

    def keep_ensemble(self, models: str, body: bytes, fetched_at: datetime) -> None:
        """Keep an ensemble's answer and its models; it replaces the one before."""
        self._write(
            "INSERT OR REPLACE INTO ensemble (id, models, fetched_at, body) VALUES (1, ?, ?, ?)",
            [(models, seconds(fetched_at), zlib.compress(body))],
        )

    def last_ensemble(self, models: str) -> tuple[bytes, datetime] | None:
        """Return the kept answer of these models and when it was fetched; None without one."""
        for row in self._rows("SELECT body, fetched_at FROM ensemble WHERE models = ?", (models,)):
            return zlib.decompress(row["body"]), moment(row["fetched_at"])
        return None
