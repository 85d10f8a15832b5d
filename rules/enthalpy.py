"""Heat in a ball of wet mix that may freeze: an outer shell and a core of equal volume.

The state solved for is enthalpy, J, zero for thawed at 0 °C: temperature jumps about when ice
forms, enthalpy does not. Temperature follows from it in three straight pieces (thawed, freezing
between 0 and -1 °C, frozen), so at one water content a temperature says how much is ice.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Final

import numpy as np
from numpy.typing import NDArray

from underbench.rules.weather import HOUR_S, Array

FREEZING_SPAN_K: Final = 1.0  # the last water in a mix freezes near -1 °C; common practice
# Of an hour in which a node begins or ends to freeze or thaw; all other hours are exact. With four
# a 1.5 L pot freezing through in an hour errs by 0.1 K at the night's minimum (against 64).
SUBSTEPS: Final = 4
STAGE_SHARE: Final = 1.0 - 0.5**0.5  # gamma of the L-stable two-stage SDIRK of order 2
MAX_SWEEPS: Final = 12  # in a prototype four settled 200 000 random cases
# Rates per hour that are nothing: they keep divided differences of equal or vanishing ones defined.
LEAST_APART: Final = 1e-6
LEAST_RATE: Final = 1e-15


@dataclass(frozen=True, slots=True)
class Nodes:
    """Heat capacities of one half ball, J/K, and conductances, W/K; all (tree, member).

    ``freezing_j_k`` counts the latent heat over the span in which the water freezes, ``latent_j``
    is that heat alone. ``core_w_k`` joins shell and core, ``deep_w_k`` core and the deep ground.
    """

    thawed_j_k: Array
    freezing_j_k: Array
    frozen_j_k: Array
    latent_j: Array
    core_w_k: Array
    deep_w_k: Array


NODES: Final = tuple(f.name for f in fields(Nodes))


def enthalpy_j(nodes: Nodes, temp_c: Array) -> Array:
    """Return the enthalpy, J, of half balls at ``temp_c``, shape (..., tree, member)."""
    icy = np.where(
        temp_c > -FREEZING_SPAN_K,
        nodes.freezing_j_k * temp_c,
        nodes.frozen_j_k * temp_c - nodes.latent_j,
    )
    return np.where(temp_c >= 0.0, nodes.thawed_j_k * temp_c, icy)


def temperature_c(nodes: Nodes, heat_j: Array) -> Array:
    """Return the temperature, °C, of half balls of enthalpy ``heat_j``, (..., tree, member)."""
    if heat_j.min() >= 0.0:
        thawed: Array = heat_j / nodes.thawed_j_k
        return thawed
    icy = np.where(
        heat_j > -nodes.freezing_j_k * FREEZING_SPAN_K,
        heat_j / nodes.freezing_j_k,
        (heat_j + nodes.latent_j) / nodes.frozen_j_k,
    )
    return np.where(heat_j >= 0.0, heat_j / nodes.thawed_j_k, icy)


def frozen_share(temp_c: Array) -> Array:
    """Return the share, 0..1, of the water that is ice in mix at ``temp_c``."""
    return np.clip(-temp_c / FREEZING_SPAN_K, 0.0, 1.0)


def hour_later_j(
    nodes: Nodes, heat_j: Array, outer_w_k: Array, outer_w: Array, deep_c: Array
) -> Array:
    """Return the enthalpy, J, of shell and core an hour on; ``heat_j`` is (2, tree, member).

    The shell gains ``outer_w`` - ``outer_w_k`` × its temperature, the core what the deep ground at
    ``deep_c`` gives; both are steady for the hour. Exact while both stay thawed, freezing or frozen
    as they are; an hour in which one changes is walked in steps (`_stepped_j`). What leaves one
    node enters the other: energy closes to rounding.
    """
    piece: NDArray[np.int8] = _piece(nodes, heat_j)
    later: Array = heat_j + _gained_j(nodes, heat_j, piece, outer_w_k, outer_w, deep_c)
    changing = (_piece(nodes, later) != piece).any(axis=0)
    if changing.any():
        shape = changing.shape

        def of_those(values: Array) -> Array:
            out: Array = np.broadcast_to(values, shape)[changing]
            return out

        some = Nodes(**{name: of_those(getattr(nodes, name)) for name in NODES})
        outer = (of_those(outer_w_k), of_those(outer_w), of_those(deep_c))
        later[:, changing] = _stepped_j(some, heat_j[:, changing], *outer)
    return later


def _gained_j(
    nodes: Nodes,
    heat_j: Array,
    piece: NDArray[np.int8],
    outer_w_k: Array,
    outer_w: Array,
    deep_c: Array,
) -> Array:
    """Return what each node gains in an hour of a straight pair: t phi(At) × its rate of gain.

    phi(z) = (e^z - 1) / z of a 2 × 2 matrix, by its two eigenvalues (both real and below zero).
    """
    capacity, offset = _line(nodes, piece)
    shell_c, core_c = (heat_j - offset) / capacity
    per_hour = HOUR_S / np.broadcast_to(capacity, heat_j.shape)
    between, deep = nodes.core_w_k, nodes.deep_w_k
    flow = between * (core_c - shell_c)
    shell_w = outer_w - outer_w_k * shell_c + flow
    core_w = deep * (deep_c - core_c) - flow
    shell_rate, core_rate = (outer_w_k + between) * per_hour[0], (between + deep) * per_hour[1]
    middle, half = -0.5 * (shell_rate + core_rate), 0.5 * (core_rate - shell_rate)
    across = np.square(between) * per_hour[0] * per_hour[1]
    apart = np.maximum(np.sqrt(np.square(half) + across), LEAST_APART)
    slow, fast = _phi(middle + apart), _phi(middle - apart)
    mean, spread = 0.5 * (slow + fast), (slow - fast) / (2.0 * apart)
    out: Array = np.empty(heat_j.shape)
    out[0] = (mean + spread * half) * shell_w + spread * between * per_hour[1] * core_w
    out[1] = (mean - spread * half) * core_w + spread * between * per_hour[0] * shell_w
    return out * HOUR_S


def _phi(rate: Array) -> Array:
    below = np.minimum(rate, -LEAST_RATE)
    out: Array = np.expm1(below) / below
    return out


def _stepped_j(
    nodes: Nodes, heat_j: Array, outer_w_k: Array, outer_w: Array, deep_c: Array
) -> Array:
    """Walk an hour in steps through changes of phase; shapes (2, case) and (case,).

    SDIRK2 (Alexander 1977, SIAM J. Numer. Anal. 14, 1006), from memory. In the hour a ball of under
    a litre freezes through it may be half an hour early or late, 1 K or so.
    """
    own_s = STAGE_SHARE * HOUR_S / SUBSTEPS
    between = own_s * nodes.core_w_k
    gain = np.stack([outer_w, nodes.deep_w_k * deep_c]) * own_s
    loss = np.stack([outer_w_k, nodes.deep_w_k]) * own_s + between
    for _ in range(SUBSTEPS):
        stage = _settle(nodes, heat_j + gain, heat_j, loss, between)
        known = heat_j + (stage - heat_j) * ((1.0 - STAGE_SHARE) / STAGE_SHARE)
        heat_j = _settle(nodes, known + gain, stage, loss, between)
    return heat_j


def _settle(nodes: Nodes, known_j: Array, guess_j: Array, loss: Array, between: Array) -> Array:
    """Solve heat + loss × T(heat) - between × T(other node) = known: Newton, piece by piece."""
    heat, piece, other = guess_j, _piece(nodes, guess_j), np.square(between)
    for _ in range(MAX_SWEEPS):
        capacity, offset = _line(nodes, piece)
        own, right = loss + capacity, known_j - offset
        temp = right * own[::-1]
        temp += right[::-1] * between
        temp /= own[0] * own[1] - other
        heat = temp * capacity
        heat += offset
        was, piece = piece, _piece(nodes, heat)
        if (was == piece).all():
            break
    return heat


def _piece(nodes: Nodes, heat_j: Array) -> NDArray[np.int8]:
    """Return 0 where thawed, 1 where freezing, 2 where frozen through."""
    icy = (heat_j < 0.0).view(np.int8)
    return icy + (heat_j < -FREEZING_SPAN_K * nodes.freezing_j_k) if icy.any() else icy


def _line(nodes: Nodes, piece: NDArray[np.int8]) -> tuple[Array, Array]:
    """Return slope, J/K, and offset, J, of enthalpy over temperature on each node's piece."""
    if not piece.any():
        return nodes.thawed_j_k, np.zeros(())
    frozen = piece == 2
    capacity = np.where(frozen, nodes.frozen_j_k, nodes.freezing_j_k)
    np.copyto(capacity, nodes.thawed_j_k, where=piece == 0)
    return capacity, frozen * -nodes.latent_j
