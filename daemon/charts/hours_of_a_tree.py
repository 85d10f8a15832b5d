"""What one tree feels hour by hour against what it can bear, as a table."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import cached_property
from textwrap import fill
from zoneinfo import ZoneInfo

import numpy as np

from underbench.daemon.outlook.outlook import Outlook, act_from
from underbench.daemon.outlook.stages import stage_words
from underbench.daemon.wording.tables import table
from underbench.daemon.wording.units import Units
from underbench.daemon.wording.vocabulary import BAG_KNOWN_TO_K, at_spot, quantity
from underbench.rules.advice.advice import by_risk
from underbench.rules.hazards import hazard_of
from underbench.rules.hazards.bearing import Bearing
from underbench.rules.hazards.findings import NOTICE_FROM, Finding, Strength
from underbench.rules.hazards.judge import bearings_on, judged_in
from underbench.rules.limits.limit import Limit, MeasuredOn
from underbench.rules.weather.hourly import HOUR_S, Array

WIDTH = 100
HOURLY_H, THEN_EVERY_H = 48, 3
UNKNOWN = "–"
LOW_TENTH, MIDDLE, HIGH_TENTH = 0.1, 0.5, 0.9
# As near as that to harm, the worst tenth is shown beside the middle.
NEAR = {MeasuredOn.GUST: 3.0, MeasuredOn.WATER: 0.25}
NEAR_K = 5.0
_MARK = {Strength.NOTICE: "", Strength.ACT: "!", Strength.DANGER: "!!"}


@dataclass(frozen=True, slots=True)
class Column:
    """One thing felt: an exposure, and on what the limits are measured that are shown with it."""

    head: str
    name: str
    kind: MeasuredOn
    limits_on: tuple[MeasuredOn, ...] = ()


TISSUES = (MeasuredOn.LEAF, MeasuredOn.BUD, MeasuredOn.WOOD)
AIR = Column("air", "air_c", MeasuredOn.AIR, (MeasuredOn.AIR,))
LEAF = Column("leaf", "leaf_c", MeasuredOn.LEAF, TISSUES)
BAG = Column("in bag", "bag_c", MeasuredOn.BAG, (*TISSUES, MeasuredOn.BAG))
EDGE = Column("edge", "shell_c", MeasuredOn.SHELL, (MeasuredOn.SHELL,))
CORE = Column("core", "core_c", MeasuredOn.SHELL)
WALL = Column("wall", "wall_c", MeasuredOn.SHELL)
WATER = Column("water", "water_left", MeasuredOn.WATER, (MeasuredOn.WATER,))
GUST = Column("gust", "gust_ms", MeasuredOn.GUST, (MeasuredOn.GUST,))
COLUMNS = (AIR, LEAF, BAG, EDGE, CORE, WALL, WATER, GUST)

TISSUE = {
    MeasuredOn.LEAF: "leaves",
    MeasuredOn.BUD: "buds",
    MeasuredOn.WOOD: "wood and buds",
    MeasuredOn.AIR: "the tree, by its rating",
}


class Feeling:
    """What one tree of an outlook feels where it stands."""

    def __init__(self, outlook: Outlook, row: int) -> None:
        self.outlook, self.row = outlook, row
        self.tree, self.at = outlook.settings.trees[row], outlook.standing[row]
        self.times = outlook.course.times
        self.zone = ZoneInfo(outlook.settings.garden.timezone)
        self.units = Units(outlook.settings.units)
        # Without a routine nobody is taken to water: what is left would tell nothing of the tree.
        self.follows_water = bool(outlook.settings.routines)

    @cached_property
    def bearings(self) -> dict[date, Bearing]:
        """What it can bear, by UTC day."""
        course = self.outlook.course
        return {
            day: bearings_on(self.outlook.setting, course, day)[self.row]
            for day in sorted(course.conditions)
        }

    @property
    def crown(self) -> Column:
        """What leaves or buds are in: a bag where there is one."""
        return BAG if np.isfinite(self.members(BAG)).any() else LEAF

    def members(self, column: Column) -> Array:
        """Return what is felt, (member, hour), in SI units."""
        values: Array = getattr(self.outlook.course.exposure, column.name)[self.row]
        return values

    def tenths(self, column: Column) -> tuple[Array, Array, Array]:
        """Return the low tenth, the middle and the high tenth of the members, (hour,)."""
        low, middle, high = np.quantile(
            self.members(column), [LOW_TENTH, MIDDLE, HIGH_TENTH], axis=0
        )
        return low, middle, high

    def limits(self, column: Column, index: int) -> tuple[dict[str, Limit], dict[str, Limit]]:
        """Return the limits below and above what a column shows, by hazard, as in an hour."""
        begins = datetime.fromtimestamp(int(self.times[index]) - HOUR_S, tz=UTC)
        shown = {
            key: limit
            for key, limit in self.bearings[begins.date()].items()
            if limit.measured_on in column.limits_on
        }
        below = {key: limit for key, limit in shown.items() if hazard_of(key).low}
        return below, {key: limit for key, limit in shown.items() if key not in below}

    def local(self, index: int) -> datetime:
        """Return the local end of an hour."""
        return datetime.fromtimestamp(int(self.times[index]), tz=self.zone)

    @property
    def findings(self) -> list[Finding]:
        """What was found for this tree, the worst first."""
        mine = (f for f in self.outlook.findings if f.tree == self.tree.name)
        return sorted(mine, key=by_risk)

    def shares(self) -> tuple[Array, Array]:
        """Return the shares of members harmed and killed in each hour, (hour,), by what harms most
        of them."""
        harm, kill = np.zeros((2, len(self.times)))
        outlook = self.outlook
        for finding in self.findings:
            times, judged = judged_in(
                outlook.setting, outlook.course, outlook.site, finding.span, finding.hazard
            )
            if judged is None:
                continue
            hours = np.searchsorted(self.times, times)
            killed = judged.kill[self.row]
            harmed = judged.harm[self.row] | killed
            harm[hours] = np.maximum(harm[hours], harmed.mean(axis=0))
            kill[hours] = np.maximum(kill[hours], killed.mean(axis=0))
        return harm, kill


def feels_text(feeling: Feeling) -> str:
    """The limits, a row an hour for two days and every third hour after, and what comes of it."""
    parts = [
        _who(feeling),
        _limits(feeling),
        _hours(feeling),
        "\n".join(_key(feeling)),
        _found(feeling),
        _forecast(feeling),
    ]
    return "\n\n".join(parts)


def _who(feeling: Feeling) -> str:
    tree, pot, at = feeling.tree, feeling.tree.container, feeling.at
    home = "" if at.spot == tree.spot else f", home {tree.spot}"
    words = (
        f"{tree.name}: {tree.species} {tree.cultivar}".rstrip()
        + f", {feeling.units.volume(pot.litres)} {pot.kind} {at_spot(at.spot)}{home}, "
        + f"{stage_words(feeling.outlook, feeling.row)}."
    )
    return fill(words, WIDTH)


def _limits(feeling: Feeling) -> str:
    """Today's limits; where the season moves one in the coming days, what it will be beside."""
    days = list(feeling.bearings)
    today, later = (dict(limit_rows(feeling, day)) for day in (days[0], days[-1]))
    none = (UNKNOWN, UNKNOWN)
    rows = []
    for what in today | later:
        now, then = today.get(what, none), later.get(what, none)
        moved = UNKNOWN if then == none else " and ".join(then)
        rows.append([what, *now, "" if now == then else moved])
    heads = [
        "it can bear",
        "harm from",
        "death from",
        f"on {days[-1]:%a} {days[-1].day} {days[-1]:%b}",
    ]
    shown = 4 if any(row[3] for row in rows) else 3
    return table(heads[:shown], [row[:shown] for row in rows])


def limit_rows(feeling: Feeling, day: date) -> Iterator[tuple[str, tuple[str, str]]]:
    """Yield what it can bear on a UTC day: of what, and from where harm and death come."""
    for key, limit in feeling.bearings[day].items():
        hazard, kind = hazard_of(key), limit.measured_on
        if hazard.asked(feeling.outlook.setting):
            what = hazard.limit_words.format(tissue=TISSUE.get(kind, kind))
            harm, kill = (quantity(v, kind, feeling.units) for v in (limit.harm, limit.kill))
            yield what, (harm, kill)


def _hours(feeling: Feeling) -> str:
    columns = [AIR, feeling.crown, EDGE, CORE, WALL, GUST]
    columns += [WATER] if feeling.follows_water else []
    cells = [_cells(feeling, column) for column in columns]
    harm, kill = feeling.shares()
    rows: list[list[str]] = []
    before: date | None = None
    for hours in _rows_of_hours(len(feeling.times)):
        end = feeling.local(hours.stop - 1)
        if end.date() != before:
            before = end.date()
            rows.append([f"{end:%a} {end.day} {end:%b}", *[""] * (len(columns) + 1)])
        marked = _mark(feeling, float(harm[hours].max()), float(kill[hours].max()))
        rows.append([f"{end:  %H:%M}", *(cell[hours.stop - 1] for cell in cells), marked])
    return table(["", *(column.head for column in columns), "harm"], rows)


def _rows_of_hours(hours: int) -> Iterator[slice]:
    hourly = min(hours, HOURLY_H)
    yield from (slice(hour, hour + 1) for hour in range(hourly))
    for end in range(hourly + THEN_EVERY_H, hours + 1, THEN_EVERY_H):
        yield slice(end - THEN_EVERY_H, end)


def _cells(feeling: Feeling, column: Column) -> list[str]:
    """The middle of the members, and in brackets their worst tenth where harm is near."""
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
    """A quantity without its unit, which stands in the key; the percent sign stays."""
    if not np.isfinite(value):
        return UNKNOWN
    return quantity(value, kind, units).split(" ")[0]


def _mark(feeling: Feeling, harm: float, kill: float) -> str:
    if harm < NOTICE_FROM:
        return ""
    settings, tree = feeling.outlook.settings, feeling.tree
    deadly = settings.chance.kill_from if tree.kill_from is None else tree.kill_from
    mark = " !!" if kill >= deadly else " !" if harm >= act_from(settings, tree) else ""
    return f"{harm:4.0%}{mark}"


def _key(feeling: Feeling) -> Iterator[str]:
    degree, speed = feeling.units.temp(0).split(" ")[1], feeling.units.speed(0).split(" ")[1]
    crown = "leaf or bud"
    if feeling.crown is BAG:
        crown = f"the bag's inside is known to ±{feeling.units.temp_difference(BAG_KNOWN_TO_K)}"
    yield f"{degree}, gusts in {speed}; {crown}; edge, core and sunny wall of the root ball."
    count = feeling.outlook.weather.members
    yield (
        f"Middle of {count} weathers; in brackets what one in ten goes beyond, where harm is near."
    )
    yield "harm: share of the weathers that harm it in that hour; ! act, !! danger of losing it."
    if len(feeling.times) > HOURLY_H:
        yield "After two days every third hour, with the worst harm of the three."
    if not feeling.follows_water:
        yield "Water is not followed: no [[watering]] routine is set."


def _found(feeling: Feeling) -> str:
    if not feeling.findings:
        return "No limit is crossed in as many as one weather of ten."
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


def _forecast(feeling: Feeling) -> str:
    supplied, now = feeling.outlook.supplied, feeling.outlook.now
    made = supplied.fetched_at.astimezone(feeling.zone)
    hours = max(0, round((now - supplied.fetched_at) / timedelta(hours=1)))
    age = f"{made:%a} {made.day} {made:%b %H:%M}, {hours} h old"
    return fill(f"Forecast of {age}. {supplied.attribution}.", WIDTH)
