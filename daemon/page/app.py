"""The page's one Flask application, made of its parts."""

from __future__ import annotations

import logging

from flask import Flask, Response, render_template
from werkzeug.exceptions import HTTPException

from underbench.daemon.faults import Fault, place_of
from underbench.daemon.page import (
    answer,
    auth,
    do,
    edit,
    limits,
    lists,
    look,
    note_readings,
    parting,
    photograph,
    plans,
    pushes,
    share,
    tune,
)
from underbench.daemon.page.benches import few
from underbench.daemon.page.context import EXTENSION, Deps, clock, close_store, day, now
from underbench.daemon.page.one_tree import EXTENSION as GLANCES
from underbench.daemon.page.one_tree import Glances
from underbench.daemon.page.trials import EXTENSION as TRIALS
from underbench.daemon.page.trials import Trials
from underbench.daemon.wording.units import Units

PARTS = (
    look.blueprint,
    note_readings.blueprint,
    do.blueprint,
    answer.blueprint,
    edit.blueprint,
    share.blueprint,
    tune.blueprint,
    limits.blueprint,
    lists.blueprint,
    parting.blueprint,
    photograph.blueprint,
    plans.blueprint,
    pushes.blueprint,
)
_log = logging.getLogger("underbench")
_PLAIN = {
    403: "You may look here, and change nothing.",
    404: "There is no such page.",
    405: "That cannot be done here.",
    413: "That is too much for one form.",
    421: "This address is not known to the page: add its name to hosts under [page].",
    500: "Something went wrong; the daemon's log says what.",
}


def create_app(deps: Deps) -> Flask:
    """Return the application for one garden; raises StoreError if its database cannot be used."""
    app = Flask(__name__, static_folder="static", template_folder="templates")
    app.extensions[EXTENSION] = deps
    app.extensions[GLANCES] = Glances()
    app.extensions[TRIALS] = Trials()
    app.jinja_env.trim_blocks = app.jinja_env.lstrip_blocks = True
    app.jinja_env.globals.update(
        garden=lambda: deps.settings().garden,
        units=lambda: Units(deps.settings().units),
        few=few,
        now=now,
        has=lambda endpoint: endpoint in app.view_functions,
    )
    app.jinja_env.filters.update(clock=clock, day=day, bare=_bare, capital=_capital)
    with deps.open_store() as store:
        app.secret_key = store.pages.secret(auth.SIGNING_KEY, deps.now())
    auth.guard(app, frozenset(deps.settings().page.names))
    for part in PARTS:
        app.register_blueprint(part)
    app.add_url_rule("/manifest.webmanifest", "manifest", _manifest)
    app.add_url_rule("/worker.js", "worker", lambda: app.send_static_file("worker.js"))
    app.teardown_appcontext(close_store)
    app.register_error_handler(HTTPException, _refused)
    app.register_error_handler(Fault, _fault)
    app.register_error_handler(Exception, _unforeseen)
    return app


def _bare(temperature: str | None) -> str:
    """A temperature as short as a narrow column has it; a dot where none is known."""
    return f"{temperature.partition(' ')[0]}°" if temperature else "·"


def _capital(words: str) -> str:
    """Words with a capital in front; names within stay as they are, as Jinja's own would not."""
    return words[:1].upper() + words[1:]


def _manifest() -> Response:
    return Response(render_template("manifest.json"), mimetype="application/manifest+json")


def _refused(error: HTTPException) -> tuple[str, int]:
    code = error.code or 500
    own = error.description if code in (400, 410) and error.description else ""
    return render_template("error.html", words=_PLAIN.get(code, own or error.name)), code


def _unforeseen(error: Exception) -> tuple[str, int]:
    """Log only the kind and place of an unforeseen error: its text may hold secrets."""
    _log.error("the page failed: %s in %s", type(error).__name__, place_of(error))
    return render_template("error.html", words=_PLAIN[500]), 500


def _fault(fault: Fault) -> tuple[str, int]:
    """Show a fault that the keeper can mend, in the words of the command line."""
    return render_template("error.html", words=str(fault)), 503
