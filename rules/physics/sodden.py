"""How long rain has kept a pot at the brim, so that roots lack air.

What a pot drains within the hour it holds again after the next rain. A day counts if it is wet by
the definition of the Expert Team on Climate Change Detection and Indices (1 mm or more; its index
of consecutive wet days, CWD, from memory) and leaves the pot full. In a dry day air comes back
twice as fast as it went; judgement, no source. By rain alone London's autumn of 2012 brought 8 such
days at most, its wettest months (January and April of that year) 9 and 10. The model itself, run
over that autumn with pots of 1, 3 and 12 L watered each third day, came to 8 at most: for settled
trees, repotted ones and ones collected on 1 October alike. With twenty wet days of 2 mm from 1
October on, trees collected that day were found on the 11th and repotted ones on the 15th; settled
crowns drank the brim down and stayed at 8.
"""

from __future__ import annotations

import numpy as np

from underbench.rules.weather.hourly import Array

WET_DAY_MM = 1.0
BRIM = 0.95  # of the water that a full pot holds
DRY_DAYS_COUNT = 2.0


def day_later(sodden_days: Array, rain_mm: Array, water_left: Array) -> Array:
    """Return the days at the brim after a day that brought ``rain_mm`` to a pot and left it with
    ``water_left`` (0..1); all (tree,)."""
    wet = (rain_mm >= WET_DAY_MM) & (water_left >= BRIM)
    return np.where(wet, sodden_days + 1.0, np.maximum(sodden_days - DRY_DAYS_COUNT, 0.0))
