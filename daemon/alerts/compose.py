"""Messages of one pass: their words, their pictures, and the people they are sent to."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from underbench.daemon.alerts.links import link
from underbench.daemon.alerts.message_kinds import Asking, Back, ClothOff, Kind, StandDown
from underbench.daemon.alerts.other_texts import (
    ALREADY_DONE,
    ask_words,
    back_words,
    by_way,
    cloth_off_words,
    made_of,
    round_up_words,
    stale_words,
    stand_down_words,
    watching_words,
)
from underbench.daemon.alerts.parts import advice_in_parts, in_parts
from underbench.daemon.alerts.push_room import room_of
from underbench.daemon.charts.list_card import list_card
from underbench.daemon.charts.night_chart import night_chart
from underbench.daemon.config.people_tables import KEEPER
from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.store.adopt import has_neighbour
from underbench.daemon.store.message_queue import Tells
from underbench.daemon.store.store import Message
from underbench.daemon.wording.advice_text import advice_words
from underbench.daemon.wording.deeds import Benches, in_walking_order
from underbench.daemon.wording.units import Units
from underbench.daemon.wording.vocabulary import Teller, Words
from underbench.rules.advice.advice import Advice
from underbench.rules.garden.local_time import local_day
from underbench.rules.hazards.findings import Strength

CARD_FROM = 7  # so many trees are drawn as a list too
BOTH_TOLD = "{stand_in} is there to do it. The keeper reads this too."


@dataclass(frozen=True, slots=True)
class Told:
    """An advice, the message made of it, and the trees that the message names."""

    advice: Advice
    message: Message
    trees: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Said:
    """A message other than advice, and the trees it is about."""

    kind: Kind
    trees: tuple[str, ...]
    message: Message


class Speaker:
    """Words for one outlook. Each message has a key of its own; what does not fit into one message
    comes in parts, whose keys differ after "#"."""

    def __init__(self, outlook: Outlook) -> None:
        settings = outlook.settings
        self._outlook = outlook
        self._teller = Teller(settings.garden.timezone, Units(settings.units))
        self._made = made_of(outlook)
        self._benches = benches_of(outlook)
        self._garden = f", {settings.garden.name}" if has_neighbour(settings.store_path) else ""
        self._count = 0

    def advice(self, advice: Advice) -> list[Told]:
        """The message that tells an advice for the first time, in its parts."""
        return list(self._advising(Kind.ADVICE, advice))

    def reminder(self, advice: Advice) -> list[Said]:
        """The message that tells an advice once more."""
        parts = self._advising(Kind.REMINDER, advice)
        return [Said(Kind.REMINDER, told.trees, told.message) for told in parts]

    def stand_down(self, off: StandDown) -> list[Said]:
        """A job called off."""
        # Whoever heard of the job hears that it is off. The keeper heard of it if it was danger.
        to = tuple(dict.fromkeys((self._there(self._outlook.now), KEEPER)))

        def words(trees: Sequence[str]) -> Words:
            own = tuple(placed for placed in off.trees if placed.tree in trees)
            return stand_down_words(self._teller, replace(off, trees=own), self._made, self._now)

        return self._said(Kind.STAND_DOWN, by_way(off.trees), words, to)

    def back(self, back: Back) -> list[Said]:
        """Trees that may go home."""
        going = [placed.tree for placed in back.trees]

        def words(trees: Sequence[str]) -> Words:
            own = tuple(placed for placed in back.trees if placed.tree in trees)
            others = going[0] in trees  # how other trees fared is asked once
            asked = tuple(t for t in back.asked if t in trees or (others and t not in going))
            some = replace(back, trees=own, asked=asked)
            link = self._link(Kind.BACK, trees)
            return back_words(self._teller, some, self._made, self._now, link)

        return self._said(Kind.BACK, by_way(back.trees), words)

    def cloth_off(self, off: ClothOff) -> list[Said]:
        """Shade cloth that may come off."""

        def words(trees: Sequence[str]) -> Words:
            own = tuple(placed for placed in off.trees if placed.tree in trees)
            link = self._link(Kind.BACK, trees)
            return cloth_off_words(
                self._teller, replace(off, trees=own), self._made, self._now, link
            )

        return self._said(Kind.BACK, by_way(off.trees), words)

    def asking(self, asking: Asking) -> list[Said]:
        """The question how trees came through."""

        def words(trees: Sequence[str]) -> Words:
            some = replace(asking, trees=tuple(trees))
            return ask_words(self._teller, some, self._link(Kind.OUTCOME, trees))

        return self._said(Kind.OUTCOME, [asking.trees], words)

    def round_up(
        self, later: Sequence[tuple[Told, datetime]], works: Sequence[str] = ()
    ) -> Message:
        """The coming days, told at a set time. ``works``: lines on work to do in them."""
        coming = [(told.message.title, at) for told, at in later]
        link = self._link(Kind.ROUND_UP)
        words = round_up_words(self._teller, self._outlook, coming, works, self._now, link)
        return self._alone(Kind.ROUND_UP, words)

    def watching(self) -> Message:
        """A sign of life."""
        return self._alone(Kind.WATCHING, watching_words(self._teller, self._outlook, self._now))

    def stale(self) -> Message:
        """The forecast is old or in doubt. This is as loud as danger, because it may hide one."""
        words = stale_words(self._teller, self._outlook, self._now)
        return replace(self._alone(Kind.BLIND, words), strength=Strength.DANGER)

    @property
    def _now(self) -> datetime:
        return self._outlook.now

    def _advising(self, kind: Kind, advice: Advice) -> Iterator[Told]:
        to = self._hands(advice)

        def words(some: Advice) -> Words:
            closing = self._closing(kind, to)
            told = advice_words(some, self._benches, self._made, self._teller, self._now, closing)
            still = "STILL TO DO: " if kind is Kind.REMINDER else ""
            return told._replace(title=f"{still}{told.title}{self._garden}")

        danger = advice.strength is Strength.DANGER
        room = room_of(self._outlook.settings, to, danger=danger)
        parts = advice_in_parts(advice, words, self._benches, room)
        picture = night_chart(self._outlook, advice)
        messages = self._messages(kind, [part for _, part in parts], to)
        for (some, part), message in zip(parts, messages, strict=True):
            whole = replace(
                message,
                strength=advice.strength,
                picture=picture + self._card(some, part),
                tells=Tells(tuple(finding.key for finding in some.findings)),
            )
            yield Told(some, whole, part.trees)
            picture = ""  # one picture of the night is enough

    def _closing(self, kind: Kind, to: Sequence[str]) -> tuple[str, ...]:
        """What a message on a job says below it: who is told too, and how to say that it is
        done."""
        tick = self._link(kind)
        asked = ALREADY_DONE if kind is Kind.REMINDER and not tick else ""
        return (BOTH_TOLD.format(stand_in=to[0]) if len(to) > 1 else "", asked, tick)

    def _card(self, advice: Advice, words: Words) -> str:
        if len(advice.jobs) < CARD_FROM:
            return ""
        return list_card(words.title, in_walking_order(advice.jobs, self._benches))

    def _said(
        self,
        kind: Kind,
        groups: Iterable[Sequence[str]],
        words: Callable[[Sequence[str]], Words],
        to: tuple[str, ...] = (),
    ) -> list[Said]:
        def named(trees: Sequence[str]) -> Words:
            told = words(trees)
            return told._replace(title=f"{told.title}{self._garden}", trees=tuple(trees))

        to = to or (self._there(self._now),)
        parts = in_parts(groups, named, room_of(self._outlook.settings, to))
        messages = self._messages(kind, parts, to)
        return [Said(kind, part.trees, own) for part, own in zip(parts, messages, strict=True)]

    def _alone(self, kind: Kind, words: Words) -> Message:
        words = words._replace(title=f"{words.title}{self._garden}")
        (message,) = self._messages(kind, [words], (self._there(self._now),))
        return message

    def _messages(self, kind: Kind, parts: Sequence[Words], to: tuple[str, ...]) -> list[Message]:
        """The message of each part."""
        self._count += 1
        key = f"{kind} {self._now:%Y-%m-%dT%H:%M:%SZ} {self._count}"
        keys = [key] if len(parts) == 1 else [f"{key}#{n}" for n in range(1, len(parts) + 1)]
        return [
            Message(own, part.title, part.body, Strength.NOTICE, self._now, kind, to)
            for own, part in zip(keys, parts, strict=True)
        ]

    def _link(self, kind: Kind, trees: Sequence[str] = ()) -> str:
        return link(self._outlook.settings.page.address, kind, trees)

    def _hands(self, advice: Advice) -> tuple[str, ...]:
        """Whoever is there to do the job. The keeper hears of danger in any case."""
        doing = self._there(advice.do_by) if advice.in_hand else KEEPER
        also = advice.strength is Strength.DANGER and doing != KEEPER
        return (doing, KEEPER) if also else (doing,)

    def _there(self, moment: datetime) -> str:
        settings = self._outlook.settings
        instead = settings.hands_on.stand_in(local_day(moment, settings.garden.timezone))
        return instead.name if instead else KEEPER


def benches_of(outlook: Outlook) -> Benches:
    """Return the trees that stand at each spot now, spots and trees in the order of the file."""
    standing = [at for at in outlook.standing if not at.lost]
    return {
        spot: [at.tree.name for at in standing if at.spot == spot]
        for spot in outlook.settings.spots
    }
