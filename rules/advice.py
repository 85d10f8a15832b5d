"""From findings to advice: one for each action and run of spans, with its deadline and its end."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, time, timedelta

from underbench.rules.findings import Action, Finding, Hazard, Strength
from underbench.rules.garden import Garden, HandsOn
from underbench.rules.hours import hands_on_between, local_day, local_moment
from underbench.rules.journal import Work
from underbench.rules.remedy import FROSTS, Choice
from underbench.rules.sun import sunrise_sunset

LOOK_BACK = timedelta(days=3)
BACK_OUT_FROM = time(9)
LEAVING = time(9)  # "before leaving for the day", where no morning hands-on hours are recorded
LEAST_WORK = timedelta(minutes=20)
A_MINUTE = timedelta(minutes=1)  # a span ends as its last local day does, or in it
ALREADY = timedelta(hours=1)  # a hazard this near is on: the first bad hour may have begun
WATER_HOLDS = timedelta(hours=16)  # a pot about to run dry has used up what it got before that
MOSS_WAITS = timedelta(days=2)
RUN_GAP = timedelta(hours=13)  # the next night's hazard still belongs to the same run

NO_RETURN = (
    Hazard.DRY,
    Hazard.DRY_MOSS,
    Hazard.HOT_BAG,
    Hazard.CHILL,
    Hazard.FIRST_SUN,
    Hazard.DRY_WIND,
)
OPEN_END = timedelta(hours=12)  # of the forecast's last hour: what comes after is not known
_RANK = {Strength.NOTICE: 0, Strength.ACT: 1, Strength.DANGER: 2}


def stronger(one: Strength, other: Strength) -> bool:
    """Return whether ``one`` speaks harder than ``other``."""
    return _RANK[one] > _RANK[other]


@dataclass(frozen=True, slots=True)
class Job:
    """One tree to see to: its findings in the run (worst first) and what helps.

    ``work``: the work whose aftercare is still open on it; ``stay``: it stands under cover already
    and is threatened only where it belongs.
    """

    tree: str
    spot: str
    findings: tuple[Finding, ...]
    choice: Choice | None
    work: Work | None = None
    stay: bool = False

    @property
    def worst(self) -> Finding:
        """The finding that decides."""
        return self.findings[0]


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do about one action over a run of spans.

    ``in_hand``: whether ``do_by`` lies in hands-on hours; ``back_at``: when trees may go back,
    None for actions that have no return; ``open_ended``: the run reaches as far as the forecast,
    so that its end is not known.
    """

    action: Action
    strength: Strength
    do_by: datetime
    in_hand: bool
    back_at: datetime | None
    jobs: tuple[Job, ...]
    open_ended: bool = False

    @property
    def lead(self) -> Finding:
        """The finding told first."""
        return self.in_order[0]

    @property
    def in_order(self) -> list[Finding]:
        """All findings, the one to tell first in front.

        What trees are carried in for is the gravest of the run, whichever night; what is done anew
        each day is the first day's, for which the deadline is.
        """
        if self.action is Action.PROTECT:
            return sorted(self.findings, key=by_risk)
        return sorted(self.findings, key=lambda f: (f.span.start, by_risk(f)))

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings this covers."""
        return tuple(finding for job in self.jobs for finding in job.findings)


def do_by(
    finding: Finding, garden: Garden, hands_on: HandsOn, now: datetime
) -> tuple[datetime, bool]:
    """Return by when to act, and whether somebody is there to.

    The trade's deadline (frost: sunset; heat, bags: before leaving for the day; gale: the daylight
    before) when it falls in hands-on hours; else the end of the last hands-on hours before it, or
    before the hazard itself; else the hazard's own onset, and False. A hazard that is on: now. A
    pot is not helped by water it has used up by then.
    """
    if finding.hazard is Hazard.DRY_MOSS:  # it dries by days: the next time somebody is there
        soon = hands_on_between(hands_on, now, now + MOSS_WAITS, garden.timezone)
        return (soon[0].end, True) if soon else (now + MOSS_WAITS, False)
    if finding.first_at - now <= ALREADY:
        return now, bool(hands_on_between(hands_on, now, now + ALREADY, garden.timezone))
    ideal = max(_trade_deadline(finding, garden), now)
    since = max(finding.first_at - WATER_HOLDS, now) if finding.hazard is Hazard.DRY else now
    for limit in (min(ideal, finding.first_at), finding.first_at):
        open_hours = hands_on_between(hands_on, since, limit, garden.timezone)
        if open_hours:
            return open_hours[-1].end, True
    onset = finding.first_at
    if finding.hazard is Hazard.DRY:  # nobody else is asked to water in the dark
        onset = min(onset, _daylight_before(onset, garden))
    return max(onset, now), False


def _trade_deadline(finding: Finding, garden: Garden) -> datetime:
    if finding.hazard in FROSTS:
        return _sunset_of(finding, garden)
    if finding.action is Action.PROTECT:
        return _daylight_before(finding.first_at, garden)
    first_day = local_day(finding.first_at, garden.timezone)
    leaving = local_moment(first_day, LEAVING, garden.timezone)
    return min(leaving, finding.first_at)


def _sunset_of(finding: Finding, garden: Garden) -> datetime:
    """The sunset of the hazard night: frost just after dawn is still that night's."""
    evening = local_day(finding.span.start, garden.timezone)
    _, sunset = sunrise_sunset(evening, garden.latitude, garden.longitude)
    return finding.first_at if sunset is None else min(sunset, finding.first_at)


def _daylight_before(moment: datetime, garden: Garden) -> datetime:
    """The last daylight before ``moment``: that moment itself by day, else the sunset before it."""
    day = local_day(moment, garden.timezone)
    for back in range(3):
        sunrise, sunset = sunrise_sunset(
            day - timedelta(days=back), garden.latitude, garden.longitude
        )
        if sunrise is None or sunset is None:
            return moment
        if sunrise < moment:
            return min(sunset, moment)
    return moment


def tell_from(
    deadline: datetime, strength: Strength, garden: Garden, hands_on: HandsOn
) -> datetime:
    """Return from when this is told: the start of the last hands-on hours that leave time to work.

    Danger is told a day's hands-on hours earlier, so that it can be slept on. With no hands-on
    hours in the three days before (somebody is away), it is told as far ahead as it is told at all.
    """
    open_hours = [
        hours
        for hours in hands_on_between(hands_on, deadline - LOOK_BACK, deadline, garden.timezone)
        if min(hours.end, deadline) - hours.start >= LEAST_WORK
    ]
    if not open_hours:
        return deadline - LOOK_BACK
    back = 2 if strength is Strength.DANGER and len(open_hours) > 1 else 1
    return open_hours[-back].start


def back_again(run: Sequence[Finding], garden: Garden, hands_on: HandsOn) -> datetime | None:
    """Return when trees may go back after a run: the first hands-on moment after nine o'clock on
    the morning that ends its last night, or once the last bad hour of its last day has passed.

    None where nothing goes back: water, a bag, a tropical in for the cold season.
    """
    passing = [f for f in run if f.hazard not in NO_RETURN]
    if not passing:
        return None
    last = max(f.until_at for f in passing)
    day = local_day(max(f.span.end for f in passing) - A_MINUTE, garden.timezone)
    earliest = max(last, local_moment(day, BACK_OUT_FROM, garden.timezone))
    after = hands_on_between(hands_on, earliest, earliest + timedelta(days=7), garden.timezone)
    return after[0].start if after else earliest


def runs(findings: Sequence[Finding]) -> list[list[Finding]]:
    """Split findings of one action into runs: a run of cold nights is planned as one."""
    ordered = sorted(findings, key=lambda f: f.span.start)
    found: list[list[Finding]] = []
    reach = datetime.min.replace(tzinfo=UTC)
    for finding in ordered:
        if found and finding.span.start <= reach + RUN_GAP:
            found[-1].append(finding)
        else:
            found.append([finding])
        reach = max(reach, finding.span.end)
    return found


def advise(
    run: Sequence[Finding],
    spots: Mapping[str, str],
    choices: Mapping[str, Choice],
    garden: Garden,
    hands_on: HandsOn,
    now: datetime,
    *,
    works: Mapping[str, Work] | None = None,
    stay: frozenset[str] = frozenset(),
    reaches: datetime | None = None,
) -> Advice:
    """Return the advice for one run of findings of one action.

    ``spots``: present spot by tree; ``choices``: the least remedy by tree; ``works``: open
    aftercare by tree; ``stay``: trees that only have to stay where they are; ``reaches``: the
    forecast's last hour. Trees stand in order of risk: strongest first, among equals those with
    open aftercare, then by chance of death and of harm. The deadline is that of the strongest in
    the first span: who is carried in for Saturday's danger is not left out on Friday.
    """
    known = works or {}
    by_tree: dict[str, list[Finding]] = {}
    for finding in run:
        by_tree.setdefault(finding.tree, []).append(finding)
    jobs = [
        Job(
            tree,
            spots[tree],
            tuple(sorted(own, key=by_risk)),
            choices.get(tree),
            known.get(tree),
            tree in stay,
        )
        for tree, own in by_tree.items()
    ]
    jobs.sort(key=_by_need)
    strength = jobs[0].worst.strength
    deadline, in_hand = _deadline(run, garden, hands_on, now)
    action, last = run[0].action, max(f.until_at for f in run)
    return Advice(
        action=action,
        strength=strength,
        do_by=deadline,
        in_hand=in_hand,
        back_at=back_again(run, garden, hands_on),
        jobs=tuple(jobs),
        open_ended=reaches is not None and last >= reaches - OPEN_END,
    )


def _deadline(
    run: Sequence[Finding], garden: Garden, hands_on: HandsOn, now: datetime
) -> tuple[datetime, bool]:
    """By when to act on a run, and whether somebody is there to: in the first span in which
    anything asks to act, the soonest that can still be kept, and that of the strongest in any case.

    A lesser hazard that is on already does not make a deadly one of the night due "now".
    """
    acting = [f for f in run if f.strength is not Strength.NOTICE] or list(run)
    start = min(f.span.start for f in acting)
    first = [f for f in acting if f.span.start == start]
    most = max(_RANK[f.strength] for f in first)
    known = [(f, *do_by(f, garden, hands_on, now)) for f in first]
    return min(
        (by, in_hand)
        for f, by, in_hand in known
        if _RANK[f.strength] == most or (in_hand and by > now)
    )


def _by_need(job: Job) -> tuple[int, bool, float, float, datetime, str]:
    rank, kill, harm, first = by_risk(job.worst)
    return (rank, job.work is None, kill, harm, first, job.tree)


def by_risk(finding: Finding) -> tuple[int, float, float, datetime]:
    """Sort key that puts the gravest finding first."""
    return (
        -_RANK[finding.strength],
        -finding.kill_chance,
        -finding.chance,
        finding.first_at,
    )
