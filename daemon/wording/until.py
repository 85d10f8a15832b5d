"""By when, until when, and what holds in between."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from underbench.daemon.wording.vocabulary import Teller, counted
from underbench.rules.advice.advice import Advice
from underbench.rules.advice.remedy import FULL_SHADE, INDOORS, SHELTER
from underbench.rules.garden.local_time import Stretch
from underbench.rules.hazards.hazard import Action, Help
from underbench.rules.limits.limit import MeasuredOn

LEFT_UP = "Leave the cloth up for the hot weeks: you are told when it comes off."
TILL_THE_BAG_IS_OFF = "Leave it there until its bag is off."
EACH_SUNNY_DAY = "So on each sunny day of the two weeks ahead. Shut it before a night of frost."
EACH_COOL_NIGHT = "So on each cool night of the two weeks ahead; out again by day."
STAYS_TIED = "What is tied down may stay so."
OPEN_BY_DAY = (MeasuredOn.LEAF, MeasuredOn.BUD)


def until(advice: Advice, teller: Teller, now: datetime) -> str:
    """Return the deadline and the return in one line."""
    return " ".join(filter(None, (_by(advice, teller, now), _return(advice, teller, now))))


def waits_until(advice: Advice) -> datetime | None:
    """Return when the frost is over in which all bags of an advice stand at its deadline; None if
    some need not wait."""
    waits = [job.not_before or advice.do_by for job in advice.jobs]
    return max(waits) if min(waits) > advice.do_by else None


def opened_in(advice: Advice) -> Stretch | None:
    """Return in which hours the bags of an advice are opened that stand in frost at its deadline:
    those in which somebody is there, else all from the frost's end until harm. None if some bags
    need not wait."""
    frost_ends = waits_until(advice)
    if frost_ends is None:
        return None
    there = [job.opened for job in advice.jobs if job.opened]
    if len(there) == len(advice.jobs):
        hours = Stretch(max(h.start for h in there), min(h.end for h in there))
        if hours.start < hours.end:
            return hours
    return Stretch(frost_ends, advice.lead.first_at)


def asked_in(advice: Advice, teller: Teller, now: datetime) -> str:
    """Return the call for somebody else, if nobody is down to be there in time."""
    if advice.in_hand or all(job.stay for job in advice.jobs):
        return ""
    if advice.do_by <= now:
        return "This cannot wait. If you are not there, ask somebody in."
    by = teller.when(advice.do_by, now)
    return f"By your hours nobody is there before {by}: ask somebody in."


def _by(advice: Advice, teller: Teller, now: datetime) -> str:
    if all(job.stay for job in advice.jobs):
        return ""
    if waits_until(advice):
        by = teller.when(advice.do_by, now)
        return f"If nobody is there then, shade the bag by {by} instead."
    return "Now." if advice.do_by <= now else f"By {teller.when(advice.do_by, now)}."


def _return(advice: Advice, teller: Teller, now: datetime) -> str:
    tied = STAYS_TIED if any(job.remedy.ties for job in advice.jobs) else ""
    loose = tuple(j for j in advice.jobs if not j.remedy.ties and j.remedy is not SHELTER)
    others = _untied(replace(advice, jobs=loose), teller, now) if loose else ""
    return f"{others} {tied}".strip()


def _untied(advice: Advice, teller: Teller, now: datetime) -> str:
    if all(job.remedy is INDOORS for job in advice.jobs):
        return EACH_COOL_NIGHT
    if advice.back_at is None:
        return _days_after(advice, teller)
    back = teller.when(advice.back_at, now)
    if advice.open_ended:
        back = f"not before {back}, as far as the forecast reaches: look again then"
    if advice.action is Action.SHADE:
        return _out_of_shade(advice, teller, back)
    between = _between(advice, teller, now)
    return f"{between}{_going_back(advice)} {back}{_then(advice)}."


def _out_of_shade(advice: Advice, teller: Teller, back: str) -> str:
    """When shade may come off, or that its cloth stays up."""
    if all(job.remedy.repeated for job in advice.jobs):
        return EACH_SUNNY_DAY
    if all(job.remedy is FULL_SHADE for job in advice.jobs):
        return f"Out of full shade {back}."
    if not advice.leave_up:
        return f"{_days_after(advice, teller)} Shade may come off {back}.".strip()
    others = any(not advice.stays(job) for job in advice.jobs)
    return f"{LEFT_UP}{f' Out of full shade {back}.' if others else ''}"


def _between(advice: Advice, teller: Teller, now: datetime) -> str:
    """What holds between the nights of a run."""
    nights = {f.span.start for f in advice.findings if f.hazard.returns}
    if len(nights) < 2 or not advice.lead.hazard.stays_between:
        return ""
    last = teller.when(max(finding.until_at for finding in advice.findings), now)
    run = f"{counted(len(nights), 'night')} in a row, the last ends {last}"
    return f"{run}: {_meanwhile(advice)}. "


def _meanwhile(advice: Advice) -> str:
    carried = [job for job in advice.jobs if job.remedy.carries]
    covers = "leave the covers on"
    if not carried:
        return covers
    both = "" if len(carried) == len(advice.jobs) else f", {covers}"
    if not any(job.choice and job.choice.way.indoors for job in carried):
        down = all(job.remedy.on_ground for job in carried)
        return f"leave them {'down' if down else 'in'}{both}"
    # Leaves and buds are open when days are mild. What harms wood or roots may last through a day.
    mild = all(f.limit.measured_on in OPEN_BY_DAY for job in carried for f in job.findings)
    return f"leave them in, door {'open by day' if mild else 'shut'}{both}"


def _going_back(advice: Advice) -> str:
    carried = {job.remedy.carries for job in advice.jobs}
    if carried == {False}:
        return "Covers off"
    lifted = [job.remedy for job in advice.jobs if job.remedy.carries]
    back = "Back up" if all(remedy.on_ground for remedy in lifted) else "Back out"
    covered = len(carried) > 1 or any(remedy.layers for remedy in lifted)
    return f"{back}, and covers off" if covered else back


def _then(advice: Advice) -> str:
    """Leaves that have stood in the dark for days are led back to the sun."""
    if advice.open_ended:
        return ""
    dark = [f for job in advice.jobs if job.remedy.carries for f in job.findings]
    leafy = any(f.limit.measured_on is MeasuredOn.LEAF for f in dark)
    return ", shade first" if leafy and len({f.span.start for f in dark}) > 1 else ""


def _days_after(advice: Advice, teller: Teller) -> str:
    """Said of a run of days: the same holds on the days after the first."""
    if advice.action is Action.VENT:
        return LEFT_UP if advice.leave_up else _spell(advice, teller)
    daily = (f for f in advice.findings if f.hazard.help is not Help.WATER_ONCE)
    spans = sorted({f.span.start for f in daily if not f.hazard.is_seasonal})
    if len(spans) < 2:
        return ""
    return f"The same on the days after, until {teller.local(spans[-1]):%A}."


def _spell(advice: Advice, teller: Teller) -> str:
    """A bag is placed once for the whole of a warm spell, not anew each day, unless its nights have
    frost. In full shade it wants no sun before it is off (common practice, no source)."""
    if all(job.remedy is FULL_SHADE for job in advice.jobs):
        return TILL_THE_BAG_IS_OFF
    last = teller.local(max(finding.until_at for finding in advice.findings))
    if last.date() == teller.local(advice.lead.first_at).date():
        return ""
    if any(job.not_before for job in advice.jobs):
        return f"Shut it before dusk. The same on the days after, until {last:%A}."
    return f"Leave it so for the whole warm spell, until {last:%A} at least."
