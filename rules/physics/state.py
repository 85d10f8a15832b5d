"""What a pass carries to the next: heat, water, warmth and chill of each tree."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, fields, replace

import numpy as np
from numpy.typing import NDArray

from underbench.rules.physics.soil import LAYERS
from underbench.rules.plants.stages import FULLY_CHILLED_DAYS
from underbench.rules.weather.hourly import Array

# Root growth by temperature, for the warmth that roots gain (sources: ``aftercare``).
ROOT_BASE_C = 6.0
ROOT_FULL_C = 20.0
ROOT_STOP_C = 35.0


@dataclass(frozen=True, slots=True)
class State:
    """The carried state of several trees; arrays (tree, member) unless said.

    ``ball_c`` (tree, member, 2) is shell and core, ``subsoil_c`` (tree, member, layer) the ground
    below roots in the ground (:mod:`rules.physics.soil`), elsewhere ``deep_c``. ``wetness`` is the
    water left (0..1) at the last UTC midnight; the root ball's heat is reckoned with it through the
    day. ``water_left`` is the same now. ``water_l`` and ``canopy_mm`` are the water in the mix and
    on the leaves; ``cover_c`` and ``bag_c`` the air under cover and in the bag; ``deep_c`` the
    ground below, ``ground_c`` what stores a day's heat at its surface; ``frozen_h`` the hours the
    ball has been frozen.

    Shape (tree,): ``day_sum_c`` and ``day_hours`` are of the day so far, ``warmth_cd`` and
    ``chill_days`` of the season. ``root_warmth_cd`` counts from the last root work (or the start of
    the record) to the last midnight; ``root_day_cd`` is what the day so far adds;
    ``taken_before_s`` is as in :class:`rules.limits.aftercare.RootClock`. ``seen_warmth_cd`` is the
    warmth when a stage was last seen. ``pace`` is the warmth a tree needs over what its kind needs,
    learnt from sightings. ``faded`` is the share of midwinter hardiness that its top lacks
    (:mod:`rules.plants.hardening`). ``ten_days_c`` is the ground below at the last midnight; it
    decides whether a frame is shut or vented through the day. ``moss_left`` is the share of water
    left in a layer's moss. ``day_rain_mm`` is the rain of the day so far that reached the pot, and
    ``sodden_days`` what :mod:`rules.physics.sodden` makes of the days before. ``bare_s`` is when
    the tree last had no leaves, UTC seconds; 0 for one that was never seen without.
    """

    ball_c: Array
    subsoil_c: Array
    wetness: Array
    water_left: Array
    water_l: Array
    canopy_mm: Array
    cover_c: Array
    bag_c: Array
    deep_c: Array
    ground_c: Array
    frozen_h: Array
    day_sum_c: Array
    day_hours: Array
    warmth_cd: Array
    chill_days: Array
    root_warmth_cd: Array
    root_day_cd: Array
    taken_before_s: Array
    seen_warmth_cd: Array
    pace: Array
    faded: Array
    ten_days_c: Array
    moss_left: Array
    day_rain_mm: Array
    sodden_days: Array
    bare_s: Array

    @property
    def trees(self) -> int:
        """How many trees this holds."""
        return int(self.wetness.shape[0])

    def take(self, rows: Sequence[int] | NDArray[np.intp]) -> State:
        """Return the state of some trees, in the order asked; one may be asked twice."""
        return State(**{name: getattr(self, name)[np.asarray(rows, dtype=int)] for name in _NAMES})

    @property
    def members(self) -> int:
        """How many members this holds."""
        return int(self.wetness.shape[1])

    def fork(self, members: int) -> State:
        """Return the state with its one member repeated: one shared past, many futures.

        A state that has so many goes on as it is; ValueError for any other.
        """
        if self.members == members:
            return self
        if self.members != 1:
            raise ValueError(f"a state of {self.members} members has no {members} futures")
        return State(
            **{
                name: np.repeat(getattr(self, name), members, axis=1)
                if name in _BY_MEMBER
                else getattr(self, name)
                for name in _NAMES
            }
        )


_NAMES = tuple(f.name for f in fields(State))
_BY_MEMBER = frozenset(_NAMES[: _NAMES.index("frozen_h") + 1])


def join(states: Sequence[State]) -> State:
    """Return the trees of several states as one; all must have the same members."""
    return State(**{name: np.concatenate([getattr(s, name) for s in states]) for name in _NAMES})


def to_text(state: State, row: int) -> str:
    """Return one tree's state as JSON that reads back to the last bit."""
    return json.dumps({name: getattr(state, name)[row].tolist() for name in _NAMES})


def from_text(text: str) -> State:
    """Return the state of one tree; raises ValueError when ``text`` does not hold one."""
    try:
        parts = json.loads(text)
        arrays = {name: np.array([parts[name]], dtype=float) for name in _NAMES}
    except (TypeError, KeyError, ValueError) as error:
        raise ValueError("not a tree's state") from error
    return State(**arrays)


def refilled(state: State, capacity_l: Array) -> State:
    """Return the state in containers that hold ``capacity_l``, each as full as before."""
    return replace(state, water_l=state.water_left * capacity_l[:, None])


def begin(capacity_l: Array, temp_c: float) -> State:
    """Return trees at the start of a record: at ``temp_c`` throughout, pots full.

    No warmth is counted yet, and the winter before is taken to have chilled and hardened them
    fully.
    ``capacity_l`` (tree,) is the water each container holds. A big box remembers a wrong start
    for a week and more, so the record has to begin well before what is judged.
    """
    one, trees = np.ones((len(capacity_l), 1)), np.zeros(len(capacity_l))
    return State(
        ball_c=np.full((len(capacity_l), 1, 2), temp_c),
        subsoil_c=np.full((len(capacity_l), 1, LAYERS), temp_c),
        wetness=one,
        water_left=one,
        water_l=one * capacity_l[:, None],
        canopy_mm=0.0 * one,
        cover_c=temp_c * one,
        bag_c=temp_c * one,
        deep_c=temp_c * one,
        ground_c=temp_c * one,
        frozen_h=0.0 * one,
        day_sum_c=trees,
        day_hours=trees,
        warmth_cd=trees,
        chill_days=trees + FULLY_CHILLED_DAYS,
        root_warmth_cd=trees,
        root_day_cd=trees,
        taken_before_s=trees,
        seen_warmth_cd=trees,
        pace=trees + 1.0,
        faded=trees,
        ten_days_c=temp_c + trees,
        moss_left=trees + 1.0,
        day_rain_mm=trees,
        sodden_days=trees,
        bare_s=trees,
    )
