"""``underbench feels``: the hours of one tree and its limits. ``why`` and the page share them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import UTC, date, datetime, timedelta
from textwrap import fill
from typing import Any, NamedTuple

import numpy as np

from underbench.daemon.charts.hours_of_a_tree import (
    AIR,
    AT_TREE,
    BAG,
    COLUMNS,
    CORE,
    EDGE,
    GUST,
    HOURLY_H,
    NEAR,
    NEAR_K,
    TISSUE,
    WALL,
    WATER,
    Column,
    Feeling,
)
from underbench.daemon.outlook.stages import stage_words
from underbench.daemon.outlook.worst_hazard import chances_of
from underbench.daemon.rehearsal.pass_report import forecast_json
from underbench.daemon.views.ahead import place_json
from underbench.daemon.wording.json_form import document
from underbench.daemon.wording.tables import table
from underbench.daemon.wording.units import Units
from underbench.daemon.wording.vocabulary import BAG_KNOWN_TO_K, at_spot, quantity
from underbench.rules.hazards import hazard_of
from underbench.rules.hazards.findings import NOTICE_FROM, Finding, Strength
from underbench.rules.limits.limit import MeasuredOn
from underbench.rules.weather.hourly import Array

WIDTH = 100
THEN_EVERY_H = 3
UNKNOWN = "–"
DECIMALS = 3
TENTHS = ("low_tenth", "middle", "high_tenth")
_MARK = {Strength.NOTICE: "", Strength.ACT: "!", Strength.DANGER: "!!"}


class LimitRow(NamedTuple):
    """What a tree can bear: of what, from which value harm and death come, and what set it."""

    what: str
    harm: str
    kill: str
    set_by: str


def feels_text(feeling: Feeling) -> str:
    """The limits, the hours, and the findings. The hours are hourly for two days, then every third
    hour."""
    hours = hours_table(feeling, _hours_shown(len(feeling.times)), *feeling.shares())
    key = [*key_lines(feeling), *_more_key(feeling)]
    parts = [who(feeling), _limits(feeling), hours, "\n".join(key), _found(feeling), made(feeling)]
    return "\n\n".join(parts)


def who(feeling: Feeling) -> str:
    """Return the tree, its container, where it stands, and its stage."""
    tree, pot, at = feeling.tree, feeling.tree.container, feeling.at
    home = "" if at.spot == tree.spot else f", home {tree.spot}"
    words = (
        f"{tree.name}: {tree.species} {tree.cultivar}".rstrip()
        + f", {feeling.units.volume(pot.litres)} {pot.kind} {at_spot(at.spot)}{home}, "
        + f"{stage_words(feeling.outlook, feeling.row)}."
    )
    return fill(words, WIDTH)


def limit_rows(feeling: Feeling, day: date | None = None) -> Iterator[LimitRow]:
    """Yield what the tree can bear on a UTC day; None means today."""
    borne = feeling.today if day is None else feeling.bearings[day]
    for key, limit in borne.items():
        hazard, kind = hazard_of(key), limit.measured_on
        if hazard.asked(feeling.outlook.setting):
            what = hazard.limit_words.format(tissue=TISSUE.get(kind, kind))
            harm, kill = (quantity(v, kind, feeling.units) for v in (limit.harm, limit.kill))
            yield LimitRow(what, harm, kill, limit.trail[-1].what)


def _limits(feeling: Feeling) -> str:
    """Today's limits. If the season moves a limit in the coming days, the later one follows it."""
    last = list(feeling.bearings)[-1]
    today, later = (
        {row.what: (row.harm, row.kill) for row in limit_rows(feeling, day)} for day in (None, last)
    )
    none = (UNKNOWN, UNKNOWN)
    rows = []
    for what in today | later:
        now, then = today.get(what, none), later.get(what, none)
        moved = UNKNOWN if then == none else " and ".join(then)
        rows.append([what, *now, "" if now == then else moved])
    heads = ["it can bear", "harm from", "death from", f"on {last:%a} {last.day} {last:%b}"]
    shown = 4 if any(row[3] for row in rows) else 3
    return table(heads[:shown], [row[:shown] for row in rows])


def hours_table(feeling: Feeling, hours: Iterable[slice], harm: Array, kill: Array) -> str:
    """Return what the tree feels, a row for each slice of the hours. A row has what the tree feels
    at the slice's end, and the worst share in it of ``harm`` and ``kill``, (hour,)."""
    columns = [AIR, feeling.crown, EDGE, CORE, WALL, GUST]
    columns += [WATER] if feeling.follows_water else []
    cells = [_cells(feeling, column) for column in columns]
    rows: list[list[str]] = []
    before: date | None = None
    for one in hours:
        end = feeling.local(one.stop - 1)
        if end.date() != before:
            before = end.date()
            rows.append([f"{end:%a} {end.day} {end:%b}", *[""] * (len(columns) + 1)])
        marked = _mark(feeling, float(harm[one].max()), float(kill[one].max()))
        rows.append([f"{end:  %H:%M}", *(cell[one.stop - 1] for cell in cells), marked])
    return table(["", *(column.head for column in columns), "harm"], rows)


def _hours_shown(hours: int) -> Iterator[slice]:
    hourly = min(hours, HOURLY_H)
    yield from (slice(hour, hour + 1) for hour in range(hourly))
    for end in range(hourly + THEN_EVERY_H, hours + 1, THEN_EVERY_H):
        yield slice(end - THEN_EVERY_H, end)


def _cells(feeling: Feeling, column: Column) -> list[str]:
    """The middle of the members. Where harm is near, their worst tenth follows in brackets."""
    low, middle, high = feeling.tenths(column)
    beside = [_beside(feeling, column, index, low, high) for index in range(len(middle))]
    numbers = [_number(value, column.kind, feeling.units) for value in middle.tolist()]
    wide = max(map(len, numbers))
    return [f"{n.rjust(wide)}{b}" for n, b in zip(numbers, beside, strict=True)]


def _beside(feeling: Feeling, column: Column, index: int, low: Array, high: Array) -> str:
    below, above = feeling.limits(column, index)
    near = NEAR.get(column.kind, NEAR_K)
    for tenth, short in (
        (low[index], [low[index] - limit.harm for limit in below.values()]),
        (high[index], [limit.harm - high[index] for limit in above.values()]),
    ):
        if any(distance < near for distance in short):
            return f" ({_number(float(tenth), column.kind, feeling.units)})"
    return ""


def _number(value: float, kind: MeasuredOn, units: Units) -> str:
    """A quantity without its unit, which stands in the key. A percent sign stays."""
    if not np.isfinite(value):
        return UNKNOWN
    return quantity(value, kind, units).split(" ")[0]


def _mark(feeling: Feeling, harm: float, kill: float) -> str:
    if harm < NOTICE_FROM:
        return ""
    acts_from, kills_from = chances_of(feeling.outlook, feeling.tree)
    mark = " !!" if kill >= kills_from else " !" if harm >= acts_from else ""
    return f"{harm:4.0%}{mark}"


def key_lines(feeling: Feeling) -> Iterator[str]:
    """Yield the lines that say how to read the hours."""
    degree, speed = feeling.units.temp(0).split(" ")[1], feeling.units.speed(0).split(" ")[1]
    crown = "leaf or bud"
    if feeling.crown is BAG:
        crown = f"the bag's inside is known to ±{feeling.units.temp_difference(BAG_KNOWN_TO_K)}"
    up = "6½ ft" if feeling.units.system == "us" else "2 m"
    yield f"{degree}, gusts in {speed}; {crown}; edge, core and sunny wall of the root ball."
    yield f"air: {up} above the ground, as the forecast has it."
    count = feeling.outlook.weather.members
    yield (
        f"Middle of {count} weathers. Near harm, brackets hold the value that one in ten passes."
    )
    yield "harm: share of the weathers that harm it in that hour; ! act, !! danger of losing it."


def _more_key(feeling: Feeling) -> Iterator[str]:
    if len(feeling.times) > HOURLY_H:
        yield "After two days every third hour, with the worst harm of the three."
    if not feeling.follows_water:
        yield "Water is not followed: no [[watering]] routine is set."


def _found(feeling: Feeling) -> str:
    if not feeling.findings:
        return "Fewer than one weather in ten crosses a limit."
    rows = []
    for finding in feeling.findings:
        worst, limit = (
            quantity(value, finding.limit.measured_on, feeling.units)
            for value in (finding.worst, finding.limit.harm)
        )
        what = f"{_MARK[finding.strength]:3}{finding.hazard.words}"
        chances = [f"{chance:.0%}" for chance in (finding.chance, finding.kill_chance)]
        rows.append([what, _span(feeling, finding), worst, limit, *chances])
    return table(["", "harm", "worst", "limit", "chance", "of losing it"], rows)


def _span(feeling: Feeling, finding: Finding) -> str:
    first, last = (at.astimezone(feeling.zone) for at in (finding.first_at, finding.until_at))
    start = f"{first:%a} {first.day} {first:%b %H:%M}"
    if first == last:
        return start
    if first.date() == last.date():
        return f"{start} to {last:%H:%M}"
    return f"{start} to {last:%a %H:%M}"


def made(feeling: Feeling) -> str:
    """Return when the forecast was made, its age, and its source."""
    supplied, now = feeling.outlook.supplied, feeling.outlook.now
    at = supplied.changed_at.astimezone(feeling.zone)
    hours = max(0, round((now - supplied.changed_at) / timedelta(hours=1)))
    age = f"{at:%a} {at.day} {at:%b %H:%M}, {hours} h old"
    return fill(f"Forecast of {age}. {supplied.attribution}.", WIDTH)


def feels_json(feeling: Feeling) -> str:
    """Every hour for programs: middle and tenths of the weathers, shares harmed; SI units, °C."""
    outlook = feeling.outlook
    body = {
        "now": outlook.now,
        **place_json(outlook, feeling.row),
        "species": feeling.tree.species,
        "stage_words": stage_words(outlook, feeling.row),
        "forecast": forecast_json(outlook.supplied),
        "limits_by_utc_day": feeling.bearings,
        "hours": _hours_json(feeling),
        "findings": feeling.findings,
    }
    return document(body)


def _hours_json(feeling: Feeling) -> list[dict[str, Any]]:
    felt = {column.name: _felt(feeling, column) for column in (AT_TREE, *COLUMNS)}
    harmed, killed = feeling.shares()
    return [
        {
            "at": datetime.fromtimestamp(at, tz=UTC),
            **{name: values[hour] for name, values in felt.items()},
            "harmed": harmed[hour],
            "killed": killed[hour],
        }
        for hour, at in enumerate(feeling.times.tolist())
    ]


def _felt(feeling: Feeling, column: Column) -> list[dict[str, float] | None]:
    """The low tenth, the middle and the high tenth by hour; None where the tree feels no such
    thing."""
    tenths = np.round(np.stack(feeling.tenths(column), axis=-1), DECIMALS)
    return [
        dict(zip(TENTHS, row, strict=True)) if np.isfinite(row).any() else None
        for row in tenths.tolist()
    ]
