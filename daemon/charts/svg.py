"""A chart as SVG text: what a tree feels hour by hour against what it can bear.

It is for a phone at arm's length: few curves, labelled at their ends; limits labelled at their
lines; night shaded; local hours and days. Nothing in it refers to anything outside.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from enum import StrEnum
from itertools import pairwise
from typing import NamedTuple
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from underbench.daemon.charts.svg_elements import line, path, picture, rect, text
from underbench.daemon.charts.svg_labels import (
    INSET,
    TEXT_PX,
    Box,
    fitted,
    least_covering,
    spread_out,
    text_px,
)
from underbench.daemon.wording.units import Units
from underbench.rules.weather.hourly import HOUR_S, Array

WIDTH = 1080  # units across by default
LEFT, RIGHT = 86, 178  # room for the numbers of the axis, and for the curves' names
HEAD, ABOVE_PANEL, BELOW_PANEL, HOURS_AND_DAYS, NOTE, FOOT = 122, 56, 26, 92, 36, 24
TALL, LOW = 620, 260
TITLE_PX = 44
LEAST_TICK_PX = 96
METRIC = Units("metric")
MOST_TICKS = {TALL: 8, LOW: 4}
STEPS = (1, 2, 5)


class Look(StrEnum):
    """How a curve and its limits are drawn; leaf, bud and bag look alike."""

    AIR = "air"
    LEAF = "leaf"
    ROOTS = "roots"
    WATER = "water"
    GUST = "gust"


@dataclass(frozen=True, slots=True)
class Curve:
    """A middle line in a band; arrays (hour,), NaN where not known, in the panel's unit."""

    name: str
    look: Look
    low: Array
    middle: Array
    high: Array


@dataclass(frozen=True, slots=True)
class Level:
    """A limit: a level line with its label, if it has one."""

    label: str
    look: Look
    value: float
    kills: bool


@dataclass(frozen=True, slots=True)
class Panel:
    """Curves on one axis; ``shown`` are values that the axis always reaches."""

    heading: str
    curves: Sequence[Curve]
    levels: Sequence[Level] = ()
    shown: Sequence[float] = ()
    height: int = TALL


class Mark(NamedTuple):
    """A moment that matters (UTC seconds): an upright line, its label above the first panel."""

    at_s: float
    label: str


@dataclass(frozen=True, slots=True)
class Chart:
    """A chart.

    ``times`` are the ends of the hours, UTC seconds, one hour apart; ``dark`` are hours without
    sun. ``hour`` writes a full hour of the local clock. ``width`` is in units; text is 28 units
    high.
    """

    title: str
    subtitle: str
    times: NDArray[np.int64]
    dark: NDArray[np.bool_]
    timezone: str
    panels: Sequence[Panel]
    notes: Sequence[str] = ()
    mark: Mark | None = None
    hour: Callable[[datetime], str] = METRIC.hour
    width: int = WIDTH

    @property
    def right(self) -> int:
        """Where the panels end."""
        return self.width - RIGHT


def draw(chart: Chart) -> str:
    """Return ``chart`` as the text of an SVG picture."""
    parts, top = [*_head(chart)], float(HEAD)
    for panel in chart.panels:
        plot = Box(LEFT, top + ABOVE_PANEL, chart.right, top + ABOVE_PANEL + panel.height)
        parts += _panel(chart, panel, plot)
        top = plot.bottom + BELOW_PANEL
    if chart.panels and len(chart.times):
        parts += _clock(chart, top)
        top += HOURS_AND_DAYS
    for number, note in enumerate(chart.notes):
        parts.append(text(note, LEFT - 50, top + number * NOTE + TEXT_PX, "note"))
    height = top + NOTE * len(chart.notes) + FOOT
    return picture(f"{chart.title}: {chart.subtitle}", chart.width, height, parts)


def _head(chart: Chart) -> Iterator[str]:
    room = chart.width - LEFT + 50 - 24
    title, size = fitted(chart.title, TITLE_PX, room)
    yield text(title, LEFT - 50, 60, "title", style=f"font-size:{size:.0f}px")
    subtitle, size = fitted(chart.subtitle, TEXT_PX + 2, room)
    yield text(subtitle, LEFT - 50, 106, "subtitle", style=f"font-size:{size:.0f}px")


def _panel(chart: Chart, panel: Panel, plot: Box) -> Iterator[str]:
    yield text(panel.heading, LEFT - 50, plot.top - 16, "heading")
    yield rect("plot", plot)
    known = _known(panel)
    if not len(known) or not len(chart.times):
        yield text("nothing is known of these hours", plot.left + 20, plot.top + 60, "note")
        return
    axis = _Axis.over(known, panel, plot)
    for night in _nights(chart, plot):
        yield rect("night", night)
    for tick in axis.ticks:
        yield line("grid", plot.left, axis.y(tick), plot.right, axis.y(tick))
        yield text(_number(tick), plot.left - 12, axis.y(tick) + 10, "tick", "end")
    for x, _ in _day_starts(chart):
        yield line("day", x, plot.top, x, plot.bottom)
    yield rect("frame", plot)
    if chart.mark:
        yield from _mark(chart, chart.mark, panel, plot)
    yield from _curves(chart, panel, axis)
    yield from _levels(chart, panel, axis)


def _mark(chart: Chart, mark: Mark, panel: Panel, plot: Box) -> Iterator[str]:
    """The line, and over the first panel its label, which keeps clear of the heading."""
    x = _x(chart, mark.at_s)
    yield line("mark", x, plot.top, x, plot.bottom)
    if panel is chart.panels[0]:
        half = text_px(mark.label) / 2
        after = LEFT - 50 + text_px(panel.heading) + TEXT_PX
        middle = min(max(x, after + half), chart.width - INSET - half)
        yield text(mark.label, middle, plot.top - 16, "due", "middle")


def _known(panel: Panel) -> Array:
    """All values that the axis has to reach; empty when no curve has any."""
    values = [getattr(c, part) for c in panel.curves for part in ("low", "middle", "high")]
    of_curves: Array = np.concatenate([np.zeros(0), *values])
    of_curves = of_curves[np.isfinite(of_curves)]
    if not len(of_curves):
        return of_curves
    levels = np.array([level.value for level in panel.levels], dtype=float)
    return np.asarray(np.concatenate([of_curves, levels, np.array(panel.shown, dtype=float)]))


@dataclass(frozen=True, slots=True)
class _Axis:
    """The upright axis of a panel: its lowest and highest value, and the round ones between."""

    plot: Box
    low: float
    high: float
    ticks: Sequence[float]

    @classmethod
    def over(cls, known: Array, panel: Panel, plot: Box) -> _Axis:
        least, most = float(known.min()), float(known.max())
        spare = max(0.06 * (most - least), 0.5)
        low = least if least in panel.shown else least - spare
        high = most if most in panel.shown else most + spare
        step = _step((high - low) / MOST_TICKS.get(panel.height, max(2, panel.height // 48)))
        ticks = np.arange(np.ceil(low / step), np.floor(high / step) + 1) * step
        return cls(plot, low, high, ticks.tolist())

    def y(self, value: float) -> float:
        share = (value - self.low) / (self.high - self.low)
        return self.plot.bottom - share * (self.plot.bottom - self.plot.top)


def _step(least: float) -> float:
    """The least of 1, 2, 5, 10, 20, 50 and so on that is not below ``least``."""
    tens = 1
    while True:
        for step in STEPS:
            if step * tens >= least:
                return float(step * tens)
        tens *= 10


def _x(chart: Chart, moment_s: float) -> float:
    """Across: the first hour begins at the left edge, the last one ends at the right."""
    begins, ends = int(chart.times[0]) - HOUR_S, int(chart.times[-1])
    return LEFT + (moment_s - begins) / (ends - begins) * (chart.right - LEFT)


def _curves(chart: Chart, panel: Panel, axis: _Axis) -> Iterator[str]:
    xs = [_x(chart, end) for end in chart.times.tolist()]
    for curve in panel.curves:
        for run in _runs(np.isfinite(curve.low) & np.isfinite(curve.high)):
            upper = [(x, axis.y(v)) for x, v in zip(xs[run], curve.high[run], strict=True)]
            lower = [(x, axis.y(v)) for x, v in zip(xs[run], curve.low[run], strict=True)]
            yield path(f"{curve.look} band", [*upper, *reversed(lower)], closed=True)
    named = [(curve, runs) for curve in panel.curves if (runs := _runs(np.isfinite(curve.middle)))]
    for curve, runs in named:
        for run in runs:
            points = [(x, axis.y(v)) for x, v in zip(xs[run], curve.middle[run], strict=True)]
            yield path(f"{curve.look} curve", points)
    ends = [axis.y(curve.middle[runs[-1].stop - 1]) for curve, runs in named]
    for (curve, _), y in zip(named, spread_out(ends, axis.plot), strict=True):
        yield text(curve.name, axis.plot.right + 14, y + 10, f"{curve.look} name")


def _levels(chart: Chart, panel: Panel, axis: _Axis) -> Iterator[str]:
    """Lines of the limits, each with its label where that hides least of the curves."""
    plot = axis.plot
    points = [
        (_x(chart, end), axis.y(value))
        for curve in panel.curves
        for end, value in zip(chart.times.tolist(), curve.middle.tolist(), strict=True)
        if np.isfinite(value)
    ]
    lines = [axis.y(level.value) for level in panel.levels]
    for level, y in zip(panel.levels, lines, strict=True):
        yield line(f"{level.look} {'kills' if level.kills else 'harms'}", plot.left, y, plot.right)
    taken: list[Box] = []
    for level, y in zip(panel.levels, lines, strict=True):
        if not level.label:
            continue
        box = least_covering(text_px(level.label), y, plot, taken, points, lines)
        taken.append(box)
        yield text(level.label, box.left, box.bottom - 8, f"{level.look} limit")


def _nights(chart: Chart, plot: Box) -> Iterator[Box]:
    for run in _runs(chart.dark):
        begins, ends = int(chart.times[run.start]) - HOUR_S, int(chart.times[run.stop - 1])
        yield Box(_x(chart, begins), plot.top, _x(chart, ends), plot.bottom)


def _runs(mask: NDArray[np.bool_]) -> list[slice]:
    """The unbroken stretches of True."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]]).astype(int)))
    return [slice(int(a), int(b)) for a, b in edges.reshape(-1, 2)]


def _quarters(chart: Chart) -> Iterator[datetime]:
    """Every quarter of an hour by the local clock: not all zones are whole hours off."""
    zone = ZoneInfo(chart.timezone)
    now = datetime.fromtimestamp(int(chart.times[0]) - HOUR_S, tz=UTC)
    while now.timestamp() <= chart.times[-1]:
        yield now.astimezone(zone)
        now += timedelta(minutes=15)


def _day_starts(chart: Chart) -> list[tuple[float, datetime]]:
    """Where local days begin inside the chart."""
    return [
        (_x(chart, now.timestamp()), now)
        for now in _quarters(chart)
        if (now.hour, now.minute) == (0, 0) and now.timestamp() > chart.times[0] - HOUR_S
    ]


def _clock(chart: Chart, top: float) -> Iterator[str]:
    """Hours, and the days below, each in the middle of its visible part."""
    hours = (int(chart.times[-1]) - int(chart.times[0])) / HOUR_S + 1
    px_an_hour = (chart.right - LEFT) / hours
    step = next((s for s in (1, 2, 3, 6, 12) if s * px_an_hour >= LEAST_TICK_PX), 24)
    for now in _quarters(chart):
        if now.minute == 0 and now.hour % step == 0:
            x = _x(chart, now.timestamp())
            yield text(chart.hour(now), x, top + 12, "hour", "middle")
    edges = [float(LEFT), *(x for x, _ in _day_starts(chart)), float(chart.right)]
    first = next(_quarters(chart))
    days = [first, *(day for _, day in _day_starts(chart))]
    for (left, right), day in zip(pairwise(edges), days, strict=True):
        name = next(
            (n for n in (f"{day:%a} {day.day} {day:%b}", f"{day:%a}") if text_px(n) < right - left),
            None,
        )
        if name or len(days) == 1:
            yield text(name or f"{day:%a}", (left + right) / 2, top + 52, "date", "middle")


def _number(value: float) -> str:
    return f"{value:z.0f}".replace("-", "−")
