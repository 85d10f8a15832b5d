"""Which weather is used, and what is said about its age."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from openmeteo_service import Query, Reply, StandIn, openmeteo_body, serving

from underbench.daemon.store.kept_answers import Kept, Standing
from underbench.daemon.weather.openmeteo import ATTRIBUTION, NAME, OpenMeteo
from underbench.daemon.weather.provider import (
    Answer,
    BadAnswer,
    SupplyError,
    Throttled,
    Unreachable,
)
from underbench.daemon.weather.supply import Supply
from underbench.rules.garden.inventory import Garden
from underbench.rules.weather.hourly import Weather, covered_until, from_columns

NOW = datetime(2027, 2, 11, 9, 41, tzinfo=UTC)
HOUR, A_SECOND = timedelta(hours=1), timedelta(seconds=1)
GARDEN = Garden(
    name="Quillfold", latitude=51.2, longitude=-2.5, elevation_m=143.0, timezone="Europe/London"
)


def weather(air_c: float = 4.0, hours: int = 24 * 30) -> Weather:
    times = int(datetime(2027, 2, 1, tzinfo=UTC).timestamp()) + 3600 * np.arange(hours)
    flat = np.ones(hours)
    return from_columns(times, {"air_c": air_c * flat, "dew_c": 0 * flat, "wind_ms": 2 * flat})


def written(air_c: float = 4.0, ahead_h: int = 100) -> bytes:
    """An answer that reaches ``ahead_h`` whole hours past NOW."""
    whole = weather(air_c)
    start, end = NOW - timedelta(days=3), NOW + timedelta(hours=ahead_h)
    return openmeteo_body(whole.between(start, end), 51.2, -2.5, 143)


class InMemory:
    """A shelf in memory. At first it holds ``body`` of the first source, or nothing."""

    def __init__(self, body: bytes | None = None, fetched_at: datetime = NOW) -> None:
        self.forecasts: dict[str, Kept] = {}
        self.standings: dict[str, Standing] = {}
        if body is not None:
            self.forecasts[NAME] = Kept(body, fetched_at, fetched_at)

    @property
    def last(self) -> tuple[bytes, datetime] | None:
        kept = self.forecasts.get(NAME)
        return kept and (kept.body, kept.fetched_at)

    def keep_forecast(self, source: str, kept: Kept) -> None:
        self.forecasts[source] = kept

    def last_forecast(self, source: str) -> Kept | None:
        return self.forecasts.get(source)

    def keep_standing(self, source: str, standing: Standing) -> None:
        self.standings[source] = standing

    def standing(self, source: str) -> Standing:
        return self.standings.get(source, Standing())


class Scripted(OpenMeteo):
    """The provider without its network. ``answer`` is what comes, or what is raised."""

    def __init__(self, answer: bytes | SupplyError) -> None:
        super().__init__("https://weather.invalid", None, "", 5)
        self.answer = answer
        self.asked: list[int] = []

    def fetch(
        self, garden: Garden, past_days: int, forecast_days: int, now: datetime, held: str = ""
    ) -> Answer:
        self.asked.append(past_days)
        if isinstance(self.answer, SupplyError):
            raise self.answer
        return Answer(self.answer, "https://weather.invalid/v1/forecast")


def supply(answer: bytes | SupplyError, kept: InMemory) -> tuple[Supply, Scripted]:
    provider = Scripted(answer)
    return Supply(provider, GARDEN, kept), provider


def test_a_good_answer_is_used_and_kept() -> None:
    kept = InMemory()
    supplier, provider = supply(written(), kept)
    got = supplier.latest(NOW, past_days=92)
    assert (got.problem, got.age, got.fetched_at) == (None, timedelta(0), NOW)
    assert (got.source, got.attribution) == ("Open-Meteo", ATTRIBUTION)
    assert provider.asked == [92]
    assert kept.last == (written(), NOW)


def test_the_service_is_not_asked_again_within_half_an_hour() -> None:
    supplier, provider = supply(written(7.0), InMemory(written(4.0), NOW - timedelta(minutes=29)))
    got = supplier.latest(NOW, past_days=2)
    assert provider.asked == []
    assert got.weather.air_c[0, 0] == 4.0
    assert (got.problem, got.age) == (None, timedelta(minutes=29))


def test_after_half_an_hour_it_is_asked_again() -> None:
    kept = InMemory(written(4.0), NOW - timedelta(minutes=30))
    supplier, provider = supply(written(7.0), kept)
    assert supplier.latest(NOW, past_days=2).weather.air_c[0, 0] == 7.0
    assert provider.asked == [2]
    assert kept.last == (written(7.0), NOW)


@pytest.mark.parametrize(
    ("good_for", "age", "asked"),
    [
        (2 * HOUR, 2 * HOUR - A_SECOND, []),
        (2 * HOUR, 2 * HOUR, [2]),
        (30 * 24 * HOUR, 6 * HOUR - A_SECOND, []),
        (30 * 24 * HOUR, 6 * HOUR, [2]),  # an Expires so far ahead is a wrong clock
    ],
)
def test_the_service_is_not_asked_before_it_wants_to_be_but_after_six_hours_at_the_latest(
    good_for: timedelta, age: timedelta, asked: list[int]
) -> None:
    kept = InMemory(written(), NOW - age)
    kept.forecasts[NAME] = replace(kept.forecasts[NAME], expires=NOW - age + good_for)
    supplier, provider = supply(written(), kept)
    supplier.latest(NOW, past_days=2)
    assert provider.asked == asked


def test_a_kept_answer_from_the_future_does_not_stop_the_asking() -> None:
    supplier, provider = supply(written(), InMemory(written(), NOW + timedelta(days=400)))
    assert supplier.latest(NOW, past_days=2).problem is None
    assert provider.asked == [2]


@pytest.mark.parametrize(
    ("age", "said"),
    [
        (timedelta(minutes=45), "45 min ago"),
        (timedelta(hours=7, minutes=50), "7 h ago"),
        (timedelta(days=3, hours=1), "3 days ago"),
    ],
)
def test_when_nothing_comes_the_last_good_is_used_and_its_age_said(
    age: timedelta, said: str
) -> None:
    kept = InMemory(written(), NOW - age)
    supplier, _ = supply(Unreachable("the weather service cannot be reached"), kept)
    got = supplier.latest(NOW, past_days=2)
    assert (got.age, got.fetched_at) == (age, NOW - age)
    assert got.problem == (f"the weather service cannot be reached; using the forecast from {said}")
    assert kept.last == (written(), NOW - age)


@pytest.mark.parametrize("trouble", [Unreachable("down"), BadAnswer("odd"), Throttled(NOW)])
def test_with_nothing_kept_the_trouble_is_raised(trouble: SupplyError) -> None:
    supplier, _ = supply(trouble, InMemory())
    with pytest.raises(type(trouble), match=str(trouble)[:4]):
        supplier.latest(NOW, past_days=92)


ALL_NULL = written().replace(b"4.0", b"null")


@pytest.mark.parametrize("bad", [ALL_NULL, b"<html>", b"", written()[:500], b'{"error":true}'])
def test_a_bad_answer_never_replaces_the_last_good(bad: bytes) -> None:
    kept = InMemory(written(), NOW - timedelta(hours=5))
    supplier, _ = supply(bad, kept)
    got = supplier.latest(NOW, past_days=2)
    assert got.age == timedelta(hours=5)
    assert kept.last == (written(), NOW - timedelta(hours=5))


def test_an_answer_of_days_gone_by_is_not_used() -> None:
    # open-meteo/open-meteo issue 1042: the same address gave data days old
    stale = openmeteo_body(weather(hours=48), 51.2, -2.5, 143)
    supplier, _ = supply(stale, InMemory())
    with pytest.raises(BadAnswer, match="no weather for the next hour"):
        supplier.latest(NOW, past_days=2)


def test_an_answer_reaching_less_far_than_the_kept_one_is_not_used() -> None:
    kept = InMemory(written(4.0, ahead_h=60), NOW - timedelta(hours=5))
    supplier, _ = supply(written(7.0, ahead_h=30), kept)
    got = supplier.latest(NOW, past_days=2)
    assert got.weather.air_c[0, 0] == 4.0
    assert got.problem == (
        "Open-Meteo sent weather for the next 29 h only; using the forecast from 5 h ago"
    )


@pytest.mark.parametrize(
    "kept", [InMemory(), InMemory(written(4.0, ahead_h=12), NOW - timedelta(days=5))]
)
def test_a_short_answer_is_better_than_a_shorter_one_or_none(kept: InMemory) -> None:
    before = kept.last
    supplier, _ = supply(written(7.0, ahead_h=30), kept)
    got = supplier.latest(NOW, past_days=2)
    assert got.weather.air_c[0, 0] == 7.0
    assert got.problem == "Open-Meteo sent weather for the next 29 h only"
    assert kept.last == before


def test_two_days_ahead_are_enough() -> None:
    supplier, _ = supply(written(ahead_h=49), InMemory())
    got = supplier.latest(NOW, past_days=2)
    until = covered_until(got.weather, NOW)
    assert until is not None
    assert timedelta(hours=48) <= until - NOW < timedelta(hours=49)
    assert got.problem is None


def test_a_kept_forecast_that_has_run_out_is_as_good_as_none() -> None:
    kept = InMemory(openmeteo_body(weather(hours=48), 51.2, -2.5, 143), NOW - timedelta(days=9))
    supplier, _ = supply(Unreachable("down"), kept)
    with pytest.raises(Unreachable, match="down"):
        supplier.latest(NOW, past_days=2)


def test_a_kept_answer_that_cannot_be_read_is_as_good_as_none() -> None:
    kept = InMemory(b"\x00rot", NOW - timedelta(minutes=5))
    supplier, provider = supply(written(), kept)
    assert supplier.latest(NOW, past_days=2).problem is None
    assert provider.asked == [2]


def test_a_throttled_service_is_left_in_peace_until_it_renews_the_allowance() -> None:
    renewed = NOW + timedelta(minutes=19)
    kept = InMemory(written(), NOW - timedelta(hours=1))
    supplier, provider = supply(Throttled(renewed), kept)
    for minutes in (0, 10, 18):
        got = supplier.latest(NOW + timedelta(minutes=minutes), past_days=2)
        assert got.problem is not None
        assert "asking again after 2027-02-11 10:00 UTC; using the forecast from" in got.problem
    assert len(provider.asked) == 1
    provider.answer = written()
    assert supplier.latest(renewed, past_days=2).problem is None
    assert len(provider.asked) == 2


def test_over_a_real_socket_an_outage_and_its_end() -> None:
    good = serving(weather(), lambda: NOW)
    answers = iter([True, False, True])

    def answer(query: Query) -> bytes | Reply:
        return good(query) if next(answers) else b""

    kept = InMemory()
    with StandIn(answer) as service:
        supplier = Supply(OpenMeteo(service.url, None, "", 5), GARDEN, kept)
        first = supplier.latest(NOW, past_days=5)
        during = supplier.latest(NOW + timedelta(hours=1), past_days=5)
        after = supplier.latest(NOW + timedelta(hours=2), past_days=5)
    assert first.weather.times[0] == datetime(2027, 2, 6, tzinfo=UTC).timestamp()
    assert during.problem == "Open-Meteo sent an empty answer; using the forecast from 60 min ago"
    assert (after.problem, after.fetched_at) == (None, NOW + timedelta(hours=2))
    assert (after.age, after.changed_at) == (timedelta(hours=2), NOW)  # it says what it said before
    assert kept.last is not None
    assert kept.last[1] == NOW + timedelta(hours=2)


def test_each_answer_is_read_once_though_it_is_looked_at_by_two_passes() -> None:
    class Counting(OpenMeteo):
        read = 0

        def parse(self, body: bytes) -> Weather:
            self.read += 1
            return super().parse(body)

    bodies = iter(written(air_c=float(n)) for n in range(3))
    with StandIn(lambda _query: next(bodies)) as service:
        provider = Counting(service.url, None, "", 5)
        supply = Supply(provider, GARDEN, InMemory())
        for hours in range(3):
            supply.latest(NOW + timedelta(hours=hours), past_days=3)
    assert provider.read == 3
