"""A spell of cold as earlier winters brought it, to try a garden's places by."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from underbench.rules.garden.inventory import Garden
from underbench.rules.planning.past_years import PastDay
from underbench.rules.weather.fill_gaps import complete
from underbench.rules.weather.hourly import HOUR_S, Weather, from_columns

DEGREES_AN_HOUR = 15.0  # the sun passes so much longitude
COLDEST_AT_H = 7.0  # by the sun, about its rise in winter
LIGHT_WIND_MS = 2.0
DRY_BY_K, HALF_CLOUDED = 2.0, 0.5


def cold_spell(times: NDArray[np.int64], day: PastDay, garden: Garden) -> Weather:
    """Return weather, one member, in which each day is as cold as ``day``.

    Such days are dull, with a light wind. The swing over a day is a cosine (judgement).
    """
    clock = times / HOUR_S + garden.longitude / DEGREES_AN_HOUR
    swing_k = (day.mean_c - day.low_c) * np.cos((clock - COLDEST_AT_H) * np.pi / 12.0)
    air_c, each = day.mean_c - swing_k, np.ones(len(times))
    columns = {
        "air_c": air_c,
        "dew_c": air_c - DRY_BY_K,
        "wind_ms": LIGHT_WIND_MS * each,
        "cloud": HALF_CLOUDED * each,
        "global_wm2": 0.0 * each,
        "rain_mm": 0.0 * each,
    }
    return complete(from_columns(times, columns), garden)[0]
