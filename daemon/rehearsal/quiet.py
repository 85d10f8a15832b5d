"""How long a rehearsal's passes can say nothing, so that they need not be run.

The forecast is a perfect one: what a pass does not find in the days ahead does not come in them,
and nothing is told longer ahead than `LOOK_BACK`. What comes on by days is found up to two days
late.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from underbench.daemon.alerts.call_off_and_return import ASKED_AGAIN
from underbench.daemon.alerts.due import SURE_AHEAD
from underbench.daemon.alerts.hourly_pass import Pass
from underbench.daemon.alerts.outcome_question import WAITS_FOR_ANOTHER
from underbench.daemon.outlook.outlook import AHEAD, Outlook
from underbench.daemon.outlook.prospects import planned_hazard
from underbench.daemon.store.episodes import HANDLED, OVER, TOLD, EpisodeRow
from underbench.rules.advice.deadlines import LOOK_BACK, tell_from
from underbench.rules.advice.effort import time_for
from underbench.rules.garden.local_time import hands_on_between, local_day
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.hazard import Action

UNSEEN = AHEAD - LOOK_BACK  # what comes into sight by then is told later still


def quiet_until(done: Pass) -> datetime:
    """Return until when nothing falls due after a pass, if nothing more is noted: until somebody is
    there the day after tomorrow at most."""
    falls_due = min([_visit_after(done.outlook), *_followed_up(done), *_openings(done)])
    return max(done.outlook.now, falls_due)


def _visit_after(outlook: Outlook) -> datetime:
    settings, ends = outlook.settings, outlook.now + UNSEEN
    zone = settings.garden.timezone
    visits = hands_on_between(settings.hands_on, outlook.now, ends, zone)
    others = (one.start for one in visits if local_day(one.start, zone) == local_day(ends, zone))
    return next(others, ends)


def _followed_up(done: Pass) -> Iterator[datetime]:
    """When what was told can next lead to a message: it is reminded of or called off until it is
    done, then trees may go back. How they came through is asked in other messages, or late."""
    now, told = done.outlook.now, [row for row in done.episodes.values() if row.told_at is not None]
    away = {at.tree.name for at in done.outlook.standing if not at.at_home}
    asked_again = max((row.asked_at + ASKED_AGAIN for row in told if row.asked_at), default=now)
    for row in told:
        waits = row.state != OVER and row.told_do_by is not None and now < row.told_do_by
        if row.state == TOLD or waits:
            yield now
        elif row.action == Action.PROTECT and row.tree in away and row.back_told_at is None:
            yield min(row.span_end, row.until_at) if row.state == HANDLED else now
        if row.told_strength == Strength.DANGER and row.asked_at is None:
            yield max(row.until_at + WAITS_FOR_ANOTHER, asked_again)


def _openings(done: Pass) -> Iterator[datetime]:
    """The earliest that each finding may be told: as danger, and if all trees share its job."""
    outlook = done.outlook
    garden, hands_on = outlook.settings.garden, outlook.settings.hands_on
    needed = {action: _needed(outlook, action) for action in Action}
    for finding in (*outlook.findings, *outlook.at_home):
        row = done.episodes[finding.key]
        if _is_seen_to(finding, row):
            continue
        yield tell_from(row.do_by, Strength.DANGER, needed[finding.action], garden, hands_on)
        if finding.strength is not Strength.NOTICE:  # it may become sure
            yield row.do_by - SURE_AHEAD


def _is_seen_to(finding: Finding, row: EpisodeRow) -> bool:
    """Whether a finding was told, no weaker, and seen to. The plan may tell its own again."""
    weaker = row.told_strength == Strength.ACT and finding.strength is Strength.DANGER
    return row.handled_at is not None and not weaker and not planned_hazard(finding.hazard)


def _needed(outlook: Outlook, action: Action) -> timedelta:
    return time_for(outlook.standing, action, outlook.settings.spots, outlook.settings.means)
