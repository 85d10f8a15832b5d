"""What other values of a limit would have brought, as a table and as the line for the file."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from datetime import datetime
from textwrap import fill
from typing import NamedTuple

from underbench.daemon.charts.tuning_chart import draw_tuning
from underbench.daemon.config.limits_table import LimitsTable
from underbench.daemon.journal.borne import noted_lines
from underbench.daemon.rehearsal.month_report import span_of
from underbench.daemon.rehearsal.replay import Plan
from underbench.daemon.rehearsal.tune import Outcome, Tuning
from underbench.daemon.rehearsal.tuned_names import Meant
from underbench.daemon.wording.json_form import document, part
from underbench.daemon.wording.tables import table
from underbench.daemon.wording.units import MS_PER_MPH, UnitSystem, f_from_c

WIDTH = 80
SPEEDS = ("gust_ms",)
MADE_OF = (
    "Only these trees are rehearsed, on a perfect forecast, and each message is done as told. A"
    " harmed night is a tree's night below (or above) today's limit of which nothing was told."
)


class Rehearsed(NamedTuple):
    """Values tried, and the weather they were tried in: its name, from when and until when."""

    tuning: Tuning
    weather: str
    begins: datetime
    ends: datetime


def tuning_text(tuning: Tuning, planned: Plan) -> str:
    """Return the table, with today's value marked, and the line to write."""
    trees, units = len(tuning.meant.trees), planned.settings.units
    key, unit = _in_file(tuning.limit, units)
    head = (
        f"{key} of {tuning.meant.name} ({trees} {'tree' if trees == 1 else 'trees'}),"
        f" rehearsed with {planned.series.name}: {span_of(planned)}."
    )
    rows = [
        [
            _number(tuning.limit, one.value, units)
            + ("  today" if one.value == tuning.today else ""),
            *(f"{count}" for count in (one.messages, one.carries, one.harmed_nights)),
        ]
        for one in tuning.outcomes
    ]
    return "\n".join(
        [
            fill(head, WIDTH),
            fill(MADE_OF, WIDTH),
            "",
            table([unit, "messages", "carries", "harmed nights"], rows),
            "",
            *_noted(tuning, planned),
            *_line(tuning, units),
        ]
    )


def _noted(tuning: Tuning, planned: Plan) -> list[str]:
    """What the keeper noted of the trees, where that says something of their limits."""
    meant = (tree for tree in planned.settings.trees if tree.name in tuning.meant.trees)
    entries = planned.journal.entries
    lines = [line for tree in meant for line in noted_lines(planned.settings, tree, entries)]
    return [*(fill(line, WIDTH) for line in lines), *([""] if lines else [])]


def tuning_json(tuning: Tuning, planned: Plan) -> str:
    """Return the same for programs."""
    meant = part(tuning.meant, "name", "trees")
    span = {"from": planned.moments[0], "to": planned.moments[-1]}
    found = part(tuning, "limit", "today", "outcomes")
    return document({**meant, "weather": planned.series.name, **span, **found})


def tuning_of(printed: str) -> Rehearsed:
    """Return what `tuning_json` printed."""
    kept = json.loads(printed)
    span = (datetime.fromisoformat(kept[end]) for end in ("from", "to"))
    outcomes = tuple(
        Outcome(*(one[field.name] for field in fields(Outcome))) for one in kept["outcomes"]
    )
    meant = Meant(kept["name"], "tree", frozenset(kept["trees"]))
    return Rehearsed(Tuning(meant, kept["limit"], kept["today"], outcomes), kept["weather"], *span)


def changes(tuning: Tuning, units: UnitSystem) -> list[tuple[str, str]]:
    """Return each value but today's, with what it would have changed."""
    (now,) = (one for one in tuning.outcomes if one.value == tuning.today)
    return [
        (said_value(tuning.limit, one.value, units), _change(one, now))
        for one in tuning.outcomes
        if one is not now
    ]


def said_value(limit: str, value: float, units: UnitSystem) -> str:
    """Return a limit's value with its unit."""
    number = _number(limit, value, units).replace("-", "\N{MINUS SIGN}")
    return f"{number} {_in_file(limit, units)[1]}"


def _change(one: Outcome, now: Outcome) -> str:
    counts = {
        "message": one.messages - now.messages,
        "carry": one.carries - now.carries,
        "harmed night": one.harmed_nights - now.harmed_nights,
    }
    told = [_counted(what, by) for what, by in counts.items() if by]
    return ", ".join(told) or "nothing would change"


def _counted(what: str, by: int) -> str:
    many = {"carry": "carries"}.get(what, f"{what}s")
    return f"{abs(by)} {what if abs(by) == 1 else many} {'more' if by > 0 else 'fewer'}"


def fewest(tuning: Tuning) -> Outcome:
    """Return the value with the fewest harmed nights, among equals the one with the fewest carries
    and messages, then the one nearest to today's."""
    return min(
        tuning.outcomes,
        key=lambda one: (
            one.harmed_nights,
            one.carries,
            one.messages,
            abs(one.value - tuning.today),
        ),
    )


def _in_file(limit: str, units: UnitSystem) -> tuple[str, str]:
    """The key that this keeper's file has for a limit, and its unit."""
    if units == "us":
        return dict(LimitsTable.alternatives)[limit], "mph" if limit in SPEEDS else "°F"
    return limit, "m/s" if limit in SPEEDS else "°C"


def _number(limit: str, value: float, units: UnitSystem) -> str:
    """A value as this keeper's file has it."""
    if units == "us":
        return f"{value / MS_PER_MPH if limit in SPEEDS else f_from_c(value):.1f}"
    return f"{value:g}"


def _line(tuning: Tuning, units: UnitSystem) -> list[str]:
    best = fewest(tuning).value
    number = _number(tuning.limit, best, units)
    said = f"Least harm for the fewest carries: {number}."
    if best == tuning.today:
        said = "Least harm for the fewest carries: today's value."
    if len({replace(one, value=best) for one in tuning.outcomes}) == 1:
        said = "In this weather all these values come to the same."
    return [
        f"{said} To set a value, write into the garden's file:",
        tuning.meant.section,
        f"{_in_file(tuning.limit, units)[0]} = {number}",
    ]


def tuning_svg(tuning: Tuning, units: UnitSystem) -> str:
    """Return the same as a chart."""
    done, (key, unit) = tuning.outcomes, _in_file(tuning.limit, units)
    today = [one.value for one in done].index(tuning.today)
    return draw_tuning(
        f"{key} of {tuning.meant.name}",
        [f"{_number(tuning.limit, one.value, units)} {unit}" for one in done],
        today,
        [
            ("Messages", [one.messages for one in done]),
            ("Carries", [one.carries for one in done]),
            ("Harmed nights", [one.harmed_nights for one in done]),
        ],
    )
