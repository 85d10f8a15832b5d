"""What a tree's own nights say of the cold that it bears.

A noted night says that the tree was damaged, or came through, at the coldest that it felt. Its true
limit is looked for around the species' figure, normal about it with ``TREES_APART_K``. A night does
damage with the probability that the limit lies above what was felt, which the models know to
``FELT_TO_K``: probit regression with a prior (Bliss 1934, Science 79, from memory). The figures are
judgement, chosen with `tests/bench/borne.py`, which also says how much this gains.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import copysign, erf, sqrt

import numpy as np

from underbench.rules.weather.hourly import Array

TREES_APART_K = 1.5
FELT_TO_K = 1.5
MOST_K = 2.0  # a tree is moved no further from its species
STEP_K = 0.5  # nor further at once; less is not worth a line
AGAINST = 2  # nights that speak against the limit in force, before anything is proposed
_GRID_K = np.arange(-MOST_K, MOST_K + 0.01, 0.05)


@dataclass(frozen=True, slots=True)
class Noted:
    """One night: the coldest that the tree felt, °C, and whether that damaged it."""

    felt_c: float
    damaged: bool

    def against(self, harm_c: float) -> bool:
        """Whether it speaks against a limit of ``harm_c``: damaged above it, or fine below."""
        return self.felt_c > harm_c if self.damaged else self.felt_c < harm_c


def borne_c(figure_c: float, nights: Sequence[Noted]) -> float:
    """Return the limit, °C, that a species' figure and a tree's own nights make likely."""
    limit_c = figure_c + _GRID_K
    log = -0.5 * (_GRID_K / TREES_APART_K) ** 2
    for night in nights:
        share = np.clip(_below((limit_c - night.felt_c) / FELT_TO_K), 1e-3, 1.0 - 1e-3)
        log = log + np.log(share if night.damaged else 1.0 - share)
    weight = np.exp(log - log.max())
    return float((limit_c * weight).sum() / weight.sum())


def _below(z: Array) -> Array:
    """The standard normal distribution function."""
    return np.array([0.5 * (1.0 + erf(one / sqrt(2.0))) for one in z.tolist()])


def proposed_c(figure_c: float, in_force_c: float, nights: Sequence[Noted]) -> float | None:
    """Return the limit, °C, half a degree away, to put to the keeper instead of the one in force;
    None if the nights do not ask for one."""
    if sum(night.against(in_force_c) for night in nights) < AGAINST:
        return None
    by_k = borne_c(figure_c, nights) - in_force_c
    return in_force_c + copysign(STEP_K, by_k) if abs(by_k) >= STEP_K else None
