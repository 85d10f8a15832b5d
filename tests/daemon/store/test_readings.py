"""What is kept of readings: each once, all for two months, then one for each hour."""

from __future__ import annotations

import sqlite3
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from underbench.daemon.store.database import open_database
from underbench.daemon.store.migrations import MIGRATIONS
from underbench.daemon.store.readings import RAW_FOR
from underbench.daemon.store.store import Store
from underbench.rules.garden.readings import Quantity, Reading

AT = datetime(2027, 1, 15, 6, tzinfo=UTC)
MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
ONE = Reading(AT, Quantity.AIR, -2.5, "top bench", None, "mqtt")


def everything(store: Store) -> list[Reading]:
    return store.readings.between(None, AT - 3660 * DAY, AT + 3660 * DAY)


def test_the_same_again_changes_nothing(tmp_path: Path) -> None:
    others = [
        replace(ONE, at=AT + MINUTE),
        replace(ONE, quantity=Quantity.FRAME),
        replace(ONE, spot=None),
        replace(ONE, spot=None, tree="Ember"),
        replace(ONE, source="post"),
    ]
    with Store.open(tmp_path / "u.db") as store:
        assert store.readings.add([ONE, ONE]) == 1
        assert store.readings.add([replace(ONE, value=9.0), *others]) == 5
        assert store.readings.add([]) == 0
    with Store.open(tmp_path / "u.db") as store:
        assert ONE in everything(store)
        assert len(everything(store)) == 6


def test_they_come_back_oldest_first_and_within_the_bounds(tmp_path: Path) -> None:
    with Store.open(tmp_path / "u.db") as store:
        store.readings.add(replace(ONE, at=AT + n * HOUR) for n in (3, 1, 2))
        store.readings.add([replace(ONE, quantity=Quantity.RAIN, at=AT + 2 * HOUR)])
        found = store.readings.between(Quantity.AIR, AT + HOUR, AT + 3 * HOUR)
        assert [one.at for one in found] == [AT + 2 * HOUR, AT + 3 * HOUR]
        assert len(store.readings.between(None, AT + HOUR, AT + 3 * HOUR)) == 3
        assert {(r.quantity, r.at) for r in store.readings.last()} == {
            (Quantity.AIR, AT + 3 * HOUR),
            (Quantity.RAIN, AT + 2 * HOUR),
        }


def test_a_moment_without_a_timezone_is_refused(tmp_path: Path) -> None:
    with Store.open(tmp_path / "u.db") as store, pytest.raises(ValueError, match="timezone"):
        store.readings.add([replace(ONE, at=AT.replace(tzinfo=None))])


def test_after_two_months_an_hour_is_one_its_mean_and_lowest_and_of_rain_the_sum(
    tmp_path: Path,
) -> None:
    every = [AT + 10 * MINUTE * n for n in range(1, 13)]
    air = [replace(ONE, at=at, value=float(n)) for n, at in enumerate(every)]
    rain = [replace(one, quantity=Quantity.RAIN, value=0.5) for one in air]
    night = replace(ONE, at=AT + 7 * MINUTE, quantity=Quantity.AIR_MIN)
    with Store.open(tmp_path / "u.db") as store:
        store.readings.add([*air, *rain, night])
        store.readings.thin(AT + RAW_FOR)
        assert len(everything(store)) == 25
        for _ in range(2):
            store.readings.thin(AT + RAW_FOR + HOUR)
            found = everything(store)
            assert [r for r in found if r.quantity is Quantity.AIR_MIN] == [night]
            # Exact: the mean of 0 to 5, the lowest of these, six times half a millimetre.
            assert replace(ONE, at=AT + HOUR, value=2.5, lowest=0.0) in found
            assert replace(ONE, at=AT + HOUR, quantity=Quantity.RAIN, value=3.0) in found
            assert len(found) == 1 + 2 * (1 + 6)


def used_bytes(store: Store) -> int:
    pages, free, size = (
        next(iter(store.db.query(f"PRAGMA {name}")))[name]
        for name in ("page_count", "freelist_count", "page_size")
    )
    return int((pages - free) * size)


def test_ten_sensors_grow_it_by_less_than_ten_megabytes_a_year(tmp_path: Path) -> None:
    # One sensor has a reading each ten minutes for a year, thinned as it goes. Ten need ten times
    # as much.
    with Store.open(tmp_path / "u.db") as store:
        before = used_bytes(store)
        for month in range(12):
            first = AT + 30 * DAY * month
            store.readings.add(
                replace(ONE, at=first + 10 * MINUTE * n, value=n / 7)
                for n in range(1, 6 * 24 * 30 + 1)
            )
            store.readings.thin(first + 30 * DAY)
        store.readings.thin(AT + 360 * DAY + RAW_FOR)
        assert len(everything(store)) == 360 * 24
        assert (used_bytes(store) - before) * 10 * 365 / 360 < 10e6


def test_a_database_of_before_gets_the_tables_and_keeps_what_it_had(tmp_path: Path) -> None:
    path = tmp_path / "u.db"
    with Store.open(path) as store:
        store.duties.done("round-up", AT)
    old = sqlite3.connect(path)
    old.executescript("DROP TABLE reading; DROP TABLE reading_file;")
    old.execute("DELETE FROM _sqlite_migrations WHERE name = '0004_readings'")
    old.commit()
    old.close()
    db = open_database(path)
    assert not MIGRATIONS.pending(db)
    db.close()
    with Store.open(path) as store:
        assert store.readings.add([ONE]) == 1
        assert store.duties.last_done("round-up") == AT
