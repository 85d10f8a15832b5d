"""`underbench rehearse`: the real command over small series, and what it must never touch."""

from __future__ import annotations

import csv
import json
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from hashlib import sha256
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from click.testing import CliRunner, Result
from garden_toml import BENCH, EMBER, FIG, HANDS_ON, HEATH, MEANS, PLACE, SHED

from underbench.daemon.alerts.compose import Said, Told
from underbench.daemon.alerts.message_kinds import Kind
from underbench.daemon.commands.cli import main
from underbench.daemon.config.settings import load
from underbench.daemon.rehearsal.replay import (
    EVERY_H,
    Journal,
    Keeper,
    decision_hours,
    journal_for,
    plan,
    rehearse,
)
from underbench.daemon.store.store import Message, Store
from underbench.daemon.weather.csv_series import read_series
from underbench.rules.advice.advice import Advice, Job
from underbench.rules.advice.remedies import Choice, Way
from underbench.rules.advice.remedy import INTO_SPOT
from underbench.rules.garden.inventory import Away, Standing
from underbench.rules.garden.journal import Handled, Move
from underbench.rules.garden.local_time import Stretch
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards import DRY_POT, LEAF_FROST
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.hazard import Action
from underbench.rules.limits.limit import Layer, Limit, MeasuredOn
from underbench.rules.physics.places import Place
from underbench.rules.weather.hourly import HOUR_S, Weather

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
FIRST = datetime(2024, 1, 15, tzinfo=UTC)
SPRING = datetime(2024, 3, 5, tzinfo=UTC)
FROST = datetime(2024, 4, 24, tzinfo=UTC)  # 50 days of spring before it: maples are in leaf
LEAD = ["--from", "2024-04-23T12:00", "--to", "2024-04-24T12:00"]

GARDEN = PLACE + HANDS_ON + MEANS + BENCH + SHED + "room = 1\n" + EMBER + HEATH


@pytest.fixture(autouse=True)
def _no_state_of_one_s_own(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(tmp_path / "state"))
    monkeypatch.setenv("STATE_DIRECTORY", str(tmp_path / "state"))


class Bench:
    """A garden, its store and its weather files, in a folder of their own."""

    def __init__(self, folder: Path) -> None:
        self.config, self.csv = folder / "garden.toml", folder / "spring.csv"
        self.config.write_text(GARDEN, "utf-8")
        self.store = load(self.config).store_path

    def rehearse(self, *arguments: str) -> Result:
        command = ["--config", str(self.config), "rehearse", "--weather", str(self.csv)]
        return CliRunner().invoke(main, [*command, *arguments])

    def json(self, *arguments: str) -> dict[str, Any]:
        result = self.rehearse("--json", *arguments)
        assert result.exit_code == 0, result.output
        body: dict[str, Any] = json.loads(result.stdout)
        return body

    def write(self, weather: Weather, without: range = range(0)) -> None:
        with self.csv.open("w", encoding="utf-8", newline="") as file:
            out = csv.writer(file)
            out.writerow(["time", "temperature_c", "dew_point_c", "wind_ms", "cloud_pct"])
            for i in (i for i in range(weather.hours) if i not in without):
                at = datetime.fromtimestamp(int(weather.times[i]), tz=UTC)
                row = [weather.air_c[0, i], weather.dew_c[0, i], weather.wind_ms[0, i]]
                out.writerow([f"{at:%Y-%m-%dT%H:%M}", *row, 100 * weather.cloud[0, i]])


@pytest.fixture
def bench(tmp_path: Path, make: Any) -> Bench:
    """A mild spring, and one clear night of −5 °C when the leaves are out."""
    bench = Bench(tmp_path)
    bench.write(spring(make, frost_c=-5.0))
    return bench


@pytest.fixture(scope="module")
def lead(make: Any, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Any]:
    """What that garden would have been told round the night of frost."""
    folder = tmp_path_factory.mktemp("lead")
    with pytest.MonkeyPatch.context() as patched:
        patched.setenv("XDG_STATE_HOME", str(folder / "state"))
        patched.setenv("STATE_DIRECTORY", str(folder / "state"))
        bench = Bench(folder)
        bench.write(spring(make, frost_c=-5.0))
        return bench.json(*LEAD)


def advice_in(body: dict[str, Any]) -> list[dict[str, Any]]:
    return [message for message in body["messages"] if message["kind"] == Kind.ADVICE]


def spring(make: Any, frost_c: float, nights: int = 1) -> Weather:
    days = 60
    mean_c = np.full(24 * days, 12.0)
    first = int((FROST - SPRING) / HOUR)
    for night in range(first, first + 24 * nights, 24):
        mean_c[night - 6 : night + 12] = frost_c + 5.0
    whole: Weather = make.weather(SPRING, 24 * days, mean_c=mean_c, cloud=0.0)
    return whole


def test_a_frost_on_open_leaves_is_told_before_its_night(lead: dict[str, Any]) -> None:
    told = lead["messages"]
    assert told
    first = told[0]
    assert first["action"] == "protect"
    assert "Ember" in [tree["tree"] for tree in first["trees"]]
    assert datetime.fromisoformat(first["at"]) < FROST - 6 * HOUR
    assert first["findings"][0]["hazard"] == "leaf-frost"


def test_a_spell_longer_than_the_forecast_is_told_once(bench: Bench, make: Any) -> None:
    """Seven cold nights, and a forecast of five days: the covers are left on until the keeper is
    told to take them off."""
    bench.config.write_text(GARDEN.replace("room = 1", "room = 0"), "utf-8")
    bench.write(spring(make, frost_c=-3.0, nights=7))
    settings = load(bench.config)
    series = read_series(bench.csv, settings.garden)
    whole = plan(settings, series, FROST - DAY, FROST + 5 * DAY, Journal((), 0))
    few = replace(whole, moments=whole.moments[1::4])  # some by day, some by night
    (told,) = [one.advice for one in rehearse(few) if one.advice]
    assert told.do_by > min(finding.span.start for finding in told.findings)


def test_a_tropical_that_was_brought_indoors_for_the_season_is_told_once(
    bench: Bench, make: Any
) -> None:
    """Chilly all along, then killing cold, which comes into the five days' sight on the 18th; the
    file has no room, so it stays where it was noted."""
    bench.config.write_text(GARDEN + FIG, "utf-8")
    mean_c = np.full(24 * 12, 10.0)
    mean_c[24 * 8 - 1 :] = 1.0
    bench.write(make.weather(FIRST, len(mean_c), mean_c=mean_c, swing_k=0.0, cloud=1.0))
    told = bench.json("--from", "2024-01-17", "--to", "2024-01-20")["messages"]
    figs = [one for one in told if "Fig" in [tree["tree"] for tree in one["trees"]]]
    assert ["for the season" in one["title"] for one in figs] == [True]


def test_without_the_frost_nothing_is_told(bench: Bench, make: Any) -> None:
    bench.write(spring(make, frost_c=7.0))
    result = bench.rehearse(*LEAD)
    assert result.exit_code == 0
    assert "Nothing would have been told." in result.stdout


def test_the_text_says_what_it_is_made_of(bench: Bench) -> None:
    out = bench.rehearse(*LEAD).stdout
    assert "a perfect one" in out
    assert "April 2024" in out
    assert "PROTECT" in out
    assert "Trees told: 2 of 2: Ember 1, Heath 1." in out
    assert "Estimated: gust_ms, all hours" in out
    assert "2024-04  1" in out


def test_the_sums_of_the_summary_are_those_of_the_messages(lead: dict[str, Any]) -> None:
    summary, told = lead["summary"], advice_in(lead)
    months = summary["by_month"].values()
    assert sum(sum(month.values()) for month in months) == len(lead["messages"])
    assert sum(summary["by_reason"].values()) == len(told)
    named = sum(len(message["trees"]) for message in told)
    assert sum(summary["by_tree"].values()) == named


def test_the_own_store_is_neither_made_nor_changed(bench: Bench, make: Any) -> None:
    assert bench.rehearse("--to", "2024-03-06T12:00").exit_code == 0
    assert not bench.store.exists()
    with Store.open(bench.store) as store:
        store.journal.add([make.work("Ember", FIRST, WorkKind.WIRE)])
    before = sha256(bench.store.read_bytes()).hexdigest()
    body = bench.json(*LEAD)
    assert body["journal"] == {"entries": 1, "moved_back_years": 0}
    assert sha256(bench.store.read_bytes()).hexdigest() == before
    with Store.open(bench.store) as store:
        assert not store.episodes.since(FIRST)
        assert not store.hours.between(FIRST, FROST + DAY).hours


def test_a_work_in_the_journal_counts(bench: Bench, make: Any) -> None:
    """A just-repotted pine's roots must not freeze; left alone they may (common practice)."""
    bench.config.write_text(GARDEN + HEATH.replace("Heath", "Moor"), "utf-8")
    bench.write(make.weather(FIRST, 24 * 20, mean_c=0.0, cloud=0.5))
    with Store.open(bench.store) as store:
        store.journal.add(
            [make.work("Heath", datetime(2024, 1, 20, tzinfo=UTC), WorkKind.REPOT, 40)]
        )
    told = bench.json("--from", "2024-01-25", "--to", "2024-01-26")["summary"]["by_tree"]
    assert told["Heath"]
    assert not told.get("Moor")


def test_a_journal_of_later_years_is_moved_back_to_meet_the_weather(
    tmp_path: Path, make: Any
) -> None:
    path = tmp_path / "state.db"
    with Store.open(path) as store:
        store.journal.add(
            make.work("Ember", datetime(*day, tzinfo=UTC), WorkKind.REPOT)
            for day in ((2028, 2, 29), (2029, 3, 14))
        )
    moved = journal_for(path, datetime(2013, 12, 31, tzinfo=UTC))
    assert moved.years_back == 16
    assert [e.at.date() for e in moved.entries] == [date(2012, 2, 28), date(2013, 3, 14)]
    early = journal_for(path, datetime(2013, 2, 1, tzinfo=UTC))
    assert [e.at.year for e in early.entries] == [2011, 2012]
    as_noted = journal_for(path, datetime(2028, 6, 1, tzinfo=UTC))
    assert [e.at.year for e in as_noted.entries] == [2028, 2029]
    assert as_noted.years_back == 0


def test_a_damaged_store_is_one_line_and_exit_2(bench: Bench) -> None:
    bench.store.parent.mkdir(parents=True, exist_ok=True)
    bench.store.write_bytes(b"not a database at all" * 100)
    result = bench.rehearse(*LEAD)
    assert result.exit_code == 2
    assert len(result.stderr.strip().splitlines()) == 1
    assert str(bench.store) in result.stderr


@pytest.mark.parametrize("span", [("2030-01-01", "2031-01-01"), ("2024-04-23", "2024-04-22")])
def test_a_span_without_weather_is_one_line_and_exit_2(bench: Bench, span: tuple[str, str]) -> None:
    result = bench.rehearse("--from", span[0], "--to", span[1])
    assert result.exit_code == 2
    assert "nothing to rehearse" in result.stderr
    assert "2024-03-05" in result.stderr


def test_days_without_readings_get_no_passes(bench: Bench, make: Any) -> None:
    weather = make.weather(FIRST, 24 * 6, mean_c=10.0, cloud=0.5)
    whole = bench_passes(bench, weather, range(0))
    gap = range(24 * 2, 24 * 4)
    holed = bench_passes(bench, weather, gap)
    assert holed["passes"] + holed["passes_left_out"] == whole["passes"]
    assert holed["passes_left_out"] >= 2 * 24 // EVERY_H
    flag = next(f for f in holed["weather"]["flags"] if "without a row" in f["what"])
    assert flag["count"] == len(gap)
    assert flag["lines"][0] == gap.start + 1  # below the header, before the gap


def bench_passes(bench: Bench, weather: Weather, without: range) -> dict[str, Any]:
    bench.write(weather, without)
    return bench.json()


def test_a_pass_falls_at_noon_at_midnight_and_as_hands_on_hours_begin(make: Any) -> None:
    monday = datetime(2024, 4, 22, tzinfo=UTC)  # 02:00 in Ljubljana
    hours = decision_hours(monday, monday + DAY, make.hands_on, "Europe/Ljubljana")
    assert [h.hour for h in hours] == [0, 5, 12, 15]  # 06:30 begins in 05 UTC
    away = make.hands_on.model_copy(
        update={"away": (Away(first=monday.date(), last=monday.date()),)}
    )
    absent = decision_hours(monday, monday + DAY, away, "Europe/Ljubljana")
    assert [h.hour for h in absent] == [0, 12]


class Doing:
    """Advice made by hand, and what an obliging keeper notes of it."""

    now = datetime(2024, 4, 22, 15, tzinfo=UTC)
    deadline = now + 3 * HOUR

    def advice(self, action: Action, nights: int, choice: Any, back_at: datetime | None) -> Advice:
        limit = Limit(MeasuredOn.LEAF, (Layer("leaves", -2.0, -4.0, "a test"),))
        spans = [Stretch(self.now + n * DAY, self.now + (n + 1) * DAY) for n in range(nights)]
        findings = tuple(
            Finding(
                "Ember",
                DRY_POT if action is Action.WATER else LEAF_FROST,
                span,
                span.start + HOUR,
                span.end - HOUR,
                span.start + 2 * HOUR,
                -3.0,
                limit,
                0.8,
                0.0,
                Strength.ACT,
            )
            for span in spans
        )
        jobs = (Job("Ember", "top bench", findings, choice),)
        return Advice(action, Strength.ACT, self.deadline, True, back_at, jobs)


def keeper_of(bench: Bench) -> Keeper:
    settings = load(bench.config)
    keeper = Keeper(settings)
    keeper.homes = {tree.name: tree.spot for tree in settings.trees}
    return keeper


def told(advice: Advice) -> Told:
    return Told(advice, message(Kind.ADVICE), tuple(job.tree for job in advice.jobs))


def message(kind: Kind) -> Message:
    return Message("a key", "a title", "a body", Strength.ACT, Doing.now, kind)


def said(kind: Kind) -> Said:
    return Said(kind, ("Ember",), message(kind))


SHED = Place(0.0, 12, 12, 0.0, 0.0, Standing.SLAB)
INTO = Choice(Way(INTO_SPOT, SHED, "shed"), True, 0.0, 0.0, MeasuredOn.LEAF, two_people=False)


def test_waterings_told_are_noted_on_each_day_told(bench: Bench) -> None:
    doing, keeper = Doing(), keeper_of(bench)
    keeper.hear(told(doing.advice(Action.WATER, 2, None, None)), doing.now)
    assert keeper.act(doing.now - HOUR) == []
    notes = keeper.act(doing.deadline + 2 * DAY)
    assert [(note.kind, note.tree) for note in notes] == [("watering", "Ember")] * 2
    assert notes[1].at - notes[0].at == DAY
    assert doing.now <= notes[0].at <= doing.deadline


def test_trees_carried_in_go_back_when_they_are_told_to(bench: Bench) -> None:
    doing, keeper = Doing(), keeper_of(bench)
    back = doing.now + 18 * HOUR
    keeper.hear(told(doing.advice(Action.PROTECT, 1, INTO, back)), doing.now)
    (move,) = keeper.act(doing.deadline)
    assert (move.tree, move.spot) == ("Ember", "shed")
    assert keeper.act(back + 2 * DAY) == []
    keeper.hear(said(Kind.BACK), back + 2 * DAY)
    assert keeper.act(back + 2 * DAY) == [Move(tree="Ember", at=back + 2 * DAY, spot="top bench")]


def test_what_is_called_off_is_not_done(bench: Bench) -> None:
    doing, keeper = Doing(), keeper_of(bench)
    keeper.hear(told(doing.advice(Action.PROTECT, 1, INTO, doing.now + DAY)), doing.now - DAY)
    keeper.hear(said(Kind.STAND_DOWN), doing.now - 12 * HOUR)
    assert keeper.act(doing.now + DAY) == []


def test_what_has_no_place_is_noted_as_done(bench: Bench) -> None:
    doing, keeper = Doing(), keeper_of(bench)
    keeper.hear(told(doing.advice(Action.SHADE, 1, None, doing.now + DAY)), doing.now)
    assert [type(note) for note in keeper.act(doing.deadline)] == [Handled]


Fault = Callable[[list[str]], list[str]]


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        (lambda rows: [], "empty"),
        (lambda rows: rows[:1], "no rows"),
        (lambda rows: [rows[0].replace("wind_ms", "wind"), *rows[1:]], ":1: no column 'wind_ms'"),
        (lambda rows: [*rows[:2], rows[2].replace(",", ",x", 1)], ":3: temperature_c: expected"),
    ],
)
def test_a_bad_file_is_one_line_with_file_and_line(bench: Bench, spoil: Fault, words: str) -> None:
    rows = bench.csv.read_text("utf-8").splitlines()[:48]
    bench.csv.write_text("\n".join(spoil(rows)), "utf-8")
    result = bench.rehearse()
    assert result.exit_code == 2
    assert len(result.stderr.strip().splitlines()) == 1
    assert result.stderr.startswith(str(bench.csv))
    assert words in result.stderr


def test_two_days_are_enough_and_one_is_not(bench: Bench, make: Any) -> None:
    bench.write(make.weather(FIRST, 48, mean_c=10.0))
    body = bench.json()
    assert body["weather"]["hours"] == 48
    assert body["weather"]["from"] == f"{FIRST + timedelta(seconds=HOUR_S):%Y-%m-%dT%H:%M:%SZ}"
    bench.write(make.weather(FIRST, 24, mean_c=10.0))
    assert bench.rehearse().exit_code == 2
