"""Another name for a tree, and its leaving the garden."""

from __future__ import annotations

from flask import Blueprint, abort, flash, redirect, render_template, request, session, url_for

from underbench.daemon.faults import Fault
from underbench.daemon.journal import garden_edit, parting
from underbench.daemon.page.auth import keeper_only
from underbench.daemon.page.context import BAD_FORM, deps, now, settings, spelt, store
from underbench.daemon.page.edit import Answer, plainly
from underbench.daemon.page.last_pass import rename_in_ahead

blueprint = Blueprint("parting", __name__, url_prefix="/parting")

DEEDS = ("rename", "left", "dead")


blueprint.before_request(keeper_only)


@blueprint.get("/<path:name>")
def form(name: str) -> Answer:
    """What may become of a tree."""
    return _form(spelt(name), garden_edit.seen(deps().config))


@blueprint.post("/<path:name>")
def part(name: str) -> Answer:
    """Give a tree another name, or take it out of the garden."""
    name, as_seen = spelt(name), request.form.get("seen", "")
    deed, new = request.form.get("deed", ""), " ".join(request.form.get("name", "").split())
    if deed not in DEEDS:
        abort(400)
    try:
        return _renamed(name, new, as_seen) if deed == "rename" else _left(name, deed, as_seen)
    except Fault as fault:
        return _form(name, as_seen, new, plainly(fault)), BAD_FORM


def _renamed(name: str, new: str, as_seen: str) -> Answer:
    parting.rename(store(), settings(), name, new, as_seen, now())
    rename_in_ahead(store(), name, new)
    _can_be_taken_back()
    flash(f"{name} is now called {new}, in the file and in all that was noted of it.")
    return redirect(url_for("look.tree", name=new), 303)


def _left(name: str, deed: str, as_seen: str) -> Answer:
    dead = deed == "dead"
    flash(parting.take_out(store(), settings(), name, dead=dead, as_seen=as_seen, now=now()))
    _can_be_taken_back()
    return redirect(url_for("look.trees"), 303)


def _can_be_taken_back() -> None:
    """Let the next page offer it, as after any other note."""
    last = store().notes.last()
    session["noted"] = last and last.id


def _form(name: str, as_seen: str, new: str = "", faults: list[str] | None = None) -> str:
    return render_template("parting.html", name=name, seen=as_seen, new=new, faults=faults or [])
