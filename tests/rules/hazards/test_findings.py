"""Counting members, and the weather that is told."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from underbench.rules.garden.inventory import NEVER, Chance, Tree
from underbench.rules.garden.local_time import Stretch
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards import FLOWER_FROST, HOT_BAG, LEAF_FROST
from underbench.rules.hazards.findings import Finding, Strength, find
from underbench.rules.hazards.hazard import Hazard, Judged, held, sustained
from underbench.rules.hazards.judge import bearings_on, judged_in
from underbench.rules.limits.limit import Layer, Limit, MeasuredOn
from underbench.rules.weather.hourly import HOUR_S
from underbench.rules.weather.spread import drawn_sites

START = datetime(2026, 4, 17, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)
LEAF = Limit(MeasuredOn.LEAF, (Layer("class", -2.5, -4.5, "practice"),))


def found(
    value: Any,
    trees: list[Tree],
    chance: Chance | None = None,
    limits: Any = None,
    hazard: Hazard = LEAF_FROST,
) -> list[Finding]:
    """Findings of frost over ``value`` (tree, member, hour)."""
    value = np.asarray(value, dtype=float)
    limits = limits or [LEAF] * len(trees)
    harm, kill = (
        np.array([one and getattr(one, name) for one in limits], dtype=float)[:, None, None]
        for name in ("harm", "kill")
    )
    judged = Judged(hazard, value, value < harm, value < kill, limits)
    times = int(START.timestamp()) + HOUR_S * np.arange(1, value.shape[2] + 1)
    span = Stretch(START, START + 24 * HOUR)
    return find(judged, span, times, trees, chance or Chance())


def night(*minima: float) -> Any:
    """One tree, with members that fall to ``minima`` at the second of three hours."""
    return [[[0.0, low, low + 1.0] for low in minima]]


@pytest.mark.parametrize(
    ("minima", "strength"),
    [
        ([-3.0] + [0.0] * 9, Strength.NOTICE),
        ([-3.0] * 3 + [0.0] * 7, Strength.ACT),
        ([-5.0] * 2 + [0.0] * 8, Strength.DANGER),
        ([-5.0] + [-3.0] * 2 + [0.0] * 7, Strength.ACT),
    ],
)
def test_strength_is_the_share_of_members_harmed_or_killed(
    make: Any, minima: list[float], strength: Strength
) -> None:
    """The keeper acts from a chance of harm of 0.3, and of death of 0.15."""
    assert [f.strength for f in found(night(*minima), [make.tree()])] == [strength]


def test_one_member_in_twenty_says_nothing(make: Any) -> None:
    assert found(night(-9.0, *[0.0] * 19), [make.tree()]) == []


def test_a_trees_own_chance_wins_over_the_gardens(make: Any) -> None:
    minima = [-3.0] * 2 + [0.0] * 8
    prized, tough = make.tree("Prized", act_from=0.2), make.tree("Tough", act_from=0.9)
    both = found(night(*minima) * 2, [prized, tough])
    assert [(f.tree, f.strength) for f in both] == [
        ("Prized", Strength.ACT),
        ("Tough", Strength.NOTICE),
    ]
    assert found(night(*minima), [make.tree(act_from=0.0, kill_from=0.0)])[0].strength is (
        Strength.DANGER
    )


@pytest.mark.parametrize(
    ("own", "garden", "strength"),
    [
        (None, 0.5, Strength.NOTICE),  # four members in ten lose their flowers
        (None, 0.3, Strength.ACT),
        (0.3, 0.5, Strength.ACT),
        (NEVER, 0.3, None),
        (None, NEVER, None),
    ],
)
def test_flowers_have_a_chance_of_their_own_that_can_be_turned_off(
    make: Any, own: float | None, garden: float, strength: Strength | None
) -> None:
    tree, minima = make.tree(flowers_from=own, act_from=0.0), [-3.0] * 4 + [0.0] * 6
    chance = Chance(flowers_from=garden)
    told = found(night(*minima), [tree], chance=chance, hazard=FLOWER_FROST)
    assert [f.strength for f in told] == ([strength] if strength else [])


def test_what_is_told_is_a_member_and_not_a_mean(make: Any) -> None:
    """Hours and values are those of one member: the median of the harmed ones."""
    told = found(night(-2.6, -3.0, -4.0, 5.0, 9.0), [make.tree()])[0]
    assert told.worst == -3.0
    assert told.worst_at == START + 2 * HOUR
    assert (told.first_at, told.until_at) == (START + 2 * HOUR, START + 2 * HOUR)
    assert (told.chance, told.kill_chance) == (0.6, 0.0)
    longer = found(night(-4.2, -4.2, -4.2), [make.tree()])[0]
    assert longer.until_at == START + 3 * HOUR


def test_a_hazard_that_does_not_apply_is_never_found(make: Any) -> None:
    both = found(night(-30.0) * 2, [make.tree("A"), make.tree("B")], limits=[None, LEAF])
    assert [f.tree for f in both] == ["B"]


def test_hours_without_a_value_are_not_told(make: Any) -> None:
    """A bag shut at noon has no inside before noon. Only hours in which it was hot are told."""
    told = found([[[np.nan, -3.0, -4.0]]], [make.tree()])[0]
    assert (told.worst, told.worst_at) == (-4.0, START + 3 * HOUR)


def test_an_episode_keeps_its_key_when_its_values_change(make: Any) -> None:
    first, later = (found(night(low), [make.tree()])[0] for low in (-3.0, -4.0))
    assert first.key == later.key


# ---- hours in a row, and hours in a day ---------------------------------------------------------


@given(st.lists(st.booleans(), min_size=1, max_size=40), st.integers(1, 6))
def test_sustained_is_so_many_hours_running(dry: list[bool], hours: int) -> None:
    """Against plain counting."""
    expected, run = [], 0
    for now in dry:
        run = run + 1 if now else 0
        expected.append(run >= hours)
    assert sustained(np.array([[dry]]), hours).tolist() == [[expected]]


@given(st.lists(st.booleans(), min_size=1, max_size=40), st.integers(1, 6))
def test_heat_adds_up_over_a_day_with_breaks_or_without(hot: list[bool], hours: int) -> None:
    """Against plain counting. An hour that is not hot does no harm."""
    expected = [now and sum(hot[: i + 1]) >= hours for i, now in enumerate(hot)]
    assert held(np.array([[hot]]), hours).tolist() == [[expected]]


def test_a_bag_is_hot_in_the_members_that_draw_it_so(make: Any) -> None:
    """A bag's inside is known to 5 K. At 1 K below the limit some members are over the limit."""
    trees, noon = [make.tree()], datetime(2026, 4, 12, tzinfo=UTC)
    journal = [make.work("Ember", noon - timedelta(days=3), WorkKind.BAG)]
    course = make.follow(trees, make.weather(noon, 24), journal)
    setting, night = make.setting(trees), Stretch(noon, noon + timedelta(days=1))
    (borne,) = bearings_on(setting, course, noon.date())
    inside = np.full((1, 3, 24), borne[HOT_BAG.key].harm - 1.0)
    site = replace(drawn_sites(3), bag_shift_k=np.array([-4.0, 0.0, 4.0]))
    course = replace(course, exposure=replace(course.exposure, bag_c=inside))
    judged = judged_in(setting, course, site, night, HOT_BAG)[1]
    assert judged is not None
    assert judged.harm[0, :, -1].tolist() == [False, False, True]
