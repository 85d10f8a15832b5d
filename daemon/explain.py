"""Why one tree was, or was not, told: what it can bear, what it will feel, what would flip it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import numpy as np

from underbench.daemon.outlook import Outlook, act_from, remedies, run_rows
from underbench.daemon.store import EpisodeRow
from underbench.daemon.telling import hazard_words, quantity
from underbench.daemon.terminal import table
from underbench.daemon.units import Units
from underbench.rules.advice import by_risk, do_by
from underbench.rules.aftercare import Aftercare, care_of
from underbench.rules.course import Row
from underbench.rules.findings import Finding, Strength
from underbench.rules.judge import bearings_on, left_of
from underbench.rules.limits import Bearing, Condition, Limit, MeasuredOn
from underbench.rules.places import Place
from underbench.rules.species import catalogue
from underbench.rules.weather import Array

_SKY_STEP, _WIND_STEP = 0.2, 1.5


@dataclass(frozen=True, slots=True)
class _Felt:
    """One line of what a tree will feel: the exposure, and whether its low or high end matters."""

    words: str
    name: str
    low: bool
    kind: MeasuredOn


_FELT = (
    _Felt("air at the spot, lowest", "air_c", True, MeasuredOn.AIR),
    _Felt("leaf or bud, lowest", "leaf_c", True, MeasuredOn.LEAF),
    _Felt("leaf or bud, highest", "leaf_c", False, MeasuredOn.LEAF),
    _Felt("root ball's edge, lowest", "shell_c", True, MeasuredOn.SHELL),
    _Felt("root ball's edge, highest", "shell_c", False, MeasuredOn.SHELL),
    _Felt("its sunny wall, highest", "wall_c", False, MeasuredOn.SHELL),
    _Felt("inside the bag, highest", "bag_c", False, MeasuredOn.BAG),
    _Felt("gust at the bench, highest", "gust_ms", False, MeasuredOn.GUST),
    _Felt("water left, lowest", "water_left", True, MeasuredOn.WATER),
)


class Explainer:
    """Explains one tree of an outlook."""

    def __init__(self, outlook: Outlook, row: int) -> None:
        self._outlook = outlook
        self._row = row
        self._tree = outlook.settings.trees[row]
        self._at = outlook.standing[row]
        self._units = Units(outlook.settings.units)
        self._zone = ZoneInfo(outlook.settings.garden.timezone)

    def text(self, episodes: list[EpisodeRow]) -> str:
        """The whole explanation."""
        return "\n".join(
            [
                self._who(),
                *self._aftercare(),
                "",
                "What it can bear today:",
                *self._limits(),
                "",
                "What it will feel in the coming days (middle of 20 weathers; 1 in 10 is beyond):",
                self._feels(),
                "",
                *self._decision(episodes),
                "",
                f"Forecast of {self._when(self._outlook.supplied.fetched_at)}. "
                f"{self._outlook.supplied.attribution}.",
            ]
        )

    def _who(self) -> str:
        tree, pot = self._tree, self._tree.container
        home = "" if self._at.spot == tree.spot else f", home {tree.spot}"
        return (
            f"{tree.name}: {tree.species} {tree.cultivar}".rstrip()
            + f", {self._units.volume(pot.litres)} {pot.kind} on {self._at.spot}{home}, "
            + f"{self._outlook.stage(self._row)} (judged at the early edge)."
        )

    def _aftercare(self) -> Iterator[str]:
        care: Aftercare = self._condition.aftercare
        if care.roots and care.floor_c is not None:
            asked = care_of(care.roots)
            warmth = float(self._outlook.state.root_warmth_cd[self._row])
            need = asked.root_warmth_cd if asked else 0
            yield (
                f"Roots open since {care.roots.work} on {care.roots.at:%d %B}: no colder than "
                f"{self._units.temp(care.floor_c)} at the root ball's edge; "
                f"{warmth:.0f} of {need:.0f} °C·d above 6 °C gained."
            )
        if care.shelter:
            work = care.shelter
            yield f"Out of strong sun and wind since {work.work} on {work.at:%d %B}."
        if care.bagged:
            yield f"In its bag since {self._at.bagged_since:%d %B}."
        if care.after_bag:
            yield f"Fresh out of its bag ({care.after_bag.at:%d %B}): leaves not used to sun."
        if care.soft_shoots:
            yield f"Soft shoots since {care.soft_shoots.work} on {care.soft_shoots.at:%d %B}."

    @property
    def _condition(self) -> Condition:
        return next(iter(self._outlook.course.conditions.values()))[self._row]

    def _limits(self) -> Iterator[str]:
        course = self._outlook.course
        today = next(iter(course.conditions))
        bearing: Bearing = bearings_on(self._outlook.setting, course, today)[self._row]
        for field in Bearing.__dataclass_fields__:
            limit = getattr(bearing, field)
            if isinstance(limit, Limit):
                harm, kill = self._value(limit.harm, limit), self._value(limit.kill, limit)
                what = f"{field.replace('_', ' ')}, on {limit.measured_on}"
                yield f"  {what}: harm {harm}, kill {kill}"
                for layer in limit.trail:
                    at = f"{self._value(layer.harm, limit)} / {self._value(layer.kill, limit)}"
                    yield f"      {layer.what}: {at} ({_source(layer.source)})"

    def _feels(self) -> str:
        rows = []
        for felt in _FELT:
            values = getattr(self._outlook.course.exposure, felt.name)[self._row]
            if np.isnan(values).all():
                continue
            worst = values.min(axis=1) if felt.low else values.max(axis=1)
            low, middle, high = np.quantile(worst, [0.1, 0.5, 0.9])
            rows.append(
                [
                    felt.words,
                    self._shown(middle, felt.kind),
                    f"{self._shown(low, felt.kind)} to {self._shown(high, felt.kind)}",
                    self._when(self._worst_at(values, felt.low)),
                ]
            )
        return table(
            ["  " + "on", "middle", "range", "about"], [["  " + r[0], *r[1:]] for r in rows]
        )

    def _worst_at(self, values: Array, low: bool) -> datetime:
        middle = np.median(values, axis=0)
        hour = int(middle.argmin() if low else middle.argmax())
        return datetime.fromtimestamp(int(self._outlook.course.times[hour]), tz=UTC)

    def _decision(self, episodes: list[EpisodeRow]) -> Iterator[str]:
        mine = sorted((f for f in self._outlook.findings if f.tree == self._tree.name), key=by_risk)
        if not mine:
            yield "Nothing to do: no limit is crossed in as many as one weather of ten."
            return
        told = {(e.hazard, e.span_start): e for e in episodes if e.tree == self._tree.name}
        for finding in mine:
            yield self._found(finding, told.get((finding.hazard.value, finding.span.start)))
        yield from self._help(mine)
        yield from self._flips(mine[0])

    def _help(self, mine: Sequence[Finding]) -> Iterator[str]:
        """What helps against the gravest finding and those of its action; nothing for notices."""
        acting = [f for f in mine if f.strength is not Strength.NOTICE]
        acting = [f for f in acting if f.action is acting[0].action]
        if not acting:
            return
        settings, now = self._outlook.settings, self._outlook.now
        deadline, _ = do_by(acting[0], settings.garden, settings.hands_on, now)
        choice = remedies(self._outlook, acting, deadline).get(self._tree.name)
        if choice:
            enough = "enough" if choice.suffices else "the best there is, not enough"
            left = f": leaves {self._shown(choice.left, choice.measured_on)}"
            left = "" if np.isnan(choice.left) else left  # an opened bag has no inside
            chance = f"chance of harm then {choice.chance:.0%}"
            yield f"What helps: {choice.remedy.words} ({enough}{left}; {chance})."

    def _found(self, finding: Finding, episode: EpisodeRow | None) -> str:
        told = "not told"
        if episode and episode.told_at:
            told = f"told {self._when(episode.told_at)}"
        elif finding.strength is Strength.NOTICE:
            told = (
                f"under the act-from chance of {act_from(self._outlook.settings, self._tree):.0%}"
            )
        return (
            f"{finding.action.upper()}, {finding.strength}: {hazard_words(finding.hazard)} "
            f"{self._shown(finding.worst, finding.limit.measured_on)} at "
            f"{self._when(finding.worst_at)}, "
            f"limit {self._value(finding.limit.harm, finding.limit)}, "
            f"chance {finding.chance:.0%} (of losing it {finding.kill_chance:.0%}); {told}."
        )

    def _flips(self, finding: Finding) -> Iterator[str]:
        """Which input, were it otherwise, would change whether this finding is acted on."""
        place = self._outlook.place(self._row, self._at.spot)
        threshold = act_from(self._outlook.settings, self._tree)
        acts = finding.chance >= threshold
        variants = list(_variants(place))
        rows = [Row(self._tree, other) for _, other in variants]
        course = run_rows(self._outlook, rows, [self._row] * len(rows))
        shares, _ = left_of(self._outlook.setting, course, self._outlook.site, finding)
        flips = [
            f"{words} (chance {share:.0%})"
            for (words, _), share in zip(variants, shares.tolist(), strict=True)
            if (share >= threshold) != acts
        ]
        if not flips:
            yield "Firm: no other sky view (±0.2) or shelter (half as much again) changes it."
            return
        yield f"It would {'not ' if acts else ''}be acted on with {' or '.join(flips)}."

    def _when(self, moment: datetime) -> str:
        return f"{moment.astimezone(self._zone):%a %d %b %H:%M}"

    def _value(self, value: float, limit: Limit) -> str:
        return self._shown(value, limit.measured_on)

    def _shown(self, value: float, kind: MeasuredOn) -> str:
        return quantity(value, kind, self._units)


def _variants(place: Place) -> Iterator[tuple[str, Place]]:
    for step in (-_SKY_STEP, _SKY_STEP):
        sky = min(1.0, max(0.0, place.sky_view + step))
        yield f"sky view {sky:.1f} instead of {place.sky_view:.1f}", replace(place, sky_view=sky)
    for factor in (1 / _WIND_STEP, _WIND_STEP):
        wind = min(1.0, place.wind_factor * factor)
        words = f"wind factor {wind:.2f} instead of {place.wind_factor:.2f}"
        yield words, replace(place, wind_factor=wind)


def _source(key: str) -> str:
    source = catalogue().sources.get(key)
    return f"{key}, {source.read}" if source else key
