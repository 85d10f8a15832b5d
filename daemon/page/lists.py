"""What the garden's file lists besides trees and spots: stand-ins, and how trees are watered."""

from __future__ import annotations

from typing import Literal

from flask import Blueprint, abort, flash, redirect, request, url_for

from underbench.daemon.faults import Fault
from underbench.daemon.journal import garden_edit
from underbench.daemon.page.auth import keeper_only
from underbench.daemon.page.context import BAD_FORM, deps
from underbench.daemon.page.edit import (
    Answer,
    Field,
    Form,
    add_entry,
    plainly,
    show,
    show_table,
    write_table,
)

Section = Literal["stand_in", "watering"]
WATERING = (
    Field("times", "At these times, such as 07:00, 18:30", "list", needed=True),
    Field("every_days", "Every so many days", "number"),
    Field("as_needed", "Looked at then, and only what is dry is watered", "tick"),
    Field("from", "From this day of the year, such as 04-01"),
    Field("until", "Until this day, such as 10-10"),
)
STAND_IN = (
    Field("name", "Name", "name", needed=True),
    Field("days", "Days, such as 2027-07-03 to 2027-07-17; several with commas", "list", (), True),
    Field("weekdays", "Can carry trees, Monday to Friday, such as 07:00-08:00", "list"),
    Field("weekends", "At weekends", "list"),
    Field("waters", "Waters too", "truth", blank="yes, as is usual"),
)
FIELDS = {"stand_in": STAND_IN, "watering": WATERING}
HEADINGS = {"stand_in": "Who stands in", "watering": "How you water"}
NEW = {"stand_in": "Another stand-in", "watering": "Another routine"}
NOTES = {
    "stand_in": (
        "In those days what is told goes to whoever stands in: to an address of their own, else to"
        " yours."
    ),
    "watering": (
        "Without any, nothing is said about dry pots. Days of the year for which none holds count"
        " as days on which you look every other day."
    ),
}

blueprint = Blueprint("lists", __name__, url_prefix="/tune/<any(stand_in, watering):section>")


blueprint.before_request(keeper_only)


@blueprint.get("/")
def listed(section: Section) -> Answer:
    """What there is, and a form for one more."""
    return show(_new(section), {}, garden_edit.seen(deps().config))


@blueprint.post("/")
def add(section: Section) -> Answer:
    """Add one at the end of the file."""
    to = url_for("lists.listed", section=section)
    return add_entry(section, _new(section), f"{HEADINGS[section]}: added.", to)


@blueprint.get("/<int:number>")
def one(section: Section, number: int) -> Answer:
    """The form of one of them."""
    return show_table((section, number), _one(section, number))


@blueprint.post("/<int:number>")
def change(section: Section, number: int) -> Answer:
    """Change one of them, or take it out."""
    form, to = _one(section, number), url_for("lists.listed", section=section)
    if not request.form.get("out"):
        return write_table((section, number), form, f"{HEADINGS[section]}: changed.", to)
    try:
        garden_edit.remove(deps().config, (section, number), request.form.get("seen", ""))
    except Fault as fault:
        held, seen = _entries(section)[number], garden_edit.seen(deps().config)
        return show(form, held, seen, plainly(fault)), BAD_FORM
    flash(f"{HEADINGS[section]}: taken out.")
    return redirect(to, 303)


def _new(section: Section) -> Form:
    return Form(
        HEADINGS[section],
        url_for("lists.add", section=section),
        FIELDS[section],
        note=NOTES[section],
        adds=True,
        template="list.html",
        more={
            "ways": [
                (url_for("lists.one", section=section, number=n), _words(section, held))
                for n, held in enumerate(_entries(section))
            ],
            "new": NEW[section],
        },
    )


def _one(section: Section, number: int) -> Form:
    entries = _entries(section)
    if number >= len(entries):
        abort(404)
    return Form(
        _words(section, entries[number]),
        url_for("lists.change", section=section, number=number),
        FIELDS[section],
        note=NOTES[section],
        out=True,
    )


def _entries(section: Section) -> list[dict[str, object]]:
    return garden_edit.listed(deps().config, section)


def _words(section: Section, held: dict[str, object]) -> str:
    """What tells one entry from the others."""
    if section == "stand_in":
        return str(held.get("name", NEW[section]))
    times, until = held.get("times", []), held.get("until", "12-31")
    at = ", ".join(map(str, times)) if isinstance(times, list) else str(times)
    return f"{at}, {held.get('from', '01-01')} until {until}"
