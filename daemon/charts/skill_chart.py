"""The chart of the last nights of one place: forecast, corrected, measured."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

import numpy as np

from underbench.daemon.charts.svg import Chart, Curve, Level, Look, Panel, draw
from underbench.daemon.faults import Fault
from underbench.daemon.readings.forecast_skill import Night, Skill
from underbench.daemon.wording.units import F_AT_0_C, F_PER_K, Units
from underbench.rules.weather.hourly import HOUR_S, Array

MOST_DATES = 7
MOST_NIGHTS = 40  # with more, days are too narrow to tell apart


def write_skill_chart(skill: Skill, path: Path) -> None:
    """Draw the nights of the garden, or of the first spot measured, into a file; raises Fault."""
    if not skill.nights:
        raise Fault("no night yet that was both foreseen and measured, so there is nothing to draw")
    try:
        path.write_text(draw(skill_chart(skill)), encoding="utf-8")
    except OSError as error:
        raise Fault(f"{path}: cannot be written: {error.strerror}") from None


def skill_chart(skill: Skill) -> Chart:
    """Return the last nights of one place as a chart, drawn straight from morning to morning."""
    spot = min((night.foreseen.spot or "") for night in skill.nights)
    mine = [night for night in skill.nights if (night.foreseen.spot or "") == spot]
    nights = mine[-MOST_NIGHTS:]
    ends = np.array([int(night.foreseen.night_end.timestamp()) for night in nights])
    times = np.arange(ends[0], ends[-1] + 1, HOUR_S, dtype=np.int64)
    days = int((ends[-1] - ends[0]) // (24 * HOUR_S)) + 1
    every = max(1, -(-days // MOST_DATES))

    def date(local: datetime) -> str:
        shown = local.hour == 0 and local.toordinal() % every == 0
        return f"{local.day} {local:%b}" if shown else ""

    units = Units(skill.settings.units)
    degree = units.temp(0).split()[1]
    return Chart(
        title=f"Nights of {spot or skill.settings.garden.name}",
        subtitle=f"{len(nights)} nights, foreseen a day before and measured",
        times=times,
        dark=np.zeros(len(times), dtype=bool),
        timezone=skill.settings.garden.timezone,
        panels=[_panel(nights, ends, times, units, degree)],
        hour=date,
        notes=["Band: 8 in 10 of the corrected weathers."],
    )


def _panel(nights: list[Night], ends: Array, times: Array, units: Units, degree: str) -> Panel:
    def drawn(values_c: list[float]) -> Array:
        values = np.array(values_c)
        values = values * F_PER_K + F_AT_0_C if units.system == "us" else values
        return np.asarray(np.interp(times, ends, values))

    rows = [night.foreseen for night in nights]
    low, high = (
        drawn([float(np.quantile(row.members_c, share)) for row in rows]) for share in (0.1, 0.9)
    )
    forecast = drawn([row.forecast_c for row in rows])
    seen = drawn([night.observed_c for night in nights])
    freezing = F_AT_0_C if units.system == "us" else 0.0
    return Panel(
        heading=f"Lowest air of the night, {degree}",
        curves=[
            Curve("corrected", Look.LEAF, low, drawn([row.corrected_c for row in rows]), high),
            Curve("forecast", Look.ROOTS, forecast, forecast, forecast),
            Curve("measured", Look.AIR, seen, seen, seen),
        ],
        levels=[Level(units.temp_whole(0.0), Look.AIR, freezing, kills=False)],
    )
