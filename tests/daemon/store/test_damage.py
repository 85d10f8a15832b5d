"""A damaged row or schema: data that can be fetched again heals; other damage is one line."""

from __future__ import annotations

import logging
import sqlite3
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from commanding import EVENING, Garden, fails, stamp

from underbench.daemon.store.kept_answers import Kept
from underbench.daemon.store.store import Message, Store, StoreError
from underbench.rules.hazards.findings import Strength

NOW = datetime(2024, 4, 23, 15, tzinfo=UTC)
HOUR = timedelta(hours=1)
GARBAGE = ["body = x'00017f'", f"fetched_at = {2**62}"]


def damage(database: Path, sql: str) -> None:
    with sqlite3.connect(database) as other:
        assert other.execute(sql).rowcount > 0
    other.close()


@pytest.mark.parametrize("garbage", GARBAGE)
def test_a_kept_forecast_that_is_damaged_is_forgotten_and_logged(
    tmp_path: Path, garbage: str, caplog: pytest.LogCaptureFixture
) -> None:
    with Store.open(tmp_path / "underbench.db") as store:
        store.answers.keep_forecast("Open-Meteo", Kept(b"kept", NOW, NOW))
        store.answers.keep_forecast("MET Norway", Kept(b"kept too", NOW, NOW))
        damage(store.path, f"UPDATE forecast SET {garbage} WHERE source = 'Open-Meteo'")
        assert store.answers.last_forecast("Open-Meteo") is None
        assert "the kept forecast of Open-Meteo cannot be read" in caplog.text
        caplog.clear()
        assert store.answers.last_forecast("Open-Meteo") is None
        assert caplog.text == ""
        other = store.answers.last_forecast("MET Norway")
        assert other is not None
        assert other.body == b"kept too"


@pytest.mark.parametrize("garbage", GARBAGE)
def test_so_is_a_kept_ensemble(
    tmp_path: Path, garbage: str, caplog: pytest.LogCaptureFixture
) -> None:
    with Store.open(tmp_path / "underbench.db") as store:
        store.answers.keep_ensemble("icon_seamless", b"kept", NOW)
        damage(store.path, f"UPDATE ensemble SET {garbage}")
        assert store.answers.last_ensemble("icon_seamless") is None
        assert "the kept ensemble cannot be read" in caplog.text
        assert list(store.db.query("SELECT * FROM ensemble")) == []


def test_one_message_that_cannot_be_read_does_not_stop_the_others(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    with Store.open(tmp_path / "underbench.db") as store:
        for key in ("one", "two"):
            store.messages.queue(Message(key, "A title", "Words.", Strength.ACT, NOW))
        damage(store.path, "UPDATE message SET strength = CAST(x'c3ff' AS TEXT) WHERE key = 'one'")
        assert [record.message.key for record in store.messages.records(NOW - HOUR)] == ["two"]
        assert "a message cannot be read" in caplog.text


@pytest.mark.parametrize(
    "sql",
    [
        "UPDATE forecast SET body = x'00017f'",
        "UPDATE forecast SET last_modified = CAST(x'c3ff' AS TEXT)",
        "UPDATE checkpoint SET state = CAST(x'c3ff' AS TEXT)",
        "UPDATE checkpoint SET stamp = CAST(x'c3ff' AS TEXT)",
    ],
)
def test_a_pass_goes_on_over_a_damaged_row(garden: Garden, sql: str) -> None:
    garden.note()
    assert garden.do("once", "--at", stamp(EVENING - HOUR)).exit_code == 0
    damage(garden.database, sql)
    done = garden.do("once", "--at", stamp(EVENING))
    assert done.exit_code == 0, done.output
    assert garden.intact()


def test_a_damaged_schema_is_one_line_for_every_command(garden: Garden) -> None:
    garden.note()
    with sqlite3.connect(garden.database) as other:
        other.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    other.close()
    whole = garden.database.read_bytes()
    assert b"CREATE TABLE hour (" in whole
    garden.database.write_bytes(whole.replace(b"CREATE TABLE hour (", b"CREATE \xd8ABLE hour (", 1))
    with pytest.raises(StoreError, match="it is damaged: put back a backup"):
        Store.open(garden.database)
    for words in (["alive"], ["once", "--at", stamp(EVENING)]):
        fails(garden.do(*words), "it is damaged: put back a backup")
    checked = garden.do("check")
    assert checked.exit_code == 2
    assert "BAD  database:" in checked.stdout
    assert "it is damaged: put back a backup" in checked.stdout


def test_an_entry_taken_back_that_is_damaged_stops_no_undo(garden: Garden) -> None:
    for _ in range(2):
        assert garden.do("did", "feed", "Heath").exit_code == 0
    assert garden.do("undo").exit_code == 0
    damage(garden.database, "UPDATE journal SET entry = '{}' WHERE undone_at IS NOT NULL")
    assert garden.do("undo", "--list").exit_code == 0
    assert garden.do("undo").exit_code == 0


def test_check_and_alive_show_no_traceback_whatever_fails(
    garden: Garden, monkeypatch: pytest.MonkeyPatch, caplog: pytest.LogCaptureFixture
) -> None:
    def broken(_path: Path) -> Store:
        raise ZeroDivisionError("s3cret")

    caplog.set_level(logging.DEBUG)
    monkeypatch.setattr(Store, "open", broken)
    fails(garden.do("alive"), "an error inside (ZeroDivisionError in test_damage.py:")
    checked = garden.do("check")
    assert checked.exit_code == 2
    assert "BAD  database: an error inside (ZeroDivisionError in test_damage.py:" in checked.stdout
    assert "BAD  push services" in checked.stdout  # the rest is looked at all the same
    assert "s3cret" not in checked.output + caplog.text
