"""What the windy hazards share: the night's wind, with the deadline in the daylight before."""

from __future__ import annotations

from functools import partial

from underbench.rules.hazards.hazard import Action, Due, Hazard, Help, Spans

wind_hazard = partial(
    Hazard,
    action=Action.PROTECT,
    low=False,
    spans=Spans.NIGHT,
    due=Due.DAYLIGHT,
    help=Help.WINDBREAK,
)
