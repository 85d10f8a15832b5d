"""``underbench reading`` as a keeper types it, and what is kept of it."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from commanding import Garden, fails
from hypothesis import given
from hypothesis import strategies as st

from underbench.daemon.store.store import Store
from underbench.daemon.wording.reading_units import NoReading, units_of, value_of
from underbench.rules.garden.readings import Quantity, Reading

DAY = timedelta(days=1)
START = datetime(2020, 1, 1, tzinfo=UTC)


def kept(garden: Garden) -> list[Reading]:
    with Store.open(garden.database) as store:
        return store.readings.between(None, START, datetime.now(UTC) + DAY)


@pytest.mark.parametrize(
    ("words", "value", "spot", "tree"),
    [
        (("-2.5", "air"), -2.5, None, None),
        (("−2,5C", "air", "top", "bench"), -2.5, "top bench", None),
        (("31F", "root-ball", "ember"), -5 / 9, None, "Ember"),
        (("23°F", "bench_surface", "Top bench"), -5.0, "top bench", None),
        (("0.5in", "rain"), 12.7, None, None),
        (("36km/h", "wind", "top bench"), 10.0, "top bench", None),
        (("10mph", "wind"), 4.4704, None, None),
        (("14", "air", "Ember"), 14.0, "top bench", None),
    ],
)
def test_a_reading_is_kept_in_si_and_under_the_name_as_it_is_written(
    garden: Garden, words: tuple[str, ...], value: float, spot: str | None, tree: str | None
) -> None:
    # Exact: 31 °F is −5/9 °C, 23 °F −5 °C, an inch 25.4 mm, a mile per hour 0.44704 m/s.
    done = garden.do("reading", *words)
    assert done.exit_code == 0, done.output
    (one,) = kept(garden)
    assert (one.value, one.spot, one.tree) == (pytest.approx(value, abs=1e-9), spot, tree)
    assert (one.source, one.quantity) == ("command", words[1].replace("_", "-"))
    assert done.stdout.startswith("Noted: ")
    assert len(done.stdout.splitlines()) == 1


def test_in_a_garden_in_us_units_a_number_is_in_those(garden: Garden) -> None:
    text = garden.config.read_text(encoding="utf-8")
    garden.config.write_text(text.replace("[garden]", '[garden]\nunits = "us"'), encoding="utf-8")
    assert "27.5 °F" in garden.do("reading", "27.5", "air").stdout
    assert "0.50 in" in garden.do("reading", "0.5", "rain").stdout
    assert [one.value for one in kept(garden)] == [-2.5, pytest.approx(12.7)]


@pytest.mark.parametrize(
    ("words", "line"),
    [
        (("cold", "air"), "'cold': expected a number, such as -2.5"),
        (("3mm", "air"), "expected a number"),
        (("3", "airmin"), "did you mean 'air-min'?"),
        (("3", "air", "top", "bensh"), 'did you mean "top bench"?'),
        (("3", "root-ball"), "of which tree?"),
        (("3", "root-ball", "top bench"), "no tree called 'top bench'"),
        (("-1", "rain"), "expected 0 or more"),
        (("85", "air"), "no such value is possible there"),
        (("3", "air", "--at", "noon"), "expected a time of the clock, such as 06:30"),
        (("3", "air", "--on", "2199-01-01"), "yet to come"),
        (("3", "air", "--on", "today"), "expected a day like 2027-04-20"),
    ],
)
def test_what_is_no_reading_gets_one_line_and_nothing_is_kept(
    garden: Garden, words: tuple[str, ...], line: str
) -> None:
    fails(garden.do("reading", *words), line)
    assert kept(garden) == []


def test_the_lowest_of_a_night_is_of_the_night_that_ended_that_noon(garden: Garden) -> None:
    done = garden.do("reading", "-4", "air-min", "--on", "2026-01-15")
    assert "lowest air −4.0 °C in the garden, the night to 15 January 2026" in done.stdout
    assert [one.at for one in kept(garden)] == [datetime(2026, 1, 15, 11, tzinfo=UTC)]


def test_said_again_a_reading_is_put_right(garden: Garden) -> None:
    garden.do("reading", "-2", "air-min", "--on", "2026-01-15")
    done = garden.do("reading", "-12", "air-min", "--on", "2026-01-15")
    assert "in place of −2.0 °C" in done.stdout
    garden.do("reading", "-11", "air-min", "--on", "2026-01-15", "--at", "07:30")
    assert [one.value for one in kept(garden)] == [-11.0]
    garden.do("reading", "-3", "air-min", "--on", "2026-01-14")
    assert [one.value for one in kept(garden)] == [-3.0, -11.0]


def test_it_says_what_the_weather_service_had_and_doubts_a_unit(garden: Garden, make: Any) -> None:
    day = date(2026, 1, 15)
    midnight = datetime(day.year, day.month, day.day, tzinfo=UTC)
    with Store.open(garden.database) as store:
        store.hours.keep(make.weather(midnight - DAY, 48, mean_c=np.zeros(48), swing_k=3.0))
    # The swing is lowest at 04:00 UTC: −3 °C.
    assert "had −3.0 °C" in garden.do("reading", "-4", "air-min", "--on", f"{day}").stdout
    said = garden.do("reading", "27", "air", "--on", f"{day}", "--at", "05:00").stdout
    assert "°F taken for °C" in said


@given(st.text(max_size=60), st.sampled_from(Quantity), st.sampled_from(["metric", "us"]))
def test_any_text_is_a_finite_value_or_one_line(said: str, quantity: Quantity, units: Any) -> None:
    found: float | str
    try:
        found = value_of(said, quantity, units)
    except NoReading as fault:
        found = str(fault)
    assert abs(found) < 1e41 if isinstance(found, float) else len(found.splitlines()) == 1


@given(st.floats(0, 60), st.sampled_from(Quantity))
def test_a_number_means_the_same_in_each_unit_it_is_written_in(
    number: float, quantity: Quantity
) -> None:
    for unit in units_of(quantity):
        text = f"{number:.6f}"
        bare = value_of(text, quantity, "metric", unit)
        assert value_of(f"{text} {unit.lower()}", quantity, "us") == bare
        assert value_of(float(text), quantity, "us", unit) == bare
