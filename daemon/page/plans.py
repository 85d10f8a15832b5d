"""Looking further: days for works, a work on paper, the winter, what lived, forecasts, species."""

from __future__ import annotations

from datetime import timedelta

from flask import Blueprint, render_template, request

from underbench.daemon.config.group_limits import plain_species
from underbench.daemon.faults import Fault
from underbench.daemon.journal import works
from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.outlook.past_years import usual_of
from underbench.daemon.page import pictures
from underbench.daemon.page.context import (
    BAD_FORM,
    now,
    on_a_page,
    settings,
    spelt,
    store,
    with_point,
)
from underbench.daemon.page.one_tree import glance_at, whole_garden
from underbench.daemon.planning import seasons as past
from underbench.daemon.planning.lacking import lacking
from underbench.daemon.planning.whatif import later_day, tried, what_if
from underbench.daemon.planning.whatif_text import WhatIfView
from underbench.daemon.planning.windows import Planner
from underbench.daemon.planning.windows_text import NO_GOOD_DAY, WindowsView
from underbench.daemon.planning.winter import winters
from underbench.daemon.planning.winter_text import NO_TREES, WinterView, cold_words
from underbench.daemon.readings.skill import likely, skill_of, skill_parts
from underbench.daemon.views import species as known
from underbench.daemon.wording.tables import Columns
from underbench.daemon.wording.units import Units
from underbench.rules.garden.works import WorkKind
from underbench.rules.planning.winter import WINTER_DAYS, winter_of
from underbench.rules.planning.work_season import Suit
from underbench.rules.planning.work_windows import PLANNED, USUAL_WORKS
from underbench.rules.plants.species import catalogue

NIGHTS = 30
FREEZING_C = 0.0
SUITS = {Suit.GOOD: ("g", "good"), Suit.POOR: ("p", "poor"), Suit.NO: ("x", "leave it")}

blueprint = Blueprint("plans", __name__)
Answer = str | tuple[str, int]


@blueprint.get("/plan/windows")
def windows() -> Answer:
    """Which coming days suit the usual works, on all trees."""
    outlook = whole_garden()
    return _windows(outlook, list(range(len(outlook.settings.trees))), "")


@blueprint.get("/plan/windows/<path:name>")
def windows_of(name: str) -> Answer:
    """Which coming days suit each work on one tree."""
    glance = glance_at(spelt(name))
    return _windows(glance.outlook, [glance.row], spelt(name))


def _windows(outlook: Outlook, rows: list[int], tree: str) -> Answer:
    planner = Planner(outlook, usual_of(store(), outlook.settings.garden))
    found = list(planner.windows(PLANNED if tree else USUAL_WORKS, rows))
    view = WindowsView(planner, found, whole=bool(tree))
    return render_template("windows.html", tree=tree, view=view, suits=SUITS, none=NO_GOOD_DAY)


@blueprint.get("/plan/whatif/<path:name>")
def whatif(name: str) -> Answer:
    """A work on a tree, tried on paper; the form alone until one is chosen."""
    tree = spelt(name)
    held = {key: request.args.get(key, "").strip() for key in ("work", "roots", "day")}
    page = {"tree": tree, "held": held, "works": [kind for kind in WorkKind if kind.does.changes]}
    if not held["work"]:
        return render_template("whatif.html", **page, view=None)
    try:
        return render_template("whatif.html", **page, view=_tried(tree, held))
    except Fault as fault:
        words = on_a_page(str(fault), {"--on": "Day"})
        return render_template("whatif.html", **page, view=None, fault=words), BAD_FORM


def _tried(tree: str, held: dict[str, str]) -> WhatIfView:
    kind = tried(works.work_named(held["work"]))
    garden, glance = settings().garden, glance_at(tree)
    day = later_day(held["day"], now(), garden.timezone) if held["day"] else None
    if glance.outlook.standing[glance.row].lost:
        raise Fault(f"{tree} is noted as lost")
    planner = Planner(glance.outlook, usual_of(store(), garden))
    return WhatIfView(what_if(planner, glance.row, kind, _roots(held["roots"]), day))


def _roots(typed: str) -> float | None:
    """A typed share of roots, %; None if nothing was typed. Raises Fault."""
    if not typed:
        return None
    try:
        share = float(with_point(typed.removesuffix("%").strip()))
    except ValueError:
        share = -1.0
    if not 0 <= share <= 100:
        raise Fault(f"Roots {typed}: expected a number from 0 to 100")
    return share


@blueprint.get("/plan/winter")
def winter() -> Answer:
    """What the winter asks for, tree by tree."""
    outlook = whole_garden()
    found, today = winters(outlook, store()), outlook.today
    view = WinterView(outlook, found, lacking(outlook, store()))
    begins = winter_of(today, outlook.settings.garden.latitude)
    drawn = [
        pictures.winter((one.cold.first, one.cold.last), today, begins, cold_words(one.cold))
        for one in found
    ]
    heads, rows = view.columns()
    table = Columns(("tree", "do", *heads[2:]), [(row[1], row[0], *row[2:]) for row in rows])
    page = {"view": view, "table": table, "drawn": drawn, "none": NO_TREES}
    ends = begins + timedelta(days=WINTER_DAYS - 1)
    return render_template("winter.html", **page, span=f"{begins:%B} to {ends:%B}")


@blueprint.get("/plan/seasons")
def seasons() -> Answer:
    """Which trees lived, after which works."""
    groups = past.seasons(settings(), store(), now())
    drawn = [
        pictures.share(one.lived, one.judged, past.likely(one), f"{one.lived} of {one.judged}")
        for one in groups
    ]
    return render_template(
        "seasons.html",
        table=past.columns(groups),
        drawn=drawn,
        notes=past.counted_so(Units(settings().units)) if groups else [f"{past.NOTHING}."],
        lineage=past.lineage(past.made_of(settings().trees)),
    )


@blueprint.get("/plan/skill")
def skill() -> Answer:
    """How well the last nights were forecast."""
    found, units = skill_of(settings(), store(), now(), NIGHTS), Units(settings().units)
    points = [
        (*likely(one.foreseen), one.foreseen.corrected_c, one.observed_c) for one in found.nights
    ]
    words = f"The last {len(points)} nights as foreseen and as measured; the table says the same."
    level = [(FREEZING_C, units.temp_whole(FREEZING_C))]
    drawn = pictures.nights(points, level, words) if points else ""
    return render_template(
        "skill.html", parts=skill_parts(found, " and note it under More."), drawn=drawn
    )


@blueprint.get("/species")
def species() -> Answer:
    """The species there are, those of the garden first; or the one that was asked for."""
    if asked := request.args.get("name", "").strip():
        return _species(asked)
    kinds = sorted({plain_species(tree.species) for tree in settings().trees})
    return render_template("species_list.html", kinds=kinds, every=sorted(catalogue().species))


def _species(name: str) -> Answer:
    try:
        one = known.meant(name)
    except Fault as fault:
        page = {"kinds": [], "every": sorted(catalogue().species), "fault": str(fault)}
        return render_template("species_list.html", **page, asked=name), BAD_FORM
    facts = known.facts_of(one, Units(settings().units))
    drawn = {
        words: pictures.bears(harm_c, kill_c, f"harm and death, {words}")
        for words, harm_c, kill_c in known.temperatures(one)
    }
    return render_template(
        "species.html", one=one, facts=facts, drawn=drawn, own=known.OWN, northern=known.NORTHERN
    )
