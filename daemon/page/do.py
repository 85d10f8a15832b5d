"""Doing: the keeper notes at the bench what was done and seen, and takes notes back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import datetime

from flask import Blueprint, abort, flash, redirect, render_template, request, session, url_for
from werkzeug.datastructures import MultiDict
from werkzeug.wrappers import Response

from underbench.daemon.faults import Fault
from underbench.daemon.journal import works
from underbench.daemon.journal.mark_done import NOTHING, note_handled
from underbench.daemon.journal.noting import (
    moment_on,
    note_move,
    note_stage,
    note_watering,
    trees_named,
)
from underbench.daemon.journal.outcomes import note_outcome
from underbench.daemon.journal.undo import undo, undone_text
from underbench.daemon.journal.works import Told
from underbench.daemon.outlook.garden_now import journal_at, species_of
from underbench.daemon.page.auth import inside, reader_of
from underbench.daemon.page.carry import Load, job_of
from underbench.daemon.page.context import (
    BAD_FORM,
    as_noted,
    local,
    now,
    on_a_page,
    settings,
    store,
    was_kept,
    with_point,
)
from underbench.daemon.page.edit import plainly
from underbench.daemon.page.last_pass import back_in_ahead
from underbench.daemon.page.look import open_jobs
from underbench.daemon.store.episodes import key_of
from underbench.daemon.wording.units import LITRES_PER_GALLON, Units
from underbench.daemon.wording.vocabulary import Teller
from underbench.rules.garden.inventory import ContainerKind, Tree
from underbench.rules.garden.journal import Fate, Film, Flower, Stage, fold
from underbench.rules.garden.works import WorkKind
from underbench.rules.plants.stages import STAGES

NOTHING_TICKED = "Tick what is done. If all of it is, choose all but the ticked, and tick none."
ALREADY = "That is noted already."
LONGEST_KEY = 60  # characters of the key by which a form sent twice counts once
LONGEST_SAID = 900  # characters; the answer travels in a cookie, which holds 4,096 bytes
MOST_LITRES = 5000.0
_FIELDS = {"--film": "Film", "--into": "Container", "--litres": "litres", "--as": "New name"}

blueprint = Blueprint("do", __name__, url_prefix="/do")
Answer = str | Response | tuple[str, int]


@blueprint.before_request
def _keeper_only() -> None:
    if reader_of(request) and request.endpoint != "do.handled":
        abort(403)
    as_noted()


@blueprint.app_context_processor
def _just_noted() -> dict[str, Callable[[], int | None]]:
    """For the bar that takes back the note of a moment ago. It shows once."""
    return {"just_noted": lambda: session.pop("noted", None)}


@blueprint.get("/")
def many() -> Answer:
    """Everything that can be noted of the ticked trees. If none is ticked, all are offered."""
    return _form(request.args)


@blueprint.get("/tree/<path:name>")
def tree(name: str) -> Answer:
    """Everything that can be noted of one tree."""
    return _form(MultiDict([("tree", name)]))


@blueprint.get("/handled")
def handled() -> Answer:
    """The told jobs still to do; the links in messages lead here."""
    return _jobs()


def _jobs(fault: str = "") -> str:
    teller = Teller(settings().garden.timezone, Units(settings().units))
    jobs = open_jobs()
    left = [(job, job.title(teller, now())) for job in jobs if job.loads]
    done = [one for job in jobs for one in job.done]
    spots = list(settings().spots)
    return render_template("jobs.html", jobs=left, done=done, spots=spots, fault=fault)


@blueprint.post("/handled")
def note_done() -> Answer:
    """Note that a told job is done: for a bench, for the ticked trees, or for all but them."""
    rows = store().episodes.since(now())
    key, ticked = request.form.get("job", ""), request.form.getlist("tree")
    keys = {key_of(row) for row in rows if job_of(row) == key}
    loads = [load for job in open_jobs() if job.key == key for load in job.loads]
    bench = request.form.get("bench")

    def done(load: Load) -> bool:
        if bench:
            return load.bench == bench
        return (load.tree in ticked) is (request.form.get("which") == "ticked")

    def write() -> str:
        names = [load.tree for load in loads if done(load)]
        if loads and not names:
            raise Fault(NOTHING_TICKED)
        return note_handled(store(), settings(), names, now(), only=keys) if names else NOTHING

    return _note(write, _jobs)


@blueprint.post("/watered")
def watered() -> Answer:
    """A watering of trees, or of the moss of layers."""
    moss = bool(request.form.get("moss"))
    return _note(lambda: note_watering(store(), settings(), _trees(), _at(), moss=moss))


@blueprint.post("/moved")
def moved() -> Answer:
    """Trees carried to a spot, or home."""
    spot = request.form.get("spot", "")
    return _note(lambda: note_move(store(), settings(), _trees(), spot, _at()))


@blueprint.post("/seen")
def seen() -> Answer:
    """A stage that was seen."""
    stage = request.form.get("stage", "")
    return _note(lambda: note_stage(store(), settings(), _trees(), stage, _at()))


@blueprint.post("/outcome")
def outcome() -> Answer:
    """How trees came through."""

    def write() -> str:
        words = [*(tree.name for tree in _trees()), request.form.get("fate", "")]
        return note_outcome(store(), settings(), words, request.form.get("night") or None, now())

    return _note(write)


@blueprint.post("/did")
def did() -> Answer:
    """Work on trees, with its details."""

    def write() -> str:
        if not request.form.get("work"):
            raise Fault("Choose the work first.")
        kind = works.work_named(request.form["work"])
        return works.note_work(store(), settings(), _trees(), kind, _at(), _told(request.form))

    return _note(write)


@blueprint.post("/undo")
def take_back() -> Answer:
    """Take back the last note, or the one given by its number if its trees were not noted since."""
    meant = request.form.get("note", type=int)
    try:
        taken = undo(store(), settings(), now(), meant)
    except Fault as fault:  # of a garden's file that was changed since
        flash(" ".join(plainly(fault)))
    else:
        back_in_ahead(store(), taken)
        if meant and taken is None:
            flash("Something else was noted of its trees since: nothing was taken back.")
        else:
            flash(_shortened(undone_text(taken, settings())))
    session.pop("noted", None)
    return redirect(_way_on([]), 303)


def _note(write: Callable[[], str], again: Callable[[str], str] | None = None) -> Answer:
    """Note and go on. A fault is shown above the form (or what ``again`` makes of it), which keeps
    what was typed."""
    before, key = store().notes.last(), request.form.get("once", "")[:LONGEST_KEY]
    try:
        with store().notes.noting(now()):
            new = not key or store().pages.once(key, now())
            said = write() if new else ALREADY
    except Fault as fault:
        told = on_a_page(str(fault), _FIELDS)
        if was_kept():
            return told, BAD_FORM
        return again(told) if again else _form(request.form, told), BAD_FORM
    if was_kept():
        return "", 204
    flash(_shortened(said))
    last = store().notes.last()
    if last is not None and (before is None or last.id != before.id):
        session["noted"] = last.id
    return redirect(_way_on(request.form.getlist("tree")), 303)


def _way_on(names: Sequence[str]) -> str:
    """The way back to where the form was opened, else to its tree."""
    if to := request.form.get("to"):
        return inside(to)
    if request.endpoint == "do.note_done":
        return url_for("do.handled")
    if len(names) == 1:
        return url_for("look.tree", name=names[0])
    return url_for("look.home")


def _form(held: MultiDict[str, str], fault: str = "") -> str:
    names = held.getlist("tree")
    trees = [tree for tree in settings().trees if tree.name in names]
    journal = journal_at(settings(), store(), now())
    standing = [fold(tree, journal, now()) for tree in trees]
    return render_template(
        "do.html",
        fault=fault,
        held=held,
        chosen=[tree.name for tree in trees],
        trees=settings().trees,
        spots=[spot for spot in settings().spots if {at.spot for at in standing} != {spot}],
        away=any(at.cloth or not at.at_home for at in standing),
        layers=any(at.layer for at in standing),
        stages=_stages(trees),
        fates=list(Fate),
        works=list(WorkKind),
        containers=list(ContainerKind),
        films=list(Film),
        us=settings().units == "us",
        today=f"{local(now()):%Y-%m-%d}",
    )


def _stages(trees: Sequence[Tree]) -> list[Stage | Flower]:
    """The stages that all of these trees have, of leaves and then of flowers."""
    limits = [species_of(tree).limits for tree in trees]
    found = [stage for stage in Stage if all(stage in STAGES[one.kind] for one in limits)]
    return [*found, *(Flower if all(one.open_flower for one in limits) else ())]


def _trees() -> list[Tree]:
    names = request.form.getlist("tree")
    if not names:
        raise Fault("Choose a tree first, or several.")
    return trees_named(settings(), names)


def _at() -> datetime:
    return moment_on("Day", request.form.get("day"), settings(), now())


def _told(form: MultiDict[str, str]) -> Told:
    litres = _number(form, "litres", MOST_LITRES)
    if litres is not None and settings().units == "us":
        litres *= LITRES_PER_GALLON
    told = Told(roots_pct=_number(form, "roots", 100.0, least=0.0), litres=litres)
    into, film = form.get("into"), form.get("film")
    if into:
        told = replace(told, into=works.container_named(into))
    if film in list(Film):
        told = replace(told, film=Film(film))
    return replace(told, new_name=form.get("new_name", "").strip() or None)


def _number(form: MultiDict[str, str], name: str, most: float, least: float = 0.1) -> float | None:
    """A typed number, with a comma or a point; None for an empty field."""
    typed = form.get(name, "").strip().removesuffix("%").strip()
    if not typed:
        return None
    typed = with_point(typed)
    try:
        value = float(typed)
    except ValueError:
        value = -1.0
    if not least <= value <= most:
        raise Fault(f"{name.capitalize()} {typed}: expected a number from {least:g} to {most:g}")
    return value


def _shortened(text: str) -> str:
    return text if len(text) <= LONGEST_SAID else text[:LONGEST_SAID].rsplit(" ", 1)[0] + " …"
