"""One pass, start to end: look ahead, carry the episodes on, tell what is due, keep it all."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from zoneinfo import ZoneInfo

from underbench.daemon.ledger import Key, as_told, carry_on, key_of, untold
from underbench.daemon.outlook import Outlook, fetch, look, remedies, sky_of
from underbench.daemon.settings import Settings
from underbench.daemon.store import EpisodeRow, Message, Store
from underbench.daemon.telling import Teller
from underbench.daemon.units import Units
from underbench.daemon.weather.supply import Supplied, Supply
from underbench.rules.advice import A_MINUTE, Advice, advise, do_by, runs, tell_from
from underbench.rules.findings import Action, Finding, Hazard, Strength
from underbench.rules.hours import hands_on_between

PAST_EPISODES = timedelta(days=2)
TELL_AT_ONCE = timedelta(hours=3)  # danger this near is told whatever the hour
FROST = (Hazard.LEAF_FROST, Hazard.ROOT_FROST)
NEXT_NIGHT = timedelta(hours=25)  # hazard nights begin at noon by the clock
NIGHT = (time(22), time(6))  # what only asks to act wakes nobody


@dataclass(frozen=True, slots=True)
class Told:
    """An advice and the message made of it."""

    advice: Advice
    message: Message


@dataclass(frozen=True, slots=True)
class Pass:
    """What one pass saw, what it told, and the episodes as it left them."""

    outlook: Outlook
    told: tuple[Told, ...]
    episodes: Mapping[Key, EpisodeRow]

    @property
    def later(self) -> tuple[Told, ...]:
        """What will be told when its time comes, worked out when it is asked for."""
        foretold = foreseen(self.outlook, self.episodes)
        return tuple(Told(one, _message(self.outlook, one)) for one in foretold)


class _DryRun(Exception):
    """Rolls the transaction back."""


def run_pass(
    settings: Settings, store: Store, supply: Supply, now: datetime, *, dry_run: bool = False
) -> Pass:
    """Run one pass at ``now`` in one transaction; with ``dry_run`` nothing is kept.

    Raises SupplyError without usable weather, StoreError when it cannot be kept.
    """
    # Before the transaction, which must not wait for a network.
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
    outlook = look(settings, store, supplied, now)
    deadlines = _deadlines(outlook)
    rows = carry_on(store.episodes(now - PAST_EPISODES), outlook.findings, deadlines, now)
    episodes = {key_of(row): row for row in rows}
    told = []
    for advice in due_advice(outlook, episodes, deadlines):
        message = _message(outlook, advice)
        store.queue(message)
        told.append(Told(advice, message))
        for finding in advice.findings:
            episodes[finding.key] = as_told(episodes[finding.key], now)
    store.put_episodes(episodes.values())
    return Pass(outlook, tuple(told), episodes)


def _deadlines(outlook: Outlook) -> dict[Key, datetime]:
    settings = outlook.settings
    return {
        finding.key: do_by(finding, settings.garden, settings.hands_on, outlook.now)[0]
        for finding in outlook.findings
    }


def due_advice(
    outlook: Outlook, episodes: Mapping[Key, EpisodeRow], deadlines: Mapping[Key, datetime]
) -> list[Advice]:
    """Return the advice that is to be told now, one for each action and run, soonest first."""
    due = [
        advice_on(outlook, run)
        for run in _untold_runs(outlook, episodes)
        if any(
            _is_news(finding, episodes) and _due(outlook, finding, deadlines[finding.key])
            for finding in run
        )
    ]
    return sorted(due, key=lambda one: (one.do_by, one.action))


def _untold_runs(outlook: Outlook, episodes: Mapping[Key, EpisodeRow]) -> Iterator[list[Finding]]:
    """Runs that somebody has yet to hear of, cut down to the trees that have something untold."""
    told = [finding for finding in outlook.findings if finding.strength is not Strength.NOTICE]
    for mine in _by_job(told):
        for run in runs(mine):
            news = {f.tree for f in run if _is_news(f, episodes)}
            if news:
                yield [finding for finding in run if finding.tree in news]


def _is_news(finding: Finding, episodes: Mapping[Key, EpisodeRow]) -> bool:
    return untold(finding, episodes.get(finding.key)) and not _kept_in(finding, episodes)


def _kept_in(finding: Finding, episodes: Mapping[Key, EpisodeRow]) -> bool:
    """Whether the message that had this tree covered the night before or after spoke of this night
    too: then it said "leave them in", and the keeper does not hear it again."""
    if finding.hazard not in FROST:
        return False
    frost = [row for row in episodes.values() if row.told_at and row.hazard in FROST]
    spoken = {row.told_at for row in frost if row.span_start == finding.span.start}
    return any(
        row.tree == finding.tree
        and row.told_at in spoken
        and abs(row.span_start - finding.span.start) <= NEXT_NIGHT
        and not untold(finding, row)
        for row in frost
    )


def _by_job(findings: Iterable[Finding]) -> Iterable[list[Finding]]:
    """Findings that make one job: an action; a tropical's going in for the season is its own."""
    jobs: dict[tuple[Action, bool], list[Finding]] = {}
    for finding in findings:
        jobs.setdefault((finding.action, finding.hazard is Hazard.CHILL), []).append(finding)
    return jobs.values()


def foreseen(outlook: Outlook, episodes: Mapping[Key, EpisodeRow]) -> list[Advice]:
    """Return the advice not told yet, as it would be if it were told now."""
    return [advice_on(outlook, run) for run in _untold_runs(outlook, episodes)]


def _due(outlook: Outlook, finding: Finding, deadline: datetime) -> bool:
    if finding.strength is Strength.DANGER and deadline - outlook.now <= TELL_AT_ONCE:
        return True
    settings = outlook.settings
    if _asleep(outlook.now, settings):
        return False
    opens = tell_from(deadline, finding.strength, settings.garden, settings.hands_on)
    return opens <= outlook.now


def _asleep(now: datetime, settings: Settings) -> bool:
    zone = settings.garden.timezone
    clock = now.astimezone(ZoneInfo(zone)).time()
    by_night = clock >= NIGHT[0] or clock < NIGHT[1]
    return by_night and not hands_on_between(settings.hands_on, now, now + A_MINUTE, zone)


def advice_on(outlook: Outlook, run: Iterable[Finding]) -> Advice:
    """Return the advice on one run, with the least remedy for each tree."""
    spots = {at.tree.name: at.spot for at in outlook.standing}
    settings = outlook.settings
    bare = advise(list(run), spots, {}, settings.garden, settings.hands_on, outlook.now)
    worst_first = [finding for job in bare.jobs for finding in job.findings]
    choices = remedies(outlook, worst_first)
    return advise(worst_first, spots, choices, settings.garden, settings.hands_on, outlook.now)


def _message(outlook: Outlook, advice: Advice) -> Message:
    settings = outlook.settings
    teller = Teller(settings.garden.timezone, Units(settings.units))
    sky = sky_of(outlook, advice.lead)
    span, now = advice.lead.span.start, outlook.now
    return Message(
        key=f"{advice.action} {span:%Y-%m-%dT%H:%MZ} {now:%Y-%m-%dT%H:%M:%SZ}",
        title=teller.title(advice, outlook.now),
        body=teller.body(advice, sky, outlook.supplied.fetched_at, outlook.now),
        strength=advice.strength,
        queued_at=outlook.now,
    )
