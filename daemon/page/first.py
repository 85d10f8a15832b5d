"""The first garden: its questions on one form, while the garden has no file yet.

Nobody has a password yet, so it takes answers only with a word that stands where the daemon was
started. From the network it also asks for the page's password. Once the file is written, it gives
its place to the page of the garden.
"""

from __future__ import annotations

import hmac
import json
import secrets
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, field, replace
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from threading import Event
from types import SimpleNamespace
from typing import Any
from zoneinfo import available_timezones

from flask import Flask, Response, make_response, render_template, request

from underbench.daemon.config.defaults import SPOT_DEFAULTS
from underbench.daemon.config.file import timezone_named
from underbench.daemon.config.page_table import PageTable
from underbench.daemon.config.settings import Settings, load
from underbench.daemon.delivery.push_services import fault_of
from underbench.daemon.faults import Fault
from underbench.daemon.journal import first_questions as ask
from underbench.daemon.journal.first_garden import (
    NewGarden,
    NewSpot,
    NewTree,
    as_toml,
    keep_address,
    keep_garden,
)
from underbench.daemon.page import auth
from underbench.daemon.page.context import BAD_FORM, with_point
from underbench.daemon.page.edit import Field
from underbench.daemon.page.serve import on_loopback, running, server_of
from underbench.daemon.store.store import Store
from underbench.daemon.weather.gazetteer import Found, NotAnswered, look_up
from underbench.daemon.wording.units import CM_PER_INCH
from underbench.rules.garden.inventory import SpotKind, Surface
from underbench.rules.plants.likeness import LIKENESSES
from underbench.rules.plants.species import catalogue

ROWS, MOST_ROWS = 3, 30  # trees; of shelters there are fewer
NO_ANSWER = "expected an answer"
LIKES = {one.words: one.hardiness for one in LIKENESSES}
# A word that is typed from one screen into another: some 50 bits, nothing that looks like another.
LETTERS, LETTERS_LONG = "abcdefghjkmnpqrstuvwxyz23456789", 10
WORD = "The word that stands where Underbench was started"
NOT_THE_WORD = "That is not it. It is another one each time Underbench is started."
Finder = Callable[[str], list[Found]]


@dataclass(frozen=True, slots=True)
class First:
    """What is asked for: the file to write, where the page is to listen, the word that lets one
    answer, whether a phone must be named, how a place is looked up, how a garden's database is
    opened, and whom to tell once the file is written."""

    path: Path
    listen: str
    word: str
    needs_phone: bool
    open_store: Callable[[Settings], Store]
    written: Callable[[], None] = lambda: None
    finder: Finder = look_up


def new_word() -> str:
    """Return a word that nobody can guess."""
    return "".join(secrets.choice(LETTERS) for _ in range(LETTERS_LONG))


def ask_first(first: First, begun: Callable[[], None]) -> None:
    """Ask on the page until the file is written. ``begun`` is called once it listens. Raises Fault
    if it cannot listen."""
    written = Event()
    app = first_app(replace(first, written=written.set))
    with running(server_of(app, first.listen, PageTable())):
        begun()
        written.wait()


def first_app(first: First) -> Flask:
    """Return the application that asks for a first garden."""
    app = Flask(__name__, static_folder="static", template_folder="templates")
    app.secret_key = secrets.token_bytes(32)
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.jinja_env.globals.update(
        garden=lambda: SimpleNamespace(name="Underbench"),
        csrf_token=auth.csrf_token,
        just_noted=lambda: None,
    )
    auth.keep_sessions(app)
    app.before_request(lambda: auth.check_host(frozenset()))
    app.before_request(_check_form)
    app.after_request(_closing)
    app.add_url_rule("/", "form", lambda: _blank(first))
    app.add_url_rule("/", "write", lambda: _write(first), methods=["POST"])
    return app


def _check_form() -> None:
    if request.method not in auth.SAFE_METHODS:
        auth.check_origin(None)
        auth.check_token()


def _closing(response: Response) -> Response:
    """Send an answer without its length: waitress then ends the connection with it. A connection
    that stays would lead the browser back here after the garden's page has begun."""
    response.direct_passthrough = False
    whole = response.get_data()
    response.headers.pop("Content-Length", None)
    response.response = iter([whole])
    return auth.headers(response)


@dataclass(slots=True)
class Answers:
    """What was typed, what is wrong with it by field, and the places to choose from."""

    typed: Mapping[str, str]
    us: bool
    rows: int
    guarded: bool  # it is reached from the network, and needs a password
    wrong: dict[str, str] = field(default_factory=dict)
    places: list[Found] = field(default_factory=list)

    def text(self, key: str) -> str:
        """Return what was typed into a field."""
        return self.typed.get(key, "").strip()

    def checked(self, key: str, check: Callable[[str], Any], usual: Any = None) -> Any:
        """Return a field's answer, or ``usual`` for an empty one. A wrong one is noted."""
        said = self.text(key)
        if not said and usual is not None:
            return usual
        try:
            if not said:
                raise ValueError(NO_ANSWER)
            return check(said)
        except ValueError as fault:
            self.wrong[key] = str(fault)
            return usual

    def number(self, key: str, unit: str, bounds: tuple[float, float], usual: Any = None) -> Any:
        """Return a field's number likewise."""
        return self.checked(key, lambda said: ask.number(unit, with_point(said), *bounds), usual)


def _blank(first: First) -> str:
    us = request.args.get("units") == "us"
    return _form(Answers({"word": request.args.get("word", "")}, us, ROWS, _guarded(first)))


def _guarded(first: First) -> bool:
    return not on_loopback(first.listen)


def _write(first: First) -> str | Response | tuple[str, int]:
    rows = request.form.get("rows", "")
    answers = Answers(
        request.form,
        request.form.get("units") == "us",
        min(int(rows), MOST_ROWS) if rows.isascii() and rows.isdecimal() else ROWS,
        _guarded(first),
    )
    if not hmac.compare_digest(answers.text("word").encode(), first.word.encode()):
        answers.wrong["word"] = NOT_THE_WORD
        return _form(answers), BAD_FORM
    if request.form.get("more"):
        answers.rows += ROWS
        return _form(answers)
    garden = _garden(answers, first)
    password = answers.checked("password", auth.fit_password) if answers.guarded else ""
    phone = answers.text("phone")
    if fault := NO_ANSWER if not phone and first.needs_phone else phone and fault_of(phone):
        answers.wrong["phone"] = fault
    if answers.wrong:
        return _form(answers), BAD_FORM
    try:
        keep_garden(as_toml(garden), first.path)
        if phone:
            keep_address(phone, first.path)
        if password:
            with first.open_store(load(first.path)) as store:
                auth.set_password(store, password, datetime.now(UTC))
    except Fault as fault:
        lines = str(fault).replace(f"{first.path}:", "The garden's file:").splitlines()
        return _form(answers, lines), BAD_FORM
    page = render_template("first_written.html", name=garden.name, path=first.path)
    answer = make_response(page)
    answer.call_on_close(first.written)
    return answer


def _garden(answers: Answers, first: First) -> NewGarden:
    """The garden as answered; of use only if nothing is wrong."""
    found = _place(answers, first.finder)
    foot = ask.M_PER_FOOT if answers.us else 1.0
    known = None if found.elevation_m is None else round(found.elevation_m / foot)
    height = f"height_{'ft' if answers.us else 'm'}"
    bench = _bench(answers)
    return NewGarden(
        name=answers.checked("name", str, found.name.split(",")[0] or None),
        latitude=found.latitude,
        longitude=found.longitude,
        elevation=answers.number("height", height, ask.heights(answers.us)[1:], known),
        timezone=answers.checked("timezone", timezone_named, found.timezone),
        units="us" if answers.us else "metric",
        spots=_shelters(answers, [bench]),
        trees=_trees(answers, bench.name),
        fleece_layers=int(answers.number("fleece", "", (0, ask.MOST_FLEECE), 1)),
        page=first.listen,
    )


def _place(answers: Answers, finder: Finder) -> Found:
    nowhere, said = Found("", 0, 0, None, None), answers.text("place")
    try:
        found = ask.coordinates(said) or _chosen(answers, said)
        if found is None and said:
            answers.places = finder(said)
            found = answers.places[0] if len(answers.places) == 1 else None
    except (ValueError, NotAnswered) as fault:
        answers.wrong["place"] = f"{fault}".rstrip(".") + ". Latitude, longitude will do."
        return nowhere
    if found is None:
        answers.wrong["place"] = (
            "Say below which of these it is." if answers.places
            else "No such place is known. A town nearby, or latitude, longitude?"
        )  # fmt: skip
    return found or nowhere


def _chosen(answers: Answers, said: str) -> Found | None:
    """The place that was chosen among those of this name."""
    try:
        of, where = json.loads(answers.text("at"))
        found = Found(**where)
    except (ValueError, TypeError):
        return None
    answers.places = [found] if of == said else []
    return found if of == said else None


def _bench(answers: Answers) -> NewSpot:
    kind = answers.text("kind") if answers.text("kind") in ask.OPEN else ask.OPEN[0]
    usual = SPOT_DEFAULTS[SpotKind(kind)]
    unit, cm = ("in", CM_PER_INCH) if answers.us else ("cm", 1.0)
    return NewSpot(
        answers.checked("bench", partial(ask.free_name, taken=()), kind),
        kind,
        answers.checked("sun", ask.sun_hours, ask.USUAL_SUN),
        answers.text("surface") or usual.surface.value,
        answers.number(
            "above", f"height_{unit}", (0, ask.HIGHEST_CM / cm), round(usual.height_cm / cm)
        ),
    )


def _shelters(answers: Answers, spots: list[NewSpot]) -> list[NewSpot]:
    unit, least, most = ask.colds(answers.us)
    for n in range(1, answers.rows):
        kind = answers.text(f"shelter-{n}")
        if kind not in ask.SHELTERS:
            continue
        name = answers.checked(
            f"called-{n}", partial(ask.free_name, taken=[one.name for one in spots]), kind
        )
        room = int(answers.number(f"room-{n}", "", (0, 10_000), ask.USUAL_ROOM))
        cold = answers.text(f"cold-{n}") and answers.number(
            f"cold-{n}", f"cold_{unit[-1].lower()}", (least, most)
        )
        spots = [*spots, NewSpot(name, kind, room=room, keeps_above=cold or None)]
    return spots


def _trees(answers: Answers, spot: str) -> list[NewTree]:
    unit, trees = "gallons" if answers.us else "litres", list[NewTree]()
    for n in range(1, answers.rows + 1):
        if n > 1 and not any(answers.text(f"{key}-{n}") for key in ("tree", "species", "mix")):
            continue
        taken = [one.name for one in trees if one.name]
        name = answers.checked(f"tree-{n}", partial(ask.free_name, taken=taken))
        species = answers.checked(f"species-{n}", str)
        like = LIKES.get(answers.text(f"like-{n}"))
        if species and not ask.in_table(species) and like is None:
            told, near = ask.not_in_table(species)
            mistyped = f" Did you mean {', '.join(near)}?" if near else ""
            answers.wrong[f"species-{n}"] = f"{told}{mistyped} Or say below what it is most like."
        volume = answers.number(f"mix-{n}", unit, (ask.LEAST_L, ask.MOST_L))
        trees.append(NewTree(name, species, volume, spot, like))
    return trees


def _form(answers: Answers, faults: list[str] | None = None) -> str:
    us = answers.us
    said = answers.text("place")
    zones = [(zone, "") for zone in sorted(available_timezones()) if "/" in zone]
    return render_template(
        "first.html",
        form=_asked(answers),
        held=answers.typed,
        wrong=answers.wrong,
        faults=faults or [],
        us=us,
        rows=answers.rows,
        places=[(json.dumps([said, asdict(one)]), _named(one)) for one in answers.places],
        offered={
            "timezone": zones,
            "species": [(name, "") for name in sorted(catalogue().species)],
        },
    )


def _named(one: Found) -> str:
    return f"{one.name} ({one.latitude:.2f}, {one.longitude:.2f})"


def _asked(answers: Answers) -> dict[str, Any]:
    """The fields of the form, part by part."""
    us = answers.us
    height, cold, mix = ask.heights(us)[0], ask.colds(us)[0], "US gallons" if us else "litres"
    surfaces = tuple(one.value for one in Surface)
    password = f"A password for the page, {auth.SHORTEST} characters or more"
    return {
        "asks": [
            Field("word", WORD, needed=True),
            *([Field("password", password, "password", needed=True)] if answers.guarded else []),
        ],
        "place": [
            Field("place", ask.PLACE, needed=True),
            Field("height", f"{ask.HEIGHT}, {height} (empty: as known of the place)", "number"),
            Field("timezone", f"{ask.TIMEZONE} (empty: as known of the place)"),
            Field("name", f"{ask.GARDEN} (empty: as the place is)", "name"),
        ],
        "bench_heading": ask.BENCH,
        "bench": [
            Field("kind", ask.KIND, "choice", ask.OPEN, blank=ask.OPEN[0]),
            Field("bench", f"{ask.NAME} (empty: as its kind)", "name"),
            Field("sun", f"{ask.SUN}, such as {ask.USUAL_SUN}, or none"),
            Field("surface", ask.SURFACE, "choice", surfaces),
            Field("above", f"{ask.ABOVE}, {'inches' if us else 'cm'}", "number"),
        ],
        "shelter_heading": ask.SHELTER,
        "shelters": [
            [
                Field(f"shelter-{n}", ask.KIND, "choice", ask.SHELTERS, blank="none"),
                Field(f"called-{n}", f"{ask.NAME} (empty: as its kind)", "name"),
                Field(f"room-{n}", ask.ROOM, "number"),
                Field(f"cold-{n}", f"{ask.COLDEST}, {cold}, if it is kept warm", "number"),
            ]
            for n in range(1, answers.rows)
        ],
        "means": [Field("fleece", f"{ask.FLEECE}, 0 to {ask.MOST_FLEECE}", "number")],
        "trees": [
            [
                Field(f"tree-{n}", "Name", "name"),
                Field(f"species-{n}", ask.SPECIES),
                Field(f"mix-{n}", f"{ask.MIX}, {mix}", "number"),
                *(
                    [Field(f"like-{n}", ask.LIKE, "choice", tuple(LIKES), blank="it is mistyped")]
                    if f"species-{n}" in answers.wrong or answers.text(f"like-{n}")
                    else []
                ),
            ]
            for n in range(1, answers.rows + 1)
        ],
        "phone": [Field("phone", ask.PHONE)],
    }
