"""How far tops are from midwinter hardiness: cold deepens it, warmth fades it, day by day.

The model is that of Ferguson, Moyer, Mills, Hoogenboom & Keller 2014, Am. J. Enol. Vitic. 65:59–71
(doi 10.5344/ajev.2013.13098; title and doi read in a public copy of its code, volume and pages from
memory). Its equations and the figures of 'Cabernet Sauvignon' read alike in four public copies of
that code, one of them the authors' own workbook. It was fitted to vine buds. No such rates are
known for the trees grown here, so the vine stands in for them, on each class's own range.
"""

from __future__ import annotations

from datetime import date

import numpy as np
from numpy.typing import NDArray

from underbench.rules.plants.stages import autumn_begins, in_spring, rested, usual
from underbench.rules.weather.hourly import Array

# Ferguson et al.: °C, K per K·d. Before rest is over, and after it.
THRESHOLD_C = (13.0, 5.0)
HARDENS = (0.12, 0.10)
FADES = (0.08, 0.10)
BEND = (1.0, 7.0)
VINE_RANGE_K = 25.1 - 1.2  # from its hardiest, −25.1 °C, to its tenderest, −1.2 °C
AUTUMN_SHARE = (25.1 - 10.3) / VINE_RANGE_K  # it begins the autumn at −10.3 °C

# From here on, warm days count as having set the sap moving. A fortnight at 7 °C or a week at 9
# takes an eighth of the hardiness; judgement.
SAP_SHARE = 0.125

# The usual share where no days are known, at the middle of a month: the calendar's 5 K of a range
# of some 15 K (design value of hardiness research §3.3), tender through the summer; judgement.
USUAL_ON = ((2, 15), (3, 15), (5, 1), (9, 1), (11, 15), (12, 15))
USUAL_SHARE = (0.05, 0.33, 1.0, AUTUMN_SHARE, 0.33, 0.05)


def advance_faded(
    faded: Array, mean_c: Array, chill_days: Array, day: date, latitude: float
) -> Array:
    """Return the share of hardiness missing after ``day``; arrays (tree,).

    ``faded`` is 0 in deepest midwinter and 1 where the tree bears no more than a swelling bud does.
    ``mean_c`` is the day's mean air at the tree, °C; ``chill_days`` is its clock's. Each autumn
    begins anew at the vine's share, whatever the summer did.
    """
    if autumn_begins(day, latitude):
        faded = np.full_like(faded, AUTUMN_SHARE)
    phase = rested(chill_days, day, latitude).astype(int)
    threshold, hardens, fades, bend = (
        np.array(pair)[phase] for pair in (THRESHOLD_C, HARDENS, FADES, BEND)
    )
    over_k = mean_c - threshold
    up = np.maximum(over_k, 0.0) * fades * (1.0 - faded**bend)
    down = np.minimum(over_k, 0.0) * hardens * faded
    return np.asarray(np.clip(faded + (up + down) / VINE_RANGE_K, 0.0, 1.0))


def sap_moves(faded: Array, chill_days: Array, day: date, latitude: float) -> NDArray[np.bool_]:
    """Return whether warm days since midwinter have set the sap moving in bare wood."""
    waking = rested(chill_days, day, latitude) & in_spring(day, latitude)
    return np.asarray(waking & (faded >= SAP_SHARE))


def usual_faded(day: date, latitude: float) -> float:
    """Return the share of hardiness usually missing on ``day``, if no days before are known."""
    return usual(USUAL_ON, USUAL_SHARE, day, latitude)
