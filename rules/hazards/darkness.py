"""Light: trees in leaf that have stood in the dark for too long."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from math import inf

import numpy as np
from numpy.typing import NDArray

from underbench.rules.garden.inventory import SpotKind
from underbench.rules.garden.journal import Stage
from underbench.rules.hazards.findings import Action, Hazard, Judged
from underbench.rules.limits.bearing import Condition
from underbench.rules.limits.limit import Layer, Limit, MeasuredOn
from underbench.rules.weather.hourly import HOUR_S

DARK_KINDS = (SpotKind.SHED,)
NEEDS_LIGHT = (Stage.LEAFING_OUT, Stage.EXTENDING, Stage.HARDENED)
# Common practice, no source: three days in leaf; without leaves, in the cold, months.
DARK_FOR = Limit(MeasuredOn.DARK, (Layer("in leaf", 72.0, inf, "practice"),))


def dark_since(fact: Condition) -> datetime | None:
    """Return since when a tree that needs light has had none; None for any other."""
    dark = fact.spot is not None and fact.spot.kind in DARK_KINDS
    return fact.there_since if dark and fact.stage in NEEDS_LIGHT else None


def judge_dark(since: Sequence[datetime | None], times: NDArray[np.int64]) -> Judged:
    """Judge trees by the hours they have been in the dark, at ``times`` (UTC seconds, (hour,)).

    ``since`` (tree,): None for those that are not. It is the same for all members; that it kills
    takes longer than anybody leaves a tree there.
    """
    begun = np.array([np.nan if at is None else at.timestamp() for at in since])
    hours = ((times[None, :] - begun[:, None]) / HOUR_S)[:, None, :]
    dark = hours >= DARK_FOR.harm
    limits = [None if at is None else DARK_FOR for at in since]
    return Judged(
        Hazard.DARK, Action.LIGHT, hours, dark, np.zeros_like(dark), limits=limits, low=False
    )
