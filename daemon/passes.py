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
from underbench.daemon.telling import Made, Teller
from underbench.daemon.units import Units
from underbench.daemon.weather.supply import Source, Supplied
from underbench.rules.advice import A_MINUTE, Advice, advise, do_by, runs, tell_from
from underbench.rules.findings import Action, Finding, Hazard, Strength
from underbench.rules.hours import hands_on_between
from underbench.rules.remedy import FROSTS

PAST_EPISODES = timedelta(days=2)
TELL_AT_ONCE = timedelta(hours=3)  # danger this near is told whatever the hour
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
    def later(self) -> tuple[tuple[Told, datetime], ...]:
        """What will be told and when its time comes, worked out when it is asked for."""
        foretold = foreseen(self.outlook, self.episodes)
        return tuple((Told(one, _message(self.outlook, one)), at) for one, at in foretold)


class _DryRun(Exception):
    """Rolls the transaction back."""


def run_pass(
    settings: Settings, store: Store, supply: Source, now: datetime, *, dry_run: bool = False
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
    found = [*outlook.findings, *outlook.at_home]
    rows = carry_on(store.episodes(now - PAST_EPISODES), found, deadlines, now)
    episodes = {key_of(row): row for row in rows}
    told = []
    for advice in due_advice(outlook, episodes):
        message = _message(outlook, advice)
        store.queue(message)
        told.append(Told(advice, message))
        for finding in advice.findings:
            episodes[finding.key] = as_told(episodes[finding.key], now, advice.strength)
    store.put_episodes(episodes.values())
    return Pass(outlook, tuple(told), episodes)


def _deadlines(outlook: Outlook) -> dict[Key, datetime]:
    settings = outlook.settings
    return {
        finding.key: do_by(finding, settings.garden, settings.hands_on, outlook.now)[0]
        for finding in (*outlook.findings, *outlook.at_home)
    }


def due_advice(outlook: Outlook, episodes: Mapping[Key, EpisodeRow]) -> list[Advice]:
    """Return the advice that is to be told now, one for each action and run, soonest first.

    ``episodes`` holds every finding of the outlook, with its deadline.
    """
    due = []
    for run in _untold_runs(outlook, episodes):
        news = [finding for finding in run if _is_news(finding, episodes)]
        at_once = {f.tree for f in news if _due(outlook, f, episodes[f.key].do_by)}
        if at_once:
            # Who heard of this run hears of its later nights when these fall due, not each day as
            # the forecast reaches one further; what was told already sets no deadline.
            heard = {f.tree for f in run if (row := episodes.get(f.key)) and row.told_at}
            due.append(
                advice_on(outlook, [f for f in news if f.tree in at_once or f.tree not in heard])
            )
    return sorted(due, key=lambda one: (one.do_by, one.action))


def _untold_runs(outlook: Outlook, episodes: Mapping[Key, EpisodeRow]) -> Iterator[list[Finding]]:
    """Runs that somebody has yet to hear of, cut down to the trees that have something untold."""
    both = (*outlook.findings, *outlook.at_home)
    told = [finding for finding in both if finding.strength is not Strength.NOTICE]
    for mine in _by_job(outlook, told):
        for run in runs(mine):
            news = {f.tree for f in run if _is_news(f, episodes)}
            if news:
                yield [finding for finding in run if finding.tree in news]


def _is_news(finding: Finding, episodes: Mapping[Key, EpisodeRow]) -> bool:
    return untold(finding, episodes.get(finding.key)) and not _kept_in(finding, episodes)


def _kept_in(finding: Finding, episodes: Mapping[Key, EpisodeRow]) -> bool:
    """Whether the message that had this tree covered the night before or after spoke of this night
    too: then it said "leave them in", and the keeper does not hear it again."""
    if finding.hazard not in FROSTS:
        return False
    frost = [row for row in episodes.values() if row.told_at and row.hazard in FROSTS]
    spoken = {row.told_at for row in frost if row.span_start == finding.span.start}
    return any(
        row.tree == finding.tree
        and row.told_at in spoken
        and abs(row.span_start - finding.span.start) <= NEXT_NIGHT
        and not untold(finding, row)
        for row in frost
    )


def _by_job(outlook: Outlook, findings: Iterable[Finding]) -> Iterable[list[Finding]]:
    """Findings that make one job: an action. A tropical's going in for the season is its own; so
    are a layer's moss, trees that only have to stay in, and pots that dry while nobody is there."""
    jobs: dict[tuple[Action, Hazard | None, bool, bool], list[Finding]] = {}
    settings, home = outlook.settings, {finding.key for finding in outlook.at_home}
    for finding in findings:
        alone = (
            finding.hazard is Hazard.DRY
            and not (do_by(finding, settings.garden, settings.hands_on, outlook.now)[1])
        )
        own = finding.hazard if finding.hazard in (Hazard.CHILL, Hazard.DRY_MOSS) else None
        key = (finding.action, own, finding.key in home, alone)
        jobs.setdefault(key, []).append(finding)
    return jobs.values()


def foreseen(outlook: Outlook, episodes: Mapping[Key, EpisodeRow]) -> list[tuple[Advice, datetime]]:
    """Return the advice not told yet, as it would be if told now, and when its time comes."""
    settings = outlook.settings
    found = []
    for run in _untold_runs(outlook, episodes):
        opens = [
            tell_from(episodes[f.key].do_by, f.strength, settings.garden, settings.hands_on)
            for f in run
            if _is_news(f, episodes)
        ]
        found.append((advice_on(outlook, run), max(min(opens), outlook.now)))
    return found


def _due(outlook: Outlook, finding: Finding, deadline: datetime) -> bool:
    # Chill is on for weeks before it kills: nobody is woken for cold that is days off.
    presses = finding.worst_at if finding.hazard is Hazard.CHILL else deadline
    if finding.strength is Strength.DANGER and presses - outlook.now <= TELL_AT_ONCE:
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
    found, garden, hands_on = list(run), settings.garden, settings.hands_on
    home = {finding.key for finding in outlook.at_home}
    stay = frozenset(finding.tree for finding in found if finding.key in home)
    works, now = outlook.open_works(), outlook.now
    bare = advise(found, spots, {}, garden, hands_on, now, works=works)
    worst_first = [finding for job in bare.jobs for finding in job.findings]
    choices = {} if stay else remedies(outlook, worst_first, bare.do_by)
    ends = outlook.reaches
    return advise(
        found, spots, choices, garden, hands_on, now, works=works, stay=stay, reaches=ends
    )


def _message(outlook: Outlook, advice: Advice) -> Message:
    settings = outlook.settings
    teller = Teller(settings.garden.timezone, Units(settings.units))
    sky = sky_of(outlook, advice.lead)
    span, now = advice.lead.span.start, outlook.now
    return Message(
        key=f"{advice.action} {span:%Y-%m-%dT%H:%MZ} {now:%Y-%m-%dT%H:%M:%SZ}",
        title=teller.title(advice, outlook.now),
        body=teller.body(
            advice, sky, Made(outlook.supplied.fetched_at, outlook.supplied.attribution), now
        ),
        strength=advice.strength,
        queued_at=outlook.now,
    )
