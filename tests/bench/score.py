"""How the daemon's messages would have served a grower through a whole year, in a grower's terms.

    python tests/bench/score.py jfk jfk.csv          New York JFK 2013, hourly passes
    python tests/bench/score.py london london.csv    London 2012
    ... --every 3 --from 2013-01-01 --until 2013-05-01     a quick look at a part of it

The CSV files are those of years.py. The garden is garden30.py's, with its works; the keeper does as
told (`replay.Keeper`). Each pass has the weather up to then, and a forecast
that errs as measured (forecast_error.py). The truth is the same physics on what was observed, each
tree at its home spot (score_truth.py): what is scored is the telling, not the physics.

Carries are counted for frost: a tree told to be carried or set down, once for each run of nights;
needless, where none of these nights would have harmed it. A damaging night is missed where no
message spoke of it to that tree before the first bad hour and it did not stand under cover.
Beside it stand two rules of thumb on the same forecasts: carry all that is not in the ground when
the forecast minimum is below 0 or 3 °C.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from statistics import median
from tempfile import TemporaryDirectory
from time import perf_counter
from zoneinfo import ZoneInfo

from forecast_error import ErringForecast
from garden30 import STORE, write
from score_count import (
    Score,
    away,
    carried_otherwise,
    daemon,
    flaps,
    harmed_helped,
    hopeless,
    kind_of,
    last_words,
    notice_h,
    rule,
    tellings,
)
from score_truth import Truth

from underbench.daemon.alerts.hourly_pass import run_pass
from underbench.daemon.alerts.message_kinds import Kind
from underbench.daemon.config.settings import Settings, load
from underbench.daemon.journal.noting import note
from underbench.daemon.rehearsal.replay import Heard, Keeper
from underbench.daemon.store.store import Store
from underbench.daemon.weather.csv_series import Series, read_series
from underbench.rules.garden.journal import Entry
from underbench.rules.garden.local_time import hands_on_between
from underbench.rules.hazards.hazard import Action
from underbench.rules.weather.hourly import HOUR_S

DAY, HOUR = timedelta(days=1), timedelta(hours=1)
COLUMNS = (*Action, *(kind for kind in Kind if kind is not Kind.ADVICE))
RULES_C = (0.0, 3.0)


@dataclass(frozen=True, slots=True)
class Year:
    """Where and when a series was measured."""

    latitude: float
    longitude: float
    elevation_m: float
    timezone: str
    years: tuple[int, int]  # the works of the one before are in the journal too


YEARS = {
    "jfk": Year(40.64, -73.78, 4, "America/New_York", (2012, 2013)),
    "london": Year(51.51, -0.12, 30, "Europe/London", (2011, 2012)),
}


def main() -> None:
    """Replay what the command line asks for and print its table."""
    asked = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    asked.add_argument("year", choices=YEARS)
    asked.add_argument("weather", type=Path)
    asked.add_argument("--every", type=int, default=1, help="hours between passes")
    asked.add_argument("--from", dest="begins", type=_day)
    asked.add_argument("--until", dest="ends", type=_day)
    asked.add_argument("--seed", type=int, default=1)
    given = asked.parse_args()
    with TemporaryDirectory(prefix="underbench-score-") as folder:
        settings, entries = garden(Path(folder), YEARS[given.year])
        series = read_series(given.weather, settings.garden)
        span = _span(series, given.begins, given.ends)
        source = ErringForecast(series.weather, given.seed)
        began = perf_counter()
        heard, journal = replay(settings, entries, source, moments(settings, span, given.every))
        took_s = perf_counter() - began
    truth = Truth(settings, series.weather.between(span[0] - 400 * DAY, span[1]), journal, span[0])
    print(
        f"{given.year}, {span[0]:%Y-%m-%d} to {span[1]:%Y-%m-%d}, every {given.every} h,", end=" "
    )
    print(f"seed {given.seed}; {took_s / ((span[1] - span[0]) / DAY / 30.4):.0f} s a month\n")
    print("\n".join(messages(heard, settings.garden.timezone)), end="\n\n")
    print("\n".join(frost(heard, journal, truth, source, span)))


def _day(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


def _span(
    series: Series, begins: datetime | None, ends: datetime | None
) -> tuple[datetime, datetime]:
    """From when to when passes are run; the first day only sets the pots going."""
    times = series.weather.times
    first, last = (datetime.fromtimestamp(int(times[i]), tz=UTC) for i in (0, -1))
    return max(begins or first, first + DAY - HOUR), min(ends or last, last)


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


def moments(settings: Settings, span: tuple[datetime, datetime], every: int) -> list[datetime]:
    """Return the whole hours of the passes: every so many, and as hands-on hours begin."""
    opens = {
        -(-int(stretch.start.timestamp()) // HOUR_S)
        for stretch in hands_on_between(settings.hands_on, *span, settings.garden.timezone)
    }
    first, last = (-(-int(moment.timestamp()) // HOUR_S) for moment in span)
    hours = (hour for hour in range(first, last) if hour % every == 0 or hour in opens)
    return [datetime.fromtimestamp(hour * HOUR_S, tz=UTC) for hour in hours]


def replay(
    settings: Settings, entries: Sequence[Entry], source: ErringForecast, passes: Iterable[datetime]
) -> tuple[list[Heard], tuple[Entry, ...]]:
    """Return all messages of a span, and the journal as the keeper left it."""
    heard: list[Heard] = []
    with (
        TemporaryDirectory(prefix="underbench-score-") as folder,
        Store.open(Path(folder) / "score.db") as store,
    ):
        store.db.execute("PRAGMA synchronous = OFF")  # it is thrown away in any case
        store.journal.add(entries)
        keeper = Keeper(settings)
        for now in passes:
            note(store, settings, keeper.act(now))
            done = run_pass(settings, store, source, now)
            keeper.homes = {tree.name: tree.spot for tree in done.outlook.settings.trees}
            for one in done.all_said:
                keeper.hear(one, now)
                heard.append(Heard(now, one))
        return heard, tuple(store.journal.entries())


def messages(heard: Sequence[Heard], zone: str) -> list[str]:
    """Lines of messages by month: advice by action, then what is said beside advice."""
    by_month: dict[str, Counter[str]] = {}
    for one in heard:
        month = by_month.setdefault(f"{one.at.astimezone(ZoneInfo(zone)):%Y-%m}", Counter())
        month[one.advice.action if one.advice is not None else kind_of(one)] += 1
    columns = [c for c in COLUMNS if any(c in month for month in by_month.values())]
    lines = ["messages  " + "".join(f"{column:>11}" for column in columns) + f"{'all':>6}"]
    total: Counter[str] = Counter()
    for name, month in by_month.items():
        total += month
        lines.append(_row(name, month, columns))
    dry = total.total() - total[Action.WATER]
    return [*lines, _row("all", total, columns), f"outside watering: {dry}"]


def _row(name: str, month: Counter[str], columns: Sequence[str]) -> str:
    return f"{name:<10}" + "".join(f"{month[c]:11}" for c in columns) + f"{month.total():6}"


def frost(
    heard: Sequence[Heard],
    journal: Sequence[Entry],
    truth: Truth,
    source: ErringForecast,
    span: tuple[datetime, datetime],
) -> list[str]:
    """Lines on frost: the daemon beside the rules of thumb, then what else a grower would ask."""
    told = tellings(heard)
    homes = {tree.name: tree.spot for tree in truth.settings.trees}
    stays = away(journal, homes, span[1])
    mine, spells = daemon(told, stays, truth)
    rules = [rule(below_c, source.forecast, truth, span) for below_c in RULES_C]
    words, hours = last_words(told, truth), notice_h(told, truth)
    lost = hopeless(words)
    harmed = harmed_helped(words, stays, truth).keys()
    nights = {night for _, night in truth.harmed}
    head = f"{'frost':<14}{'carries':>9}{'needless':>10}{'nights missed':>15}{'tree-nights':>13}"
    return [
        f"damaging nights: {len(nights)} ({len(truth.harmed)} tree-nights,"
        f" {sum(f.killed for f in truth.harmed.values())} deadly)",
        head,
        *map(_scored, [mine, *rules]),
        "",
        f"told of frost and left in place: {sum(not spell.carried for spell in spells)} tree-runs",
        f"carried for wind, sun or heat: {carried_otherwise(heard)} trees, each time counted",
        f"told that nothing here suffices: {len(lost)} tree-nights",
        f"harmed under help said to suffice: {len(harmed - lost)} tree-nights",
        f"median notice of a damaging night: {median(hours):.0f} h" if hours else "no notice given",
        f"told, called off and told again: {len(flaps(heard))}",
        *_missed(mine, truth.settings.garden.timezone),
    ]


def _scored(score: Score) -> str:
    return (
        f"{score.name:<14}{score.carries:9}{score.needless:10}"
        f"{score.missed_nights:15}{len(score.missed):13}"
    )


def _missed(score: Score, zone: str) -> list[str]:
    return [
        f"  missed: {tree}, night of {night.astimezone(ZoneInfo(zone)):%Y-%m-%d}, from"
        f" {frosted.first_at.astimezone(ZoneInfo(zone)):%H:%M} for {frosted.hours} h"
        f"{', deadly' if frosted.killed else ''}"
        for (tree, night), frosted in sorted(score.missed.items(), key=lambda pair: pair[0][1])
    ]


if __name__ == "__main__":
    main()
