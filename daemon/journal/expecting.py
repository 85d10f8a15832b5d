"""What to expect after a work, in lines with dates."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from underbench.daemon.config.settings import Settings
from underbench.daemon.wording.units import Units
from underbench.rules.garden.journal import Work
from underbench.rules.garden.local_time import local_day
from underbench.rules.planning.weeks_after import Phase, now_and_next, phases_after
from underbench.rules.plants.species import Kind

WEEK = timedelta(weeks=1)
HEAD = "What to expect (weeks of an ordinary spring; warmth hastens them, cold holds them):"


def expected_lines(work: Work, kind: Kind, settings: Settings) -> list[str]:
    """Return all weeks after ``work`` in lines under a head; empty if it has none."""
    lines = _lines(phases_after(work, kind), work, settings)
    return [HEAD, *(f"  {line}" for line in lines)] if lines else []


def expected_now(works: Iterable[Work], kind: Kind, settings: Settings, now: datetime) -> list[str]:
    """Return what to expect in this week and the next, after each of ``works``."""
    lines = []
    for work in works:
        week = (now - work.at) // WEEK + 1
        found = _lines(now_and_next(phases_after(work, kind), week), work, settings)
        lines += [f"After the {work.work}, {line}" for line in found]
    return lines


def _lines(phases: Iterable[Phase], work: Work, settings: Settings) -> list[str]:
    units = Units(settings.units)
    return [
        f"{_when(one, work, settings)}: "
        + one.words.format(floor=units.temp(one.floor_c) if one.floor_c is not None else "")
        for one in phases
    ]


def _when(phase: Phase, work: Work, settings: Settings) -> str:
    zone = settings.garden.timezone
    first = local_day(work.at + (phase.first - 1) * WEEK, zone)
    last = local_day(work.at + phase.last * WEEK - timedelta(days=1), zone)
    weeks = (
        f"week {phase.first}" if phase.first == phase.last else f"weeks {phase.first}-{phase.last}"
    )
    return f"{weeks} ({first.day} {first:%b} to {last.day} {last:%b})"
