"""What would follow a work tried on paper, as a short table and a verdict."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from underbench.daemon.planning.whatif import Trial, WhatIf
from underbench.daemon.wording.json_form import document, finding_json, iso, number
from underbench.daemon.wording.tables import table
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

# A work's first nights say whether its day was a good one: fewer known, and nothing is said.
NIGHTS_TO_TELL = timedelta(hours=44)  # noon to the second morning
LIMITS = {
    LEAF_FROST: "top no colder than",
    ROOT_FROST: "root ball no colder than",
    SCORCH: "leaves no hotter than",
    GALE: "gusts up to",
}
NO_ALERT = "-"


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

    def as_json(self) -> str:
        """The same as JSON: each way to go on with its limits on the day of the work."""
        tried, work = self._tried, self._tried.now.work
        assert work is not None
        ways = {"left alone": tried.undone, "today": tried.now, "later": tried.later}
        return document(
            {
                "work": work.work,
                "tree": work.tree,
                "verdict": self.verdict(),
                "reaches": iso(tried.outlook.reaches),
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
            "at": iso(trial.work.at) if trial.work else None,
            "within_forecast": trial.course is not None,
            "against": trial.doubt or None,
            "limits": {key: _limit_json(limit) for key, limit in limits.items() if limit},
            "roots_guarded_until": _day_json(self._until(trial, "root_weeks")),
            "sheltered_until": _day_json(self._until(trial, "shelter_weeks")),
            "findings": [finding_json(finding) for finding in trial.findings],
        }

    def verdict(self) -> str:
        """Return what the two runs show, and no more than that."""
        tried, later = self._tried, self._tried.later
        if later is None:
            count = len(self._extra(tried.now, self._known_for(tried.now)))
            alerts = f"Done today it brings {_alerts(count)} than if it is left alone."
            return f"{_reservation(tried.now)}{alerts}"
        day = self._date(local_day(self._at(later), self._zone))
        if tried.now.ruled_out and later.ruled_out:
            return f"Neither day: today {tried.now.doubt}, {day} {later.doubt}."
        if later.course is None or self._at(later) + NIGHTS_TO_TELL > tried.outlook.reaches:
            return self._beyond(later, day)
        return self._compared(later, day)

    def _compared(self, later: Trial, day: str) -> str:
        """Today against a later day, each for as long a time, so that the later one has no fewer
        hours to go wrong in."""
        now, known_for = self._tried.now, self._known_for(later)
        alone_now = self._only(now, later, known_for)
        alone_later = self._only(later, now, known_for)
        better = self._better(later, day, alone_now, alone_later)
        if better is not None:
            return better
        if not alone_now and not alone_later:
            return self._alike(later, day)
        today, then = _alerts(alone_now), _alerts(alone_later)
        return f"Neither day is shown to be better: today brings {today}, {day} {then}."

    def _better(self, later: Trial, day: str, alone_now: int, alone_later: int) -> str | None:
        """Which day it is, by what only one of them has against it; None where neither shows."""
        now, worse_by = self._tried.now, _gravity(self._tried.now) - _gravity(later)
        if alone_now and not alone_later and worse_by >= 0:
            return f"Wait until {day}: today brings {_alerts(alone_now)}, {day} none."
        if worse_by > 0 and not alone_later:
            return f"Wait until {day}: today {now.doubt}."
        if alone_later and not alone_now and worse_by <= 0:
            return f"Today rather than {day}, which brings {_alerts(alone_later)}."
        if worse_by < 0 and not alone_now:
            return f"Today rather than {day}: then {later.doubt}."
        return None

    def _alike(self, later: Trial, day: str) -> str:
        """Of two days of which each brings no alert that the other does not."""
        now = self._tried.now
        both = len(self._extra(later, self._known_for(later)))
        if both:
            return f"Neither day is better: both bring {_alerts(both)} than leaving it alone."
        if now.doubt:
            return f"Either day at a pinch: today {now.doubt}, {day} {later.doubt}."
        return "Either day will do: neither brings an alert more than leaving it alone."

    def _known_for(self, trial: Trial) -> timedelta:
        return self._tried.outlook.reaches - self._at(trial)

    def _only(self, trial: Trial, other: Trial, known_for: timedelta) -> int:
        """How many alerts one way brings so long after the work, and the other never."""
        shared = {_key(finding) for finding in self._extra(other, self._known_for(other))}
        return sum(_key(finding) not in shared for finding in self._extra(trial, known_for))

    def _beyond(self, later: Trial, day: str) -> str:
        """What can be said of a day whose nights are not known: what the tree's year has to say."""
        words = f"The forecast does not reach two nights beyond {day}: "
        now = self._tried.now.doubt
        if _gravity(later) > _gravity(self._tried.now):
            return f"Today rather than {day}: then {later.doubt}."
        if self._tried.now.ruled_out and not later.doubt:
            return f"Not today: {now}. {day} suits its year; its nights are not known yet."
        doubts = "; ".join(
            f"{when} {doubt}" for when, doubt in (("today", now), (day, later.doubt)) if doubt
        )
        return f"{words}which day is better is not known{f' ({doubts})' if doubts else ''}."

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
        return ["speaks against it", NO_ALERT, *map(_doubt, self._tried.done)]

    def _limits(self) -> list[list[str]]:
        """Those limits that the work changes, on the day of the work."""
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
        condition = trial.course.conditions[self._at(on_day_of).date()][0]
        return hazard.limit(self._tried.outlook.setting.species[name], condition)

    def _figure(self, limit: Limit | None) -> str:
        return NO_ALERT if limit is None else quantity(limit.harm, limit.measured_on, self._units)

    def _recovery(self) -> list[list[str]]:
        """Until when its aftercare lasts at least: roots go on by warmth from there."""
        labels = {
            "root_weeks": "roots guarded, at least to",
            "shelter_weeks": "out of strong sun and wind to",
        }
        found = []
        for field, label in labels.items():
            until = [self._until(trial, field) for trial in self._tried.done]
            if any(until):
                dates = (self._date(day) if day else NO_ALERT for day in until)
                found.append([label, NO_ALERT, *dates])
        return found

    def _until(self, trial: Trial, field: str) -> date | None:
        care = care_of(trial.work) if trial.work else None
        weeks = getattr(care, field) if care else 0
        return local_day(self._at(trial) + timedelta(weeks=weeks), self._zone) if weeks else None

    def _alerts(self) -> list[list[str]]:
        """Each alert of any of the ways, in order of time."""
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
        return f"{self._date(when.date())} {when:%H:%M}"

    def _cell(self, finding: Finding | None, first: Finding) -> str:
        if finding is None:
            return NO_ALERT
        value = quantity(finding.worst, finding.limit.measured_on, self._units)
        grave = ", danger" if finding.strength is Strength.DANGER else ""
        later = f", from {self._moment(finding)}" if finding.first_at != first.first_at else ""
        return f"{value}, {finding.chance:.0%}{grave}{later}"

    @staticmethod
    def _at(trial: Trial) -> datetime:
        assert trial.work is not None
        return trial.work.at

    @staticmethod
    def _date(day: date) -> str:
        return f"{day:%a} {day.day} {day:%b}"


def _limit_json(limit: Limit) -> dict[str, Any]:
    return {
        "measured_on": limit.measured_on,
        "harm": limit.harm,
        "kill": number(limit.kill),
    }


def _day_json(day: date | None) -> str | None:
    return None if day is None else day.isoformat()


def _harm(limit: Limit | None) -> float | None:
    return None if limit is None else limit.harm


def _doubt(trial: Trial) -> str:
    beyond = "" if trial.course else "beyond the forecast"
    return "; ".join(part for part in (trial.doubt, beyond) if part) or NO_ALERT


def _gravity(trial: Trial) -> int:
    return bool(trial.doubt) + trial.ruled_out


def _reservation(trial: Trial) -> str:
    if not trial.doubt:
        return ""
    return f"{'Not today' if trial.ruled_out else 'Today at a pinch'}: {trial.doubt}. "


def _key(finding: Finding) -> tuple[str, datetime]:
    return finding.hazard.key, finding.span.start


def _alerts(count: int) -> str:
    return "no alert more" if not count else f"{count} alert{'s' if count > 1 else ''} more"
