"""Small pictures drawn into pages: what a species bears, a winter, a share, foreseen nights.

Colours come from the page's style, by class, so that they fit the day and the dark. Each picture
says in words what it shows.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date

from markupsafe import Markup, escape

from underbench.rules.planning.past_years import DateRange
from underbench.rules.planning.winter import WINTER_DAYS

WIDE, HIGH = 320, 18
COLDEST_C, HOTTEST_C = -45.0, 55.0
MONTH_DAYS = 30.4
Point = tuple[float, float, float, float]  # eight in ten between, corrected, measured


def _picture(high: float, parts: Iterable[str], words: str) -> Markup:
    said = f'role="img" aria-label="{escape(words)}"'
    drawn = "".join(parts)
    return Markup(f'<svg class="pic" viewBox="0 0 {WIDE} {high:g}" {said}>{drawn}</svg>')


def _box(name: str, start: float, end: float, top: float = 3, high: float = HIGH - 6) -> str:
    return (
        f'<rect class="{name}" x="{start:.1f}" y="{top:g}"'
        f' width="{max(0.0, end - start):.1f}" height="{high:g}"/>'
    )


def _line(name: str, x: float, top: float = 0, foot: float = HIGH) -> str:
    return f'<path class="{name}" d="M{x:.1f} {top:g}V{foot:g}"/>'


def bears(harm_c: float, kill_c: float, words: str) -> Markup:
    """Draw from where to where a plant is harmed, and dies, along -45 to 55 °C; with 0 °C."""

    def at(value_c: float) -> float:
        share = (value_c - COLDEST_C) / (HOTTEST_C - COLDEST_C)
        return WIDE * min(1.0, max(0.0, share))

    harm, kill = at(harm_c), at(kill_c)
    boxes = (
        (_box("p-d", 0, kill), _box("p-a", kill, harm))
        if kill_c <= harm_c
        else (_box("p-a", harm, kill), _box("p-d", kill, WIDE))
    )
    return _picture(HIGH, [_box("p-0", 0, WIDE), *boxes, _line("p-1", at(0.0))], words)


def winter(cold: Sequence[DateRange | None], today: date, begins: date, words: str) -> Markup:
    """Draw the months in which it usually is too cold for a tree, from the first such night to the
    last; paler while only some years have it. ``cold`` is when it begins and when it ends; the
    winter ``begins`` at the left edge."""

    def at(day: date) -> float:
        return WIDE * min(1.0, max(0.0, (day - begins).days / WINTER_DAYS))

    parts = [_box("p-0", 0, WIDE)]
    first, last = cold
    if first and last:
        parts += [
            _box("p-n", at(first.first), at(last.last)),
            _box("p-d", at(first.last), at(last.first)),
        ]
    months = [_line("p-m", WIDE * n * MONTH_DAYS / WINTER_DAYS) for n in range(1, 10)]
    return _picture(HIGH, [*parts, *months, _line("p-1", at(today))], words)


def share(lived: int, judged: int, likely: tuple[float, float] | None, words: str) -> Markup:
    """Draw the share that lived, and between which shares it likely lies."""
    parts = [_box("p-0", 0, WIDE), _box("p-g", 0, WIDE * lived / judged if judged else 0)]
    if likely:
        low, high = (WIDE * one for one in likely)
        parts.append(
            f'<path class="p-1" d="M{low:.1f} 9H{high:.1f}M{low:.1f} 4v10M{high:.1f} 4v10"/>'
        )
    return _picture(HIGH, parts, words)


def nights(points: Sequence[Point], marks: Sequence[tuple[float, str]], words: str) -> Markup:
    """Draw nights from left to right: the band in which eight in ten members lay, a bar for what
    was foreseen, a dot for what was measured. ``marks`` are levels with their words."""
    values = [value for point in points for value in point] + [value for value, _ in marks]
    low, high, tall = min(values), max(values), 160.0
    step = WIDE / len(points)

    def at(value: float) -> float:
        return 8 + (tall - 16) * (high - value) / max(1.0, high - low)

    parts = [f'<path class="p-m" d="M0 {at(value):.1f}H{WIDE}"/>' for value, _ in marks]
    for n, (least, most, foreseen, seen) in enumerate(points):
        left, right = n * step + 1, (n + 1) * step - 1
        parts += [
            _box("p-n", left, right, at(most), at(least) - at(most)),
            f'<path class="p-1" d="M{left:.1f} {at(foreseen):.1f}H{right:.1f}"/>',
            f'<circle class="p-s" cx="{(left + right) / 2:.1f}" cy="{at(seen):.1f}" r="4"/>',
        ]
    said = (f'<text x="2" y="{at(value) - 3:.1f}">{escape(text)}</text>' for value, text in marks)
    return _picture(tall, [*parts, *said], words)
