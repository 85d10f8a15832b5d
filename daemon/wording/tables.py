"""Plain text for a terminal: tables whose columns line up."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple


class Columns(NamedTuple):
    """Rows of cells under their heads, for a terminal or for the page."""

    heads: Sequence[str]
    rows: Sequence[Sequence[str]]


def table(heads: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Return rows under their heads, columns as wide as they need; no trailing blanks."""
    lines = [list(heads), *map(list, rows)]
    widths = [max(len(line[column]) for line in lines) for column in range(len(heads))]
    padded = (
        "  ".join(cell.ljust(width) for cell, width in zip(line, widths, strict=True)).rstrip()
        for line in lines
    )
    return "\n".join(padded)
