"""One pass, start to end: look ahead, carry the episodes on, tell what is due, keep it all."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from underbench.daemon.alerts.already_told import covered, done_already
from underbench.daemon.alerts.call_off_and_return import (
    asking,
    going_back,
    stand_downs,
    tied_down_for,
)
from underbench.daemon.alerts.compose import Said, Speaker, Told
from underbench.daemon.alerts.due import Plans, due_advice, foreseen, reminders
from underbench.daemon.alerts.episodes import as_told, called_off, carry_on, told_beside
from underbench.daemon.alerts.moss_round import moss_waits
from underbench.daemon.alerts.outcome_question import asked_in, question, takes, waited_long
from underbench.daemon.alerts.shade_cloth import CLOTH_OFF, comes_off, left_up
from underbench.daemon.config.settings import Settings
from underbench.daemon.outlook.outlook import Outlook, act_from, fetch, look
from underbench.daemon.outlook.plans import plans_of, stays_of
from underbench.daemon.readings.nightly_learning import keep_nights, learn_nights
from underbench.daemon.store.episodes import EpisodeRow, Key, key_of
from underbench.daemon.store.message_queue import Tells
from underbench.daemon.store.store import Message, Store
from underbench.daemon.weather.supply import Source, Supplied
from underbench.rules.advice.advice import Advice
from underbench.rules.advice.deadlines import do_by
from underbench.rules.advice.remedy import TIE

Episodes = dict[Key, EpisodeRow]
A_DAY = timedelta(days=1)


@dataclass(frozen=True, slots=True)
class Pass:
    """What one pass saw, what it told, and the episodes as it left them."""

    outlook: Outlook
    told: tuple[Told, ...]
    said: tuple[Said, ...]
    episodes: Mapping[Key, EpisodeRow]
    plans: Plans

    @property
    def later(self) -> tuple[tuple[Told, datetime], ...]:
        """What will be told and when. It is worked out only when asked for. The plans are of before
        this pass, so they still call for what it told."""
        speaker = Speaker(self.outlook)
        heard = {finding.key for one in self.told for finding in one.advice.findings}
        foretold = [
            (advice, at)
            for advice, at in foreseen(self.outlook, self.episodes, self.plans)
            if not moss_waits(advice, self.episodes.values(), at)
            and not heard.issuperset(finding.key for finding in advice.findings)
        ]
        return tuple((told, at) for one, at in foretold for told in speaker.advice(one))

    @property
    def all_said(self) -> tuple[Told | Said, ...]:
        """All advice and other messages put into the outbox."""
        return (*self.told, *self.said)

    @property
    def messages(self) -> tuple[Message, ...]:
        """All messages put into the outbox."""
        return tuple(one.message for one in self.all_said)


class _DryRun(Exception):
    """Rolls the transaction back."""


def run_pass(
    settings: Settings, store: Store, supply: Source, now: datetime, *, dry_run: bool = False
) -> Pass:
    """Run one pass at ``now`` in one transaction; with ``dry_run`` nothing is kept.

    Raises SupplyError without usable weather, StoreError when the pass cannot be kept.
    """
    # The transaction must not wait for a network.
    supplied = fetch(settings, store, supply, now)
    try:
        with store.transaction():
            done = _pass(settings, store, supplied, now)
            if dry_run:
                raise _DryRun
    except _DryRun:
        pass
    return done


def _pass(settings: Settings, store: Store, supplied: Supplied, now: datetime) -> Pass:
    learn_nights(settings, store, now)
    outlook = look(settings, store, supplied, now)
    keep_nights(store, outlook)
    before = {key_of(row): row for row in store.episodes.lately(now)}
    episodes = _carried_on(outlook, before)
    stays = stays_of(outlook, store)
    plans = plans_of(outlook, store, episodes.values(), stays)
    speaker = Speaker(outlook)
    said: list[Told | Said] = [
        *_advise(outlook, store, speaker, episodes, plans),
        *_remind(outlook, store, speaker, episodes, plans),
        *_call_off(outlook, speaker, episodes, plans),
        *_send_back(outlook, speaker, episodes, plans, {key_of(row): row for row in stays}),
        *_cloth_off(outlook, store, speaker),
    ]
    if settings.telling.round_up is None:  # else the round-up asks
        said = _ask(outlook, speaker, episodes, said)
    episodes |= {key_of(row): row for row in covered(outlook, episodes, plans)}
    told = tuple(one for one in said if isinstance(one, Told))
    others = tuple(one for one in said if isinstance(one, Said))
    done = Pass(outlook, told, others, episodes, plans)
    for message in done.messages:
        store.messages.queue(message)
    store.episodes.put(row for key, row in episodes.items() if row != before.get(key))
    return done


def _carried_on(outlook: Outlook, before: Episodes) -> Episodes:
    settings, now = outlook.settings, outlook.now
    found = [*outlook.findings, *outlook.at_home]
    deadlines = {f.key: do_by(f, settings.garden, settings.hands_on, now)[0] for f in found}
    chances = {tree.name: act_from(settings, tree) for tree in settings.trees}
    rows = carry_on(before.values(), found, deadlines, chances, now)
    return {key_of(row): row for row in rows}


# Each function here returns what is due, and marks in the episodes that it was said.


def _advise(
    outlook: Outlook, store: Store, speaker: Speaker, episodes: Episodes, plans: Plans
) -> list[Told]:
    told: list[Told] = []
    for one in due_advice(outlook, episodes, plans):
        if moss_waits(one, episodes.values(), outlook.now):
            continue
        advice = left_up(one, outlook, store)
        done = done_already(advice, episodes.values(), outlook)
        _mark_told(outlook, advice, episodes)
        _mark(episodes, _rows_of(advice, done, episodes), handled_at=outlook.now)
        rest = tuple(job for job in advice.jobs if job.tree not in done)
        told += speaker.advice(replace(advice, jobs=rest)) if rest else []
    return told


def _remind(
    outlook: Outlook, store: Store, speaker: Speaker, episodes: Episodes, plans: Plans
) -> list[Said]:
    said = []
    for one in reminders(outlook, episodes, plans):
        advice = left_up(one, outlook, store)
        said += speaker.reminder(advice)
        # After new works or weather other help may be best. The keeper does what was told last.
        _mark_told(outlook, advice, episodes)
        _mark(episodes, (episodes[f.key] for f in advice.findings), reminded_at=outlook.now)
    return said


def _call_off(outlook: Outlook, speaker: Speaker, episodes: Episodes, plans: Plans) -> list[Said]:
    said = []
    for off, rows in stand_downs(outlook, episodes, plans):
        said += speaker.stand_down(off)
        episodes |= {key_of(row): called_off(row, outlook.now) for row in rows}
    return said


def _send_back(
    outlook: Outlook, speaker: Speaker, episodes: Episodes, plans: Plans, stays: Episodes
) -> list[Said]:
    found = going_back(outlook, stays | episodes, plans)
    if found is None:
        return []
    back, rows, asked = found
    _mark(episodes, rows, back_told_at=outlook.now)
    ahead = [episodes[key_of(row)] for row in rows if row.until_at > outlook.now]
    episodes |= {key_of(row): called_off(row, outlook.now) for row in ahead}
    _mark(episodes, (episodes[key_of(row)] for row in asked), asked_at=outlook.now)
    tied = [episodes[finding.key] for finding in tied_down_for(back, outlook)]
    episodes |= {key_of(row): told_beside(row, outlook.now, TIE.key) for row in tied}
    return _telling(speaker.back(back), [*rows, *asked, *tied])


def _cloth_off(outlook: Outlook, store: Store, speaker: Speaker) -> list[Said]:
    off = comes_off(outlook, store)
    if off is None:
        return []
    store.duties.done(CLOTH_OFF, outlook.now)
    tells = Tells(duties=(CLOTH_OFF,))
    return [
        replace(one, message=replace(one.message, tells=tells)) for one in speaker.cloth_off(off)
    ]


def _ask(
    outlook: Outlook, speaker: Speaker, episodes: Episodes, said: list[Told | Said]
) -> list[Told | Said]:
    """The messages, with the question how trees came through under one of them. If the question
    finds none for too long, it goes by itself."""
    found = asking(outlook, episodes)
    if found is None:
        return said
    rows, line = found[1], question(found[0], outlook.settings.page.address)
    with_it = next((n for n, one in enumerate(said) if takes(one.message, line)), None)
    if with_it is None and not waited_long(rows, outlook.now):
        return said
    _mark(episodes, rows, asked_at=outlook.now)
    if with_it is None:
        return [*said, *_telling(speaker.asking(found[0]), rows)]
    message = asked_in(said[with_it].message, line, rows)
    said[with_it] = replace(said[with_it], message=message)
    return said


def _telling(parts: list[Said], rows: Sequence[EpisodeRow]) -> list[Said]:
    """Each part with the episodes of its trees, the first also with those of trees that it only
    asks about. If no service takes a part, it is said again."""
    told = {tree for part in parts for tree in part.trees}
    others = {row.tree for row in rows} - told
    found = []
    for part in parts:
        trees = {*part.trees, *(others if part is parts[0] else ())}
        own = dict.fromkeys(key_of(row) for row in rows if row.tree in trees)
        message = replace(part.message, tells=Tells(tuple(own)))
        found.append(replace(part, message=message))
    return found


def _mark_told(outlook: Outlook, advice: Advice, episodes: Episodes) -> None:
    for job in advice.jobs:
        for finding in job.findings:
            told = as_told(episodes[finding.key], outlook.now, advice, job)
            episodes[finding.key] = told


def _rows_of(advice: Advice, trees: Collection[str], episodes: Episodes) -> list[EpisodeRow]:
    return [episodes[f.key] for job in advice.jobs if job.tree in trees for f in job.findings]


def _mark(episodes: Episodes, rows: Iterable[EpisodeRow], **moments: datetime) -> None:
    marks: dict[str, Any] = moments
    episodes |= {key_of(row): replace(row, **marks) for row in rows}
