"""How the daemon's messages would have served a grower through a whole year, in a grower's terms.

    python tests/bench/score.py jfk jfk.csv             New York JFK 2013
    python tests/bench/score.py london london.csv       London 2012
    python tests/bench/score.py amsterdam amsterdam.csv, chicago chicago.csv      typical years
    ... --every 3        hours between passes, beside those as hands-on hours begin
    ... --past jfk_past.csv      the days of earlier years (past_days.py), as an install has them

The CSV files are those of years.py, each with an autumn before the year. The garden is that of
garden30.py, with its works. The keeper does as told for the trees that a message names, and for no
others. Each pass has the weather up to then, and a forecast that errs as measured
(forecast_error.py). The truth is plain published rules on the air as observed (score_truth.py), at
each tree's home spot; it knows nothing of the daemon's models. A tree-night is a tree harmed in a
night, had nobody done anything:

  saved        it stood under cover, or was covered, and that was enough
  harmed so    it was helped, and harmed all the same
  hopeless     it was told of, and told that nothing in the garden suffices
  missed       all others

A carry is a tree carried in, once for each run of nights; needless where no night of it would have
harmed. Beside the daemon stand, on the same forecasts, a careful grower's habit (pots up to 12 L
into quarters once, before the first night forecast below -2 °C after 1 November, and out on 20
March; what is in leaf carried when the evening's forecast is below 2 °C) and the rule of thumb
"carry all below 3 °C".
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import process_time
from zoneinfo import ZoneInfo

from forecast_error import ErringForecast
from garden30 import STORE, write
from past_days import Day, past_days
from score_count import (
    Score,
    below,
    by_week,
    careful,
    daemon,
    flaps,
    is_named,
    kind_of,
    nights_of,
    notice_h,
)
from score_truth import Truth

from underbench.daemon.alerts.compose import Said, Told
from underbench.daemon.alerts.message_kinds import Kind
from underbench.daemon.alerts.scheduled_messages import say
from underbench.daemon.config.settings import Settings, load
from underbench.daemon.rehearsal.replay import Heard, Keeper, Rehearsal, decision_hours
from underbench.daemon.store.store import Store
from underbench.daemon.weather.csv_series import read_series
from underbench.rules.garden.journal import Entry
from underbench.rules.hazards.hazard import Action

COLUMNS = (*Action, *(kind for kind in Kind if kind is not Kind.ADVICE))
THUMB_C = 3.0
EPOCH = date(1970, 1, 1)


@dataclass(frozen=True, slots=True)
class Year:
    """Where and when a series was measured."""

    latitude: float
    longitude: float
    elevation_m: float
    timezone: str
    years: tuple[int, int]  # the works of the one before are in the journal too

    @property
    def begins(self) -> datetime:
        """When the first pass is run; the series goes back to the autumn before."""
        return datetime(self.years[1], 1, 1, 12, tzinfo=UTC)


YEARS = {
    "jfk": Year(40.64, -73.78, 4, "America/New_York", (2012, 2013)),
    "london": Year(51.51, -0.12, 30, "Europe/London", (2011, 2012)),
    "amsterdam": Year(52.30, 4.77, 0, "Europe/Amsterdam", (2012, 2013)),
    "chicago": Year(41.98, -87.92, 201, "America/Chicago", (2012, 2013)),
}


class Reader(Keeper):
    """A keeper who reads the message: what it does not name is not done."""

    def hear(self, one: Told | Said, now: datetime) -> None:
        """Plan what a message asks for, of the trees that it names."""
        if isinstance(one, Told):
            heard = Heard(now, one)
            jobs = tuple(job for job in one.advice.jobs if is_named(heard, job.tree))
            one = replace(one, advice=replace(one.advice, jobs=jobs))
            if not jobs:
                return
        super().hear(one, now)


def main() -> None:
    """Replay what the command line asks for and print its table."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("year", choices=YEARS)
    asked.add_argument("weather", type=Path)
    asked.add_argument("--every", type=int, default=3, help="hours between passes")
    asked.add_argument("--until", type=_day)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--past", type=Path)
    given = asked.parse_args()
    year = YEARS[given.year]
    with TemporaryDirectory(prefix="underbench-score-") as folder:
        settings, entries = garden(Path(folder), year)
    series = read_series(given.weather, settings.garden)
    last = datetime.fromtimestamp(int(series.weather.times[-1]), tz=UTC)
    span = year.begins, min(given.until or last, last)
    source = ErringForecast(series.weather, given.seed)
    zone, began = settings.garden.timezone, process_time()
    passes = decision_hours(*span, settings.hands_on, zone, given.every)
    past = past_days(given.past) if given.past else []
    heard, journal = replay(settings, entries, source, passes, past)
    print(
        f"{given.year}, {span[0]:%Y-%m-%d} to {span[1]:%Y-%m-%d}, {len(passes):,} passes,", end=" "
    )
    print(f"seed {given.seed}; {process_time() - began:.0f} s of processor\n")
    print("\n".join(messages(heard, zone)), end="\n\n")
    print("\n".join(harm(heard, journal, Truth(settings, series.weather, journal, span), source)))


def _day(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def garden(folder: Path, year: Year) -> tuple[Settings, tuple[Entry, ...]]:
    """Return the scoring garden at a place, and its journal."""
    place: dict[str, float | str] = {
        "latitude": year.latitude,
        "longitude": year.longitude,
        "elevation_m": year.elevation_m,
        "timezone": year.timezone,
    }
    settings = load(write(folder, place, year.years), {})
    with Store.open(folder / STORE) as store:
        return settings, tuple(store.journal.entries())


def replay(
    settings: Settings,
    entries: Sequence[Entry],
    source: ErringForecast,
    passes: Iterable[datetime],
    past: Sequence[Day] = (),
) -> tuple[list[Heard], tuple[Entry, ...]]:
    """Return all messages of a span, those by the clock too, and the journal as it was left.
    ``past``: the days of earlier years."""
    heard: list[Heard] = []
    with Rehearsal(settings, source, entries) as rehearsal:
        rehearsal.store.hours.keep_days([((day - EPOCH).days, *air_c) for day, *air_c in past])
        rehearsal.keeper = Reader(settings)
        for now in passes:
            done, told = rehearsal.run(now)
            by_clock = say(done, settings, rehearsal.store, now)
            heard += [*told, *(Heard(now, Said(Kind(one.kind), (), one)) for one in by_clock)]
        return heard, tuple(rehearsal.store.journal.entries())


def messages(heard: Sequence[Heard], zone: str) -> list[str]:
    """Lines of messages by month and kind, and of how the weeks differ."""
    by_month: dict[str, Counter[str]] = {}
    for one in heard:
        month = by_month.setdefault(f"{one.at.astimezone(ZoneInfo(zone)):%Y-%m}", Counter())
        month[kind_of(one)] += 1
    columns = [c for c in COLUMNS if any(c in month for month in by_month.values())]
    lines = ["messages  " + "".join(f"{column:>15}" for column in columns) + f"{'all':>6}"]
    total: Counter[str] = Counter()
    for name, month in by_month.items():
        total += month
        lines.append(_row(name, month, columns))
    weeks = by_week(heard, zone)
    busiest = ", ".join(f"{count} in week {w} of {y}" for (y, w), count in weeks.most_common(3))
    unnamed = sum(
        not is_named(one, job.tree) for one in heard if one.advice for job in one.advice.jobs
    )
    return [
        *lines,
        _row("all", total, columns),
        f"outside watering: {total.total() - total[Action.WATER]}",
        f"weeks with none: {max(0, 52 - len(weeks))}; the busiest: {busiest}",
        f"trees meant and not named: {unnamed}, each time counted",
    ]


def _row(name: str, month: Counter[str], columns: Sequence[str]) -> str:
    return f"{name:<10}" + "".join(f"{month[c]:15}" for c in columns) + f"{month.total():6}"


def harm(
    heard: Sequence[Heard], journal: Sequence[Entry], truth: Truth, source: ErringForecast
) -> list[str]:
    """Lines on harm: the daemon beside the two habits, then what else a grower would ask."""
    mine = daemon(heard, journal, truth)
    others = [careful(source.forecast, truth), below(THUMB_C, source.forecast, truth)]
    causes = Counter(harm.by for harm in truth.harmed.values())
    hours = notice_h(heard, truth)
    return [
        f"damaging nights: {nights_of(truth.harmed)} ({len(truth.harmed)} tree-nights,"
        f" {sum(one.killed for one in truth.harmed.values())} deadly)",
        "by " + ", ".join(f"{cause}: {count}" for cause, count in causes.most_common()),
        "",
        f"{'':<22}{'carries':>9}{'needless':>10}{'saved':>8}{'harmed so':>11}{'hopeless':>10}"
        f"{'missed':>8}{'deadly':>8}{'nights':>8}",
        *map(_scored, [mine, *others]),
        "",
        f"median notice of a damaging night: {median(hours):.0f} h" if hours else "no notice given",
        f"called off or sent out, and told again: {len(flaps(heard))}",
    ]


def _scored(score: Score) -> str:
    deadly = sum(one.killed for one in score.missed.values())
    return (
        f"{score.name:<22}{score.carries:9}{score.needless:10}{len(score.saved):8}"
        f"{len(score.under_cover):11}{len(score.hopeless):10}{len(score.missed):8}{deadly:8}"
        f"{nights_of(score.missed):8}"
    )


if __name__ == "__main__":
    main()
