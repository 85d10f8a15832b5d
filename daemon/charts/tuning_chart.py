"""Bars for each value of a limit: messages, carries and harmed nights, today's value marked."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from html import escape

WIDTH, LEFT, TOP, PANEL, GAP, FOOT = 1080, 60, 130, 190, 90, 90
_STYLE = """
.paper{fill:#fff}.bar{fill:#0072b2}.today{fill:#d55e00}.base{stroke:#5a6570;stroke-width:3}
text{font-family:system-ui,"DejaVu Sans",sans-serif;font-size:30px;fill:#111}
.title{font-weight:bold;font-size:40px}.heading{font-weight:bold}.value{text-anchor:middle}
"""
Panel = tuple[str, Sequence[int]]


def draw_tuning(title: str, values: Sequence[str], today: int, panels: Sequence[Panel]) -> str:
    """Return the chart as SVG: a panel of bars for each count, one bar for each of ``values``.
    ``today`` is the index of the value that holds now."""
    height = TOP + len(panels) * (PANEL + GAP) + FOOT
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {height}" width="{WIDTH}"'
        f' role="img"><title>{escape(title)}</title><style>{_STYLE}</style>',
        f'<rect class="paper" width="{WIDTH}" height="{height}"/>',
        f'<text class="title" x="{LEFT}" y="64">{escape(title)}</text>',
    ]
    for number, (heading, counts) in enumerate(panels):
        parts += _panel(heading, counts, today, TOP + number * (PANEL + GAP))
    base = TOP + len(panels) * (PANEL + GAP) - 20
    for index, value in enumerate(values):
        words = f"{value}, today" if index == today else value
        parts.append(_text("value", _middle(index, len(values)), base, words))
    return "".join([*parts, "</svg>\n"])


def _panel(heading: str, counts: Sequence[int], today: int, top: float) -> Iterator[str]:
    most, foot = max([1, *counts]), top + PANEL
    yield _text("heading", LEFT, top - 14, heading)
    wide = 0.6 * (WIDTH - 2 * LEFT) / len(counts)
    for index, count in enumerate(counts):
        high, middle = (PANEL - 50) * count / most, _middle(index, len(counts))
        name = "today" if index == today else "bar"
        yield (
            f'<rect class="{name}" x="{middle - wide / 2:.0f}" y="{foot - high:.0f}"'
            f' width="{wide:.0f}" height="{high:.0f}"/>'
        )
        yield _text("value", middle, foot - high - 10, f"{count}")
    yield f'<line class="base" x1="{LEFT}" x2="{WIDTH - LEFT}" y1="{foot}" y2="{foot}"/>'


def _middle(index: int, count: int) -> float:
    return LEFT + (index + 0.5) * (WIDTH - 2 * LEFT) / count


def _text(name: str, x: float, y: float, words: str) -> str:
    return f'<text class="{name}" x="{x:.0f}" y="{y:.0f}">{escape(words)}</text>'
