"""The coming days, tree by tree, as one readable table."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.rehearsal.pass_report import forecast_json
from underbench.daemon.wording.json_form import document
from underbench.daemon.wording.tables import table
from underbench.daemon.wording.units import Units
from underbench.daemon.wording.vocabulary import quantity
from underbench.rules.advice.advice import by_risk
from underbench.rules.garden.local_time import local_day
from underbench.rules.hazards.findings import Finding, Strength

_MARK = {Strength.NOTICE: "", Strength.ACT: " !", Strength.DANGER: " !!"}
QUIET = "·"


def ahead_text(outlook: Outlook) -> str:
    """A row for each tree, a column for each day. A cell holds the worst finding of that day and
    night."""
    zone = outlook.settings.garden.timezone
    units = Units(outlook.settings.units)
    shown = days_shown(outlook)
    rows = [
        [tree.name, outlook.standing[i].spot, outlook.stage(i)]
        + [_cell(found_on(outlook, tree.name, day), units) for day in shown]
        for i, tree in enumerate(outlook.settings.trees)
    ]
    air = ["air, low and high", "", "", *(_air(outlook, day, units) for day in shown)]
    heads = ["tree", "stands", "stage", *(f"{day:%a %d %b}" for day in shown)]
    made = outlook.supplied.changed_at.astimezone(ZoneInfo(zone))
    return "\n".join(
        [
            table(heads, [*rows, air]),
            "",
            "A day's column holds that day and the night after it. "
            "! act, !! danger of losing it; % is the chance of harm.",
            f"Forecast of {made:%A %H:%M}. {outlook.supplied.attribution}.",
        ]
    )


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


def days_shown(outlook: Outlook) -> list[date]:
    """Return today and the days after it, by the garden's clock."""
    zone = outlook.settings.garden.timezone
    first = local_day(outlook.now, zone)
    return [first + timedelta(days=ahead) for ahead in range(5)]


def found_on(outlook: Outlook, tree: str, day: date) -> list[Finding]:
    """Return the findings for a tree on a local day and in the night after it."""
    zone = outlook.settings.garden.timezone

    def falls_on(finding: Finding) -> bool:
        first, last = (local_day(at, zone) for at in (finding.first_at, finding.until_at))
        if not finding.span.is_long:
            return local_day(finding.span.start, zone) == day
        return finding.hazard.is_seasonal or first <= day <= last

    return [
        f
        for f in outlook.findings
        if f.tree == tree and falls_on(f) and local_day(f.first_at, zone) <= day + timedelta(days=1)
    ]


def _cell(findings: Sequence[Finding], units: Units) -> str:
    if not findings:
        return QUIET
    worst = min(findings, key=by_risk)
    value = quantity(worst.worst, worst.limit.measured_on, units)
    return f"{worst.hazard.short} {value} {worst.chance:.0%}{_MARK[worst.strength]}"


def _air(outlook: Outlook, day: date, units: Units) -> str:
    air = air_on(outlook, day)
    return QUIET if air is None else " to ".join(map(units.temp_whole, air))


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
