"""What is known of species: their list, and one of them with the source of every number."""

from __future__ import annotations

from calendar import month_name
from collections.abc import Iterator, Sequence
from textwrap import wrap
from typing import Any, NamedTuple

from underbench.daemon.journal.lookup import named, species_named
from underbench.daemon.wording.json_form import document, part
from underbench.daemon.wording.tables import Columns, table
from underbench.daemon.wording.units import CM_PER_INCH, F_PER_K, Units
from underbench.rules.garden.journal import Stage
from underbench.rules.plants.likeness import LIKENESSES
from underbench.rules.plants.species import (
    Fact,
    Figure,
    Ruling,
    Span,
    Species,
    Window,
    WorkSeason,
    catalogue,
    hardiness_class,
    of_class,
)
from underbench.rules.plants.species_lookup import find, nearest
from underbench.rules.plants.stages import BASE_C

WIDTH = 80
NAME_WIDTH = 29
NORTHERN = "Months are northern; in the south it is half a year later."
OWN = "* of its own; the rest comes from its class."

_IN_WORDS = {
    "leaf_frost": "frost on open leaves (leaf tissue)",
    "bud_frost": "frost on swelling buds (bud tissue)",
    "hardened_frost": "frost on ripe evergreen leaf (leaf tissue)",
    "dormant_tops": "midwinter cold on wood and buds (tissue)",
    "roots_young": "cold on young roots (root shell)",
    "roots_mature": "cold on mature roots, midwinter (root shell)",
    "roots_hot": "heat on roots (root shell)",
    "leaf_hot": "heat on leaves (leaf tissue)",
    "flower_bud": "frost on flower buds in colour (flower tissue)",
    "open_flower": "frost on open flowers (flower tissue)",
    "petal_fall": "frost as petals fall (flower tissue)",
    "young_fruit": "frost on young fruit (flower tissue)",
    "air_min": "cold air (in a screen at 2 m)",
    "water_left": "water left in the pot",
    "roots_hardening_k": "mature roots are tenderer in October, November and March by",
    "new_leaf_gust": "dry air scorches new leaves in gusts from",
    "new_leaf_vapour": "and counts as dry from a vapour-pressure deficit of",
    "leaf_width": "width of leaf, lobe, leaflet or needle",
    "kc_leaf": "water used in full leaf, to that of grass",
    "leaf_out": "warmth until leaves open or shoots extend",
    "chill": "days of chill at which that warmth is enough",
    "bloom": "warmth until flowers open",
    "root_work": "Repot and cut roots",
    "root_share_pct": "roots it bears losing at once",
    "hard_chop": "Chop hard",
    "bag": "Bag over it after a chop or collecting",
}
_AT = {
    Stage.DORMANT: "while dormant",
    Stage.BUD_SWELL: "as buds swell",
    Stage.LEAFING_OUT: "while leafing out",
    Stage.EXTENDING: "while shoots extend",
    Stage.HARDENED: "once leaves are hard",
    Stage.COLOURING: "while colouring",
}


def listed() -> str:
    """Return all classes, and all species under them, with their other names and cultivars."""
    sections = []
    for name, kind in catalogue().classes.items():
        members = [one for one in catalogue().species.values() if one.hardiness == name]
        rows = [row for one in sorted(members, key=lambda one: one.name) for row in _rows(one)]
        sections.append("\n".join([f"{name}: {kind.kind}", *rows]))
    return "\n\n".join(
        [
            "Hardiness classes, each with its species. `underbench species NAME` shows one\n"
            "with the source of every number; any of the names here will do.",
            _likenesses(),
            *sections,
        ]
    )


def _likenesses() -> str:
    """What to write for a species that is not in the table."""
    rows = [f"  {one.hardiness:24}{one.words}" for one in LIKENESSES]
    head = 'A species that is not here needs hardiness = "CLASS" in the file, if it is:'
    return "\n".join([head, *rows])


def _rows(one: Species) -> Iterator[str]:
    told = ", ".join(one.common)
    if one.cultivars:
        told += "; " + ", ".join(f"'{short}'" for short in one.cultivars)
    first, *more = wrap(told, WIDTH - NAME_WIDTH, break_on_hyphens=False)
    yield f"{one.name:{NAME_WIDTH}}{first}"
    for line in more:
        yield " " * NAME_WIDTH + line


class Facts(NamedTuple):
    """What is known of a species, cultivar or class: its heading, what it bears with harm, kill and
    source, figures and works as a name and what is said of it, and the sources by number."""

    heading: list[str]
    bears: Columns
    figures: list[tuple[str, str]]
    works: list[tuple[str, str]]
    sources: list[tuple[str, str]]


def facts_of(one: Species, units: Units) -> Facts:
    """Return what is known of a species, cultivar or class."""
    keys = list(dict.fromkeys(fact.source for _, fact in _facts(one)))
    read = catalogue().sources
    return Facts(
        _heading(one),
        _limits(one, units, keys),
        list(_figures(one, units, keys)),
        list(_works(one, keys)),
        [
            (f"[{n}]", f"{key}, {read[key].read}: {read[key].reference}")
            for n, key in enumerate(keys, 1)
        ],
    )


def temperatures(one: Species) -> Iterator[tuple[str, float, float]]:
    """Yield what a species bears of cold and heat: the words, and harm and death in °C."""
    for field, fact in _facts(one):
        if isinstance(fact, Span) and field != "water_left":
            yield _IN_WORDS[field] + _mark(one, field), fact.harm, fact.kill


def shown(name: str, units: Units) -> str:
    """Return the species, cultivar or class of that name, every fact with its source."""
    one = meant(name)
    known = facts_of(one, units)
    first, *more = known.heading
    parts = [
        "\n".join([first, *(_wrapped("", line) for line in more)]),
        table(*known.bears),
        "\n".join(_wrapped(f"{what}: ", said) for what, said in known.figures),
        "\n".join([*(_wrapped(f"{what}: ", said) for what, said in known.works), NORTHERN]),
        "\n".join([OWN, *(_wrapped(f"{n} ", said, 4) for n, said in known.sources)]),
    ]
    if one.cultivars:
        parts.insert(1, _wrapped("Cultivars: ", ", ".join(one.cultivars)))
    return "\n\n".join(parts)


def meant(name: str) -> Species:
    """Return the species, cultivar or class of that name; raises Fault."""
    if find(name) is None:
        if not nearest(name):
            named("species or class", name, catalogue().classes)
        kind = hardiness_class(name)
        if kind is not None:
            return of_class(kind.name, kind)
    return species_named(name)


def _heading(one: Species) -> list[str]:
    if one.name == one.hardiness:
        return [f"hardiness class {one.name}: {one.limits.kind}"]
    common = [f"also called {', '.join(one.common)}"] if one.common else []
    return [one.name, *common, f"hardiness class: {one.hardiness}, {one.limits.kind}"]


def _facts(one: Species) -> list[tuple[str, Fact]]:
    """Every fact in force, in the order of the fields."""
    return list(one.limits.facts.items())


def _mark(one: Species, field: str) -> str:
    """A star if the species itself sets the fact, and not its class."""
    return " *" if len(one.said(field)) > 1 or one.said(field)[0][0] == one.name else ""


def _limits(one: Species, units: Units, sources: Sequence[str]) -> Columns:
    rows = [
        [
            _IN_WORDS[field] + _mark(one, field),
            _quantity(field, fact.harm, units),
            _quantity(field, fact.kill, units),
            f"[{sources.index(fact.source) + 1}]",
        ]
        for field, fact in _facts(one)
        if isinstance(fact, Span)
    ]
    return Columns(["it bears", "harm", "kill", "source"], rows)


def _figures(one: Species, units: Units, sources: Sequence[str]) -> Iterator[tuple[str, str]]:
    for field, fact in _facts(one):
        if isinstance(fact, Figure):
            said = f"{_quantity(field, fact.value, units)} [{sources.index(fact.source) + 1}]"
            yield f"{_IN_WORDS[field]}{_mark(one, field)}", said


def _works(one: Species, sources: Sequence[str]) -> Iterator[tuple[str, str]]:
    for field, fact in _facts(one):
        if isinstance(fact, Ruling):
            told = "may help" if fact.allowed else "never"
        elif isinstance(fact, WorkSeason):
            told = "; or ".join(map(_window_words, fact.windows)) or "never"
        else:
            continue
        yield f"{_IN_WORDS[field]}{_mark(one, field)}", f"{told} [{sources.index(fact.source) + 1}]"


def _window_words(window: Window) -> str:
    stages = " or ".join(_AT[stage] for stage in window.stages)
    names = [month_name[month] for month in window.months]
    in_a_row = len(names) > 2 and window.months[-1] - window.months[0] == len(names) - 1
    months = f"{names[0]} to {names[-1]}" if in_a_row else " and ".join(names)
    return ", ".join(filter(None, [months and f"in {months}", stages]))


def _quantity(field: str, value: float, units: Units) -> str:
    us = units.system == "us"
    base, degree, per_k = units.temp_whole(BASE_C), "°F" if us else "°C", F_PER_K if us else 1.0
    told = {
        "water_left": f"{100 * value:g} %",
        "root_share_pct": f"{value:g} %",
        "roots_hardening_k": units.temp_difference(value),
        "new_leaf_gust": units.speed(value),
        "new_leaf_vapour": f"{value:g} kPa",
        "leaf_width": f"{100 * value / CM_PER_INCH:.2f} in" if us else f"{1000 * value:g} mm",
        "leaf_out": f"{per_k * value:.0f} {degree}·d above {base}",
        "bloom": f"{per_k * value:.0f} {degree}·d above {base}",
        "chill": f"{value:g} days",
        "kc_leaf": f"{value:g}",
    }
    return told.get(field) or units.temp(value)


def _wrapped(lead: str, text: str, indent: int = 2) -> str:
    lines = wrap(lead + text, WIDTH, subsequent_indent=" " * indent, break_on_hyphens=False)
    return "\n".join(lines)


def listed_json() -> str:
    """Return all classes and species as JSON."""
    found = {
        "classes": {name: kind.kind for name, kind in catalogue().classes.items()},
        "species": [_named_json(one) for one in catalogue().species.values()],
    }
    return document(found)


def shown_json(name: str) -> str:
    """Return one species, cultivar or class as JSON: °C, m/s, m, kPa and shares."""
    one, sources = meant(name), catalogue().sources
    facts = {
        field: {**dict(fact), "said_by": one.said(field)[-1][0], "source": sources[fact.source]}
        for field, fact in _facts(one)
    }
    return document({**_named_json(one), "kind": one.limits.kind, "facts": facts})


def _named_json(one: Species) -> dict[str, Any]:
    return {**part(one, "name", "common"), "class": one.hardiness, "cultivars": list(one.cultivars)}
