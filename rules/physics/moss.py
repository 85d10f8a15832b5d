"""The moss round a layer: wrapped in film it dries by days, not by hours, and no rain reaches it.

A ball of sphagnum the size of a fist, wet through when it is wrapped. What it loses through the
ends of the film and through the first roots grows with the warmth of the day. Common practice, no
source: growers who look every week or two in summer find it about half dry.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

import numpy as np

from underbench.rules.weather.air import Values
from underbench.rules.weather.hourly import Array

LOSS_A_DAY = 0.01  # of a full ball, in the cool; judgement
LOSS_A_DAY_K = 0.003  # more for each K of the day's mean above COOL_C; judgement
COOL_C = 5.0


@dataclass(frozen=True, slots=True)
class Moss:
    """A layer's moss on one day: the share of its water ``left``, and when it was last wetted."""

    left: float
    wetted_at: datetime


def day_later(left: Values, mean_c: Values) -> Array:
    """Return the share of its water left after a day with a mean air of ``mean_c``; never < 0."""
    warm_k = np.maximum(np.asarray(mean_c, dtype=float) - COOL_C, 0.0)
    return np.asarray(np.maximum(left - LOSS_A_DAY - LOSS_A_DAY_K * warm_k, 0.0))
