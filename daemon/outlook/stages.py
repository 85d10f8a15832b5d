"""A tree's stage in words: the stage it is judged at, and the days when the next is likely."""

from __future__ import annotations

from datetime import date

import numpy as np

from underbench.daemon.outlook.outlook import Outlook
from underbench.rules.course.course import DAY_S, seen_of
from underbench.rules.plants.stages import StageRange, stage_range
from underbench.rules.weather.hourly import HOUR_S

FORESEEN_DAYS = 60  # a date beyond that is no better than the calendar's
RISE_K = 0.1  # spring warms so much a day beyond the forecast, some 3 K a month; judgement


def stage_words(outlook: Outlook, row: int) -> str:
    """Return the stage of the tree at ``row``, with the range of days where one is foreseen, and
    how far its flowers are."""
    leaves, flower = _of_leaves(outlook, row), outlook.flower(row)
    return f"{leaves}; {flower}" if flower else leaves


def _of_leaves(outlook: Outlook, row: int) -> str:
    found = _range(outlook, row)
    if found.coming is None or found.likely is None:
        return f"{found.stage} (as early as it may be)"
    until = f" to {_day(found.last)}" if found.last else " or later"
    if found.coming is found.stage:
        return f"{found.stage} at the early edge, likely from {_day(found.likely)}{until}"
    coming = f"{found.stage}; {found.coming} likely {_day(found.likely)}"
    if found.first == found.last:
        return coming
    return f"{coming}, from {_day(found.first or found.likely)}{until}"


def _range(outlook: Outlook, row: int) -> StageRange:
    state, tree = outlook.state, outlook.standing[row]
    limits = outlook.setting.species[tree.tree.name].limits
    return stage_range(
        limits,
        next(iter(outlook.course.conditions)),
        outlook.settings.garden.latitude,
        float(state.warmth_cd[row]),
        seen_of(tree, state, row),
        _means_c(outlook, row),
        chill_days=float(state.chill_days[row]),
        pace=float(state.pace[row]),
    )


def _means_c(outlook: Outlook, row: int) -> list[float]:
    """Daily mean air of today and the days ahead: the forecast's, then that level, slowly rising.

    Today counts its hours gone by. The last day of the forecast is left out when it is cut short.
    """
    air_c = outlook.course.exposure.screen_c[row].mean(axis=0)
    days = (outlook.course.times - HOUR_S) // DAY_S
    known = [air_c[days == day] for day in np.unique(days)]
    gone_h = float(outlook.state.day_hours[row])
    today = (float(outlook.state.day_sum_c[row]) + float(known[0].sum())) / (gone_h + len(known[0]))
    means = [today, *(float(hours.mean()) for hours in known[1:] if len(hours) == 24)]
    level_c = sum(means) / len(means)
    further = FORESEEN_DAYS - len(means)
    return [*means, *(level_c + RISE_K * ahead for ahead in range(1, further + 1))]


def _day(day: date | None) -> str:
    return f"{day.day} {day:%B}" if day else ""
