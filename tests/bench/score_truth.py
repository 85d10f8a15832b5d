"""What cold and wind really did, by plain published rules on the air as observed.

Nothing here is the daemon's: no leaf, no root ball, no clock of chill. So the rules are coarse, and
a tree that they call harmed may have come through; they are the same for whoever is scored.

Open leaves: screen air below -2.2 °C harms and below -3.9 °C kills (apple in full bloom, 10 and 90
% killed in half an hour: Penn State Extension, "Orchard Frost – Critical Temperatures for Various
Fruits", read; FAO's Frost Protection, Snyder & de Melo-Abreu 2005, takes over the same data). A
tree is in leaf from the day on which the day-degrees over 5 °C since 1 February (the thermal time
of Cannell & Smith 1983, J. Appl. Ecol. 20:951, abstract read) reach its genus' figure (from memory)
until 1 November (a calendar date: models of leaf fall do worse than one).

Roots in pots: the mean air of the hours that a pot follows, below the root-killing temperature of
its genus: Havis 1976, HortScience 11:385 (range read, rows from memory), for pine Lindström &
Stattin 1994, Can. J. For. Res. 24:2477 (abstract read), for birch and beech extension lists as
quoted. Roots grown since a work on them: -5 or -7 °C (Studer et al. 1978, from memory). Outside
December to February 5 K less (Lindström & Stattin's October, rounded). That pots follow air "within
hours" is read in a UMass Extension sheet; how many is judgement. What grows in the ground is not
judged.

Gale: a mean wind of 17.2 m/s at 10 m, Beaufort 8, "breaks twigs" (WMO), for pots on benches and
shelves. The olive is harmed below -5 and killed below -8 °C (FAO, subtropical fruit). The fig is
left out: one message in autumn is about it. Heat and drought have no such plain rule, and are not
judged.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from underbench.daemon.config.settings import Settings
from underbench.rules.garden.inventory import ContainerKind, SpotKind, Tree
from underbench.rules.garden.journal import Entry, Work
from underbench.rules.garden.local_time import Stretch, nights
from underbench.rules.garden.works import WorkKind
from underbench.rules.weather.hourly import Array, Weather

DAY = timedelta(days=1)
Night = tuple[str, datetime]  # a tree, and the noon at which its hazard night begins

LEAVES_C = (-2.2, -3.9)
OLIVE_C = (-5.0, -8.0)
LEAF_OUT_CD = {"Crataegus": 65, "Betula": 100, "Carpinus": 110, "Acer": 125, "Quercus": 175}
LEAF_OUT_CD |= {"Fagus": 215, "Larix": 80, "Malus": 90, "Prunus": 80, "Chaenomeles": 65}
LEAF_OUT_CD |= {"Ulmus": 110}
DEGREES_OVER_C, FROM_MONTH, LEAF_FALL_MONTH = 5.0, 2, 11
ROOTS_C = {"Acer": -10.0, "Buxus": -9.4, "Taxus": -12.2, "Juniperus": -17.8, "Fagus": -9.4}
ROOTS_C |= {"Rhododendron": -12.2, "Betula": -17.8, "Pinus": -20.0, "Olea": -5.0}
OTHER_ROOTS_C = -9.4  # the commonest row of Havis
YOUNG_C, YOUNG_CONIFER_C, UNHARDENED_K = -5.0, -7.0, 5.0
CONIFERS = ("Pinus", "Juniperus", "Taxus", "Larix")
YOUNG_FOR = timedelta(days=270)
ROOT_WORKS = (WorkKind.REPOT, WorkKind.DIVIDE, WorkKind.COLLECT, WorkKind.SEVER_LAYER)
POT_FOLLOWS_H = ((2.0, 6), (10.0, 12), (float("inf"), 24))  # up to so many litres
GALE_MS = 17.2
# What help is worth, K. Fleece: 1 to 2 a layer, common practice; the rest judgement.
WARMER_K = {SpotKind.UNDER_BENCH: 1.0, SpotKind.COLD_FRAME: 2.0, SpotKind.GREENHOUSE: 3.0}
WARMER_K |= {SpotKind.SHED: 4.0}
FLEECE_K, DOWN_K = 1.5, 0.5
TROPICAL = "Ficus"


@dataclass(frozen=True, slots=True)
class Harmed:
    """A tree harmed in one night: by what, when first, and whether killed."""

    by: str
    first_at: datetime
    killed: bool


class Truth:
    """A stretch of observed weather over the garden; ``harmed`` by tree and night, at home."""

    def __init__(
        self,
        settings: Settings,
        weather: Weather,
        entries: Sequence[Entry],
        span: tuple[datetime, datetime],
    ) -> None:
        self.settings, self._weather = settings, weather
        self._zone = ZoneInfo(settings.garden.timezone)
        self._trees = {tree.name: tree for tree in settings.trees}
        self._works = [entry for entry in entries if isinstance(entry, Work)]
        self._warm = dict(self._day_degrees())
        self._means = {hours: _running_mean(weather.air_c[0], hours) for _, hours in POT_FOLLOWS_H}
        self.nights = list(nights(*span, settings.garden.timezone))
        self.harmed = {
            (tree.name, night.start): harm
            for night in self.nights
            for tree in settings.trees
            if (harm := self.under(tree.name, night)) is not None
        }

    def under(
        self, tree: str, night: Stretch, warmer_k: float = 0.0, *, sheltered: bool = False
    ) -> Harmed | None:
        """Return what a night did to a tree in air warmer by so much; ``sheltered``: from wind."""
        one, hours = self._trees[tree], self._hours(night)
        if _genus(one) == TROPICAL or not len(hours):
            return None
        air_c, root_c = self._weather.air_c[0, hours] + warmer_k, self._root_air(one)[hours]
        found = [
            _harm("frost on open leaves", air_c, self._tops(one, night)),
            _harm("frost at the roots", root_c + warmer_k, self._roots(one, night)),
            None if sheltered else self._gale(one, hours),
        ]
        known = [part for part in found if part is not None]
        if not known:
            return None
        by, bad, _ = min(known, key=lambda part: part[1][0])
        first = datetime.fromtimestamp(int(self._weather.times[hours[bad[0]]]), tz=UTC)
        return Harmed(by, first, any(part[2] for part in known))

    def in_leaf(self, tree: str, day: date) -> bool:
        """Return whether the leaves of a tree are open on a local day."""
        needed = LEAF_OUT_CD.get(_genus(self._trees[tree]))
        if needed is None or not FROM_MONTH <= day.month < LEAF_FALL_MONTH:
            return False
        return self._warm.get(day, 0.0) >= needed

    def _day_degrees(self) -> Iterator[tuple[date, float]]:
        """Day-degrees over 5 °C since 1 February of its year, by local day."""
        days: dict[date, list[float]] = {}
        air_c = self._weather.air_c[0].tolist()
        for at, value in zip(self._weather.times.tolist(), air_c, strict=True):
            days.setdefault(datetime.fromtimestamp(at - 1, self._zone).date(), []).append(value)
        total = 0.0
        for day, values in days.items():
            total = 0.0 if (day.month, day.day) < (FROM_MONTH, 1) else total
            yield day, total
            total += max(0.0, float(np.mean(values)) - DEGREES_OVER_C)

    def _hours(self, night: Stretch) -> Array:
        bounds = [night.start.timestamp(), night.end.timestamp()]
        return np.arange(*np.searchsorted(self._weather.times, bounds, side="right"))

    def _tops(self, tree: Tree, night: Stretch) -> tuple[float, float] | None:
        if _genus(tree) == "Olea":
            return OLIVE_C
        return LEAVES_C if self.in_leaf(tree.name, self._day(night)) else None

    def _roots(self, tree: Tree, night: Stretch) -> tuple[float, float] | None:
        if tree.container.kind is ContainerKind.BED:
            return None
        conifer, limit_c = _genus(tree) in CONIFERS, ROOTS_C.get(_genus(tree), OTHER_ROOTS_C)
        if self._day(night).month not in (12, 1, 2):
            limit_c += UNHARDENED_K
        if any(
            work.tree == tree.name
            and work.work in ROOT_WORKS
            and timedelta(0) < night.start - work.at < YOUNG_FOR
            for work in self._works
        ):
            limit_c = max(limit_c, YOUNG_CONIFER_C if conifer else YOUNG_C)
        return limit_c, limit_c

    def _root_air(self, tree: Tree) -> Array:
        return self._means[next(h for most, h in POT_FOLLOWS_H if tree.container.litres < most)]

    def _gale(self, tree: Tree, hours: Array) -> tuple[str, Array, bool] | None:
        if self.settings.spots[tree.spot].kind not in (SpotKind.BENCH, SpotKind.SHELF):
            return None
        bad = np.flatnonzero(self._weather.wind_ms[0, hours] >= GALE_MS)
        return ("gale", bad, False) if len(bad) else None

    def _day(self, night: Stretch) -> date:
        """The day on which a night ends."""
        return night.end.astimezone(self._zone).date()


def _harm(
    by: str, value_c: Array, limits: tuple[float, float] | None
) -> tuple[str, Array, bool] | None:
    if limits is None:
        return None
    bad = np.flatnonzero(value_c < limits[0])
    return (by, bad, bool((value_c < limits[1]).any())) if len(bad) else None


def _running_mean(air_c: Array, hours: int) -> Array:
    """The mean of each hour and those before it, so many in all."""
    padded = np.concatenate([np.full(hours - 1, air_c[0]), air_c])
    return np.convolve(padded, np.ones(hours) / hours, mode="valid")


def _genus(tree: Tree) -> str:
    return tree.species.split()[0]
