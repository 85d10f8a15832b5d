"""Finds what a keeper means by a name, and the nearest known name when there is none."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from difflib import get_close_matches
from typing import TypeVar

from underbench.daemon.config.settings import Settings
from underbench.daemon.faults import Fault
from underbench.rules.garden.inventory import Spot, Tree
from underbench.rules.plants.species import Species
from underbench.rules.plants.species_lookup import find, nearest

T = TypeVar("T")
MOST_LISTED, A_FEW = 25, 3  # more names than a line can hold are not listed


def named(what: str, name: str, known: Mapping[str, T]) -> T:
    """Return the one of ``known`` called ``name``, whatever its case; raises Fault."""
    by_plain = {key.casefold(): value for key, value in known.items()}
    if name.casefold() in by_plain:
        return by_plain[name.casefold()]
    raise Fault(f"no {what} called {name!r}; {_hint(name.casefold(), known)}")


def _hint(name: str, known: Collection[str]) -> str:
    """What may have been meant: the one name that is like it, or those to choose from."""
    spelt = {key.casefold(): key for key in known}
    near = get_close_matches(name, spelt, n=1) or [key for key in spelt if name in key.split()]
    if len(near) == 1:
        return f"did you mean {_in_one_word(spelt[near[0]])}?"
    if len(known) <= MOST_LISTED:
        return f"there are: {', '.join(known)}"
    nearest_few = near[:A_FEW] or get_close_matches(name, spelt, n=A_FEW, cutoff=0.0)
    return f"the nearest of {len(known)}: {', '.join(spelt[key] for key in nearest_few)}"


def plain(name: str) -> str:
    """Return the name of a work, a stage or a container with blanks for its hyphens."""
    return name.replace("-", " ").replace("_", " ")


def first_name(words: Sequence[str], is_known: Callable[[str], bool]) -> tuple[str, Sequence[str]]:
    """Return the longest run of first words that is a known name, and the words after it. Without
    such a run it is the first word."""
    end = next((n for n in range(len(words), 0, -1) if is_known(" ".join(words[:n]))), 1)
    return " ".join(words[:end]), words[end:]


def names_in(words: Sequence[str], is_known: Callable[[str], bool]) -> list[str]:
    """Return the names that words make up: a name may have come as several words."""
    found = []
    while words:
        name, words = first_name(words, is_known)
        found.append(name)
    return found


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
