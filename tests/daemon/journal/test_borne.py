"""What noted nights say of a tree's limit is proposed, shown, and written only when accepted."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

import pytest
from commanding import EVENING, HEAD, Garden, stamp
from garden_toml import EMBER, HEATH

from underbench.daemon.config.settings import load
from underbench.daemon.store.store import Store
from underbench.rules.garden.journal import Fate, Outcome

FIRST = date(2024, 4, 3)
DAY = timedelta(days=1)
NO_MORE = "Your noted nights ask for no other limit.\n"


def note(garden: Garden, *felt: float, fate: Fate = Fate.DAMAGED, **given: Any) -> None:
    """Nights that Ember came through, as `outcome` keeps them."""
    usual = {"tree": "Ember", "hazard": "leaf-frost", "limit": -2.5, "figure": "leaf_frost_c"}
    with Store.open(garden.database) as store:
        store.journal.add(
            Outcome.model_validate(
                {
                    **usual,
                    "at": EVENING - DAY,
                    "fate": fate,
                    "night": FIRST + number * DAY,
                    "felt": value,
                    **given,
                }
            )
            for number, value in enumerate(felt)
        )


def limits(garden: Garden) -> tuple[float | None, float | None]:
    """What the file has of Ember's and Heath's leaves."""
    ember, heath = (tree.limits.leaf_frost_c for tree in load(garden.config, {}).trees)
    return ember, heath


def test_a_proposal_is_shown_and_nothing_is_written(garden: Garden) -> None:
    before = garden.config.read_bytes()
    note(garden, -1.0, -0.5)
    shown = garden.do("accept")
    assert shown.exit_code == 0, shown.output
    assert shown.stdout == (
        "Ember: damaged at −1.0 °C (3 Apr) and damaged at −0.5 °C (4 Apr). So its open leaves are "
        "harmed from −2.0 °C, it seems, not from −2.5 °C. To take that on: underbench accept Ember "
        "(or write leaf_frost_c = -2 in its limits).\n"
    )
    assert garden.config.read_bytes() == before


@pytest.mark.parametrize(
    ("ember", "kept"),
    [
        (EMBER, ""),
        (EMBER + "limits = { gust_ms = 20 }  # a tall one\n", "gust_ms = 20"),
        (EMBER + "[tree.limits]  # my own\ngust_ms = 20\n", "[tree.limits]  # my own\n"),
    ],
)
def test_what_is_accepted_is_written_where_the_file_has_limits(
    garden: Garden, ember: str, kept: str
) -> None:
    garden.write(HEAD + ember + HEATH)
    note(garden, -1.0, -0.5)
    done = garden.do("accept", "Ember")
    assert done.exit_code == 0, done.output
    assert done.stdout.endswith("garden.toml: leaf_frost_c = -2 for Ember\n")
    assert limits(garden) == (-2.0, -4.0)
    assert kept in garden.config.read_text("utf-8")
    if kept:
        assert load(garden.config, {}).trees[0].limits.gust_ms == 20.0


def test_it_comes_step_by_step_and_then_it_is_quiet(garden: Garden) -> None:
    note(garden, 0.5, 0.0, 0.5, 0.0, 0.5)
    steps = []
    while garden.do("accept").stdout != NO_MORE:
        garden.do("accept", "Ember")
        steps.append(limits(garden)[0])
    assert steps[:2] == [-2.0, -1.5]  # half a degree at once
    assert -1.5 <= steps[-1] <= -0.5  # two degrees in all


def test_in_us_units_the_file_keeps_its_own_key(garden: Garden) -> None:
    us = HEAD.replace("[garden]", '[garden]\nunits = "us"')
    garden.write(us + EMBER + "limits = { leaf_frost_f = 27 }\n")
    note(garden, -1.0, -0.5)
    assert "harmed from 27.9 °F" in garden.do("accept").stdout  # half a kelvin from 27
    assert garden.do("accept", "Ember").exit_code == 0
    assert "leaf_frost_f = 27.9" in garden.config.read_text("utf-8")


def test_one_night_a_covered_one_and_another_limit_ask_for_nothing(garden: Garden) -> None:
    note(garden, -1.0)
    note(garden, -1.0, -0.5, 0.0, figure=None)
    assert garden.do("accept").stdout == NO_MORE
    assert garden.do("accept", "Ember").stdout == NO_MORE.replace("\n", "") + "\n"
    assert limits(garden)[0] is None


def test_why_shows_what_was_noted_and_what_it_asks_for(garden: Garden) -> None:
    note(garden, -1.0)
    why = garden.do("why", "Ember", "--at", stamp(EVENING)).stdout
    assert "You noted of it: damaged at −1.0 °C (3 Apr). That leaves leaf_frost_c as it is." in why
    note(garden, -1.0, -0.5)
    why = garden.do("why", "Ember", "--at", stamp(EVENING)).stdout
    assert "underbench accept Ember" in why


def test_an_uncovered_night_without_aftercare_says_something_of_the_leaves(
    garden: Garden,
) -> None:
    """Through the command alone: told, not done, and how it came out."""
    garden.write(HEAD + EMBER)
    garden.do("seen", "leafing-out", "Ember", "--on", "2024-04-10")
    for hours in (0, 24):
        done = garden.do("once", "--at", stamp(EVENING + timedelta(hours=hours)))
        assert done.exit_code == 0, done.output
    said = garden.do("outcome", "Ember", "damaged", "--night", "2024-04-23")
    assert said.exit_code == 0, said.output
    with Store.open(garden.database) as store:
        (noted,) = [e for e in store.journal.entries() if isinstance(e, Outcome)]
    assert (noted.figure, noted.limit) == ("leaf_frost_c", -2.5)
    assert noted.felt is not None
