"""How good forecasts with a chance were: CRPS and Brier score; lower is better."""

from __future__ import annotations

from math import erf, pi, sqrt

import numpy as np

from underbench.rules.weather.hourly import Array


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


def brier(chances: Array, came: Array) -> float:
    """Return the Brier score of ``chances`` (case,) 0..1; ``came`` (case,) is 0 or 1.

    The mean of their squared distance (Brier 1950, Monthly Weather Review 78, from memory).
    Raises ValueError without cases.
    """
    if not len(chances):
        raise ValueError("no cases to score")
    return float(((chances - came) ** 2).mean())
