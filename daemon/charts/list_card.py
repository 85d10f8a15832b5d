"""The list that goes with a job of many trees: a card to tick, by destination and bench."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from textwrap import wrap

from underbench.daemon.charts.svg_elements import picture, text
from underbench.daemon.charts.svg_labels import EM, fitted, text_px
from underbench.daemon.wording.vocabulary import the_spot
from underbench.rules.advice.advice import Job

WIDTH, EDGE = 760, 28
TITLE_PX, HEAD_PX, BENCH_PX, TREE_PX = 38, 36, 28, 34
BOX, BOX_TO_NAME = 26, 42
LINE, GAP = 1.32, 16  # of a text's height; in units


def list_card(title: str, groups: Sequence[Sequence[Job]]) -> str:
    """Return as SVG the trees of an advice, in the groups and the order in which they are done."""
    card = _Card()
    card.words(title, TITLE_PX)
    for (last, to), found in groupby(groups, key=lambda g: (g[0].last, g[0].words)):
        own = list(found)
        card.rule()
        many = sum(len(group) for group in own)
        head = f"Last, with two people: {to[0].lower()}{to[1:]}" if last else to
        card.words(f"{head} ({many})" if many > 1 else head, HEAD_PX)
        for group in own:
            card.bench(f"now at {the_spot(group[0].spot)}".replace("at under", "under"))
            card.trees([job.tree for job in group])
    return picture(title, WIDTH, card.y + EDGE, card.parts)


class _Card:
    """The parts drawn so far, and how far down they reach."""

    def __init__(self) -> None:
        self.parts: list[str] = []
        self.y = float(EDGE)

    def words(self, words: str, size: float) -> None:
        """Bold words over the whole width, in as many lines as they need."""
        for line in wrap(words, int((WIDTH - 2 * EDGE) / (EM * size))):
            self._down(size)
            self._text(line, EDGE, size, "title")

    def rule(self) -> None:
        self.y += GAP
        self.parts.append(
            f'<line class="day" x1="{EDGE}" y1="{self.y:.0f}" x2="{WIDTH - EDGE}"'
            f' y2="{self.y:.0f}"/>'
        )

    def bench(self, words: str) -> None:
        self.y += GAP / 2
        self._down(BENCH_PX)
        self._text(words, EDGE, BENCH_PX, "note")

    def trees(self, names: Sequence[str]) -> None:
        """Names with boxes to tick, in two columns if they are short."""
        half = (WIDTH - 2 * EDGE) // 2
        longest = max(text_px(name, TREE_PX) for name in names)
        columns = 2 if len(names) > 1 and longest < half - BOX_TO_NAME else 1
        for row in _rows(names, columns):
            self._down(TREE_PX)
            for column, name in enumerate(row):
                x = EDGE + column * half
                self.parts.append(
                    f'<rect class="frame day" x="{x}" y="{self.y - BOX:.0f}" width="{BOX}"'
                    f' height="{BOX}"/>'
                )
                shown, size = fitted(name, TREE_PX, WIDTH - EDGE - x - BOX_TO_NAME)
                self._text(shown, x + BOX_TO_NAME, size, "tree")

    def _text(self, words: str, x: float, size: float, name: str) -> None:
        self.parts.append(text(words, x, self.y, name, style=f"font-size:{size:.0f}px"))

    def _down(self, size: float) -> None:
        self.y += LINE * size


def _rows(names: Sequence[str], columns: int) -> Iterator[Sequence[str]]:
    return (names[at : at + columns] for at in range(0, len(names), columns))
