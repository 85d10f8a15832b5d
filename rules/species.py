"""Hardiness classes and species: what a tree of its kind can bear, every number with its source."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from difflib import get_close_matches
from enum import StrEnum
from functools import cache
from importlib.resources import files
from typing import Annotated, Any

from pydantic import Field, model_validator

from underbench.rules.garden import Model


class Kind(StrEnum):
    """What sort of plant it is, as far as its leaves go."""

    BROADLEAF_DECIDUOUS = "broadleaf deciduous"
    BROADLEAF_EVERGREEN = "broadleaf evergreen"
    CONIFER_DECIDUOUS = "conifer deciduous"
    CONIFER_EVERGREEN = "conifer evergreen"
    TROPICAL = "tropical"


class Reading(StrEnum):
    """How a source was read."""

    IN_SOURCE = "read in source"
    SECONDARY = "secondary"
    FROM_MEMORY = "from memory"
    COMMON_PRACTICE = "common practice"


class Source(Model):
    """Where numbers come from, and how far they were checked there."""

    reference: str
    read: Reading


class Span(Model):
    """A pair of limits, °C: from ``harm`` on the tree is hurt, from ``kill`` on the part dies."""

    harm: float
    kill: float
    source: str


class Figure(Model):
    """One number; its unit is in the name of the field that holds it."""

    value: float
    source: str


class HardinessClass(Model):
    """The limits and traits many species share. What each limit is measured on:

    - ``leaf_frost``: tissue of open young leaves, or of extending shoots and candles
    - ``bud_frost``: tissue of swelling buds; None where bud swell is no stage of its kind
    - ``hardened_frost``: tissue of the hardy evergreen's ripe leaf outside midwinter; None
      where a leaf does not winter
    - ``dormant_tops``: tissue of wood and buds (and evergreen leaf) hardened in midwinter
    - ``roots_young``, ``roots_mature``, ``roots_hot``: shell of the root ball; mature ones as in
      midwinter
    - ``leaf_hot``: leaf tissue, held for hours
    - ``air_min``: screen air, for trees that chill above freezing; None for the others

    ``new_leaf_gust`` (m/s) and ``new_leaf_vapour`` (vapour-pressure deficit, kPa) together scorch
    new leaves; None where the class is not known for it. ``leaf_width`` m, ``kc_leaf`` crop
    coefficient in full leaf, ``leaf_out`` °C·d above 5 °C since midwinter until the leaves open
    (or the shoots extend); None where there is no such season.
    """

    name: str
    kind: Kind
    leaf_frost: Span
    bud_frost: Span | None = None
    hardened_frost: Span | None = None
    dormant_tops: Span
    roots_young: Span
    roots_mature: Span
    roots_hot: Span
    leaf_hot: Span
    air_min: Span | None = None
    new_leaf_gust: Figure | None = None
    new_leaf_vapour: Figure | None = None
    leaf_width: Figure
    kc_leaf: Figure
    leaf_out: Figure | None = None

    @property
    def leafless(self) -> bool:
        """Whether it stands without leaves in winter."""
        return self.kind in (Kind.BROADLEAF_DECIDUOUS, Kind.CONIFER_DECIDUOUS)

    @property
    def may_be_bagged(self) -> bool:
        """Whether a bag over the bare tree can help it: conifers are never bagged."""
        return self.kind not in (Kind.CONIFER_DECIDUOUS, Kind.CONIFER_EVERGREEN)

    @property
    def numbers(self) -> dict[str, Span | Figure]:
        """Every number it holds, by field name."""
        held = {field: getattr(self, field) for field in HardinessClass.model_fields}
        return {name: value for name, value in held.items() if isinstance(value, Span | Figure)}

    @model_validator(mode="after")
    def _pairs_are_ordered(self) -> HardinessClass:
        for name, value in self.numbers.items():
            if not isinstance(value, Span):
                continue
            ordered = value.kill > value.harm if name.endswith("_hot") else value.kill < value.harm
            if not ordered:
                raise ValueError(f"{self.name}: {name}: kill must lie beyond harm")
        young, mature = self.roots_young, self.roots_mature
        if young.harm < mature.harm or young.kill < mature.kill:
            raise ValueError(f"{self.name}: young roots cannot be hardier than mature ones")
        return self

    @model_validator(mode="after")
    def _kind_has_its_fields(self) -> HardinessClass:
        tropical = self.kind is Kind.TROPICAL
        has_field = {
            "bud_frost": self.leafless,
            "hardened_frost": not (self.leafless or tropical),
            "air_min": tropical,
            "leaf_out": not tropical,
        }
        for name, wanted in has_field.items():
            if wanted != (getattr(self, name) is not None):
                raise ValueError(
                    f"{self.name}: {name}: {'needed' if wanted else 'not'} for this kind"
                )
        if (self.new_leaf_gust is None) != (self.new_leaf_vapour is None):
            raise ValueError(f"{self.name}: new_leaf_gust and new_leaf_vapour go together")
        return self


class Species(Model):
    """A species: its names, its hardiness class, and its limits.

    ``limits`` is the class with the species's own numbers laid over it and bears the species's
    name; ``own`` says which fields those are.
    """

    name: str
    common: Annotated[tuple[str, ...], Field(min_length=1)]
    hardiness: str
    own: frozenset[str] = frozenset()
    limits: HardinessClass


class Catalogue(Model):
    """All that is known of species: sources by key, classes by name, species by scientific name."""

    sources: Mapping[str, Source]
    classes: Mapping[str, HardinessClass]
    species: Mapping[str, Species]

    @model_validator(mode="after")
    def _every_number_has_a_source(self) -> Catalogue:
        owners = [*self.classes.values(), *(species.limits for species in self.species.values())]
        for owner in owners:
            for name, value in owner.numbers.items():
                if value.source not in self.sources:
                    raise ValueError(f"{owner.name}: {name}: no such source: {value.source!r}")
        return self


def read_catalogue(text: str) -> Catalogue:
    """Return the catalogue written in ``text`` (TOML as in species.toml).

    Raises ValueError for a number without a known source, a pair out of order, an unknown key, a
    species whose class does not exist.
    """
    raw = tomllib.loads(text)
    unknown = sorted({row["class"] for row in raw["species"].values()} - raw["classes"].keys())
    if unknown:
        raise ValueError(f"no such hardiness class: {', '.join(unknown)}")
    classes = {name: HardinessClass(name=name, **row) for name, row in raw["classes"].items()}
    species = {name: _species(name, row, raw["classes"]) for name, row in raw["species"].items()}
    return Catalogue(sources=raw["sources"], classes=classes, species=species)


def _species(name: str, row: dict[str, Any], classes: dict[str, dict[str, Any]]) -> Species:
    own = {key: value for key, value in row.items() if key not in ("class", "common")}
    return Species(
        name=name,
        common=row["common"],
        hardiness=row["class"],
        own=frozenset(own),
        limits=HardinessClass(name=name, **{**classes[row["class"]], **own}),
    )


@cache
def catalogue() -> Catalogue:
    """Return the catalogue that comes with the package, read once."""
    return read_catalogue(files(__package__).joinpath("species.toml").read_text(encoding="utf-8"))


@cache
def _by_any_name() -> dict[str, Species]:
    return {
        _plain(name): species
        for species in catalogue().species.values()
        for name in (*species.common, species.name)
    }


def _plain(name: str) -> str:
    """Fold case and spaces, and drop a cultivar in quotes or brackets and any hybrid sign."""
    for opening in "'\"‘“(":
        name = name.partition(f" {opening}")[0]
    return " ".join(name.casefold().replace("×", " ").replace(" x ", " ").split())


def find(name: str) -> Species | None:
    """Return the species of that scientific or common name; None when there is none.

    Case and spaces do not matter. What follows a scientific name (a cultivar, a variety) is passed
    over, as is a cultivar in quotes: "Acer palmatum 'Katsura'" is Acer palmatum.
    """
    plain = _plain(name)
    scientific = {_plain(known): species for known, species in catalogue().species.items()}
    return _by_any_name().get(plain) or scientific.get(" ".join(plain.split()[:2]))


def nearest(name: str, n: int = 3) -> list[str]:
    """Return up to ``n`` known names most like ``name``, best first: for "did you mean"."""
    spelt = {
        _plain(known): known
        for species in catalogue().species.values()
        for known in (*species.common, species.name)
    }
    return [spelt[match] for match in get_close_matches(_plain(name), spelt, n=n)]


def hardiness_class(name: str) -> HardinessClass | None:
    """Return the class of that name, whatever its case; None when there is none."""
    wanted = _plain(name)
    return next((c for key, c in catalogue().classes.items() if _plain(key) == wanted), None)
