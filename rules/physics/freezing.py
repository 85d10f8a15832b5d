"""Heat in a ball of wet mix that may freeze: an outer shell and a core of equal volume.

Enthalpy, J, is zero for thawed mix at 0 °C. It rises with temperature in three straight pieces
(thawed, freezing between 0 and -1 °C, frozen). So at a given water content the temperature says how
much is ice.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from underbench.rules.weather.hourly import HOUR_S, Array

FREEZING_SPAN_K: Final = 1.0  # the last water in a mix freezes near -1 °C; common practice
_CORNERS_C: Final = np.array([0.0, -FREEZING_SPAN_K]).reshape(2, 1, 1, 1)
# Steps in an hour in which a node begins or ends to freeze or thaw; all other hours are exact. With
# four, a 1.5 L pot that freezes through in an hour errs by 0.1 K at the night's minimum (compared
# with 64).
SUBSTEPS: Final = 4
STAGE_SHARE: Final = 1.0 - 0.5**0.5  # gamma of the L-stable two-stage SDIRK of order 2
MAX_SWEEPS: Final = 12  # four settled 320 000 random cases, of 0.03 to 300 L and -25 to 25 °C
# A rate per hour that counts as nothing. It keeps the divided differences of equal or vanishing
# rates defined.
LEAST_RATE: Final = 1e-15


@dataclass(frozen=True, slots=True)
class Nodes:
    """Heat capacities of one half ball, J/K, and conductances, W/K; all (tree, member).

    ``freezing_j_k`` is ``frozen_j_k`` plus the latent heat, spread over the span in which the water
    freezes; ``latent_j`` is that heat alone. ``core_w_k`` joins shell and core; ``deep_w_k`` joins
    core and deep ground.
    """

    thawed_j_k: Array
    freezing_j_k: Array
    frozen_j_k: Array
    latent_j: Array
    core_w_k: Array
    deep_w_k: Array

    def take(self, those: NDArray[np.intp]) -> Nodes:
        """Return some half balls, numbered flat, as (case,)."""
        return Nodes(*(getattr(self, name).take(those) for name in Nodes.__slots__))


def enthalpy_j(nodes: Nodes, temp_c: Array) -> Array:
    """Return the enthalpy, J, of half balls at ``temp_c``, shape (..., tree, member)."""
    icy = np.where(
        temp_c > -FREEZING_SPAN_K,
        nodes.freezing_j_k * temp_c,
        nodes.frozen_j_k * temp_c - nodes.latent_j,
    )
    return np.where(temp_c >= 0.0, nodes.thawed_j_k * temp_c, icy)


def frozen_share(temp_c: Array) -> Array:
    """Return the share, 0..1, of the water that is ice in mix at ``temp_c``."""
    return np.clip(-temp_c / FREEZING_SPAN_K, 0.0, 1.0)


class Halves:
    """Shells and cores of balls of ``nodes``, walked hour by hour.

    The rates follow from their heat capacities and are kept until a node changes its phase.
    """

    def __init__(self, nodes: Nodes) -> None:
        self.nodes = nodes
        self._rates: _Rates | None = None

    def hour_later_c(self, temp_c: Array, outer_w_k: Array, outer_w: Array, deep_c: Array) -> Array:
        """Return the temperature, °C, of shell and core an hour on; ``temp_c`` (2, tree, member).

        The shell gains ``outer_w`` - ``outer_w_k`` × its temperature; the core gains what the deep
        ground at ``deep_c`` gives. Both are steady for the hour. The answer is exact while neither
        node changes its phase; an hour in which one does is walked in steps (`_stepped_c`). What
        leaves one node enters the other: energy closes to rounding.
        """
        below, deep_w = temp_c < _CORNERS_C, self.nodes.deep_w_k * deep_c
        phases = below.tobytes()  # the quickest to compare
        if self._rates is None or self._rates.phases != phases:
            self._rates = _rates(self.nodes, below)
        later: Array = _warmed_k(self.nodes, self._rates, temp_c, outer_w_k, outer_w, deep_w)
        later += temp_c
        below_later = later < _CORNERS_C
        if below_later.tobytes() != phases:
            those = np.flatnonzero((below != below_later).any(axis=(0, 1)))
            given = [values.take(those) for values in (outer_w_k, outer_w, deep_w)]
            before_c = temp_c.reshape(2, -1).take(those, axis=1)
            later.reshape(2, -1)[:, those] = _stepped_c(self.nodes.take(those), before_c, *given)
        return later


@dataclass(frozen=True, slots=True)
class _Rates:
    """The rates of nodes in ``phases``, the bytes of ``below`` (2, 2, tree, member).

    ``k_w`` is the K by which a watt warms each node in an hour; the rest are rates per hour of the
    flows within. All are (2, tree, member).
    """

    phases: bytes
    k_w: Array
    between: Array
    product: Array
    core: Array


def _rates(nodes: Nodes, below: NDArray[np.bool_]) -> _Rates:
    k_w = np.empty(below.shape[1:])
    np.divide(HOUR_S, _capacity_j_k(nodes, below), out=k_w)
    between = nodes.core_w_k * k_w
    core = nodes.deep_w_k * k_w[1] + between[1]
    return _Rates(below.tobytes(), k_w, between, between[0] * between[1], core)


def _warmed_k(
    nodes: Nodes, rates: _Rates, temp_c: Array, outer_w_k: Array, outer_w: Array, deep_w: Array
) -> Array:
    """Return by how much each node of a straight pair warms in an hour: phi(A) × its rate, K/h.

    phi(z) = (e^z - 1) / z of a 2 × 2 matrix, by its two eigenvalues (both real and below zero).
    """
    flow_w, own_k = nodes.core_w_k * (temp_c[1] - temp_c[0]), np.empty(temp_c.shape)
    np.add(outer_w - outer_w_k * temp_c[0], flow_w, out=own_k[0])
    np.subtract(deep_w - nodes.deep_w_k * temp_c[1], flow_w, out=own_k[1])
    own_k *= rates.k_w
    shell_rate = outer_w_k * rates.k_w[0]
    shell_rate += rates.between[0]
    middle, half = -0.5 * (shell_rate + rates.core), 0.5 * (rates.core - shell_rate)
    apart = np.sqrt(np.square(half) + rates.product)
    both = np.empty(temp_c.shape)
    np.add(middle, apart, out=both[0])
    np.subtract(middle, apart, out=both[1])
    slow, fast = _phi(both)
    mean, spread = 0.5 * (slow + fast), (slow - fast) / (2.0 * np.maximum(apart, LEAST_RATE))
    out: Array = mean * own_k
    crossed = rates.between * own_k[::-1]
    own_k *= half
    crossed[0] += own_k[0]
    crossed[1] -= own_k[1]
    crossed *= spread
    out += crossed
    return out


def _phi(rate: Array) -> Array:
    below = np.minimum(rate, -LEAST_RATE, out=rate)
    out: Array = np.expm1(below)
    out /= below
    return out


def _capacity_j_k(nodes: Nodes, below: NDArray[np.bool_]) -> Array:
    """Return each node's heat capacity.

    ``below`` says which nodes are below 0 °C (freezing) and which are below the whole span
    (frozen).
    """
    icy, frozen = below
    return np.where(frozen, nodes.frozen_j_k, np.where(icy, nodes.freezing_j_k, nodes.thawed_j_k))


def _stepped_c(
    nodes: Nodes, temp_c: Array, outer_w_k: Array, outer_w: Array, deep_w: Array
) -> Array:
    """Walk an hour in steps through changes of phase; shapes (2, case) and (case,).

    SDIRK2 (Alexander 1977, SIAM J. Numer. Anal. 14, 1006), from memory. A ball of less than a litre
    may freeze through half an hour early or late, which errs by 1 K or so in that hour.
    """
    own_s = STAGE_SHARE * HOUR_S / SUBSTEPS
    gain_j = np.array([outer_w, deep_w]) * own_s
    between = own_s * nodes.core_w_k
    between_2 = np.square(between)
    loss = np.array([outer_w_k, nodes.deep_w_k]) * own_s + between
    thawed = loss + nodes.thawed_j_k
    corners = np.array([nodes.freezing_j_k - nodes.thawed_j_k, -nodes.latent_j])[:, None]

    def settled(known_j: Array, guess_c: Array) -> tuple[Array, Array]:
        """Return the temperatures at a stage's end and what the stage gains."""
        temp = _settle(known_j, guess_c, thawed, corners, between, between_2)
        return temp, gain_j - loss * temp + between * temp[::-1]

    heat_j = enthalpy_j(nodes, temp_c)
    for _ in range(SUBSTEPS):
        temp_c, gained_j = settled(heat_j + gain_j, temp_c)
        heat_j += gained_j * ((1.0 - STAGE_SHARE) / STAGE_SHARE)
        temp_c, gained_j = settled(heat_j + gain_j, temp_c)
        heat_j += gained_j
    return temp_c


def _settle(
    known_j: Array,
    guess_c: Array,
    thawed: Array,
    corners: Array,
    between: Array,
    between_2: Array,
) -> Array:
    """Solve heat(T) + loss × T - between × T of the other node = known: Newton, piece by piece.

    ``thawed`` is loss + heat capacity above 0 °C. ``corners`` (2, 1, case) is what is added to it
    below 0 °C and again below the freezing span. ``between_2`` is the square of ``between``.
    """
    corners_c = _CORNERS_C[..., 0]
    temp, below = guess_c, guess_c < corners_c
    for _ in range(MAX_SWEEPS):
        steeper = below * corners
        own, right = thawed + steeper[0], known_j - FREEZING_SPAN_K * steeper[1]
        own += steeper[1]
        temp = right * own[::-1]
        temp += right[::-1] * between
        temp /= own[0] * own[1] - between_2
        was, below = below, temp < corners_c
        # One corner a sweep: a guess far along one piece says nothing of the piece after the next.
        below[1] &= was[0]
        below[0] |= was[1]
        if was.tobytes() == below.tobytes():  # the quickest way to tell; this is the inmost loop
            break
    return temp
