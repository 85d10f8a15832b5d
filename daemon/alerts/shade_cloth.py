"""Shade over a season: cloth is put up once, left up through the hot weeks, taken off together.

A grower does not hang cloth for a day in summer. What is hung then stays until heat has not asked
for it in three weeks. Nor are trees carried into full shade for a day: they stay for a week, which
they bear well. Common practice, no source.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta

from underbench.daemon.alerts.message_kinds import ClothOff, Placed
from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.outlook.shade_season import want_shade
from underbench.daemon.store.store import Store
from underbench.rules.advice.advice import Advice
from underbench.rules.advice.deadlines import back_after
from underbench.rules.advice.remedy import FULL_SHADE
from underbench.rules.garden.local_time import A_MINUTE, hands_on_between, local_day
from underbench.rules.planning.misgivings import northern_month

CLOTH_OFF = "cloth off"  # the duty under which it is kept when that was told
CLOTH_WANTED = "cloth wanted"  # and when most of the cloth was needed last
A_DAY, A_WEEK, IDLE = timedelta(days=1), timedelta(days=7), timedelta(days=21)
HOT_MONTHS = range(5, 9)  # of the northern year
MOST = 0.5  # the cloth comes off once so large a share of the trees can do without


def left_up(advice: Advice, outlook: Outlook, store: Store) -> Advice:
    """Return the advice, with its shade cloth left up and trees in full shade for a week if the hot
    months are on or near. From now on the weeks are counted in which no heat asks for cloth. Raises
    StoreError."""
    under = frozenset(job.tree for job in advice.jobs if job.remedy.cloth)
    garden = outlook.settings.garden
    ahead = (outlook.today, local_day(outlook.reaches, garden.timezone))
    if any(northern_month(day, garden.latitude) in HOT_MONTHS for day in ahead):
        advice = _for_a_week(replace(advice, leave_up=under), outlook)
    if any(job.remedy.cloth and advice.stays(job) for job in advice.jobs):
        store.duties.done(CLOTH_WANTED, outlook.now)
    return advice


def _for_a_week(advice: Advice, outlook: Outlook) -> Advice:
    """The advice, with no tree out of full shade within a week."""
    settings, over = outlook.settings, advice.do_by + A_WEEK
    into = any(job.remedy is FULL_SHADE for job in advice.jobs)
    if not into or advice.back_at is None or advice.back_at >= over:
        return advice
    back_at = back_after(over, over, settings.garden, settings.hands_on)
    return replace(advice, back_at=back_at, open_ended=False)


def comes_off(outlook: Outlook, store: Store) -> ClothOff | None:
    """Return the trees over which cloth comes off; None if it stays, while nobody is there, or in
    the week after it was told. Raises StoreError."""
    now, settings = outlook.now, outlook.settings
    under = [at for at in outlook.standing if at.cloth and at.at_home and not at.lost]
    there = hands_on_between(settings.hands_on, now, now + A_MINUTE, settings.garden.timezone)
    asked = store.duties.last_done(CLOTH_WANTED)
    if not under or not there or _within(A_DAY, asked, now):
        return None
    wanted = want_shade(outlook, {at.tree.name for at in under})
    off = [at for at in under if at.tree.name not in wanted]
    if len(off) < MOST * len(under):
        store.duties.done(CLOTH_WANTED, now)
        return None
    if _within(IDLE, asked, now) or _within(A_WEEK, store.duties.last_done(CLOTH_OFF), now):
        return None
    placed = (Placed(at.tree.name, at.spot, at.tree.spot) for at in off)
    return ClothOff(tuple(placed), outlook.reaches)


def _within(span: timedelta, moment: datetime | None, now: datetime) -> bool:
    return moment is not None and timedelta(0) <= now - moment < span
