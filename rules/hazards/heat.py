"""What the hot hazards share: heat that adds up over the hours of a day."""

from __future__ import annotations

from functools import partial

from underbench.rules.hazards.hazard import (
    Action,
    Due,
    Hazard,
    Help,
    Judged,
    Scene,
    Spans,
    held,
)
from underbench.rules.weather.hourly import Array

heat_hazard = partial(
    Hazard,
    action=Action.SHADE,
    low=False,
    spans=Spans.DAY,
    due=Due.LEAVING,
    help=Help.SHADE,
)


def hotter(scene: Scene, value_c: Array, hours: tuple[int, int]) -> Judged:
    """Judge heat above the limits of a scene. ``hours``: how many hours of the day it takes to
    harm, and how many to kill."""
    harm, kill = scene.thresholds()
    # The doubt about a limit goes into the value. So the told value never contradicts the limit.
    value_c, (hurt_after, dead_after) = value_c - scene.site.limit_shift_k[None, :, None], hours
    return scene.judged(value_c, held(value_c > harm, hurt_after), held(value_c > kill, dead_after))
