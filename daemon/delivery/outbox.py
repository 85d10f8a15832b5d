"""Delivery of queued messages: each service by itself, in its own time, until it has taken them.

A message is sent at least once to each service. A service gets it twice if the daemon dies between
the service's yes and the note of it, or if the answer is lost. A message that was sent whole is
sent once more at most, danger twice. The parts of one message go out in order. A part that fails
holds up no other, because each is complete in itself.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from underbench.daemon.config.settings import Settings
from underbench.daemon.delivery.answer_links import ANSWER_KEY, with_answer_link
from underbench.daemon.delivery.push_services import Answer, RefusedService, Services
from underbench.daemon.store.message_queue import STALE_AFTER, Due, Message, Record
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
    "all_services",
    "deliver",
    "manner_of",
    "send_unkept",
]

# Waits after the first, second, … try. The last one repeats until the message is stale.
WAITS = tuple(timedelta(minutes=minutes) for minutes in (1, 5, 15, 60))
_ORDER = (Strength.DANGER, Strength.ACT, Strength.NOTICE)
# A short failure of the first route is over by its third try, after six minutes. Danger can spare
# ten minutes. The second route may cost money or wake somebody else.
DELIVERY_S = 30.0  # a round of deliveries ends after so long; what is left waits for the next
SECOND_ROUTE_AFTER = timedelta(minutes=10)
RATE_SPAN = timedelta(hours=1)


@dataclass(frozen=True, slots=True)
class Manner:
    """How messages other than danger may disturb: ``most_an_hour``, and none in quiet hours by the
    garden's clock. ``address``: the page's, where messages are answered (None: nowhere)."""

    most_an_hour: int
    hands_on: HandsOn
    timezone: str
    address: str | None = None

    def is_quiet(self, now: datetime) -> bool:
        """Whether ``now`` lies in quiet hours."""
        return quiet_until(self.hands_on, now, self.timezone) is not None


@dataclass(frozen=True, slots=True)
class Outcome:
    """How one message fared at one service. ``reason`` is None if the message was taken. ``reason``
    and ``service`` hold no secret."""

    message: str
    service: str
    reason: str | None


@dataclass(frozen=True, slots=True)
class Summary:
    """What one delivery did."""

    delivered: tuple[Outcome, ...]
    failed: tuple[Outcome, ...]


def all_services(settings: Settings) -> Services:
    """Return the push services that a garden's messages go to. Raises RefusedService."""
    telling = settings.telling
    return Services(
        telling.urls, telling.danger_urls, settings.stand_in_urls, settings.address_places
    )


def manner_of(settings: Settings) -> Manner:
    """Return how messages may disturb the people of a garden."""
    return Manner(
        settings.telling.most_an_hour,
        settings.hands_on,
        settings.garden.timezone,
        settings.page.address,
    )


def deliver(
    store: Store, services: Services, now: datetime, deadline_s: float, manner: Manner
) -> Summary:
    """Send what is due at ``now``, and return how each message fared at each service.

    Everybody's own services come first. Danger that none of them has taken then goes to the second
    route. No service holds up another, or a round for longer than ``deadline_s``. A failed message
    is due again after 1, 5, 15, 60 minutes, then hourly until it is a day old. Messages other than
    danger wait for the end of quiet hours and for their share of an hour, the strongest first. A
    message sent on a later day names the day it was written. Raises StoreError; a failed delivery
    raises nothing.
    """

    def first(records: Sequence[Record]) -> list[Due]:
        due = first_due(records, services, now)
        if manner.is_quiet(now):
            due = [item for item in due if item.message.strength is Strength.DANGER]
        return within_rate(due, records, now, manner.most_an_hour)

    def second(records: Sequence[Record]) -> list[Due]:
        return second_due(records, services, now)

    # Hanging services are listed first: a thread that ends after that leaves its answer to be read.
    hanging = services.hanging()
    answers = list(services.late_answers())
    for answer in answers:
        _note(store, answer, now)
    for choose in (first, second):
        answers += _round(store, services, choose, hanging, now, deadline_s, manner)
    outcomes = [
        Outcome(one.due.message.key, services.label(one.due.service), one.reason) for one in answers
    ]
    return Summary(
        delivered=tuple(one for one in outcomes if one.reason is None),
        failed=tuple(one for one in outcomes if one.reason is not None),
    )


def send_unkept(services: Services, message: Message, deadline_s: float) -> bool:
    """Send by every route a message that no store can keep. Return whether any service took it."""
    keys = dict.fromkeys((*services.first(message.to), *services.second))
    due = [Due(message, key, 0) for key in keys if key not in services.hanging()]
    answers = list(services.send(due, deadline_s))  # every service is tried, even after a yes
    return any(answer.reason is None for answer in answers)


def first_due(records: Iterable[Record], services: Services, now: datetime) -> list[Due]:
    """Return what goes out by the first route at ``now``: the strongest first, then the oldest."""
    live = [record for record in records if not record.stale(now)]
    return [
        Due(record.message, key, _attempts(record, key))
        for record in sorted(live, key=lambda one: _ORDER.index(one.message.strength))
        for key in services.first(record.message.to)
        if _open(record, key, now)
    ]


def second_due(records: Iterable[Record], services: Services, now: datetime) -> list[Due]:
    """Return the danger that goes out by the second route at ``now``. No service of the first route
    has taken it within ten minutes."""
    return [
        Due(record.message, key, _attempts(record, key))
        for record in records
        if _is_danger(record) and not record.stale(now) and _overdue(record, services, now)
        for key in services.second
        if _open(record, key, now)
    ]


def within_rate(
    due: Iterable[Due], records: Iterable[Record], now: datetime, most_an_hour: int
) -> list[Due]:
    """Return what may go out within the rate: all danger, and other messages until a service has
    taken ``most_an_hour`` in the hour before ``now``.

    The rate counts by service, and only messages that it took: others have disturbed nobody. The
    parts of one message count as one.
    """
    taken: dict[str, set[str]] = {}
    for record in records:
        for key, tries in record.tries.items():
            lately = tries.delivered_at and timedelta(0) <= now - tries.delivered_at < RATE_SPAN
            if lately and not _is_danger(record):
                taken.setdefault(key, set()).add(record.message.whole)
    let_out = []
    for item in due:
        if item.message.strength is not Strength.DANGER:
            own = taken.setdefault(item.service, set())
            own.add(item.message.whole)
            if len(own) > most_an_hour:
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
    manner: Manner,
) -> list[Answer]:
    with store.transaction():  # if two programs deliver, the second finds the try marked
        due = choose(store.messages.records(now - STALE_AFTER - RATE_SPAN))
        free = [item for item in due if item.service not in hanging | services.hanging()]
        for item in free:
            store.messages.trying(item, now, now + WAITS[min(item.attempts, len(WAITS) - 1)])
    answers = [Answer(item, "hangs on an earlier message") for item in due if item not in free]
    out = [item._replace(message=_to_send(item.message, store, now, manner)) for item in free]
    for answer in services.send(out, deadline_s):
        _note(store, answer, now)
        answers.append(answer)
    return answers


def _to_send(message: Message, store: Store, now: datetime, manner: Manner) -> Message:
    """The message as it goes out, with the link to answer it, which is kept nowhere."""
    dated = _dated(message, now, manner.timezone)
    if manner.address is None:
        return dated
    return with_answer_link(dated, manner.address, store.pages.secret(ANSWER_KEY, now))


def _dated(message: Message, now: datetime, timezone: str) -> Message:
    """The message. On a later day its "today" is past, so the day it was written is put before."""
    zone = ZoneInfo(timezone)
    written = message.queued_at.astimezone(zone)
    if written.date() >= now.astimezone(zone).date():
        return message
    return replace(message, title=f"Of {written:%A}: {message.title}")


def _note(store: Store, answer: Answer, now: datetime) -> None:
    if answer.reason is None:
        store.messages.delivered(answer.due, now)
    else:
        store.messages.failed(answer.due, answer.reason, unanswered=answer.unanswered)


def _open(record: Record, key: str, now: datetime) -> bool:
    """Whether a service may be tried now. If the clock was set back since the last try, it may."""
    tries = record.tries.get(key)
    if tries is None:
        return True
    if tries.delivered_at or tries.spent(record.message.strength):
        return False
    set_back = tries.tried_at is not None and tries.tried_at > now
    return tries.next_try <= now or set_back


def _overdue(record: Record, services: Services, now: datetime) -> bool:
    own = [record.tries.get(key) for key in services.first(record.message.to)]
    if any(tries and tries.delivered_at for tries in own):
        return False
    return not timedelta(0) <= now - record.message.queued_at < SECOND_ROUTE_AFTER or not own


def _is_danger(record: Record) -> bool:
    return record.message.strength is Strength.DANGER


def _attempts(record: Record, key: str) -> int:
    return record.tries[key].attempts if key in record.tries else 0
