"""The picture that goes with an advice: the tree most at risk, through the hours that decide."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np

from underbench.daemon.chart import draw
from underbench.daemon.feels import Feeling
from underbench.daemon.feels_chart import GUSTS_HEADING, WATER_HEADING, feels_chart
from underbench.daemon.outlook import Outlook
from underbench.rules.findings import Finding
from underbench.rules.trail import MeasuredOn

BEFORE, AFTER = timedelta(hours=12), timedelta(hours=5)
NOT_DRAWN = (MeasuredOn.MOSS, MeasuredOn.DARK, MeasuredOn.SUN)
_PANELS = {MeasuredOn.GUST: GUSTS_HEADING, MeasuredOn.WATER: WATER_HEADING}


def night_chart(outlook: Outlook, lead: Finding) -> str:
    """Return as SVG what ``lead``'s tree feels around its worst hour against what it can bear, of
    what the limit is measured on; empty where there is nothing to draw hour by hour."""
    times = outlook.course.times
    begins, ends = ((lead.worst_at + by).timestamp() for by in (-BEFORE, AFTER))
    shown = np.flatnonzero((times >= begins) & (times <= ends))
    kind = lead.limit.measured_on
    if kind in NOT_DRAWN or len(shown) < 2:
        return ""
    names = [tree.name for tree in outlook.settings.trees]
    feeling = Feeling(outlook, names.index(lead.tree))
    chart = feels_chart(feeling, slice(int(shown[0]), int(shown[-1]) + 1))
    wanted = _PANELS.get(kind)
    own = [panel for panel in chart.panels if wanted and panel.heading.startswith(wanted)]
    return draw(replace(chart, panels=own or chart.panels[:1]))
