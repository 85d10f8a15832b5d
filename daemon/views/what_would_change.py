"""What would turn a decision: each input is varied and run through the same physics.

An input differs from now on only: what the root ball and the pot hold now stays as it is.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime

import numpy as np

from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.outlook.worst_hazard import Pressing, acts, chances_of
from underbench.rules.course.course import Course, follow
from underbench.rules.course.inputs import Row, Setting
from underbench.rules.garden.inventory import ContainerKind, Standing, Tree
from underbench.rules.garden.journal import Entry, Sighting, Stage, Work
from underbench.rules.garden.works import WorkKind
from underbench.rules.hazards.judge import judged_over, rivals_of
from underbench.rules.limits.aftercare import cuts_roots
from underbench.rules.physics.cover import CoverKind
from underbench.rules.physics.places import Place
from underbench.rules.physics.pot_water import capacity_l
from underbench.rules.physics.state import refilled
from underbench.rules.plants.stages import STAGES
from underbench.rules.weather.hourly import HOUR_S

SHARES_TRIED = tuple(np.linspace(0.0, 1.0, 11).tolist())
LITRES_TRIED = tuple((2.0 ** np.arange(-3.0, 3.01, 0.5)).tolist())  # times the present litres
FINER = 9  # so many values are tried between one that leaves the decision and one that turns it
BENCH_M = 0.8


@dataclass(frozen=True, slots=True)
class Flip:
    """One input that turns the decision. ``of`` is its value now. ``to`` is the nearest value that
    turns it, with the ``chance`` of harm there. Values are shares, litres, m, or words."""

    what: str
    of: float | str
    to: float | str
    chance: float


@dataclass(frozen=True, slots=True)
class _Variant:
    what: str
    value: float | str
    tree: Tree
    journal: tuple[Entry, ...]
    place: Place | None = None


def flips(outlook: Outlook, row: int, pressing: Pressing) -> list[Flip]:
    """Return the inputs that would turn the decision on what presses the tree at ``row``."""
    return _Trials(outlook, row, pressing).all()


class _Trials:
    """Runs many variants of one tree at once."""

    def __init__(self, outlook: Outlook, row: int, pressing: Pressing) -> None:
        self._outlook, self._row, self._pressing = outlook, row, pressing
        at = outlook.standing[row]
        self._place, self._tree = outlook.stands(row), at.tree
        self._chances = chances_of(outlook, at.tree)
        self._begins = datetime.fromtimestamp(int(outlook.weather.times[0]) - HOUR_S, tz=UTC)
        self._weather = outlook.weather.between(self._begins, pressing.span.end)
        self._hazards = rivals_of(pressing.hazard)
        # The present container is made the tree's own, so that a variant can change it.
        self._journal = tuple(
            entry.model_copy(update={"into": None}) if isinstance(entry, Work) else entry
            for entry in outlook.journal
            if entry.tree == at.tree.name
        )

    def all(self) -> list[Flip]:
        """Try every input, then finer values where the decision turns."""
        variants = [self._as_it_is(), *self._numbers(), *self._words()]
        judged = self._judged(variants)
        self._acts = judged[0][1]
        by_input: dict[str, list[tuple[_Variant, float, bool]]] = {}
        for variant, (chance, acted) in zip(variants[1:], judged[1:], strict=True):
            by_input.setdefault(variant.what, []).append((variant, chance, acted))
        finer = [v for tried in by_input.values() for v in self._between(tried)]
        for variant, (chance, acted) in zip(finer, self._judged(finer), strict=True):
            by_input[variant.what].append((variant, chance, acted))
        nearest = {what: self._nearest(tried) for what, tried in by_input.items()}
        return [
            Flip(what, self._is(what), one[0].value, one[1])
            for what, one in nearest.items()
            if one is not None
        ]

    def _as_it_is(self) -> _Variant:
        return _Variant("", "", self._tree, self._journal, self._place)

    def _is(self, what: str) -> float | str:
        care = self._outlook.course.take([self._row])
        condition = next(iter(care.conditions.values()))[0]
        return {
            "sky view": self._place.sky_view,
            "wind factor": self._place.wind_factor,
            "litres": self._tree.container.litres,
            "height": self._place.height_m,
            "stage": condition.stage.value,
            "roots": "not taken" if condition.aftercare.roots else "taken",
        }[what]

    def _numbers(self) -> Iterator[_Variant]:
        for what in ("sky view", "wind factor"):
            yield from (self._with(what, share) for share in SHARES_TRIED)
        if self._tree.container.kind is ContainerKind.BED:
            return
        litres = self._tree.container.litres
        yield from (self._with("litres", litres * share) for share in LITRES_TRIED if share != 1.0)
        if self._place.cover is CoverKind.OPEN:
            yield self._with("height", 0.0 if self._place.height_m > 0 else BENCH_M)

    def _with(self, what: str, value: float) -> _Variant:
        """The tree with one number changed."""
        tree, place = self._tree, self._place
        if what == "sky view":
            place = replace(place, sky_view=value)
        elif what == "wind factor":
            place = replace(place, wind_factor=value)
        elif what == "height":
            standing = Standing.BENCH if value else Standing.GROUND
            place = replace(place, height_m=value, standing=standing)
        else:
            pot = tree.container.model_copy(update={"litres": value})
            tree = tree.model_copy(update={"container": pot})
        return _Variant(what, value, tree, self._journal, place)

    def _words(self) -> Iterator[_Variant]:
        kind = self._outlook.setting.species[self._tree.name].limits.kind
        order, here = STAGES[kind], self._is("stage")
        at = next((n for n, stage in enumerate(order) if stage.value == here), 0)
        for stage in (*order[max(0, at - 1) : at], *order[at + 1 : at + 2]):
            yield self._noted("stage", stage.value, [self._sighting(stage)])
        if self._is("roots") == "taken":
            yield self._noted("roots", "just repotted", [self._repot()])
        else:
            kept = [e for e in self._journal if not (isinstance(e, Work) and cuts_roots(e))]
            yield _Variant("roots", "taken", self._tree, tuple(kept), self._place)

    def _noted(self, what: str, value: str, more: Sequence[Entry]) -> _Variant:
        return _Variant(what, value, self._tree, (*self._journal, *more), self._place)

    def _sighting(self, stage: Stage) -> Sighting:
        return Sighting(tree=self._tree.name, at=self._begins, stage=stage)

    def _repot(self) -> Work:
        return Work(tree=self._tree.name, at=self._begins, work=WorkKind.REPOT)

    def _between(self, tried: Sequence[tuple[_Variant, float, bool]]) -> list[_Variant]:
        """Values between the nearest value that turns the decision and the one before it."""
        flipped = self._nearest(tried)
        if flipped is None or isinstance(flipped[0].value, str) or flipped[0].what == "height":
            return []
        what, far = flipped[0].what, flipped[0].value
        now = float(self._is(what))
        inside = [
            float(v.value) for v, _, _ in tried if min(now, far) < float(v.value) < max(now, far)
        ]
        near = max(inside, default=now) if far > now else min(inside, default=now)
        return [
            self._with(what, value) for value in np.linspace(near, far, FINER + 2)[1:-1].tolist()
        ]

    def _nearest(
        self, tried: Sequence[tuple[_Variant, float, bool]]
    ) -> tuple[_Variant, float, bool] | None:
        turned = [one for one in tried if one[2] != self._acts]
        if not turned or isinstance(turned[0][0].value, str):
            return turned[0] if turned else None
        now, ratio = float(self._is(turned[0][0].what)), turned[0][0].what == "litres"

        def far(one: tuple[_Variant, float, bool]) -> float:
            value = float(one[0].value)
            return abs(float(np.log(value / now))) if ratio else abs(value - now)

        return min(turned, key=far)

    def _judged(self, variants: Sequence[_Variant]) -> list[tuple[float, bool]]:
        """The chance of harm of each variant, and whether it is acted on."""
        if not variants:
            return []
        course, setting = self._run(variants)
        outlook, span = self._outlook, self._pressing.span
        judged = [j for _, j in judged_over(setting, course, outlook.site, span, self._hazards)]
        harmed = np.max([(j.harm | j.kill).any(axis=2).mean(axis=1) for j in judged], axis=0)
        killed = np.max([j.kill.any(axis=2).mean(axis=1) for j in judged], axis=0)
        return [
            (harm, acts(self._chances, harm, kill))
            for harm, kill in zip(harmed.tolist(), killed.tolist(), strict=True)
        ]

    def _run(self, variants: Sequence[_Variant]) -> tuple[Course, Setting]:
        """Run all variants. Each has a name of its own, and so its own journal."""
        names = [f"{self._tree.name} {number}" for number in range(len(variants))]
        trees = [
            one.tree.model_copy(update={"name": name})
            for one, name in zip(variants, names, strict=True)
        ]
        journal = [
            entry.model_copy(update={"tree": name})
            for one, name in zip(variants, names, strict=True)
            for entry in one.journal
        ]
        kind = self._outlook.setting.species[self._tree.name]
        setting = replace(self._outlook.setting, species=dict.fromkeys(names, kind))
        start = self._outlook.state.take([self._row] * len(variants))
        start = refilled(start, capacity_l([tree.container for tree in trees]))
        rows = [
            Row(tree, one.place, spot=self._outlook.standing[self._row].spot)
            for tree, one in zip(trees, variants, strict=True)
        ]
        return follow(setting, rows, journal, start, self._weather, self._outlook.site), setting
