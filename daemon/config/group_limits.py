"""The keeper's own limits for a class, a species or a spot, and the trees they hold for."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from underbench.daemon.config.limits_table import KinsTable, KinTable, LimitsTable
from underbench.daemon.wording import units
from underbench.rules.garden.inventory import NEVER, KinLimits, OwnLimits, Tree
from underbench.rules.plants.species import catalogue, hardiness_class
from underbench.rules.plants.species_lookup import find, nearest

CLASS, SPECIES = "class", "species"


def own_limits(table: LimitsTable) -> OwnLimits:
    """Return a table of limits in SI units and °C."""
    values: dict[str, float | None] = {}
    for metric, us in LimitsTable.alternatives:
        in_us = getattr(table, us)
        if in_us is None:
            values[metric] = getattr(table, metric)
        else:
            mph = us == "gust_mph"
            values[metric] = in_us * units.MS_PER_MPH if mph else units.c_from_f(in_us)
    return OwnLimits.model_validate(values)


def laid_on(tree: Tree, table: KinsTable) -> tuple[Tree, dict[str, str]]:
    """Return ``tree`` with the limits and chances of its class and its species, and their sources.

    The species' limits come after the class's. Chances from which to act are taken only where the
    tree has none of its own; the sources say where each such chance comes from, by field.
    """
    mine = list(_of(tree, table))
    held: dict[str, Any] = {
        "kin_limits": tuple(
            KinLimits(of=f"your {what} {name}", limits=own_limits(kin)) for what, name, kin in mine
        )
    }
    why: dict[str, str] = {}
    for field in ("act_from", "kill_from", "flowers_from"):
        told = [(w, n, c) for w, n, kin in mine if (c := getattr(kin, field)) is not None]
        if told and getattr(tree, field) is None:
            what, name, held[field] = told[-1]
            share = "never" if held[field] == NEVER else f"{held[field]:.0%}"
            why[field] = f"{share}, your {what} {name}"
    return tree.model_copy(update=held), why


def _of(tree: Tree, table: KinsTable) -> Iterator[tuple[str, str, KinTable]]:
    """The tables that hold for a tree, the nearest last: a cultivar's after its species'."""
    names = names_of(tree)
    for name, kin in table.classes.items():
        known = hardiness_class(name)
        if known and known.name == _class_of(tree):
            yield CLASS, known.name, kin
    spoken = [(plain_species(name), kin) for name, kin in table.species.items()]
    for own in names:
        yield from ((SPECIES, name, kin) for name, kin in spoken if name.casefold() == own)


def _class_of(tree: Tree) -> str | None:
    given = hardiness_class(tree.hardiness) if tree.hardiness else None
    known = find(tree.species, tree.cultivar)
    return given.name if given else known.hardiness if known else None


def names_of(tree: Tree) -> Sequence[str]:
    """Return the names of a tree's kind, case-folded: its species, then its cultivar if known."""
    known = find(tree.species, tree.cultivar)
    full = known.name if known else tree.species
    return list(dict.fromkeys([full.partition(" '")[0].casefold(), full.casefold()]))


def plain_species(name: str) -> str:
    """Return the scientific name of a species or cultivar; an unknown name as it is."""
    known = find(name)
    return known.name if known else name.strip()


def name_faults(
    raw: Any, trees: Sequence[str], spots: Sequence[str]
) -> Iterator[tuple[tuple[str, str], str, Sequence[str]]]:
    """Yield each name under ``[limits]`` that means nothing, or the same as another.

    With it come its key there, what is wrong, and the names that may be meant (nearest first, else
    all there are). ``raw`` is the section as read; ``trees`` are the species of the trees, as
    written.
    """
    own = {name.casefold() for name in trees}
    for name in _names(raw, CLASS):
        if hardiness_class(name) is None:
            yield (CLASS, name), "no such hardiness class", list(catalogue().classes)
    first: dict[str, str] = {}
    for name in _names(raw, SPECIES):
        if find(name) is None and name.strip().casefold() not in own:
            yield (SPECIES, name), "unknown species", nearest(name, 1) or list(trees)
        elif (same := first.setdefault(plain_species(name).casefold(), name)) != name:
            yield (SPECIES, name), f"the same species as '{same}'", []
    for name in _names(raw, "spot"):
        if name not in spots:
            yield ("spot", name), f"no [[spot]] is named '{name}'", spots


def _names(raw: Any, table: str) -> Sequence[str]:
    held = raw.get(table) if isinstance(raw, dict) else None
    return list(held) if isinstance(held, dict) else []
