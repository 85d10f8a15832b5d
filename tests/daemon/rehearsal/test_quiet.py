"""Leaving out passes that can say nothing changes no word of what is told."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from itertools import zip_longest
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner
from garden_toml import BENCH, EMBER, HANDS_ON, HEATH, MEANS, PLACE, SHED
from series_csv import write_series

from underbench.daemon.commands.cli import main
from underbench.daemon.config.settings import load
from underbench.daemon.rehearsal import replay
from underbench.daemon.rehearsal.replay import Heard, Hindsight, Journal, Plan, Rehearsal, plan
from underbench.daemon.weather.csv_series import read_series
from underbench.rules.garden.journal import Entry, Move, Watering, Work
from underbench.rules.garden.works import WorkKind
from underbench.rules.weather.hourly import Weather

DAY = timedelta(days=1)
FIRST = datetime(2024, 3, 1, tzinfo=UTC)
BEGINS, ENDS = datetime(2024, 4, 11, tzinfo=UTC), datetime(2024, 4, 17, tzinfo=UTC)
CALM_FROM = BEGINS - DAY  # with passes that have nothing to say
# Mean air, °C, from that day of the series on: frost on open leaves, then dry heat.
SPELLS_C = {0: 9.0, 42: 0.5, 43: 10.0, 45: 23.0, 47: 11.0}
GARDEN = (
    PLACE + HANDS_ON + MEANS + BENCH + SHED + "room = 1\n" + EMBER + HEATH
    + """
[[tree]]
name = "Thimble"
species = "Acer buergerianum"
litres = 0.4
spot = "top bench"
[[tree]]
name = "Stump"
species = "Carpinus betulus"
litres = 9
spot = "top bench"
[[watering]]
times = ["07:00"]
"""
)  # fmt: skip


def _works() -> Iterator[Entry]:
    yield Work(tree="Heath", at=BEGINS + 1 * DAY, work=WorkKind.REPOT, roots_pct=30)
    yield Move(tree="Ember", at=BEGINS + 2 * DAY, spot="shed")
    yield Move(tree="Ember", at=BEGINS + 4 * DAY, spot="top bench")
    yield Work(tree="Stump", at=BEGINS + 3 * DAY, work=WorkKind.BAG)
    yield Work(tree="Stump", at=BEGINS + 5 * DAY, work=WorkKind.UNBAG)
    yield Watering(tree="Thimble", at=BEGINS + 5 * DAY)


@pytest.fixture(scope="module")
def series(tmp_path_factory: pytest.TempPathFactory, make: Any) -> Path:
    path: Path = tmp_path_factory.mktemp("quiet") / "spring.csv"
    days = np.arange(56)
    mean_c = np.array([SPELLS_C[max(at for at in SPELLS_C if at <= day)] for day in days])
    weather: Weather = make.weather(FIRST, 24 * 56, mean_c=np.repeat(mean_c, 24), swing_k=6.0)
    write_series(path, weather)
    return path


@pytest.fixture(scope="module")
def planned(series: Path) -> Plan:
    config = series.with_name("garden.toml")
    config.write_text(GARDEN, "utf-8")
    settings = load(config, {})
    journal = Journal(tuple(_works()), 0)
    return plan(settings, read_series(series, settings.garden), CALM_FROM, ENDS, journal)


def pass_by_pass(planned: Plan) -> Iterator[Heard]:
    """What a rehearsal tells with no pass left out."""
    supply = Hindsight(planned.series)
    with Rehearsal(planned.settings, supply, planned.journal.entries) as rehearsal:
        for now in planned.moments:
            yield from rehearsal.run(now)[1]


def test_the_same_is_told_as_pass_by_pass(planned: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    run: list[datetime] = []
    passes = replay.run_pass

    def counted(settings: Any, store: Any, supply: Any, now: datetime) -> Any:
        run.append(now)
        return passes(settings, store, supply, now)

    monkeypatch.setattr(replay, "run_pass", counted)
    # Side by side, so that what both work out is worked out once.
    both = list(zip_longest(replay.rehearse(planned), pass_by_pass(planned)))
    heard = [one for one, _ in both]

    assert [(one.at, one.told.message) for one in heard] == [
        (expected.at, expected.told.message) for _, expected in both
    ]
    kinds = {str(one.told.message.kind) for one in heard}
    actions = {one.advice.action for one in heard if one.advice}
    assert kinds >= {"advice", "back"}
    assert actions >= {"protect", "water"}
    assert len(run) < 2 * len(planned.moments) - 2


def test_stopping_by_hand_keeps_what_is_printed(
    planned: Plan, series: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    passes, told = replay.run_pass, []

    def interrupted(settings: Any, store: Any, supply: Any, now: datetime) -> Any:
        if told:
            raise KeyboardInterrupt
        done = passes(settings, store, supply, now)
        told.extend(done.told)
        return done

    monkeypatch.setattr(replay, "run_pass", interrupted)
    config = str(series.with_name("garden.toml"))
    span = ["--from", f"{BEGINS + DAY:%Y-%m-%d}", "--to", f"{ENDS:%Y-%m-%d}"]
    result = CliRunner().invoke(
        main, ["--config", config, "rehearse", "--weather", str(series), *span]
    )

    assert result.exit_code == 130
    assert told[0].message.title in result.stdout
    assert result.stderr.splitlines() == ["Stopped: the rest was not rehearsed."]
