"""Ridge regression kept as sums, so that it is learned case by case and parts of it can be dropped.

Each part of the answer has a prior of nothing with a standard deviation: Hoerl & Kennard 1970
(Technometrics 12) in its Bayesian reading, with discounting as in West & Harrison, "Bayesian
Forecasting and Dynamic Models"; both from memory.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from underbench.rules.weather.hourly import Array


@dataclass(frozen=True, slots=True)
class Sums:
    """Weighted sums over cases: ``xx`` (part, part) and ``xy`` (part,), for noise of 1."""

    xx: Array
    xy: Array

    def seen(self, row: Array, change: float, weight: float, noise: float) -> Sums:
        """Return the sums with one case more: ``row`` (part,) and what came of it."""
        share = weight / noise**2
        return Sums(self.xx + share * np.outer(row, row), self.xy + share * change * row)

    def faded(self, share: float) -> Sums:
        """Return the sums as if each case counted ``share`` as much."""
        return Sums(share * self.xx, share * self.xy)

    def __add__(self, other: Sums) -> Sums:
        return Sums(self.xx + other.xx, self.xy + other.xy)

    def coefficients(self, prior: Array) -> Array:
        """Return the parts (part,), whose standard deviation before any case is ``prior``."""
        return np.asarray(np.linalg.solve(np.diag(prior**-2.0) + self.xx, self.xy))

    def doubt(self, prior: Array, rows: Array) -> Array:
        """Return the standard deviation (case,) of the answer for ``rows`` (case, part)."""
        solved = np.linalg.solve(np.diag(prior**-2.0) + self.xx, rows.T)
        return np.asarray(np.sqrt((rows.T * solved).sum(axis=0)))


def nothing(parts: int) -> Sums:
    """Return the sums over no case."""
    return Sums(np.zeros((parts, parts)), np.zeros(parts))
