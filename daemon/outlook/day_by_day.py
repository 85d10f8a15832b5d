"""Findings by local day. What lasts for a season or a week has a value of its own each day."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import date, time, timedelta

import numpy as np
from numpy.typing import NDArray

from underbench.daemon.outlook.outlook import Outlook
from underbench.rules.garden.local_time import NOON, Stretch, local_day, local_moment
from underbench.rules.hazards.findings import Finding, find
from underbench.rules.hazards.hazard import Hazard, Judged
from underbench.rules.hazards.judge import outcomes

DAYS_SHOWN = 5
A_DAY = timedelta(days=1)
_Hours = tuple[NDArray[np.int64], Judged, int]  # UTC seconds, what was judged, the tree's row in it


def days_shown(outlook: Outlook) -> list[date]:
    """Return today and the days after it, by the garden's clock."""
    first = local_day(outlook.now, outlook.settings.garden.timezone)
    return [first + n * A_DAY for n in range(DAYS_SHOWN)]


class DayByDay:
    """The findings of one outlook, by tree and local day. A day has the night after it."""

    def __init__(self, outlook: Outlook) -> None:
        self._outlook, self._zone = outlook, outlook.settings.garden.timezone
        self._long = dict(self._judged_long())

    def on(self, tree: str, day: date) -> list[Finding]:
        """Return the findings for a tree on a local day and in the night after it."""
        return [one for _, one in self._pairs(tree, day)]

    def whole(self, tree: str, day: date) -> list[Finding]:
        """Return the same findings, each as it is over the whole of its span."""
        return [finding for finding, _ in self._pairs(tree, day)]

    def _pairs(self, tree: str, day: date) -> Iterator[tuple[Finding, Finding]]:
        for finding in self._outlook.findings:
            if finding.tree == tree:
                for one in self._of_day(finding, day):
                    yield finding, one

    def _of_day(self, finding: Finding, day: date) -> Iterator[Finding]:
        first, last = (local_day(at, self._zone) for at in (finding.first_at, finding.until_at))
        if not finding.span.is_long:
            if local_day(finding.span.start, self._zone) == day:
                yield finding
        elif hours := self._long.get(finding.key):
            yield from self._within(hours, _span_of(finding.hazard, day, self._zone), finding.tree)
        elif first <= day <= last:  # it has come on over days: it is the same on each
            yield finding

    def _judged_long(self) -> Iterator[tuple[tuple[str, str, object], _Hours]]:
        """Judge anew the trees for which something lasts longer than a night or a day."""
        outlook = self._outlook
        long = {f.tree for f in outlook.findings if f.span.is_long and not f.hazard.by_days}
        if not long:
            return
        rows = [row for row, at in enumerate(outlook.standing) if at.tree.name in long]
        names = [outlook.standing[row].tree.name for row in rows]
        course = outlook.course.take(rows)
        for span, times, judged in outcomes(outlook.setting, course, outlook.site):
            for number, name in enumerate(names) if span.is_long else ():
                yield (name, judged.hazard.key, span.start), (times, judged, number)

    def _within(self, hours: _Hours, span: Stretch, name: str) -> list[Finding]:
        times, judged, row = hours
        inside = (times > span.start.timestamp()) & (times <= span.end.timestamp())
        if not inside.any():
            return []
        part = replace(
            judged,
            value=judged.value[[row]][..., inside],
            harm=judged.harm[[row]][..., inside],
            kill=judged.kill[[row]][..., inside],
            limits=[judged.limits[row]],
            thaw=None,
        )
        settings = self._outlook.settings
        trees = [tree for tree in settings.trees if tree.name == name]
        return find(part, span, times[inside], trees, settings.chance)


def _span_of(hazard: Hazard, day: date, zone: str) -> Stretch:
    """The day's hours: cold is counted from noon to noon, as its nights are."""
    begins = NOON if hazard.low else time(0)
    return Stretch(local_moment(day, begins, zone), local_moment(day + A_DAY, begins, zone))
