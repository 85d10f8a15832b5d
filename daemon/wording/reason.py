"""Why: the hazard, the tree hit hardest with its number, when, and the chance."""

from __future__ import annotations

from datetime import datetime
from math import isfinite

from underbench.daemon.wording.vocabulary import (
    BAG_KNOWN_TO_K,
    Teller,
    chance_words,
    counted,
    quantity,
)
from underbench.rules.advice.advice import Advice, Job
from underbench.rules.garden.journal import Work
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.limits.limit import MeasuredOn

A_FORTNIGHT = 14
_ON = {
    MeasuredOn.LEAF: "leaves",
    MeasuredOn.BUD: "buds",
    MeasuredOn.FLOWER: "flowers",
    MeasuredOn.WOOD: "wood",
    MeasuredOn.SHELL: "root ball's edge",
    MeasuredOn.AIR: "air",
    MeasuredOn.BAG: "inside the bag",
    MeasuredOn.GUST: "gusts at the bench",
    MeasuredOn.SUN: "sun on soft leaves",
}


def reason(advice: Advice, teller: Teller, now: datetime) -> str:
    """Return why. A second hazard is told only if other trees need help of another kind."""
    lead = advice.lead
    decide = (job.worst for job in advice.jobs if job.tree != lead.tree)
    others = (finding for finding in decide if finding.hazard.help is not lead.hazard.help)
    told = [lead, *list(others)[:1]]
    return " ".join(_sentence(finding, advice, teller, now) for finding in told)


def _sentence(finding: Finding, advice: Advice, teller: Teller, now: datetime) -> str:
    """The hazard, the tree with its own number and its limit, from when to when, the chance."""
    hazard, kind = finding.hazard, finding.limit.measured_on
    what = hazard.words_on.get(kind, hazard.words)
    job = next(job for job in advice.jobs if job.tree == finding.tree)
    told = f"{what}: {finding.tree}{_work_ago(job, now)}, {_number(finding, teller)}"
    chance = f"chance {chance_words(finding.chance)}."
    if hazard.by_days:
        return f"{told}; {chance}"
    harm = f"harm {teller.stretch(finding.first_at, finding.until_at, now)}"
    return f"{told} {_peak(finding, teller, now)}{_limit(finding, teller)}; {harm}; {chance}"


def _peak(finding: Finding, teller: Teller, now: datetime) -> str:
    """When it is worst, with the day if the day of the harm does not tell it."""
    days = {teller.local(at).date() for at in (finding.first_at, finding.until_at)}
    if days == {teller.local(finding.worst_at).date()}:
        return f"at {teller.clock(finding.worst_at)}"
    return f"at {teller.when(finding.worst_at, now)}"


def _number(finding: Finding, teller: Teller) -> str:
    """The worst value."""
    kind = finding.limit.measured_on
    if kind is MeasuredOn.WATER:
        return f"{chance_words(finding.worst)} of the water left"
    if kind is MeasuredOn.DARK:
        return f"by then for {_days(finding.worst)}"
    if kind is MeasuredOn.MOSS:
        return f"{chance_words(finding.worst)} of the water left in it"
    if kind is MeasuredOn.SODDEN:
        return f"{quantity(finding.worst, kind, teller.units)} of rain at the brim"
    if kind is MeasuredOn.FROZEN:
        return f"frozen through for {_days(finding.worst)}"
    worst = f"{_ON[kind]} {quantity(finding.worst, kind, teller.units)}"
    if kind is MeasuredOn.BAG:
        worst += f" (known to ±{teller.units.temp_difference(BAG_KNOWN_TO_K)})"
    return worst


def _limit(finding: Finding, teller: Teller) -> str:
    """From where on it harms, and in danger kills."""
    kind = finding.limit.measured_on
    if kind is MeasuredOn.WATER:
        return ""
    if kind is MeasuredOn.FROZEN:
        return f" (limit {_days(finding.limit.harm)})"
    limit = f"limit {quantity(finding.limit.harm, kind, teller.units)}"
    if finding.strength is Strength.DANGER and isfinite(finding.limit.kill):
        limit += f", kills from {quantity(finding.limit.kill, kind, teller.units)}"
    return f" ({limit})"


def _days(hours: float) -> str:
    return counted(round(hours / 24), "day")


def _work_ago(job: Job, now: datetime) -> str:
    """The work that makes the tree tender."""
    work: Work | None = job.work
    if work is None:
        return ""
    days = (now - work.at).days
    few = {0: "under a day", 1: "1 day"}.get(days, f"{days} days")
    ago = f"{days // 7} weeks" if days >= A_FORTNIGHT else few
    return f" ({work.work} {ago} ago)"
