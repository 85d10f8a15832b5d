"""Finds the species or cultivar that a name means, and the known names nearest to an unknown."""

from __future__ import annotations

import unicodedata
from collections import Counter
from collections.abc import Mapping
from difflib import get_close_matches
from functools import cache, lru_cache

from underbench.rules.plants.species import Species, catalogue

_QUOTES = "'\"‘’“”()"
_OPENING = "'\"‘“("


@lru_cache(maxsize=1024)  # asked of every tree in every pass
def find(name: str, cultivar: str = "") -> Species | None:
    """Return the species of that scientific or common name; None when there is none.

    Case, blanks, hyphens and accents do not matter. A cultivar may be given beside, in quotes, or
    after a scientific name. If the table knows it, the cultivar is returned; an unknown cultivar is
    ignored, and so is a variety. A cultivar's name alone will do if no other plant bears it.
    """
    base, quoted = _parted(name)
    named = _by_name()
    words = _plain(base).split()
    species = named.get(" ".join(words))
    after = ""
    if species is None and len(words) > 2:
        species, after = _scientific().get(" ".join(words[:2])), " ".join(words[2:])
    wanted = _tight(cultivar or quoted or after)
    if species is None:
        return None if base and quoted else _by_cultivar().get(_tight(base or quoted))
    grown = {_tight(alias): one for one in species.cultivars.values() for alias in _aliases(one)}
    return grown.get(wanted, species)


def nearest(name: str, n: int = 3) -> list[str]:
    """Return up to ``n`` known names most like ``name``, best first: for "did you mean"."""
    several = [one.name for one in catalogue().with_cultivars if _tight(name) in _shorts(one)]
    if several:  # several cultivars share a name: give each in full
        return several[:n]
    spelt = {
        _plain(known): known
        for one in catalogue().with_cultivars
        for known in (*one.common, one.name)
    }
    like = get_close_matches(_plain(name), spelt, n=n)
    with_it = sorted((one for one in spelt if _plain(name) in one.split()), key=_cultivars_last)
    return [spelt[match] for match in (with_it or like)[:n]]


@cache
def _by_name() -> Mapping[str, Species]:
    """Species and cultivars by their common names, species by their scientific names too."""
    found = {_plain(name): one for one in catalogue().with_cultivars for name in one.common}
    return {**found, **_scientific()}


@cache
def _scientific() -> Mapping[str, Species]:
    return {_plain(name): species for name, species in catalogue().species.items()}


@cache
def _by_cultivar() -> Mapping[str, Species]:
    """Cultivars by their name alone, if only one plant bears it."""
    named = [(short, one) for one in catalogue().with_cultivars for short in _shorts(one)]
    borne = Counter(short for short, _ in named)
    return {short: one for short, one in named if borne[short] == 1}


def _shorts(one: Species) -> set[str]:
    """A cultivar's names without its species; none for a species."""
    return {_tight(alias) for alias in _aliases(one)} if "'" in one.name else set()


def _aliases(one: Species) -> tuple[str, ...]:
    return (_parted(one.name)[1], *one.common)


def _parted(name: str) -> tuple[str, str]:
    """Split a name into the part before a cultivar in quotes or brackets, and the cultivar."""
    start = next(
        (n for n, sign in enumerate(name) if sign in _OPENING and (n == 0 or name[n - 1] == " ")),
        len(name),
    )
    return name[:start], name[start:].strip(_QUOTES + " ")


def _cultivars_last(name: str) -> tuple[bool, str]:
    return "'" in name, name


def _plain(name: str) -> str:
    """Fold case, accents, blanks, hyphens and apostrophes, and drop any hybrid sign."""
    folded = unicodedata.normalize("NFKD", name.casefold())
    letters = "".join(sign for sign in folded if not unicodedata.combining(sign))
    for sign, instead in (("×", " "), ("-", " "), ("’", "'"), (" x ", " ")):
        letters = letters.replace(sign, instead)
    return " ".join(letters.split())


def _tight(name: str) -> str:
    return _plain(name).replace(" ", "")
