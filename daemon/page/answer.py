"""Answering one message from the phone, by the link in it: done, done but for some, not tonight."""

from __future__ import annotations

from collections.abc import Sequence

from flask import Blueprint, abort, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from underbench.daemon.delivery.answer_links import ANSWER_KEY, is_signed, message_of, signed
from underbench.daemon.faults import Fault
from underbench.daemon.journal.mark_done import no_reminder_tonight, note_handled
from underbench.daemon.journal.noting import still_to_do
from underbench.daemon.journal.undo import note_words, undo
from underbench.daemon.page.context import BAD_FORM, now, settings, store
from underbench.daemon.store.episodes import EpisodeRow, key_of
from underbench.daemon.store.message_queue import Message
from underbench.daemon.store.undo_log import Note

GONE = (
    "This link is too old, or was not copied whole. Note what you did on the page, or with "
    "underbench handled."
)
TICK_SOMETHING = "Tick what is done. If none of it is, choose Not tonight."
OTHERS_SINCE = "Something else was noted since: nothing was taken back."

blueprint = Blueprint("answer", __name__, url_prefix="/a")
Answer = str | Response | tuple[str, int]


@blueprint.get("/<token>")
def ask(token: str) -> Answer:
    """The jobs of one message that are still to do. Looking changes nothing: programs look too."""
    return _page(token, _message(token))


@blueprint.post("/<token>")
def give(token: str) -> Answer:
    """Note the answer, and go on to where it can be taken back."""
    # A button under a message on the phone has its answer in the address.
    message, wanted = _message(token), request.values.get("answer", "")
    if wanted == "undo":
        return _take_back(token, message)
    rows = _open(message)
    trees = list(dict.fromkeys(row.tree for row in rows))
    done = [tree for tree in trees if wanted == "all" or tree in request.form.getlist("tree")]
    before = store().notes.last()
    try:
        with store().notes.noting(now()):
            if wanted == "not tonight":
                no_reminder_tonight(store(), settings(), rows, now())
            else:
                _note_done(done, rows)
    except Fault as fault:
        return _page(token, message, str(fault)), BAD_FORM
    last = store().notes.last()
    if last is None or (before is not None and last.id == before.id):
        return redirect(url_for("answer.ask", token=token), 303)
    return redirect(url_for("answer.ask", token=token, n=last.id, s=_mark(message, last.id)), 303)


def _note_done(trees: Sequence[str], rows: Sequence[EpisodeRow]) -> None:
    if not trees:
        raise Fault(TICK_SOMETHING)
    note_handled(store(), settings(), trees, now(), only={key_of(row) for row in rows})


def _take_back(token: str, message: Message) -> Answer:
    note, last = _answered(message), store().notes.last()
    if note is None or last is None or last.id != note.id:
        return _page(token, message, OTHERS_SINCE), BAD_FORM
    undo(store(), settings(), now())
    return redirect(url_for("answer.ask", token=token), 303)


def _message(token: str) -> Message:
    message = message_of(store(), token, now())
    return abort(410, GONE) if message is None else message


def _open(message: Message) -> list[EpisodeRow]:
    zone, told = settings().garden.timezone, set(message.tells.episodes)
    rows = store().episodes.since(now())
    return [row for row in rows if key_of(row) in told and still_to_do(row, now(), zone)]


def _answered(message: Message) -> Note | None:
    """The note that was just made with this link, if it can still be taken back."""
    number, mark = request.values.get("n", ""), request.values.get("s", "")
    if not number.isdecimal() or not is_signed(_key(), _undoing(message, number), mark):
        return None
    notes = (note for note in store().notes.latest() if str(note.id) == number)
    return next((note for note in notes if note.undone_at is None), None)


def _mark(message: Message, number: int) -> str:
    return signed(_key(), _undoing(message, str(number)))


def _undoing(message: Message, number: str) -> str:
    return f"undo {message.key} {number}"


def _key() -> str:
    return store().pages.secret(ANSWER_KEY, now())


def _page(token: str, message: Message, fault: str = "") -> str:
    note = _answered(message)
    return render_template(
        "answer.html",
        token=token,
        title=message.title,
        trees=list(dict.fromkeys(row.tree for row in _open(message))),
        fault=fault,
        made=note,
        mark=_mark(message, note.id) if note else "",
        noted=note_words(note, settings()) if note else "",
    )
