"""What is shared: a link for somebody else to look, the stand-in's sheet, the data."""

from __future__ import annotations

from flask import Blueprint, Response, abort, make_response, render_template, request

from underbench.daemon.journal.noting import day_words
from underbench.daemon.journal.undo import note_words
from underbench.daemon.page.auth import let_in, reader_of
from underbench.daemon.page.context import now, settings, store
from underbench.daemon.page.look import ahead, standing
from underbench.daemon.views import export
from underbench.daemon.views.sheet import sheet_of

NOTES_SHOWN = 20
NOT_GOOD = "This link does not work, or no longer works. Ask whoever keeps the garden for another."

blueprint = Blueprint("share", __name__)


@blueprint.get("/come-in/<token>")
def enter(token: str) -> Response | tuple[str, int]:
    """Turn a link's token into a cookie with which one may look and change nothing, and go on.

    After a redirect that began in another app, browsers do not send strict cookies. So this answers
    with a page of ours that goes on by itself.
    """
    guest = store().guests.with_token(token)
    if guest is None:
        return render_template("error.html", words=NOT_GOOD), 404
    answer = make_response(render_template("come_in.html", guest=guest))
    let_in(answer, guest.id)
    return answer


@blueprint.get("/more")
def more() -> str:
    """The sheet, the file, the latest notes, the data."""
    notes = [
        (day_words(note.noted_at, settings()), note_words(note, settings()), note.undone_at)
        for note in store().notes.latest(NOTES_SHOWN)
    ]
    return render_template("more.html", spots=list(settings().spots), notes=notes)


@blueprint.get("/sheet")
def sheet() -> str:
    """One page to print for the person who looks after the garden."""
    stages = {name: tree["stage"] for name, tree in ahead()["trees"].items()}
    made = sheet_of(settings(), standing(), stages, now())
    return render_template("sheet.html", sheet=made, css="")


@blueprint.get("/export.json")
def export_json() -> Response:
    """Everything noted and told, as JSON."""
    if reader_of(request):
        abort(403)
    return Response(
        export.as_json(settings(), store(), now()),
        mimetype="application/json",
        headers={"Content-Disposition": 'attachment; filename="garden.json"'},
    )
