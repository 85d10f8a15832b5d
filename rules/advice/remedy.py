"""The remedies: what each is called, what it does, and what is said once it is done."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from underbench.rules.garden.journal import Opening


@dataclass(frozen=True, slots=True)
class Remedy:
    """One way to help.

    ``key`` names the remedy in the database and in JSON, and never changes. ``words`` say what to
    do, with ``{spot}`` if it leads to one. ``done`` says that it is done, with ``{trees}``.
    ``carries``: trees are lifted. ``opening``: how far their bag is opened. ``waters``: how many
    times their pots are watered. ``wets_moss``: the moss of their layer is wetted instead.
    """

    key: str
    words: str
    done: str
    carries: bool = False
    opening: Opening | None = None
    waters: int = 0
    wets_moss: bool = False

    def told(self, spot: str | None) -> str:
        """Return what to do, with the ``spot`` if the remedy leads to one."""
        if spot is None or "{spot}" not in self.words:
            return self.words
        under = spot.casefold().startswith("under")  # "into the under the bench" is no English
        return f"{spot[0].upper()}{spot[1:]}" if under else self.words.format(spot=spot)


REMEDIES: dict[str, Remedy] = {}


def _remedy(key: str, words: str, done: str = "{trees} seen to", **does: Any) -> Remedy:
    """Enter a remedy in the table. Raises ValueError for a key that another remedy has."""
    if key in REMEDIES:
        raise ValueError(f"two remedies {key!r}")
    REMEDIES[key] = Remedy(key, words, done, **does)
    return REMEDIES[key]


_DOWN, _COVERED, _WATERED = "{trees} down on the ground", "{trees} covered", "{trees} watered"
_OPEN, _FLEECE = "bag of {trees} open", "of fleece, clear of the leaves, weighted"

GROUND = _remedy("ground", "Down on the ground", _DOWN, carries=True)
LEE = _remedy("ground-lee", "Down on the ground, out of the wind", _DOWN, carries=True)
FLEECE_1 = _remedy("fleece-1", f"Cover with 1 layer {_FLEECE}", _COVERED)
FLEECE_2 = _remedy("fleece-2", f"Cover with 2 layers {_FLEECE}", _COVERED)
GROUND_FLEECE_1 = _remedy(
    "ground-fleece-1", "Down on the ground under 1 layer of fleece", _DOWN, carries=True
)
GROUND_FLEECE_2 = _remedy(
    "ground-fleece-2", "Down on the ground under 2 layers of fleece", _DOWN, carries=True
)
SHUT_FRAME = _remedy("shut-frame", "Shut the cold frame")
SHUT_GREENHOUSE = _remedy("shut-greenhouse", "Shut the greenhouse")
OPEN_FRAME = _remedy("open-frame", "Open the cold frame")
OPEN_GREENHOUSE = _remedy("open-greenhouse", "Open the greenhouse")
INTO_SPOT = _remedy("into-spot", "Into the {spot}", carries=True)
HALF_SHADE = _remedy("half-shade", "Half-shade cloth over", "{trees} shaded")
FULL_SHADE = _remedy("full-shade", "Into full shade", "{trees} in full shade", carries=True)
SLIT_BAG = _remedy("slit-bag", "Slit the bag", "bag of {trees} slit", opening=Opening.SLIT)
OPEN_BAG = _remedy("open-bag", "Open the bag", _OPEN, opening=Opening.OPEN)
# The bag is opened, and another remedy goes with it.
BAG_AND = {
    other: _remedy(
        f"open-bag-{other.key}",
        f"Open the bag, and {other.words[0].lower()}{other.words[1:]}",
        _OPEN,
        carries=other.carries,
        opening=Opening.OPEN,
    )
    for other in (HALF_SHADE, FULL_SHADE, OPEN_FRAME, OPEN_GREENHOUSE)
}
WATER = _remedy("water", "Check, and water till it drains", _WATERED, waters=1)
WATER_TWICE = _remedy(
    "water-twice", "Check, and water till it drains; again at midday", _WATERED, waters=2
)
WATER_SHADE = _remedy(
    "water-shade", "Water till it drains, then into full shade", _WATERED, carries=True, waters=1
)
WATER_TWICE_SHADE = _remedy(
    "water-twice-shade",
    "Water till it drains, then into full shade; water again at midday",
    _WATERED,
    carries=True,
    waters=2,
)
WET_MOSS = _remedy(
    "wet-moss",
    "Wet the moss of the layer through, wrap it again, and note it (watered --moss)",
    "moss of {trees} wet through",
    wets_moss=True,
)
LIGHT = _remedy("light", "Out into open shade by day, back in before a cold night")
ROOF = _remedy("roof", "Under a roof out of the rain, or a sheet over the pot; tilt the pot")
INDOORS = _remedy("indoors", "Indoors, to a light place", carries=True)
INDOORS_FOR_SEASON = _remedy(
    "indoors-for-season", "Indoors for the cold season, to a light place", carries=True
)
STAY = _remedy("stay", "Leave in, or bring back in", carries=True)
SHELTER = _remedy("shelter", "Shelter as best you can")


def remedy_of(key: str | None) -> Remedy:
    """Return the remedy of a key, the plainest one for None.

    Raises ValueError for a key that no remedy has.
    """
    if key is None:
        return SHELTER
    if key not in REMEDIES:
        raise ValueError(f"no remedy {key!r}; there are: {', '.join(REMEDIES)}")
    return REMEDIES[key]
