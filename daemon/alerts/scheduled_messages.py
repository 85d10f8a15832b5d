"""Messages that the clock asks for, not the weather: round-up, still watching, old forecast."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from underbench.daemon.alerts.call_off_and_return import asking
from underbench.daemon.alerts.compose import Speaker
from underbench.daemon.alerts.hourly_pass import Pass
from underbench.daemon.alerts.message_kinds import Kind
from underbench.daemon.alerts.other_texts import STALE_AFTER
from underbench.daemon.alerts.outcome_question import question
from underbench.daemon.config.settings import Settings
from underbench.daemon.planning.follow_ups import follow_up_line, follow_ups, may_have_rooted
from underbench.daemon.planning.lacking import lacking_line
from underbench.daemon.planning.round_up_line import RoundUpLine
from underbench.daemon.planning.windows import window_lines
from underbench.daemon.planning.winter import winter_lines
from underbench.daemon.store.episodes import key_of
from underbench.daemon.store.message_queue import Tells
from underbench.daemon.store.store import Message, Store
from underbench.rules.garden.local_time import A_MINUTE, hands_on_between, local_day, quiet_until

ROUND_UP, WATCHING, BLIND = (duty.value for duty in (Kind.ROUND_UP, Kind.WATCHING, Kind.BLIND))
LATE = timedelta(hours=3)  # a round-up later than this is left out
A_DAY = timedelta(days=1)
MOST = 2  # a round-up has so many lines on works, to fit a phone's screen


def round_up_due(settings: Settings, store: Store, now: datetime) -> bool:
    """Return whether the day's round-up is to be sent. It is sent at its time by the local clock,
    or when the daemon comes back soon after, and once a day."""
    wanted = settings.telling.round_up
    if wanted is None:
        return False
    local = now.astimezone(ZoneInfo(settings.garden.timezone))
    since = local - local.replace(hour=wanted.hour, minute=wanted.minute, second=0, microsecond=0)
    last = store.duties.last_done(ROUND_UP)
    fresh = last is None or local_day(last, settings.garden.timezone) != local.date()
    return fresh and timedelta(0) <= since < LATE


def say(done: Pass, settings: Settings, store: Store, now: datetime) -> list[Message]:
    """Queue the messages due beside those of the pass, and return them. Raises StoreError."""
    speaker = Speaker(done.outlook)
    with store.transaction():
        if store.duties.last_done(WATCHING) is None:  # quiet days are counted from the first
            store.duties.done(WATCHING, now)
        lines = _works(done, store, now) if round_up_due(settings, store, now) else None
        due = list(_due(done, speaker, settings, store, now, lines))
        for duty, message in due:
            store.messages.queue(message)
            asked = (done.episodes[key] for key in message.tells.episodes)
            store.episodes.put(replace(row, asked_at=message.queued_at) for row in asked)
            for one in (duty, *message.tells.duties):
                store.duties.done(one, now)
    return [message for _, message in due]


def _works(done: Pass, store: Store, now: datetime) -> list[RoundUpLine]:
    """What there is to do beside the weather. Lines that cannot wait come first. Then come the
    question how trees came through, lines after works, those of the winter, and windows."""
    outlook = done.outlook
    after_works = follow_ups(outlook, store)
    lines = [
        *_question(done),
        *follow_up_line(after_works, store),
        *winter_lines(outlook, store),
        *lacking_line(outlook, store),
        *window_lines(outlook, store, now, may_have_rooted(after_works)),
    ]
    return sorted(lines, key=lambda line: line.by or date.max)[:MOST]


def _question(done: Pass) -> Iterator[RoundUpLine]:
    found = asking(done.outlook, done.episodes, at_any_hour=True)
    if found is not None:
        words = question(found[0], done.outlook.settings.page.address)
        yield RoundUpLine(words, (), episodes=tuple(key_of(row) for row in found[1]))


def _due(
    done: Pass,
    speaker: Speaker,
    settings: Settings,
    store: Store,
    now: datetime,
    lines: Sequence[RoundUpLine] | None,
) -> Iterator[tuple[str, Message]]:
    """``lines``: what there is to do beside the weather; None if no round-up is due."""
    doubted_for = done.outlook.supplied.doubted_for
    if doubted_for >= STALE_AFTER and _blind_due(settings, store, now):
        yield BLIND, speaker.stale()
    if lines is not None:
        said = speaker.round_up(done.later, [line.words for line in lines])
        duties = tuple(duty for line in lines for duty in line.duties)
        asked = tuple(key for line in lines for key in line.episodes)
        yield ROUND_UP, replace(said, tells=Tells(asked, duties))
    elif _watching_due(settings, store, now):
        yield WATCHING, speaker.watching()


def _blind_due(settings: Settings, store: Store, now: datetime) -> bool:
    """Whether this is due: once a day, outside quiet hours. In quiet hours nobody looks for another
    forecast."""
    last = store.duties.last_done(BLIND)
    quiet = quiet_until(settings.hands_on, now, settings.garden.timezone)
    return quiet is None and (last is None or last > now or now - last >= A_DAY)


def _watching_due(settings: Settings, store: Store, now: datetime) -> bool:
    """Whether nothing has been said for the days that the keeper set, and somebody is there. A
    round-up each day is sign enough."""
    days = settings.telling.still_watching_days
    zone = settings.garden.timezone
    if not days or settings.telling.round_up is not None:
        return False
    if not hands_on_between(settings.hands_on, now, now + A_MINUTE, zone):
        return False
    known = (store.messages.last_queued(), store.duties.last_done(WATCHING))
    heard = [at for at in known if at and at <= now]  # a clock set back leaves later moments behind
    return bool(heard) and now - max(heard) >= timedelta(days=days)
