"""The demo: a packaged garden rehearsed over a packaged week, each message shown whole."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Iterable, Iterator
from datetime import UTC, datetime
from itertools import groupby
from pathlib import Path

from pydantic import TypeAdapter

from underbench.daemon.config.settings import load
from underbench.daemon.rehearsal.month_report import MADE_OF
from underbench.daemon.rehearsal.replay import Heard, Journal, Plan, plan, rehearse
from underbench.daemon.weather.csv_series import read_series
from underbench.daemon.wording.units import Units
from underbench.rules.garden.journal import Entry
from underbench.rules.garden.local_time import Stretch, days, local_day

Echo = Callable[[str], None]

HERE = Path(__file__).parent
BEGINS = datetime(2026, 4, 20, 5, tzinfo=UTC)  # a Monday, 07:00 by the garden's clock
ENDS = datetime(2026, 4, 26, 22, tzinfo=UTC)  # the midnight after Sunday

OPENING = """\
An invented week in an invented garden: {trees} trees at {garden}, in the hills of the Jura.
Odile keeps them. She is there before work and from six in the evening, and leaves for two days
on Saturday night. The weather is made up. The harm to the trees and the messages are worked out
as they would be at home.
{made_of}
"""
CLOSING = """\
That was the week: {messages} messages. To start with your own garden:
  1. underbench init              asks the place, your spots and trees, your phone's push address
     (or copy config_examples/first_garden.toml and write them in)
  2. underbench check             is the file right, and what was worked out from it?
  3. underbench today             what to do now, what stands where, what comes
  4. underbench run               from here on it tells you only what needs doing."""


def demo_plan() -> Plan:
    """Return the packaged week as a rehearsal. The garden of this machine is not read."""
    settings = load(HERE / "garden.toml", {})
    series = read_series(HERE / "invented_week.csv", settings.garden)
    rows = tomllib.loads((HERE / "journal.toml").read_text("utf-8"))["entry"]
    entries = TypeAdapter(tuple[Entry, ...]).validate_python(rows)
    return plan(settings, series, BEGINS, ENDS, Journal(entries, 0))


def run_demo(echo: Echo) -> None:
    """Rehearse the packaged week and print each message as it comes. Nothing is sent."""
    planned, messages = demo_plan(), 0
    settings = planned.settings
    name, trees = settings.garden.name, len(settings.trees)
    echo(OPENING.format(trees=trees, garden=name, made_of=MADE_OF))
    for day, heard in _by_day(planned):
        echo(_weather_of(day, planned))
        before = messages
        for one in heard:
            told, messages = one.told.message, messages + 1
            echo(f"\n— {one.at.astimezone(planned.zone):%H:%M} —\n{told.title}\n{told.body}")
        echo("" if messages > before else "No message.\n")
    echo(CLOSING.format(messages=messages))


def _by_day(planned: Plan) -> Iterator[tuple[Stretch, Iterable[Heard]]]:
    """Yield each local day of the week with its messages, as they are worked out."""
    zone = planned.settings.garden.timezone
    left = days(BEGINS, ENDS, zone)
    for day, heard in groupby(rehearse(planned), key=lambda one: local_day(one.at, zone)):
        while local_day(left[0].start, zone) < day:
            yield left.pop(0), []
        yield left.pop(0), heard
    for quiet in left:
        yield quiet, []


def _weather_of(day: Stretch, planned: Plan) -> str:
    """The weather of a local day, in words."""
    settings = planned.settings
    weather, units = planned.series.weather.between(day.start, day.end), Units(settings.units)
    local = day.start.astimezone(planned.zone)
    low, high = units.temp_whole(weather.air_c.min()), units.temp_whole(weather.air_c.max())
    gusts = units.speed(weather.gust_ms.max())
    return (
        f"{local:%A} {local.day} {local:%B}: {low} to {high}, gusts to {gusts},"
        f" {weather.rain_mm.sum():.0f} mm of rain."
    )
