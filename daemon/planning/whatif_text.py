"""What would follow a work tried on paper, as a short table and a verdict."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from underbench.daemon.planning.whatif import Trial, WhatIf
from underbench.daemon.wording.json_form import document
from underbench.daemon.wording.tables import Columns, table
from underbench.daemon.wording.units import Units
from underbench.daemon.wording.vocabulary import quantity
from underbench.rules.garden.local_time import local_day
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.gale import GALE
from underbench.rules.hazards.hazard import Hazard
from underbench.rules.hazards.leaf_frost import LEAF_FROST
from underbench.rules.hazards.root_frost import ROOT_FROST
from underbench.rules.hazards.scorch import SCORCH
from underbench.rules.limits.aftercare import care_of
from underbench.rules.limits.limit import Limit

# A work's first nights show whether its day was a good one. If fewer are known, nothing is said.
NIGHTS_TO_TELL = timedelta(hours=44)  # noon to the second morning
LIMITS = {
    LEAF_FROST: "top no colder than",
    ROOT_FROST: "root ball no colder than",
    SCORCH: "leaves no hotter than",
    GALE: "gusts up to",
}
NO_ALERT = "-"
ANYWAY = "Alerts that come as they are, whatever you do, are left out."


class WhatIfView:
    """What would follow, as a short table and a verdict."""

    def __init__(self, tried: WhatIf) -> None:
        self._tried = tried
        self._units = Units(tried.outlook.settings.units)
        self._zone = tried.outlook.settings.garden.timezone

    def text(self) -> str:
        """Limits that change, aftercare, the alerts of the forecast days, and what to do."""
        work = self._tried.now.work
        assert work is not None
        title = f"{work.work} {work.tree}: what would follow. Nothing is noted."
        return "\n".join([title, "", table(*self.columns()), "", self.verdict(), self.reach()])

    def columns(self) -> Columns:
        """Return what each way to go on would bring, a way in a column."""
        dates = [self._day(trial.at) for trial in self._tried.done]
        rows = [self._doubts(), *self._limits(), *self._recovery(), *self._brought()]
        heads = ["", "left alone", f"today, {dates[0]}", *dates[1:]]
        return Columns(heads, [row for row in rows if row])

    def reach(self) -> str:
        """Return how far the forecast reaches, and whose it is."""
        outlook = self._tried.outlook
        anyway = "" if self._alerts() == self._brought() else f"{ANYWAY} "
        last = self._day(outlook.reaches)
        return f"{anyway}The forecast reaches to {last}. {outlook.supplied.attribution}."

    def as_json(self) -> str:
        """Each way to go on as JSON, with its limits on the day of the work."""
        tried, work = self._tried, self._tried.now.work
        assert work is not None
        ways = {"left alone": tried.undone, "today": tried.now, "later": tried.later}
        return document(
            {
                "work": work.work,
                "tree": work.tree,
                "verdict": self.verdict(),
                "reaches": tried.outlook.reaches,
                "attribution": tried.outlook.supplied.attribution,
                "ways": [
                    {"way": way, **self._way_json(trial)} for way, trial in ways.items() if trial
                ],
            }
        )

    def _way_json(self, trial: Trial) -> dict[str, Any]:
        day_of = trial if trial.work else self._tried.now
        limits = {one.key: self._limit(trial, day_of, one) for one in LIMITS}
        return {
            "at": trial.work and trial.work.at,
            "within_forecast": trial.course is not None,
            "against": trial.doubt or None,
            "limits": {key: limit for key, limit in limits.items() if limit},
            "roots_guarded_until": self._until(trial, "root_weeks"),
            "sheltered_until": self._until(trial, "shelter_weeks"),
            "findings": trial.findings,
        }

    def verdict(self) -> str:
        """Return what the runs show, and no more."""
        now, later = self._tried.now, self._tried.later
        if later is None:
            more = _alerts(len(self._tried.extra(now)))
            return f"{_reservation(now)}Doing it today brings {more} than leaving the tree alone."
        day = self._day(later.at)
        if now.ruled_out and later.ruled_out:
            return f"Neither day: today {now.doubt}, {day} {later.doubt}."
        if later.course is None or later.at + NIGHTS_TO_TELL > self._tried.outlook.reaches:
            return _beyond(now, later, day)
        return self._compared(now, later, day)

    def _compared(self, now: Trial, later: Trial, day: str) -> str:
        """Today against a later day, by what only one of them has against it. Both are watched for
        the same time, so that the later day does not look better for having fewer hours."""
        known_for = self._tried.outlook.reaches - later.at
        only_now = len(self._tried.extra(now, known_for) - self._tried.extra(later))
        only_later = len(self._tried.extra(later, known_for) - self._tried.extra(now))
        worse_by = now.gravity - later.gravity
        if only_now and not only_later and worse_by >= 0:
            return f"Wait until {day}: today brings {_alerts(only_now)}, {day} none."
        if worse_by > 0 and not only_later:
            return f"Wait until {day}: today {now.doubt}."
        if only_later and not only_now and worse_by <= 0:
            return f"Today rather than {day}, which brings {_alerts(only_later)}."
        if worse_by < 0 and not only_now:
            return f"Today rather than {day}: then {later.doubt}."
        if only_now or only_later:
            today, then = _alerts(only_now), _alerts(only_later)
            return f"Neither day is better: today brings {today}, {day} {then}."
        return self._alike(now, later, day)

    def _alike(self, now: Trial, later: Trial, day: str) -> str:
        """The verdict on two days that bring the same alerts."""
        both = len(self._tried.extra(later))
        if both:
            return f"Neither day is better: both bring {_alerts(both)} than leaving it alone."
        if now.doubt:
            return f"Either day only if it must be: today {now.doubt}, {day} {later.doubt}."
        return "Either day will do: neither brings an alert more than leaving it alone."

    def _doubts(self) -> list[str]:
        return ["speaks against it", NO_ALERT, *map(_doubt, self._tried.done)]

    def _limits(self) -> list[list[str]]:
        """The limits that the work changes, on the day of the work."""
        found = []
        for hazard, label in LIMITS.items():
            undone = self._limit(self._tried.undone, self._tried.now, hazard)
            done = [self._limit(trial, trial, hazard) for trial in self._tried.done]
            before = [self._limit(self._tried.undone, trial, hazard) for trial in self._tried.done]
            if any(_harm(a) != _harm(b) for a, b in zip(done, before, strict=True)):
                found.append([label, self._figure(undone), *(self._figure(one) for one in done)])
        return found

    def _limit(self, trial: Trial, on_day_of: Trial, hazard: Hazard) -> Limit | None:
        if trial.course is None or on_day_of.course is None:
            return None
        name = self._tried.outlook.standing[self._tried.row].tree.name
        condition = trial.course.conditions[on_day_of.at.date()][0]
        return hazard.limit(self._tried.outlook.setting.species[name], condition)

    def _figure(self, limit: Limit | None) -> str:
        return NO_ALERT if limit is None else quantity(limit.harm, limit.measured_on, self._units)

    def _recovery(self) -> list[list[str]]:
        """The day until which the aftercare lasts at least. Roots may need longer, by warmth."""
        labels = {
            "root_weeks": "roots guarded, at least to",
            "shelter_weeks": "out of strong sun and wind to",
        }
        found = []
        for field, label in labels.items():
            until = [self._until(trial, field) for trial in self._tried.done]
            if any(until):
                dates = (_date(day) if day else NO_ALERT for day in until)
                found.append([label, NO_ALERT, *dates])
        return found

    def _until(self, trial: Trial, field: str) -> date | None:
        care = care_of(trial.work) if trial.work else None
        weeks = getattr(care, field) if care else 0
        return local_day(trial.at + timedelta(weeks=weeks), self._zone) if weeks else None

    def _brought(self) -> list[list[str]]:
        """The alerts that are not the same whatever one does."""
        return [row for row in self._alerts() if len(set(row[1:])) > 1]

    def _alerts(self) -> list[list[str]]:
        """Each alert of any way to go on, in order of time."""
        trials = [self._tried.undone, *self._tried.done]
        keys = sorted({key for trial in trials for key in trial.alerts}, key=lambda key: key[1])
        lines = []
        for key in keys:
            found = [trial.alerts.get(key) for trial in trials]
            first = next(finding for finding in found if finding)
            label = f"{first.hazard.words.lower()}, {self._moment(first)}"
            lines.append([label, *(self._cell(finding, first) for finding in found)])
        return lines

    def _moment(self, finding: Finding) -> str:
        when = finding.first_at.astimezone(ZoneInfo(self._zone))
        return f"{_date(when.date())} {when:%H:%M}"

    def _cell(self, finding: Finding | None, first: Finding) -> str:
        if finding is None:
            return NO_ALERT
        value = quantity(finding.worst, finding.limit.measured_on, self._units)
        grave = ", danger" if finding.strength is Strength.DANGER else ""
        later = f", from {self._moment(finding)}" if finding.first_at != first.first_at else ""
        return f"{value}, {finding.chance:.0%}{grave}{later}"

    def _day(self, moment: datetime) -> str:
        return _date(local_day(moment, self._zone))


def _date(day: date) -> str:
    return f"{day:%a} {day.day} {day:%b}"


def _harm(limit: Limit | None) -> float | None:
    return None if limit is None else limit.harm


def _doubt(trial: Trial) -> str:
    beyond = "" if trial.course else "beyond the forecast"
    return "; ".join(part for part in (trial.doubt, beyond) if part) or NO_ALERT


def _reservation(trial: Trial) -> str:
    if not trial.doubt:
        return ""
    return f"{'Not today' if trial.ruled_out else 'Today at a pinch'}: {trial.doubt}. "


def _beyond(now: Trial, later: Trial, day: str) -> str:
    """The verdict on a later day whose nights are not known. Only the tree's year counts."""
    if later.gravity > now.gravity:
        return f"Today rather than {day}: then {later.doubt}."
    if now.ruled_out and not later.doubt:
        return f"Not today: {now.doubt}. {day} suits its year; its nights are not known yet."
    found = "; ".join(
        f"{when} {doubt}" for when, doubt in (("today", now.doubt), (day, later.doubt)) if doubt
    )
    known = f"The forecast does not reach two nights beyond {day}: which day is better is not known"
    return f"{known} ({found})." if found else f"{known}."


def _alerts(count: int) -> str:
    return "no alert more" if not count else f"{count} alert{'s' if count > 1 else ''} more"
