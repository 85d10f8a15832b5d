"""What ``trees``, ``ahead`` and ``feels`` show, for programs: SI units and °C, moments in UTC."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import UTC, date, datetime
from typing import Any

import numpy as np

from underbench.daemon.charts.hours_of_a_tree import COLUMNS, Column, Feeling
from underbench.daemon.config.settings import Settings
from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.outlook.stages import stage_words
from underbench.daemon.rehearsal.pass_report import forecast_json
from underbench.daemon.views.ahead import air_on, days_shown
from underbench.daemon.views.trees import derived_of
from underbench.daemon.wording.json_form import document, finding_json, iso, number
from underbench.rules.garden.journal import Entry, TreeAt, fold
from underbench.rules.hazards.bearing import Bearing

DECIMALS = 3


def trees_json(settings: Settings, journal: Sequence[Entry], now: datetime) -> str:
    """Return every tree as inventory and journal have it, with what was derived and why."""
    standing = [fold(tree, journal, now) for tree in settings.trees]
    body = {
        "now": iso(now),
        "garden": settings.garden.name,
        "trees": [_tree(at, settings) for at in standing],
        "derived_of_spots": {name: dict(why) for name, why in settings.derived_spots.items()},
    }
    return document(body)


def _tree(at: TreeAt, settings: Settings) -> dict[str, Any]:
    tree = at.tree
    return {
        "tree": tree.name,
        "from_tree": tree.parent,
        "species": tree.species,
        "cultivar": tree.cultivar,
        "spot": at.spot,
        "home": tree.spot,
        "container": tree.container.model_dump(mode="json"),
        "height_cm": tree.height_cm,
        "crown_cm": tree.crown_cm,
        "derived": derived_of(at, settings),
    }


def ahead_json(outlook: Outlook) -> str:
    """Return the coming days: the air by local day, and each tree's findings."""
    return document(
        {
            "now": iso(outlook.now),
            "garden": outlook.settings.garden.name,
            "forecast": forecast_json(outlook.supplied),
            "days": [_day(outlook, day) for day in days_shown(outlook)],
            "trees": [
                {
                    "tree": tree.name,
                    "spot": outlook.standing[row].spot,
                    "home": tree.spot,
                    "stage": outlook.stage(row),
                    "findings": [finding_json(f) for f in outlook.findings if f.tree == tree.name],
                }
                for row, tree in enumerate(outlook.settings.trees)
            ],
        }
    )


def _day(outlook: Outlook, day: date) -> dict[str, Any]:
    low_c, high_c = air_on(outlook, day) or (None, None)
    return {"day": day.isoformat(), "air_low_c": low_c, "air_high_c": high_c}


def feels_json(feeling: Feeling) -> str:
    """Return every hour of what a tree feels: middle and tenths of the weathers, shares harmed."""
    outlook = feeling.outlook
    body = {
        "now": iso(outlook.now),
        "tree": feeling.tree.name,
        "species": feeling.tree.species,
        "spot": feeling.at.spot,
        "home": feeling.tree.spot,
        "stage": outlook.stage(feeling.row),
        "stage_words": stage_words(outlook, feeling.row),
        "forecast": forecast_json(outlook.supplied),
        "limits_by_utc_day": {
            day.isoformat(): _limits(bearing) for day, bearing in feeling.bearings.items()
        },
        "hours": _hours(feeling),
        "findings": [finding_json(finding) for finding in feeling.findings],
    }
    return document(body)


def _limits(bearing: Bearing) -> dict[str, Any]:
    return {
        key: {"measured_on": one.measured_on, "harm": one.harm, "kill": number(one.kill)}
        for key, one in bearing.items()
    }


def _hours(feeling: Feeling) -> list[dict[str, Any]]:
    felt = {column.name: _felt(feeling, column) for column in COLUMNS}
    harmed, killed = (share.tolist() for share in feeling.shares())
    return [
        {
            "at": iso(datetime.fromtimestamp(at, tz=UTC)),
            **{name: values[hour] for name, values in felt.items()},
            "harmed": harmed[hour],
            "killed": killed[hour],
        }
        for hour, at in enumerate(feeling.times.tolist())
    ]


def _felt(feeling: Feeling, column: Column) -> list[dict[str, float | None] | None]:
    """By hour the low tenth, the middle and the high tenth; None where it feels no such thing."""
    tenths = np.round(np.stack(feeling.tenths(column), axis=-1), DECIMALS)
    return [
        dict(zip(("low_tenth", "middle", "high_tenth"), map(number, row.tolist()), strict=True))
        if np.isfinite(row).any()
        else None
        for row in tenths
    ]
