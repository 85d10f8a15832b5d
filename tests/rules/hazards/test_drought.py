"""Water: nothing is told while the routine or the rain suffices, or while the pot is frozen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from typing import Any

import numpy as np
import pytest

from underbench.rules.garden.inventory import Chance, Routine
from underbench.rules.garden.local_time import Stretch
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards import DRY_FREEZE, DRY_POT
from underbench.rules.hazards.findings import Finding, find
from underbench.rules.hazards.hazard import Hazard
from underbench.rules.hazards.judge import judged_in, left_of
from underbench.rules.physics.state import State
from underbench.rules.weather.spread import known_site

JULY = datetime(2026, 7, 6, tzinfo=UTC)
DAY, WEEK = timedelta(days=1), timedelta(weeks=1)
DAILY = (Routine(times=(time(7),)),)


def told(findings: Sequence[Finding], *hazards: Hazard) -> set[str]:
    """The trees found for these hazards."""
    return {f.tree for f in findings if f.hazard in hazards}


def warm_week(make: Any, **more: Any) -> Any:
    given = {"mean_c": 21.0, "swing_k": 6.0, "dew_drop_k": 8.0, "wind_ms": 2.0, **more}
    return make.weather(JULY, 24 * 5, **given)


def test_nothing_is_said_of_water_where_no_routine_is_recorded(make: Any) -> None:
    assert told(make.findings([make.tree()], warm_week(make)), DRY_POT) == set()


def test_a_pot_the_routine_keeps_going_is_silent_until_the_keeper_is_away(make: Any) -> None:
    trees = [make.tree(litres=10.0)]
    home = make.setting(trees, DAILY)
    gone = make.setting(trees, DAILY, make.away(date(2026, 7, 7), date(2026, 7, 20)))
    assert told(make.findings(trees, warm_week(make), setting=home), DRY_POT) == set()
    found = make.findings(trees, warm_week(make), setting=gone)
    dry = [f for f in found if f.hazard is DRY_POT]
    assert {f.tree for f in dry} == {"Ember"}
    assert min(f.first_at for f in dry) > JULY + DAY  # watered on the last morning at home


def test_rain_does_the_watering_but_not_under_a_roof(make: Any) -> None:
    trees = [make.tree(litres=10.0), make.tree("Housed", litres=10.0, spot="shed")]
    gone = make.setting(trees, DAILY, make.away(date(2026, 7, 7), date(2026, 7, 20)))
    wet = warm_week(make, rain_mm=1.0, cloud=0.9)
    assert told(make.findings(trees, wet, setting=gone), DRY_POT) == set()
    course = make.follow(trees, wet, setting=gone)
    assert (np.diff(course.exposure.water_left[1, 0, 24:]) <= 0).all()  # roofed: it only dries
    assert course.exposure.water_left[0, 0, -1] > 0.9


def test_a_fresh_repot_drinks_little(make: Any) -> None:
    """A fresh repot drowns sooner than it dries: common practice, no source."""
    trees = [make.tree("Repotted", litres=10.0), make.tree("Settled", litres=10.0)]
    journal = [make.work("Repotted", JULY - WEEK, WorkKind.REPOT)]
    left = make.follow(trees, warm_week(make), journal).exposure.water_left[:, 0, 20]
    assert 1 - left[0] < 0.75 * (1 - left[1])  # the mix still dries at its surface


def test_an_hour_dry_is_too_short_to_tell_and_half_a_day_kills(make: Any) -> None:
    """Judgement, no source: two hours harm, and twelve with next to nothing left kill."""
    trees = [make.tree()]
    course = make.follow(trees, make.weather(JULY, 24))
    setting, day = make.setting(trees), Stretch(JULY, JULY + DAY)

    def told_of(hours: int) -> tuple[bool, bool]:
        left = np.full((1, 1, 24), 0.5)
        left[..., 3 : 3 + hours] = 0.01
        felt = replace(course, exposure=replace(course.exposure, water_left=left))
        judged = judged_in(setting, felt, known_site(), day, DRY_POT)[1]
        assert judged is not None
        return bool(judged.harm.any()), bool(judged.kill.any())

    assert [told_of(hours) for hours in (1, 2, 11, 12)] == [
        (False, False),
        (True, False),
        (True, False),
        (True, True),
    ]


@pytest.mark.parametrize(
    ("species", "left", "freezes", "found"),
    [
        ("Pinus sylvestris", 0.45, (10, 24), True),
        ("Pinus sylvestris", 0.6, (10, 24), False),  # wet enough
        ("Pinus sylvestris", 0.45, (10, 16), False),  # a crust that the morning thaws
        ("Pinus sylvestris", 0.45, (0, 24), False),  # frozen already: it takes no water
        ("Acer palmatum", 0.45, (10, 24), False),  # bare twigs lose little
        ("Acer palmatum", 0.25, (10, 24), True),
    ],
)
def test_a_dry_pot_is_watered_before_a_long_frost(
    make: Any, species: str, left: float, freezes: tuple[int, int], found: bool
) -> None:
    """Common practice, no source."""
    tree = make.tree("Heath", species)
    noon = datetime(2026, 1, 10, 12, tzinfo=UTC)
    course = make.follow([tree], make.weather(noon, 24))
    ball_c = np.full((1, 1, 24), 4.0)
    ball_c[..., slice(*freezes)] = -6.0
    felt = replace(
        course.exposure, water_left=np.full((1, 1, 24), left), shell_c=ball_c, core_c=ball_c
    )
    frosty = replace(course, exposure=felt)
    night = Stretch(noon, noon + DAY)
    judged = judged_in(make.setting([tree]), frosty, known_site(), night, DRY_FREEZE)[1]
    assert judged is not None
    assert (judged.harm.any(), judged.kill.any()) == (found, False)


def test_what_was_dry_before_the_watering_is_not_held_against_it(make: Any) -> None:
    """A pot is dry from 8 to 18 h; it is watered at 18 h, and moist afterwards."""
    tree = make.tree()
    course = make.follow([tree], make.weather(JULY, 24))
    left = np.full((1, 1, 24), 0.6)
    left[..., 8:18] = 0.01
    felt = replace(course, exposure=replace(course.exposure, water_left=left))
    setting, day = make.setting([tree], DAILY), Stretch(JULY, JULY + DAY)
    judged = judged_in(setting, felt, known_site(), day, DRY_POT)[1]
    assert judged is not None
    (dry,) = find(judged, day, felt.times, [tree], Chance())
    watered_at = JULY + timedelta(hours=18)
    for done, chance, worst in (([], 1.0, 0.01), ([watered_at], 0.0, 0.6)):
        harmed, least = left_of(setting, felt, known_site(), dry, done)
        assert (float(harmed[0]), float(least[0])) == (chance, pytest.approx(worst))


def test_a_dry_pot_frozen_through_is_left_alone(make: Any) -> None:
    january = datetime(2026, 1, 10, tzinfo=UTC)
    trees = [make.tree("Heath", "Pinus sylvestris")]
    away = make.setting(trees, DAILY, make.away(date(2026, 1, 1), date(2026, 1, 31)))
    for mean_c, expected in ((-9.0, set()), (8.0, {"Heath"})):
        start = dried(make.begin(trees, mean_c))
        weather = make.weather(january, 72, mean_c=mean_c, swing_k=3.0)
        found = make.findings(trees, weather, setting=away, start=start)
        assert told(found, DRY_POT) == expected


def dried(state: State) -> State:
    low = 0.1 * state.water_left
    return replace(state, water_l=0.1 * state.water_l, water_left=low, wetness=low)
