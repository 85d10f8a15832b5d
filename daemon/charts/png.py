"""A chart as a picture that phones show: PNG, if the optional resvg_py is installed."""

from __future__ import annotations

from functools import lru_cache

MOST_BYTES = 1_000_000  # push services take a few MB; a phone in the garden takes less


@lru_cache(maxsize=4)  # each service of a message asks for the same picture
def png(svg: str) -> bytes | None:
    """Return an SVG as PNG; None without resvg_py, or if it cannot draw it or draws it too big.

    A message without its chart is still a message, so nothing is raised.
    """
    try:
        from resvg_py import svg_to_bytes
    except ImportError:
        return None
    try:
        drawn = bytes(svg_to_bytes(svg_string=svg))
    except ValueError:
        return None
    return drawn if len(drawn) <= MOST_BYTES else None
