"""A work tried on paper: the limits and alerts that would follow, done now or on a later day.

The look ahead is run again with the work in a copy of the journal; nothing is kept.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from underbench.daemon.faults import Fault
from underbench.daemon.outlook import Outlook
from underbench.daemon.telling import hazard_words, quantity
from underbench.daemon.terminal import table
from underbench.daemon.units import Units
from underbench.daemon.windows_view import why_words
from underbench.daemon.works import ON_BAGS, work_named
from underbench.rules.aftercare import care_of
from underbench.rules.course import Course, follow
from underbench.rules.findings import Finding, Strength
from underbench.rules.hours import local_day, local_moment
from underbench.rules.journal import Work, WorkKind
from underbench.rules.judge import judge
from underbench.rules.limits import Bearing, bearing
from underbench.rules.members import MEMBERS
from underbench.rules.setting import Row
from underbench.rules.timing import misgiving
from underbench.rules.trail import Limit
from underbench.rules.windows import Against, Verdict

AT_WORK, A_YEAR = time(12), timedelta(days=366)
# A work's first nights say whether its day was a good one: fewer known, and nothing is said.
NIGHTS_TO_TELL = timedelta(hours=44)  # noon to the second morning
LIMITS = {
    "frost": "top no colder than",
    "roots": "root ball no colder than",
    "scorch": "leaves no hotter than",
    "gust": "gusts up to",
}
CHANGE_NOTHING = (
    *(WorkKind.CHECK, WorkKind.CHECK_BAG, WorkKind.CHECK_WIRE, WorkKind.CHECK_MOSS),
    *(WorkKind.SUPPORT_LIMB, WorkKind.FEED, WorkKind.UNWIRE),
)
NO_ALERT = "-"


@dataclass(frozen=True, slots=True)
class Trial:
    """One way to go on; ``course`` and what is to be acted on in it, None where the forecast does
    not reach; ``doubt`` in words, empty when nothing speaks against the work."""

    work: Work | None
    doubt: str
    course: Course | None
    findings: tuple[Finding, ...] = ()

    @property
    def alerts(self) -> dict[tuple[str, datetime], Finding]:
        """The findings by hazard and span."""
        return {(f.hazard.value, f.span.start): f for f in self.findings}


@dataclass(frozen=True, slots=True)
class WhatIf:
    """One work on the tree at ``row``: left undone, done now, and done ``later`` (None: not asked
    about)."""

    outlook: Outlook
    row: int
    undone: Trial
    now: Trial
    later: Trial | None

    @property
    def done(self) -> list[Trial]:
        """The ways in which it is done."""
        return [self.now, *([self.later] if self.later else [])]


def later_day(day: str, now: datetime, zone: str) -> date:
    """Return the day that --on names; raises Fault for what is none, or is not ahead."""
    try:
        wanted = date.fromisoformat(day)
    except ValueError:
        raise Fault(f"--on {day}: expected a day like 2027-04-20") from None
    if not timedelta(0) < wanted - local_day(now, zone) <= A_YEAR:
        raise Fault(f"--on {day}: expected a day after today, within a year")
    return wanted


def tried_named(name: str) -> WorkKind:
    """Return the work to try on paper; raises Fault for none, or one that changes no limit."""
    kind = work_named(name)
    if kind in CHANGE_NOTHING:
        raise Fault(f"whatif did {kind}: it changes no limit; expected a work that does, as repot")
    return kind


def what_if(
    outlook: Outlook, row: int, kind: WorkKind, roots_pct: float | None, day: date | None
) -> WhatIf:
    """Return what would follow of ``kind`` on the tree at ``row``, now and on ``day``.

    Raises Fault for a layer to sever, or a bag to open, that is not there.
    """
    standing = outlook.standing[row]
    if kind is WorkKind.SEVER_LAYER and standing.layer is None:
        raise Fault(f"{standing.tree.name} has no layer to sever; record its start-layer first")
    if kind in ON_BAGS and standing.bag is None:
        raise Fault(f"{standing.tree.name} has no bag; record its bag first")
    hour = outlook.now.replace(minute=0, second=0, microsecond=0)
    zone = outlook.settings.garden.timezone
    undone, later = _run(outlook, row, None, ""), None
    if day is not None and day > local_day(outlook.now, zone):
        later = _trial(outlook, row, kind, roots_pct, local_moment(day, AT_WORK, zone))
        later = _as_undone_before(later, undone)
    return WhatIf(outlook, row, undone, _trial(outlook, row, kind, roots_pct, hour), later)


def _as_undone_before(trial: Trial, undone: Trial) -> Trial:
    """A span is judged by the limits of its middle; what ends before the work is none of its."""
    assert trial.work is not None
    at = trial.work.at
    before = (finding for finding in undone.findings if finding.until_at <= at)
    after = (finding for finding in trial.findings if finding.until_at > at)
    return replace(trial, findings=(*before, *after))


def _trial(
    outlook: Outlook, row: int, kind: WorkKind, roots_pct: float | None, at: datetime
) -> Trial:
    name = outlook.standing[row].tree.name
    work = Work(tree=name, at=at, work=kind, roots_pct=roots_pct)
    if at.date() not in outlook.course.conditions or at >= outlook.reaches:
        return Trial(work, "", None)
    limits, garden = outlook.setting.species[name].limits, outlook.settings.garden
    stage, day = outlook.course.conditions[at.date()][row].stage, local_day(at, garden.timezone)
    against = misgiving(kind, roots_pct, limits, (stage,), day, garden.latitude)
    if against is None:
        return _run(outlook, row, work, "")
    objection = Against(against)
    words = why_words(Verdict(day, stage, objection), objection, Units(outlook.settings.units))
    return _run(outlook, row, work.model_copy(update={"risky": True}), words)


def _run(outlook: Outlook, row: int, work: Work | None, doubt: str) -> Trial:
    """The tree through the forecast where it stands, with ``work`` noted."""
    journal = (*outlook.journal, *([work] if work else []))
    start = outlook.state.take([row]).fork(MEMBERS)
    rows = [Row(outlook.settings.trees[row])]
    course = follow(outlook.setting, rows, journal, start, outlook.weather, outlook.site)
    found = judge(outlook.setting, course, outlook.site, outlook.settings.chance)
    acted = tuple(finding for finding in found if finding.strength is not Strength.NOTICE)
    return Trial(work, doubt, course, acted)


class WhatIfView:
    """What would follow, as a short table and a verdict."""

    def __init__(self, tried: WhatIf) -> None:
        self._tried = tried
        self._units = Units(tried.outlook.settings.units)
        self._zone = tried.outlook.settings.garden.timezone

    def text(self) -> str:
        """Limits that change, aftercare, the alerts of the forecast days, and what to do."""
        tried = self._tried
        dates = [self._date(local_day(self._at(trial), self._zone)) for trial in tried.done]
        heads = ["", "left alone", f"today, {dates[0]}", *dates[1:]]
        rows = [self._doubts(), *self._limits(), *self._recovery(), *self._alerts()]
        work = tried.now.work
        assert work is not None
        title = f"{work.work} {work.tree}: what would follow. Nothing is noted."
        reach = self._date(local_day(tried.outlook.reaches, self._zone))
        return "\n".join(
            [
                title,
                "",
                table(heads, [row for row in rows if row]),
                "",
                self.verdict(),
                f"The forecast reaches to {reach}. {tried.outlook.supplied.attribution}.",
            ]
        )

    def verdict(self) -> str:
        """Return what the two runs show, and no more than that."""
        tried, later = self._tried, self._tried.later
        if later is None:
            count = len(self._extra(tried.now, tried.outlook.reaches - tried.outlook.now))
            return f"Done today it brings {_alerts(count)} than it has in any case."
        day = self._date(local_day(self._at(later), self._zone))
        if later.course is None or self._at(later) + NIGHTS_TO_TELL > tried.outlook.reaches:
            return (
                f"The forecast does not reach two nights beyond {day}: "
                "which day is better is not known."
            )
        # Of both as long a time, so that the later day has no fewer hours to go wrong in.
        known_for = tried.outlook.reaches - self._at(later)
        extra_now, extra_later = (self._extra(one, known_for) for one in (tried.now, later))
        if extra_now and not extra_later and not later.doubt:
            return f"Wait until {day}: today brings {_alerts(len(extra_now))}, {day} none."
        if tried.now.doubt and not later.doubt and not extra_later:
            return f"Wait until {day}: today {tried.now.doubt}."
        if extra_later and not extra_now and not tried.now.doubt:
            return f"Today rather than {day}, which brings {_alerts(len(extra_later))}."
        today, then = _alerts(len(extra_now)), _alerts(len(extra_later))
        return f"Neither day is shown to be better: today brings {today}, {day} {then}."

    def _extra(self, trial: Trial, known_for: timedelta) -> list[Finding]:
        """The alerts so long after the work that come, or turn to danger, only because of it."""
        known = {key: finding.strength for key, finding in self._tried.undone.alerts.items()}
        worse = (None, Strength.ACT)
        return [
            finding
            for key, finding in trial.alerts.items()
            if known.get(key) in worse
            and finding.strength is not known.get(key)
            and finding.first_at < self._at(trial) + known_for
        ]

    def _doubts(self) -> list[str]:
        doubts = [
            trial.doubt or (NO_ALERT if trial.course else "beyond the forecast")
            for trial in self._tried.done
        ]
        return ["speaks against it", NO_ALERT, *doubts]

    def _limits(self) -> list[list[str]]:
        """Those limits that the work changes, on the day of the work."""
        found = []
        for field, label in LIMITS.items():
            undone = self._limit(self._tried.undone, self._tried.now, field)
            done = [self._limit(trial, trial, field) for trial in self._tried.done]
            before = [self._limit(self._tried.undone, trial, field) for trial in self._tried.done]
            if any(_harm(a) != _harm(b) for a, b in zip(done, before, strict=True)):
                found.append([label, self._figure(undone), *(self._figure(one) for one in done)])
        return found

    def _limit(self, trial: Trial, on_day_of: Trial, field: str) -> Limit | None:
        if trial.course is None or on_day_of.course is None:
            return None
        name = self._tried.outlook.standing[self._tried.row].tree.name
        condition = trial.course.conditions[self._at(on_day_of).date()][0]
        borne: Bearing = bearing(self._tried.outlook.setting.species[name], condition)
        found = getattr(borne, field)
        assert found is None or isinstance(found, Limit)
        return found

    def _figure(self, limit: Limit | None) -> str:
        return NO_ALERT if limit is None else quantity(limit.harm, limit.measured_on, self._units)

    def _recovery(self) -> list[list[str]]:
        """Until when its aftercare lasts at least: roots go on by warmth from there."""
        cares = [(trial, care_of(trial.work)) for trial in self._tried.done if trial.work]
        roots, shelter = ["roots guarded, at least to"], ["out of strong sun and wind to"]
        for line, field in ((roots, "root_weeks"), (shelter, "shelter_weeks")):
            line.append(NO_ALERT)
            for trial, care in cares:
                weeks = getattr(care, field) if care else 0
                until = local_day(self._at(trial) + timedelta(weeks=weeks), self._zone)
                line.append(self._date(until) if weeks else NO_ALERT)
        return [line for line in (roots, shelter) if set(line[1:]) != {NO_ALERT}]

    def _alerts(self) -> list[list[str]]:
        """Each alert of any of the ways, in order of time."""
        trials = [self._tried.undone, *self._tried.done]
        keys = sorted({key for trial in trials for key in trial.alerts}, key=lambda key: key[1])
        lines = []
        for key in keys:
            found = [trial.alerts.get(key) for trial in trials]
            first = next(finding for finding in found if finding)
            when = first.first_at.astimezone(ZoneInfo(self._zone))
            label = f"{hazard_words(first.hazard).lower()}, {self._date(when.date())} {when:%H:%M}"
            lines.append([label, *(self._cell(finding) for finding in found)])
        return lines

    def _cell(self, finding: Finding | None) -> str:
        if finding is None:
            return NO_ALERT
        value = quantity(finding.worst, finding.limit.measured_on, self._units)
        grave = ", danger" if finding.strength is Strength.DANGER else ""
        return f"{value}, {finding.chance:.0%}{grave}"

    @staticmethod
    def _at(trial: Trial) -> datetime:
        assert trial.work is not None
        return trial.work.at

    @staticmethod
    def _date(day: date) -> str:
        return f"{day:%a} {day.day} {day:%b}"


def _harm(limit: Limit | None) -> float | None:
    return None if limit is None else limit.harm


def _alerts(count: int) -> str:
    return "no alert more" if not count else f"{count} alert{'s' if count > 1 else ''} more"
