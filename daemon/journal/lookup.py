"""Finds what a keeper means by a name, and the nearest known name when there is none."""

from __future__ import annotations

from collections.abc import Mapping
from difflib import get_close_matches
from typing import TypeVar

from underbench.daemon.config.settings import Settings
from underbench.daemon.faults import Fault
from underbench.rules.garden.inventory import Spot, Tree
from underbench.rules.plants.species import Species
from underbench.rules.plants.species_lookup import find, nearest

T = TypeVar("T")


def named(what: str, name: str, known: Mapping[str, T]) -> T:
    """Return the one of ``known`` called ``name``, whatever its case; raises Fault."""
    by_plain = {key.casefold(): value for key, value in known.items()}
    if name.casefold() in by_plain:
        return by_plain[name.casefold()]
    spelt = {key.casefold(): key for key in known}
    near = get_close_matches(name.casefold(), spelt, n=1)
    hint = (
        f"; did you mean {_in_one_word(spelt[near[0]])}?"
        if near
        else f"; there are: {', '.join(known)}"
    )
    raise Fault(f"no {what} called {name!r}{hint}")


def _in_one_word(name: str) -> str:
    """A name as typed on a command line: quoted where it has a blank."""
    return f'"{name}"' if " " in name else repr(name)


def tree_named(settings: Settings, name: str) -> Tree:
    """Return the tree of that name; raises Fault."""
    return named("tree", name, {tree.name: tree for tree in settings.trees})


def spot_named(settings: Settings, name: str) -> Spot:
    """Return the spot of that name; raises Fault."""
    return named("spot", name, settings.spots)


def species_named(name: str) -> Species:
    """Return the species of that scientific or common name; raises Fault."""
    found = find(name)
    if found is None:
        near = nearest(name)
        hint = f"; did you mean {' or '.join(near)}?" if near else ""
        raise Fault(f"no species called {name!r}{hint}")
    return found
