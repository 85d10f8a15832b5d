"""A pass through the real store: what survives a restart, what is told, and when it is retold."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import fields, replace
from datetime import UTC, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from garden_toml import BENCH, EMBER, HANDS_ON, HEATH, MEANS, PLACE, SHED

from underbench.daemon.alerts.hourly_pass import Pass
from underbench.daemon.journal.noting import trees_named
from underbench.daemon.journal.works import Told, note_work
from underbench.daemon.outlook.checkpoints import NoPast
from underbench.daemon.rehearsal.pass_report import pass_json, pass_text
from underbench.daemon.store.store import StoreError
from underbench.rules.garden.journal import Move, Sighting, Stage, Work
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards import DRY_WIND, GALE, LEAF_FROST, ROOT_FROST
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.hazard import Action, Hazard
from underbench.rules.physics.exposure import Exposure
from underbench.rules.weather.hourly import Weather

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
FIRST_DAY = datetime(2024, 3, 15, tzinfo=UTC)
FROST_DAY = datetime(2024, 4, 24, tzinfo=UTC)  # a Wednesday; its night begins on the 23rd
EVENING = datetime(2024, 4, 23, 15, 10, tzinfo=UTC)  # 17:10 by the garden's clock
ZONE = ZoneInfo("Europe/Ljubljana")

HEAD = (
    PLACE + HANDS_ON + MEANS + "lift_litres = 15\n" + BENCH + SHED + "room = 2\nmax_litres = 25\n"
)
TWO_TREES = HEAD + EMBER + HEATH


Open = Callable[..., Any]


@pytest.fixture
def lab(labs: Open, make: Any) -> Open:
    def start(toml: str = TWO_TREES, weather: Weather | None = None, name: str = "one") -> Any:
        return labs(toml, frosty(make) if weather is None else weather, name)

    return start


def frosty(make: Any, mean_c: float = 2.0) -> Weather:
    """A spring that warms from 8 to 13 °C, with one clear night around ``mean_c``."""
    days = 55
    daily = np.linspace(8, 13, days).repeat(24)
    night = 24 * (FROST_DAY - FIRST_DAY).days
    daily[night - 12 : night + 12] = mean_c
    weather: Weather = make.weather(FIRST_DAY, 24 * days, mean_c=daily, swing_k=6.0)
    return weather


def told(done: Pass) -> list[str]:
    return [one.message.title for one in done.told]


def found(done: Pass, tree: str, hazard: Hazard) -> Finding:
    return next(f for f in done.outlook.findings if f.tree == tree and f.hazard is hazard)


# Restarts


def same_exposures(one: Pass, other: Pass) -> None:
    """Whether every hour of every tree in every weather is the same to the last bit."""
    for column in fields(Exposure):
        np.testing.assert_array_equal(
            getattr(one.outlook.course.exposure, column.name),
            getattr(other.outlook.course.exposure, column.name),
        )


def test_a_restart_at_every_hour_changes_nothing(lab: Open) -> None:
    """A frost, and pots that are watered by a routine."""
    toml = TWO_TREES + '[[watering]]\ntimes = ["16:00"]\n'
    through, stopping = lab(toml, name="through"), lab(toml, name="stopping")
    start, messages = EVENING - 2 * HOUR, []
    for number in range(3):
        now = start + number * HOUR
        one, other = through.run(now), stopping.run(now)
        same_exposures(one, other)
        assert one.outlook.findings == other.outlook.findings
        assert through.store.episodes.since(start - DAY) == stopping.store.episodes.since(
            start - DAY
        )
        assert told(one) == told(other)
        messages += told(other)
        stopping.restart()
    assert [title.partition(" ")[0] for title in messages] == ["BRING"]  # once
    assert through.queued() == stopping.queued() == messages
    same_exposures(one, lab(toml, name="first seen now").run(now))


def test_hours_without_the_daemon_are_made_up_for(lab: Open) -> None:
    hourly, away = lab(name="hourly"), lab(name="away")
    for number in range(0, 19, 9):
        last = hourly.run(EVENING - 18 * HOUR + number * HOUR)
    away.run(EVENING - 18 * HOUR)
    away.restart()
    back = away.run(EVENING)
    same_exposures(last, back)


# Telling


def test_a_frost_is_told_once_and_no_more_when_it_eases_and_comes_back(
    lab: Open, make: Any
) -> None:
    garden = lab()
    first = garden.run(EVENING)
    assert [title.partition(" ")[0] for title in told(first)] == ["BRING"]
    garden.sky.weather = frosty(make, mean_c=9.0)
    assert garden.run(EVENING + HOUR).outlook.findings == ()
    states = {row.state for row in garden.store.episodes.since(EVENING)}
    assert states == {"told"}  # one milder run of the forecast calls nothing off
    garden.sky.weather = frosty(make)
    back = garden.run(EVENING + 2 * HOUR)
    assert found(back, "Ember", LEAF_FROST).strength is Strength.DANGER
    assert told(back) == []
    assert len(garden.queued()) == 1


def test_a_frost_told_as_weaker_is_told_again_when_it_threatens_to_kill(
    lab: Open, make: Any
) -> None:
    only = HEAD + EMBER
    garden = lab(only, frosty(make, mean_c=6.2))
    first = garden.run(EVENING)
    assert found(first, "Ember", LEAF_FROST).strength is Strength.ACT
    assert len(first.told) == 1
    garden.sky.weather = frosty(make, mean_c=6.1)  # a little worse, but no stronger
    assert told(garden.run(EVENING + HOUR)) == []
    garden.sky.weather = frosty(make, mean_c=2.0)
    worse = garden.run(EVENING + 2 * HOUR)
    assert [one.advice.strength for one in worse.told] == [Strength.DANGER]
    garden.sky.weather = frosty(make, mean_c=6.2)
    assert told(garden.run(EVENING + 3 * HOUR)) == []


def test_of_a_tree_under_cover_nothing_is_said_and_its_home_is_still_judged(lab: Open) -> None:
    garden = lab()
    garden.note(Move(tree="Ember", at=EVENING - 2 * HOUR, spot="shed"))
    done = garden.run(EVENING)
    assert "Ember" not in {finding.tree for finding in done.outlook.findings}
    assert [job.tree for one in done.told for job in one.advice.jobs] == ["Heath"]
    assert LEAF_FROST in {f.hazard for f in done.outlook.at_home if f.tree == "Ember"}
    assert done.plans["Ember"].plan.path[0] == "shed"


def test_being_told_is_not_being_moved(lab: Open) -> None:
    garden = lab()
    garden.run(EVENING)
    later = garden.run(EVENING + 4 * HOUR)
    assert {at.spot for at in later.outlook.standing} == {"top bench"}
    assert found(later, "Ember", LEAF_FROST).strength is Strength.DANGER


def test_a_move_to_a_spot_since_renamed_counts_as_home(lab: Open) -> None:
    garden = lab()
    garden.note(Move(tree="Ember", at=EVENING - 3 * DAY, spot="tool shed"))
    done = garden.run(EVENING)
    assert [at.spot for at in done.outlook.standing] == ["top bench", "top bench"]
    assert "Ember" in {job.tree for one in done.told for job in one.advice.jobs}


def test_the_deadline_lies_in_hands_on_hours(lab: Open) -> None:
    (one,) = lab().run(EVENING).told
    local = one.advice.do_by.astimezone(ZONE)
    assert one.advice.in_hand
    assert local.date() == EVENING.date()
    assert time(17) <= local.time() <= time(21)  # as the garden file has it for a Tuesday
    assert one.advice.do_by < min(finding.first_at for finding in one.advice.findings)


def test_nothing_is_told_before_its_time_and_it_is_foreseen_meanwhile(lab: Open, make: Any) -> None:
    garden = lab(HEAD + EMBER, frosty(make, mean_c=5.2))
    early = garden.run(EVENING - 3 * DAY)
    assert told(early) == []
    assert [one.advice.action for one, _ in early.later] == [Action.PROTECT]
    assert all(at > EVENING - 3 * DAY for _, at in early.later)
    assert {row.state for row in garden.store.episodes.since(EVENING)} == {"foreseen"}
    assert "Foreseen" in pass_text(early)


def test_danger_that_is_sure_is_told_as_soon_as_it_is_known(lab: Open) -> None:
    garden = lab()
    assert told(garden.run(EVENING - 3 * DAY)) == []
    (one,) = garden.run(EVENING - 44 * HOUR).told
    assert one.advice.strength is Strength.DANGER
    assert one.advice.do_by > EVENING


# The journal


def test_a_repot_entered_late_is_reckoned_from_its_day(lab: Open) -> None:
    garden = lab()
    before = found(garden.run(EVENING - DAY), "Ember", ROOT_FROST)
    at = EVENING - 10 * DAY
    trees = trees_named(garden.settings, ["ember"])
    said = note_work(garden.store, garden.settings, trees, WorkKind.REPOT, at, Told(roots_pct=25))
    kept = garden.store.checkpoints.before(EVENING)
    assert "Ember" not in kept or kept["Ember"].at < at
    assert kept["Heath"].at > at
    done = garden.run(EVENING)
    after = found(done, "Ember", ROOT_FROST)
    assert "13 April 2024" in said
    # A repot's own floor: −1 °C on the root ball until leaves harden; common practice, no source.
    assert (before.limit.harm, after.limit.harm) == (-3.0, -1.0)
    assert after.chance > before.chance
    # Warmth at the roots counts from the repot, ten days ago, and not from the winter.
    warmth = done.outlook.state.root_warmth_cd.tolist()
    assert 0 < warmth[0] < warmth[1]


# What goes wrong


def test_a_pass_that_breaks_in_the_middle_leaves_nothing(
    lab: Open, monkeypatch: pytest.MonkeyPatch
) -> None:
    garden = lab()

    def broken(*_args: Any, **_named: Any) -> None:
        raise ZeroDivisionError("a fault in the rules")

    with monkeypatch.context() as patched:
        patched.setattr("underbench.daemon.alerts.due.advise", broken)
        with pytest.raises(ZeroDivisionError):
            garden.run(EVENING)
    tables = ("hour", "checkpoint", "episode", "message")
    assert [garden.count(table) for table in tables] == [0, 0, 0, 0]
    garden.restart()
    assert len(garden.run(EVENING).told) == 1


def test_a_disk_that_fills_up_in_the_middle_leaves_nothing(lab: Open) -> None:
    garden = lab()
    garden.run(EVENING, dry_run=True)  # the forecast is kept, but not the hours of two months
    pages = next(iter(garden.store.db.query("PRAGMA page_count")))["page_count"]
    garden.store.db.execute(f"PRAGMA max_page_count = {pages + 4}")
    with pytest.raises(StoreError, match="disk is full"):
        garden.run(EVENING)
    tables = ("hour", "checkpoint", "episode", "message")
    assert [garden.count(table) for table in tables] == [0, 0, 0, 0]
    garden.restart()
    assert len(garden.run(EVENING).told) == 1


def test_a_dry_run_keeps_nothing_but_the_forecast(lab: Open) -> None:
    garden = lab()
    dry = garden.run(EVENING, dry_run=True)
    assert len(dry.told) == 1
    tables = ("hour", "checkpoint", "episode", "message", "journal", "duty")
    assert [garden.count(table) for table in tables] == [0] * len(tables)
    assert told(garden.run(EVENING)) == told(dry)


def test_a_past_of_which_nothing_is_known_is_a_plain_fault(lab: Open, make: Any) -> None:
    weather = frosty(make)
    weather.wind_ms[:, weather.times <= EVENING.timestamp()] = np.nan
    with pytest.raises(NoPast, match="no weather of the past days"):
        lab(weather=weather).run(EVENING)


# Messages


def mild(make: Any) -> Weather:
    """Some days in April with the frosty night. Many trees can be walked through them quickly."""
    return frosty(make).between(FROST_DAY - 6 * DAY, FROST_DAY + 15 * DAY)


def test_sixty_trees_are_told_in_a_message(lab: Open, make: Any) -> None:
    """They have long names and stand on fifteen benches."""
    benches = "".join(
        f'[[spot]]\nname = "long bench {n} by the wall"\nkind = "bench"\n' for n in range(15)
    )
    trees = "".join(
        f'[[tree]]\nname = "Old Weatherbeaten {n}"\nspecies = "Acer palmatum"\nlitres = 4\n'
        f'spot = "long bench {n % 15} by the wall"\n'
        for n in range(60)
    )
    garden = lab(HEAD + benches + trees, mild(make))
    leafing = [
        Sighting(tree=tree.name, at=EVENING - DAY, stage=Stage.LEAFING_OUT)
        for tree in garden.settings.trees
    ]
    garden.note(*leafing)
    told = garden.run(EVENING).told
    assert [one.message.title[:20] for one in told] == ["PROTECT 60 trees by "]
    body = told[0].message.body
    assert len(body.encode()) <= 4000
    assert "nto the shed (2)" in body  # there is room for two
    assert "fleece" in body
    assert "\nForecast of " in body


def test_the_message_puts_action_and_deadline_first(lab: Open) -> None:
    (one,) = lab().run(EVENING).told
    assert one.message.title.startswith("BRING 2 trees into the shed by ")
    assert len(one.message.title) < 100
    assert f"{one.advice.do_by.astimezone(ZONE):%H:%M}" in one.message.title


def test_a_garden_in_us_units_is_told_in_fahrenheit(lab: Open) -> None:
    (one,) = lab(HEAD.replace("[garden]", '[garden]\nunits = "us"') + EMBER).run(EVENING).told
    assert "°F" in one.message.body
    assert "°C" not in one.message.body
    assert "27.5 °F" in one.message.body  # −2.5 °C, the limit of open maple leaves


def test_what_is_worth_knowing_counts_trees_not_their_days(lab: Open) -> None:
    done = lab().run(EVENING)
    gale = replace(done.outlook.findings[0], hazard=GALE, strength=Strength.NOTICE)
    days = [replace(gale, first_at=gale.first_at + n * DAY) for n in range(3)]
    found = (*days, replace(gale, tree="Plume"), replace(gale, hazard=DRY_WIND))
    text = pass_text(replace(done, outlook=replace(done.outlook, findings=found)))
    assert "Unlikely, worth knowing: gale (2), dry wind on new leaves (1)." in text


@pytest.mark.parametrize(("mean_c", "frosty"), [(7.0, True), (16.0, False)])
def test_a_bag_is_not_opened_in_the_frost_of_the_morning(
    lab: Open, make: Any, mean_c: float, frosty: bool
) -> None:
    """The tree is too heavy to be carried into shade, and there is no cloth: the bag is opened."""
    clear = make.weather(FROST_DAY - 13 * DAY, 24 * 28, mean_c=mean_c, swing_k=12.0)
    garden = lab(HEAD + EMBER.replace("litres = 4", "litres = 60"), clear)
    garden.note(
        Work(tree="Ember", at=EVENING - 12 * DAY, work=WorkKind.CHOP),
        Work(tree="Ember", at=EVENING - HOUR, work=WorkKind.BAG),
    )
    (one,) = (o for o in garden.run(EVENING + 3 * HOUR).told if o.advice.action is Action.VENT)
    (job,) = one.advice.jobs
    assert job.remedy.opening is not None
    assert (job.not_before is not None) == frosty
    assert ("not before" in one.message.body) == frosty
    assert ("Shut it before dusk." in one.message.body) == frosty
    if job.not_before is not None:
        assert one.advice.do_by < job.not_before < job.worst.first_at
        assert f"{job.not_before.astimezone(ZONE):%H:%M}–" in one.message.title


def test_a_bag_too_hot_even_when_open_is_opened_in_the_shade(lab: Open, make: Any) -> None:
    mean_c = np.linspace(14, 20, 30).repeat(24)
    warm = make.weather(FROST_DAY - 15 * DAY, 24 * 30, mean_c=mean_c, swing_k=9.0)
    garden = lab(weather=warm)
    chopped = Work(tree="Ember", at=EVENING - 13 * DAY, work=WorkKind.CHOP)
    bagged = Work(tree="Ember", at=EVENING - 9 * DAY, work=WorkKind.BAG)
    garden.note(chopped, bagged)
    done = garden.run(EVENING)
    (one,) = done.told
    assert one.message.title.startswith("OPEN AND SHADE the bag of Ember ")
    assert "Open the bag, and into full shade, from the top bench: Ember" in one.message.body
    remedy = json.loads(pass_json(done))["told"][0]["trees"][0]["remedy"]
    assert remedy["suffices"]
    assert warm.air_c.min() < remedy["left"] < 35.0
