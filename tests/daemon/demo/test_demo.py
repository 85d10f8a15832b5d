"""The demo: the real path through an invented week, run once, and the forecasts it is fed."""

from __future__ import annotations

import re
from contextlib import redirect_stdout
from datetime import UTC, datetime, timedelta
from importlib.resources import files
from io import StringIO
from pathlib import Path
from typing import NamedTuple

import numpy as np
import pytest

from underbench.daemon.config.settings import Settings, load
from underbench.daemon.demo import week
from underbench.daemon.demo.driver import run_demo
from underbench.rules.weather.hourly import Weather

TITLE = re.compile(r"(PROTECT|SHADE|VENT|WATER) (\d+) trees? by .+")
MOMENT = re.compile(r"— (\w{3} \d+ \w{3}) (\d\d):(\d\d) —")


class Said(NamedTuple):
    """One message as the terminal showed it."""

    day: str
    hour: int
    action: str
    count: int
    trees: frozenset[str]
    text: str


@pytest.fixture(scope="module")
def settings() -> Settings:
    return load(Path(str(files("underbench.daemon.demo").joinpath("garden.toml"))), {})


@pytest.fixture(scope="module")
def shown() -> str:
    out = StringIO()
    with redirect_stdout(out):
        run_demo()
    return out.getvalue()


@pytest.fixture(scope="module")
def said(shown: str, settings: Settings) -> list[Said]:
    found, day, hour = [], "", 0
    for block in shown.split("\n\n"):
        first, _, rest = block.partition("\n")
        if moment := MOMENT.fullmatch(first):
            day, hour = moment[1], int(moment[2])
            first = rest.partition("\n")[0]
        if title := TITLE.fullmatch(first):
            trees = frozenset(t.name for t in settings.trees if re.search(rf"\b{t.name}\b", rest))
            found.append(Said(day, hour, title[1], int(title[2]), trees, block))
    return found


def only(said: list[Said], word: str) -> Said:
    found = [one for one in said if word in one.text]
    assert len(found) == 1, word
    return found[0]


def deadly_frost(said: list[Said]) -> Said:
    return only([one for one in said if "Frost on open leaves" in one.text], "(danger)")


def test_each_kind_of_message_appears_once(said: list[Said]) -> None:
    for word in ("Gale", "Bag too hot"):
        only(said, word)
    late = [one for one in said if "Frost on open leaves" in one.text][1:]
    assert [one.count for one in late] == [1]  # it was not in danger when the others were told
    assert not late[0].trees & deadly_frost(said).trees
    first, again = (one for one in said if "Dry pots" in one.text)
    assert "(danger)" not in first.text
    assert "(danger)" in again.text  # stronger than was told, so told once more
    assert again.trees < first.trees
    assert {one.action for one in said} == {"PROTECT", "VENT", "WATER"}


def test_no_tree_hears_the_same_twice(said: list[Said]) -> None:
    told = [(one.action, one.text.splitlines()[1].split(":")[0], one.trees) for one in said]
    assert len(set(told)) == len(told)


def test_every_tree_counted_in_a_title_is_named_below(said: list[Said]) -> None:
    assert [one.count for one in said] == [len(one.trees) for one in said]


def test_two_cold_nights_are_one_run(said: list[Said], shown: str) -> None:
    frost = deadly_frost(said)
    assert "2 nights in a row" in frost.text
    assert "leave them in" in frost.text
    assert "09:00 Saturday" in frost.text
    assert "Fri 24 Apr: clear, cold. Nothing due; no message." in shown


def test_danger_is_told_by_the_evening_before_and_the_return_on_its_day(
    said: list[Said], shown: str
) -> None:
    frost = deadly_frost(said)
    assert (frost.day, frost.hour) == ("Wed 22 Apr", 18)
    assert "20:36 tomorrow" in frost.text
    assert shown.count("BACK OUT") == 1
    assert "— Sat 25 Apr 09:00 —\nBACK OUT" in shown


def test_messages_come_when_somebody_can_read_them(said: list[Said]) -> None:
    assert all(7 <= one.hour < 21 for one in said)


def test_the_right_trees_are_told_of(said: list[Said]) -> None:
    """Common practice, no source: fresh loose roots blow over, open maple leaves freeze, a dark
    bag cooks, and the smallest pots dry first; hardened or tied trees are left in peace."""
    assert only(said, "Gale").trees == {"Marcotte", "Torrent", "Veilleur"}
    frosted = deadly_frost(said).trees
    assert {"Braise", "Plume", "Marcotte"} <= frosted
    assert not frosted & {"Ermite", "Sapeur", "Veilleur"}
    assert "Forgeron" in frosted  # days in a warm bag opened its buds, and a bag is no frost cover
    assert only(said, "Bag too hot").trees == {"Forgeron"}
    dry = next(one for one in said if "Dry pots" in one.text)
    assert {"Grelot", "Lutin"} <= dry.trees
    assert "ask somebody in" in dry.text


def test_it_is_short_and_ends_with_how_to_start(shown: str) -> None:
    lines = shown.splitlines()
    assert len(lines) < 120
    assert all(
        command in shown
        for command in ("underbench init", "check", "once --dry-run", "underbench run")
    )
    assert "first_garden.toml" in lines[-4]


@pytest.fixture(scope="module")
def weathers(settings: Settings) -> tuple[Weather, Weather]:
    return week.truth(settings.garden), week.usual(settings.garden)


def night_low_c(weather: Weather, dawn: datetime) -> float:
    return float(weather.between(dawn - timedelta(hours=9), dawn + timedelta(hours=3)).air_c.min())


def test_the_week_has_the_two_frosts_and_the_gale_it_promises(
    weathers: tuple[Weather, Weather],
) -> None:
    real, _ = weathers
    friday = datetime(2026, 4, 24, 5, tzinfo=UTC)
    assert night_low_c(real, friday) == pytest.approx(-2.5, abs=0.1)
    assert night_low_c(real, friday + timedelta(days=1)) == pytest.approx(-1.0, abs=0.1)
    tuesday = real.between(friday - timedelta(days=3), friday - timedelta(days=2))
    assert 20 <= tuesday.gust_ms.max() <= 25


def test_a_forecast_is_right_about_the_past_and_better_the_nearer(
    weathers: tuple[Weather, Weather],
) -> None:
    dawn = datetime(2026, 4, 24, 5, tzinfo=UTC)
    errors = []
    for lead in (timedelta(days=4), timedelta(days=2), timedelta(days=1), timedelta(hours=5)):
        run = week.forecast(*weathers, dawn - lead)
        known = int(np.searchsorted(run.times, (dawn - lead).timestamp() - 6 * 3600))
        assert np.array_equal(run.air_c[0, :known], weathers[0].air_c[0, :known])
        errors.append(abs(night_low_c(run, dawn) - night_low_c(weathers[0], dawn)))
    assert errors == sorted(errors, reverse=True)
    assert errors[0] > 1.0
    assert errors[-1] < 0.2


def test_a_forecast_stays_as_it_is_until_the_next_run(weathers: tuple[Weather, Weather]) -> None:
    issued = datetime(2026, 4, 22, 6, tzinfo=UTC)
    early = week.forecast(*weathers, issued)
    late = week.forecast(*weathers, issued + timedelta(hours=5))
    after = week.forecast(*weathers, issued + timedelta(hours=6))
    assert np.array_equal(early.air_c, late.air_c)
    assert not np.array_equal(early.air_c, after.air_c)
