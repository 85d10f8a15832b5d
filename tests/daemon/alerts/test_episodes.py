"""The life of an episode, step by step, on bare rows and findings."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest
from bare_outlook import found
from told_rows import DAY, HOUR, NIGHT_ENDS, NOW, told

from underbench.daemon.alerts.episodes import as_told, called_off, carry_on, untold
from underbench.daemon.store.episodes import EASED, FORESEEN, HANDLED, OVER, TOLD, EpisodeRow
from underbench.rules.advice.advice import Advice, Job
from underbench.rules.advice.remedies import Choice, Way
from underbench.rules.advice.remedy import FLEECE_2, FULL_SHADE, HALF_SHADE, INTO_SPOT, STAY, Remedy
from underbench.rules.garden.inventory import Standing
from underbench.rules.hazards.chill import CHILL
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.hazard import Action, Hazard
from underbench.rules.hazards.leaf_frost import LEAF_FROST
from underbench.rules.limits.limit import MeasuredOn
from underbench.rules.physics.places import Place

SHED = Place(0.0, 0, 0, 0.0, 0.0, Standing.GROUND)
A_SECOND = timedelta(seconds=1)
ACT_FROM = {"Ember": 0.4}  # from half of it, 0.2, a told hazard stays told
FORESEEN_ROW = told("Ember", state=FORESEEN, told_at=None, told_strength=None, told_do_by=None)
TOLD_ROW = told("Ember")
HANDLED_ROW = told("Ember", state=HANDLED, handled_at=NOW - HOUR / 2)
FROST = found()
FADING = found(strength=Strength.NOTICE, chance=0.19)
LIKELY = found(strength=Strength.NOTICE, chance=0.2)


def carried(row: EpisodeRow | None, finding: Finding | None, now: datetime = NOW) -> EpisodeRow:
    """The one episode after a pass at ``now``."""
    rows, findings = [row] if row else [], [finding] if finding else []
    deadlines = {one.key: one.first_at - 7 * HOUR for one in findings}
    (after,) = carry_on(rows, findings, deadlines, ACT_FROM, now)
    return after


def calm_for(span: timedelta, row: EpisodeRow = TOLD_ROW) -> EpisodeRow:
    return replace(row, calm_since=NOW - span)


@pytest.mark.parametrize(
    ("before", "finding", "state", "calm_since"),
    [
        (None, FROST, FORESEEN, None),
        (FORESEEN_ROW, FROST, FORESEEN, None),
        (TOLD_ROW, FROST, TOLD, None),
        (HANDLED_ROW, FROST, HANDLED, None),
        # Milder: an untold hazard eases at once, a told one after seven hours.
        (FORESEEN_ROW, FADING, EASED, NOW),
        (TOLD_ROW, FADING, TOLD, NOW),
        (HANDLED_ROW, FADING, HANDLED, NOW),
        (calm_for(7 * HOUR - A_SECOND), FADING, TOLD, NOW - 7 * HOUR + A_SECOND),
        (calm_for(7 * HOUR), FADING, EASED, NOW - 7 * HOUR),
        # A chance of half the act-from chance or more is not milder. Nor is a finding to act on.
        (calm_for(6 * HOUR), LIKELY, TOLD, None),
        (calm_for(6 * HOUR), found(chance=0.1), TOLD, None),
        # Out of the forecast altogether.
        (FORESEEN_ROW, None, EASED, NOW),
        (TOLD_ROW, None, TOLD, NOW),
        (calm_for(7 * HOUR - A_SECOND), None, TOLD, NOW - 7 * HOUR + A_SECOND),
        (calm_for(7 * HOUR), None, EASED, NOW - 7 * HOUR),
        (calm_for(7 * HOUR, HANDLED_ROW), None, EASED, NOW - 7 * HOUR),
        # It comes back as the same episode.
        (replace(calm_for(9 * HOUR), state=EASED), FROST, TOLD, None),
        (replace(FORESEEN_ROW, state=EASED, calm_since=NOW - HOUR), FROST, FORESEEN, None),
        (replace(HANDLED_ROW, state=OVER), FROST, HANDLED, None),
    ],
)
def test_an_episode_goes_by_what_is_found_of_it(
    before: EpisodeRow | None, finding: Finding | None, state: str, calm_since: datetime | None
) -> None:
    after = carried(before, finding)
    assert (after.state, after.calm_since) == (state, calm_since)


@pytest.mark.parametrize(
    ("row", "at", "state"),
    [
        (TOLD_ROW, TOLD_ROW.until_at - A_SECOND, TOLD),
        (TOLD_ROW, TOLD_ROW.until_at, OVER),
        (HANDLED_ROW, HANDLED_ROW.until_at, OVER),
        (FORESEEN_ROW, FORESEEN_ROW.until_at, OVER),
        # A bag's week or a tropical's season may have a last bad hour beyond its span.
        (told("Ember", until_at=NIGHT_ENDS + DAY), NIGHT_ENDS, OVER),
    ],
)
def test_it_is_over_when_its_last_bad_hour_or_its_span_has_passed(
    row: EpisodeRow, at: datetime, state: str
) -> None:
    assert carried(replace(row, calm_since=at - HOUR), None, at).state == state


@pytest.mark.parametrize("state", [EASED, OVER])
def test_what_has_ended_stays_as_it_is(state: str) -> None:
    ended = replace(TOLD_ROW, state=state, calm_since=NOW - DAY)
    assert carried(ended, None) is ended


def test_a_new_episode_is_the_finding_with_its_deadline() -> None:
    row = carried(None, FROST)
    assert (row.tree, row.hazard, row.span_start) == FROST.key
    assert (row.chance, row.worst, row.limit_value) == (0.8, -3.0, -2.5)
    assert (row.from_at, row.until_at) == (FROST.first_at, FROST.until_at)
    assert (row.do_by, row.first_seen, row.updated) == (FROST.first_at - 7 * HOUR, NOW, NOW)
    assert (row.told_at, row.told_strength) == (None, None)


def test_an_episode_seen_again_is_brought_up_to_date_and_keeps_what_was_told() -> None:
    worse = found(strength=Strength.DANGER, chance=0.9, worst=-5.0, first_at=FROST.first_at - HOUR)
    row = carried(TOLD_ROW, worse, NOW + HOUR)
    assert (row.strength, row.chance, row.worst) == ("danger", 0.9, -5.0)
    assert (row.from_at, row.do_by) == (worse.first_at, worse.first_at - 7 * HOUR)
    assert (row.first_seen, row.updated) == (TOLD_ROW.first_seen, NOW + HOUR)
    assert (row.told_at, row.told_strength, row.told_do_by) == (
        TOLD_ROW.told_at,
        "act",
        TOLD_ROW.told_do_by,
    )


@pytest.mark.parametrize(("chance", "calm"), [(0.12, False), (0.05, True)])
def test_what_went_along_with_little_of_a_chance_is_not_calm_at_once(
    chance: float, calm: bool
) -> None:
    row = replace(TOLD_ROW, told_chance=0.12)
    now_found = found(strength=Strength.NOTICE, chance=chance)
    (seen,) = carry_on([row], [now_found], {now_found.key: NOW}, {"Ember": 0.3}, NOW)
    assert (seen.calm_since is not None) is calm


def test_of_several_each_is_carried_on_by_itself() -> None:
    other, next_night = found("Heath"), found(ends=NIGHT_ENDS + DAY)
    findings = [other, next_night]
    rows = carry_on([TOLD_ROW], findings, {f.key: NOW for f in findings}, {}, NOW)
    assert [(row.tree, row.span_end, row.state) for row in rows] == [
        ("Heath", NIGHT_ENDS, FORESEEN),
        ("Ember", NIGHT_ENDS + DAY, FORESEEN),
        ("Ember", NIGHT_ENDS, TOLD),
    ]


@pytest.mark.parametrize(("remedy", "kept"), [(FLEECE_2, None), (INTO_SPOT, NOW + DAY)])
def test_covers_are_left_on_until_the_keeper_is_told(remedy: Remedy, kept: datetime | None) -> None:
    """While the end of a cold spell is not known, no moment is promised."""
    covered = replace(INTO_SHED, way=replace(INTO_SHED.way, remedy=remedy))
    row = as_told(TOLD_ROW, NOW, advice(open_ended=True), job(choice=covered))
    assert row.back_at == kept


@pytest.mark.parametrize(
    ("remedy", "leave_up", "kept"),
    [
        (HALF_SHADE, {"Ember"}, None),
        (HALF_SHADE, {}, NOW + DAY),
        (HALF_SHADE, {"Heath"}, NOW + DAY),
        (FULL_SHADE, {"Ember"}, NOW + DAY),  # no tree is to stand in the dark for weeks
    ],
)
def test_cloth_is_left_up_until_the_keeper_is_told(
    remedy: Remedy, leave_up: Collection[str], kept: datetime | None
) -> None:
    shaded = replace(INTO_SHED, way=replace(INTO_SHED.way, remedy=remedy))
    told_now = advice(leave_up=frozenset(leave_up))
    assert as_told(TOLD_ROW, NOW, told_now, job(choice=shaded)).back_at == kept


# What has to be told


@pytest.mark.parametrize(
    ("strength", "row", "news"),
    [
        (Strength.NOTICE, None, False),
        (Strength.NOTICE, FORESEEN_ROW, False),
        (Strength.ACT, None, True),
        (Strength.ACT, FORESEEN_ROW, True),
        (Strength.ACT, TOLD_ROW, False),
        (Strength.ACT, told("Ember", told_strength="notice"), True),
        (Strength.DANGER, TOLD_ROW, True),
        (Strength.DANGER, told("Ember", told_strength="danger"), False),
        (Strength.ACT, told("Ember", told_strength="danger"), False),
        (Strength.DANGER, HANDLED_ROW, True),  # the help given may not be enough
    ],
)
def test_what_is_untold_or_was_told_as_weaker_is_news(
    strength: Strength, row: EpisodeRow | None, news: bool
) -> None:
    assert untold(found(strength=strength), row) is news


@pytest.mark.parametrize(
    ("earlier", "given", "news"),
    [
        (3 * HOUR, {}, True),
        (3 * HOUR - A_SECOND, {}, False),
        (-9 * HOUR, {}, False),
        (3 * HOUR, {"handled_at": NOW}, False),  # it is done, however early it is due
        (3 * HOUR, {"told_do_by": None}, False),
    ],
)
def test_a_deadline_three_hours_nearer_is_news_while_nobody_has_said_that_it_is_done(
    earlier: timedelta, given: dict[str, Any], news: bool
) -> None:
    assert TOLD_ROW.told_do_by is not None
    row = replace(TOLD_ROW, do_by=TOLD_ROW.told_do_by - earlier, **given)
    assert untold(FROST, row) is news


# Told, and called off


INTO_SHED = Choice(Way(INTO_SPOT, SHED, "shed"), True, 0.0, 1.0, MeasuredOn.LEAF, False)
STAYS = Choice(Way(STAY, SHED, "cold frame"), True, 0.0, 1.0, MeasuredOn.LEAF, False)


def job(hazard: Hazard = LEAF_FROST, **given: Any) -> Job:
    usual = {"choice": replace(INTO_SHED, suffices=given.pop("suffices", True))}
    return Job("Ember", "cold frame", (found(hazard=hazard),), **{**usual, **given})


def advice(
    do_by: datetime = NOW + HOUR,
    *,
    open_ended: bool = False,
    leave_up: frozenset[str] = frozenset(),
) -> Advice:
    return Advice(
        Action.PROTECT, Strength.DANGER, do_by, True, NOW + DAY, (job(),), open_ended, leave_up
    )


@pytest.mark.parametrize(
    ("done", "remedy", "into"),
    [
        (job(), "into-spot", "shed"),
        (job(choice=None), "shelter", None),
        (job(choice=STAYS), "stay", "cold frame"),  # where it stands already
        (job(CHILL), "into-spot", "shed"),
        (job(CHILL, suffices=False), "indoors", None),
        (job(suffices=False), "into-spot", "shed"),
    ],
)
def test_what_was_told_is_kept_with_the_spot_it_leads_to(
    done: Job, remedy: str, into: str | None
) -> None:
    row = as_told(FORESEEN_ROW, NOW, advice(), done)
    assert (row.state, row.told_at, row.back_at) == (TOLD, NOW, NOW + DAY)
    assert (row.remedy, row.into_spot) == (remedy, into)
    assert (row.told_worst, row.told_limit, row.told_chance) == (-3.0, -2.5, 0.8)


def test_a_tree_told_with_others_is_told_as_strong_as_they_are() -> None:
    """Otherwise the tree would be told again as soon as it is in the same danger."""
    row = as_told(FORESEEN_ROW, NOW, advice(), job())
    assert row.told_strength == "danger"
    assert not untold(found(strength=Strength.DANGER), row)


@pytest.mark.parametrize(
    ("before", "now_by", "kept"),
    [
        (None, NOW + HOUR, NOW + HOUR),
        (NOW + 2 * HOUR, NOW + HOUR, NOW + HOUR),
        (NOW + HOUR, NOW + 2 * HOUR, NOW + HOUR),
    ],
)
def test_the_earliest_deadline_told_is_kept(
    before: datetime | None, now_by: datetime, kept: datetime
) -> None:
    """A deadline that goes to and fro is not told each time."""
    row = as_told(replace(TOLD_ROW, told_do_by=before), NOW, advice(now_by), job())
    assert row.told_do_by == kept


def test_told_anew_it_is_to_be_done_anew() -> None:
    marks = dict.fromkeys(
        ("handled_at", "calm_since", "reminded_at", "back_told_at", "asked_at"), NOW - HOUR
    )
    row = as_told(replace(HANDLED_ROW, **marks), NOW, advice(), job())
    assert {getattr(row, mark) for mark in marks} == {None}


def test_called_off_it_is_told_again_should_it_come_back() -> None:
    row = called_off(TOLD_ROW, NOW)
    assert (row.told_at, row.told_strength, row.told_do_by) == (None, None, None)
    assert untold(FROST, row)
