"""How far flowers are: by warmth in spring, by days since the keeper saw them."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest

from underbench.rules.garden.journal import Flower, FlowersSeen
from underbench.rules.plants.flowers import flower_of
from underbench.rules.plants.species import catalogue

MARCH = date(2027, 3, 10)


def flower(
    name: str, warmth_cd: float, day: date = MARCH, seen: FlowersSeen | None = None
) -> Flower | None:
    return flower_of(catalogue().species[name].limits, day, 47.4, warmth_cd, seen)


def seen(stage: Flower, on: date = MARCH) -> FlowersSeen:
    at = datetime(on.year, on.month, on.day, 12, tzinfo=UTC)
    return FlowersSeen(tree="Plum", at=at, stage=stage)


@pytest.mark.parametrize(
    ("name", "warmth_cd", "expected"),
    [
        ("Prunus mume", 5.0, None),
        ("Prunus mume", 18.0, Flower.BUD),
        ("Prunus mume", 30.0, Flower.OPEN),
        ("Prunus mume", 90.0, Flower.FALLING),
        ("Prunus mume", 150.0, Flower.FRUIT),
        ("Prunus mume", 400.0, None),
        ("Malus sylvestris", 30.0, None),  # its leaves and flowers come a month later
        ("Acer palmatum", 30.0, None),  # nobody keeps it for its flowers
        ("Camellia japonica", 30.0, None),  # flowers when it likes: only a sighting tells
    ],
)
def test_warmth_opens_the_flowers(name: str, warmth_cd: float, expected: Flower | None) -> None:
    """The order is the trade's: ume, then apples, weeks later; common practice, no source."""
    assert flower(name, warmth_cd) is expected


def test_autumn_has_no_flowers_to_lose() -> None:
    assert flower("Prunus mume", 30.0, date(2027, 10, 10)) is None


@pytest.mark.parametrize(
    ("stage", "days", "expected"),
    [
        (Flower.OPEN, 0, Flower.OPEN),
        (Flower.OPEN, 13, Flower.OPEN),
        (Flower.OPEN, 14, Flower.FALLING),
        (Flower.OPEN, 30, Flower.FRUIT),
        (Flower.OPEN, 90, None),
        (Flower.BUD, 20, Flower.OPEN),
        (Flower.OVER, 0, None),
    ],
)
def test_what_was_seen_goes_on_by_days(stage: Flower, days: int, expected: Flower | None) -> None:
    later = MARCH + timedelta(days=days)
    assert flower("Camellia japonica", 0.0, later, seen=seen(stage)) is expected


def test_a_sighting_stands_in_the_place_of_the_warmth_for_its_year() -> None:
    over = seen(Flower.OVER, date(2027, 2, 1))
    assert flower("Prunus mume", 30.0, seen=over) is None
    next_year = date(2028, 2, 20)
    assert flower("Prunus mume", 30.0, next_year, seen=over) is Flower.OPEN
