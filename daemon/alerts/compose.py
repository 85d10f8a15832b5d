"""Messages of one pass: their words, their picture, and the people they are sent to."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

import numpy as np

from underbench.daemon.alerts.links import link, with_link
from underbench.daemon.alerts.message_kinds import Asking, Back, Kind, StandDown
from underbench.daemon.alerts.other_texts import (
    ALREADY_DONE,
    Words,
    ask_words,
    back_words,
    made_of,
    reminder_title,
    round_up_words,
    stale_words,
    stand_down_words,
    watching_words,
)
from underbench.daemon.charts.night_chart import night_chart
from underbench.daemon.config.people_tables import KEEPER
from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.store.message_queue import Tells
from underbench.daemon.store.store import Message
from underbench.daemon.wording.units import Units
from underbench.daemon.wording.vocabulary import Sky, Teller
from underbench.rules.advice.advice import Advice
from underbench.rules.garden.local_time import local_day
from underbench.rules.hazards.findings import Finding, Strength


@dataclass(frozen=True, slots=True)
class Told:
    """An advice and the message made of it."""

    advice: Advice
    message: Message


@dataclass(frozen=True, slots=True)
class Said:
    """A message other than advice, and the trees it is about."""

    kind: Kind
    trees: tuple[str, ...]
    message: Message


class Speaker:
    """Words for one outlook. Each message has a key of its own."""

    def __init__(self, outlook: Outlook) -> None:
        settings = outlook.settings
        self._outlook = outlook
        self._teller = Teller(settings.garden.timezone, Units(settings.units))
        self._made = made_of(outlook)
        self._count = 0

    def advice(self, advice: Advice) -> Told:
        """The message that tells an advice for the first time."""
        title = self._teller.title(advice, self._outlook.now)
        return Told(advice, self._advising(Kind.ADVICE, title, advice))

    def reminder(self, advice: Advice) -> Said:
        """The message that tells an advice once more."""
        title = reminder_title(self._teller, advice, self._outlook.now)
        trees = tuple(job.tree for job in advice.jobs)
        message = self._advising(Kind.REMINDER, title, advice, ALREADY_DONE)
        return Said(Kind.REMINDER, trees, message)

    def stand_down(self, off: StandDown) -> Said:
        """A job called off."""
        words = stand_down_words(self._teller, off, self._made, self._outlook.now)
        said = self._said(Kind.STAND_DOWN, (placed.tree for placed in off.trees), words)
        # Whoever heard of the job hears that it is off. The keeper heard of it if it was danger.
        everybody = tuple(dict.fromkeys((*said.message.to, KEEPER)))
        return replace(said, message=replace(said.message, to=everybody))

    def back(self, back: Back) -> Said:
        """Trees that may go home."""
        words = back_words(self._teller, back, self._made, self._outlook.now)
        return self._said(Kind.BACK, (placed.tree for placed in back.trees), words)

    def asking(self, asking: Asking) -> Said:
        """The question how trees came through."""
        words = ask_words(self._teller, asking)
        return self._said(Kind.OUTCOME, asking.trees, words)

    def round_up(
        self, later: Sequence[tuple[Told, datetime]], works: Sequence[str] = ()
    ) -> Message:
        """The coming days, told at a set time. ``works``: lines on work to do in them."""
        coming = [(told.message.title, at) for told, at in later]
        words = round_up_words(self._teller, self._outlook, coming, works, self._outlook.now)
        return self._said(Kind.ROUND_UP, (), words).message

    def watching(self) -> Message:
        """A sign of life."""
        words = watching_words(self._teller, self._outlook, self._outlook.now)
        return self._said(Kind.WATCHING, (), words).message

    def stale(self) -> Message:
        """The forecast is old or in doubt. This is as loud as danger, because it may hide one."""
        words = stale_words(self._teller, self._outlook, self._outlook.now)
        message = self._said(Kind.BLIND, (), words).message
        return replace(message, strength=Strength.DANGER)

    def _advising(self, kind: Kind, title: str, advice: Advice, closing: str = "") -> Message:
        outlook, sky = self._outlook, _sky_of(self._outlook, advice.lead)
        closing = "\n".join(filter(None, (closing, link(outlook.settings.page.address, kind))))
        body = self._teller.body(advice, sky, self._made, outlook.now, closing)
        return Message(
            key=self._key(kind),
            title=title,
            body=body,
            strength=advice.strength,
            queued_at=outlook.now,
            kind=kind,
            to=self._hands(advice),
            picture=night_chart(outlook, advice),
            tells=Tells(tuple(finding.key for finding in advice.findings)),
        )

    def _said(self, kind: Kind, trees: Iterable[str], words: Words) -> Said:
        title, body = words
        now, named = self._outlook.now, tuple(trees)
        body = with_link(body, link(self._outlook.settings.page.address, kind, named))
        message = Message(
            self._key(kind), title, body, Strength.NOTICE, now, kind, (self._there(now),)
        )
        return Said(kind, named, message)

    def _key(self, kind: Kind) -> str:
        self._count += 1
        return f"{kind} {self._outlook.now:%Y-%m-%dT%H:%M:%SZ} {self._count}"

    def _hands(self, advice: Advice) -> tuple[str, ...]:
        """Whoever is there to do the job. The keeper hears of danger in any case."""
        doing = self._there(advice.do_by) if advice.in_hand else KEEPER
        also = advice.strength is Strength.DANGER and doing != KEEPER
        return (doing, KEEPER) if also else (doing,)

    def _there(self, moment: datetime) -> str:
        settings = self._outlook.settings
        instead = settings.hands_on.stand_in(local_day(moment, settings.garden.timezone))
        return instead.name if instead else KEEPER


def _sky_of(outlook: Outlook, finding: Finding) -> Sky:
    """The median air, cloud and wind around the coldest hour of a finding's span."""
    times = outlook.weather.times
    span = (times > finding.span.start.timestamp()) & (times <= finding.span.end.timestamp())
    hours = np.flatnonzero(span)
    air = np.median(outlook.weather.air_c[:, hours], axis=0)
    coldest = int(air.argmin())
    dark = hours[max(0, coldest - 6) : coldest + 1]
    return Sky(
        air_c=float(air[coldest]),
        cloud=float(np.median(outlook.weather.cloud[:, dark])),
        wind_ms=float(np.median(outlook.weather.wind_ms[:, dark])),
    )
