"""Where a chart's words go, so that they hide neither each other nor the curves."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

TEXT_PX = 28
LINE_PX = 34
EM = 0.62  # mean width of a bold letter in ems: DejaVu Sans, which is a wide face
LEAST_PX = 26  # still read on a phone at arm's length
INSET = 10


class Box(NamedTuple):
    """A rectangle; y grows downward."""

    left: float
    top: float
    right: float
    bottom: float

    def shared(self, other: Box) -> float:
        """Return the area in both."""
        wide = min(self.right, other.right) - max(self.left, other.left)
        high = min(self.bottom, other.bottom) - max(self.top, other.top)
        return max(wide, 0.0) * max(high, 0.0)

    def holds(self, x: float, y: float) -> bool:
        """Whether a point lies inside."""
        return self.left <= x <= self.right and self.top <= y <= self.bottom


def text_px(words: str, size_px: float = TEXT_PX) -> float:
    """Return roughly how wide words are."""
    return len(words) * EM * size_px


def fitted(words: str, size_px: float, room_px: float) -> tuple[str, float]:
    """Return words and a size at which they fit: smaller to a point, then shortened."""
    size = max(LEAST_PX, min(size_px, room_px / max(text_px(words, 1.0), 1e-9)))
    most = int(room_px / (EM * size) + 1e-6)
    return (words if len(words) <= most else words[: most - 1] + "…"), size


def spread_out(wanted: Sequence[float], plot: Box) -> list[float]:
    """Return heights near those wanted, a line of text apart, between the plot's top and foot."""
    order = sorted(range(len(wanted)), key=lambda i: wanted[i])
    placed = list(wanted)
    floor = plot.top
    for i in order:
        placed[i] = max(placed[i], floor)
        floor = placed[i] + LINE_PX
    ceiling = plot.bottom
    for i in reversed(order):
        placed[i] = min(placed[i], ceiling)
        ceiling = placed[i] - LINE_PX
    return placed


def label_box(left: float, line_y: float, width: float, above: bool) -> Box:
    """Return the box of a label just above or below its line."""
    top = line_y - LINE_PX - 4 if above else line_y + 4
    return Box(left, top, left + width, top + LINE_PX)


def least_covering(
    width: float,
    line_y: float,
    plot: Box,
    taken: Sequence[Box],
    points: Sequence[tuple[float, float]],
    lines: Sequence[float],
) -> Box:
    """Return where a label on the line at ``line_y`` hides least of what is drawn.

    It first avoids other labels (``taken``) and stays inside the plot, then avoids ``points`` of
    the curves and the other ``lines``. Ties go to the left, above the line.
    """
    last = max(plot.left + INSET, plot.right - INSET - width)
    lefts = [plot.left + INSET + share / 8 * (last - plot.left - INSET) for share in range(9)]
    boxes = [label_box(left, line_y, width, above) for above in (True, False) for left in lefts]

    def hidden(box: Box) -> tuple[float, int]:
        outside = max(plot.top - box.top, 0.0) + max(box.bottom - plot.bottom, 0.0)
        on_lines = sum(box.top < y < box.bottom for y in lines)
        on_curves = sum(box.holds(x, y) for x, y in points)
        return outside + sum(box.shared(other) for other in taken), on_curves + 2 * on_lines

    return min(boxes, key=hidden)
