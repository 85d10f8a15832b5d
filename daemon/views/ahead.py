"""The coming days, tree by tree, as one readable table."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from datetime import UTC, date, datetime
from textwrap import wrap
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from underbench.daemon.journal.noting import in_a_sentence
from underbench.daemon.outlook.day_by_day import DayByDay, days_shown
from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.outlook.plans import TreePlan
from underbench.daemon.rehearsal.pass_report import forecast_json
from underbench.daemon.views.help_by_day import help_by_finding
from underbench.daemon.wording.json_form import document
from underbench.daemon.wording.tables import table
from underbench.daemon.wording.units import Units
from underbench.daemon.wording.vocabulary import at_spot, quantity
from underbench.rules.advice.advice import by_risk
from underbench.rules.garden.local_time import local_day
from underbench.rules.hazards.findings import Finding, Strength

WIDTH = 100
NAME_WIDTH = 20  # five days of up to 14 characters stand beside it
QUIET = "·"
_MARK = {Strength.NOTICE: "", Strength.ACT: "!", Strength.DANGER: "!!"}
KEY = (
    "A day's column holds that day and the night after it. ! act, !! danger of losing it; % is the "
    "chance of harm."
)


def ahead_text(outlook: Outlook, plans: Mapping[str, TreePlan]) -> str:
    """The trees that something threatens, a column for each day with its worst finding, and under
    each tree what is to be done. Then follow the trees that nothing threatens."""
    zone = ZoneInfo(outlook.settings.garden.timezone)
    made = outlook.supplied.changed_at.astimezone(zone)
    view = _Ahead(outlook, plans)
    return "\n".join(
        [
            *view.rows(),
            "",
            *wrap(KEY, WIDTH),
            *wrap(f"Forecast of {made:%A %H:%M}. {outlook.supplied.attribution}.", WIDTH),
        ]
    )


class _Ahead:
    def __init__(self, outlook: Outlook, plans: Mapping[str, TreePlan]) -> None:
        self._outlook, self._days = outlook, days_shown(outlook)
        self._by_day, self._helps = DayByDay(outlook), help_by_finding(outlook, plans)
        self._units = Units(outlook.settings.units)

    def rows(self) -> Iterator[str]:
        """Yield the lines of the table and of what stands under it."""
        heads = ["", *(f"{day:%a} {day.day} {day:%b}" for day in self._days)]
        air = ["air", *(_air(self._outlook, day, self._units) for day in self._days)]
        cells = {
            row: [_worst(self._by_day.on(tree.name, day)) for day in self._days]
            for row, tree in enumerate(self._outlook.settings.trees)
        }
        threatened = [row for row, days in cells.items() if any(days)]
        lines = [air] + [line for row in threatened for line in self._cells(row, cells[row])]
        text = iter(table(heads, lines).splitlines())
        yield from (next(text), next(text))
        for row in threatened:
            yield from ("", next(text), next(text), *self._under(row, cells[row]))
        names = [tree.name for row, tree in enumerate(self._outlook.settings.trees)]
        calm = [name for row, name in enumerate(names) if row not in threatened]
        if calm:
            yield from ("", *wrap(f"Nothing threatens {in_a_sentence(calm)}.", WIDTH))

    def _cells(self, row: int, days: Sequence[Finding | None]) -> list[list[str]]:
        """Two lines of a tree: the hazards, then their values and chances."""
        name = self._outlook.settings.trees[row].name
        stage = f"  {self._outlook.flower(row) or self._outlook.stage(row)}"
        return [
            [_short(name), *(day.hazard.short if day else QUIET for day in days)],
            [stage, *(_value(day, self._units) if day else "" for day in days)],
        ]

    def _under(self, row: int, days: Sequence[Finding | None]) -> list[str]:
        """Where the tree stands, and what is to be done on which days."""
        tree, at = self._outlook.settings.trees[row].name, self._outlook.standing[row]
        told: dict[str, list[str]] = {}
        for day in self._days:
            own = [f for f in self._by_day.whole(tree, day) if f.key in self._helps]
            if own:
                words = self._helps[min(own, key=by_risk).key]
                told.setdefault(words, []).append(f"{day:%a}")
        jobs = [f"{', '.join(on)}: {words}." for words, on in told.items()]
        here = at_spot(at.spot)
        words = f"{here[0].upper()}{here[1:]}. {' '.join(jobs) or 'Nothing to do.'}"
        return wrap(words, WIDTH, initial_indent="  ", subsequent_indent="  ")


def _short(name: str) -> str:
    return name if len(name) <= NAME_WIDTH else f"{name[: NAME_WIDTH - 1]}…"


def _worst(findings: Sequence[Finding]) -> Finding | None:
    return min(findings, key=by_risk, default=None)


def _value(finding: Finding, units: Units) -> str:
    value = quantity(finding.worst, finding.limit.measured_on, units).replace(" ", "")
    return f"{value} {about(finding.chance)}{_MARK[finding.strength]}"


def about(chance: float) -> str:
    """Return a chance in steps of 5 %: no forecast knows it finer."""
    return f"{5 * round(20 * chance)}%"


def ahead_json(outlook: Outlook) -> str:
    """The coming days for programs: the air by local day, °C, and each tree's findings."""
    air = ((day, air_on(outlook, day) or (None, None)) for day in days_shown(outlook))
    body = {
        "now": outlook.now,
        "garden": outlook.settings.garden.name,
        "forecast": forecast_json(outlook.supplied),
        "days": [{"day": day, "air_low_c": low, "air_high_c": high} for day, (low, high) in air],
        "trees": [
            {
                **place_json(outlook, row),
                "findings": [f for f in outlook.findings if f.tree == tree.name],
            }
            for row, tree in enumerate(outlook.settings.trees)
        ],
    }
    return document(body)


def place_json(outlook: Outlook, row: int) -> dict[str, Any]:
    """Return the tree at ``row``, where it stands and belongs, and its stage."""
    tree, at = outlook.settings.trees[row], outlook.standing[row]
    return {"tree": tree.name, "spot": at.spot, "home": tree.spot, "stage": outlook.stage(row)}


def _air(outlook: Outlook, day: date, units: Units) -> str:
    air = air_on(outlook, day)
    if air is None:
        return QUIET
    low, high = map(units.temp_whole, air)
    return f"{low.split(' ')[0]} to {high}"


def air_on(outlook: Outlook, day: date) -> tuple[float, float] | None:
    """Return the lowest and highest air of a local day, °C, in the middle of the weathers. None if
    the forecast does not reach the day."""
    zone = outlook.settings.garden.timezone
    ends = [datetime.fromtimestamp(t, UTC) for t in outlook.weather.times.tolist()]
    local = [local_day(end, zone) == day for end in ends]
    if not any(local):
        return None
    air = np.median(outlook.weather.air_c, axis=0)[np.array(local)]
    return float(air.min()), float(air.max())
