"""The garden as the page shows it: benches, the trees on them, and what comes to each tree."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from operator import itemgetter
from typing import Any

from underbench.daemon.config.settings import Settings
from underbench.daemon.outlook.garden_now import species_of
from underbench.rules.garden.journal import Stage, TreeAt
from underbench.rules.hazards.findings import Strength
from underbench.rules.limits.aftercare import care_of
from underbench.rules.limits.layering import EVERGREEN
from underbench.rules.plants.species import Kind

RANK = {None: 0, Strength.NOTICE.value: 1, Strength.ACT.value: 2, Strength.DANGER.value: 3}
FEW = 12
SEVERAL, SIDE_BY_SIDE = 60, 3  # more trees than several stand in so many tables
EVENING_FROM = 15  # o'clock; from then on the first day is shown as its night


@dataclass(frozen=True)
class Shown:
    """One tree as it stands, and what the last pass saw coming, day by day."""

    at: TreeAt
    stage: str
    open_work: str
    days: Sequence[Mapping[str, Any] | None]
    hours: Sequence[Sequence[Any]] = ()

    @property
    def name(self) -> str:
        """The tree's name."""
        return self.at.tree.name

    @property
    def tonight(self) -> Mapping[str, Any] | None:
        """The worst finding of today and tonight."""
        return self.days[0] if self.days else None

    @property
    def form(self) -> str:
        """How the tree is drawn: a bag, a conifer, bare, or in leaf."""
        if self.at.bag is not None:
            return "bagged"
        kind = species_of(self.at.tree).limits.kind
        if kind in EVERGREEN:
            return "conifer" if kind is Kind.CONIFER_EVERGREEN else "leafy"
        return "bare" if self.stage in (Stage.DORMANT, Stage.BUD_SWELL) else "leafy"

    @property
    def worst(self) -> int:
        """The strength of its gravest day: 0 none, 1 notice, 2 act, 3 danger."""
        return max((RANK[day["strength"]] for day in self.days if day), default=0)


@dataclass(frozen=True)
class Coming:
    """What comes to trees of one bench on one day. The words are those of the tree most at risk,
    which is named first."""

    day: int
    strength: str
    what: str
    value: str
    chance: float
    trees: tuple[str, ...]


@dataclass(frozen=True)
class Bench:
    """A spot with its trees. ``air`` holds, for each day, the warmest air there and the coldest of
    the night after it, in words."""

    name: str
    kind: str
    trees: Sequence[Shown]
    air: Sequence[Sequence[str | None]]

    @property
    def calm(self) -> list[str]:
        """The trees to which nothing comes."""
        return [tree.name for tree in self.trees if not tree.worst]

    @property
    def coming(self) -> list[Coming]:
        """What comes to the bench's trees, day by day, the gravest first. Notices are shown only if
        there is nothing else."""
        least = 2 if any(tree.worst > 1 for tree in self.trees) else 1
        groups: dict[tuple[int, int, str], list[tuple[float, str, Mapping[str, Any]]]] = {}
        for tree in self.trees:
            for number, day in enumerate(tree.days):
                if day and RANK[day["strength"]] >= least:
                    key = (number, -RANK[day["strength"]], day["what"])
                    groups.setdefault(key, []).append((-day["chance"], tree.name, day))
        return [_coming(key[0], sorted(groups[key], key=itemgetter(0))) for key in sorted(groups)]


def shown_trees(standing: Sequence[TreeAt], ahead: Mapping[str, Any]) -> list[Shown]:
    """Return the living trees, with what ``ahead`` (as the last pass kept it) says of each."""
    known = ahead.get("trees", {})
    return [_shown(at, known.get(at.tree.name, {})) for at in standing if not at.lost]


def _shown(at: TreeAt, known: Mapping[str, Any]) -> Shown:
    # A work noted since the last pass is open, whatever that pass knew.
    open_work = known.get("open") or ""
    last = at.works[-1] if at.works else None
    care = care_of(last) if last else None
    if last and care:
        weeks = max(care.root_weeks, care.shelter_weeks)
        if (at.at - last.at).days < 7 * weeks:
            open_work = last.work.value
    # Of a tree that was carried elsewhere since, the next pass says what it feels there.
    hours = known.get("hours", ()) if known.get("spot") == at.spot else ()
    return Shown(at, known.get("stage", ""), open_work, known.get("days", ()), hours)


def benches(
    settings: Settings, trees: Sequence[Shown], ahead: Mapping[str, Any]
) -> Iterator[Bench]:
    """Yield the spots with trees, in the file's order."""
    air = ahead.get("spots", {})
    for name, spot in settings.spots.items():
        here = [tree for tree in trees if tree.at.spot == name]
        if here:
            yield Bench(name, spot.kind.value, here, air.get(name, ahead.get("air", ())))


def tables(found: Sequence[Bench]) -> list[list[list[Shown]]]:
    """Return the trees to which something comes, bench by bench: in one table, or in several of
    the same length, each with its own head. There is always one."""
    trees = [(bench.name, tree) for bench in found for tree in bench.trees if tree.worst]
    each = -(-len(trees) // SIDE_BY_SIDE) if len(trees) > SEVERAL else max(1, len(trees))
    cuts = [trees[at : at + each] for at in range(0, len(trees), each)]
    return [
        [[tree for _, tree in own] for _, own in groupby(cut, key=itemgetter(0))]
        for cut in cuts or [[]]
    ]


def _coming(number: int, rows: Sequence[tuple[float, str, Mapping[str, Any]]]) -> Coming:
    first = rows[0][2]
    return Coming(
        day=number,
        strength=first["strength"],
        what=first["what"],
        value=first["value"],
        chance=first["chance"],
        trees=tuple(name for _, name, _ in rows),
    )


def few(names: Sequence[str]) -> str:
    """Return names as a list that stays short."""
    more = len(names) - FEW
    return ", ".join(names[:FEW]) + (f" and {more} more" if more > 0 else "")


def day_names(ahead: Mapping[str, Any], local_hour: int) -> list[str]:
    """Return the headings of the kept days; a day includes the night after it."""
    first = "tonight" if local_hour >= EVENING_FROM else "today"
    days = [date.fromisoformat(day) for day in ahead.get("days", ())]
    return [first if not n else f"{day:%a} {day.day}" for n, day in enumerate(days)]
