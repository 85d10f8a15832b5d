"""A tree's past outlives an edit of the file, and reaches back before the record."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from garden_toml import BENCH, EMBER, HANDS_ON, PLACE, SHED

from underbench.daemon.outlook import checkpoints
from underbench.rules.garden.journal import Work
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards.judge import bearings_on

DAY = timedelta(days=1)
FIRST_DAY = datetime(2024, 2, 20, tzinfo=UTC)
NOW = datetime(2024, 4, 23, 15, 10, tzinfo=UTC)

HEAD = PLACE + HANDS_ON + BENCH + EMBER
Labs = Callable[..., Any]


@pytest.fixture
def spring(labs: Labs, make: Any) -> Any:
    """A garden watched since February. Its weather before the last ten days is lost."""
    daily = np.linspace(3, 12, 70).repeat(24)
    weather = make.weather(FIRST_DAY, len(daily), mean_c=daily, swing_k=5.0)
    garden = labs(HEAD, weather)
    garden.store.journal.add([Work(tree="Ember", at=NOW - 25 * DAY, work=WorkKind.REPOT)])
    garden.run(NOW - DAY)
    garden.store.db.execute("DELETE FROM hour WHERE at < ?", [(NOW - 10 * DAY).timestamp()])
    garden.run(NOW)
    assert len(garden.store.hours.between(FIRST_DAY, NOW).times) < 11 * 24
    return garden


def test_renaming_the_garden_changes_nothing_at_all(spring: Any) -> None:
    before = spring.run(NOW).outlook
    kept = spring.store.checkpoints.before(NOW)
    spring.configure(HEAD.replace("Orchard End", "Orchard's End"))
    after = spring.run(NOW).outlook
    assert spring.store.checkpoints.before(NOW) == kept  # nothing was walked again
    assert after.state.root_warmth_cd.tolist() == before.state.root_warmth_cd.tolist()
    assert after.state.water_left.tolist() == before.state.water_left.tolist()
    assert after.stage(0) == before.stage(0)
    assert after.findings == before.findings


@pytest.mark.parametrize(
    "edited",
    [HEAD + SHED, HEAD.replace("litres = 4", "litres = 5"), SHED.join(["", HEAD])],
    ids=["a spot more", "a bigger pot", "another order"],
)
def test_an_edit_of_the_file_keeps_season_and_roots(spring: Any, edited: str) -> None:
    """Ember's slow clocks have run since February, and only checkpoints are left of that time."""
    before = spring.run(NOW).outlook
    spring.configure(edited)
    after = spring.run(NOW).outlook
    warmth = before.state.root_warmth_cd[0]
    assert warmth > 50
    # Eight days in another pot may change the result by some hundredths.
    np.testing.assert_allclose(after.state.root_warmth_cd[0], warmth, rtol=0.05)
    np.testing.assert_allclose(after.state.warmth_cd, before.state.warmth_cd, rtol=1e-6)
    assert after.stage(0) == before.stage(0)
    work = after.open_works()["Ember"]
    assert (work.work, work.at) == (WorkKind.REPOT, before.open_works()["Ember"].at)


def test_an_edit_is_walked_once_and_then_carried(spring: Any) -> None:
    spring.configure(HEAD + SHED)
    once = spring.run(NOW).outlook
    again = spring.run(NOW).outlook
    np.testing.assert_array_equal(again.state.water_left, once.state.water_left)
    np.testing.assert_array_equal(again.state.root_warmth_cd, once.state.root_warmth_cd)


def test_with_new_rules_every_tree_is_walked_again_and_what_was_told_stays_told(
    labs: Labs, make: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    daily = np.linspace(3, 12, 70).repeat(24)
    daily[-24 * 7 :] = 2.0  # cold for open leaves: told before the change
    garden = labs(HEAD, make.weather(FIRST_DAY, len(daily), mean_c=daily, swing_k=5.0))
    before = garden.run(NOW)
    kept = garden.store.checkpoints.before(NOW)["Ember"]
    monkeypatch.setattr(checkpoints, "RULES_VERSION", "as of tomorrow")
    after = garden.run(NOW + timedelta(hours=1))
    walked = garden.store.checkpoints.before(NOW)["Ember"]
    assert (walked.at, walked.stamp.split(":")[0]) == (kept.at, "as of tomorrow")
    assert walked.state == kept.state  # the same rules in truth, over the same hours
    assert before.told
    assert after.told == ()


@pytest.mark.parametrize(("severed", "floor_c"), [((6, 10), -2.0), ((11, 20), -0.3)])
def test_a_layer_older_than_the_record_has_rooted_by_its_first_winter(
    labs: Labs, make: Any, severed: tuple[int, int], floor_c: float
) -> None:
    """Underbench is first installed in December. A layer severed in June has its first-winter floor
    of −2 °C, and not the 0 °C of cut roots, for which ice is harm (common practice, no source)."""
    december = datetime(2024, 12, 10, 15, 10, tzinfo=UTC)
    start = datetime(2024, 11, 15, tzinfo=UTC)
    daily = np.linspace(6, 1, 36).repeat(24)
    garden = labs(HEAD, make.weather(start, len(daily), mean_c=daily, swing_k=4.0))
    at = datetime(2024, *severed, 12, tzinfo=UTC)
    garden.store.journal.add([Work(tree="Ember", at=at, work=WorkKind.SEVER_LAYER)])
    outlook = garden.run(december).outlook
    (bearing,) = bearings_on(outlook.setting, outlook.course, december.date())
    assert bearing.get("root-frost") is not None
    assert bearing.get("root-frost").harm == floor_c
    assert bearing.get("root-frost").work is not None
