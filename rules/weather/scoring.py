"""How good forecasts with a chance were: CRPS, Brier score and its parts, reliability.

All but the CRPS of an ensemble are means over cases; lower is better.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import erf, pi, sqrt

import numpy as np

from underbench.rules.weather.hourly import Array

Z_90 = 1.6448536  # standard normal, nine in ten within


def ensemble_crps(members: Array, observed: float) -> float:
    """Return the CRPS of equally likely ``members`` (member,), in their unit.

    It is the mean distance to what came, less half the mean distance between two members (Gneiting
    & Raftery 2007, Journal of the American Statistical Association 102, eq. 21, from memory). The
    two members are different ones: this "fair" form favours no number of members (Ferro 2014, from
    memory). With one member it is the absolute error. Raises ValueError without members.
    """
    count = len(members)
    if not count:
        raise ValueError("no members to score")
    distance = float(np.abs(members - observed).mean())
    if count == 1:
        return distance
    between = np.abs(members[:, None] - members[None, :]).sum() / (count * (count - 1))
    return distance - float(between) / 2.0


def normal_crps(mean: float, spread: float, observed: float) -> float:
    """Return the CRPS of a normal forecast (Gneiting et al. 2005, eq. 5, from memory)."""
    if spread <= 0:
        return abs(observed - mean)
    z = (observed - mean) / spread
    density = np.exp(-0.5 * z * z) / sqrt(2.0 * pi)
    below = 0.5 * (1.0 + erf(z / sqrt(2.0)))
    return float(spread * (z * (2.0 * below - 1.0) + 2.0 * density - 1.0 / sqrt(pi)))


@dataclass(frozen=True, slots=True)
class Bin:
    """Cases of about one forecast chance.

    ``count`` is how many, ``said`` what was said on average, ``came`` how often it came; with 90 %
    confidence that lies between ``low`` and ``high`` (Wilson 1927).
    """

    count: int
    said: float
    came: float
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Brier:
    """A Brier score and its parts: score = reliability - resolution + uncertainty.

    That is exact where all cases of a bin were given one chance (Murphy 1973, Journal of Applied
    Meteorology 12).
    """

    score: float
    reliability: float
    resolution: float
    uncertainty: float


EDGES = (0.0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.95, 1.0 + 1e-9)


def brier(chances: Array, came: Array) -> Brier:
    """Return the Brier score of ``chances`` (case,) 0..1; ``came`` (case,) is 0 or 1.

    Cases of the very same chance make a bin. Raises ValueError without cases.
    """
    if not len(chances):
        raise ValueError("no cases to score")
    base = float(came.mean())
    reliability = resolution = 0.0
    for chance in np.unique(chances):
        inside = chances == chance
        rate, share = float(came[inside].mean()), float(inside.mean())
        reliability += share * (float(chance) - rate) ** 2
        resolution += share * (rate - base) ** 2
    score = float(((chances - came) ** 2).mean())
    return Brier(score, reliability, resolution, base * (1.0 - base))


def reliability(chances: Array, came: Array) -> list[Bin]:
    """Return the cases by what was said, from never to always; bins without cases are left out."""
    bins = []
    which = np.searchsorted(EDGES, chances, side="right")
    for number in np.unique(which):
        inside = which == number
        count, rate = int(inside.sum()), float(came[inside].mean())
        bins.append(Bin(count, float(chances[inside].mean()), rate, *wilson(rate, count)))
    return bins


def wilson(rate: float, count: int, z: float = Z_90) -> tuple[float, float]:
    """Return the lower and upper bound of a share seen in ``count`` cases. Wilson 1927's score
    interval (Journal of the American Statistical Association 22)."""
    if not count:
        return 0.0, 1.0
    middle = rate + z * z / (2 * count)
    half = z * sqrt(rate * (1 - rate) / count + z * z / (4 * count * count))
    whole = 1 + z * z / count
    return max(0.0, (middle - half) / whole), min(1.0, (middle + half) / whole)
