"""When a finding is told, in tables. Findings, episodes and the outlook are bare values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from bare_outlook import found, outlook_of, standing
from bare_plans import HOME, SHED, planned
from told_rows import DAY, HOUR, NIGHT_ENDS, told

from underbench.daemon.alerts.due import due_advice, foreseen, reminders
from underbench.daemon.alerts.episodes import carry_on
from underbench.daemon.outlook.plans import TreePlan
from underbench.daemon.store.episodes import EpisodeRow, Key, key_of
from underbench.rules.hazards.chill import CHILL
from underbench.rules.hazards.darkness import DARK
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.gale import GALE
from underbench.rules.hazards.hazard import Action
from underbench.rules.hazards.scorch import SCORCH

MONDAY, TUESDAY, WEDNESDAY = (date(2024, 4, day) for day in (22, 23, 24))
MINUTE = timedelta(minutes=1)
ACT, DANGER, NOTICE = Strength.ACT, Strength.DANGER, Strength.NOTICE


def at(day: date, hour: int, minute: int = 0) -> datetime:
    """A moment by the garden's clock. Somebody is there from 6:30 to 7:30 and from 17 to 21; quiet
    hours are from 22 to 6."""
    return datetime.combine(day, time(hour, minute), ZoneInfo("Europe/Ljubljana"))


SUNSET = at(TUESDAY, 20)  # of the night that ends on Wednesday


def episodes(findings: Sequence[Finding], do_by: datetime = SUNSET) -> dict[Key, EpisodeRow]:
    """An episode for each of ``findings``, as a pass has just found it."""
    deadlines = {finding.key: do_by for finding in findings}
    rows = carry_on([], findings, deadlines, {}, do_by - 5 * DAY)
    return {key_of(row): row for row in rows}


def is_due(make: Any, finding: Finding, now: datetime, do_by: datetime = SUNSET) -> bool:
    """Whether the finding is told at ``now``."""
    outlook = outlook_of(make, [finding], now=now)
    return bool(due_advice(outlook, episodes([finding], do_by), {}))


@pytest.mark.parametrize(
    ("strength", "now", "due"),
    [
        (NOTICE, at(TUESDAY, 19), False),
        (ACT, at(MONDAY, 17), False),
        (ACT, at(TUESDAY, 6, 29), False),
        (ACT, at(TUESDAY, 6, 30), True),  # when the day's first hours begin
        (DANGER, at(MONDAY, 16, 59), False),
        (DANGER, at(MONDAY, 17), True),  # by the evening before
    ],
)
def test_it_is_told_as_its_hours_begin(
    make: Any, strength: Strength, now: datetime, due: bool
) -> None:
    assert is_due(make, found(strength=strength, chance=0.69), now) is due


@pytest.mark.parametrize(
    ("given", "due"),
    [
        ({}, True),
        ({"chance": 0.69}, False),
        ({"strength": ACT}, False),
        ({"hazard": GALE}, True),
        ({"hazard": SCORCH}, False),  # heat is told on its day
    ],
)
def test_danger_that_is_likely_is_told_as_soon_as_it_is_known(
    make: Any, given: dict[str, Any], due: bool
) -> None:
    deadly = found(**{"strength": DANGER, "chance": 0.7, **given})
    assert is_due(make, deadly, SUNSET - 2 * DAY) is due
    assert not is_due(make, deadly, SUNSET - 2 * DAY - MINUTE)


@pytest.mark.parametrize(
    ("strength", "do_by", "due"),
    [
        (DANGER, at(WEDNESDAY, 6, 29), True),
        (DANGER, at(WEDNESDAY, 6, 30), False),  # half an hour from six is enough
        (ACT, at(WEDNESDAY, 4), False),
        (ACT, at(WEDNESDAY, 3), False),
    ],
)
def test_only_danger_that_cannot_wait_for_the_morning_wakes_anybody(
    make: Any, strength: Strength, do_by: datetime, due: bool
) -> None:
    assert is_due(make, found(strength=strength), at(WEDNESDAY, 3), do_by) is due


@pytest.mark.parametrize(
    ("worst_at", "due"),
    [
        (at(WEDNESDAY, 6, 29), True),
        (at(WEDNESDAY, 6, 30), False),
        (at(WEDNESDAY, 3) + 3 * DAY, False),
    ],
)
def test_nobody_is_woken_for_chill_whose_killing_cold_is_days_off(
    make: Any, worst_at: datetime, due: bool
) -> None:
    """A tropical should be in by now, but dies only when the worst comes."""
    chill = found(hazard=CHILL, strength=DANGER, worst_at=worst_at)
    assert is_due(make, chill, at(WEDNESDAY, 3), do_by=at(WEDNESDAY, 3)) is due


def test_what_takes_over_half_an_hour_is_told_the_evening_before(make: Any) -> None:
    names = [f"Tree {number}" for number in range(40)]
    findings = [found(name) for name in names]
    trees = [standing(make, name) for name in names]
    for many, due in ((trees, True), (trees[:1], False)):
        own = findings[: len(many)]
        outlook = outlook_of(make, own, many, now=at(MONDAY, 17))
        assert bool(due_advice(outlook, episodes(own), {})) is due


# What makes one message


def jobs(make: Any, findings: Sequence[Finding], plans: Any = None) -> list[set[str]]:
    """The trees of each advice that is due on Tuesday evening."""
    names = sorted({finding.tree for finding in findings})
    outlook = outlook_of(make, findings, [standing(make, n) for n in names], now=at(TUESDAY, 18))
    told_now = due_advice(outlook, episodes(findings), plans or {})
    return [{job.tree for job in one.jobs} for one in told_now]


def test_one_action_is_one_message_and_some_jobs_are_their_own(make: Any) -> None:
    frost, gale = found("Ember"), found("Heath", hazard=GALE)
    assert jobs(make, [frost, gale]) == [{"Ember", "Heath"}]
    sun = found("Lane", hazard=SCORCH)
    assert sorted(map(sorted, jobs(make, [frost, sun]))) == [["Ember"], ["Lane"]]
    chill = found("Fig", hazard=CHILL)
    assert sorted(map(sorted, jobs(make, [frost, chill]))) == [["Ember"], ["Fig"]]


def test_of_two_trees_only_the_one_that_is_to_move_is_told(make: Any) -> None:
    frosts = [found("Ember"), found("Heath")]
    stays, goes = planned(SHED, start=SHED), planned(SHED)
    assert jobs(make, frosts, {"Ember": stays, "Heath": goes}) == [{"Heath"}]


@pytest.mark.parametrize(
    ("of_ember", "of_lane", "told_trees"),
    [
        (found("Ember"), planned(SHED), [{"Ember", "Lane"}]),
        (found("Ember"), planned(HOME), [{"Ember"}]),  # it is well enough at home
        (found("Ember"), planned(SHED, start=SHED), [{"Ember"}]),  # it was told already
        (found("Ember", strength=NOTICE), planned(SHED), []),  # nobody is called for so little
    ],
)
def test_who_may_need_cover_goes_along_with_who_needs_it(
    make: Any, of_ember: Finding, of_lane: TreePlan, told_trees: list[set[str]]
) -> None:
    may = found("Lane", strength=NOTICE, chance=0.2)
    plans = {"Ember": planned(SHED, SHED), "Lane": of_lane}
    assert jobs(make, [of_ember, may], plans) == told_trees
    next_night = found("Ember", NIGHT_ENDS + DAY, strength=NOTICE, chance=0.2)
    outlook = outlook_of(make, [of_ember, next_night], now=at(TUESDAY, 18))
    told_now = due_advice(outlook, episodes([of_ember, next_night]), plans)
    assert [len(one.findings) for one in told_now] == [1] * bool(told_trees)


@pytest.mark.parametrize(
    ("row", "due"),
    [
        (told("Heath", told_at=at(MONDAY, 6)), False),
        (told("Heath", told_at=at(MONDAY, 6), action="water"), True),
        (told("Heath", told_at=at(MONDAY, 6) - DAY), True),
        # Its stay went on without a word.
        (told("Heath", told_at=at(MONDAY, 6), handled_at=at(MONDAY, 6) - DAY), True),
    ],
)
def test_further_trees_wait_till_they_are_due_once_some_were_told(
    make: Any, row: EpisodeRow, due: bool
) -> None:
    deadly = found(strength=DANGER, chance=0.9)
    outlook = outlook_of(make, [deadly], now=at(MONDAY, 7))
    known = episodes([deadly], SUNSET) | {key_of(row): row}
    assert bool(due_advice(outlook, known, {})) is due


@pytest.mark.parametrize(("start", "tells"), [(SHED, False), (HOME, True)])
def test_a_tree_under_cover_is_told_of_home_only_if_it_was_sent_back(
    make: Any, start: str, tells: bool
) -> None:
    """Who was sent back and noted nothing may have carried the tree out."""
    frost = found("Ember")
    trees = [standing(make, "Ember", SHED)]
    outlook = outlook_of(make, [], trees, now=at(TUESDAY, 18), at_home=[frost])
    plans = {"Ember": planned(SHED, here=SHED, start=start)}
    assert bool(due_advice(outlook, episodes([frost]), plans)) is tells


@pytest.mark.parametrize(
    ("path", "sent", "tells"),
    [
        ((SHED, HOME), True, False),
        ((SHED, SHED), True, True),  # its nights stay too cold: out by day
        ((SHED, HOME), False, True),  # the keeper took it in, and is told no return
    ],
)
def test_a_tree_that_goes_home_soon_is_not_let_out_before(
    make: Any, path: tuple[str, ...], sent: bool, tells: bool
) -> None:
    dark, trees = found("Ember", hazard=DARK), [standing(make, "Ember", SHED)]
    outlook = outlook_of(make, [dark], trees, now=at(TUESDAY, 18))
    plans = {"Ember": replace(planned(*path, here=SHED), sent=sent)}
    assert bool(due_advice(outlook, episodes([dark]), plans)) is tells


@pytest.mark.parametrize(
    ("given", "tells"),
    [
        ({"first_at": at(TUESDAY, 14)}, False),
        ({"first_at": at(TUESDAY, 14), "strength": Strength.NOTICE}, True),
        ({"first_at": at(TUESDAY, 21)}, True),  # it is back in by then
        ({"first_at": at(TUESDAY, 14), "tree": "Heath"}, True),
    ],
)
def test_a_tree_is_let_out_on_a_day_that_it_bears(
    make: Any, given: dict[str, Any], tells: bool
) -> None:
    dark, cold = found("Ember", hazard=DARK), replace(found("Ember"), **given)
    trees = [standing(make, "Ember", SHED)]
    outlook = outlook_of(make, [dark], trees, now=at(TUESDAY, 7), at_home=[cold])
    plans = {"Ember": planned(SHED, SHED, here=SHED)}
    rows = episodes([dark, cold])
    told = [one.action for one in due_advice(outlook, rows, plans)]
    assert (Action.LIGHT in told) is tells


@pytest.mark.parametrize(("fleece", "tells"), [(0.1, False), (0.6, True)])
def test_a_frost_at_home_is_told_where_the_wind_takes_the_fleece(
    make: Any, fleece: float, tells: bool
) -> None:
    frost, on = found("Ember"), "fleece-2"
    trees = [standing(make, "Ember")]
    outlook = outlook_of(make, [], trees, now=at(TUESDAY, 18), at_home=[frost])
    harm = {HOME: 0.9, SHED: 0.0, on: fleece}
    plans = {"Ember": planned(SHED, here=on, harm=harm)}
    assert bool(due_advice(outlook, episodes([frost]), plans)) is tells


def test_shade_comes_off_as_ever_whatever_the_plan_for_the_frost(make: Any) -> None:
    sun = found("Ember", hazard=SCORCH)
    outlook = outlook_of(make, [sun], now=at(TUESDAY, 18))
    plans = {"Ember": planned(SHED, SHED, SHED)}
    alone, beside = (due_advice(outlook, episodes([sun]), own) for own in ({}, plans))
    assert alone
    assert [one.back_at for one in beside] == [one.back_at for one in alone]
    assert not any(one.open_ended for one in beside)


def test_who_may_have_taken_the_fleece_off_as_told_hears_of_the_next_frost(make: Any) -> None:
    """It would harm under the fleece too, so it is no finding of home alone."""
    frost = found("Ember")
    outlook = outlook_of(make, [frost], [standing(make, "Ember")], now=at(TUESDAY, 18))
    plans = {"Ember": planned(SHED, here="fleece-2", start=HOME)}
    assert due_advice(outlook, episodes([frost]), plans)


def test_the_next_night_is_its_own_message_only_when_it_is_far(make: Any) -> None:
    for days, messages in ((1, 1), (2, 1), (4, 2)):  # one mild night between is too short to go out
        nights = [found("Ember"), found("Heath", ends=NIGHT_ENDS + days * DAY)]
        assert len(jobs(make, nights)) == messages


# Later


@pytest.mark.parametrize(
    ("strength", "now", "opens"),
    [
        (ACT, at(MONDAY, 12), at(TUESDAY, 6, 30)),
        (DANGER, at(MONDAY, 12), at(MONDAY, 17)),
        (ACT, at(TUESDAY, 12), at(TUESDAY, 12)),  # its time has come
    ],
)
def test_what_is_not_told_yet_has_its_time(
    make: Any, strength: Strength, now: datetime, opens: datetime
) -> None:
    frost = found(strength=strength)
    ((advice, when),) = foreseen(outlook_of(make, [frost], now=now), episodes([frost]), {})
    assert (advice.lead, when) == (frost, opens)


# Once more


DEADLY = found(strength=DANGER)
TOLD_DEADLY = told(
    "Ember", told_strength="danger", told_at=at(TUESDAY, 7), do_by=SUNSET, into_spot="shed"
)


@pytest.mark.parametrize(
    ("given", "now", "again"),
    [
        ({}, SUNSET - 2 * HOUR - MINUTE, False),
        ({}, SUNSET - 2 * HOUR, True),
        ({}, SUNSET - MINUTE, True),
        ({}, SUNSET, False),
        ({"told_at": None}, SUNSET - HOUR, False),
        ({"told_strength": "act"}, SUNSET - HOUR, False),
        ({"handled_at": at(TUESDAY, 8)}, SUNSET - HOUR, False),
        ({"reminded_at": at(TUESDAY, 8)}, SUNSET - HOUR, False),
        ({"told_at": SUNSET - 4 * HOUR + MINUTE}, SUNSET - HOUR, False),  # spoken of lately
        ({"told_at": SUNSET - 4 * HOUR}, SUNSET - HOUR, True),
        ({"into_spot": "top bench"}, SUNSET - HOUR, False),  # it is there
        ({"remedy": "shelter"}, SUNSET - HOUR, False),  # nothing here is enough: no deed waits
        # A deadline in the quiet hours nears before them.
        ({"do_by": at(WEDNESDAY, 3)}, at(TUESDAY, 21), True),
        ({"do_by": at(WEDNESDAY, 3)}, at(TUESDAY, 19), False),
        ({"do_by": at(WEDNESDAY, 3)}, at(WEDNESDAY, 2), False),
    ],
)
def test_danger_is_told_once_more_as_its_deadline_nears(
    make: Any, given: dict[str, Any], now: datetime, again: bool
) -> None:
    row = replace(TOLD_DEADLY, **given)
    outlook = outlook_of(make, [DEADLY], now=now)
    assert bool(reminders(outlook, {key_of(row): row}, {})) is again


def test_what_only_asks_to_act_or_is_forgotten_is_said_once(make: Any) -> None:
    now = SUNSET - HOUR
    milder = outlook_of(make, [found(strength=ACT)], now=now)
    assert reminders(milder, {key_of(TOLD_DEADLY): TOLD_DEADLY}, {}) == []
    assert reminders(outlook_of(make, [DEADLY], now=now), {}, {}) == []
