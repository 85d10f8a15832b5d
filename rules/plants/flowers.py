"""How far a tree's flowers are: by the warmth of the year, or as its keeper saw them."""

from __future__ import annotations

from datetime import date, timedelta

from underbench.rules.garden.journal import Flower, FlowersSeen
from underbench.rules.plants.species import HardinessClass
from underbench.rules.plants.stages import EARLY_EDGE, in_spring

# Buds show colour at this share of the warmth that opens them. Open flowers, falling petals and
# young fruit then last for so many °C·d above 5 °C. Common practice, no source.
IN_COLOUR = 0.75
LAST_CD = {Flower.OPEN: 60.0, Flower.FALLING: 30.0, Flower.FRUIT: 200.0}
# What was seen goes on by days, because many flowers open outside the season of leaves. Common
# practice, no source.
LAST_DAYS = {Flower.BUD: 14, Flower.OPEN: 14, Flower.FALLING: 7, Flower.FRUIT: 42}
SEEN_HOLDS = timedelta(days=270)  # a keeper who looked this year is asked no more of a model


def flower_of(
    limits: HardinessClass,
    day: date,
    latitude: float,
    warmth_cd: float,
    seen: FlowersSeen | None = None,
) -> Flower | None:
    """Return how far a tree's flowers are on ``day``; None while it has none that frost can hurt.

    ``warmth_cd``: °C·d above 5 °C since 1 January, over the tree's own pace. ``seen`` is the last
    sighting; through its year it stands in the place of the warmth. A kind without ``bloom`` is
    known by sightings only.
    """
    if limits.open_flower is None:
        return None
    if seen is not None and timedelta(0) <= day - seen.at.date() < SEEN_HOLDS:
        return _days_later(seen.stage, (day - seen.at.date()).days)
    if limits.bloom is None or not in_spring(day, latitude):
        return None
    return _warmed(EARLY_EDGE * limits.bloom.value, warmth_cd)


def _days_later(flower: Flower, days: int) -> Flower | None:
    order = list(Flower)
    for one in order[order.index(flower) :]:
        if days < LAST_DAYS.get(one, 0):
            return one
        days -= LAST_DAYS.get(one, 0)
    return None


def _warmed(opens_cd: float, warmth_cd: float) -> Flower | None:
    if warmth_cd < opens_cd:
        return Flower.BUD if warmth_cd >= IN_COLOUR * opens_cd else None
    for one, lasts_cd in LAST_CD.items():
        opens_cd += lasts_cd
        if warmth_cd < opens_cd:
            return one
    return None
