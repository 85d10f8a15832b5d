"""The question how trees came through: a line in a message that goes out anyway, where one does."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from underbench.daemon.alerts.links import link
from underbench.daemon.alerts.message_kinds import Asking, Kind
from underbench.daemon.alerts.other_texts import FATES
from underbench.daemon.config.people_tables import KEEPER
from underbench.daemon.store.episodes import EpisodeRow, key_of
from underbench.daemon.store.message_queue import Tells
from underbench.daemon.store.store import Message
from underbench.daemon.wording.vocabulary import joined
from underbench.rules.hazards.findings import Strength

MOST_CHARACTERS = 1000  # of a message with the question: every common push service takes it
# Where no round-up goes out, the question waits so long for a message that it can go with.
WAITS_FOR_ANOTHER = timedelta(days=21)


def question(asking: Asking, address: str | None) -> str:
    """Return the question in one line. ``address``: the page's, where it is answered with a tap."""
    night = f"{asking.night:%A} {asking.night.day} {asking.night:%B}"
    way = link(address, Kind.OUTCOME, asking.trees) or FATES
    return f"How did {joined(asking.trees)} come through {night}? {way}"


def takes(message: Message, line: str) -> bool:
    """Return whether the question may stand under a message: one to the keeper, with room for it,
    and not one of danger."""
    calm = message.strength is not Strength.DANGER and KEEPER in message.to
    return calm and len(message.body) + len(line) < MOST_CHARACTERS


def asked_in(message: Message, line: str, rows: Sequence[EpisodeRow]) -> Message:
    """Return a message with the question under it. If no service takes it, it is asked again."""
    keys = dict.fromkeys((*message.tells.episodes, *(key_of(row) for row in rows)))
    tells = Tells(tuple(keys), message.tells.duties)
    return replace(message, body=f"{message.body}\n{line}", tells=tells)


def waited_long(rows: Sequence[EpisodeRow], now: datetime) -> bool:
    """Return whether the question has found no message to go with for too long."""
    return now - min(row.until_at for row in rows) >= WAITS_FOR_ANOTHER
