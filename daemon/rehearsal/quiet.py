"""Which passes of a rehearsal cannot say anything, so that they need not be run.

The weather is known, so what could be found of each tree is worked out once for weeks (`bounds`),
and again for a tree from the hour at which it moves, is worked on or watered. A pass is quiet where
nothing of that would be told by then, and where nothing told before waits for its end, its
call-off, its return or its question. `run_pass` judges all other passes, as ever.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from datetime import datetime, time, timedelta
from functools import cache

from underbench.daemon.alerts.call_off_and_return import (
    ASKED_AGAIN,
    SHOWS_AFTER,
    SOONEST_BACK,
    sent_within,
)
from underbench.daemon.alerts.hourly_pass import Pass
from underbench.daemon.outlook.outlook import AHEAD, Outlook
from underbench.daemon.outlook.prospects import planned_hazard
from underbench.daemon.rehearsal.bounds import DAY, Possible, possible
from underbench.daemon.store.episodes import EASED, OVER, EpisodeRow, Key, key_of
from underbench.rules.advice.deadlines import do_by, tell_from
from underbench.rules.advice.effort import time_for
from underbench.rules.garden.local_time import (
    A_MINUTE,
    hands_on_between,
    local_day,
    local_moment,
    quiet_until,
)
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.hazard import Action, Spans
from underbench.rules.weather.hourly import Weather

STRETCH = timedelta(days=14)  # what is worked out for longer is mostly out of date before its end

STILL = timedelta(hours=6)  # the last passes that find something say how it ended


class Quiet:
    """Says of each moment whether a pass at it could say anything. It is shown each pass that runs.

    ``series``: the weather that is known, one member and complete.
    """

    def __init__(self, series: Weather) -> None:
        self._series = series
        self._possible: dict[str, list[Possible]] = {}
        self._noted: dict[str, int] = {}
        self._opens: dict[Key, datetime] = {}
        self._until: datetime | None = None
        self._last: Pass | None = None

    def watch(self, done: Pass) -> None:
        """Take up what a pass left behind; look ahead again for trees of which more is noted."""
        outlook, self._last = done.outlook, done
        if self._until is None or outlook.now >= self._until:
            self._noted, self._until = {}, _next_stretch(outlook)
        noted = Counter(entry.tree for entry in outlook.journal)
        names = [at.tree.name for at in outlook.standing]
        rows = [n for n, name in enumerate(names) if self._noted.get(name) != noted[name]]
        if rows:
            found = possible(outlook, self._series, rows, self._until)
            for row in rows:
                self._possible[names[row]] = found.get(names[row], [])
            self._noted = {name: noted[name] for name in names}
            self._opens = _openings(outlook, [f for own in self._possible.values() for f in own])

    def is_quiet(self, now: datetime) -> bool:
        """Return whether a pass at ``now`` can say nothing."""
        if self._last is None or self._until is None or now >= self._until:
            return False
        last, told = self._last, self._told()
        away = {at.tree.name for at in last.outlook.standing if not at.at_home}
        asked = [row.asked_at for row in told.values() if row.asked_at]
        ask = not any(now - asked_at < ASKED_AGAIN for asked_at in asked)
        back = not sent_within(SOONEST_BACK, now, last.outlook.settings.garden, told.values())
        there, asleep = _is_there(last.outlook, now), _is_asleep(last.outlook, now)
        return not (
            any(self._goes_on(row, now, row.tree in away, asleep) for row in told.values())
            or (
                there
                and any(_follows(row, now, back and row.tree in away, ask) for row in told.values())
            )
            or any(
                self._is_news(one.finding, now, told, asleep)
                for own in self._possible.values()
                for one in own
            )
        )

    def _told(self) -> dict[Key, EpisodeRow]:
        rows = self._last.episodes if self._last else {}
        return {key: row for key, row in rows.items() if row.told_at is not None}

    def _is_news(
        self, finding: Finding, now: datetime, told: Mapping[Key, EpisodeRow], asleep: bool
    ) -> bool:
        if finding.until_at <= now or now < self._opens[finding.key]:
            return False
        row = told.get(finding.key)
        if row is not None and row.handled_at is not None:
            stronger = finding.strength is not Strength.ACT and row.told_strength == Strength.ACT
            if not (stronger or planned_hazard(finding.hazard)):
                return False
        return finding.strength is Strength.DANGER or not asleep

    def _goes_on(self, row: EpisodeRow, now: datetime, away: bool, asleep: bool) -> bool:
        """Whether what was told is yet to be done, called off, or seen to its end."""
        if row.state == EASED and row.told_do_by is not None:
            return not asleep and now < min(row.told_do_by, row.from_at)
        if row.state in (EASED, OVER):
            return False
        if row.handled_at is None or (row.told_do_by is not None and now < row.told_do_by):
            return True
        followed = row.told_strength == Strength.DANGER or (away and row.action == Action.PROTECT)
        return followed and not self._lasts(row, now)

    def _lasts(self, row: EpisodeRow, now: datetime) -> bool:
        """Whether every pass finds what was told, at ``now`` and for some hours more."""
        first, last = (now + STILL).timestamp(), (now + AHEAD).timestamp()
        own = self._possible.get(row.tree, [])
        sure = [one.sure for one in own if one.finding.key == key_of(row)]
        return any(bool(((hours > first) & (hours <= last)).any()) for hours in sure)


def _next_stretch(outlook: Outlook) -> datetime:
    """Until when what is worked out holds: not into the next month, when a season may begin."""
    zone = outlook.settings.garden.timezone
    month = local_day(outlook.now, zone).replace(day=1)
    following = (month + 32 * DAY).replace(day=1)
    return min(outlook.now + STRETCH, local_moment(following, time(), zone))


def _openings(outlook: Outlook, found: list[Possible]) -> dict[Key, datetime]:
    """The earliest that each may be told: when all trees that may share the job are seen to."""
    settings, findings = outlook.settings, [one.finding for one in found]
    garden, hands_on = settings.garden, settings.hands_on
    standing = {at.tree.name: at for at in outlook.standing}

    @cache
    def needed_for(action: Action, first_at: datetime) -> timedelta:
        sharing = {
            other.tree
            for other in findings
            if other.action is action and abs(other.first_at - first_at) <= AHEAD
        }
        trees = [standing[tree] for tree in sharing if tree in standing]
        return time_for(trees, action, settings.spots, settings.means)

    def opens(finding: Finding) -> datetime:
        if finding.hazard.spans is Spans.SINCE:  # these are told the next time somebody is there
            return finding.first_at
        needed = needed_for(finding.action, finding.first_at)
        deadline, _ = do_by(finding, garden, hands_on, outlook.now)
        return tell_from(deadline, finding.strength, needed, garden, hands_on)

    return {finding.key: opens(finding) for finding in findings}


def _follows(row: EpisodeRow, now: datetime, away: bool, ask: bool) -> bool:
    """Whether a tree may go back, or its keeper be asked about it, after what was told is past."""
    if row.state not in (EASED, OVER):
        return False
    back = away and row.action == Action.PROTECT and row.back_told_at is None
    danger = row.told_strength == Strength.DANGER and row.state == OVER and row.asked_at is None
    return back or (danger and ask and now >= row.until_at + SHOWS_AFTER)


def _is_there(outlook: Outlook, now: datetime) -> bool:
    settings = outlook.settings
    zone = settings.garden.timezone
    return bool(hands_on_between(settings.hands_on, now, now + A_MINUTE, zone))


def _is_asleep(outlook: Outlook, now: datetime) -> bool:
    settings = outlook.settings
    return quiet_until(settings.hands_on, now, settings.garden.timezone) is not None
