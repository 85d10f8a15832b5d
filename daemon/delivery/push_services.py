"""The push services: whose they are, whether their addresses are usable, and sending to them."""

from __future__ import annotations

import hashlib
import logging
import queue
import re
import time
import warnings
from collections.abc import Iterable, Iterator, Mapping, Sequence
from difflib import get_close_matches
from threading import Event, Thread
from typing import Any, NamedTuple

from apprise import Apprise, AppriseAsset, AppriseResult, NotifyFormat, NotifyType
from apprise.attachment.memory import AttachMemory
from apprise.decorators import notify
from apprise.manager_plugins import NotificationManager
from pydantic import SecretStr

from underbench.daemon.charts.png import png
from underbench.daemon.config.people_tables import KEEPER
from underbench.daemon.delivery.buttons import with_buttons
from underbench.daemon.delivery.went_out import watched
from underbench.daemon.faults import Fault
from underbench.daemon.store.message_queue import Due, Message
from underbench.rules.hazards.findings import Strength

UNKNOWN = "an earlier service"
NOT_TAKEN = "not reached, or it refused"
ALIKE = 0.7  # a scheme that shares this much with a known one counts as mistyped

_URGENCY = {
    Strength.NOTICE: NotifyType.INFO,
    Strength.ACT: NotifyType.WARNING,
    Strength.DANGER: NotifyType.FAILURE,
}
_HTTP_STATUS = re.compile(r"error=(\d{3})\b")
_ONE_PICTURE = re.compile(r"<svg .*?</svg>", re.DOTALL)
_SCHEME = re.compile(r"\s*([a-z][a-z0-9+.-]{0,19})://\s*(\S?)", re.IGNORECASE)


def _harmless(record: logging.LogRecord) -> bool:
    status = _HTTP_STATUS.search(record.getMessage())
    if status:
        record.msg, record.args = f"a push service answered: error={status[1]}", ()
    return status is not None


# Apprise and its libraries log whole addresses, with their tokens.
for _name in ("apprise", "apprise.xmpp"):
    logging.getLogger(_name).addFilter(_harmless)
for _name in ("urllib3", "oauthlib", "requests_oauthlib", "slixmpp"):
    logging.getLogger(_name).setLevel(logging.WARNING)

_PLUGINS = NotificationManager()  # type: ignore[no-untyped-call]
with warnings.catch_warnings():
    # One of Apprise's plugins imports imghdr, which is deprecated in Python 3.11 and 3.12.
    warnings.simplefilter("ignore", DeprecationWarning)
    _PLUGINS.load_modules()  # type: ignore[no-untyped-call]


class RefusedService(Fault):
    """An address that cannot be used. The text names its key and holds no secret."""


class Answer(NamedTuple):
    """What came of one try. ``reason`` is None if the message was taken, and holds no secret.
    ``unanswered``: the message was sent whole, so it may have been taken."""

    due: Due
    reason: str | None
    unanswered: bool = False


class Takes(NamedTuple):
    """What one service takes: so many ``characters`` in a body, and whether a picture with it."""

    characters: int
    pictures: bool


class Services:
    """Everybody's push services, each checked at the start.

    ``urls`` are the keeper's, ``danger_urls`` the second route for danger, ``stand_ins`` the
    addresses of stand-ins by name, and ``places`` says where each address is written. Keep one
    object for the life of the daemon: it remembers which services still hang. Raises
    RefusedService, which names every address that cannot be used.
    """

    def __init__(
        self,
        urls: Sequence[SecretStr],
        danger_urls: Sequence[SecretStr] = (),
        stand_ins: Mapping[str, Sequence[SecretStr]] | None = None,
        places: Mapping[SecretStr, str] | None = None,
    ) -> None:
        self._places = places or {}
        self._urls: dict[str, SecretStr] = {}
        self._labels: dict[str, str] = {}
        refused: list[str] = []
        keeper = self._add(urls, "telling.urls", "", refused)
        self.second = self._add(danger_urls, "telling.danger_urls", "danger ", refused)
        self._first = {KEEPER: keeper} | {
            name: self._add(own, f"stand_in '{name}' urls", f"{name}'s ", refused)
            for name, own in (stand_ins or {}).items()
        }
        if refused:
            raise RefusedService("\n".join(refused))
        self._threads: dict[str, Thread] = {}
        self._answers: queue.SimpleQueue[Answer] = queue.SimpleQueue()

    def _add(
        self, urls: Sequence[SecretStr], where: str, whose: str, refused: list[str]
    ) -> tuple[str, ...]:
        for number, url in enumerate(urls, start=1):
            entry = f"entry {number} ({veiled(url)})"
            if why := fault_of(url.get_secret_value()):
                at = f"{self._places[url]}: " if url in self._places else ""
                refused.append(f"{at}{where} {entry}: {why}")
            self._urls[key_of(url)] = url
            self._labels.setdefault(key_of(url), f"{whose}{entry}")
        return tuple(dict.fromkeys(key_of(url) for url in urls))

    @property
    def keys(self) -> tuple[str, ...]:
        """A short name for each service. It is the same after a restart and changes with the
        address. No address can be read from it."""
        return tuple(self._urls)

    def first(self, to: Iterable[str]) -> tuple[str, ...]:
        """Return the services of the first route to some people. A stand-in who has none gets the
        keeper's."""
        own = [self._first.get(person) or self._first[KEEPER] for person in to]
        return tuple(dict.fromkeys(key for keys in own for key in keys))

    def label(self, key: str) -> str:
        """Return the name under which the keeper knows a service."""
        return self._labels.get(key, UNKNOWN)

    def takes(self, key: str) -> Takes:
        """Return what Apprise knows of how much a service takes."""
        (plugin,) = _opened(self._urls[key])
        return Takes(plugin.body_maxlen, bool(plugin.attachment_support))

    def hanging(self) -> set[str]:
        """Return the services that still have not answered an earlier delivery."""
        return {key for key, thread in self._threads.items() if thread.is_alive()}

    def late_answers(self) -> Iterator[Answer]:
        """Yield the answers that came after the deadline of an earlier delivery."""
        while not self._answers.empty():
            yield self._answers.get()

    def send(self, due: Iterable[Due], deadline_s: float) -> Iterator[Answer]:
        """Send to all services at the same time. Yield the answers as they come, then one for each
        message without an answer within ``deadline_s``."""
        given_up = Event()
        waiting = {(item.message.key, item.service): item for item in due}
        for key in {item.service for item in waiting.values()}:
            mine = [item for item in waiting.values() if item.service == key]
            # The threads of a pool would hold up the end of the program while a service hangs.
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
            yield Answer(item, f"no answer within {deadline_s:g} s")

    def _work(self, due: Iterable[Due], given_up: Event) -> None:
        for item in due:
            if given_up.is_set():
                return
            self._answers.put(_send(self._urls[item.service], item))


@notify(on="terminal", name="Terminal")  # type: ignore[no-untyped-call, untyped-decorator]
def _print_message(body: str, title: str, *_args: Any, **_kwargs: Any) -> bool:
    print(f"{title}\n{body}\n", flush=True)
    return True


def fault_of(address: str) -> str | None:
    """Return why an address cannot be used, without repeating it; None if it can."""
    known = _SCHEME.match(address)
    apprise = _new_apprise()
    if apprise.add(address) and len(list(apprise)) == 1:
        return None
    if len(list(apprise)) > 1:
        return "one address to an entry, please: give each service its own"
    if known and known[1].lower() in _PLUGINS:
        return "a part of this address is missing or wrong"
    near = get_close_matches(known[1].lower(), _PLUGINS.schemas(), 1, ALIKE) if known else []  # type: ignore[no-untyped-call]
    hint = f" (did you mean {near[0]}://?)" if near else ""
    return f"no service has addresses that begin like this{hint}"


def _send(url: SecretStr, due: Due) -> Answer:
    with watched() as outgoing:
        reason = _tried(url, due)
    if reason == NOT_TAKEN and outgoing.whole:
        return Answer(due, "sent whole, and no answer came: it may have arrived", unanswered=True)
    return Answer(due, reason)


def _tried(url: SecretStr, due: Due) -> str | None:
    # Each try has an object of its own: a used one makes the next message wait, by a clock that may
    # be set.
    message = due.message
    try:
        apprise = _opened(_first_address(url, message.body) if not due.attempts else url)
        with apprise.notify(
            body=message.body,
            title=message.title,
            notify_type=_URGENCY[message.strength],
            body_format=NotifyFormat.TEXT,
            # Picture or buttons may be why a message failed: the next try sends the words alone.
            attach=None if due.attempts else _attached(message),
        ) as result:
            return _reason(result)
    except Exception as error:  # a plugin's own fault: its text may hold the address
        return f"failed inside ({type(error).__name__})"


def _first_address(url: SecretStr, body: str) -> SecretStr:
    return SecretStr(with_buttons(url.get_secret_value(), body))


def _attached(message: Message) -> list[AttachMemory] | None:
    drawn = [png(svg) for svg in _ONE_PICTURE.findall(message.picture)]
    return [
        AttachMemory(content=one, name=f"picture{n}.png", mimetype="image/png")  # type: ignore[no-untyped-call]
        for n, one in enumerate(filter(None, drawn), start=1)
    ] or None


def _reason(result: AppriseResult) -> str | None:
    attempts = [attempt for service in result for attempt in service]
    # With ?optional=yes the result's own verdict is a success whatever happened.
    if attempts and attempts[-1]:
        return None
    statuses = [_HTTP_STATUS.search(entry.message) for entry in result.logs()]
    status = next((found[1] for found in statuses if found), None)
    return f"refused it (HTTP {status})" if status else NOT_TAKEN


def _new_apprise() -> Apprise:
    return Apprise(asset=AppriseAsset(app_id="Underbench", app_desc="Underbench", async_mode=False))


def _opened(url: SecretStr) -> Apprise:
    apprise = _new_apprise()
    apprise.add(url.get_secret_value())
    return apprise


def key_of(url: SecretStr) -> str:
    """Return a short name for an address, from which nobody can read it."""
    return hashlib.sha256(url.get_secret_value().encode()).hexdigest()[:12]


def veiled(url: SecretStr) -> str:
    """Return an address with all but its scheme and the first character veiled."""
    # Some services put the token where the host stands. The scheme can be a secret too, if somebody
    # pasted a token alone.
    parts = _SCHEME.match(url.get_secret_value())
    known = parts is not None and parts[1].lower() in _PLUGINS
    return f"{parts[1].lower()}://{parts[2]}***" if parts and known else "***"
