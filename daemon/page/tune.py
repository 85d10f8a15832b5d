"""Tuning: a tree's own limits, the hours, the means and the chances, written into the file."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from werkzeug.security import check_password_hash

from underbench.daemon.faults import Fault
from underbench.daemon.page.auth import (
    LONGEST,
    PASSWORD,
    guess_wait,
    has_password,
    keeper_only,
    set_password,
    spoken,
    stay_in,
)
from underbench.daemon.page.context import BAD_FORM, deps, now, store
from underbench.daemon.page.edit import Answer, Field, Form, show_table, write_table
from underbench.daemon.wording.units import LITRES_PER_GALLON
from underbench.rules.garden.inventory import NEVER

blueprint = Blueprint("tune", __name__, url_prefix="/tune")

TOO_MANY = 429
NO_PASSWORD = (
    "The page has no password, so anybody may look and change things. Set one first, with "
    "underbench page-password."
)
TABLES = {
    "hands_on": "Who is there when",
    "means": "What there is to help with",
    "chance": "From which chance to act",
    "telling": "How often you are told",
}
NOTES = {
    "hands_on": "Hours such as 06:30-07:30, several with commas.",
    "chance": "Shares such as 0.3: the lower, the more often you are called.",
}


blueprint.before_request(keeper_only)


@blueprint.get("/<any(hands_on, means, chance, telling):table>")
def settings(table: str) -> Answer:
    """The form of one of the garden's settings."""
    return show_table((table,), _form(table))


@blueprint.post("/<any(hands_on, means, chance, telling):table>")
def change_settings(table: str) -> Answer:
    """Write one of the garden's settings."""
    said = f"{TABLES[table]}: changed."
    return write_table((table,), _form(table), said, url_for("share.more"))


@blueprint.get("/password")
def password() -> str:
    """The form for another password."""
    return _password()


@blueprint.post("/password")
def change_password() -> Answer:
    """Set another password, for whoever knows the one before. All others have to enter it."""
    old, new = (request.form.get(name, "")[:LONGEST] for name in ("old", "new"))
    known = store().pages.kept(PASSWORD)
    if known is not None:
        if wait := guess_wait():
            return _password(f"Too many guesses. Try again in {spoken(wait)}."), TOO_MANY
        if not check_password_hash(known[0], old):
            return _password("That is not the password."), BAD_FORM
    try:
        set_password(store(), new, now())
    except ValueError as fault:
        return _password(f"Nothing was changed: {fault}."), BAD_FORM
    answer = redirect(url_for("share.more"), 303)
    stay_in(answer)
    flash("The password is changed. Other devices are asked for it.")
    return answer


def _password(fault: str = "") -> str:
    return render_template("password.html", fault=fault, known=has_password(store()))


@blueprint.get("/links")
def links() -> str:
    """Who may look by a link."""
    return _links()


@blueprint.post("/links")
def change_links() -> Answer:
    """Make a link, which is shown once, or end one."""
    made = ""
    try:
        if gone := request.form.get("revoke"):
            store().guests.revoke(gone, now())
        else:
            if not has_password(store()):
                raise Fault(NO_PASSWORD)
            token = store().guests.invite(request.form.get("name", ""), now())
            base = deps().settings().page.address or request.host_url.rstrip("/")
            made = f"{base}{url_for('share.enter', token=token)}"
    except Fault as fault:
        return _links(fault=str(fault)), BAD_FORM
    return _links(made)


def _links(made: str = "", fault: str = "") -> str:
    guests = [guest for guest in store().guests.all() if not guest.revoked_at]
    return render_template("links.html", guests=guests, made=made, fault=fault)


def _form(table: str) -> Form:
    fields = FORMS[table]()
    address = url_for("tune.change_settings", table=table)
    return Form(TABLES[table], address, fields, note=NOTES.get(table, ""))


def _hours() -> list[Field]:
    return [
        Field("weekdays", "Somebody can carry trees, Monday to Friday", "list"),
        Field("weekends", "At weekends", "list"),
        Field("quiet", "Quiet, such as 22:00-06:00: only danger that cannot wait wakes you"),
        Field("away", "Away, such as 2027-07-03 to 2027-07-17", "list"),
    ]


def _means() -> list[Field]:
    us, means = deps().settings().units == "us", deps().settings().means
    lift = means.lift_litres / LITRES_PER_GALLON if us else means.lift_litres
    heavy = f"Heavier pots take two people, {'US gallons' if us else 'litres'}"
    return [
        _number("fleece_layers", "Layers of fleece there are, 0 to 2", means.fleece_layers),
        Field("shade_cloth", "There is half-shade cloth", "tick"),
        _number("lift_gallons" if us else "lift_litres", heavy, lift),
        _number("carry_minutes", "Minutes to carry a tree", means.minutes.carry),
        _number("heavy_minutes", "Minutes for one that takes two people", means.minutes.heavy),
        _number("water_minutes", "Minutes to water a tree", means.minutes.water),
    ]


def _chances() -> list[Field]:
    chance = deps().settings().chance
    flowers = "never" if chance.flowers_from == NEVER else chance.flowers_from
    return [
        _number("act_from", "Chance of harm from which to act", chance.act_from),
        _number("kill_from", "Chance of losing a tree from which to act", chance.kill_from),
        _number("flowers_from", "Chance of losing flowers from which to act", flowers),
    ]


def _tellings() -> list[Field]:
    telling = deps().settings().telling
    silence = "Without it, a sign of life after days of silence"
    return [
        Field("round_up", "A round-up each day at, such as 18:30; empty for none"),
        _number("still_watching_days", silence, telling.still_watching_days),
        _number("most_an_hour", "Messages an hour at most, but for danger", telling.most_an_hour),
    ]


def _number(key: str, label: str, in_force: float | str) -> Field:
    """A field that says what holds now, whether the file has it or not."""
    said = in_force if isinstance(in_force, str) else f"{in_force:.3g}"
    return Field(key, f"{label} (now {said})", "number")


FORMS = {"hands_on": _hours, "means": _means, "chance": _chances, "telling": _tellings}
