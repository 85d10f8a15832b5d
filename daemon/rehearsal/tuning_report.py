"""What other values of a limit would have brought, as a table and as the line for the file."""

from __future__ import annotations

from pathlib import Path
from textwrap import fill

from underbench.daemon.charts.tuning_chart import draw_tuning
from underbench.daemon.faults import Fault
from underbench.daemon.rehearsal.month_report import span_of
from underbench.daemon.rehearsal.replay import Plan
from underbench.daemon.rehearsal.tune import LIMITS, Outcome, Tuning
from underbench.daemon.wording.json_form import document, part
from underbench.daemon.wording.tables import table

WIDTH = 80
MADE_OF = (
    "Only these trees are rehearsed, on a perfect forecast, and each message is done as told. A"
    " harmed night is a tree's night below (or above) today's limit of which nothing was told."
)


def tuning_text(tuning: Tuning, planned: Plan) -> str:
    """Return the table, with today's value marked, and the line to write."""
    trees, unit = len(tuning.meant.trees), LIMITS[tuning.limit].unit
    head = (
        f"{tuning.limit} of {tuning.meant.name} ({trees} {'tree' if trees == 1 else 'trees'}),"
        f" rehearsed with {planned.series.name}: {span_of(planned)}."
    )
    rows = [
        [
            f"{one.value:g}{'  today' if one.value == tuning.today else ''}",
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
            *_line(tuning),
        ]
    )


def tuning_json(tuning: Tuning, planned: Plan) -> str:
    """Return the same for programs."""
    meant = part(tuning.meant, "name", "trees")
    span = {"from": planned.moments[0], "to": planned.moments[-1]}
    found = part(tuning, "limit", "today", "outcomes")
    return document({**meant, "weather": planned.series.name, **span, **found})


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


def _line(tuning: Tuning) -> list[str]:
    best = fewest(tuning).value
    said = "today's value" if best == tuning.today else f"{best:g}"
    return [
        f"Least harm for the fewest carries: {said}. To set a value, write into the garden's file:",
        tuning.meant.section,
        f"{tuning.limit} = {best:g}",
    ]


def tuning_svg(tuning: Tuning) -> str:
    """Return the same as a chart."""
    done, unit = tuning.outcomes, LIMITS[tuning.limit].unit
    today = [one.value for one in done].index(tuning.today)
    return draw_tuning(
        f"{tuning.limit} of {tuning.meant.name}",
        [f"{one.value:g} {unit}" for one in done],
        today,
        [
            ("Messages", [one.messages for one in done]),
            ("Carries", [one.carries for one in done]),
            ("Harmed nights", [one.harmed_nights for one in done]),
        ],
    )


def write_chart(tuning: Tuning, path: Path) -> None:
    """Draw the chart into a file; raises Fault if it cannot be written."""
    try:
        path.write_text(tuning_svg(tuning), encoding="utf-8")
    except OSError as error:
        raise Fault(f"{path}: cannot be written: {error.strerror}") from None
