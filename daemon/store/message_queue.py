"""The outbox's tables: what was said, to whom, and how it fared at each service.

A message enters in the same transaction as what it tells about; ``outbox.py`` decides when it is
sent.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from underbench.daemon.config.people_tables import KEEPER
from underbench.daemon.store.database import Opened, moment, seconds
from underbench.rules.hazards.findings import Strength

LONGEST_BODY = 1000  # characters; the tightest of the common push services takes 1,024
STALE_AFTER = timedelta(hours=24)  # a warning older than this misleads more than it helps


@dataclass(frozen=True, slots=True)
class Message:
    """One message for somebody's phone; ``key`` makes it unique for ever.

    ``kind`` says what it is about and ``to`` whom it is for (`KEEPER`, or stand-ins by name).
    ``picture`` is a chart (SVG) that goes with it, or empty. Raises ValueError for an empty body,
    or one of more than 1,000 characters, which push services would cut.
    """

    key: str
    title: str
    body: str
    strength: Strength
    queued_at: datetime
    kind: str = "advice"
    to: tuple[str, ...] = (KEEPER,)
    picture: str = ""

    def __post_init__(self) -> None:
        if not 0 < len(self.body) <= LONGEST_BODY:
            raise ValueError(f"a message has 1 to {LONGEST_BODY} characters, not {len(self.body)}")


class Due(NamedTuple):
    """A message that one service has yet to take, and how often it was tried there."""

    message: Message
    service: str
    attempts: int


class Tries(NamedTuple):
    """How a message fared at one service: the last try, why it failed, when the next may be.

    ``reason`` is None while no answer is known. Once ``delivered_at`` is set there are no more
    tries.
    """

    attempts: int
    tried_at: datetime | None
    reason: str | None
    next_try: datetime
    delivered_at: datetime | None


class Record(NamedTuple):
    """A message, and its tries by service."""

    message: Message
    tries: Mapping[str, Tries]

    def stale(self, now: datetime) -> bool:
        """Whether it is too old for another try."""
        return self.message.queued_at <= now - STALE_AFTER


class Messages(Opened):
    """What the store knows about messages. All methods raise StoreError."""

    def queue(self, message: Message) -> bool:
        """Put a message into the outbox; return False if its key was there before."""
        row = asdict(message) | {
            "queued_at": seconds(message.queued_at),
            "recipients": json.dumps(message.to),
        }
        added = self._rows(
            "INSERT INTO message (key, title, body, strength, queued_at, kind, recipients, picture)"
            " VALUES (:key, :title, :body, :strength, :queued_at, :kind, :recipients, :picture)"
            " ON CONFLICT (key) DO NOTHING RETURNING key",
            row,
        )
        return bool(added)

    def last_queued(self) -> datetime | None:
        """Return when something was last queued; None for never."""
        (row,) = self._rows("SELECT max(queued_at) AS at FROM message")
        return None if row["at"] is None else moment(row["at"])

    def records(self, since: datetime) -> list[Record]:
        """Return the messages queued after ``since`` in that order, with their tries."""
        after = (seconds(since),)
        tries: dict[str, dict[str, Tries]] = {}
        for row in self._rows(
            "SELECT delivery.* FROM delivery JOIN message ON message.key = delivery.message"
            " WHERE queued_at > ?",
            after,
        ):
            tries.setdefault(row["message"], {})[row["service"]] = _tries(row)
        rows = self._rows("SELECT * FROM message WHERE queued_at > ? ORDER BY id", after)
        return [Record(_message(row), tries.get(row["key"], {})) for row in rows]

    def trying(self, due: Due, now: datetime, next_try: datetime) -> None:
        """Count a try before it is made. Until ``next_try`` nobody else takes the message, and a
        crash while sending cannot send it again at once."""
        self._write(
            "INSERT INTO delivery (message, service, attempts, tried_at, next_try)"
            " VALUES (?, ?, 1, ?, ?) ON CONFLICT (message, service) DO UPDATE SET"
            " attempts = attempts + 1, tried_at = excluded.tried_at,"
            " next_try = excluded.next_try, reason = NULL",
            [(due.message.key, due.service, seconds(now), seconds(next_try))],
        )

    def delivered(self, due: Due, at: datetime) -> None:
        """Note that the service took the message; it is not tried there again."""
        self._write(
            "UPDATE delivery SET delivered_at = ?, reason = NULL WHERE message = ? AND service = ?",
            [(seconds(at), due.message.key, due.service)],
        )

    def failed(self, due: Due, reason: str) -> None:
        """Note why a try failed; ``reason`` holds no secret."""
        self._write(
            "UPDATE delivery SET reason = ?"
            " WHERE message = ? AND service = ? AND delivered_at IS NULL",
            [(reason, due.message.key, due.service)],
        )


def _tries(row: dict[str, Any]) -> Tries:
    tried, delivered = row["tried_at"], row["delivered_at"]
    return Tries(
        row["attempts"],
        None if tried is None else moment(tried),
        row["reason"],
        moment(row["next_try"]),
        None if delivered is None else moment(delivered),
    )


def _message(row: dict[str, Any]) -> Message:
    return Message(
        row["key"],
        row["title"],
        row["body"],
        Strength(row["strength"]),
        moment(row["queued_at"]),
        row["kind"],
        tuple(json.loads(row["recipients"])),
        row["picture"],
    )
