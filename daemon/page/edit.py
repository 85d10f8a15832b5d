"""The part of the page that adds or changes a tree or a spot in the garden's file."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from enum import StrEnum
from typing import Any, NamedTuple

from flask import Blueprint, abort, flash, redirect, render_template, request, url_for
from werkzeug.wrappers import Response

from underbench.daemon.config.tomlfile import Key
from underbench.daemon.faults import Fault
from underbench.daemon.journal import garden_edit
from underbench.daemon.journal.garden_edit import Refused, Section
from underbench.daemon.page.auth import keeper_only
from underbench.daemon.page.context import BAD_FORM, deps, settings, with_point
from underbench.daemon.views.feels import LimitRow
from underbench.rules.garden.inventory import (
    Colour,
    ContainerKind,
    Overhead,
    Shape,
    SpotKind,
    Standing,
    Surface,
    Wall,
)
from underbench.rules.plants.likeness import LIKENESSES
from underbench.rules.plants.species import catalogue

blueprint = Blueprint("edit", __name__, url_prefix="/edit")
Answer = str | Response | tuple[str, int]


class Field(NamedTuple):
    """One key of a table: its name on the page, and what may be entered."""

    key: str
    label: str
    kind: str = "text"  # or name, number, tick, truth, choice, list, password
    choices: tuple[str, ...] = ()
    needed: bool = False
    blank: str = "as is usual"  # what no choice means


NAME = Field("name", "Name", "name", needed=True)


def _choice(key: str, label: str, of: type[StrEnum], needed: bool = False) -> Field:
    return Field(key, label, "choice", tuple(of), needed)


_TREE_METRIC = (
    Field("litres", "Mix in the pot, litres", "number"),
    Field("height_cm", "Height of the tree, cm", "number"),
    Field("crown_cm", "Width of the crown, cm", "number"),
)
_TREE_US = (
    Field("gallons", "Mix in the pot, US gallons", "number"),
    Field("height_in", "Height of the tree, inches", "number"),
    Field("crown_in", "Width of the crown, inches", "number"),
)
_SPOT_METRIC = (
    Field("keeps_above_c", "Never colder inside than, °C", "number"),
    Field("height_cm", "Height of the board above the ground, cm", "number"),
    Field("max_litres", "Largest pot it takes, litres", "number"),
)
_SPOT_US = (
    Field("keeps_above_f", "Never colder inside than, °F", "number"),
    Field("height_in", "Height of the board above the ground, inches", "number"),
    Field("max_gallons", "Largest pot it takes, US gallons", "number"),
)


def _tree_fields() -> list[Field]:
    return [
        Field("species", "Species", needed=True),
        Field("cultivar", "Cultivar"),
        Field("spot", "Where it belongs", "choice", tuple(deps().settings().spots), True),
        *(_TREE_US if _us() else _TREE_METRIC),
        _choice("container", "Container", ContainerKind),
        _choice("wall", "Made of", Wall),
        _choice("colour", "Colour of the wall", Colour),
        _choice("shape", "Shape", Shape),
        Field("tied", "Tied in", "tick"),
        Field("hardiness", "Of a species not known: most like which? Or its zone or rating"),
    ]


def _spot_fields() -> list[Field]:
    return [
        _choice("kind", "Kind", SpotKind, True),
        Field("sun", "Sun, such as 08:30-14:00, or none"),
        Field("sky_view", "Share of open sky, 0 to 1", "number"),
        Field("wind_factor", "Share of the open field's wind, 0 to 1", "number"),
        _choice("overhead", "Overhead", Overhead),
        _choice("standing", "Under the pot", Standing),
        _choice("surface", "Ground about it", Surface),
        *(_SPOT_US if _us() else _SPOT_METRIC),
        Field("room", "Room as a shelter, trees", "number"),
        Field("dark", "No light for leaves", "tick"),
    ]


def _us() -> bool:
    return deps().settings().units == "us"


blueprint.before_request(keeper_only)


@blueprint.get("/<any(tree, spot):section>/")
def adding(section: Section) -> Answer:
    """A blank form."""
    return _form(section, "", {}, garden_edit.seen(deps().config))


@blueprint.get("/<any(tree, spot):section>/<path:name>")
def changing(section: Section, name: str) -> Answer:
    """The form of a tree or spot, as the file has it."""
    as_seen = garden_edit.seen(deps().config)
    if made := _made_by_work(section, name):
        return _form(section, "", made, as_seen)
    try:
        held = garden_edit.written(deps().config, section, name)
    except Fault:
        abort(404)
    return _form(section, str(held["name"]), held, as_seen)


def _made_by_work(section: Section, name: str) -> Mapping[str, Any] | None:
    """What is guessed about a tree that a work made and the file does not have."""
    if section != "tree" or any(tree.name == name for tree in deps().settings().trees):
        return None
    made = next((tree for tree in settings().trees if tree.name == name), None)
    if made is None:
        return None
    held = {"name": name, "species": made.species, "cultivar": made.cultivar, "spot": made.spot}
    return held if _us() else held | {"litres": made.container.litres}


@blueprint.post("/<any(tree, spot):section>/")
def add(section: Section) -> Answer:
    """Add the tree or spot, if the file then loads."""
    name = request.form.get("name", "").strip()
    return _write(section, "", name)


@blueprint.post("/<any(tree, spot):section>/<path:name>")
def change(section: Section, name: str) -> Answer:
    """Change the tree or spot, if the file then loads."""
    return _write(section, name, name)


def _write(section: Section, was: str, name: str) -> Answer:
    path, as_seen = deps().config, request.form.get("seen", "")
    typed: dict[str, Any] = {"name": name, **typed_into(_fields(section))}
    try:
        if was:
            garden_edit.change(path, section, was, {**typed, "name": was}, as_seen)
        else:
            typed = {key: value for key, value in typed.items() if value is not None}
            garden_edit.add(path, section, typed, as_seen)
    except Refused as refused:
        rest = [] if refused.by_field else plainly(refused)
        return _form(section, was, typed, as_seen, rest, refused.by_field), BAD_FORM
    except Fault as fault:
        return _form(section, was, typed, as_seen, plainly(fault)), BAD_FORM
    flash(f"{name} is {'changed' if was else 'added'} in the garden's file.")
    if section == "tree":
        return redirect(url_for("look.tree", name=name), 303)
    return redirect(url_for("edit.changing", section="spot", name=name), 303)


def plainly(fault: Fault) -> list[str]:
    """Return a fault's lines without the path of the file, which tells a phone nothing."""
    path = f"{deps().config}:"
    return [line.replace(path, "The garden's file:") for line in str(fault).splitlines()]


def _value(field: Field, typed: str) -> Any:
    """What the file will hold. None takes the key out. Text that is no number stays as typed."""
    typed = typed.strip()
    if field.kind == "tick":
        return True if typed else None
    if field.kind == "truth":
        return {"yes": True, "no": False}.get(typed)
    if field.kind == "list":
        return [part.strip() for part in typed.split(",") if part.strip()] or None
    if field.kind != "number" or not typed:
        return typed or None
    plain = with_point(typed)
    try:
        return int(plain) if plain.removeprefix("-").isdecimal() else float(plain)
    except ValueError:
        return typed


def _fields(section: Section) -> list[Field]:
    return _tree_fields() if section == "tree" else _spot_fields()


def _form(
    section: Section,
    name: str,
    held: Mapping[str, Any],
    as_seen: str,
    faults: list[str] | None = None,
    by_field: Mapping[str, str] | None = None,
) -> str:
    to = url_for("edit.change", section=section, name=name) if name else ""
    return show(
        Form(
            name or f"A new {section}",
            to or url_for("edit.add", section=section),
            _fields(section),
            named=not name,
        ),
        held,
        as_seen,
        faults or [],
        by_field or {},
    )


class Form(NamedTuple):
    """A form: what stands above it, where it is sent, its fields, whether it asks for a name."""

    heading: str
    address: str
    fields: Sequence[Field]
    named: bool = False
    note: str = ""
    bears: Sequence[LimitRow] = ()  # as judged today, to see beside the fields
    adds: bool = False  # it makes another entry
    out: bool = False  # its entry may be taken out of the file
    template: str = "edit.html"
    more: Any = None  # what its template shows besides


def show(
    form: Form,
    held: Mapping[str, Any],
    as_seen: str,
    faults: Sequence[str] = (),
    by_field: Mapping[str, str] | None = None,
) -> str:
    """Return a form with what the file holds, or what was typed and why it was refused."""
    # What a field may hold that takes any words: each value, and what is said of it.
    offered = {
        "species": [(name, "") for name in sorted(catalogue().species)],
        "hardiness": [(one.hardiness, one.words) for one in LIKENESSES],
    }
    known = {field.key for field in form.fields}
    return render_template(
        form.template,
        form=form,
        name_field=NAME,
        held=held,
        seen=as_seen,
        faults=faults,
        wrong=by_field or {},
        offered={key: values for key, values in offered.items() if key in known},
    )


def typed_into(fields: Sequence[Field]) -> dict[str, Any]:
    """Return what was typed, as the file will hold it."""
    return {field.key: _value(field, request.form.get(field.key, "")) for field in fields}


def show_table(key: Key, form: Form) -> str:
    """Return the form of a table, as the file has it."""
    held = garden_edit.written_at(deps().config, key)
    return show(form, held, garden_edit.seen(deps().config))


def add_entry(section: Section, form: Form, said: str, to: str) -> Answer:
    """Add what was typed as an entry of a section, if the file then loads."""
    path = deps().config
    return _kept(form, said, to, lambda typed, seen: garden_edit.add(path, section, typed, seen))


def write_table(key: Key, form: Form, said: str, to: str) -> Answer:
    """Write what was typed into a table, if the file then loads; say it, and go to a page."""
    path = deps().config
    return _kept(form, said, to, lambda typed, seen: garden_edit.write(path, key, typed, seen))


def _kept(
    form: Form, said: str, to: str, keep: Callable[[Mapping[str, Any], str], object]
) -> Answer:
    typed, as_seen = typed_into(form.fields), request.form.get("seen", "")
    try:
        keep(typed, as_seen)
    except Refused as refused:
        rest = () if refused.by_field else plainly(refused)
        return show(form, typed, as_seen, rest, refused.by_field), BAD_FORM
    except Fault as fault:
        return show(form, typed, as_seen, plainly(fault)), BAD_FORM
    flash(said)
    return redirect(to, 303)
