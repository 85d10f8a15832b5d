"""A limit: a pair of thresholds, what it is measured on, and the trail of how it came about."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from underbench.rules.garden.journal import Work


class MeasuredOn(StrEnum):
    """What a limit is compared with."""

    LEAF = "leaf tissue"
    BUD = "bud tissue"
    FLOWER = "flower tissue"
    WOOD = "wood and bud tissue"
    SHELL = "root shell"
    AIR = "screen air"
    BAG = "bag air"
    GUST = "gust at the bench"
    SUN = "sun on the crown"
    FROZEN = "hours with the root ball frozen"
    WATER = "water left in the pot"
    MOSS = "water left in a layer's moss"
    DARK = "hours in the dark"
    SODDEN = "days of rain at the brim"


@dataclass(frozen=True, slots=True)
class Layer:
    """One step of a limit's trail: what set or moved it, to which values, and by which source.

    ``work``: the work that it comes from, if any.
    """

    what: str
    harm: float
    kill: float
    source: str
    work: Work | None = None


@dataclass(frozen=True, slots=True)
class Limit:
    """A pair of thresholds and how it came about; the last layer is the one in force."""

    measured_on: MeasuredOn
    trail: tuple[Layer, ...]

    @property
    def harm(self) -> float:
        """From here on the tree is hurt."""
        return self.trail[-1].harm

    @property
    def kill(self) -> float:
        """From here on the part dies; infinite where none is known."""
        return self.trail[-1].kill

    @property
    def work(self) -> Work | None:
        """The work that set the limit in force; None if no work did."""
        return self.trail[-1].work

    def then(
        self, what: str, harm: float, kill: float, source: str, work: Work | None = None
    ) -> Limit:
        """Return this limit with one more layer on top."""
        return Limit(self.measured_on, (*self.trail, Layer(what, harm, kill, source, work)))
