"""The picture that goes with an advice: the tree most at risk, through the hours that decide.

It is for a phone at arm's length, outdoors: 4 to 3, text a twentieth of its height, the few curves
that this advice is about, their limits, and the deadline. ``feels`` shows what else the tree feels.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from math import isfinite

import numpy as np

from underbench.daemon.charts.hours_of_a_tree import (
    AIR,
    BAG,
    EDGE,
    GUST,
    LEAF,
    WATER,
    Column,
    Feeling,
)
from underbench.daemon.charts.svg import Chart, Curve, Level, Look, Mark, Panel, draw
from underbench.daemon.charts.svg_labels import LINE_PX
from underbench.daemon.charts.tree_chart import curve, shown
from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.wording.vocabulary import at_spot, quantity
from underbench.rules.advice.advice import Advice
from underbench.rules.hazards.findings import Finding
from underbench.rules.limits.limit import MeasuredOn
from underbench.rules.weather.hourly import HOUR_S
from underbench.rules.weather.sun import position

WIDTH, PLOT_HEIGHT = 760, 240
BEFORE, AFTER = timedelta(hours=12), timedelta(hours=5)
SPARE = timedelta(hours=1)  # before the deadline, so that its line stands inside
KILLS_SHOWN = 0.5  # at most so far beyond the curves, as a share of their range; more squeezes them
Drawn = tuple[Column, Look, str]

_AIR, _ROOTS = (AIR, Look.AIR, "air"), (EDGE, Look.ROOTS, "roots")
_LEAF = (LEAF, Look.LEAF, "leaf")
_DRAWN: dict[MeasuredOn, Drawn] = {
    MeasuredOn.LEAF: _LEAF,
    MeasuredOn.BUD: (LEAF, Look.LEAF, "bud"),
    MeasuredOn.FLOWER: (LEAF, Look.LEAF, "flower"),
    MeasuredOn.WOOD: (LEAF, Look.LEAF, "wood"),
    MeasuredOn.SHELL: _ROOTS,
    MeasuredOn.FROZEN: _ROOTS,
    MeasuredOn.AIR: _AIR,
    MeasuredOn.BAG: (BAG, Look.LEAF, "in bag"),
    MeasuredOn.GUST: (GUST, Look.GUST, "gusts"),
    MeasuredOn.WATER: (WATER, Look.WATER, "water"),
}  # moss, dark and sun on soft leaves are not followed hour by hour
ALONE = (MeasuredOn.GUST, MeasuredOn.WATER)  # on an axis of their own


def night_chart(outlook: Outlook, advice: Advice) -> str:
    """Return as SVG what the tree named first feels until its hazard is over, against its limits.

    It is empty where nothing can be drawn hour by hour, and for trees that only stay where they
    are, because they do not feel what threatens them elsewhere.
    """
    stays = {job.tree for job in advice.jobs if job.stay}
    lead = next((f for f in advice.in_order if f.tree not in stays), None)
    if lead is None or lead.limit.measured_on not in _DRAWN:
        return ""
    hours = _hours(outlook, lead, advice.do_by)
    if hours.stop - hours.start < 2:
        return ""
    names = [tree.name for tree in outlook.settings.trees]
    feeling = Feeling(outlook, names.index(lead.tree))
    own = [f for f in advice.findings if f.tree == lead.tree and f.span == lead.span]
    return draw(_chart(feeling, hours, [lead, *own], advice.do_by))


def _hours(outlook: Outlook, lead: Finding, do_by: datetime) -> slice:
    """From before the deadline, or half a day before the worst, to after the worst and the last
    harm.

    For a spell of days only the first is drawn, because the deadline is for it.
    """
    times, peak = outlook.course.times, lead.worst_at
    if peak - lead.first_at > BEFORE:
        peak = lead.first_at + AFTER
    over = lead.until_at - peak
    ends = peak + (over if AFTER < over <= BEFORE else AFTER)
    begins = min(peak - BEFORE, do_by - SPARE)
    inside = np.flatnonzero((times > begins.timestamp()) & (times <= ends.timestamp()))
    return slice(int(inside[0]), int(inside[-1]) + 1) if len(inside) else slice(0, 0)


def _chart(feeling: Feeling, hours: slice, findings: Sequence[Finding], do_by: datetime) -> Chart:
    times, garden = feeling.times[hours], feeling.outlook.settings.garden
    elevation, _ = position(times - HOUR_S // 2, garden.latitude, garden.longitude)
    local, panel = do_by.astimezone(feeling.zone), _panel(feeling, hours, findings)
    due = Mark(do_by.timestamp(), f"by {feeling.units.clock(local)}")
    return Chart(
        title=feeling.tree.name,
        subtitle=f"{findings[0].hazard.words}, {at_spot(feeling.at.spot)}",
        times=times,
        dark=elevation < 0,
        timezone=garden.timezone,
        panels=[panel],
        notes=[*_out_of_reach(feeling, findings[0], panel)],
        mark=due if times[0] - HOUR_S <= due.at_s <= times[-1] else None,
        hour=feeling.units.hour,
        width=WIDTH,
    )


def _panel(feeling: Feeling, hours: slice, findings: Sequence[Finding]) -> Panel:
    kind = findings[0].limit.measured_on
    told: dict[MeasuredOn, Finding] = {}
    for finding in findings:
        if _on_one_axis(finding, kind):
            told.setdefault(finding.limit.measured_on, finding)
    kinds = [kind, *told] if kind in ALONE else [kind, *told, MeasuredOn.AIR]
    drawn = dict.fromkeys(_drawn(feeling, one) for one in kinds)
    curves = [curve(feeling, hours, *one) for one in drawn]
    levels = [
        level
        for finding in told.values()
        for level in _levels(feeling, finding, curves, finding is findings[0])
    ]
    room = _label_room(curves)
    beside = [level.value + by for level in levels for by in (-room, room)]
    return Panel(
        heading=_heading(feeling, kind),
        curves=curves,
        levels=_legible(levels, room),
        shown=(0.0, 100.0) if kind is MeasuredOn.WATER else beside,
        height=PLOT_HEIGHT,
    )


def _drawn(feeling: Feeling, kind: MeasuredOn) -> Drawn:
    found = _DRAWN[kind]
    return _DRAWN[MeasuredOn.BAG] if found[0] is LEAF and feeling.crown is BAG else found


def _on_one_axis(finding: Finding, kind: MeasuredOn) -> bool:
    own = finding.limit.measured_on
    return own is kind or (own in _DRAWN and not {own, kind} & set(ALONE))


def _heading(feeling: Feeling, kind: MeasuredOn) -> str:
    if kind is MeasuredOn.WATER:
        return "% left"
    shown_in = feeling.units.speed if kind is MeasuredOn.GUST else feeling.units.temp
    return shown_in(0.0).split()[1]


def _levels(
    feeling: Feeling, finding: Finding, curves: Sequence[Curve], lead: bool
) -> Iterator[Level]:
    """Where harm begins, in the heading's unit.

    The finding told first also gets the level where death begins, if it is in reach. Names tell the
    other levels apart: colours alone would not do.
    """
    limit, kind = finding.limit, finding.limit.measured_on
    if kind is MeasuredOn.FROZEN:  # hours are no height on this axis
        return
    _, look, name = _drawn(feeling, kind)
    levels = [("harms" if lead else name, limit.harm, False)]
    levels += [("kills", limit.kill, True)] if lead else []
    for words, value, kills in levels:
        at = float(shown(feeling, np.array(value), kind))
        if isfinite(value) and (not kills or _in_reach(at, curves)):
            number = quantity(value, kind, feeling.units).split()[0]
            yield Level(f"{words} {number}", look, at, kills)


def _out_of_reach(feeling: Feeling, lead: Finding, panel: Panel) -> Iterator[str]:
    """The level where death begins, in words, if it is not drawn."""
    kill, kind = lead.limit.kill, lead.limit.measured_on
    drawn = kind is MeasuredOn.FROZEN or any(level.kills for level in panel.levels)
    if isfinite(kill) and not drawn:
        yield f"Kills from {quantity(kill, kind, feeling.units)}, which is off this picture."


def _legible(levels: Sequence[Level], room: float) -> list[Level]:
    """The levels in order of weight; a label goes where those before it leave no room. Dash and
    colour still join the line of such a level to its curve."""
    kept: list[Level] = []
    for level in levels:
        near = not level.kills and any(abs(level.value - one.value) < room for one in kept)
        kept.append(replace(level, label="") if near else level)
    return kept


def _label_room(curves: Sequence[Curve]) -> float:
    """Roughly how much of the axis a label takes."""
    least, most = _range(curves)
    return 1.3 * LINE_PX / PLOT_HEIGHT * (most - least)


def _in_reach(value: float, curves: Sequence[Curve]) -> bool:
    """Whether an axis that reaches ``value`` leaves the curves most of its height."""
    least, most = _range(curves)
    return max(least - value, value - most) <= KILLS_SHOWN * (most - least)


def _range(curves: Sequence[Curve]) -> tuple[float, float]:
    drawn = np.concatenate([np.concatenate([one.low, one.high]) for one in curves])
    return float(np.nanmin(drawn)), float(np.nanmax(drawn))
