"""When a finding is told, in tables. Findings, episodes and the outlook are bare values."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from bare_outlook import found, outlook_of, standing
from told_rows import DAY, HOUR, NIGHT_ENDS, told

from underbench.daemon.alerts.due import due_advice, foreseen, reminders
from underbench.daemon.alerts.episodes import carry_on
from underbench.daemon.store.episodes import EpisodeRow, Key, key_of
from underbench.rules.hazards.chill import CHILL
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.frozen_drying import FROZEN_DRYING
from underbench.rules.hazards.gale import GALE
from underbench.rules.hazards.root_frost import ROOT_FROST
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


def is_due(
    make: Any, finding: Finding, now: datetime, do_by: datetime = SUNSET, inside: bool = False
) -> bool:
    """Whether the finding is told at ``now``. ``inside``: it threatens only where the tree
    belongs."""
    home = [finding] if inside else []
    trees = [standing(make, spot="shed" if inside else "")]
    outlook = outlook_of(make, [] if inside else [finding], trees, now=now, at_home=home)
    return bool(due_advice(outlook, episodes([finding], do_by)))


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
    assert is_due(make, found(strength=strength), now) is due


@pytest.mark.parametrize(
    ("strength", "do_by", "inside", "due"),
    [
        (DANGER, at(WEDNESDAY, 6, 29), False, True),
        (DANGER, at(WEDNESDAY, 6, 30), False, False),  # half an hour from six is enough
        (DANGER, at(WEDNESDAY, 6, 29), True, False),  # it stands safe where it is
        (ACT, at(WEDNESDAY, 4), False, False),
        (ACT, at(WEDNESDAY, 3), False, False),
    ],
)
def test_only_danger_that_cannot_wait_for_the_morning_wakes_anybody(
    make: Any, strength: Strength, do_by: datetime, inside: bool, due: bool
) -> None:
    assert is_due(make, found(strength=strength), at(WEDNESDAY, 3), do_by, inside) is due


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
        assert bool(due_advice(outlook, episodes(own))) is due


@pytest.mark.parametrize(
    ("worst", "inside", "due"), [(-5.0, False, True), (-4.9, False, False), (-5.0, True, False)]
)
def test_a_frost_two_kelvin_colder_than_told_is_told_though_it_is_done(
    make: Any, worst: float, inside: bool, due: bool
) -> None:
    colder, row = found(worst=worst), told("Ember", told_worst=-3.0, handled_at=at(TUESDAY, 17))
    trees = [standing(make, spot="shed" if inside else "")]
    here, home = ([], [colder]) if inside else ([colder], [])
    outlook = outlook_of(make, here, trees, now=at(TUESDAY, 18), at_home=home)
    assert bool(due_advice(outlook, {key_of(row): row})) is due


# What makes one message


def jobs(make: Any, findings: Sequence[Finding], at_home: Sequence[Finding] = ()) -> list[set[str]]:
    """The trees of each advice that is due on Tuesday evening."""
    names = sorted({finding.tree for finding in (*findings, *at_home)})
    inside = {finding.tree for finding in at_home}
    trees = [standing(make, name, "shed" if name in inside else "") for name in names]
    outlook = outlook_of(make, findings, trees, now=at(TUESDAY, 18), at_home=at_home)
    told_now = due_advice(outlook, episodes([*findings, *at_home]))
    return [{job.tree for job in one.jobs} for one in told_now]


def test_one_action_is_one_message_and_some_jobs_are_their_own(make: Any) -> None:
    frost, gale = found("Ember"), found("Heath", hazard=GALE)
    assert jobs(make, [frost, gale]) == [{"Ember", "Heath"}]
    sun = found("Lane", hazard=SCORCH)
    assert sorted(map(sorted, jobs(make, [frost, sun]))) == [["Ember"], ["Lane"]]
    chill = found("Fig", hazard=CHILL)
    assert sorted(map(sorted, jobs(make, [frost, chill]))) == [["Ember"], ["Fig"]]
    home = found("Inside")
    assert sorted(map(sorted, jobs(make, [frost], [home]))) == [["Ember"], ["Inside"]]


def test_a_tree_to_see_to_where_it_stands_is_not_told_to_stay_there(make: Any) -> None:
    here, home = found("Ember", hazard=ROOT_FROST), found("Ember")
    assert jobs(make, [], [home]) == [{"Ember"}]
    assert jobs(make, [here], [home]) == [{"Ember"}]
    only_notice = replace(here, strength=NOTICE)
    assert jobs(make, [only_notice], [home]) == [{"Ember"}]


def test_under_cover_nothing_is_said_of_drying_while_frozen(make: Any) -> None:
    """A tree under cover hardly dries; it only goes back later."""
    drying = found("Ember", hazard=FROZEN_DRYING)
    assert jobs(make, [drying]) == [{"Ember"}]
    assert jobs(make, [], [drying]) == []


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
    ((advice, when),) = foreseen(outlook_of(make, [frost], now=now), episodes([frost]))
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
    assert bool(reminders(outlook, {key_of(row): row})) is again


def test_what_only_asks_to_act_or_is_forgotten_is_said_once(make: Any) -> None:
    now = SUNSET - HOUR
    milder = outlook_of(make, [found(strength=ACT)], now=now)
    assert reminders(milder, {key_of(TOLD_DEADLY): TOLD_DEADLY}) == []
    assert reminders(outlook_of(make, [DEADLY], now=now), {}) == []
