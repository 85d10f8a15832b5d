"""Messages that no service took in a day: their jobs open again, and one message lists them.

Told means taken by a service. A message that no service takes is tried for a day, since an older
warning misleads more than it helps. Then its jobs count as not told, so the next pass tells again
what is still ahead. The message on what was missed is kept up to date and waits until a service
takes it.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from underbench.daemon.alerts.message_kinds import Kind
from underbench.daemon.alerts.push_room import room_of
from underbench.daemon.config.people_tables import KEEPER
from underbench.daemon.config.settings import Settings
from underbench.daemon.store.episodes import EpisodeRow, key_of
from underbench.daemon.store.message_queue import STALE_AFTER, Message
from underbench.daemon.store.store import Store
from underbench.daemon.wording.units import Units
from underbench.rules.hazards.findings import Strength

LOOKED_BACK = timedelta(days=14)  # an older missed message helps nobody any more
PASSING = (Kind.ROUND_UP, Kind.WATCHING)  # nobody wants these of days gone by


def open_again(settings: Settings, store: Store, now: datetime) -> None:
    """Reopen the episodes and duties of messages that no service took in a day. Queue the message
    on what was missed. Raises StoreError."""
    with store.transaction():
        lost = [
            message
            for message in store.messages.untaken(now - LOOKED_BACK, now - STALE_AFTER)
            if message.kind != Kind.MISSED
        ]
        kept = store.episodes.lately(now) if lost else []
        rows = {key_of(row): row for row in kept}
        for message in lost:
            told = [rows[key] for key in message.tells.episodes if key in rows]
            store.episodes.put(reopened(row, message.queued_at, now) for row in told)
            for duty in message.tells.duties:
                store.duties.not_done(duty, message.queued_at)
        store.messages.missed(lost, now)
        _say_missed(settings, store, now, anew=bool(lost))


def reopened(row: EpisodeRow, said_at: datetime, now: datetime) -> EpisodeRow:
    """Return an episode without what was said of it at ``said_at``. It stays told if it is past, is
    handled all the same, or was told again since."""
    if row.told_at == said_at and row.is_ahead(now) and row.handled_at is None:
        row = replace(row, told_at=None, told_strength=None, told_do_by=None, reminded_at=None)
    if row.back_told_at == said_at:
        row = replace(row, back_told_at=None)
    return replace(row, asked_at=None) if row.asked_at == said_at else row


def _say_missed(settings: Settings, store: Store, now: datetime, *, anew: bool) -> None:
    """Keep one message waiting, on all that was missed since the last such message was taken."""
    waiting = store.messages.waiting(Kind.MISSED, now - STALE_AFTER)
    missed = [one for one in store.messages.missed_since(Kind.MISSED) if one.kind not in PASSING]
    if not missed or (waiting and not anew):
        return
    store.messages.withdraw(waiting)
    store.messages.queue(missed_message(settings, missed, now))


def missed_message(settings: Settings, missed: Sequence[Message], now: datetime) -> Message:
    """Return the message on what was missed, the newest first. Those without room are counted."""
    head = "No service took this within a day. You are told again what is still ahead."
    lines = [_line(settings, one) for one in reversed(missed)]
    to = _to(missed)
    named, room = len(lines), room_of(settings, to)
    while named and len(_body(head, lines, named).encode()) > room:
        named -= 1
    many = "1 message" if len(missed) == 1 else f"{len(missed)} messages"
    return Message(
        key=f"missed {now:%Y-%m-%dT%H:%M:%SZ}",
        title=f"MISSED: {many} reached no phone",
        body=_body(head, lines, named),
        strength=Strength.ACT,
        queued_at=now,
        kind=Kind.MISSED,
        to=to,
    )


def _body(head: str, lines: Sequence[str], named: int) -> str:
    more = [f"And {len(lines) - named} earlier ones."] if named < len(lines) else []
    return "\n".join([head, *lines[:named], *more])


def _line(settings: Settings, message: Message) -> str:
    at = message.queued_at.astimezone(ZoneInfo(settings.garden.timezone))
    trees = list(dict.fromkeys(tree for tree, _, _ in message.tells.episodes))
    said = f"{at:%a} {Units(settings.units).clock(at)}: {message.title}"
    return f"{said}: {', '.join(trees)}" if trees else said


def _to(missed: Iterable[Message]) -> tuple[str, ...]:
    """The keeper, and whoever a missed message was for."""
    return tuple(dict.fromkeys((KEEPER, *(one for message in missed for one in message.to))))
