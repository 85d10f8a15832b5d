"""The ensemble service: the question, the reading of an answer, and a pass without one."""

from __future__ import annotations

import json
import logging
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from commanding import EVENING, Garden
from ensemble_service import MODEL, ensemble_body, hours_of, members_of
from openmeteo_service import Reply

from underbench.daemon.config.file import WeatherSource
from underbench.daemon.weather.ensemble import (
    FREE_A_DAY,
    REFETCH_AFTER,
    bring_ensemble,
    call_weight,
    kept_ensemble,
    parse_members,
)
from underbench.daemon.weather.provider import BadAnswer, Unreachable
from underbench.rules.weather.hourly import Weather

HOUR, DAY = timedelta(hours=1), timedelta(days=1)
NOW = datetime(2024, 4, 23, 15, 10, tzinfo=UTC)


@pytest.fixture(scope="module")
def week(spring: Weather) -> Weather:
    return hours_of(spring, NOW.replace(hour=0, minute=0), 7 * 24)


@pytest.fixture(scope="module")
def body(week: Weather) -> bytes:
    return ensemble_body({MODEL: members_of(week, 51)})


def altered(body: bytes, **hourly: Any) -> bytes:
    answer = json.loads(body)
    answer["hourly"] |= hourly
    return json.dumps(answer).encode()


# Reading


@pytest.mark.parametrize("count", [11, 40, 51])
def test_members_are_counted_by_their_keys(week: Weather, count: int) -> None:
    members = members_of(week, count)
    (run,) = parse_members(ensemble_body({MODEL: members}))
    assert run.members == count
    for name in ("air_c", "dew_c", "wind_ms", "cloud", "global_wm2", "rain_mm"):
        assert getattr(run, name) == pytest.approx(getattr(members, name), abs=0.01), name
    assert np.isnan(run.gust_ms).all()


def test_two_models_in_one_answer_are_two_runs(week: Weather) -> None:
    """As recorded: 40 series of ICON and 51 of ECMWF. Each key ends in its model's name."""
    runs = {"icon_seamless_eps": members_of(week, 40), MODEL: members_of(week, 51, seed=8)}
    found = parse_members(ensemble_body(runs))
    assert [run.members for run in found] == [40, 51]
    assert found[1].air_c == pytest.approx(runs[MODEL].air_c, abs=0.01)


def test_missing_members_are_left_out(body: bytes) -> None:
    """A member is all null, or its key is missing. The service numbers the rest anew."""
    answer = json.loads(body)
    del answer["hourly"]["temperature_2m_member07"]
    hours = len(answer["hourly"]["time"])
    answer["hourly"]["temperature_2m_member08"] = [None] * hours
    (run,) = parse_members(json.dumps(answer).encode())
    assert run.members == 49


def test_a_variable_that_the_model_lacks_stays_unknown(week: Weather) -> None:
    (run,) = parse_members(ensemble_body({MODEL: members_of(week, 40)}, lacking=("dew_c",)))
    assert np.isnan(run.dew_c).all()
    assert run.members == 40


def test_three_hourly_steps_are_drawn_across(body: bytes) -> None:
    values = json.loads(body)["hourly"]["temperature_2m_member01"]
    steps = [value if hour % 3 == 0 else None for hour, value in enumerate(values)]
    (run,) = parse_members(altered(body, temperature_2m_member01=steps))
    assert run.air_c[1, 1] == pytest.approx((2 * values[0] + values[3]) / 3)


def test_a_wild_member_costs_its_hour_not_the_ensemble(body: bytes) -> None:
    values = json.loads(body)["hourly"]["temperature_2m_member03"]
    (run,) = parse_members(
        altered(body, temperature_2m_member03=[*values[:40], -999, *values[41:]])
    )
    assert run.air_c[3, 40] == pytest.approx((values[39] + values[41]) / 2)


@pytest.mark.parametrize(
    "broken",
    [
        b"",
        b"<html>502 Bad Gateway</html>",
        b'{"error":true,"reason":"Model does not exist"}',
        b'{"hourly":{"time":[1713830400]},"hourly_units":{"time":"unixtime"}}',
    ],
)
def test_what_is_no_ensemble_is_a_bad_answer(broken: bytes) -> None:
    with pytest.raises(BadAnswer):
        parse_members(broken)


def test_a_single_member_is_no_ensemble(week: Weather) -> None:
    with pytest.raises(BadAnswer, match="no ensemble members"):
        parse_members(ensemble_body({MODEL: members_of(week, 1)}))


# What it costs


@pytest.mark.parametrize(
    ("members", "variables", "days", "weight"),
    [(31, 6, 7, 18.6), (122, 6, 7, 73.2), (1, 20, 7, 2.0), (1, 5, 7, 1.0), (51, 6, 28, 61.2)],
)
def test_a_calls_weight(members: int, variables: int, days: int, weight: float) -> None:
    """The first three are examples worked out from the service's source. The rest are by its
    formula max(1, v/10, v/10 × days/14)."""
    assert call_weight(members, variables, days) == pytest.approx(weight)


def test_a_days_calls_are_far_under_the_free_allowance() -> None:
    a_day = call_weight(51) * (DAY / REFETCH_AFTER)
    assert a_day == pytest.approx(122.4)  # as the module's docstring says
    assert a_day < FREE_A_DAY / 50


# Kept, and done without


class Members:
    """An ensemble source that answers from memory, or is down. It counts the questions."""

    models = MODEL

    def __init__(self, body: bytes) -> None:
        self.body, self.down, self.asked = body, False, 0

    def members(self, garden: Any, now: datetime) -> bytes:
        self.asked += 1
        if self.down:
            raise Unreachable("the weather service at nowhere.example cannot be reached")
        return self.body


@pytest.fixture
def lab(labs: Any, spring: Weather) -> Any:
    toml = '[garden]\nname = "Orchard End"\nlatitude = 46.05\nlongitude = 14.51\n'
    toml += 'elevation_m = 300\ntimezone = "Europe/Ljubljana"\n[[spot]]\nname = "bench"\n'
    toml += 'kind = "bench"\n[[tree]]\nname = "Ember"\nspecies = "Acer palmatum"\nlitres = 4\n'
    return labs(toml + 'spot = "bench"\n', spring)


def test_it_is_asked_four_times_a_day_and_kept_over_restarts(lab: Any, body: bytes) -> None:
    lab.supply.ensembles = source = Members(body)
    for hour in range(24):
        bring_ensemble(lab.store, lab.settings.garden, source, NOW + hour * HOUR)
        if hour == 3:
            lab.restart()
            lab.supply.ensembles = source
            assert lab.run(NOW + hour * HOUR).outlook.weather.members == 51
    assert source.asked == 4


def test_a_failure_is_quiet_and_an_old_ensemble_is_not_used(
    lab: Any, body: bytes, caplog: pytest.LogCaptureFixture
) -> None:
    caplog.set_level(logging.INFO)
    lab.supply.ensembles = source = Members(body)
    lab.run(NOW)
    assert "51 members; the call weighs 30.6, 122 a day" in caplog.text
    source.down = True
    served = []
    for hour in range(1, 25):
        bring_ensemble(lab.store, lab.settings.garden, source, NOW + hour * HOUR)
        served.append(kept_ensemble(lab.store, MODEL, NOW + hour * HOUR) is not None)
    assert served == [True] * 17 + [False] * 7
    assert lab.run(NOW + 25 * HOUR).outlook.weather.members == 20
    warned = [r for r in caplog.records if r.levelno == logging.WARNING and "ensemble" in r.msg]
    assert len(warned) == 1
    assert source.asked == 1 + 7  # after 6 h, then every 3
    source.down = False
    assert lab.run(NOW + 27 * HOUR).outlook.weather.members == 51


def test_ensembles_of_other_models_or_another_place_are_not_used(lab: Any, body: bytes) -> None:
    bring_ensemble(lab.store, lab.settings.garden, Members(body), NOW)
    kept = kept_ensemble(lab.store, MODEL, NOW)
    assert kept is not None
    assert kept.members == 51
    assert kept_ensemble(lab.store, "icon_eu_eps", NOW) is None
    assert kept_ensemble(lab.store, MODEL, NOW - DAY) is None  # as if it were before
    lab.store.settle("one place")
    lab.store.settle("another")
    assert kept_ensemble(lab.store, MODEL, NOW) is None


def test_what_is_kept_is_small(lab: Any, body: bytes) -> None:
    bring_ensemble(lab.store, lab.settings.garden, Members(body), NOW)
    (row,) = lab.store.db.query("SELECT length(body) AS size FROM ensemble")
    assert row["size"] < 1_000_000


def test_only_a_known_service_has_an_ensemble_of_its_own() -> None:
    assert WeatherSource().ensembles == "https://ensemble-api.open-meteo.com"
    assert WeatherSource(ensemble="none").ensembles is None
    assert WeatherSource(base_url="http://127.0.0.1:8080").ensembles is None
    own = WeatherSource(base_url="http://127.0.0.1:8080", ensemble_url="http://127.0.0.1:8081")
    assert own.ensembles == "http://127.0.0.1:8081"


# Through the command


def test_once_counts_its_chances_over_the_ensemble(garden: Garden) -> None:
    seen = garden.seen_at()
    (query,) = garden.service.asked_members
    assert query["models"] == MODEL
    assert query["hourly"].split(",")[0] == "temperature_2m"
    assert (query["timezone"], query["timeformat"]) == ("GMT", "unixtime")
    assert seen["chance_from"] == {
        "weathers": 51,
        "ensemble": MODEL,
        "members": 51,
        "fetched_at": "2024-04-23T15:10:00Z",
    }
    assert seen["findings"]
    for finding in seen["findings"]:
        assert finding["chance"] * 51 == pytest.approx(round(finding["chance"] * 51))
    said = garden.do("once", "--dry-run", "--at", EVENING.isoformat()).output
    assert f"Chances are of 51 weathers from the ensemble {MODEL} of Tuesday 23 April 17:10" in said
    assert (
        "Middle of 51 weathers" in garden.do("feels", "Ember", "--at", EVENING.isoformat()).output
    )


def test_check_says_what_the_ensemble_is(garden: Garden, spring: Weather) -> None:
    """``check`` looks at today's weather. Here the days of April stand for today."""
    garden.service.now = datetime.now(UTC)
    days = (garden.service.now - NOW).days
    garden.service.weather = replace(spring, times=spring.times + days * 24 * 3600)
    assert f"ok   ensemble: {MODEL}, 51 members; a call weighs 30.6" in garden.do("check").output
    garden.service.ensemble = Reply(b"", 503)
    garden.database.unlink()
    assert "note ensemble: none of" in garden.do("check").output


def test_without_one_the_pass_goes_on(garden: Garden) -> None:
    garden.service.ensemble = Reply(b"<html>502 Bad Gateway</html>", 502, "text/html")
    seen = garden.seen_at()
    assert seen["findings"]
    assert seen["chance_from"]["weathers"] == 20
    said = garden.do("once", "--dry-run", "--at", EVENING.isoformat())
    assert said.exit_code == 0
    assert "Chances are of 20 weathers made of this one forecast." in said.output


def test_a_model_name_that_cannot_be_one_is_one_clear_line(garden: Garden) -> None:
    text = garden.config.read_text(encoding="utf-8")
    wrong = text.replace("timeout_s = 5", 'timeout_s = 5\nensemble = "ICON EU!"')
    garden.config.write_text(wrong, encoding="utf-8")
    done = garden.do("check")
    assert done.exit_code == 2
    assert "ensemble" in done.stderr
    assert "icon_eu_eps" in done.stderr
