"""A photograph of a tree: looked at, put in, taken out."""

from __future__ import annotations

from flask import Blueprint, Response, abort, flash, redirect, render_template, request, url_for

from underbench.daemon.faults import Fault
from underbench.daemon.page.auth import reader_of
from underbench.daemon.page.context import BAD_FORM, deps, spelt
from underbench.daemon.page.edit import Answer
from underbench.daemon.store.photographs import MOST_BYTES, Photographs

blueprint = Blueprint("photograph", __name__, url_prefix="/photograph")


@blueprint.get("/of/<path:name>")
def picture(name: str) -> Response:
    """The photograph itself."""
    path = photographs().of(spelt(name)) or abort(404)
    return Response(path.read_bytes(), mimetype="image/jpeg")


@blueprint.get("/<path:name>")
def form(name: str) -> Answer:
    """The form for one."""
    return _form(spelt(name))


@blueprint.post("/<path:name>")
def change(name: str) -> Answer:
    """Keep another photograph, or delete the one there is."""
    tree, sent = spelt(name), request.files.get("photograph")
    if request.form.get("out"):
        photographs().remove(tree)
        flash(f"The photograph of {tree} is deleted.")
        return redirect(url_for("look.tree", name=tree), 303)
    try:
        photographs().keep(tree, sent.read() if sent else b"")
    except Fault as fault:
        return _form(tree, str(fault)), BAD_FORM
    flash(f"The photograph of {tree} is kept.")
    return redirect(url_for("look.tree", name=tree), 303)


@blueprint.app_context_processor
def _shared() -> dict[str, object]:
    return {"has_photograph": lambda tree: photographs().of(tree) is not None}


def photographs() -> Photographs:
    """Return the photographs of this garden."""
    return Photographs(deps().settings().store_path)


def _form(tree: str, fault: str = "") -> str:
    if reader_of(request):
        abort(403)
    return render_template("photograph.html", tree=tree, fault=fault, most_kb=MOST_BYTES // 1000)
