"""The remedies: what each is called, what it does, and what is said once it is done."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from underbench.rules.garden.journal import Opening


@dataclass(frozen=True, slots=True)
class Remedy:
    """One way to help.

    ``key`` names the remedy in the database and in JSON, and never changes. ``title`` is the deed
    in a title, with ``{what}`` it is done to. ``short`` stands beside other remedies, with a
    number. ``words`` say what to do. A remedy that leads to a spot has ``{into}`` or ``{spot}`` in
    them. ``done`` says that it is done, with ``{trees}``. ``carries``: trees are lifted.
    ``opening``: how far their bag is opened. ``waters``: how many times their pots are watered.
    ``wets_moss``: the moss of their layer is wetted instead. ``layers``: of fleece over them.
    ``on_ground``: they are set down where they stand. ``cloth``: half-shade cloth over them.
    ``ties``: they are tied down where they stand. ``repeated``: it is done on each such day,
    or night, of two weeks.
    """

    key: str
    title: str
    short: str
    words: str
    done: str
    carries: bool = False
    opening: Opening | None = None
    waters: int = 0
    wets_moss: bool = False
    layers: int = 0
    on_ground: bool = False
    cloth: bool = False
    ties: bool = False
    repeated: bool = False

    @property
    def covers(self) -> bool:
        """Whether trees are covered or set down where they stand."""
        return self.layers > 0 or self.on_ground

    def told(self, spot: str | None) -> str:
        """Return what to do, with the ``spot`` if the remedy leads to one."""
        words = _led(self.words, spot)
        return f"{words[0].upper()}{words[1:]}"

    def titled(self, what: str, spot: str | None) -> str:
        """Return the deed, done to ``what``, as a title has it."""
        return _led(self.title, spot).replace("{what}", what)

    @property
    def deed(self) -> str:
        """The words of the title that say what to do, without to what."""
        return " ".join(word for word in self.title.split() if word.isupper())

    def brief(self, spot: str | None) -> str:
        """Return the remedy in a word or two."""
        return self.short.replace("{spot}", spot or "shelter")


def _led(words: str, spot: str | None) -> str:
    """Words with where they lead to; "into the under the bench" is no English."""
    if spot is None:
        return words
    adverb = spot.casefold().startswith(("under", "indoors"))
    return words.replace("{into}", f"{spot[0].lower()}{spot[1:]}" if adverb else f"into the {spot}")


REMEDIES: dict[str, Remedy] = {}


# The deed in a title, and a word for it beside others.
_SET_COVERED = ("SET DOWN AND COVER {what}", "ground and cover")
_TITLES = {
    "ground": ("SET {what} on the ground", "ground"),
    "ground-lee": ("SET {what} on the ground", "ground"),
    "tie": ("TIE DOWN {what}", "tie down"),
    "fleece-1": ("COVER {what}", "cover"),
    "fleece-2": ("COVER {what}", "cover"),
    "ground-fleece-1": _SET_COVERED,
    "ground-fleece-2": _SET_COVERED,
    "shut-frame": ("SHUT the cold frame over {what}", "frame shut"),
    "shut-greenhouse": ("SHUT the greenhouse over {what}", "greenhouse shut"),
    "open-frame": ("OPEN the cold frame over {what}", "frame open"),
    "open-greenhouse": ("OPEN the greenhouse over {what}", "greenhouse open"),
    "into-spot": ("BRING {what} {into}", "{spot}"),
    "half-shade": ("SHADE {what}", "shade"),
    "full-shade": ("SHADE {what}", "shade"),
    "slit-bag": ("SLIT {what}", "slit"),
    "open-bag": ("OPEN {what}", "open"),
    "open-bag-half-shade": ("OPEN AND SHADE {what}", "open, shade"),
    "open-bag-full-shade": ("OPEN AND SHADE {what}", "open, shade"),
    "open-bag-open-frame": ("OPEN {what} and the cold frame", "open, frame open"),
    "open-bag-open-greenhouse": ("OPEN {what} and the greenhouse", "open, greenhouse open"),
    "water": ("WATER {what}", "water"),
    "water-twice": ("WATER {what}", "water twice"),
    "water-shade": ("WATER AND SHADE {what}", "water, shade"),
    "water-twice-shade": ("WATER AND SHADE {what}", "water twice, shade"),
    "wet-moss": ("WET THE MOSS of {what}", "wet moss"),
    "light": ("LET OUT {what}", "out by day"),
    "roof": ("SHELTER {what} from rain", "roof"),
    "indoors": ("BRING {what} indoors", "indoors"),
    "indoors-for-season": ("BRING {what} indoors for the season", "indoors"),
    "stay": ("LEAVE IN {what}", "leave in"),
    "shelter": ("PROTECT {what}", "shelter"),
}


def _remedy(key: str, words: str, done: str = "{trees} seen to", **does: Any) -> Remedy:
    """Enter a remedy in the table. Raises ValueError for a key that another remedy has."""
    if key in REMEDIES:
        raise ValueError(f"two remedies {key!r}")
    title, short = _TITLES[key]
    REMEDIES[key] = Remedy(key, title, short, words, done, **does)
    return REMEDIES[key]


_DOWN, _COVERED, _WATERED = "{trees} down on the ground", "{trees} covered", "{trees} watered"
_OPEN, _FLEECE = "bag of {trees} open", "of fleece, clear of the leaves, weighted"

GROUND = _remedy("ground", "Down on the ground", _DOWN, carries=True, on_ground=True)
LEE = _remedy(
    "ground-lee", "Down on the ground, out of the wind", _DOWN, carries=True, on_ground=True
)
TIE = _remedy("tie", "Tie down with straps or wire", "{trees} tied down", ties=True)
FLEECE_1 = _remedy("fleece-1", f"Cover with 1 layer {_FLEECE}", _COVERED, layers=1)
FLEECE_2 = _remedy("fleece-2", f"Cover with 2 layers {_FLEECE}", _COVERED, layers=2)
GROUND_FLEECE_1, GROUND_FLEECE_2 = (
    _remedy(
        f"ground-fleece-{layers}",
        f"Down on the ground under {words} of fleece",
        _DOWN,
        carries=True,
        layers=layers,
        on_ground=True,
    )
    for layers, words in ((1, "1 layer"), (2, "2 layers"))
)
# By how a tree is covered: layers of fleece, and whether it is down on the ground.
COVERED = {
    (0, True): GROUND,
    (1, False): FLEECE_1,
    (2, False): FLEECE_2,
    (1, True): GROUND_FLEECE_1,
    (2, True): GROUND_FLEECE_2,
}
SHUT_FRAME = _remedy("shut-frame", "Shut the cold frame")
SHUT_GREENHOUSE = _remedy("shut-greenhouse", "Shut the greenhouse")
OPEN_FRAME = _remedy("open-frame", "Open the cold frame", repeated=True)
OPEN_GREENHOUSE = _remedy("open-greenhouse", "Open the greenhouse", repeated=True)
INTO_SPOT = _remedy("into-spot", "{into}", carries=True)
HALF_SHADE = _remedy("half-shade", "Half-shade cloth over", "{trees} shaded", cloth=True)
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
INDOORS = _remedy("indoors", "Indoors, to a light place", carries=True, repeated=True)
INDOORS_FOR_SEASON = _remedy(
    "indoors-for-season", "Indoors for the cold season, to a light place", carries=True
)
STAY = _remedy("stay", "Leave in, or bring back in", carries=True)
SHELTER = _remedy("shelter", "No place here is enough: shelter as best you can")


def remedy_of(key: str | None) -> Remedy:
    """Return the remedy of a key, the plainest one for None.

    Raises ValueError for a key that no remedy has.
    """
    if key is None:
        return SHELTER
    if key not in REMEDIES:
        raise ValueError(f"no remedy {key!r}; there are: {', '.join(REMEDIES)}")
    return REMEDIES[key]
