"""Hardiness ratings a plant is sold with: USDA zones and RHS ratings, as minimum air in °C.

Both tell how cold the air may get round an established plant in the open ground at rest. They say
nothing about roots in a pot (the RHS sheet: "plants in pots are more vulnerable"), about leaves in
growth, or about a leaf's temperature on a clear night.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from difflib import get_close_matches

OPEN_BAND_K = 5.0  # an open-ended band is taken as wide as the others; judgement
USDA_SOURCE = "USDA-ARS Plant Hardiness Zone Map: zones of 10 °F, half zones of 5 °F"
RHS_SOURCE = "RHS hardiness rating sheet of 2012"

# °C, coldest and warmest air of the band; None where it is open.
RHS_C: Mapping[str, tuple[float | None, float | None]] = {
    "H1a": (15.0, None),
    "H1b": (10.0, 15.0),
    "H1c": (5.0, 10.0),
    "H2": (1.0, 5.0),
    "H3": (-5.0, 1.0),
    "H4": (-10.0, -5.0),
    "H5": (-15.0, -10.0),
    "H6": (-20.0, -15.0),
    "H7": (None, -20.0),
}


@dataclass(frozen=True, slots=True)
class Rating:
    """A rating as written and the air it stands for, °C.

    From ``harm_c`` (the warm edge of its band) down the plant may be hurt. From ``kill_c`` (the
    cold edge) down it is not expected to live.
    """

    text: str
    harm_c: float
    kill_c: float
    source: str


def _usda() -> dict[str, Rating]:
    """Zones 1 to 13 from −60 °F, and their halves a and b."""
    found = {}
    for zone in range(1, 14):
        cold_f = -60.0 + 10.0 * (zone - 1)
        for half, low_f, high_f in (("", 0, 10), ("a", 0, 5), ("b", 5, 10)):
            text = f"USDA {zone}{half}"
            harm_c, kill_c = (((cold_f + edge_f) - 32.0) / 1.8 for edge_f in (high_f, low_f))
            found[text] = Rating(text, harm_c, kill_c, USDA_SOURCE)
    return found


def _rhs() -> dict[str, Rating]:
    found = {}
    for band, edges in RHS_C.items():
        closed = [edge for edge in edges if edge is not None]
        # Harm begins at the one edge of an open band.
        kill_c = min(closed) if len(closed) > 1 else closed[0] - OPEN_BAND_K
        found[f"RHS {band}"] = Rating(f"RHS {band}", max(closed), kill_c, RHS_SOURCE)
    return found


RATINGS: Mapping[str, Rating] = {**_usda(), **_rhs()}


def rating(text: str) -> Rating | None:
    """Return the rating written in ``text`` ("USDA 6b", "zone 6b", "RHS H5", "h5"); None if none.

    A zone or a rating may stand alone: "6b" is USDA's, "H5" the RHS's.
    """
    return _BY_PLAIN.get(_plain(text))


def nearest_rating(text: str) -> str | None:
    """Return the rating most like ``text``; None when none is like it.

    A zone beyond the last is nearest to the last.
    """
    plain = _plain(text)
    number = re.fullmatch(r"usda(\d+)[a-z]?", plain)
    if number:
        return f"USDA {min(max(int(number[1]), 1), 13)}"
    near = get_close_matches(plain, _BY_PLAIN, n=1, cutoff=0.7)
    return _BY_PLAIN[near[0]].text if near else None


def _plain(text: str) -> str:
    """As "usda6b" or "rhsh5"."""
    tight = re.sub(r"[\s\-_:.]+", "", text.casefold()).replace("zone", "usda", 1)
    tight = tight.replace("usdausda", "usda", 1)
    if re.fullmatch(r"\d+[a-z]?", tight):
        return f"usda{tight}"
    return f"rhs{tight}" if re.fullmatch(r"h\d+[a-z]?", tight) else tight


_BY_PLAIN = {_plain(text): rating for text, rating in RATINGS.items()}
