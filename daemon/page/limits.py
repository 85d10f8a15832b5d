"""Limits of the keeper's own, of a tree, a spot or a species, and what other values would bring."""

from __future__ import annotations

from contextlib import suppress

from flask import Blueprint, Response, abort, flash, redirect, render_template, request, url_for

from underbench.daemon.config.group_limits import plain_species
from underbench.daemon.config.limits_table import LimitsTable
from underbench.daemon.config.tomlfile import Key
from underbench.daemon.faults import Fault
from underbench.daemon.journal import garden_edit
from underbench.daemon.page.auth import keeper_only
from underbench.daemon.page.context import deps
from underbench.daemon.page.edit import Answer, Field, Form, show_table, write_table
from underbench.daemon.page.one_tree import glance_at
from underbench.daemon.page.trials import begin, begun_at, kept_trials, why_failed
from underbench.daemon.rehearsal.tune import value_today
from underbench.daemon.rehearsal.tuned_names import Meant, meant_by
from underbench.daemon.rehearsal.tuning_report import MADE_OF, said_value, tuning_svg

blueprint = Blueprint("limits", __name__, url_prefix="/tune/limits")

LIMITS = {
    "leaf_frost_c": "Open leaves or shoots are harmed from",
    "bud_frost_c": "Swelling buds are harmed from",
    "hardened_frost_c": "Ripe evergreen leaves are harmed from",
    "dormant_tops_c": "Dormant wood and buds are harmed from",
    "root_frost_c": "The root ball's edge is harmed by frost from",
    "air_min_c": "It wants air no colder than",
    "leaf_hot_c": "Leaves are harmed by heat from",
    "root_hot_c": "The root ball's edge is harmed by heat from",
    "gust_ms": "Gusts harm it from",
}
CHANCES = (
    Field("act_from", "Chance of harm from which to act, such as 0.3", "number"),
    Field("kill_from", "Chance of losing a tree from which to act", "number"),
    Field("flowers_from", "Chance of losing flowers from which to act", "number"),
)
NOTES = {
    "tree": "Your own limits count before those of species and class.",
    "spot": "They hold for all trees that belong here, before those of their species.",
    "species": "They hold for all trees of this species that have none of their own.",
}
SHIFTED = (
    " Stages and works still shift them. Death stays where it was; if yours is hardier, it moves as"
    " far."
)


blueprint.before_request(keeper_only)


@blueprint.get("/")
def groups() -> str:
    """The spots and species that may have limits of their own."""
    settings = deps().settings()
    used = {tree.spot for tree in settings.trees}
    kinds = sorted({plain_species(tree.species) for tree in settings.trees})
    spots = [spot for spot in settings.spots if spot in used]
    return render_template("groups.html", spots=spots, kinds=kinds)


@blueprint.get("/<path:name>")
def limits(name: str) -> Answer:
    """The form of the limits of a tree, a spot or a species, and what was tried of them."""
    meant = _meant(name)
    form = _form(meant)
    if meant.of == "tree":
        with suppress(Fault):  # without weather nothing is judged
            form = form._replace(bears=glance_at(meant.name).limits)
    return show_table(_key(meant), form)


@blueprint.post("/<path:name>")
def change_limits(name: str) -> Answer:
    """Write them, or try other values of one if that button was pressed."""
    meant = _meant(name)
    if request.form.get("try"):
        return _try(meant)
    to = url_for("look.tree", name=name) if meant.of == "tree" else url_for("limits.groups")
    return write_table(_key(meant), _form(meant), f"The limits of {meant.name} are changed.", to)


def _try(meant: Meant) -> Answer:
    limit = request.form.get("limit", "")
    if limit and limit not in LIMITS:
        abort(404)
    begin(meant.name, limit)
    flash(f"Other values for {meant.name} are being tried in the last two winters.")
    return redirect(url_for("limits.limits", name=meant.name) + "#tried", 303)


@blueprint.get("/chart/<limit>/<path:name>.svg")
def chart(limit: str, name: str) -> Response:
    """What was tried of a limit, as bars."""
    for trial in kept_trials(_meant(name).name):
        if trial.tuning.limit == limit:
            drawn = tuning_svg(trial.tuning, deps().settings().units)
            answer = Response(drawn, mimetype="image/svg+xml")
            policy = "default-src 'none'; style-src 'unsafe-inline'"
            answer.headers["Content-Security-Policy"] = policy
            return answer
    return abort(404)


def _meant(name: str) -> Meant:
    try:
        return meant_by(deps().settings(), name)
    except Fault:
        return abort(404)


def _key(meant: Meant) -> Key:
    """Where the file has the limits. A species may stand there under another of its names."""
    if meant.of == "tree":
        return (*garden_edit.place_of(deps().config, "tree", meant.name), "limits")
    name = meant.name
    if meant.of == "species":
        held = garden_edit.written_at(deps().config, ("limits", "species"))
        alike = (one for one in held if plain_species(one).casefold() == name.casefold())
        name = next(alike, name)
    return ("limits", meant.of, name)


def _form(meant: Meant) -> Form:
    us = deps().settings().units == "us"
    written = dict(LimitsTable.alternatives)
    today = {key: said for key in LIMITS if (said := _today(meant, key))}
    fields = [
        Field(
            written[key] if us else key,
            f"{words} ({f'now {today[key]}' if key in today else _unit(key, us)})",
            "number",
        )
        for key, words in LIMITS.items()
    ]
    return Form(
        f"Limits of {meant.name}",
        url_for("limits.limits", name=meant.name),
        [*fields, *(CHANCES if meant.of == "species" else ())],
        note=NOTES[meant.of] + SHIFTED,
        template="limits.html",
        more={
            "name": meant.name,
            "limits": [(key, LIMITS[key]) for key in today],
            "words": LIMITS,
            "trials": kept_trials(meant.name),
            "begun": begun_at(meant.name),
            "failed": why_failed(meant.name),
            "made_of": MADE_OF,
        },
    )


def _today(meant: Meant, limit: str) -> str:
    """The value of a limit that holds now for most of the trees; empty if none does."""
    settings = deps().settings()
    try:
        return said_value(limit, value_today(settings, meant, limit), settings.units)
    except Fault:
        return ""


def _unit(key: str, us: bool) -> str:
    if key == "gust_ms":
        return "mph" if us else "m/s"
    return "°F" if us else "°C"
