"""From findings to advice: one advice for each action and run of spans, with deadline and end."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from underbench.rules.advice.deadlines import back_again, do_by
from underbench.rules.advice.remedies import Choice, otherwise
from underbench.rules.advice.remedy import STAY, Remedy
from underbench.rules.garden.inventory import Garden, HandsOn
from underbench.rules.garden.journal import Work
from underbench.rules.garden.local_time import LONG_AGO, Stretch
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.hazard import Action, Help

RUN_GAP = timedelta(hours=13)  # the next night's hazard still belongs to the same run
# Frost after one mild night belongs to the same run too: a day outside is of no use.
FROST_GAP = timedelta(hours=37)
OPEN_END = timedelta(hours=12)  # a run that ends this near the forecast's last hour may go on
_RANK = {Strength.NOTICE: 0, Strength.ACT: 1, Strength.DANGER: 2}


def stronger(one: Strength, other: Strength) -> bool:
    """Return whether ``one`` speaks harder than ``other``."""
    return _RANK[one] > _RANK[other]


@dataclass(frozen=True, slots=True)
class Job:
    """One tree to see to: its findings in the run (worst first) and what helps.

    ``work``: the work whose aftercare is still open on the tree.
    """

    tree: str
    spot: str
    findings: tuple[Finding, ...]
    choice: Choice | None
    work: Work | None = None

    @property
    def worst(self) -> Finding:
        """The finding that decides."""
        return self.findings[0]

    @property
    def taken(self) -> Choice | None:
        """The choice, if it is told. For a tropical it is told only if it suffices: otherwise the
        tree is better indoors."""
        indoors = self.worst.hazard.help is Help.INDOORS
        told = self.choice and (self.choice.suffices or not indoors)
        return self.choice if told else None

    @property
    def short(self) -> bool:
        """Whether what is told is the best there is, and not enough."""
        return self.taken is not None and not self.taken.suffices

    @property
    def stay(self) -> bool:
        """Whether the tree is to stay where it is noted to be, or to be brought back there."""
        return self.remedy is STAY

    @property
    def remedy(self) -> Remedy:
        """What is to be done with the tree."""
        return self.taken.way.remedy if self.taken else otherwise(self.worst)

    @property
    def into(self) -> str | None:
        """The spot where the tree is to be; None if no spot is told."""
        return self.taken.way.spot if self.taken else None

    @property
    def heavy(self) -> bool:
        """Whether it takes two people."""
        return self.choice is not None and self.choice.two_people

    @property
    def last(self) -> bool:
        """Whether it is lifted last, because it takes two people."""
        return self.heavy and not self.stay

    @property
    def not_before(self) -> datetime | None:
        """When a bag may be opened; None if it may be at any time."""
        return self.taken.way.not_before if self.taken else None

    @property
    def opened(self) -> Stretch | None:
        """When somebody is there to open a bag that stands in frost before; None if nobody is."""
        return self.taken.way.opened if self.taken else None

    @property
    def words(self) -> str:
        """What is to be done with the tree, in words."""
        return self.remedy.told(self.into)


@dataclass(frozen=True, slots=True)
class Advice:
    """What to do about one action over a run of spans.

    ``in_hand``: whether ``do_by`` lies in hands-on hours. ``back_at``: when trees may go back;
    None for actions that have no return. ``open_ended``: the run reaches as far as the forecast,
    so its end is not known. ``leave_up``: trees whose shade cloth stays up until the keeper is told
    to take it off.
    """

    action: Action
    strength: Strength
    do_by: datetime
    in_hand: bool
    back_at: datetime | None
    jobs: tuple[Job, ...]
    open_ended: bool = False
    leave_up: frozenset[str] = frozenset()

    def stays(self, job: Job) -> bool:
        """Whether what is done for a tree stays so until the keeper is told otherwise."""
        if job.remedy.ties:
            return True
        if job.remedy.cloth:
            return self.back_at is None or job.tree in self.leave_up
        return self.open_ended and job.remedy.covers

    @property
    def lead(self) -> Finding:
        """The finding told first."""
        return self.in_order[0]

    @property
    def in_order(self) -> list[Finding]:
        """All findings, the one to tell first in front.

        Trees are carried in once, so the gravest finding of the run leads. Other actions are done
        anew each day, so the gravest of the first day leads: the deadline is for that day.
        """
        if self.action is Action.PROTECT:
            return sorted(self.findings, key=by_risk)
        return sorted(self.findings, key=lambda f: (f.span.start, by_risk(f)))

    @property
    def findings(self) -> tuple[Finding, ...]:
        """All findings this covers."""
        return tuple(finding for job in self.jobs for finding in job.findings)


def runs(findings: Sequence[Finding]) -> list[list[Finding]]:
    """Split findings of one action into runs: a run of cold nights is planned as one."""
    ordered = sorted(findings, key=lambda f: f.span.start)
    found: list[list[Finding]] = []
    reach = frost_reach = LONG_AGO
    for finding in ordered:
        frost = finding.hazard.is_frost
        if found and finding.span.start <= max(reach, frost_reach if frost else reach):
            found[-1].append(finding)
        else:
            found.append([finding])
        reach = max(reach, finding.span.end + RUN_GAP)
        frost_reach = max(frost_reach, finding.span.end + FROST_GAP) if frost else frost_reach
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
    reaches: datetime | None = None,
) -> Advice:
    """Return the advice for one run of findings of one action.

    ``spots``: present spot by tree. ``choices``: the remedy by tree. ``works``: open aftercare by
    tree. ``reaches``: the forecast's last hour. Trees stand in order of risk: strongest first,
    among equals those with open aftercare, then by chance of death and of harm. The deadline is
    that of the strongest in the first span: a tree carried in for Saturday's danger is not left out
    on Friday.
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
    """By when to act on a run, and whether somebody is there then.

    Only findings of the first span that asks to act count. The soonest deadline holds that can
    still be kept, or is that of the strongest finding. So a lesser hazard that is on already does
    not make the night's deadly one due "now".
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
