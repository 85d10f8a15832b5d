"""Readings: typed into a form, or posted by a device with the token of ``[readings]``."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Response, abort, flash, redirect, render_template, request, url_for
from werkzeug.datastructures import MultiDict
from werkzeug.wrappers import Response as AnyResponse

from underbench.daemon.faults import Fault
from underbench.daemon.outlook.members import learned_of
from underbench.daemon.page.auth import inside, reader_of
from underbench.daemon.page.context import (
    BAD_FORM,
    as_noted,
    deps,
    local,
    now,
    on_a_page,
    settings,
    store,
    was_kept,
)
from underbench.daemon.readings.answers import Said, note_reading
from underbench.daemon.readings.from_post import LARGEST_BODY, may_post, readings_in
from underbench.daemon.readings.new_sensor import GARDEN, forget_sensor
from underbench.daemon.readings.parse import Known
from underbench.daemon.store.store import StoreError
from underbench.daemon.wording.reading_units import NoReading, units_of
from underbench.rules.garden.readings import Quantity

_FIELDS = {"--on": "Day", "--at": "Clock", "--new-sensor": "Thermometer"}

blueprint = Blueprint("readings", __name__)


@blueprint.get("/do/reading")
def form() -> str:
    """The form alone, filled in from the address."""
    return _form(request.args)


@blueprint.post("/do/reading")
def note() -> AnyResponse | tuple[str, int]:
    """Note a reading as the command does. The moment is fixed to the minute, so that the same
    fields sent again replace it."""
    as_noted()
    held = MultiDict(request.form)
    if not held.get("day") and not held.get("clock") and held.get("quantity") != Quantity.AIR_MIN:
        held["day"], held["clock"] = f"{local(now()):%Y-%m-%d}", f"{local(now()):%H:%M}"
    try:
        said = note_reading(store(), settings(), _said(held), now())
    except Fault as fault:
        told = on_a_page(str(fault), _FIELDS)
        return (told if was_kept() else _form(request.form, told)), BAD_FORM
    if was_kept():
        return "", 204
    flash(said)
    names = ("value", "quantity", "place", "day", "clock")
    again: dict[str, Any] = {name: held[name] for name in names if held.get(name)}
    again |= {"noted": "1", "to": inside(held.get("to", "/"))}
    return redirect(url_for("readings.form", **again), 303)


@blueprint.post("/do/new-sensor")
def exchanged() -> AnyResponse | tuple[str, int]:
    """Forget what the thermometer of a place taught, as the command does."""
    try:
        said = forget_sensor(store(), settings(), request.form.get("sensor", ""), now())
    except Fault as fault:
        return _form(request.form, on_a_page(str(fault), _FIELDS)), BAD_FORM
    flash(said)
    return redirect(url_for("readings.form", to=inside(request.form.get("to", "/"))), 303)


@blueprint.post("/readings")
def take() -> Response:
    """Take readings as JSON with the token: no form, no session.

    They are kept before the answer.
    """
    token = deps().settings().readings.token
    if token is None:
        abort(404)
    if request.content_length is None:
        return _line(411, "expected Content-Length")
    if request.content_length > LARGEST_BODY:
        return _line(413, f"expected {LARGEST_BODY} bytes or fewer")
    if not may_post(request.headers.get("Authorization", ""), token):
        return _line(401, "the token is not the one that is set")
    try:
        readings = readings_in(request.get_data(), Known.of(settings()), now())
        store().readings.add(readings)
    except NoReading as fault:
        return _line(400, str(fault))
    except StoreError as fault:
        return _line(503, str(fault))
    return _line(202, f"taken: {len(readings)}")


def _line(status: int, text: str) -> Response:
    return Response(f"{text}\n", status, mimetype="text/plain")


def _said(held: MultiDict[str, str]) -> Said:
    return Said(
        held.get("value", "").strip(),
        held.get("quantity", ""),
        held.get("place", ""),
        held.get("day") or None,
        held.get("clock") or None,
    )


def _form(held: MultiDict[str, str], fault: str = "") -> str:
    if reader_of(request):
        abort(403)
    return render_template(
        "reading.html",
        fault=fault,
        held=held,
        to=inside(held.get("to", "/")),
        quantities={one.value: " or ".join(units_of(one)) for one in Quantity},
        spots=list(settings().spots),
        trees=[tree.name for tree in settings().trees],
        today=f"{local(now()):%Y-%m-%d}",
        sensors=[place or GARDEN for place in learned_of(store()).places],
    )
