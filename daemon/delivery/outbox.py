"""Delivery of queued messages: each service by itself, in its own time, until it has taken them.

A message is sent at least once to each service: only when the daemon dies between a service's yes
and the note of it does that service get it twice.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from underbench.daemon.config.settings import Settings
from underbench.daemon.delivery.push_services import Answer, RefusedService, Services
from underbench.daemon.store.message_queue import STALE_AFTER, Due, Message, Record, Tries
from underbench.daemon.store.store import Store
from underbench.rules.garden.inventory import HandsOn
from underbench.rules.garden.local_time import quiet_until
from underbench.rules.hazards.findings import Strength

__all__ = [
    "Manner",
    "Message",
    "Outcome",
    "RefusedService",
    "Services",
    "Summary",
    "deliver",
    "manner_of",
    "send_unkept",
]

# Waits after the first, second, … try; the last is kept until the message is stale (post.py).
WAITS = tuple(timedelta(minutes=minutes) for minutes in (1, 5, 15, 60))
_ORDER = (Strength.DANGER, Strength.ACT, Strength.NOTICE)
# A blip of the first route is over by its third try, after six minutes; danger can spare ten, and
# the second route may cost money or wake somebody else.
SECOND_ROUTE_AFTER = timedelta(minutes=10)
RATE_SPAN = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Manner:
    """How messages may disturb somebody, danger apart: so many an hour, and not in the quiet ones,
    by the garden's clock."""

    most_an_hour: int
    hands_on: HandsOn
    timezone: str

    def is_quiet(self, now: datetime) -> bool:
        """Whether ``now`` lies in quiet hours."""
        return quiet_until(self.hands_on, now, self.timezone) is not None


@dataclass(frozen=True, slots=True)
class Outcome:
    """How one message fared at one service. ``reason`` is None when it was taken; neither it nor
    ``service`` holds any secret."""

    message: str
    service: str
    reason: str | None


@dataclass(frozen=True, slots=True)
class Summary:
    """What one delivery did."""

    delivered: tuple[Outcome, ...]
    failed: tuple[Outcome, ...]


def manner_of(settings: Settings) -> Manner:
    """Return how messages may disturb the people of a garden."""
    return Manner(settings.telling.most_an_hour, settings.hands_on, settings.garden.timezone)


def deliver(
    store: Store, services: Services, now: datetime, deadline_s: float, manner: Manner
) -> Summary:
    """Send what is due at ``now``; return how each message fared at each service.

    First everybody's own services, then, with danger that none of those has taken, the second
    route. No service can hold up another, nor either round for longer than ``deadline_s``. What
    fails is due again after 1, 5, 15, 60 minutes, then hourly until a day old. What is not danger
    waits for its share of an hour, the strongest first, and for the end of quiet hours; what goes
    out on a later day than it was written says so. Raises StoreError, and nothing for a delivery.
    """

    def first(records: Sequence[Record]) -> list[Due]:
        due = first_due(records, services, now)
        if manner.is_quiet(now):
            due = [item for item in due if item.message.strength is Strength.DANGER]
        return within_rate(due, records, now, manner.most_an_hour)

    def second(records: Sequence[Record]) -> list[Due]:
        return second_due(records, services, now)

    # In this order: a thread that is done now has left its answers, so none is overlooked.
    hanging = services.hanging()
    answers = list(services.late_answers())
    for answer in answers:
        _note(store, answer, now)
    for choose in (first, second):
        answers += _round(store, services, choose, hanging, now, deadline_s, manner.timezone)
    outcomes = [
        Outcome(one.due.message.key, services.label(one.due.service), one.reason) for one in answers
    ]
    return Summary(
        delivered=tuple(one for one in outcomes if one.reason is None),
        failed=tuple(one for one in outcomes if one.reason is not None),
    )


def send_unkept(services: Services, message: Message, deadline_s: float) -> bool:
    """Send by every route what cannot be kept in a store; return whether any service took it."""
    keys = dict.fromkeys((*services.first(message.to), *services.second))
    due = [Due(message, key, 0) for key in keys if key not in services.hanging()]
    answers = list(services.send(due, deadline_s))  # all of them, whichever takes it first
    return any(answer.reason is None for answer in answers)


def first_due(records: Iterable[Record], services: Services, now: datetime) -> list[Due]:
    """Return what goes out by the first route at ``now``: the strongest first, else the oldest."""
    live = [record for record in records if not record.stale(now)]
    return [
        Due(record.message, key, _attempts(record, key))
        for record in sorted(live, key=lambda one: _ORDER.index(one.message.strength))
        for key in services.first(record.message.to)
        if _open(record.tries.get(key), now)
    ]


def second_due(records: Iterable[Record], services: Services, now: datetime) -> list[Due]:
    """Return the danger that goes out by the second route at ``now``: what no service of the first
    has taken some minutes after it was queued."""
    return [
        Due(record.message, key, _attempts(record, key))
        for record in records
        if _is_danger(record) and not record.stale(now) and _overdue(record, services, now)
        for key in services.second
        if _open(record.tries.get(key), now)
    ]


def within_rate(
    due: Iterable[Due], records: Iterable[Record], now: datetime, most_an_hour: int
) -> list[Due]:
    """Return what may go out within the rate: all danger, and of the rest as much as each service
    has not yet taken in the hour before ``now``.

    A phone is spared, not a person or a message: what a service did not take disturbed nobody.
    """
    taken = Counter(
        key
        for record in records
        if not _is_danger(record)
        for key, tries in record.tries.items()
        if tries.delivered_at and timedelta(0) <= now - tries.delivered_at < RATE_SPAN
    )
    let_out = []
    for item in due:
        if item.message.strength is not Strength.DANGER:
            taken[item.service] += 1
            if taken[item.service] > most_an_hour:
                continue
        let_out.append(item)
    return let_out


def _round(
    store: Store,
    services: Services,
    choose: Callable[[Sequence[Record]], list[Due]],
    hanging: set[str],
    now: datetime,
    deadline_s: float,
    timezone: str,
) -> list[Answer]:
    with store.transaction():  # of two programs, one marks a try and the other finds it marked
        due = choose(store.messages.records(now - STALE_AFTER - RATE_SPAN))
        free = [item for item in due if item.service not in hanging | services.hanging()]
        for item in free:
            store.messages.trying(item, now, now + WAITS[min(item.attempts, len(WAITS) - 1)])
    answers = [Answer(item, "hangs on an earlier message") for item in due if item not in free]
    dated = [item._replace(message=_dated(item.message, now, timezone)) for item in free]
    for answer in services.send(dated, deadline_s):
        _note(store, answer, now)
        answers.append(answer)
    return answers


def _dated(message: Message, now: datetime, timezone: str) -> Message:
    """The message, or on a later day than its own, whose "today" is past, with that day before."""
    zone = ZoneInfo(timezone)
    written = message.queued_at.astimezone(zone)
    if written.date() >= now.astimezone(zone).date():
        return message
    return replace(message, title=f"Of {written:%A}: {message.title}")


def _note(store: Store, answer: Answer, now: datetime) -> None:
    if answer.reason is None:
        store.messages.delivered(answer.due, now)
    else:
        store.messages.failed(answer.due, answer.reason)


def _open(tries: Tries | None, now: datetime) -> bool:
    """Whether a service may be tried: with the clock set back since the last try, at once."""
    if tries is None:
        return True
    set_back = tries.tried_at is not None and tries.tried_at > now
    return tries.delivered_at is None and (tries.next_try <= now or set_back)


def _overdue(record: Record, services: Services, now: datetime) -> bool:
    own = [record.tries.get(key) for key in services.first(record.message.to)]
    if any(tries and tries.delivered_at for tries in own):
        return False
    return not timedelta(0) <= now - record.message.queued_at < SECOND_ROUTE_AFTER or not own


def _is_danger(record: Record) -> bool:
    return record.message.strength is Strength.DANGER


def _attempts(record: Record, key: str) -> int:
    return record.tries[key].attempts if key in record.tries else 0
