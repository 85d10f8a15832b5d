"""What ``feels`` shows, for programs: SI units and °C, moments in UTC."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

import numpy as np

from underbench.daemon.charts.hours_of_a_tree import COLUMNS, Column, Feeling
from underbench.daemon.outlook.stages import stage_words
from underbench.daemon.rehearsal.pass_report import forecast_json
from underbench.daemon.views.ahead import place_json
from underbench.daemon.wording.json_form import document
from underbench.rules.limits.bearing import Bearing
from underbench.rules.limits.limit import Limit

DECIMALS = 3
TENTHS = ("low_tenth", "middle", "high_tenth")


def feels_json(feeling: Feeling) -> str:
    """Return every hour of what a tree feels: middle and tenths of the weathers, shares harmed."""
    outlook = feeling.outlook
    body = {
        "now": outlook.now,
        **place_json(outlook, feeling.row),
        "species": feeling.tree.species,
        "stage_words": stage_words(outlook, feeling.row),
        "forecast": forecast_json(outlook.supplied),
        "limits_by_utc_day": {day: _limits(borne) for day, borne in feeling.bearings.items()},
        "hours": _hours(feeling),
        "findings": feeling.findings,
    }
    return document(body)


def _limits(bearing: Bearing) -> dict[str, Limit]:
    named = {name: getattr(bearing, name) for name in Bearing.__dataclass_fields__}
    return {name: one for name, one in named.items() if isinstance(one, Limit)}


def _hours(feeling: Feeling) -> list[dict[str, Any]]:
    felt = {column.name: _felt(feeling, column) for column in COLUMNS}
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
    """By hour the low tenth, the middle and the high tenth; None where it feels no such thing."""
    tenths = np.round(np.stack(feeling.tenths(column), axis=-1), DECIMALS)
    return [
        dict(zip(TENTHS, row, strict=True)) if np.isfinite(row).any() else None
        for row in tenths.tolist()
    ]
