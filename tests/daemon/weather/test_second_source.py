"""If the first weather source fails, the second is asked by its terms. Later the first is used
again."""

from __future__ import annotations

import logging
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from commanding import EVENING, Garden, stamp
from met_service import MetService
from openmeteo_service import Query, Reply, StandIn, serving

from underbench.daemon.store.store import Store
from underbench.daemon.weather.metno import MetNorway
from underbench.daemon.weather.openmeteo import OpenMeteo
from underbench.daemon.weather.supply import Supplied, Supply
from underbench.rules.garden.inventory import Garden as Place
from underbench.rules.weather.hourly import HOUR_S, Weather, from_columns

NOW = datetime(2027, 2, 11, 9, 41, tzinfo=UTC)
HOUR = timedelta(hours=1)
PLACE = Place(
    name="Quillfold", latitude=51.2, longitude=-2.5, elevation_m=143.0, timezone="Europe/London"
)
DOWN = Reply(b"<html>no</html>", status=501, content_type="text/html")


def weather() -> Weather:
    times = int(datetime(2027, 2, 1, tzinfo=UTC).timestamp()) + HOUR_S * np.arange(24 * 40)
    flat = np.ones(24 * 40)
    air = 4 + 3 * np.sin(np.arange(24 * 40) / 4)
    columns = {"air_c": air, "dew_c": air - 2, "wind_ms": 2 * flat, "rain_mm": 0.2 * flat}
    return from_columns(times, {**columns, "cloud": 0.5 * flat})


class Both:
    """Both services on the loopback, and the supply of a garden that asks them."""

    def __init__(self, folder: Path, first: StandIn, met: MetService) -> None:
        self.folder, self.met = folder, met
        self._first_url = first.url
        self.down = False
        self.moves = 0.0  # the first's air shifts by this each hour, so that each run is a new one
        self.now = NOW
        self.restart()

    def restart(self) -> None:
        self.store = Store.open(self.folder / "state.db")
        first = OpenMeteo(self._first_url, None, "", 5)
        second = MetNorway(self.met.url, "keeper@garden.invalid", 5)
        self.supply = Supply(first, PLACE, self.store.answers, second=second)

    def hear(self, now: datetime) -> Supplied:
        self.now = self.met.now = now
        return self.supply.latest(now, past_days=2)


@pytest.fixture
def both(tmp_path: Path) -> Iterator[Both]:
    with opened(tmp_path) as services:
        yield services


@contextmanager
def opened(folder: Path) -> Iterator[Both]:
    def answer(query: Query) -> bytes | Reply:
        if there.down:
            return DOWN
        hours = (there.now - NOW) / HOUR
        moved = from_columns(
            weather().times,
            {
                "air_c": weather().air_c[0] + there.moves * hours,
                "dew_c": weather().dew_c[0],
                "wind_ms": weather().wind_ms[0],
            },
        )
        return serving(moved, lambda: there.now)(query)

    with StandIn(answer) as first, MetService(weather(), NOW) as met:
        there = Both(folder, first, met)
        yield there
        there.store.close()


def test_while_the_first_answers_well_the_second_is_not_asked(both: Both) -> None:
    got = both.hear(NOW)
    assert (got.source, got.problem, got.notes) == ("Open-Meteo", None, ())
    assert both.met.asked == []


def test_a_short_outage_is_lived_through_on_the_kept_forecast(both: Both) -> None:
    both.hear(NOW)
    both.down = True
    got = both.hear(NOW + 2 * HOUR)
    assert (got.source, got.age) == ("Open-Meteo", 2 * HOUR)
    assert got.problem is not None
    assert both.met.asked == []


def test_after_three_hours_the_second_is_used_and_then_the_first_again(
    both: Both, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO)
    both.hear(NOW)
    both.down = True
    for hours in (3, 4, 5):
        got = both.hear(NOW + hours * HOUR)
        assert (got.source, got.problem) == ("MET Norway", None)
        assert got.age == (hours - 3) * HOUR  # its content has not changed since
        assert got.attribution.startswith("Data from MET Norway")
        (note,) = got.notes
        assert "down or overloaded (HTTP 501); MET Norway is used in its place" in note
    assert [record.levelname for record in caplog.records] == ["WARNING"]
    both.down, both.moves = False, 0.1
    back = both.hear(NOW + 6 * HOUR)
    assert (back.source, back.problem, back.notes) == ("Open-Meteo", None, ())
    assert caplog.records[-1].getMessage() == "Open-Meteo answers well again"
    assert len(caplog.records) == 2
    assert len(both.met.asked) == 3


def test_the_second_is_asked_by_its_terms_over_a_restart(both: Both) -> None:
    both.down = True
    first = both.hear(NOW)
    both.store.close()
    both.restart()
    both.hear(NOW + timedelta(minutes=29))
    both.hear(NOW + timedelta(minutes=30, seconds=50))  # not before Expires, 31 min on
    assert len(both.met.asked) == 1
    later = both.hear(NOW + HOUR)
    assert "if-modified-since" not in both.met.headers[0]
    assert both.met.headers[1]["if-modified-since"] == "Thu, 11 Feb 2027 07:41:00 GMT"
    assert (later.source, later.age, later.problem) == ("MET Norway", HOUR, None)
    assert later.weather.air_c.tolist() == first.weather.air_c.tolist()  # 304: what was kept
    both.hear(NOW + HOUR + timedelta(minutes=30, seconds=50))  # the new Expires is kept too
    assert len(both.met.asked) == 2


def test_the_hours_before_come_from_what_the_first_foresaw(both: Both) -> None:
    both.hear(NOW)
    both.down = True
    got = both.hear(NOW + 4 * HOUR)
    assert got.source == "MET Norway"
    assert got.weather.times[0] == datetime(2027, 2, 9, 14, tzinfo=UTC).timestamp()
    assert np.isfinite(got.weather.air_c).all()


@pytest.mark.parametrize(("status", "quiet_for"), [(403, 24 * HOUR), (422, 24 * HOUR), (429, HOUR)])
def test_a_service_that_refuses_us_is_left_in_peace_over_a_restart(
    both: Both, status: int, quiet_for: timedelta
) -> None:
    both.hear(NOW)
    both.down, both.met.status = True, status
    start = NOW + 4 * HOUR
    got = both.hear(start)
    assert got.source == "Open-Meteo"
    assert got.problem is not None
    assert len(got.notes) == 1
    both.store.close()
    both.restart()
    both.hear(start + quiet_for - timedelta(minutes=1))
    assert len(both.met.asked) == 1
    both.met.status = 200
    assert both.hear(start + quiet_for).source == "MET Norway"


def test_a_first_that_says_the_same_for_too_long_is_not_believed(both: Both) -> None:
    for hours in range(13):
        assert both.hear(NOW + hours * HOUR).source == "Open-Meteo"
    both.met.made_at = NOW + 10 * HOUR
    got = both.hear(NOW + 13 * HOUR)
    assert got.source == "MET Norway"
    assert "has sent the same forecast for 13 h; MET Norway" in got.notes[0]
    both.moves = 0.1
    assert both.hear(NOW + 14 * HOUR).source == "Open-Meteo"


def test_when_both_are_stale_the_first_is_used_and_it_is_said(both: Both) -> None:
    both.met.made_at = NOW - 9 * HOUR
    for hours in range(14):
        got = both.hear(NOW + hours * HOUR)
    assert got.source == "Open-Meteo"
    assert got.problem == "Open-Meteo has sent the same forecast for 13 h"


def test_a_lasting_outage_is_logged_once(both: Both, caplog: pytest.LogCaptureFixture) -> None:
    both.hear(NOW)
    both.down, both.met.status = True, 403
    for hours in range(1, 10):
        both.hear(NOW + hours * HOUR)
    logged = [record.getMessage() for record in caplog.records]
    assert [line.partition(":")[0] for line in logged] == ["Open-Meteo fails", "MET Norway fails"]


def test_with_both_down_the_last_good_answer_serves(both: Both) -> None:
    both.hear(NOW)
    both.down = True
    both.hear(NOW + 4 * HOUR)
    both.met.status = 503
    both.met.now = NOW
    got = both.hear(NOW + 9 * HOUR)
    assert (got.source, got.age) == ("MET Norway", 5 * HOUR)
    assert got.problem is not None
    assert "using the forecast from 5 h ago" in got.problem


def test_an_hour_each_over_a_day_stays_far_below_sixty_requests(both: Both) -> None:
    both.down = True
    for hours in range(24):
        both.met.made_at = NOW + hours * HOUR
        both.hear(NOW + hours * HOUR)
    assert len(both.met.asked) == 24


def test_the_command_names_the_source_it_used(garden: Garden) -> None:
    service = garden.service
    with MetService(service.weather, EVENING) as met:
        text = garden.config.read_text(encoding="utf-8")
        text = text.replace(
            "timeout_s = 5\n",
            f'timeout_s = 5\ncontact = "keeper@garden.invalid"\nsecond_url = "{met.url}"\n',
        )
        garden.config.write_text(text, encoding="utf-8")
        service.answer = lambda _query: DOWN
        done = garden.do("once", "--at", stamp(EVENING))
        assert done.exit_code == 0, done.output
        assert "Data from MET Norway (CC BY 4.0), adapted." in done.stdout
        assert "MET Norway is used in its place" in done.stdout
        assert "Estimated, as the source lacks it at times: gusts, sunshine" in done.stdout
        service.answer = service.good
        done = garden.do("once", "--at", stamp(EVENING + HOUR))
        assert "Open-Meteo.com (CC BY 4.0)" in done.stdout
        assert "MET Norway" not in done.stdout


def test_check_says_whether_a_second_source_stands_by(garden: Garden) -> None:
    with MetService(garden.service.weather, EVENING) as met:
        bare = garden.config.read_text(encoding="utf-8")
        address = f'timeout_s = 5\nsecond_url = "{met.url}"\n'
        garden.config.write_text(bare.replace("timeout_s = 5\n", address), encoding="utf-8")
        said = garden.do("check").stdout
        assert "note second source: MET Norway may only be asked with a contact" in said
        address += 'contact = "keeper@garden.invalid"\n'
        garden.config.write_text(bare.replace("timeout_s = 5\n", address), encoding="utf-8")
        assert "ok   second source: MET Norway stands by" in garden.do("check").stdout
        address += 'second = "none"\n'
        garden.config.write_text(bare.replace("timeout_s = 5\n", address), encoding="utf-8")
        assert "second source" not in garden.do("check").stdout
