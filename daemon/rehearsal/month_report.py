"""A rehearsal as text, month by month, and as JSON: what was told, and what was estimated."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from typing import Any

from underbench.daemon.alerts.compose import Said
from underbench.daemon.alerts.message_kinds import Kind
from underbench.daemon.rehearsal.pass_report import said_json, told_json
from underbench.daemon.rehearsal.replay import EVERY_H, Heard, Plan, Seen, rehearse
from underbench.daemon.weather.csv_series import Series, how_estimated
from underbench.daemon.wording.json_form import document, part
from underbench.daemon.wording.tables import table
from underbench.rules.hazards.findings import Strength
from underbench.rules.hazards.hazard import Action

Echo = Callable[[str], None]

NAMED = 4
AFTER = "after"  # reminders, stand-downs, returns, questions
COLUMNS = (*Action, AFTER)
MADE_OF = (
    f"A pass runs every {EVERY_H} hours and as hands-on hours begin. Its forecast is what really"
    " followed,\na perfect one; a real forecast errs. What is told is taken as done in time and"
    " noted.\nNothing is sent, and your own record stays as it is."
)


def show_text(planned: Plan, echo: Echo, seen: Seen) -> None:
    """Run the rehearsal and print each message as it comes, then what it comes to."""
    echo(_opening(planned))
    month, heard = "", []
    for one in rehearse(planned, seen):
        local = one.at.astimezone(planned.zone)
        if month != f"{local:%B %Y}":
            month = f"{local:%B %Y}"
            echo(f"\n{month}")
        echo(f"  {local:%a %d %H:%M}  {_line(one)}")
        heard.append(one)
    echo(_summary(heard, planned))


def show_json(planned: Plan, echo: Echo, seen: Seen) -> None:
    """Run the rehearsal and print all of it for programs; moments in UTC; SI units and °C."""
    echo(document(_body(list(rehearse(planned, seen)), planned)))


def _opening(planned: Plan) -> str:
    """What is rehearsed, and what to bear in mind reading it."""
    garden, passes = planned.settings.garden.name, len(planned.moments)
    what = f"{garden} rehearsed with {planned.series.name}: {span_of(planned)}, {passes:,} passes."
    return "\n".join([what, MADE_OF, journal_line(planned)])


def span_of(planned: Plan) -> str:
    """Return the first and the last local day rehearsed."""
    days = (planned.moments[at].astimezone(planned.zone) for at in (0, -1))
    return " to ".join(f"{day.day} {day:%b %Y}" for day in days)


def journal_line(planned: Plan) -> str:
    """Return what the journal holds for these days."""
    entries, years = len(planned.journal.entries), planned.journal.years_back
    if not entries:
        return "The journal is empty: no work, no moves, no sightings."
    noted = f"{entries} journal {'entry' if entries == 1 else 'entries'}"
    if years:
        return f"{noted}, moved back {years} year{'s' if years > 1 else ''} to meet this weather."
    return f"{noted}, on the days as noted."


def _line(one: Heard) -> str:
    trees = one.trees
    more = f" and {len(trees) - NAMED} more" if len(trees) > NAMED else ""
    why = f" {one.advice.lead.hazard.words}:" if one.advice else ""
    return f"{one.told.message.title}.{why} {', '.join(trees[:NAMED])}{more}"


def _summary(heard: Sequence[Heard], planned: Plan) -> str:
    """Messages by month and action, by reason and by tree; what the weather lacked."""
    return "\n".join(["", *_counts(heard, planned), *_weather_lines(planned)])


def _counts(heard: Sequence[Heard], planned: Plan) -> list[str]:
    if not heard:
        return ["Nothing would have been told."]
    by_tree = _by_tree(heard)
    danger = sum(one.told.message.strength is Strength.DANGER for one in heard)
    quiet = [t.name for t in planned.settings.trees if t.name not in by_tree]
    lines = [
        f"Messages: {len(heard)}, {danger} of them danger.",
        "",
        _month_table(heard, planned),
        "",
        f"Reason first named: {_listed(_reasons(heard))}.",
        f"Trees told: {len(by_tree)} of {len(planned.settings.trees)}: {_listed(by_tree)}.",
    ]
    return [*lines, f"Never told: {', '.join(quiet)}."] if quiet else lines


def _month_table(heard: Sequence[Heard], planned: Plan) -> str:
    counts = _by_month(heard, planned)
    total: Counter[str] = sum(counts.values(), Counter())
    rows = [*counts.items(), ("all", total)]
    return table(
        ["month", *COLUMNS, "all"],
        [
            [month, *(str(own[c]) if own[c] else "·" for c in COLUMNS), str(own.total())]
            for month, own in rows
        ],
    )


def _by_month(heard: Sequence[Heard], planned: Plan) -> dict[str, Counter[str]]:
    """Messages by local month (every month of the rehearsal) and action, or `AFTER` them."""
    months = (f"{moment.astimezone(planned.zone):%Y-%m}" for moment in planned.moments)
    counts = {month: Counter[str]() for month in months}
    for one in heard:
        what = one.advice.action if one.advice else AFTER
        counts[f"{one.at.astimezone(planned.zone):%Y-%m}"][what] += 1
    return counts


def _by_tree(heard: Sequence[Heard]) -> Counter[str]:
    """In how many pieces of advice each tree was named."""
    return Counter(tree for one in heard if one.advice for tree in one.trees)


def _reasons(heard: Sequence[Heard]) -> Counter[str]:
    told = (one.advice.lead.hazard for one in heard if one.advice)
    return Counter(hazard.words.lower() for hazard in told)


def _listed(counts: Counter[str]) -> str:
    return ", ".join(f"{name} {count}" for name, count in counts.most_common())


def _weather_lines(planned: Plan) -> list[str]:
    series = planned.series
    lines = [*_estimates(series), *(f"Flagged: {flag}." for flag in series.flags)]
    if series.not_used:
        lines.append(f"Columns not used: {', '.join(series.not_used)}.")
    if planned.in_gaps:
        lines.append(f"Passes left out in gaps of more than a day: {planned.in_gaps:,}.")
    return ["", *lines] if lines else []


def _estimates(series: Series) -> list[str]:
    hours = series.weather.hours
    return [
        f"Estimated: {column}, "
        f"{'all hours' if count == hours else f'{count:,} of {hours:,} hours'}"
        f" ({how_estimated(column, count == hours)})."
        for column, count in series.estimated.items()
    ]


def _body(heard: Sequence[Heard], planned: Plan) -> dict[str, Any]:
    series = planned.series
    first, last = (datetime.fromtimestamp(int(at), tz=UTC) for at in series.weather.times[[0, -1]])
    return {
        "garden": planned.settings.garden.name,
        "weather": {
            "source": series.name,
            "from": first,
            "to": last,
            "hours": series.weather.hours,
            "estimated_hours": series.estimated,
            "flags": [part(flag, "what", "count", "lines") for flag in series.flags],
            "columns_not_used": series.not_used,
        },
        "forecast": "perfect: the hours that followed",
        "journal": {
            "entries": len(planned.journal.entries),
            "moved_back_years": planned.journal.years_back,
        },
        "passes": len(planned.moments),
        "passes_left_out": planned.in_gaps,
        "messages": [{"at": one.at, **_heard_json(one)} for one in heard],
        "summary": {
            "by_month": _by_month(heard, planned),
            "by_tree": _by_tree(heard),
            "by_reason": _reasons(heard),
        },
    }


def _heard_json(one: Heard) -> dict[str, Any]:
    if isinstance(one.told, Said):
        return said_json(one.told)
    return {"kind": Kind.ADVICE, **told_json(one.told), **part(one.told.advice, "findings")}
