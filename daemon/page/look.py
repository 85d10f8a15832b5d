"""Looking: tonight and the next days, one tree, all trees, what was told."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from flask import Blueprint, Response, abort, g, render_template, request
from markupsafe import Markup

from underbench.daemon.faults import Fault
from underbench.daemon.journal.expecting import expected_now
from underbench.daemon.outlook.garden_now import journal_at, species_of
from underbench.daemon.page.after_works import due_after_works
from underbench.daemon.page.benches import Shown, benches, day_names, shown_trees, tables
from underbench.daemon.page.carry import Carry, carries
from underbench.daemon.page.context import deps, now, settings, store
from underbench.daemon.page.last_pass import kept_ahead
from underbench.daemon.page.night import PATTERNS, axis, harm_words, night_of, strip
from underbench.daemon.page.one_tree import glance_at
from underbench.daemon.page.open_works import noted, open_parts
from underbench.daemon.page.tree_years import years_behind
from underbench.daemon.views.plan_table import KEY
from underbench.daemon.views.told import ToldView
from underbench.daemon.wording.units import Units
from underbench.daemon.wording.vocabulary import Teller
from underbench.rules.garden.journal import TreeAt, fold

TOLD_FOR = timedelta(days=14)
NOTES_LOOKED_AT = 60  # for what was done lately
STALE_AFTER = timedelta(hours=3)  # a pass is due each hour
BLANK: dict[str, Any] = {"days": [], "trees": {}, "spots": {}, "air": []}

blueprint = Blueprint("look", __name__)


def ahead() -> dict[str, Any]:
    """Return what the last pass left, read once for each request; blank before the first pass."""
    if "ahead" not in g:
        kept = kept_ahead(store())
        g.ahead = BLANK if kept is None else kept | _ages(kept)
    found: dict[str, Any] = g.ahead
    return found


def _ages(kept: dict[str, Any]) -> dict[str, Any]:
    at, fetched = (datetime.fromisoformat(kept[name]) for name in ("at", "forecast_at"))
    age_h = max(0, round((now() - fetched) / timedelta(hours=1)))
    return {"at": at, "forecast_at": fetched, "age_h": age_h, "stale": now() - at > STALE_AFTER}


def standing() -> list[TreeAt]:
    """Return every tree as it stands now."""
    journal = journal_at(settings(), store(), now())
    return [fold(tree, journal, now()) for tree in settings().trees]


@blueprint.app_context_processor
def _shared() -> dict[str, Callable[[], dict[str, Any]]]:
    return {"ahead": ahead}


@blueprint.get("/")
def home() -> str:
    """What to do in a line, the night as a picture, and the trees by day."""
    trees, garden = shown_trees(standing(), ahead()), settings().garden
    found, units = list(benches(settings(), trees, ahead())), Units(settings().units)
    jobs = [job for job in open_jobs() if job.loads]
    do_by = min((job.do_by for job in jobs if not job.stays), default=None)
    night = night_of(garden, now(), do_by, [tree.hours for tree in trees])
    zone = ZoneInfo(garden.timezone)
    hours = {bench.name: [tree.hours for tree in bench.trees] for bench in found}
    return render_template(
        "home.html",
        jobs=[(job, job.title(Teller(garden.timezone, units), now())) for job in jobs],
        after_works=due_after_works(ahead(), journal_at(settings(), store(), now())),
        benches=found,
        tables=tables(found),
        night=night,
        patterns=Markup(PATTERNS),
        axis=Markup(axis(night, garden, units)),
        strips={name: Markup(strip(night, own)) for name, own in hours.items()},
        words={name: harm_words(night, own, zone, units) for name, own in hours.items()},
        days=_days(),
        weekdays=_weekdays(),
    )


def open_jobs() -> list[Carry]:
    """Return the told jobs, those still to do in front."""
    rows, notes = store().episodes.since(now()), store().notes.latest(NOTES_LOOKED_AT)
    return carries(rows, standing(), settings(), now(), notes, ahead().get("about", ()))


@blueprint.get("/bench/<path:name>")
def bench(name: str) -> str:
    """One bench: its trees, and what comes to them."""
    found = benches(settings(), shown_trees(standing(), ahead()), ahead())
    one = next((one for one in found if one.name == name), None)
    return render_template(
        "bench.html", bench=one or abort(404), days=_days(), weekdays=_weekdays()
    )


@blueprint.get("/trees")
def trees() -> str:
    """All trees, or those that four filters leave."""
    every = shown_trees(standing(), ahead())
    reads: dict[str, Callable[[Shown], str]] = {
        "spot": lambda one: one.at.spot,
        "species": lambda one: one.at.tree.species,
        "work": lambda one: one.open_work,
        "stage": lambda one: one.stage,
    }
    chosen = {name: request.args.get(name, "") for name in reads}
    found = [
        one
        for one in every
        if all(not chosen[n] or read(one) == chosen[n] for n, read in reads.items())
    ]
    choices = {n: sorted({read(one) for one in every} - {""}) for n, read in reads.items()}
    return render_template(
        "trees.html",
        trees=found,
        number=len(every),
        chosen=chosen,
        choices=choices,
        days=_days(),
    )


@blueprint.get("/tree/<path:name>")
def tree(name: str) -> str:
    """One tree: what it will feel, what it can bear, its works, and why."""
    at = _standing(name)
    try:
        glance, trouble = glance_at(at.tree.name), ""
    except Fault as fault:
        glance, trouble = None, str(fault)
    (shown,) = shown_trees([at.model_copy(update={"lost": False})], ahead())
    journal, garden = journal_at(settings(), store(), now()), settings().garden
    return render_template(
        "tree.html",
        at=at,
        shown=shown,
        glance=glance,
        years=years_behind(journal, at.tree.name, store().hours.days(), garden.latitude),
        trouble=trouble,
        parts=list(open_parts(glance, settings())) if glance else [],
        expected=expected_now(at.works, species_of(at.tree).limits.kind, settings(), now()),
        noted=noted(journal, at.tree.name),
        plan_key=KEY,
        days=_days(),
    )


@blueprint.get("/chart/<path:name>.svg")
def chart(name: str) -> Response:
    """The chart of one tree's next two days, drawn like the pictures of messages."""
    drawn = glance_at(_standing(name).tree.name).chart
    answer = Response(drawn, mimetype="image/svg+xml")
    answer.headers["Content-Security-Policy"] = "default-src 'none'; style-src 'unsafe-inline'"
    return answer


@blueprint.get("/told")
def told() -> str:
    """The messages of two weeks, and whether they arrived."""
    records = store().messages.records(now() - TOLD_FOR)
    garden = settings().garden
    services, units = deps().services(deps().settings()), Units(settings().units)
    view = ToldView(records, services, garden.timezone, units, now())
    return render_template("told.html", items=view.items())


def _days() -> list[str]:
    zone = ZoneInfo(settings().garden.timezone)
    return day_names(ahead(), now().astimezone(zone).hour)


def _weekdays() -> list[str]:
    return [f"{date.fromisoformat(day):%a}" for day in ahead()["days"]]


def _standing(name: str) -> TreeAt:
    for at in standing():
        if at.tree.name.casefold() == name.casefold():
            return at
    return abort(404)
