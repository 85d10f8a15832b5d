"""A weather series from a CSV file: columns, units and the hour convention, faults never swallowed.

What cannot be read stops with file and line. What can be read but cannot be true (a reading no
station ever had, a row twice, rows between the hours, missing hours) is left out, counted, and
reported with its first lines.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from difflib import get_close_matches
from math import isfinite, nan
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from underbench.daemon.faults import Fault
from underbench.rules.garden.inventory import Garden
from underbench.rules.weather.air import dew_point_c, vapour_kpa
from underbench.rules.weather.fill_gaps import complete
from underbench.rules.weather.hourly import (
    HOUR_S,
    LONGEST_BRIDGED_GAP_H,
    NEEDED,
    Array,
    Weather,
    bridge_gaps,
    drop_implausible,
    from_columns,
)

TIME, AIR, DEW, HUMIDITY = "time", "temperature_c", "dew_point_c", "relative_humidity_pct"
# Column → the weather's variable, and the factor from the column's unit to the variable's.
MEASURES: Mapping[str, tuple[str, float]] = {
    AIR: ("air_c", 1.0),
    DEW: ("dew_c", 1.0),
    "wind_ms": ("wind_ms", 1.0),
    "gust_ms": ("gust_ms", 1.0),
    "shortwave_wm2": ("global_wm2", 1.0),
    "cloud_pct": ("cloud", 0.01),
    "precipitation_mm": ("rain_mm", 1.0),
    "pressure_hpa": ("pressure_kpa", 0.1),
    "snow_depth_cm": ("snow_m", 0.01),
}
UNUSED = ("longwave_down_wm2",)  # read and checked; the rules estimate it themselves
COLUMNS = (TIME, *MEASURES, HUMIDITY, *UNUSED)
COLUMN_OF = {variable: column for column, (variable, _) in MEASURES.items()}
NOT_KNOWN = {"", "na", "nan", "null", "none", "-"}
HUMIDITY_PCT = (1.0, 105.0)  # outside lies a broken reading; hygrometers overshoot 100 a little
LONGEST_YEARS = 20
YEAR_S = 8766 * HOUR_S
LINES_SHOWN = 3
DAY_H = 24


class SeriesFault(Fault):
    """A weather file cannot be used; ``str()`` is one line with file and, where known, line."""


@dataclass(frozen=True, slots=True)
class Flag:
    """Something wrong with a series that could be left out or bridged. It says what, how often, and
    on which first lines; ``more`` says that there are other lines."""

    what: str
    count: int
    lines: tuple[int, ...]
    more: bool

    def __str__(self) -> str:
        """The flag as one line for the keeper."""
        where = ", ".join(map(str, self.lines)) + (", …" if self.more else "")
        lines = "line" if len(self.lines) == 1 else "lines"
        return f"{self.what}: {self.count:,} ({lines} {where})"


@dataclass(frozen=True, slots=True)
class Series:
    """An hourly series made whole.

    ``known`` (hour,) is False inside gaps of more than a day. ``estimated`` counts the hours
    estimated, by column. ``not_used`` are columns that are not read.
    """

    name: str
    weather: Weather
    known: NDArray[np.bool_]
    flags: tuple[Flag, ...]
    estimated: Mapping[str, int]
    not_used: tuple[str, ...]


@dataclass
class _Marks:
    """Gathers flags: how often, and the first lines."""

    found: dict[str, list[int]] = field(default_factory=dict)

    def add(self, what: str, lines: Iterable[int]) -> None:
        self.found.setdefault(what, []).extend(lines)

    def flags(self) -> tuple[Flag, ...]:
        return tuple(
            Flag(what, len(lines), tuple(own[:LINES_SHOWN]), len(own) > LINES_SHOWN)
            for what, lines in self.found.items()
            if (own := sorted(set(map(int, lines))))
        )


def read_series(path: Path, garden: Garden) -> Series:
    """Return the series in the CSV file at ``path``, made whole for ``garden``.

    Raises SeriesFault for a file that is no such CSV: its bytes, its header, something that is no
    number, no rows.
    """
    rows = _rows(path)
    line, header = next(rows, (1, []))
    columns = _header(path, line, header)
    marks = _Marks()
    times, lines, table = _table(path, columns, _even(path, rows, len(header)), marks)
    weather, lines = _hourly(times, lines, table, marks)
    weather = _plausible(weather, lines, marks)
    for name in NEEDED:
        if np.isnan(getattr(weather, name)).all():
            raise SeriesFault(f"{path}: no usable value of {COLUMN_OF[name]} in the whole file")
    not_used = tuple(name for name in header if name not in (TIME, *MEASURES, HUMIDITY))
    return made_whole(path.name, weather, garden, marks.flags(), not_used)


def made_whole(
    name: str,
    weather: Weather,
    garden: Garden,
    flags: tuple[Flag, ...] = (),
    not_used: tuple[str, ...] = (),
) -> Series:
    """Return hourly weather (one member, no needed variable missing throughout) as a series."""
    unknown = np.isnan([getattr(weather, needed)[0] for needed in NEEDED]).any(axis=0)
    whole, _ = complete(bridge_gaps(weather), garden)
    return Series(
        name=name,
        weather=whole,
        known=~_long(np.asarray(unknown)),
        flags=flags,
        estimated=_estimated(weather),
        not_used=not_used,
    )


def _rows(path: Path) -> Iterator[tuple[int, list[str]]]:
    """Each row that is not blank, with the line on which it ends."""
    try:
        raw = path.read_bytes()
        text = raw.decode("utf-8-sig")
    except OSError as error:
        raise SeriesFault(f"{path}: cannot be read: {error.strerror or error}") from None
    except UnicodeDecodeError as error:
        line = raw.count(b"\n", 0, error.start) + 1
        raise SeriesFault(f"{path}:{line}: not text in UTF-8") from None
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    try:
        for cells in reader:
            if any(cell.strip() for cell in cells):
                yield reader.line_num, [cell.strip() for cell in cells]
    except csv.Error as error:
        raise SeriesFault(f"{path}:{reader.line_num}: not a CSV file: {error}") from None


def _header(path: Path, line: int, header: Sequence[str]) -> dict[int, str]:
    """Return the columns to read, by position."""
    if not header:
        raise SeriesFault(f"{path}: empty: expected a header and a row for each hour")
    twice = next((name for name in header if name in COLUMNS and header.count(name) > 1), None)
    if twice:
        raise SeriesFault(f"{path}:{line}: column {twice!r} is there twice")
    for wanted in ((TIME,), (AIR,), (DEW, HUMIDITY), ("wind_ms",)):
        if not set(wanted) & set(header):
            raise SeriesFault(f"{path}:{line}: no column {_or(wanted)}{_near(wanted, header)}")
    return {index: name for index, name in enumerate(header) if name in COLUMNS}


def _even(
    path: Path, rows: Iterable[tuple[int, list[str]]], width: int
) -> Iterator[tuple[int, list[str]]]:
    """The rows; each must be as long as the header, because a decimal comma makes one longer."""
    for line, cells in rows:
        if len(cells) != width:
            raise SeriesFault(
                f"{path}:{line}: {len(cells)} values, but the header names {width} columns"
            )
        yield line, cells


def _near(wanted: Sequence[str], header: Sequence[str]) -> str:
    others = [name for name in header if name and name not in COLUMNS]
    near = next((n for w in wanted for n in get_close_matches(w, others, n=1)), None)
    if near:
        return f"; the nearest is {near!r}, is it meant?"
    return f"; there are: {', '.join(name[:40] for name in header[:12])}"


def _or(names: Sequence[str]) -> str:
    return " or ".join(repr(name) for name in names)


def _table(
    path: Path, columns: Mapping[int, str], rows: Iterable[tuple[int, list[str]]], marks: _Marks
) -> tuple[NDArray[np.int64], NDArray[np.int64], dict[str, Array]]:
    """Times, lines and columns of the rows on a whole hour, in the file's order."""
    kept: list[tuple[int, int, list[float]]] = []
    names = [name for name in columns.values() if name != TIME]
    between: list[int] = []
    for line, cells in rows:
        by_name = {name: cells[index] for index, name in columns.items()}
        at = _seconds(path, line, by_name[TIME])
        values = [_number(path, line, name, by_name[name]) for name in names]
        if at % HOUR_S:
            between.append(line)
        else:
            kept.append((at, line, values))
    marks.add("rows between whole hours, left out", between)
    if not kept:
        raise SeriesFault(f"{path}: no rows{' on a whole hour' if between else ''}")
    numbers = np.array([values for _, _, values in kept], dtype=float).reshape(len(kept), -1)
    times, lines = np.array([row[:2] for row in kept], dtype=np.int64).T
    _refuse_ages(path, times, lines)
    table = {name: numbers[:, place] for place, name in enumerate(names)}
    return times, lines, table


def _seconds(path: Path, line: int, text: str) -> int:
    try:
        moment = datetime.fromisoformat(text)
        moment = moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
        seconds = moment.timestamp()
    except (ValueError, OverflowError):
        raise SeriesFault(
            f"{path}:{line}: time: expected UTC like 2027-04-20T17:00, not {_shown(text)}"
        ) from None
    return int(seconds // 1)


def _number(path: Path, line: int, name: str, text: str) -> float:
    if text.casefold() in NOT_KNOWN:
        return nan
    try:
        value = float(text)
    except ValueError:
        value = nan
    if not isfinite(value):
        raise SeriesFault(f"{path}:{line}: {name}: expected a number, not {_shown(text)}")
    return value


def _shown(text: str) -> str:
    return repr(text if len(text) <= 40 else f"{text[:40]}…")


def _refuse_ages(path: Path, times: NDArray[np.int64], lines: NDArray[np.int64]) -> None:
    """Refuse a mistyped year: it makes a series of centuries, nearly all of it gap."""
    if np.ptp(times) > LONGEST_YEARS * YEAR_S:
        far = int(np.abs(times - np.median(times)).argmax())
        year = datetime.fromtimestamp(int(times[far]), tz=UTC).year
        raise SeriesFault(
            f"{path}:{lines[far]}: time: the year {year} is far from the others;"
            f" expected {LONGEST_YEARS} years at most"
        )


def _hourly(
    times: NDArray[np.int64], lines: NDArray[np.int64], table: Mapping[str, Array], marks: _Marks
) -> tuple[Weather, NDArray[np.int64]]:
    """Put the rows on an hourly clock from the first to the last; return it and each hour's line.

    An hour without a row gets the line of the row before it. If an hour has several rows, the first
    stays.
    """
    marks.add("rows earlier than the one before, put in order", lines[1:][np.diff(times) < 0])
    order = np.argsort(times, kind="stable")
    again = np.concatenate([[False], np.diff(times[order]) == 0])
    marks.add("rows for an hour already there, left out", lines[order][again])
    order = order[~again]
    there = (times[order] - times[order][0]) // HOUR_S
    clock = times[order][0] + HOUR_S * np.arange(int(there[-1]) + 1)
    before = np.searchsorted(there, np.arange(len(clock)), side="right") - 1
    line_of = lines[order][before]
    absent = np.ones(len(clock), dtype=bool)
    absent[there] = False
    marks.add("hours without a row, named by the row before", line_of[absent])
    measured = {name: np.full(len(clock), np.nan) for name in table}
    for name, values in measured.items():
        values[there] = table[name][order]
    return from_columns(clock, _variables(measured, line_of, marks)), line_of


def _variables(
    table: Mapping[str, Array], lines: NDArray[np.int64], marks: _Marks
) -> dict[str, Array]:
    """The weather's variables in its units; a missing dew point comes from the humidity."""
    out = {v: table[name] * unit for name, (v, unit) in MEASURES.items() if name in table}
    if HUMIDITY in table:
        humid = table[HUMIDITY]
        wild = (humid < HUMIDITY_PCT[0]) | (humid > HUMIDITY_PCT[1])
        marks.add(f"{HUMIDITY}: impossible readings, left out", lines[wild])
        share = np.where(wild, np.nan, np.minimum(humid, 100.0))
        possible = np.where(np.abs(out["air_c"]) < 90.0, out["air_c"], np.nan)
        from_humidity = dew_point_c(vapour_kpa(possible, share))
        out["dew_c"] = np.where(
            np.isnan(out.get("dew_c", np.nan)), from_humidity, out.get("dew_c", np.nan)
        )
    return out


def _plausible(weather: Weather, lines: NDArray[np.int64], marks: _Marks) -> Weather:
    """Make impossible readings gaps, and flag them and the gaps that were there."""
    plausible, dropped = drop_implausible(weather)
    for variable in dropped:
        before, after = getattr(weather, variable)[0], getattr(plausible, variable)[0]
        wild = np.isfinite(before) & np.isnan(after)
        marks.add(f"{COLUMN_OF[variable]}: impossible readings, left out", lines[wild])
    moist = np.isfinite(weather.dew_c) & (weather.dew_c > weather.air_c + 0.1)
    marks.add("dew points above the air, set to the air", lines[moist[0]])
    return plausible


def _long(unknown: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """True at the hours of gaps longer than a day."""
    out = np.zeros(unknown.shape, dtype=bool)
    edges = np.flatnonzero(np.diff(np.concatenate([[0], unknown, [0]])))
    for start, end in edges.reshape(-1, 2).tolist():
        out[start:end] = end - start > DAY_H
    return out


def _estimated(weather: Weather) -> dict[str, int]:
    """The number of hours without a reading, by column; complete columns are left out."""
    missing = {c: int(np.isnan(getattr(weather, v)).sum()) for v, c in COLUMN_OF.items()}
    return {column: count for column, count in missing.items() if count}


def how_estimated(column: str, everywhere: bool) -> str:
    """Say how the hours that a column leaves out are filled."""
    if column in (AIR, DEW, "wind_ms"):
        return (
            f"drawn across gaps of up to {LONGEST_BRIDGED_GAP_H} h,"
            " as the day before in longer ones"
        )
    guess = {
        "gust_ms": "1.7 × the wind",
        "shortwave_wm2": "from cloud, or a clear sky",
        "cloud_pct": "from the sun, or a clear sky",
        "precipitation_mm": "taken as dry",
        "pressure_hpa": "from the height above the sea",
        "snow_depth_cm": "taken as none",
    }[column]
    return guess if everywhere else f"{guess}, or drawn across short gaps"
