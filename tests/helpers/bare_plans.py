"""Plans with nothing behind them: where a tree is, where it was told to be, where it is to be."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from types import SimpleNamespace
from typing import Any

import numpy as np
from told_rows import DAY, NIGHT_ENDS

from underbench.daemon.outlook.plans import TreePlan
from underbench.daemon.outlook.prospects import Prospects, Trialled
from underbench.rules.advice.remedies import Way
from underbench.rules.advice.remedy import INTO_SPOT
from underbench.rules.garden.local_time import Stretch
from underbench.rules.planning.plan import Plan, Weights

SHED, HOME = "shed", "top bench"
SAFE: Mapping[str, float] = {SHED: 0.0, "cold frame": 0.1, HOME: 0.9, "fleece-2": 0.4}


def planned(
    *path: str,
    here: str = HOME,
    start: str = "",
    harm: Mapping[str, float] = SAFE,
    first_ends: datetime = NIGHT_ENDS,
) -> TreePlan:
    """A plan from ``start`` (empty: where the tree is) along ``path``, a night each."""
    nights = tuple(
        Stretch(first_ends + (n - 1) * DAY, first_ends + n * DAY) for n in range(len(path))
    )
    none = np.zeros(len(path))
    trials = {
        key: Trialled(np.full(len(path), one), none, none, {"leaf-frost": none})
        for key, one in harm.items()
    }
    place: Any = SimpleNamespace()
    ways = {key: Way(INTO_SPOT, place, key) for key in harm if key not in (here, HOME)}
    of = Prospects("Ember", here, HOME, nights, (), ways, trials, Weights(), False, place)
    plan = Plan(start or here, path, 0.0, 0.0)
    return TreePlan(here, HOME, start or here, here != HOME, lambda: (plan, of))
