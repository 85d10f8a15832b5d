"""A clock set back and forward, both changes of summer time, a sleep of a day, a failing store."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from apscheduler.schedulers.background import BackgroundScheduler
from pydantic import SecretStr
from ticking import Daemon, Phone, ringing, ticking

from underbench.daemon.config.reloading import Reloading
from underbench.daemon.delivery.outbox import Services
from underbench.daemon.faults import Fault
from underbench.daemon.running.scheduler import UNKEPT_AFTER, Watch, catch_up
from underbench.daemon.store.duties import LAST_PASS
from underbench.daemon.store.store import Message, Store, StoreError
from underbench.daemon.views.machine import clock
from underbench.rules.hazards.findings import Strength

MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
NOW = datetime(2024, 4, 20, 15, 10, tzinfo=UTC)
MIDNIGHT = NOW.replace(hour=0, minute=0)
CANNOT_WRITE = "UNDERBENCH CANNOT WRITE: watch the weather yourself"
NEWS = Message("news", "News", "Words.", Strength.ACT, NOW)


@pytest.fixture
def phone() -> Iterator[Phone]:
    with ringing() as server:
        yield server


@pytest.fixture
def gale(tmp_path: Path, make: Any, phone: Phone) -> Iterator[Daemon]:
    """Ten quiet days, and on the evening of `NOW` a gale that tips the tree."""
    gust_ms = np.full(24 * 15, 6.0)
    tonight = 24 * 10 + 20
    gust_ms[tonight : tonight + 3] = 50.0
    weather = make.weather(
        MIDNIGHT - 10 * DAY, 24 * 15, mean_c=14.0, wind_ms=gust_ms / 2, gust_ms=gust_ms
    )
    with ticking(tmp_path, weather, phone) as made:
        yield made


def watch_of(daemon: Any, open_store: Any, make_supply: Any) -> Watch:
    garden = Reloading(daemon.config)
    return Watch(garden, lambda _settings: daemon.services, open_store, make_supply)


def quiet_from(folder: Path, make: Any, phone: Phone, start: datetime, days: int = 25) -> Any:
    return ticking(folder, make.weather(start, 24 * days, mean_c=12.0), phone)


# The clock set


@pytest.mark.parametrize("back", [HOUR, DAY])
def test_a_clock_set_back_stops_no_pass_and_tells_nothing_twice(
    gale: Daemon, back: timedelta
) -> None:
    gale.tick(NOW)
    (title,) = gale.phone.titles()
    assert title.startswith("TIE DOWN Heath")
    moments = [NOW - back + number * 10 * MINUTE for number in range(7)]
    passes = set()
    for moment in moments:
        gale.tick(moment)
        passes.add(gale.store.duties.last_done(LAST_PASS))
    assert passes == {moments[0], moments[5]}  # 14:10 and, the next hour of the clock, 15:00
    assert gale.phone.titles() == []


def test_a_clock_set_forward_and_back_again_tells_nothing_twice(gale: Daemon) -> None:
    for moment in (NOW, NOW + 4 * HOUR, NOW + MINUTE, NOW + 2 * HOUR, NOW + 4 * HOUR):
        gale.tick(moment)
    news, again = gale.phone.titles()
    assert news.startswith("TIE DOWN Heath")
    assert again.startswith("STILL TO DO")  # danger, once as the deadline nears


def test_what_waits_is_not_held_up_by_a_clock_set_back(gale: Daemon) -> None:
    gale.store.messages.queue(NEWS)
    phone, gale.services = gale.services, Services([SecretStr("json://127.0.0.1:9/")])
    gale.tick(NOW + DAY / 2)
    gale.services = phone
    gale.tick(NOW - HOUR)
    assert NEWS.title in gale.phone.titles()


def test_the_scheduler_does_not_sleep_for_as_long_as_the_clock_was_set_back() -> None:
    scheduler = BackgroundScheduler(timezone=UTC)
    scheduler.start(paused=True)
    job = scheduler.add_job(print, "interval", seconds=60, next_run_time=NOW)
    catch_up(job, NOW - 30 * MINUTE / 60)
    assert job.next_run_time == NOW  # its turn is in half a minute: all is well
    catch_up(job, NOW - DAY)
    assert job.next_run_time == NOW - DAY
    catch_up(job, NOW + DAY)
    assert job.next_run_time == NOW - DAY  # the scheduler itself sees to a late turn
    scheduler.shutdown()


# Summer time (tz database, Europe/Ljubljana: 2024-03-31 and 2024-10-27, both at 01:00 UTC)


@pytest.mark.parametrize(
    "day", [datetime(2024, 3, 31, tzinfo=UTC), datetime(2024, 10, 27, tzinfo=UTC)]
)
def test_the_night_of_summer_time_has_a_pass_in_each_of_its_hours(
    tmp_path: Path, make: Any, phone: Phone, day: datetime
) -> None:
    with quiet_from(tmp_path, make, phone, day - 10 * DAY) as daemon:
        passes = set()
        for number in range(0, 5 * 60, 15):
            daemon.tick(day - 2 * HOUR + number * MINUTE)
            passes.add(daemon.store.duties.last_done(LAST_PASS))
    assert passes == {day + hours * HOUR for hours in range(-2, 3)}
    assert phone.titles() == []


# A sleep


def test_after_a_days_sleep_there_is_one_pass_and_nothing_stale(
    tmp_path: Path, make: Any, phone: Phone
) -> None:
    with quiet_from(tmp_path, make, phone, MIDNIGHT - 10 * DAY) as daemon:
        daemon.tick(NOW)
        for hours in (3, 1, 0):
            name = f"{hours} h before"
            daemon.store.messages.queue(
                replace(NEWS, key=name, title=name, queued_at=NOW - hours * HOUR)
            )
        daemon.sky.asked.clear()
        awake = NOW + DAY - 2 * HOUR
        for minutes in range(3):
            daemon.tick(awake + minutes * MINUTE)
        assert daemon.sky.asked == [awake]
        fresh = [f"Of {NOW:%A}: {hours} h before" for hours in (1, 0)]
        assert phone.titles() == [*fresh, "MISSED: 1 message reached no phone"]
        (stale, *_) = daemon.store.messages.records(NOW - DAY)
    assert (stale.message.key, stale.tries) == ("3 h before", {})


# A store that fails


def errors(caplog: pytest.LogCaptureFixture) -> list[str]:
    return [record.getMessage() for record in caplog.records if record.levelname == "ERROR"]


class Broken:
    """Opens a garden's store, or fails with ``why`` while that is set."""

    def __init__(self, path: Path) -> None:
        self.path, self.why = path, "the disk is full"

    def open(self) -> Store:
        if self.why:
            raise StoreError(f"{self.path.name}: {self.why}")
        return Store.open(self.path)


def test_a_store_that_fails_for_an_hour_is_told_past_it_once_a_day(
    tmp_path: Path, make: Any, phone: Phone, caplog: pytest.LogCaptureFixture
) -> None:
    with quiet_from(tmp_path, make, phone, MIDNIGHT - 10 * DAY) as daemon:
        disk = Broken(tmp_path / "other.db")
        watch = watch_of(daemon, disk.open, lambda _store: daemon.supply)
        heard: dict[timedelta, list[str]] = {}
        for after in (number * 10 * MINUTE for number in range(6 * 26)):
            watch.tick(NOW + after)
            if titles := phone.titles():
                heard[after] = titles
        assert heard == {UNKEPT_AFTER: [CANNOT_WRITE], UNKEPT_AFTER + DAY: [CANNOT_WRITE]}
        assert set(errors(caplog)) == {"other.db: the disk is full"}
        disk.why = ""  # room was made: all goes on, and the next trouble is a new one
        watch.tick(NOW + 27 * HOUR)
        watch.close()
        disk.why = "the disk is full"
        for hours in (28, 29):
            watch.tick(NOW + hours * HOUR)
        assert phone.titles() == [CANNOT_WRITE]


def test_a_store_that_fails_in_use_is_opened_anew(
    tmp_path: Path, make: Any, phone: Phone, caplog: pytest.LogCaptureFixture
) -> None:
    opened: list[Store] = []

    def open_store() -> Store:
        opened.append(Store.open(tmp_path / "other.db"))
        return opened[-1]

    with quiet_from(tmp_path, make, phone, MIDNIGHT - 10 * DAY) as daemon:
        watch = watch_of(daemon, open_store, lambda _store: daemon.supply)
        watch.tick(NOW)
        opened[0].db.execute("PRAGMA query_only = ON")  # as a disk turned read-only
        watch.tick(NOW + HOUR)
        watch.tick(NOW + HOUR + MINUTE)
        assert opened[-1].duties.last_done(LAST_PASS) == NOW + HOUR + MINUTE
        watch.close()
    assert len(opened) == 2
    (line,) = errors(caplog)
    assert "read-only" in line


# A board without a battery


def test_no_pass_is_made_before_the_clock_can_be_right_and_that_is_logged_once(
    tmp_path: Path, make: Any, phone: Phone, caplog: pytest.LogCaptureFixture
) -> None:
    with quiet_from(tmp_path, make, phone, MIDNIGHT - 10 * DAY) as daemon:
        watch = watch_of(daemon, lambda: Store.open(tmp_path / "u.db"), lambda _s: daemon.supply)
        for minutes in range(90):
            watch.tick(datetime(1970, 1, 1, 0, 3, tzinfo=UTC) + minutes * MINUTE)
        assert daemon.sky.asked == []
        (line,) = errors(caplog)
        assert "1970-01-01 00:03 UTC: nothing is judged before it is set" in line
        watch.tick(NOW)
        assert daemon.sky.asked == [NOW]
        watch.close()
    assert phone.titles() == []


def test_the_check_up_says_that_the_clock_is_not_set(tmp_path: Path) -> None:
    with (
        Store.open(tmp_path / "u.db") as store,
        pytest.raises(Fault, match="the clock says 1970-01-01"),
    ):
        clock(store, "Europe/Ljubljana", datetime(1970, 1, 1, 5, tzinfo=UTC))
