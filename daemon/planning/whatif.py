"""A work tried on paper: the limits and alerts that would follow if it is done now or later.

The look ahead is run again with the work in a copy of the journal. Nothing is kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta

from underbench.daemon.faults import Fault
from underbench.daemon.journal.works import lacking
from underbench.daemon.outlook.outlook import Outlook, run_rows
from underbench.daemon.planning.windows import Planner
from underbench.daemon.planning.windows_text import why_words
from underbench.daemon.wording.units import Units
from underbench.rules.course.course import Course
from underbench.rules.course.inputs import Row
from underbench.rules.garden.journal import Stage, Work
from underbench.rules.garden.local_time import local_day, local_moment
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.judge import judge
from underbench.rules.planning.misgivings import misgiving, possible_stages
from underbench.rules.planning.work_season import Against, Suit, out_of_season
from underbench.rules.planning.work_windows import PLANNED, Verdict, gravest
from underbench.rules.plants.species import HardinessClass

Key = tuple[str, datetime]
"""A hazard, and when its span begins."""

AT_WORK, A_YEAR = time(12), timedelta(days=366)


@dataclass(frozen=True, slots=True)
class Trial:
    """One way to go on. ``course`` is None where the forecast does not reach. ``findings`` are
    those of it to act on. ``doubt`` is in words, empty if nothing speaks against the work.
    ``ruled_out``: the day is no day for the work."""

    work: Work | None
    doubt: str
    course: Course | None
    findings: tuple[Finding, ...] = ()
    ruled_out: bool = False

    @property
    def at(self) -> datetime:
        """When the work is done."""
        assert self.work is not None
        return self.work.at

    @property
    def alerts(self) -> dict[Key, Finding]:
        """The findings by hazard and span."""
        return {(f.hazard.key, f.span.start): f for f in self.findings}

    @property
    def gravity(self) -> int:
        """0 if nothing speaks against the day, 1 if something does, 2 if it is ruled out."""
        return bool(self.doubt) + self.ruled_out


@dataclass(frozen=True, slots=True)
class WhatIf:
    """One work on the tree at ``row``: left undone, done now, and done ``later`` (None: not
    asked)."""

    outlook: Outlook
    row: int
    undone: Trial
    now: Trial
    later: Trial | None

    @property
    def done(self) -> list[Trial]:
        """The trials in which the work is done."""
        return [self.now, *([self.later] if self.later else [])]

    def extra(self, trial: Trial, known_for: timedelta | None = None) -> set[Key]:
        """Return the alerts that come, or turn to danger, only because of the work. They begin
        within ``known_for`` after it (None: as far as the forecast reaches)."""
        left = {key: finding.strength for key, finding in self.undone.alerts.items()}
        until = self.outlook.reaches if known_for is None else trial.at + known_for
        return {
            key
            for key, finding in trial.alerts.items()
            if left.get(key) in (None, Strength.ACT)
            and finding.strength is not left.get(key)
            and finding.first_at < until
        }


def later_day(day: str, now: datetime, zone: str) -> date:
    """Return the day that --on names. Raises Fault if it is no day, or is not ahead."""
    try:
        wanted = date.fromisoformat(day)
    except ValueError:
        raise Fault(f"--on {day}: expected a day like 2027-04-20") from None
    if not timedelta(0) < wanted - local_day(now, zone) <= A_YEAR:
        raise Fault(f"--on {day}: expected a day after today, within a year")
    return wanted


def tried(kind: WorkKind) -> WorkKind:
    """Return a work to try on paper. Raises Fault for one that changes no limit."""
    if not kind.does.changes:
        raise Fault(f"whatif did {kind}: it changes no limit; expected a work that does, as repot")
    return kind


def what_if(
    planner: Planner, row: int, kind: WorkKind, roots_pct: float | None, day: date | None
) -> WhatIf:
    """Return what would follow from ``kind`` on the tree at ``row``, now and on ``day``.

    Raises Fault for a layer or a bag that is not there.
    """
    outlook = planner.outlook
    standing = outlook.standing[row]
    severs_none = kind is WorkKind.SEVER_LAYER and standing.layer is None
    lacks = "layer" if severs_none else lacking(kind, standing)
    if lacks:
        raise Fault(f"{standing.tree.name} has no {lacks}; record its {lacks} first")
    hour = outlook.now.replace(minute=0, second=0, microsecond=0)
    zone = outlook.settings.garden.timezone
    undone, later = _run(outlook, row, None), None
    if day is not None and day > outlook.today:
        later = _trial(planner, row, kind, roots_pct, local_moment(day, AT_WORK, zone))
        later = _as_undone_before(later, undone)
    return WhatIf(outlook, row, undone, _trial(planner, row, kind, roots_pct, hour), later)


def _as_undone_before(trial: Trial, undone: Trial) -> Trial:
    """A trial with the findings from before the work as if it were left undone. A span is judged by
    the limits of its middle, so the work would change findings that end before it."""
    before = (finding for finding in undone.findings if finding.until_at <= trial.at)
    after = (finding for finding in trial.findings if finding.until_at > trial.at)
    return replace(trial, findings=(*before, *after))


def _trial(
    planner: Planner, row: int, kind: WorkKind, roots_pct: float | None, at: datetime
) -> Trial:
    outlook = planner.outlook
    work = Work(tree=outlook.standing[row].tree.name, at=at, work=kind, roots_pct=roots_pct)
    limits = outlook.setting.species[work.tree].limits
    verdict, risky = _verdict(planner, row, work)
    words = why_words(verdict, limits, Units(outlook.settings.units))
    out = verdict.suit is Suit.NO
    if not _reached(outlook, at):
        return Trial(work, words, None, ruled_out=out)
    run = _run(outlook, row, work.model_copy(update={"risky": risky}))
    return replace(run, doubt=words, ruled_out=out)


def _reached(outlook: Outlook, at: datetime) -> bool:
    return at.date() in outlook.course.conditions and at < outlook.reaches


def _verdict(planner: Planner, row: int, work: Work) -> tuple[Verdict, bool]:
    """What speaks against a work, and whether ``did`` would note it as risky. For days that
    ``windows`` knows it is the same as there; for others only the tree's year counts."""
    outlook, garden = planner.outlook, planner.outlook.settings.garden
    limits, day = outlook.setting.species[work.tree].limits, local_day(work.at, garden.timezone)
    stages = possible_stages(limits, day, garden.latitude)
    if _reached(outlook, work.at):
        stages = (outlook.course.conditions[work.at.date()][row].stage,)
    doubt = misgiving(work.work, work.roots_pct, limits, stages, day, garden.latitude)
    if doubt is not None:
        return Verdict(day, stages[0], Against(doubt)), True
    known = planner.verdict(work.work, row, day) if work.work in PLANNED else None
    return known or _by_season(work.work, limits, stages, day, garden.latitude), False


def _by_season(
    kind: WorkKind, limits: HardinessClass, stages: Sequence[Stage], day: date, latitude: float
) -> Verdict:
    """The verdict on a day without known weather. Of the stages the tree may be at, it is for the
    one with the least against it."""
    found = (
        Verdict(day, stage, gravest(out_of_season(kind, limits, stage, day, latitude)))
        for stage in stages
    )
    return min(found, key=lambda verdict: list(Suit).index(verdict.suit))


def _run(outlook: Outlook, row: int, work: Work | None) -> Trial:
    """Run the tree through the forecast where it stands, with ``work`` noted."""
    own = [Row(outlook.settings.trees[row])]
    course = run_rows(outlook, own, [row], noted=[work] if work else [])
    found = judge(outlook.setting, course, outlook.site, outlook.settings.chance)
    acted = tuple(finding for finding in found if finding.strength is not Strength.NOTICE)
    return Trial(work, "", course, acted)
