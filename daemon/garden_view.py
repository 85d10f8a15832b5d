"""What the keeper may ask to see: the trees as configured, and the species."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime

from underbench.daemon.settings import Settings
from underbench.daemon.terminal import table
from underbench.daemon.units import Units
from underbench.rules.garden import Tree
from underbench.rules.journal import Entry, fold
from underbench.rules.species import Figure, HardinessClass, Source, Span, Species, catalogue

_IN_WORDS = {
    "leaf_frost": "frost on open leaves (leaf tissue)",
    "bud_frost": "frost on swelling buds (bud tissue)",
    "hardened_frost": "frost on ripe evergreen leaf (leaf tissue)",
    "dormant_tops": "midwinter cold on wood and buds (tissue)",
    "roots_young": "cold on young roots (root shell)",
    "roots_mature": "cold on mature roots, midwinter (root shell)",
    "roots_hot": "heat on roots (root shell)",
    "leaf_hot": "heat on leaves (leaf tissue)",
    "air_min": "cold air (air at the spot)",
}


def trees_text(settings: Settings, journal: Sequence[Entry], now: datetime) -> str:
    """Every tree as inventory and journal have it; ``~`` marks what was derived, with why."""
    units = Units(settings.units)
    rows = [
        _tree_row(tree, fold(tree, journal, now).spot, settings.derived[tree.name], units)
        for tree in settings.trees
    ]
    heads = ["tree", "species", "litres", "container", "stands", "height", "crown"]
    return "\n".join(
        [
            table(heads, rows),
            "",
            "~ derived, not configured:",
            *_reasons(settings.derived),
            *_reasons(settings.derived_spots),
        ]
    )


def _tree_row(tree: Tree, spot: str, derived: Mapping[str, str], units: Units) -> list[str]:
    pot = tree.container

    def shown(field: str, text: str) -> str:
        return f"~{text}" if field in derived else text

    parts = [shown("colour", pot.colour), shown("wall", pot.wall), shown("shape", pot.shape)]
    return [
        tree.name,
        f"{tree.species} {tree.cultivar}".strip(),
        shown("litres", units.volume(pot.litres)),
        f"{shown('container', pot.kind)}: {' '.join(parts)}",
        spot if spot == tree.spot else f"{spot} (home: {tree.spot})",
        shown("height_cm", units.length(tree.height_cm)),
        shown("crown_cm", units.length(tree.crown_cm)),
    ]


def _reasons(derived: Mapping[str, Mapping[str, str]]) -> list[str]:
    """One line a tree or spot: fields by the reason they share."""
    lines = []
    for name, fields in derived.items():
        by_reason: dict[str, list[str]] = {}
        for field, why in fields.items():
            by_reason.setdefault(why, []).append(field)
        if by_reason:
            told = "; ".join(f"{', '.join(fs)}: {why}" for why, fs in by_reason.items())
            lines.append(f"  {name}: {told}")
    return lines


def species_list_text() -> str:
    """All species by scientific name, with their common names and class."""
    rows = [
        [species.name, ", ".join(species.common), species.hardiness]
        for species in sorted(catalogue().species.values(), key=lambda one: one.name)
    ]
    return table(["species", "also called", "hardiness class"], rows)


def species_text(species: Species, units: Units) -> str:
    """One species: every limit with its harm and kill, and each number's source."""
    limits, sources = species.limits, catalogue().sources
    rows = [
        [
            _IN_WORDS[field] + (" *" if field in species.own else ""),
            units.temp(pair.harm),
            units.temp(pair.kill),
            pair.source,
        ]
        for field, pair in limits.numbers.items()
        if isinstance(pair, Span)
    ]
    figures = [
        f"{field.replace('_', ' ')}: {figure.value:g} ({figure.source})"
        for field, figure in limits.numbers.items()
        if isinstance(figure, Figure)
    ]
    return "\n".join(
        [
            f"{species.name} ({', '.join(species.common)})",
            f"class: {species.hardiness}, {limits.kind}. {_bag_words(limits)}",
            "",
            table(["what", "harm", "kill", "source"], rows),
            "",
            "; ".join(figures),
            "* the species' own figure; the others are its class's",
            "",
            "Sources:",
            *_sources(limits, sources),
        ]
    )


def _bag_words(limits: HardinessClass) -> str:
    return "May be bagged after a chop." if limits.may_be_bagged else "Never bag it."


def _sources(limits: HardinessClass, sources: Mapping[str, Source]) -> list[str]:
    used = sorted({number.source for number in limits.numbers.values()})
    return [f"  {key} ({sources[key].read}): {sources[key].reference}" for key in used]
