"""What the hot hazards share: heat that adds up over the hours of a day."""

from __future__ import annotations

from underbench.rules.hazards.hazard import Judged, Scene, held
from underbench.rules.weather.hourly import Array


def hotter(scene: Scene, value_c: Array, hours: tuple[int, int]) -> Judged:
    """Judge heat above the limits of a scene, held for so many ``hours`` of the day before it
    harms, and before it kills."""
    harm, kill = scene.thresholds()
    # What is not known of a limit is told in the value: the two never contradict each other.
    value_c, (hurt_after, dead_after) = value_c - scene.site.limit_shift_k[None, :, None], hours
    return scene.judged(value_c, held(value_c > harm, hurt_after), held(value_c > kill, dead_after))
