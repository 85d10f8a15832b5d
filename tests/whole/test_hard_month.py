"""Three weeks of bad luck on the loopback: outages, stale runs, wild values, a thermometer that
drifts warmer and warmer. Still the keeper is warned of every frost on open leaves in time."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from garden_toml import BENCH, EMBER, HANDS_ON, MEANS, PLACE, SHED
from met_service import MetService
from openmeteo_service import Query, Reply, StandIn, serving
from receiving import receiving
from runs import run_of

from underbench.daemon.commands.open_garden import supply_of
from underbench.daemon.config.settings import load
from underbench.daemon.delivery.outbox import Services
from underbench.daemon.running.scheduler import tick
from underbench.daemon.store.episodes import EpisodeRow
from underbench.daemon.store.store import Store
from underbench.rules.garden.journal import Sighting, Stage
from underbench.rules.garden.readings import Quantity, Reading
from underbench.rules.hazards import LEAF_FROST
from underbench.rules.weather.hourly import Weather

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
EVERY = 12 * HOUR  # at 6 and at 18
FIRST, DAYS = datetime(2024, 4, 5, tzinfo=UTC), 21
FROST_MORNINGS = (8, 11, 12, 16, 20, 24)  # of April
CALM = (5, 8, 9, 11, 12, 13, 16, 17, 20, 21, 24)  # with one pass a day, in the evening
GARDEN = PLACE + HANDS_ON + MEANS + BENCH + SHED + "room = 2\n" + EMBER
DRIFT_K_A_DAY = 0.2


class Luck:
    """The first weather service on its bad days. ``now`` is set from outside."""

    def __init__(self, truth: Weather) -> None:
        self.truth, self.now = truth, FIRST
        self.kept: bytes = b""

    def __call__(self, query: Query) -> bytes | Reply:
        good = serving(run_of(self.truth, self.now), lambda: self.now)(query)
        assert isinstance(good, bytes)
        day, hour = self.now.day, self.now.hour
        if day in (6, 7) or (day == 10 and 4 <= hour < 14):
            return Reply(b"<html>502 Bad Gateway</html>", status=502, content_type="text/html")
        if day in (14, 15):  # the run does not advance: it is the one of the 13th
            return self.kept
        if day == 13:
            self.kept = good
        if day in (18, 19):
            return self._wild(query)
        if day in (22, 23):
            return serving(self.truth.between(FIRST, self.now + 20 * HOUR), lambda: self.now)(query)
        return good

    def _wild(self, query: Query) -> bytes | Reply:
        """Air of −45 °C in one hour of each day, sunshine by night."""
        air_c, sun_wm2 = self.truth.air_c.copy(), self.truth.global_wm2.copy()
        clock = self.truth.times // 3600 % 24
        air_c[:, clock == 15] = -45.0
        sun_wm2[:, clock < 3] = 500.0
        fields = {name: getattr(self.truth, name) for name in Weather.__slots__}
        wild = Weather(**{**fields, "air_c": air_c, "global_wm2": sun_wm2})
        return serving(wild, lambda: self.now)(query)


@pytest.fixture(scope="module")
def truth(make: Any) -> Weather:
    begins = FIRST - 12 * DAY
    mean_c = np.full(24 * (DAYS + 22), 9.0)
    for day in FROST_MORNINGS:
        night = int((FIRST.replace(day=day) - begins) / HOUR)
        mean_c[night - 12 : night + 12] = 1.0
    weather: Weather = make.weather(begins, len(mean_c), mean_c=mean_c, swing_k=6.0)
    return weather


@pytest.fixture(scope="module")
def month(truth: Weather, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Store]:
    """The database after the month."""
    folder: Path = tmp_path_factory.mktemp("month")
    luck = Luck(truth)
    with (
        pytest.MonkeyPatch.context() as patched,
        StandIn(luck) as first,
        MetService(truth, FIRST) as second,
        receiving() as phone,
    ):
        patched.setattr("urllib3.Retry.sleep", lambda _self, _response=None: None)
        config = folder / "garden.toml"
        config.write_text(
            f'{GARDEN}\n[weather]\nbase_url = "{first.url}"\nsecond_url = "{second.url}"\n'
            'contact = "keeper@garden.example"\ntimeout_s = 5\n[store]\npath = "month.db"\n',
            encoding="utf-8",
        )
        settings = load(config, {})
        with Store.open(settings.store_path) as store:
            store.journal.add([Sighting(tree="Ember", at=FIRST - DAY, stage=Stage.LEAFING_OUT)])
            supply, phones = supply_of(settings, store), Services([phone.url("/")])
            for number in range(int(DAYS * DAY / EVERY)):
                now = FIRST + number * EVERY + timedelta(hours=6, minutes=10)
                if now.day in CALM and now.hour != 18:
                    continue
                luck.now = second.now = now
                second.made_at = now - 2 * HOUR
                second.status = 503 if now.day == 10 and 4 <= now.hour < 14 else 200
                store.readings.add([drifting(truth, now)])
                tick(settings, store, supply, phones, now)
            yield store


def drifting(truth: Weather, now: datetime) -> Reading:
    air_c = float(np.interp(now.timestamp(), truth.times, truth.air_c[0]))
    warmer_k = DRIFT_K_A_DAY * ((now - FIRST) / DAY)
    return Reading(now, Quantity.AIR, round(air_c + warmer_k, 1), None, None, "post")


def told_of(rows: list[EpisodeRow], morning: datetime) -> list[EpisodeRow]:
    """What was told about the frost of a morning before its first bad hour."""
    return [
        row
        for row in rows
        if row.hazard == LEAF_FROST.key
        and row.told_at is not None
        and row.from_at <= morning + 8 * HOUR
        and (row.until_at >= morning or (row.back_at is not None and row.back_at > morning))
        and row.told_at <= row.from_at - HOUR
    ]


@pytest.mark.parametrize("day", FROST_MORNINGS)
def test_a_night_of_frost_is_warned_of_in_time(month: Store, day: int) -> None:
    rows = month.episodes.since(FIRST - DAY)
    assert told_of(rows, FIRST.replace(day=day))


def test_mild_nights_are_not_cried_over(month: Store) -> None:
    titles = [record.message.title for record in month.messages.records(FIRST - DAY)]
    protect = [title for title in titles if title.startswith(("PROTECT", "BRING", "SET", "COVER"))]
    assert 4 <= len(protect) <= 9, titles  # five runs of nights


def test_the_second_source_stood_in_and_was_named(month: Store) -> None:
    bodies = [r.message.body for r in month.messages.records(FIRST - DAY)]
    assert any("MET Norway" in body for body in bodies)
    assert any("Open-Meteo" in body for body in bodies)
