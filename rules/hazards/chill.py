"""Cold air on a tropical: told once for the cold season, and on each cool night of summer."""

from __future__ import annotations

from dataclasses import replace

from underbench.rules.hazards.cold import air_limit, colder
from underbench.rules.hazards.hazard import Action, Due, Hazard, Help, Judged, Scene, Spans
from underbench.rules.limits.layering import PRACTICE, tender
from underbench.rules.limits.limit import Limit, MeasuredOn

SUMMER_NIGHT_K = 4.0  # tropicals are left out through nights of 8 to 10 °C; common practice


def _judge(scene: Scene) -> Judged:
    """Judge the air of a screen. After a cool night in summer they recover by day."""
    if not scene.span.is_long:
        scene = replace(scene, limits=[limit and _in_summer(limit) for limit in scene.limits])
    return colder(scene, scene.exposure.screen_c)


def _in_summer(limit: Limit) -> Limit:
    return limit.then("a night in summer", limit.harm - SUMMER_NIGHT_K, limit.kill, PRACTICE)


CHILL = Hazard(
    key="chill",
    words="Too cold for tropicals",
    short="too cold",
    limit_words="cold air",
    action=Action.PROTECT,
    measured_on=MeasuredOn.AIR,
    low=True,
    spans=Spans.COLD_SEASON,
    due=Due.DAYLIGHT,
    help=Help.INDOORS,
    limit=lambda species, condition: air_limit(species, condition) if tender(species) else None,
    judge=_judge,
    returns=False,
)
