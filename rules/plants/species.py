"""Hardiness classes and species: what a tree of its kind can bear, every number with its source."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from enum import StrEnum
from functools import cache
from importlib.resources import files
from typing import Annotated, Any

from pydantic import Field, model_validator

from underbench.rules.garden.inventory import Model
from underbench.rules.garden.journal import Stage


class Kind(StrEnum):
    """What sort of leaves a plant has."""

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
    """A pair of limits, °C: at ``harm`` the tree is hurt, at ``kill`` the part dies."""

    harm: float
    kill: float
    source: str


class Figure(Model):
    """One number; its unit is in the name of the field that holds it."""

    value: float
    source: str


class Window(Model):
    """A part of the year: any of ``stages`` in any of ``months``; empty means any. Months are
    northern; in the south they lie half a year later."""

    stages: tuple[Stage, ...] = ()
    months: tuple[Annotated[int, Field(ge=1, le=12)], ...] = ()

    def holds(self, stage: Stage, month: int) -> bool:
        """Return whether a tree at ``stage`` in that northern month stands in this window."""
        right_stage = not self.stages or stage in self.stages
        return right_stage and (not self.months or month in self.months)


class WorkSeason(Model):
    """When a work suits; it never does without a window."""

    windows: tuple[Window, ...]
    source: str

    @property
    def ever(self) -> bool:
        """Whether the work suits such a tree at any time."""
        return bool(self.windows)

    def suits(self, stage: Stage, day: date, latitude: float) -> bool:
        """Return whether the work suits a tree at ``stage`` on ``day``."""
        month = day.month if latitude >= 0 else (day.month + 5) % 12 + 1
        return any(window.holds(stage, month) for window in self.windows)


class Ruling(Model):
    """Something that may or may not be done."""

    allowed: bool
    source: str


Fact = Span | Figure | WorkSeason | Ruling


class HardinessClass(Model):
    """The limits and traits many species share. What each limit is measured on:

    - ``leaf_frost``: tissue of open young leaves, or of extending shoots and candles
    - ``bud_frost``: tissue of swelling buds; None where bud swell is no stage of its kind
    - ``hardened_frost``: tissue of the hardy evergreen's ripe leaf outside midwinter; None
      where a leaf does not winter
    - ``dormant_tops``: tissue of wood and buds (and evergreen leaf) hardened in midwinter
    - ``roots_young``, ``roots_mature``, ``roots_hot``: shell of the root ball; mature ones as in
      midwinter, and ``roots_hardening_k`` (K) tenderer in October, November and March
    - ``leaf_hot``: leaf tissue, held for hours
    - ``flower_bud``, ``open_flower``, ``petal_fall``, ``young_fruit``: tissue of the flower; nine
      in ten are lost at ``kill``. None for trees not grown for their flowers
    - ``air_min``: screen air, for trees that chill above freezing; None for the others

    ``new_leaf_gust`` (m/s) and ``new_leaf_vapour`` (vapour-pressure deficit, kPa) together scorch
    new leaves; None where the class is not known for it. ``leaf_width`` m, ``kc_leaf`` crop
    coefficient in full leaf, ``leaf_out`` °C·d above 5 °C since midwinter until the leaves open
    (or the shoots extend); None where there is no such season. ``chill`` is the days of chill at
    which that holds; None: as many as most kinds need. ``bloom`` is °C·d until the flowers open,
    counted likewise; None where only a sighting tells. ``water_left``: share of the water a full
    pot holds, 0..1.

    Works: ``root_work`` says when roots may be cut and trees repotted, ``root_share_pct`` what
    share of its roots a tree can lose at once, ``hard_chop`` when it may be cut back to bare trunk,
    ``bag`` whether a bag over it can help.
    """

    name: str
    kind: Kind
    leaf_frost: Span
    bud_frost: Span | None = None
    hardened_frost: Span | None = None
    dormant_tops: Span
    roots_young: Span
    roots_mature: Span
    roots_hardening_k: Figure
    roots_hot: Span
    leaf_hot: Span
    flower_bud: Span | None = None
    open_flower: Span | None = None
    petal_fall: Span | None = None
    young_fruit: Span | None = None
    air_min: Span | None = None
    new_leaf_gust: Figure | None = None
    new_leaf_vapour: Figure | None = None
    water_left: Span
    leaf_width: Figure
    kc_leaf: Figure
    leaf_out: Figure | None = None
    chill: Figure | None = None
    bloom: Figure | None = None
    root_work: WorkSeason
    root_share_pct: Figure
    hard_chop: WorkSeason
    bag: Ruling

    @property
    def leafless(self) -> bool:
        """Whether the plant stands without leaves in winter."""
        return self.kind in (Kind.BROADLEAF_DECIDUOUS, Kind.CONIFER_DECIDUOUS)

    @property
    def facts(self) -> dict[str, Fact]:
        """Everything in the class that has a source, by field name."""
        held = {field: getattr(self, field) for field in HardinessClass.model_fields}
        return {name: value for name, value in held.items() if isinstance(value, Fact)}

    @property
    def numbers(self) -> dict[str, Span | Figure]:
        """Every number in the class, by field name."""
        return {k: v for k, v in self.facts.items() if isinstance(v, Span | Figure)}

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
        flowers = {self.flower_bud, self.open_flower, self.petal_fall, self.young_fruit}
        if None in flowers and (len(flowers) > 1 or self.bloom is not None):
            raise ValueError(f"{self.name}: a flower needs its limits at each stage")
        if (self.new_leaf_gust is None) != (self.new_leaf_vapour is None):
            raise ValueError(f"{self.name}: new_leaf_gust and new_leaf_vapour go together")
        return self


class Laid(Model):
    """What one layer says of a plant: a class says all, species and cultivar only their own."""

    who: str
    facts: Mapping[str, Fact]


class Species(Model):
    """A species or one of its cultivars: its names, its hardiness class, and its limits.

    ``limits`` is the class with the species's own facts laid over it, then the cultivar's.
    ``layers`` keeps them apart, the class first. ``cultivars`` are by name; each is named in full
    ("Acer palmatum 'Deshojo'").
    """

    name: str
    common: tuple[str, ...]
    hardiness: str
    limits: HardinessClass
    layers: tuple[Laid, ...]
    cultivars: Mapping[str, Species] = {}

    def __hash__(self) -> int:
        return hash(self.name)  # the same for equal ones, and quicker than all they hold

    def said(self, field: str) -> list[tuple[str, Fact]]:
        """Return who says what on a field of the class; the last one holds."""
        return [(layer.who, layer.facts[field]) for layer in self.layers if field in layer.facts]


class Catalogue(Model):
    """All that is known about species: sources by key, classes by name, species by scientific name.

    A common name belongs to one species or cultivar.
    """

    sources: Mapping[str, Source]
    classes: Mapping[str, HardinessClass]
    species: Mapping[str, Species]

    @model_validator(mode="after")
    def _every_number_has_a_source(self) -> Catalogue:
        for species in self.with_cultivars:
            for layer in species.layers:
                self._check_sources(layer.who, layer.facts)
        for name, one in self.classes.items():
            self._check_sources(name, one.facts)
        return self

    def _check_sources(self, who: str, facts: Mapping[str, Fact]) -> None:
        for field, fact in facts.items():
            if fact.source not in self.sources:
                raise ValueError(f"{who}: {field}: no such source: {fact.source!r}")

    @property
    def with_cultivars(self) -> Iterator[Species]:
        """Every species, each followed by its cultivars."""
        for species in self.species.values():
            yield species
            yield from species.cultivars.values()


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
    species = {name: _species(name, row, classes) for name, row in raw["species"].items()}
    return Catalogue(sources=raw["sources"], classes=classes, species=species)


def of_class(name: str, limits: HardinessClass) -> Species:
    """Return a species that is not in the table, known only by its hardiness class."""
    laid = Laid(who=f"class {limits.name}", facts=limits.facts)
    return Species(name=name, common=(), hardiness=limits.name, limits=limits, layers=(laid,))


def _species(name: str, row: dict[str, Any], classes: Mapping[str, HardinessClass]) -> Species:
    row = dict(row)
    kind, common = classes[row.pop("class")], row.pop("common")
    cultivars = row.pop("cultivars", {})
    species = _laid_over(of_class(name, kind), name, common, row)
    by_name = {
        short: _laid_over(species, f"{name} '{short}'", own.get("common", ()), own)
        for short, own in cultivars.items()
    }
    return species.model_copy(update={"cultivars": by_name})


def _laid_over(below: Species, name: str, common: Sequence[str], row: dict[str, Any]) -> Species:
    """Return ``below`` under a new name, with the facts of ``row`` laid over it."""
    own = {field: fact for field, fact in row.items() if field != "common"}
    if not own:
        return below.model_copy(update={"name": name, "common": tuple(common)})
    limits = HardinessClass(**{**dict(below.limits), **own, "name": name})
    laid = Laid(who=name, facts={f: fact for f, fact in limits.facts.items() if f in own})
    return Species(
        name=name,
        common=tuple(common),
        hardiness=below.hardiness,
        limits=limits,
        layers=(*below.layers, laid),
    )


@cache
def catalogue() -> Catalogue:
    """Return the catalogue that comes with the package, read once."""
    return read_catalogue(files(__package__).joinpath("species.toml").read_text(encoding="utf-8"))


def hardiness_class(name: str) -> HardinessClass | None:
    """Return the class of that name, whatever its case; None when there is none."""
    wanted = name.casefold().split()
    return next((c for key, c in catalogue().classes.items() if key.split() == wanted), None)
