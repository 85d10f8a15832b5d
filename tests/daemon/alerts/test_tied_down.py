"""A tall pot in gales, through whole passes: it is tied down once, and stays tied.

That pots on benches are strapped for windy months is common practice, no source."""

from __future__ import annotations

from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from garden_toml import BENCH, EMBER, HANDS_ON, MEANS, PLACE, SHED
from spring_frosts import EVENING, FIRST_DAY, FROST_DAY, Labs, heard

from underbench.daemon.journal.mark_done import note_handled
from underbench.rules.garden.journal import Move, Sighting, Stage

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
TALL = EMBER.replace("litres = 4", "litres = 4\nheight_cm = 90\ncrown_cm = 80")
GARDEN = PLACE + HANDS_ON + MEANS + BENCH + SHED + TALL


@pytest.fixture
def garden(labs: Labs, make: Any) -> Any:
    """Gales on the 24th and the 27th of April."""
    wind_ms = np.full(24 * 28, 1.5)
    for day in (0, 3):
        begins = 24 * ((FROST_DAY - FIRST_DAY).days + day)
        wind_ms[begins + 6 : begins + 12] = 18.0
    weather = make.weather(FIRST_DAY, len(wind_ms), mean_c=14.0, wind_ms=wind_ms)
    garden = labs(GARDEN, weather)
    garden.store.journal.add([Sighting(tree="Ember", at=EVENING - 5 * DAY, stage=Stage.HARDENED)])
    return garden


def told(garden: Any, hours: int) -> list[Any]:
    return [one for _, one in heard(garden, EVENING, hours, 24)]


def test_it_is_told_to_be_tied_down_and_the_next_gale_is_not_told(garden: Any) -> None:
    (first,) = told(garden, 1)
    assert first.message.title.startswith("TIE DOWN Ember by ")
    assert "Tie down with straps or wire, at the top bench: Ember" in first.message.body
    assert "What is tied down may stay so." in first.message.body
    done = note_handled(garden.store, garden.settings, [], EVENING + HOUR)
    assert done == "Noted: Ember tied down."
    (noted,) = (e for e in garden.store.journal.entries() if isinstance(e, Move))
    assert (noted.tied, noted.spot) == (True, "top bench")
    assert told(garden, 4 * 24) == []
    (at,) = garden.run(EVENING + 5 * DAY).outlook.standing
    assert at.at_home
    assert at.tree.container.tied


@pytest.mark.parametrize(("on_the_way", "told_again"), [([], False), (["shed"], True)])
def test_carried_off_and_back_it_stands_loose_again(
    garden: Any, on_the_way: list[str], told_again: bool
) -> None:
    spots = [*on_the_way, "top bench"]
    garden.store.journal.add(
        [Move(tree="Ember", at=EVENING - 4 * DAY, spot="top bench", tied=True)]
        + [Move(tree="Ember", at=EVENING - (3 - n) * DAY, spot=s) for n, s in enumerate(spots)]
    )
    assert bool(told(garden, 1)) is told_again
