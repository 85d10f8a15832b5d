"""The elements of a chart as SVG text, and the style that they share.

Colours are those of Okabe & Ito ("Color Universal Design", 2008), which the colour-blind tell
apart; words are a shade darker or lighter. Dashes tell curves and limits apart without colour. Show
a chart as a picture of its own, not inside a page's text, because its style would reach into the
page.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from html import escape
from pathlib import Path

from underbench.daemon.charts.svg_labels import Box
from underbench.daemon.faults import Fault

DRAWN_PX = 1080  # pixels across always

STYLE = """
.paper{fill:#fff}.plot{fill:#f4f6f8}.night{fill:#d3dae2}.frame{fill:none;stroke:#5a6570}
.grid{stroke:#b4bec8;stroke-width:2}.day{stroke:#5a6570;stroke-width:3}
.mark{stroke:#111;stroke-width:6}
text{font-family:system-ui,"DejaVu Sans",sans-serif;font-size:28px;fill:#111}
.title{font-weight:bold}.heading,.name,.limit,.due{font-weight:bold}
.limit{paint-order:stroke;stroke:#fff;stroke-width:7px;stroke-linejoin:round}
.curve{fill:none;stroke-width:7;stroke-linecap:round;stroke-linejoin:round}
.harms{stroke-width:3}.kills{stroke-width:7}
.air{stroke-dasharray:1 15}.roots{stroke-dasharray:26 16}
path.air,line.air{stroke:#0072b2}path.leaf,line.leaf{stroke:#009e73}
path.roots,line.roots{stroke:#d55e00}path.water,line.water{stroke:#0072b2}
path.gust,line.gust{stroke:#111}path.band{stroke:none;fill-opacity:.2}
.air.band,text.air{fill:#0072b2}.leaf.band{fill:#009e73}text.leaf{fill:#007355}
.roots.band{fill:#d55e00}text.roots{fill:#b34f00}.water.band,text.water{fill:#0072b2}
.gust.band{fill:#111}
@media (prefers-color-scheme:dark){
.paper{fill:#15191d}.plot{fill:#2a3138}.night{fill:#0b0e11}.frame,.day{stroke:#a9b4bf}
.mark{stroke:#f2f4f6}
.grid{stroke:#4a5560}text{fill:#f2f4f6}.limit{stroke:#15191d}
path.air,line.air,path.water,line.water{stroke:#56b4e9}
path.roots,line.roots{stroke:#e69f00}path.gust,line.gust{stroke:#f2f4f6}path.band{stroke:none}
.air.band,text.air,.water.band,text.water{fill:#56b4e9}text.leaf{fill:#2fd0a2}
.roots.band,text.roots{fill:#e69f00}.gust.band{fill:#f2f4f6}
}
"""


def picture(title: str, width: int, height: float, parts: Iterable[str]) -> str:
    """Return parts on paper as the text of an SVG picture; sizes in units."""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height:.0f}" '
        f'width="{DRAWN_PX}" height="{height * DRAWN_PX / width:.0f}" role="img">'
        f"<title>{_safe(title)}</title><style>{STYLE}</style>"
        f'<rect class="paper" width="{width}" height="{height:.0f}"/>{"".join(parts)}</svg>\n'
    )


def write(svg: str, path: Path) -> None:
    """Write a chart into a file; raises Fault if it cannot be written."""
    try:
        path.write_text(svg, encoding="utf-8")
    except OSError as error:
        raise Fault(f"{path}: cannot be written: {error.strerror}") from None


def path(names: str, points: Iterable[tuple[float, float]], closed: bool = False) -> str:
    """Return a line through points; ``names`` are classes of the style."""
    first, *rest = [f"{x:.1f},{y:.1f}" for x, y in points]
    onward = " ".join(rest) or first  # one point alone is a dot: its ends are round
    return f'<path class="{names}" d="M{first}L{onward}{"Z" if closed else ""}"/>'


def rect(name: str, box: Box) -> str:
    """Return a box of a class of the style."""
    return (
        f'<rect class="{name}" x="{box.left:.1f}" y="{box.top:.1f}" '
        f'width="{box.right - box.left:.1f}" height="{box.bottom - box.top:.1f}"/>'
    )


def line(names: str, x1: float, y1: float, x2: float, y2: float | None = None) -> str:
    """Return a straight line; level without ``y2``."""
    y2 = y1 if y2 is None else y2
    return f'<line class="{names}" x1="{x1:.1f}" y1="{y1:.1f}" x2="{x2:.1f}" y2="{y2:.1f}"/>'


def text(words: str, x: float, y: float, names: str, anchor: str = "", style: str = "") -> str:
    """Return words at a place; ``names`` are classes of the style."""
    more = f' text-anchor="{anchor}"' if anchor else ""
    more += f' style="{style}"' if style else ""
    return f'<text class="{names}" x="{x:.1f}" y="{y:.1f}"{more}>{_safe(words)}</text>'


_NO_XML = re.compile("[^\t\n\r\u0020-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")


def _safe(words: str) -> str:
    """Escaped, without the characters that XML 1.0 cannot write (production 2, Char)."""
    return escape(_NO_XML.sub("", words))
