"""Which trees lived, by work and species, with the weather of the aftercare; and their lineage."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import sqrt
from typing import Any

import numpy as np

from underbench.daemon.config.settings import Settings
from underbench.daemon.outlook.garden_now import journal_at, species_of
from underbench.daemon.store.store import Store
from underbench.daemon.wording.json_form import document, part
from underbench.daemon.wording.tables import Columns, table
from underbench.daemon.wording.units import Units
from underbench.rules.garden.inventory import Tree
from underbench.rules.garden.journal import (
    Entry,
    FlowersSeen,
    Outcome,
    Sighting,
    TreeAt,
    Work,
    fold,
)
from underbench.rules.garden.works import WorkKind
from underbench.rules.limits.aftercare import CUTS, SOFT_SHOOTS, care_of
from underbench.rules.weather.hourly import Array, Weather

ENOUGH = 5  # with so many cases, a share is given with its range
Z95 = 1.96
JUDGED_AFTER = timedelta(weeks=4)  # sooner, nobody knows whether the tree lived; judgement
LOST_WITHIN = timedelta(days=365)  # a later loss is not counted against the work; judgement
LEAST_KNOWN = 0.9  # the weather is given if this share of its hours is known
FROST_C, HEAT_C, DRY_MM = 0.0, 30.0, 0.2  # screen air; the WMO's hot day is from memory
DAY_H = 24
CUT_BACK = (*CUTS, WorkKind.BAG)
NOTHING = (
    "No work can be judged yet. A work is judged after four weeks, or when its tree is noted as "
    "lost"
)
BY_COMMAND = " (underbench outcome TREE lost)."
DAYS = {"frost_days": "frost", "hot_days": "hot", "dry_days": "dry"}


@dataclass(frozen=True, slots=True)
class Felt:
    """The weather of one aftercare: all its days, and its days with frost, hot days, dry days."""

    days: int
    frost: int
    hot: int
    dry: int


@dataclass(frozen=True, slots=True)
class Case:
    """One work on one tree, and whether the tree lived through the year after it. ``lived`` is None
    if no later note shows it: no work, no stage, no outcome."""

    work: Work
    species: str
    lived: bool | None
    felt: Felt | None


@dataclass(frozen=True, slots=True)
class Group:
    """The cases of one work on one species."""

    work: str
    species: str
    cases: tuple[Case, ...]

    @property
    def judged(self) -> int:
        """The number of cases in which it is known whether the tree lived."""
        return sum(case.lived is not None for case in self.cases)

    @property
    def lived(self) -> int:
        """The number of cases in which the tree is known to have lived."""
        return sum(case.lived is True for case in self.cases)

    @property
    def felt(self) -> list[Felt]:
        """The weather of the cases for which it was kept."""
        return [case.felt for case in self.cases if case.felt is not None]

    def mean(self, name: str) -> float:
        """Return the mean number of days of one sort in the aftercare."""
        return float(np.mean([getattr(felt, name) for felt in self.felt]))


def wilson(lived: int, cases: int) -> tuple[float, float]:
    """Return the 95 % interval of a share, 0..1, from ``lived`` of ``cases`` > 0.

    Wilson 1927, J. Am. Stat. Assoc. 22:209–212 (from memory).
    """
    share, z2 = lived / cases, Z95**2
    middle = (share + z2 / (2 * cases)) / (1 + z2 / cases)
    half = Z95 * sqrt(share * (1 - share) / cases + z2 / (4 * cases**2)) / (1 + z2 / cases)
    return max(0.0, middle - half), min(1.0, middle + half)


def seasons(settings: Settings, store: Store, now: datetime) -> list[Group]:
    """Return the cases of all works old enough to judge, by work and species. Raises StoreError."""
    groups: dict[tuple[str, str], list[Case]] = {}
    for case in _cases(settings, store, journal_at(settings, store, now), now):
        groups.setdefault((case.work.work, case.species), []).append(case)
    return [Group(*key, tuple(own)) for key, own in sorted(groups.items())]


def made_of(trees: Sequence[Tree]) -> dict[str, list[str]]:
    """Return the names of the trees that were severed or divided from each parent."""
    made: dict[str, list[str]] = {}
    for tree in trees:
        if tree.parent:
            made.setdefault(tree.parent, []).append(tree.name)
    return made


def _cases(
    settings: Settings, store: Store, journal: Sequence[Entry], now: datetime
) -> Iterator[Case]:
    for tree in settings.trees:
        standing = fold(tree, journal, now)
        lost_at = _lost_at(standing, journal)
        for work in standing.works:
            weeks = _weeks(work)
            if not weeks or (lost_at is None and now - work.at < JUDGED_AFTER):
                continue
            if lost_at is not None and lost_at < work.at:
                continue
            until = min(work.at + timedelta(weeks=weeks), lost_at or now, now)
            lived = _lived(work, lost_at, _last_alive(tree, journal))
            yield Case(
                work, species_of(tree).name, lived, _felt(store.hours.between(work.at, until))
            )


def _weeks(work: Work) -> float:
    """How long a work's aftercare is. After a hard cut or a bag it lasts while shoots are soft."""
    if work.work in CUT_BACK:
        return SOFT_SHOOTS / timedelta(weeks=1)
    care = care_of(work)
    return max(care.root_weeks, care.shelter_weeks) if care is not None else 0.0


def _lived(work: Work, lost_at: datetime | None, alive_at: datetime | None) -> bool | None:
    if lost_at is not None:
        return lost_at - work.at > LOST_WITHIN
    return True if alive_at is not None and alive_at - work.at >= JUDGED_AFTER else None


def _last_alive(tree: Tree, journal: Sequence[Entry]) -> datetime | None:
    """When the keeper last noted a work, a stage or an outcome: these show that a tree lives."""
    mine = [entry for entry in journal if entry.tree == tree.name]
    shown = (
        entry.at for entry in mine if isinstance(entry, Work | Sighting | FlowersSeen | Outcome)
    )
    return max(shown, default=None)


def _lost_at(standing: TreeAt, journal: Sequence[Entry]) -> datetime | None:
    """When the keeper found the tree dead; None while it lives."""
    if not standing.lost:
        return None
    mine = (e.at for e in journal if e.tree == standing.tree.name and e.kind == "outcome")
    return max(mine)


def _felt(hours: Weather) -> Felt | None:
    """The days of a one-member weather by sort; None if too few of its hours are known."""
    whole = len(hours.times) // DAY_H
    if whole == 0 or np.isfinite(hours.air_c[0]).mean() < LEAST_KNOWN:
        return None
    air_c, rain_mm = (v[0, : whole * DAY_H].reshape(whole, DAY_H) for v in _read(hours))
    low_c, high_c = np.nanmin(air_c, axis=1), np.nanmax(air_c, axis=1)
    dry = np.nansum(rain_mm, axis=1) < DRY_MM
    return Felt(whole, int((low_c < FROST_C).sum()), int((high_c >= HEAT_C).sum()), int(dry.sum()))


def _read(hours: Weather) -> tuple[Array, Array]:
    # An unknown day counts as neither frost nor hot.
    mild = np.where(np.isfinite(hours.air_c), hours.air_c, np.nanmean(hours.air_c))
    return mild, hours.rain_mm


def seasons_text(groups: Sequence[Group], made: Mapping[str, Sequence[str]], units: Units) -> str:
    """Return cases and lineage as text."""
    cases = (
        "\n".join([table(*columns(groups)), *counted_so(units)]) if groups else NOTHING + BY_COMMAND
    )
    return "\n\n".join(part for part in (cases, "\n".join(lineage(made))) if part)


def lineage(made: Mapping[str, Sequence[str]]) -> list[str]:
    """Return which trees came from which."""
    return [f"From {parent}: {', '.join(names)}." for parent, names in made.items()]


def seasons_json(groups: Sequence[Group], made: Mapping[str, Sequence[str]]) -> str:
    """Return cases and lineage as JSON; shares 0 to 1."""
    lineage = [{"tree": name, "from_tree": parent} for parent in made for name in made[parent]]
    return document({"groups": [_group_json(one) for one in groups], "lineage": lineage})


def likely(group: Group) -> tuple[float, float] | None:
    """Return between which shares the share that lives likely lies; None of too few cases."""
    return wilson(group.lived, group.judged) if group.judged >= ENOUGH else None


def _group_json(group: Group) -> dict[str, Any]:
    low, high = likely(group) or (None, None)
    return {
        **part(group, "work", "species"),
        "cases": len(group.cases),
        **part(group, "judged", "lived"),
        "low": low,
        "high": high,
        "weather_kept": len(group.felt),
        **{name: group.mean(field) if group.felt else None for name, field in DAYS.items()},
    }


def columns(groups: Sequence[Group]) -> Columns:
    """Return a row for each work and species."""
    rows = [(one.work, one.species, _lived_words(one), _weather(one)) for one in groups]
    return Columns(("work", "species", "lived", "mean weather of the aftercare"), rows)


def counted_so(units: Units) -> list[str]:
    """Return how days and trees are counted."""
    return [
        f"A frost day goes below {units.temp(FROST_C)}, a hot one reaches {units.temp(HEAT_C)}, "
        "in the garden's air: a tree under cover had less of it.",
        "A tree counts as living if you noted a work, a stage or an outcome for it four weeks "
        "later or more, and it was not lost within a year.",
    ]


def _lived_words(group: Group) -> str:
    unheard = len(group.cases) - group.judged
    more = f"; of {unheard} nothing was noted since" if unheard else ""
    if not group.judged:
        return f"not known of {unheard}: nothing was noted since"
    count = f"{group.lived} of {group.judged}"
    between = likely(group)
    if between is None:
        return f"{count}; too few to say{more}"
    return f"{count}; {between[0]:.0%} to {between[1]:.0%} likely{more}"


def _weather(group: Group) -> str:
    if not group.felt:
        return "not kept"
    words = ", ".join(f"{group.mean(field):.0f} {_called(field)}" for field in DAYS.values())
    known, cases = len(group.felt), len(group.cases)
    return words if known == cases else f"{words} ({known} of {cases} kept)"


def _called(field: str) -> str:
    return "frost days" if field == "frost" else field
