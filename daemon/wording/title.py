"""The title of an advice: the deed, how many trees, where to, and by when."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from datetime import datetime
from typing import Protocol

from underbench.daemon.wording.until import opened_in
from underbench.daemon.wording.vocabulary import FIRST_WORD, Teller, counted
from underbench.rules.advice.advice import Advice
from underbench.rules.advice.remedy import Remedy
from underbench.rules.hazards.findings import Strength
from underbench.rules.hazards.hazard import Action

LONGEST_TITLE = 120  # a lock screen shows no more
LONGEST_NAME = 24  # a longer one leaves no room for the rest


class Asked(Protocol):
    """What is asked for one tree."""

    @property
    def tree(self) -> str:
        """Its name."""

    @property
    def remedy(self) -> Remedy:
        """What is done."""

    @property
    def into(self) -> str | None:
        """The spot to which it goes."""


def title(advice: Advice, teller: Teller, now: datetime) -> str:
    """Return the title. It says the deed if one is asked of all trees, else how many trees go where
    (or the number of places, if there are too many to name)."""
    strong = " (danger)" if advice.strength is Strength.DANGER else ""
    if all(job.stay for job in advice.jobs):
        what = _what(advice.action, advice.jobs)
        return f"LEAVE IN {what}{_until(advice, teller, now)}{strong}"
    return deed_title(advice.action, advice.jobs, f"{_time(advice, teller, now)}{strong}")


def deed_title(action: Action, jobs: Sequence[Asked], by: str) -> str:
    """Return the deed, of how many trees, ``by`` when, and how many go where."""
    deeds, what = {job.remedy.titled("{what}", job.into) for job in jobs}, _what(action, jobs)
    if len(deeds) == 1:
        return f"{deeds.pop().replace('{what}', what)} {by}"
    ways = Counter(job.remedy.brief(job.into) for job in jobs)
    summary = ", ".join(f"{short} {many}" for short, many in ways.most_common())
    whole = f"{FIRST_WORD[action]} {what} {by}: {summary}"
    return whole if len(whole) <= LONGEST_TITLE else f"{whole.partition(': ')[0]}: {len(ways)} ways"


def _what(action: Action, jobs: Sequence[Asked]) -> str:
    """The trees, or their bags: one by its name, several by their number."""
    many, name = len(jobs), jobs[0].tree
    trees = name if many == 1 and len(name) <= LONGEST_NAME else counted(many)
    if action is not Action.VENT:
        return trees
    return f"the bag{'' if many == 1 else 's'} of {trees}"


def _until(advice: Advice, teller: Teller, now: datetime) -> str:
    if advice.back_at is None:
        return ""
    return f" until{' at least' if advice.open_ended else ''} {teller.when(advice.back_at, now)}"


def _time(advice: Advice, teller: Teller, now: datetime) -> str:
    """By when; for bags that stand in frost till later, from when to when."""
    hours = opened_in(advice)
    if hours:
        return teller.stretch(hours.start, hours.end, now).removesuffix(" today")
    return teller.by(advice.do_by, now)
