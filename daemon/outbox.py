"""Delivery of queued messages: each service by itself, in its own time, until it has taken them.

A message is sent at least once to each service: only when the daemon dies between a service's yes
and the note of it does that service get it twice.
"""

from __future__ import annotations

import hashlib
import logging
import queue
import re
import time
import warnings
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from threading import Event, Thread
from typing import Any, NamedTuple

from apprise import Apprise, AppriseAsset, AppriseResult, NotifyFormat, NotifyType
from apprise.decorators import notify
from apprise.manager_plugins import NotificationManager
from pydantic import SecretStr

from underbench.daemon.faults import Fault
from underbench.daemon.store import Due, Message, Store
from underbench.rules.findings import Strength

__all__ = ["Message", "Outcome", "RefusedService", "Services", "Summary", "deliver"]

# Waits after the first, second, … try; the last is kept until the message is stale (store.py).
WAITS = tuple(timedelta(minutes=minutes) for minutes in (1, 5, 15, 60))

_URGENCY = {
    Strength.NOTICE: NotifyType.INFO,
    Strength.ACT: NotifyType.WARNING,
    Strength.DANGER: NotifyType.FAILURE,
}
_HTTP_STATUS = re.compile(r"error=(\d{3})\b")
_SCHEME = re.compile(r"\s*([a-z][a-z0-9+.-]{0,19})://\s*(\S?)", re.IGNORECASE)


def _harmless(record: logging.LogRecord) -> bool:
    status = _HTTP_STATUS.search(record.getMessage())
    if status:
        record.msg, record.args = f"a push service answered: error={status[1]}", ()
    return status is not None


# Apprise and what it sends with write whole addresses, tokens included, into their logs.
for _name in ("apprise", "apprise.xmpp"):
    logging.getLogger(_name).addFilter(_harmless)
for _name in ("urllib3", "oauthlib", "requests_oauthlib", "slixmpp"):
    logging.getLogger(_name).setLevel(logging.WARNING)

_PLUGINS = NotificationManager()  # type: ignore[no-untyped-call]
with warnings.catch_warnings():
    # One of Apprise's plugins asks for imghdr, which Python 3.11 and 3.12 call deprecated.
    warnings.simplefilter("ignore", DeprecationWarning)
    _PLUGINS.load_modules()  # type: ignore[no-untyped-call]


class RefusedService(Fault):
    """An address under ``telling.urls`` that cannot be used; the text holds no secret."""


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


class _Answer(NamedTuple):
    due: Due
    reason: str | None


class Services:
    """The keeper's push services, each checked at the start.

    Keep one for the life of the daemon: it remembers which services still hang. Raises
    RefusedService naming every address that cannot be used.
    """

    def __init__(self, urls: Sequence[SecretStr]) -> None:
        self._urls: dict[str, SecretStr] = {}
        self._labels: dict[str, str] = {}
        refused = []
        for number, url in enumerate(urls, start=1):
            label = f"entry {number} ({_veiled(url)})"
            try:
                _check(url, label)
            except RefusedService as fault:
                refused.append(str(fault))
            self._urls[_key(url)] = url
            self._labels[_key(url)] = label
        if refused:
            raise RefusedService("\n".join(refused))
        self._threads: dict[str, Thread] = {}
        self._answers: queue.SimpleQueue[_Answer] = queue.SimpleQueue()

    @property
    def keys(self) -> tuple[str, ...]:
        """A short name for each service, the same after a restart, from which no address can be
        read; it changes when the address does."""
        return tuple(self._urls)

    def label(self, key: str) -> str:
        """Return what to call a service towards the keeper."""
        return self._labels[key]

    def hanging(self) -> set[str]:
        """Return the services that still have not answered an earlier delivery."""
        return {key for key, thread in self._threads.items() if thread.is_alive()}

    def late_answers(self) -> Iterator[_Answer]:
        """Yield what came back after the deadline of an earlier delivery."""
        while not self._answers.empty():
            yield self._answers.get()

    def send(self, due: Iterable[Due], deadline_s: float) -> Iterator[_Answer]:
        """Send all services theirs at the same time; yield answers as they come, then one for
        each that gave none within ``deadline_s``."""
        given_up = Event()
        waiting = {(item.message.key, item.service): item for item in due}
        for key in {item.service for item in waiting.values()}:
            mine = [item for item in waiting.values() if item.service == key]
            # Not a pool: its threads would hold up the end of the program while a service hangs.
            self._threads[key] = Thread(
                target=self._work, args=(mine, given_up), name=f"delivery {key}", daemon=True
            )
            self._threads[key].start()
        end = time.monotonic() + deadline_s
        while waiting:
            try:
                answer = self._answers.get(timeout=max(0.0, end - time.monotonic()))
            except queue.Empty:
                break
            waiting.pop((answer.due.message.key, answer.due.service), None)
            yield answer
        given_up.set()
        for item in waiting.values():
            yield _Answer(item, f"no answer within {deadline_s:g} s")

    def _work(self, due: Iterable[Due], given_up: Event) -> None:
        for item in due:
            if given_up.is_set():
                return
            self._answers.put(_Answer(item, _send(self._urls[item.service], item.message)))


def deliver(store: Store, services: Services, now: datetime, deadline_s: float) -> Summary:
    """Send what is due at ``now``; return how each message fared at each service.

    No service can hold up another, nor this call for longer than ``deadline_s``. What fails is
    due again after 1, 5, 15, 60 minutes, then hourly until a day old. Raises StoreError, and
    nothing for a delivery.
    """
    # In this order: a thread that is done now has left its answers, so none is overlooked.
    hanging = services.hanging()
    late = [answer for answer in services.late_answers() if answer.reason is None]
    for answer in late:
        store.delivered(answer.due, now)
    with store.transaction():
        due = store.undelivered(now, services.keys)
        free = [item for item in due if item.service not in hanging]
        for item in free:
            store.trying(item, now + WAITS[min(item.attempts, len(WAITS) - 1)])
    stuck = [_Answer(item, "hangs on an earlier message") for item in due if item not in free]
    answers = [*late, *stuck]
    for answer in services.send(free, deadline_s):
        if answer.reason is None:
            store.delivered(answer.due, now)
        answers.append(answer)
    outcomes = [_outcome(services, answer) for answer in answers]
    return Summary(
        delivered=tuple(one for one in outcomes if one.reason is None),
        failed=tuple(one for one in outcomes if one.reason is not None),
    )


@notify(on="terminal", name="Terminal")  # type: ignore[no-untyped-call, untyped-decorator]
def _print_message(body: str, title: str, *_args: Any, **_kwargs: Any) -> bool:
    print(f"{title}\n{body}\n", flush=True)
    return True


def _check(url: SecretStr, label: str) -> None:
    known = _SCHEME.match(url.get_secret_value())
    apprise = _new_apprise()
    if apprise.add(url.get_secret_value()) and len(list(apprise)) == 1:
        return
    if len(list(apprise)) > 1:
        why = "one address to an entry, please: give each service its own"
    elif known and known[1].lower() in _PLUGINS:
        why = "a part of this address is missing or wrong"
    else:
        why = "no service has addresses that begin like this"
    raise RefusedService(f"telling.urls {label}: {why}")


def _send(url: SecretStr, message: Message) -> str | None:
    # A new object each time: a used one makes the next message wait, by a clock that may be set.
    apprise = _new_apprise()
    try:
        apprise.add(url.get_secret_value())
        with apprise.notify(
            body=message.body,
            title=message.title,
            notify_type=_URGENCY[message.strength],
            body_format=NotifyFormat.TEXT,
        ) as result:
            return _reason(result)
    except Exception as error:  # a plugin's own fault: its text may hold the address
        return f"failed inside ({type(error).__name__})"


def _reason(result: AppriseResult) -> str | None:
    attempts = [attempt for service in result for attempt in service]
    # Not the result's own verdict: with ?optional=yes that is a success whatever happened.
    if attempts and attempts[-1]:
        return None
    statuses = [_HTTP_STATUS.search(entry.message) for entry in result.logs()]
    status = next((found[1] for found in statuses if found), None)
    return f"refused it (HTTP {status})" if status else "not reached, or it refused"


def _new_apprise() -> Apprise:
    return Apprise(asset=AppriseAsset(app_id="Underbench", app_desc="Underbench", async_mode=False))


def _outcome(services: Services, answer: _Answer) -> Outcome:
    return Outcome(answer.due.message.key, services.label(answer.due.service), answer.reason)


def _key(url: SecretStr) -> str:
    return hashlib.sha256(url.get_secret_value().encode()).hexdigest()[:12]


def _veiled(url: SecretStr) -> str:
    # Even a host can be a secret: some services put the token there.
    parts = _SCHEME.match(url.get_secret_value())
    return f"{parts[1].lower()}://{parts[2]}***" if parts else "***"
