"""What is due to be told: runs of findings that are news, and when they are told."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from underbench.daemon.alerts.already_told import is_in_for_season, is_to_tell, promised
from underbench.daemon.alerts.episodes import untold
from underbench.daemon.outlook.outlook import Outlook, remedies
from underbench.daemon.outlook.plans import TreePlan
from underbench.daemon.outlook.prospects import planned_hazard
from underbench.daemon.store.episodes import EpisodeRow, Key
from underbench.rules.advice.advice import Advice, advise, runs
from underbench.rules.advice.deadlines import back_after, do_by, tell_from
from underbench.rules.advice.effort import time_for
from underbench.rules.advice.remedies import Choice
from underbench.rules.advice.remedy import SHELTER
from underbench.rules.garden.inventory import Garden, HandsOn
from underbench.rules.garden.local_time import quiet_until
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.hazard import Action, Due, Hazard

LEAST_WARNING = timedelta(minutes=30)  # a grower woken for danger needs at least this
NEARS = timedelta(hours=2)  # danger is told once more this long before its deadline
SPOKEN_LATELY = timedelta(hours=3)
HALF_AN_HOUR = timedelta(minutes=30)
ONE_MESSAGE_IN = timedelta(days=1)
A_DAY_OUT = timedelta(hours=12)
SURE, SURE_AHEAD = 0.7, timedelta(days=2)  # so likely, danger is told so early; judgement

Episodes = Mapping[Key, EpisodeRow]
Plans = Mapping[str, TreePlan]


def due_advice(outlook: Outlook, episodes: Episodes, plans: Plans) -> list[Advice]:
    """Return the advice that is to be told now, one for each action and run, soonest first.

    ``episodes`` holds every finding of the outlook, with its deadline. ``plans``: where trees are
    to be in cold and wind.
    """
    due, is_news = [], _News(outlook, episodes, plans)
    spoken = _spoken_lately(outlook, episodes)
    if not any(is_news(finding) for finding in _may_be_due(outlook, episodes, spoken)):
        return []
    for run in _runs_with(outlook, is_news):
        news = [finding for finding in run if is_news(finding)]
        needed = _needed(outlook, run)
        at_once = {
            f.tree
            for f in news
            if f.strength is not Strength.NOTICE
            and _due(outlook, f, episodes[f.key].do_by, needed, spoken)
        }
        if at_once:
            # The later nights of a run are told when they fall due. Otherwise the keeper would hear
            # of a new night each day. A finding told already sets no deadline.
            heard = {f.tree for f in run if (row := episodes.get(f.key)) and row.told_at}
            due.append(
                advice_on(
                    outlook, [f for f in news if f.tree in at_once or f.tree not in heard], plans
                )
            )
    return sorted(due, key=lambda one: (one.do_by, one.action))


def _may_be_due(outlook: Outlook, episodes: Episodes, spoken: bool) -> Iterator[Finding]:
    """The findings that fall due now if all trees of their action have to be seen to: no run takes
    longer. So a pass with nothing due asks no plan, which takes the physics of every place."""
    both = (*outlook.findings, *outlook.at_home)
    for action in Action:
        own = [finding for finding in both if finding.action is action]
        acting = [finding for finding in own if finding.strength is not Strength.NOTICE]
        needed = _needed(outlook, own) if acting else HALF_AN_HOUR
        yield from (f for f in acting if _due(outlook, f, episodes[f.key].do_by, needed, spoken))


def _runs_with(outlook: Outlook, asked: Callable[[Finding], bool]) -> Iterator[list[Finding]]:
    """Runs in which ``asked`` holds for some finding. Only the trees of such findings are kept.

    Of trees for which nobody would be called, the nights count in which others have to go.
    """
    both = (*outlook.findings, *outlook.at_home)
    acting = [f for f in both if f.strength is not Strength.NOTICE]
    spans = {(f.action, f.span.start) for f in acting}
    called = {(f.action, f.tree) for f in acting}
    along = [
        f
        for f in both
        if (f.action, f.span.start) in spans and (f.action, f.tree) not in called and asked(f)
    ]
    for mine in _by_job(outlook, [*acting, *along]):
        for run in runs(mine):
            trees = {finding.tree for finding in run if asked(finding)}
            if trees:
                yield [finding for finding in run if finding.tree in trees]


class _News:
    """Whether a finding is news to the keeper. Gardens of hundreds of trees ask this several times
    for each finding, so the lookups are made once."""

    def __init__(self, outlook: Outlook, episodes: Episodes, plans: Plans) -> None:
        self._now, self._episodes, self._plans = outlook.now, episodes, plans
        self._cloth = outlook.settings.means.shade_cloth
        self._at_home = {finding.key for finding in outlook.at_home}
        self._of: dict[str, list[EpisodeRow]] = {}
        for row in episodes.values():
            self._of.setdefault(row.tree, []).append(row)
        indoors = (tree for tree, own in self._of.items() if is_in_for_season(own, outlook.now))
        self._indoors, self._harsh = set(indoors), _harsh_today(outlook)

    def __call__(self, finding: Finding) -> bool:
        return finding.tree not in self._indoors and self._is_news(finding)

    def _is_news(self, finding: Finding) -> bool:
        row, own = self._episodes.get(finding.key), self._of.get(finding.tree, ())
        goes = self._plans.get(finding.tree)
        plan = goes if planned_hazard(finding.hazard) else None
        if finding.strength is Strength.NOTICE:
            if finding.action is Action.SHADE:
                told = row is None or row.told_at is not None
                return self._cloth and not told and not promised(finding, own)
            return plan is not None and row is not None and _goes_along(finding, row, plan)
        if plan is not None:
            at_home = finding.key in self._at_home
            sent_back = plan.start == plan.home != plan.here
            if at_home and not sent_back and not plan.fleece_fails(finding):
                return False
            return is_to_tell(finding, row, own, plan, self._now)
        if finding.key in self._at_home or self._waits(finding):
            return False
        return untold(finding, row) and not promised(finding, own)

    def _waits(self, finding: Finding) -> bool:
        """Whether a tree in the dark is not let out yet: the day outside would harm it, or it goes
        home in the days ahead and that is told when it goes."""
        if finding.action is not Action.LIGHT:
            return False
        goes = self._plans.get(finding.tree)
        return finding.tree in self._harsh or (goes is not None and goes.ends_its_stay)


def _harsh_today(outlook: Outlook) -> set[str]:
    """The trees that cold or wind would harm within the day ahead where they belong."""
    ends = outlook.now + A_DAY_OUT
    return {
        f.tree
        for f in (*outlook.findings, *outlook.at_home)
        if f.action is Action.PROTECT and f.strength is not Strength.NOTICE and f.first_at < ends
    }


def _goes_along(finding: Finding, row: EpisodeRow, plan: TreePlan) -> bool:
    """Whether a tree for which nobody would be called goes with those that have to: its plan has it
    elsewhere some night, and nothing was said of it."""
    settled = plan.start == plan.here == plan.home
    return settled and row.told_at is None and plan.moves_for(finding)


def _by_job(outlook: Outlook, findings: Iterable[Finding]) -> Iterable[list[Finding]]:
    """Findings by job. An action is one job. Jobs of their own are: tropicals that go in for the
    season, a layer's moss, pots that dry while nobody is there."""
    jobs: dict[tuple[Action, Hazard | None, bool], list[Finding]] = {}
    settings = outlook.settings
    for finding in findings:
        alone = (
            finding.hazard.due is Due.WATERING
            and not (do_by(finding, settings.garden, settings.hands_on, outlook.now)[1])
        )
        own = finding.hazard if finding.hazard.is_seasonal or finding.hazard.by_days else None
        key = (finding.action, own, alone)
        jobs.setdefault(key, []).append(finding)
    return jobs.values()


def _needed(outlook: Outlook, run: Sequence[Finding]) -> timedelta:
    """How long the job of a run takes."""
    trees = {finding.tree for finding in run}
    standing = [at for at in outlook.standing if at.tree.name in trees]
    settings = outlook.settings
    return time_for(standing, run[0].action, settings.spots, settings.means)


def foreseen(outlook: Outlook, episodes: Episodes, plans: Plans) -> list[tuple[Advice, datetime]]:
    """Return the advice not told yet, as it would be told now, and when it is to be told;
    the soonest first."""
    settings, is_news = outlook.settings, _News(outlook, episodes, plans)
    found = []
    for run in _runs_with(outlook, is_news):
        needed, news = _needed(outlook, run), [finding for finding in run if is_news(finding)]
        opens = [
            tell_from(episodes[f.key].do_by, f.strength, needed, settings.garden, settings.hands_on)
            for f in news
            if f.strength is not Strength.NOTICE
        ]
        if opens:
            found.append((advice_on(outlook, news, plans), max(min(opens), outlook.now)))
    return sorted(found, key=lambda one: one[1])


def _spoken_lately(outlook: Outlook, episodes: Episodes) -> bool:
    """Whether trees were told to be covered or moved within a day. Further ones then wait until
    they fall due, instead of coming by ones and twos."""
    told = (row for row in episodes.values() if row.action == Action.PROTECT and row.said)
    return any(row.told_at and outlook.now - row.told_at < ONE_MESSAGE_IN for row in told)


def _due(
    outlook: Outlook, finding: Finding, deadline: datetime, needed: timedelta, spoken: bool
) -> bool:
    settings, now = outlook.settings, outlook.now
    garden, hands_on = settings.garden, settings.hands_on
    opens = tell_from(deadline, finding.strength, needed, garden, hands_on)
    early = _is_sure(finding) and deadline - now <= SURE_AHEAD and not spoken
    if opens > now and not early:
        return False
    quiet = quiet_until(hands_on, now, garden.timezone)
    if quiet is None:
        return True
    return _cannot_wait(finding, deadline, quiet + max(needed, LEAST_WARNING))


def _is_sure(finding: Finding) -> bool:
    """Whether it is danger from cold or wind that need not wait to be told."""
    danger = finding.strength is Strength.DANGER and planned_hazard(finding.hazard)
    return danger and finding.chance >= SURE


def _cannot_wait(finding: Finding, deadline: datetime, ready: datetime) -> bool:
    """Whether danger comes before the job can be done at ``ready``, after the quiet hours."""
    # Chill takes weeks to kill, so nobody is woken for cold that is days off.
    presses = finding.worst_at if finding.hazard.is_seasonal else deadline
    return finding.strength is Strength.DANGER and presses < ready


def reminders(outlook: Outlook, episodes: Episodes, plans: Plans) -> list[Advice]:
    """Return the dangers that were told, are still ahead, are not said to be handled, and whose
    deadline is near. Each is told once more, and then no more."""
    if quiet_until(outlook.settings.hands_on, outlook.now, outlook.settings.garden.timezone):
        return []
    spots = {at.tree.name: at.spot for at in outlook.standing}

    def waits(finding: Finding) -> bool:
        row = episodes.get(finding.key)
        if row is None or finding.strength is not Strength.DANGER:
            return False
        nears = _nears(row, outlook.now, _last_awake(outlook, row.do_by))
        # Where nothing here is enough there is nothing more to do.
        return nears and row.remedy != SHELTER.key and row.into_spot != spots[finding.tree]

    found = [advice_on(outlook, run, plans) for run in _runs_with(outlook, waits)]
    return sorted(found, key=lambda one: one.do_by)


def _last_awake(outlook: Outlook, moment: datetime) -> datetime:
    """``moment``, or in quiet hours the last half hour before them."""
    settings = outlook.settings
    while quiet_until(settings.hands_on, moment, settings.garden.timezone):
        moment -= HALF_AN_HOUR
    return moment


def _nears(row: EpisodeRow, now: datetime, last: datetime) -> bool:
    if row.told_at is None or row.told_strength != Strength.DANGER:
        return False
    if row.handled_at or row.reminded_at or now - row.told_at < SPOKEN_LATELY:
        return False
    return now < last <= now + NEARS


def advice_on(outlook: Outlook, run: Iterable[Finding], plans: Plans) -> Advice:
    """Return the advice on one run: trees go where their plan has them, and others get the least
    remedy."""
    spots = {at.tree.name: at.spot for at in outlook.standing}
    settings = outlook.settings
    found, garden, hands_on = list(run), settings.garden, settings.hands_on
    works, now = outlook.open_works(), outlook.now
    bare = advise(found, spots, {}, garden, hands_on, now, works=works)
    worst_first = [finding for job in bare.jobs for finding in job.findings]
    choices = _choices(outlook, worst_first, bare.do_by, plans)
    ends = outlook.reaches
    told = advise(found, spots, choices, garden, hands_on, now, works=works, reaches=ends)
    return _back_as_planned(told, plans, garden, hands_on)


def _back_as_planned(told: Advice, plans: Plans, garden: Garden, hands_on: HandsOn) -> Advice:
    """The same advice, with trees back no sooner than home is safe for all of them. While some
    plan ends away from home, nobody knows when that is."""
    away = [plans[job.tree] for job in told.jobs if job.tree in plans]
    if told.action is not Action.PROTECT or told.back_at is None or not away:
        return told
    until = max(plan.unsafe_until for plan in away)
    last = any(plan.plan.path[-1] != plan.home for plan in away)
    back_at = back_after(told.back_at, until, garden, hands_on)
    return replace(told, back_at=back_at, open_ended=told.open_ended or last)


def _choices(
    outlook: Outlook, findings: Sequence[Finding], do_by: datetime, plans: Plans
) -> dict[str, Choice]:
    planned: dict[str, list[Finding]] = {}
    for finding in findings:
        if finding.tree in plans and planned_hazard(finding.hazard):
            planned.setdefault(finding.tree, []).append(finding)
    others = [finding for finding in findings if finding.tree not in planned]
    own = {tree: plans[tree].choice(several) for tree, several in planned.items()}
    return remedies(outlook, others, do_by) | {t: c for t, c in own.items() if c is not None}
