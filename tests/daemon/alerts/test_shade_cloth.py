"""Shade cloth through whole passes: put up once, left up through the hot weeks, taken off.

That cloth hangs through the summer is common practice, no source."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from garden_toml import BENCH, EMBER, HANDS_ON, MEANS, PLACE

from underbench.daemon.journal.mark_done import note_handled
from underbench.daemon.journal.noting import note_move, trees_named
from underbench.rules.garden.journal import Move, Sighting, Stage

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
A_FORTNIGHT, LONG_AFTER = 14 * DAY, 70  # days of weather, for the records and the forecast
JULY, APRIL = (datetime(2024, month, 4, tzinfo=UTC) for month in (7, 4))
MONDAY = datetime(2024, 4, 8, tzinfo=UTC)
NEARLY_MAY = datetime(2024, 4, 26, tzinfo=UTC)  # the forecast reaches the first
MORNING = 5 * HOUR  # 07:00 by the garden's clock, when somebody is there
PALE_POT = EMBER.replace("litres = 4", 'litres = 12\ncolour = "pale"')
GARDEN = PLACE + HANDS_ON + MEANS + "shade_cloth = true\n" + BENCH + PALE_POT


WITHOUT_CLOTH = GARDEN.replace("shade_cloth = true", "shade_cloth = false")


@pytest.fixture
def garden_of(labs: Any, make: Any) -> Any:
    """A garden with hot days, counted from the first day, in mild weather."""

    def made(first: datetime, *hot: int, toml: str = GARDEN, mild_c: float = 15.0) -> Any:
        every = np.full(24 * LONG_AFTER, mild_c)
        for day in hot:
            begins = 24 * (A_FORTNIGHT // DAY + day)
            every[begins : begins + 24] = 24.0
        return labs(toml, make.weather(first - A_FORTNIGHT, len(every), mean_c=every, swing_k=7.0))

    return made


def said(garden: Any, first: datetime, *days: int, deed: str = "SHADE") -> list[Any]:
    """What is said of shade in the mornings of these days."""
    moments = [first + day * DAY + MORNING for day in days]
    told = [one for now in moments for one in garden.run(now).all_said]
    return [one.message for one in told if one.message.title.startswith(deed)]


def shaded(garden: Any, first: datetime) -> str:
    """The cloth is up, and that is noted."""
    return note_handled(garden.store, garden.settings, [], first + MORNING + HOUR)


def test_cloth_put_up_in_summer_is_told_once_and_taken_off_after_three_cool_weeks(
    garden_of: Any,
) -> None:
    garden = garden_of(JULY, 0, 1, 7, 8, 20)
    (up,) = said(garden, JULY, 0)
    assert up.title.startswith("SHADE Ember by ")
    assert "Leave the cloth up for the hot weeks: you are told when it comes off." in up.body
    assert shaded(garden, JULY) == "Noted: Ember shaded."
    (noted,) = (e for e in garden.store.journal.entries() if isinstance(e, Move))
    assert (noted.cloth, noted.spot) == (True, "top bench")
    assert said(garden, JULY, 1, 7, 20, 34) == []  # hot days and cool ones
    (off,) = said(garden, JULY, 42)
    assert off.title == "SHADE OFF Ember"
    assert "Shade cloth off, at the top bench: Ember" in off.body
    assert "No heat threatens them without it until " in off.body


def test_once_the_cloth_is_off_heat_is_told_anew(garden_of: Any) -> None:
    garden = garden_of(JULY, 0, 11)
    said(garden, JULY, 0)
    shaded(garden, JULY)
    ember = trees_named(garden.settings, ["Ember"])
    note_move(garden.store, garden.settings, ember, "home", JULY + 5 * DAY)
    (up,) = said(garden, JULY, 11)  # a Monday
    assert up.title.startswith("SHADE Ember by ")


def test_who_notes_nothing_is_not_told_again_day_by_day(garden_of: Any) -> None:
    garden = garden_of(JULY, 0, 3, 6, 9)
    assert len(said(garden, JULY, 0, 3, 6, 9)) == 1


def test_cloth_that_is_still_up_is_spoken_of_once_a_week(garden_of: Any) -> None:
    garden = garden_of(JULY, 0)
    said(garden, JULY, 0)
    shaded(garden, JULY)
    offs = said(garden, JULY, 1, 22, 25, 29)
    assert [one.title for one in offs] == ["SHADE OFF Ember"] * 2


def test_heat_outside_the_hot_months_is_told_for_its_own_days(garden_of: Any) -> None:
    garden = garden_of(APRIL, 0, 1)
    told = said(garden, APRIL, 0, 1, 2)
    assert all("Leave the cloth up" not in one.body for one in told)
    assert ["Shade may come off" in one.body for one in told] == [True]


def test_cloth_put_up_just_before_the_hot_months_is_left_up(garden_of: Any) -> None:
    (up,) = said(garden_of(NEARLY_MAY, 0, 1), NEARLY_MAY, 0)
    assert "Leave the cloth up for the hot weeks" in up.body


def test_trees_are_carried_into_full_shade_for_a_week_of_summer(garden_of: Any) -> None:
    garden = garden_of(JULY, 0, 3, 6, 8, toml=WITHOUT_CLOTH)
    (carried,) = said(garden, JULY, 0)
    assert "Into full shade, from the top bench: Ember" in carried.body
    assert "Out of full shade 17:00 Thursday 11 July." in carried.body
    note_handled(garden.store, garden.settings, [], JULY + MORNING + HOUR)
    assert said(garden, JULY, 1, 2, 3, 5, 6) == []
    assert len(said(garden, JULY, 8)) == 1


def test_outside_the_hot_months_they_come_out_in_the_evening(garden_of: Any) -> None:
    (carried,) = said(garden_of(APRIL, 0, toml=WITHOUT_CLOTH), APRIL, 0)
    assert "Out of full shade 18:00 today." in carried.body


def test_cloth_does_not_count_as_being_away_from_home(garden_of: Any) -> None:
    garden = garden_of(JULY, 0)
    said(garden, JULY, 0)
    shaded(garden, JULY)
    (at,) = garden.run(JULY + DAY + MORNING).outlook.standing
    assert at.cloth
    assert at.at_home
    assert not at.covered


def test_a_frame_opened_for_one_tree_is_not_told_again_for_another(garden_of: Any) -> None:
    frame = '\n[[spot]]\nname = "frame"\nkind = "cold frame"\nroom = 4\n'
    ember = PALE_POT.replace('"top bench"', '"frame"')
    toml = PLACE + HANDS_ON + MEANS + BENCH + frame + ember + ember.replace('"Ember"', '"Heath"')
    garden, wednesday = garden_of(MONDAY, toml=toml, mild_c=9.0), MONDAY + 2 * DAY
    for day, stage in ((-2, Stage.DORMANT), (0, Stage.EXTENDING)):
        seen = Sighting(tree="Heath", at=wednesday + day * DAY + 12 * HOUR, stage=stage)
        garden.store.journal.add([seen])
    (told,) = said(garden, wednesday, 0, deed="OPEN")
    assert told.title.startswith("OPEN the cold frame over Ember")
    note_handled(garden.store, garden.settings, [], wednesday + MORNING + HOUR)
    assert said(garden, wednesday, 1, 2, deed="OPEN") == []
    rows = garden.store.episodes.since(wednesday)
    seen_to = [row for row in rows if row.tree == "Heath" and row.remedy == "open-frame"]
    assert all(row.handled_at for row in seen_to)
    assert seen_to
