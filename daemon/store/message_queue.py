"""The outbox's tables: what was said, to whom, and how it fared at each service.

A message enters in the same transaction as what it tells about; ``outbox.py`` decides when it is
sent.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime, timedelta
from typing import Any, NamedTuple

from underbench.daemon.config.people_tables import KEEPER
from underbench.daemon.store.database import Opened, moment, seconds
from underbench.daemon.store.episodes import Key
from underbench.rules.hazards.findings import Strength

LINK_GROWS = 14  # characters by which a message grows as its link is written in
LONGEST_BODY = 4000  # more is not read on a phone; ntfy's own server takes 4,096 bytes
STALE_AFTER = timedelta(hours=24)  # a warning older than this misleads more than it helps
# Sent whole with no answer, a message may have come each time: a phone is spared, a tree is not.
MOST_UNANSWERED, MOST_DANGER = 2, 3
_TAKEN = (
    "EXISTS (SELECT 1 FROM delivery"
    " WHERE delivery.message = message.key AND delivered_at IS NOT NULL)"
)


@dataclass(frozen=True, slots=True)
class Tells:
    """What counts as said once a message is queued: episodes, and duties by name. It is open again
    when no service takes the message."""

    episodes: tuple[Key, ...] = ()
    duties: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Message:
    """One message for somebody's phone; ``key`` makes it unique for ever. The keys of the parts of
    one message differ after "#".

    ``kind`` says what it is about and ``to`` whom it is for (`KEEPER`, or stand-ins by name).
    ``picture`` holds the pictures (SVG) that go with it, one after the other, or is empty. Raises
    ValueError for an empty body, or one of more than 4,000 characters, which nobody reads.
    """

    key: str
    title: str
    body: str
    strength: Strength
    queued_at: datetime
    kind: str = "advice"
    to: tuple[str, ...] = (KEEPER,)
    picture: str = ""
    tells: Tells = Tells()

    def __post_init__(self) -> None:
        if not 0 < len(self.body) <= LONGEST_BODY:
            raise ValueError(f"a message has 1 to {LONGEST_BODY} characters, not {len(self.body)}")

    @property
    def whole(self) -> str:
        """What the parts of one message share."""
        return self.key.partition("#")[0]


class Due(NamedTuple):
    """A message that one service has yet to take, and how often it was tried there."""

    message: Message
    service: str
    attempts: int


class Tries(NamedTuple):
    """How a message fared at one service: the last try, why it failed, when the next may be.

    ``reason`` is None while no answer is known. Once ``delivered_at`` is set there are no more
    tries. ``unanswered`` counts how often it was sent whole and no answer came.
    """

    attempts: int
    tried_at: datetime | None
    reason: str | None
    next_try: datetime
    delivered_at: datetime | None
    unanswered: int = 0

    def spent(self, strength: Strength) -> bool:
        """Whether one more try would most likely only repeat what has arrived."""
        return self.unanswered >= (MOST_DANGER if strength is Strength.DANGER else MOST_UNANSWERED)


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
            "tells": _tells_text(message.tells),
        }
        added = self._rows(
            "INSERT INTO message"
            " (key, title, body, strength, queued_at, kind, recipients, picture, tells) VALUES"
            " (:key, :title, :body, :strength, :queued_at, :kind, :recipients, :picture, :tells)"
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
        messages = self._readable(rows, _message, "a message")
        return [Record(message, tries.get(message.key, {})) for message in messages]

    def untaken(self, since: datetime, until: datetime) -> list[Message]:
        """Return the messages with since < queued ≤ until that no service took and that are not
        noted as missed, oldest first."""
        return self._messages(
            "queued_at > ? AND queued_at <= ? AND missed_at IS NULL AND tells != ''"
            f" AND NOT {_TAKEN}",
            (seconds(since), seconds(until)),
        )

    def missed(self, messages: Iterable[Message], at: datetime) -> None:
        """Note that messages were missed."""
        rows = [(seconds(at), message.key) for message in messages]
        self._write("UPDATE message SET missed_at = ? WHERE key = ?", rows)

    def missed_since(self, kind: str) -> list[Message]:
        """Return the messages noted as missed since a message of that kind was last taken."""
        return self._messages(
            "missed_at > coalesce((SELECT max(queued_at) FROM message"
            f" WHERE kind = ? AND {_TAKEN}), 0)",
            (kind,),
        )

    def waiting(self, kind: str, since: datetime) -> list[Message]:
        """Return the messages of a kind queued after ``since`` that no service has taken yet."""
        return self._messages(
            f"kind = ? AND queued_at > ? AND NOT {_TAKEN}", (kind, seconds(since))
        )

    def withdraw(self, messages: Iterable[Message]) -> None:
        """Take messages out of the outbox, as if they had not been written."""
        self._write("DELETE FROM message WHERE key = ?", [(message.key,) for message in messages])

    def _messages(self, where: str, values: Sequence[Any]) -> list[Message]:
        rows = self._rows(f"SELECT * FROM message WHERE {where} ORDER BY id", values)
        return self._readable(rows, _message, "a message")

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

    def failed(self, due: Due, reason: str, *, unanswered: bool = False) -> None:
        """Note why a try failed, and whether it was sent whole; ``reason`` holds no secret."""
        self._write(
            "UPDATE delivery SET reason = ?, unanswered = unanswered + ?"
            " WHERE message = ? AND service = ? AND delivered_at IS NULL",
            [(reason, int(unanswered), due.message.key, due.service)],
        )


def _tries(row: dict[str, Any]) -> Tries:
    tried, delivered = row["tried_at"], row["delivered_at"]
    return Tries(
        row["attempts"],
        None if tried is None else moment(tried),
        row["reason"],
        moment(row["next_try"]),
        None if delivered is None else moment(delivered),
        row["unanswered"],
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
        _tells(row["tells"]),
    )


def _tells_text(tells: Tells) -> str:
    episodes = [[tree, hazard, seconds(start)] for tree, hazard, start in tells.episodes]
    return json.dumps({"episodes": episodes, "duties": tells.duties})


def _tells(text: str) -> Tells:
    kept = json.loads(text or "{}")
    return Tells(
        tuple((tree, hazard, moment(start)) for tree, hazard, start in kept.get("episodes", ())),
        tuple(kept.get("duties", ())),
    )
