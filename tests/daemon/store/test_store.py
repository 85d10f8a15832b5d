"""What the daemon remembers: nothing lost, nothing overwritten, nothing told twice."""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from underbench.daemon.store.episodes import EpisodeRow
from underbench.daemon.store.kept_answers import Kept
from underbench.daemon.store.message_queue import Due, Tries
from underbench.daemon.store.store import Checkpoint, Message, Store, StoreError
from underbench.daemon.weather.openmeteo import NAME
from underbench.rules.garden.journal import Move, Sighting, Stage, Watering, Work
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards.findings import Strength
from underbench.rules.weather.hourly import HOUR_S, VARIABLES, Weather, from_columns, join

NOON = datetime(2031, 3, 9, 12, tzinfo=UTC)
HOUR = timedelta(hours=1)
DAY = timedelta(days=1)
WATERED = Watering(tree="Old Marrow", at=NOON)
MESSAGE = Message("frost 1", "Protect 2 trees", "Frost on open leaves.", Strength.ACT, NOON)
EPISODE = EpisodeRow(
    tree="Old Marrow",
    hazard="leaf-frost",
    span_start=NOON,
    span_end=NOON + DAY,
    action="protect",
    state="foreseen",
    strength="act",
    told_strength=None,
    chance=0.45,
    worst=-3.25,
    limit_value=-2.5,
    from_at=NOON + 14 * HOUR,
    until_at=NOON + 19 * HOUR,
    do_by=NOON + 6 * HOUR,
    first_seen=NOON - DAY,
    told_at=None,
    updated=NOON,
)


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "state" / "underbench.db"


@pytest.fixture
def store(path: Path) -> Iterator[Store]:
    with Store.open(path) as opened:
        yield opened


def hours_from(start: datetime, **columns: list[float]) -> Weather:
    length = len(next(iter(columns.values())))
    times = int(start.timestamp()) + HOUR_S * np.arange(length, dtype=np.int64)
    return from_columns(times, {name: np.array(v, dtype=float) for name, v in columns.items()})


def test_all_is_there_after_a_restart(path: Path) -> None:
    with Store.open(path) as store:
        store.journal.add([WATERED])
        store.hours.keep(hours_from(NOON, air_c=[3.5]))
        store.checkpoints.keep(NOON, {"Old Marrow": "{}"}, {"Old Marrow": "v1"})
        store.answers.keep_forecast(NAME, Kept(b"sky", NOON, NOON))
        store.episodes.put([EPISODE])
        store.messages.queue(MESSAGE)
        store.duties.done("round-up", NOON)
    with Store.open(path) as store:
        assert store.journal.entries() == [WATERED]
        assert store.hours.between(NOON - HOUR, NOON).air_c.tolist() == [[3.5]]
        assert store.checkpoints.before(NOON) == {"Old Marrow": Checkpoint(NOON, "v1", "{}")}
        assert store.answers.last_forecast(NAME) == Kept(b"sky", NOON, NOON)
        assert store.episodes.since(NOON) == [EPISODE]
        assert [record.message for record in store.messages.records(NOON - DAY)] == [MESSAGE]
        assert store.duties.last_done("round-up") == NOON


# The journal


def test_a_failing_entry_keeps_the_others_out(store: Store) -> None:
    def entries() -> Iterator[Watering]:
        yield WATERED
        raise RuntimeError

    with pytest.raises(RuntimeError):
        store.journal.add(entries())
    assert store.journal.entries() == []


def test_the_journal_gives_back_what_was_added_by_moment(store: Store) -> None:
    added = [
        Move(tree="Old Marrow", at=NOON + HOUR, spot="shed"),
        Work(tree="Old Marrow", at=NOON, work=WorkKind.ROOT_PRUNE, roots_pct=30),
        Sighting(tree="Thistledown", at=NOON, stage=Stage.BUD_SWELL),
        Move(tree="Old Marrow", at=NOON + HOUR, spot="bench"),
        # 11:30 UTC, told with another offset
        Watering(tree="Tam", at=NOON.astimezone(timezone(timedelta(hours=5.5))) - HOUR / 2),
    ]
    store.journal.add(added)
    assert store.journal.entries() == [added[4], added[1], added[2], added[0], added[3]]
    assert store.journal.entries(until=NOON) == [added[4], added[1], added[2]]


def test_an_entry_of_an_unknown_kind_is_left_out_and_named(store: Store) -> None:
    store.journal.add([WATERED])
    store.db.execute("UPDATE journal SET entry = replace(entry, 'watering', 'singing')")
    assert store.journal.entries() == []
    assert store.journal.set_aside() == ["journal entry 1 (watering, Old Marrow)"]


def test_a_moment_needs_a_timezone(store: Store) -> None:
    with pytest.raises(ValueError, match="timezone"):
        store.duties.done("round-up", NOON.replace(tzinfo=None))


# Weather as used


_value = st.one_of(st.just(float("nan")), st.floats(-40, 1000, width=32))
_weather = arrays(np.float64, (len(VARIABLES), 4), elements=_value)


@settings(max_examples=20)
@given(first=_weather, second=_weather)
def test_kept_hours_are_never_changed_only_gaps_filled(
    first: np.ndarray, second: np.ndarray
) -> None:
    with tempfile.TemporaryDirectory() as folder, Store.open(Path(folder) / "s.db") as store:
        for values in (first, second):
            columns = {name: list(values[row]) for row, name in enumerate(VARIABLES)}
            store.hours.keep(hours_from(NOON, **columns))
        kept = store.hours.between(NOON - HOUR, NOON + 4 * HOUR)
    expected = np.where(np.isnan(first), second, first)
    seen = ~np.isnan(expected).all(axis=0)
    assert kept.hours == (np.ptp(np.flatnonzero(seen)) + 1 if seen.any() else 0)
    if kept.hours:
        known = np.flatnonzero(seen)
        span = expected[:, known[0] : known[-1] + 1]
        got = np.array([getattr(kept, name)[0] for name in VARIABLES])
        np.testing.assert_array_equal(got, span)


def test_a_missing_hour_is_a_gap_and_the_start_is_left_out(store: Store) -> None:
    store.hours.keep(hours_from(NOON, air_c=[1.0, 2.0]))
    store.hours.keep(hours_from(NOON + 4 * HOUR, air_c=[5.0]))
    kept = store.hours.between(NOON, NOON + 6 * HOUR)
    np.testing.assert_array_equal(kept.air_c, [[2.0, np.nan, np.nan, 5.0]])
    assert kept.times[0] == (NOON + HOUR).timestamp()
    assert np.all(np.diff(kept.times) == HOUR_S)


def test_hours_of_which_nothing_is_known_do_not_hide_a_forecast(store: Store) -> None:
    store.hours.keep(hours_from(NOON, air_c=[1.0, float("nan")]))
    ahead = hours_from(NOON, air_c=[8.0, 9.0])
    assert join(store.hours.between(NOON - HOUR, NOON + HOUR), ahead).air_c.tolist() == [[1.0, 9.0]]


def test_no_hours_make_a_weather_of_none(store: Store) -> None:
    empty = store.hours.between(NOON, NOON + DAY)
    assert (empty.members, empty.hours) == (1, 0)


def test_one_past_is_kept_not_several(store: Store) -> None:
    one = hours_from(NOON, air_c=[1.0])
    two = replace(one, **{name: np.zeros((2, 1)) for name in VARIABLES})
    with pytest.raises(ValueError, match="one past"):
        store.hours.keep(two)


# Checkpoints, forecast, duties


def keep(store: Store, at: datetime, **states: str) -> None:
    store.checkpoints.keep(at, states, dict.fromkeys(states, "v1"))


def test_the_latest_checkpoint_of_each_tree_before_a_moment(store: Store) -> None:
    keep(store, NOON, oak="a", yew="p")
    keep(store, NOON + DAY, oak="b")
    keep(store, NOON + 2 * DAY, oak="c", yew="r")
    found = store.checkpoints.before(NOON + 2 * DAY - HOUR)
    assert found == {"oak": Checkpoint(NOON + DAY, "v1", "b"), "yew": Checkpoint(NOON, "v1", "p")}
    assert store.checkpoints.before(NOON - HOUR) == {}


def test_one_checkpoint_a_day(store: Store) -> None:
    keep(store, NOON, oak="a")
    keep(store, NOON + 3 * HOUR, oak="b")
    assert store.checkpoints.before(NOON + DAY)["oak"].state == "b"
    assert store.checkpoints.before(NOON) == {}


def test_a_changed_past_forgets_the_checkpoints_after_it(store: Store) -> None:
    for days, state in enumerate("abc"):
        keep(store, NOON + days * DAY, oak=state, yew=state)
    store.checkpoints.forget("oak", NOON + DAY)
    states = {tree: one.state for tree, one in store.checkpoints.before(NOON + 9 * DAY).items()}
    assert states == {"oak": "b", "yew": "c"}


def test_pruning_keeps_each_tree_its_latest(store: Store) -> None:
    keep(store, NOON, oak="a", yew="p")
    keep(store, NOON + DAY, oak="b")
    keep(store, NOON + 5 * DAY, oak="c")
    store.checkpoints.prune(NOON + 4 * DAY)
    later = {tree: one.state for tree, one in store.checkpoints.before(NOON + 9 * DAY).items()}
    assert later == {"oak": "c", "yew": "p"}
    assert set(store.checkpoints.before(NOON + 2 * DAY)) == {"yew"}


def test_the_last_forecast_takes_the_place_of_the_one_before(store: Store) -> None:
    assert store.answers.last_forecast(NAME) is None
    store.answers.keep_forecast(NAME, Kept(b"old", NOON, NOON))
    store.answers.keep_forecast(NAME, Kept(bytes(range(256)) * 100, NOON + HOUR, NOON + HOUR))
    assert store.answers.last_forecast(NAME) == Kept(
        bytes(range(256)) * 100, NOON + HOUR, NOON + HOUR
    )


def test_duties_remember_when_they_were_last_done(store: Store) -> None:
    assert store.duties.last_done("round-up") is None
    store.duties.done("round-up", NOON)
    store.duties.done("round-up", NOON + DAY)
    assert store.duties.last_done("round-up") == NOON + DAY
    assert store.duties.last_done("backup") is None


# Episodes and the outbox


def test_an_episode_is_replaced_by_its_later_self(store: Store) -> None:
    other = replace(EPISODE, hazard="gale")
    told = replace(
        EPISODE, state="told", told_strength="danger", told_at=NOON + HOUR, updated=NOON + HOUR
    )
    store.episodes.put([EPISODE, other])
    store.episodes.put([told])
    assert store.episodes.since(NOON) == [other, told]


def test_episodes_whose_span_is_over_are_left_out(store: Store) -> None:
    store.episodes.put([EPISODE])
    assert store.episodes.since(EPISODE.span_end) == [EPISODE]
    assert store.episodes.since(EPISODE.span_end + HOUR) == []


def test_what_was_told_is_remembered_for_two_months_and_the_rest_for_one(store: Store) -> None:
    told = replace(EPISODE, hazard="gale", told_at=NOON, told_strength="act")
    store.episodes.put([EPISODE, told])
    assert store.episodes.lately(EPISODE.span_end + 30 * DAY) == [told, EPISODE]
    assert store.episodes.lately(EPISODE.span_end + 30 * DAY + HOUR) == [told]
    assert store.episodes.lately(EPISODE.span_end + 60 * DAY) == [told]
    assert store.episodes.lately(EPISODE.span_end + 60 * DAY + HOUR) == []


def test_a_message_is_queued_once_even_after_a_restart(path: Path) -> None:
    with Store.open(path) as store:
        assert store.messages.queue(MESSAGE)
        assert not store.messages.queue(replace(MESSAGE, body="Other words."))
    with Store.open(path) as store:
        assert not store.messages.queue(MESSAGE)
        assert [record.message for record in store.messages.records(NOON - DAY)] == [MESSAGE]


def test_each_service_has_its_own_record(store: Store) -> None:
    store.messages.queue(MESSAGE)
    phone, tablet = (Due(MESSAGE, service, 0) for service in ("phone", "tablet"))
    for due in (phone, tablet):
        store.messages.trying(due, NOON, NOON + HOUR)
    store.messages.delivered(phone, NOON)
    store.messages.failed(phone, "a late no does not undo a yes")
    store.messages.failed(tablet, "refused it (HTTP 401)")
    (record,) = store.messages.records(NOON - DAY)
    assert record.tries == {
        "phone": Tries(1, NOON, None, NOON + HOUR, NOON),
        "tablet": Tries(1, NOON, "refused it (HTTP 401)", NOON + HOUR, None),
    }
    store.messages.trying(
        tablet, NOON + HOUR, NOON + 2 * HOUR
    )  # how this one went is not known yet
    (record,) = store.messages.records(NOON - DAY)
    assert record.tries["tablet"] == Tries(2, NOON + HOUR, None, NOON + 2 * HOUR, None)


def test_a_delivery_needs_its_message(store: Store) -> None:
    with pytest.raises(StoreError, match="FOREIGN KEY"):
        store.messages.trying(Due(MESSAGE, "phone", 0), NOON, NOON)


def test_records_go_as_far_back_as_asked(store: Store) -> None:
    assert store.messages.last_queued() is None
    for days in (0, 1, 2):
        store.messages.queue(replace(MESSAGE, key=f"{days}", queued_at=NOON - days * DAY))
    assert [record.message.key for record in store.messages.records(NOON - 2 * DAY)] == ["0", "1"]
    assert store.messages.last_queued() == NOON


@pytest.mark.parametrize("body", ["", "x" * 4001])
def test_a_body_push_services_would_refuse_or_cut_is_refused(body: str) -> None:
    with pytest.raises(ValueError, match="1 to 4000"):
        replace(MESSAGE, body=body)
    assert replace(MESSAGE, body="x" * 4000).body


def test_another_place_forgets_its_weather_and_keeps_the_journal(store: Store) -> None:
    """After coordinates are corrected, the wrong place's frost must not remain."""
    store.settle("47.1 8.2 400 m")
    store.journal.add([WATERED])
    store.hours.keep(hours_from(NOON, air_c=[1.0, 2.0]))
    store.answers.keep_forecast(NAME, Kept(b"{}", NOON, NOON))
    store.settle("47.1 8.2 400 m")
    assert store.answers.last_forecast(NAME) is not None
    store.settle("47.1 9.2 400 m")
    assert store.answers.last_forecast(NAME) is None
    assert store.hours.between(NOON - DAY, NOON + DAY).hours == 0
    assert store.journal.entries() == [WATERED]
