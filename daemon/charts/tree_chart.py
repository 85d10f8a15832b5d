"""The chart of what one tree feels: which curves, which limits, in the keeper's units."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from underbench.daemon.charts.hours_of_a_tree import (
    AIR,
    BAG,
    EDGE,
    GUST,
    HOURLY_H,
    LEAF,
    NEAR_K,
    TISSUE,
    WATER,
    Column,
    Feeling,
)
from underbench.daemon.charts.svg import LOW, Chart, Curve, Level, Look, Panel
from underbench.daemon.wording.units import F_AT_0_C, F_PER_K, MS_PER_MPH
from underbench.daemon.wording.vocabulary import BAG_KNOWN_TO_K, quantity
from underbench.rules.hazards import hazard_of
from underbench.rules.hazards.dry_pot import DRY_POT
from underbench.rules.hazards.gale import GALE
from underbench.rules.limits.limit import MeasuredOn
from underbench.rules.weather.hourly import HOUR_S, Array
from underbench.rules.weather.sun import position

TWO_DAYS = slice(0, HOURLY_H)
GUST_MATTERS = 0.6  # of the gust that harms
WATER_MATTERS = 0.15  # more than the share left that harms
GUST_NEAR_MS = 6.0
_HURT = {**TISSUE, MeasuredOn.SHELL: "roots", MeasuredOn.BAG: "what is bagged"}


def feels_chart(feeling: Feeling, hours: slice = TWO_DAYS) -> Chart:
    """Return hours of one tree (a slice of the outlook's, with both ends) as a chart.

    The limits are those of the middle hour; the table has them day by day.
    """
    times = feeling.times[hours]
    garden = feeling.outlook.settings.garden
    elevation, _ = position(times - HOUR_S // 2, garden.latitude, garden.longitude)
    made = feeling.outlook.supplied.changed_at.astimezone(feeling.zone)
    return Chart(
        title=feeling.tree.name,
        subtitle=f"on {feeling.at.spot}, {_days(feeling, hours)}",
        times=times,
        dark=elevation < 0,
        timezone=garden.timezone,
        panels=[_temperatures(feeling, hours), *_gusts(feeling, hours), *_water(feeling, hours)],
        hour=feeling.units.hour,
        notes=[
            f"Lines: the middle of {feeling.outlook.weather.members} weathers."
            " Bands: 8 in 10 of them.",
            *_on_bags(feeling),
            f"Forecast of {made:%a} {made.day} {made:%b %H:%M}.",
            f"{feeling.outlook.supplied.attribution}.",
        ],
    )


def _days(feeling: Feeling, hours: slice) -> str:
    first, last = feeling.local(hours.start), feeling.local(_last(feeling, hours))
    days = dict.fromkeys(f"{day:%a} {day.day} {day:%b}" for day in (first, last))
    return " to ".join(days)


def _last(feeling: Feeling, hours: slice) -> int:
    return int(min(hours.stop, len(feeling.times))) - 1


def _on_bags(feeling: Feeling) -> Iterator[str]:
    if feeling.crown is BAG:
        yield f"The bag's inside is known to ±{feeling.units.temp_difference(BAG_KNOWN_TO_K)}."


def _temperatures(feeling: Feeling, hours: slice) -> Panel:
    crown = feeling.crown
    drawn = [
        (AIR, Look.AIR, "air"),
        (crown, Look.LEAF, "leaf" if crown is LEAF else "bag"),
        (EDGE, Look.ROOTS, "root ball"),
    ]
    levels = [
        level for column, look, _ in drawn for level in _near(feeling, hours, column, look, NEAR_K)
    ]
    far = "" if levels else " (far from every limit)"
    return Panel(
        heading=f"Temperature, {feeling.units.temp(0).split()[1]}{far}",
        curves=[curve(feeling, hours, column, look, name) for column, look, name in drawn],
        levels=levels,
    )


def _gusts(feeling: Feeling, hours: slice) -> Iterator[Panel]:
    """Gusts, if they come near what tips the tree or if they caused a finding."""
    begins, ends = (feeling.local(i) for i in (hours.start, _last(feeling, hours)))
    found = any(
        finding.limit.measured_on is MeasuredOn.GUST
        and finding.first_at <= ends
        and finding.until_at >= begins
        for finding in feeling.findings
    )
    _, above = feeling.limits(GUST, _middle(feeling, hours))
    most = float(feeling.tenths(GUST)[2][hours].max())
    if found or most >= GUST_MATTERS * above[GALE.key].harm:
        yield Panel(
            heading=f"Gusts where it stands, {feeling.units.speed(0).split()[1]}",
            curves=[curve(feeling, hours, GUST, Look.GUST, "gusts")],
            levels=list(_near(feeling, hours, GUST, Look.GUST, GUST_NEAR_MS)),
            shown=(0.0,),
            height=LOW,
        )


def _water(feeling: Feeling, hours: slice) -> Iterator[Panel]:
    below, _ = feeling.limits(WATER, _middle(feeling, hours))
    least = float(feeling.tenths(WATER)[0][hours].min())
    if feeling.follows_water and least < below[DRY_POT.key].harm + WATER_MATTERS:
        yield Panel(
            heading="Water left in the pot, %",
            curves=[curve(feeling, hours, WATER, Look.WATER, "water")],
            levels=list(_near(feeling, hours, WATER, Look.WATER, 1.0)),
            shown=(0.0, 100.0),
            height=LOW,
        )


def _middle(feeling: Feeling, hours: slice) -> int:
    return (int(hours.start) + _last(feeling, hours)) // 2


def curve(feeling: Feeling, hours: slice, column: Column, look: Look, name: str) -> Curve:
    """Return the middle eight tenths of what is felt in a slice of hours, in the keeper's unit."""
    low, middle, high = (
        shown(feeling, tenth[hours], column.kind) for tenth in feeling.tenths(column)
    )
    return Curve(name, look, low, middle, high)


def _near(
    feeling: Feeling, hours: slice, column: Column, look: Look, near: float
) -> Iterator[Level]:
    """The limits within ``near`` of what the middle eight tenths of the members bring."""
    low, _, high = (tenth[hours] for tenth in feeling.tenths(column))
    if np.isnan([low, high]).all():
        return
    below, above = feeling.limits(column, _middle(feeling, hours))
    least, most = float(np.nanmin(low)), float(np.nanmax(high))
    for key, limit in (below | above).items():
        for value, kills in ((limit.harm, False), (limit.kill, True)):
            if (least - value if key in below else value - most) < near:
                kind = limit.measured_on
                hurt = hazard_of(key).hurts or _HURT.get(kind, "the tree")
                words = f"{'kills' if kills else 'harms'} {hurt} "
                at = float(shown(feeling, np.array(value), kind))
                yield Level(words + quantity(value, kind, feeling.units), look, at, kills)


def shown(feeling: Feeling, values: Array, kind: MeasuredOn) -> Array:
    """Return values in the unit the keeper reads on an axis."""
    us = feeling.outlook.settings.units == "us"
    if kind is MeasuredOn.WATER:
        return np.asarray(100.0 * values)
    if kind is MeasuredOn.GUST:
        return np.asarray(values / MS_PER_MPH if us else values)
    return np.asarray(values * F_PER_K + F_AT_0_C if us else values)
