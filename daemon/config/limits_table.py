"""The sections of the configuration that set a keeper's own limits, in the keeper's own units."""

from __future__ import annotations

import unicodedata
from typing import Annotated, ClassVar

from pydantic import AfterValidator, ConfigDict, Field, StringConstraints

from underbench.rules.garden.inventory import Model, Share, ShareOrNever

# Wide enough for any plant, narrow enough to catch °F in a °C key and, mostly, °C in a °F key.
LeafFrostC = Annotated[float, Field(ge=-15, le=5)]
LeafFrostF = Annotated[float, Field(ge=5, le=41)]
FrostC = Annotated[float, Field(ge=-30, le=5)]
FrostF = Annotated[float, Field(ge=-22, le=41)]
WoodC = Annotated[float, Field(ge=-60, le=5)]
WoodF = Annotated[float, Field(ge=-76, le=41)]
AirC = Annotated[float, Field(ge=-30, le=20)]
AirF = Annotated[float, Field(ge=-22, le=68)]
HotC = Annotated[float, Field(ge=20, le=70)]
HotF = Annotated[float, Field(ge=68, le=158)]

_UNSEEN = ("Cf", "Zl", "Zp")  # of Unicode's categories
_JOINERS = "\u200c\u200d"  # some scripts are not written without them
MEANS_ELSE = ("all", "home")  # in notes and answers


def _seen_as_written(value: str) -> str:
    """A name without characters that are not seen, or that turn the order of others."""
    unseen = (c for c in value if unicodedata.category(c) in _UNSEEN and c not in _JOINERS)
    if (found := next(unseen, None)) is not None:
        raise ValueError(f"has a character that is not seen, U+{ord(found):04X}; leave it out")
    return value


def _means_nothing_else(value: str) -> str:
    if value.casefold() in MEANS_ELSE:
        raise ValueError("has a meaning of its own in notes; choose another name")
    return value


Name = Annotated[
    str,
    StringConstraints(
        strip_whitespace=True, min_length=1, max_length=40, pattern=r"^[^\x00-\x1f\x7f]*$"
    ),
    AfterValidator(_seen_as_written),
]
NameOfOne = Annotated[Name, AfterValidator(_means_nothing_else)]  # of a tree or a spot


def name_fault(name: str) -> str | None:
    """Return why a tree or spot cannot have this name; None if it can."""
    try:
        _means_nothing_else(_seen_as_written(name))
    except ValueError as fault:
        return str(fault)
    return None


class Table(Model):
    """A section of the file; of each group in ``alternatives`` only one key may be given."""

    model_config = ConfigDict(allow_inf_nan=False)
    alternatives: ClassVar[tuple[tuple[str, ...], ...]] = ()


class LimitsTable(Table):
    """``[tree.limits]`` and ``[limits.spot."NAME"]``"""

    alternatives = (
        ("leaf_frost_c", "leaf_frost_f"),
        ("bud_frost_c", "bud_frost_f"),
        ("hardened_frost_c", "hardened_frost_f"),
        ("dormant_tops_c", "dormant_tops_f"),
        ("root_frost_c", "root_frost_f"),
        ("air_min_c", "air_min_f"),
        ("leaf_hot_c", "leaf_hot_f"),
        ("root_hot_c", "root_hot_f"),
        ("gust_ms", "gust_mph"),
    )

    leaf_frost_c: LeafFrostC | None = None
    leaf_frost_f: LeafFrostF | None = None
    bud_frost_c: LeafFrostC | None = None
    bud_frost_f: LeafFrostF | None = None
    hardened_frost_c: FrostC | None = None
    hardened_frost_f: FrostF | None = None
    dormant_tops_c: WoodC | None = None
    dormant_tops_f: WoodF | None = None
    root_frost_c: FrostC | None = None
    root_frost_f: FrostF | None = None
    air_min_c: AirC | None = None
    air_min_f: AirF | None = None
    leaf_hot_c: HotC | None = None
    leaf_hot_f: HotF | None = None
    root_hot_c: HotC | None = None
    root_hot_f: HotF | None = None
    gust_ms: Annotated[float, Field(gt=0, le=60)] | None = None
    gust_mph: Annotated[float, Field(gt=0, le=134)] | None = None


class KinTable(LimitsTable):
    """``[limits.class."NAME"]`` and ``[limits.species."NAME"]``: for all trees of that kind."""

    act_from: Share | None = None
    kill_from: Share | None = None
    flowers_from: ShareOrNever | None = None


class KinsTable(Table):
    """``[limits]``: tables by the name of a hardiness class, a species or a spot."""

    classes: dict[str, KinTable] = Field(default_factory=dict, alias="class")
    species: dict[str, KinTable] = Field(default_factory=dict)
    spot: dict[str, LimitsTable] = Field(default_factory=dict)
