"""A test message for every push address: what each service took, and what it left out."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime

from underbench.daemon.charts.png import png
from underbench.daemon.delivery.push_services import Answer, Services, Takes
from underbench.daemon.store.message_queue import Due, Message
from underbench.rules.hazards.findings import Strength

LOOK = "Look at each phone now: the last number that you read there is how much of it arrived."
REFUSED_PICTURE = "words alone: it refused them with a picture"
TRIED_TO = 1000  # characters: the tightest of the common push services takes 1,024
_FEW = 100  # characters between two numbers
_WORDS = """\
A test of Underbench, for {garden}. Nothing has to be done.
A long message has {longest} characters, as this one has. \
The last number below says how much of it you see.
"""
_PICTURE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="320" height="160">'
    '<rect width="320" height="160" fill="#fff"/>'
    '<path d="M20 40C90 40 90 130 160 130S230 60 300 60" fill="none" stroke="#246" '
    'stroke-width="6"/></svg>'
)


@dataclass(frozen=True, slots=True)
class Tried:
    """How the test message fared at one service. ``words`` hold no secret."""

    taken: bool
    words: str


def try_out(
    services: Services, garden: str, now: datetime, deadline_s: float = 30.0
) -> Iterator[Tried]:
    """Send one test message to every address, and yield how it fared.

    Where a service refuses, it gets the words once more without the picture, as real messages do.
    """
    message = trial_message(garden, now)
    first = _sent(services, [Due(message, key, 0) for key in services.keys], deadline_s)
    refused = [key for key, one in first.items() if one.reason and not one.unanswered]
    second = _sent(services, [Due(message, key, 1) for key in refused], deadline_s)
    drawn = png(message.picture) is not None
    for key in services.keys:
        yield _tried(services, second.get(key, first[key]), drawn)


def trial_message(garden: str, now: datetime) -> Message:
    """Return the test message. It is as long as a message may be, and numbered all along."""
    return Message(
        key=f"test {now:%Y%m%dT%H%M%S}",
        title="Underbench: a test",
        body=_numbered(_WORDS.format(garden=garden, longest=TRIED_TO)),
        strength=Strength.ACT,
        queued_at=now,
        picture=_PICTURE,
    )


def _numbered(words: str) -> str:
    """The words, filled up with lines that end in the number of characters so far."""
    for so_far in range(-(-len(words) // _FEW) * _FEW, TRIED_TO + 1, _FEW):
        number = "all arrived" if so_far == TRIED_TO else f"{so_far}\n"
        words += f" {number}".rjust(so_far - len(words), ".")
    return words


def _sent(services: Services, due: Iterable[Due], deadline_s: float) -> dict[str, Answer]:
    return {answer.due.service: answer for answer in services.send(due, deadline_s)}


def _tried(services: Services, answer: Answer, drawn: bool) -> Tried:
    label = services.label(answer.due.service)
    if answer.reason is not None:
        return Tried(False, f"{label}: {answer.reason}")
    takes = services.takes(answer.due.service)
    picture = REFUSED_PICTURE if answer.due.attempts else _picture(takes, drawn)
    return Tried(True, f"{label}: taken, {_cut(takes)}, {picture}")


def _cut(takes: Takes) -> str:
    if takes.characters >= TRIED_TO:
        return f"all {TRIED_TO} characters"
    return f"but it takes {takes.characters} of {TRIED_TO} characters: the rest is cut"


def _picture(takes: Takes, drawn: bool) -> str:
    if not takes.pictures:
        return "words alone: this service takes no pictures"
    return "with a picture" if drawn else 'words alone: pictures need the extra "charts"'
