"""Why one tree was, or was not, told: what it can bear, what it will feel, what would flip it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from math import isfinite
from zoneinfo import ZoneInfo

import numpy as np

from underbench.daemon.outlook.outlook import Outlook, act_from, remedies
from underbench.daemon.outlook.stages import stage_words
from underbench.daemon.outlook.worst_hazard import (
    Pressing,
    acts,
    chances_of,
    findings_of,
    most_pressing,
)
from underbench.daemon.store.episodes import EpisodeRow
from underbench.daemon.views.what_would_change import Flip, flips
from underbench.daemon.wording.tables import table
from underbench.daemon.wording.units import Units
from underbench.daemon.wording.vocabulary import at_spot, quantity
from underbench.rules.advice.deadlines import do_by
from underbench.rules.advice.remedies import Choice
from underbench.rules.hazards import hazard_of
from underbench.rules.hazards.bearing import Bearing
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.first_sun import FIRST_SUN
from underbench.rules.hazards.judge import bearings_on
from underbench.rules.limits.aftercare import Aftercare, care_of
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.limit import Limit, MeasuredOn
from underbench.rules.physics.state import ROOT_BASE_C
from underbench.rules.plants.species import catalogue
from underbench.rules.weather.hourly import Array

UNLIKE_DEGREES = frozenset(
    {
        MeasuredOn.GUST,
        MeasuredOn.SUN,
        MeasuredOn.FROZEN,
        MeasuredOn.WATER,
        MeasuredOn.MOSS,
        MeasuredOn.DARK,
    }
)


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

    def text(self, episodes: Sequence[EpisodeRow]) -> str:
        """The whole explanation: the decision, what it rests on, and what would turn it."""
        pressing = most_pressing(self._outlook, self._row)
        parts = [
            [self._who(), *self.aftercare()],
            [*self.decision(episodes), *self.distance(pressing)],
            *([self._trail(pressing), self._hours(pressing)] if pressing else []),
            self._flips(pressing),
            ["What it can bear today:", *self._limits()],
            [
                f"What it will feel in the coming days (middle of {self._outlook.weather.members}"
                " weathers; 1 in 10 is beyond):",
                self._feels(),
            ],
            [
                f"Forecast of {self._when(self._outlook.supplied.fetched_at)}. "
                f"{self._outlook.supplied.attribution}.",
            ],
        ]
        return "\n\n".join("\n".join(lines) for lines in parts if lines)

    def _who(self) -> str:
        tree, pot = self._tree, self._tree.container
        home = "" if self._at.spot == tree.spot else f", home {tree.spot}"
        return (
            f"{tree.name}: {tree.species} {tree.cultivar}".rstrip()
            + f", {self._units.volume(pot.litres)} {pot.kind} {at_spot(self._at.spot)}{home}, "
            + f"{stage_words(self._outlook, self._row)}."
        )

    def aftercare(self) -> Iterator[str]:
        """What works have left open."""
        care: Aftercare = self._condition.aftercare
        if care.roots and care.floor_c is not None:
            asked = care_of(care.roots)
            warmth = float(self._outlook.state.root_warmth_cd[self._row])
            need = asked.root_warmth_cd if asked else 0
            yield (
                f"Roots open since {care.roots.work} on {care.roots.at:%d %B}: no colder than "
                f"{self._units.temp(care.floor_c)} at the root ball's edge; "
                f"{self._units.warmth(warmth)} of {self._units.warmth(need)} above "
                f"{self._units.temp_whole(ROOT_BASE_C)} gained."
            )
        if care.shelter:
            work = care.shelter
            yield f"Out of strong sun and wind since {work.work} on {work.at:%d %B}."
        if care.bag:
            how, since = f"{care.bag.film} bag, {care.bag.opening}", f"{care.bag.since:%d %B}"
            yield f"In a {how}; bagged on {since}."
        if care.after_bag and FIRST_SUN.key in limits_today(self._outlook, self._row):
            yield f"Fresh out of its bag ({care.after_bag.at:%d %B}): leaves not used to sun."
        if care.soft_shoots:
            yield f"Soft shoots since {care.soft_shoots.work} on {care.soft_shoots.at:%d %B}."

    @property
    def _condition(self) -> Condition:
        return next(iter(self._outlook.course.conditions.values()))[self._row]

    def _limits(self) -> Iterator[str]:
        for key, limit in limits_today(self._outlook, self._row).items():
            harm = self._value(limit.harm, limit)
            kill = f", kill {self._value(limit.kill, limit)}" if isfinite(limit.kill) else ""
            what = f"{hazard_of(key).short}, on {limit.measured_on}"
            yield f"  {what}: harm {harm}{kill} ({limit.trail[-1].what})"

    def _trail(self, pressing: Pressing) -> list[str]:
        limit = pressing.limit
        heads = [f"The limit, on {limit.measured_on}:", "harm", "kill", "on whose word"]
        rows = [
            [
                f"  {layer.what}",
                self._value(layer.harm, limit),
                self._value(layer.kill, limit),
                source_words(layer.source),
            ]
            for layer in limit.trail
        ]
        return [table(heads, rows)]

    def _hours(self, pressing: Pressing) -> list[str]:
        """The exposure beside the limit, by the hour."""
        middle, tenth = pressing.middle(), pressing.tenth()
        harmed, killed = pressing.shares()
        rows, before = [], ""
        for hour in pressing.hours():
            end = datetime.fromtimestamp(int(pressing.times[hour]), tz=self._zone)
            day = f"{end:%a} {end.day} {end:%b}"
            shares = [f"{share:.0%}" if share else "" for share in (harmed[hour], killed[hour])]
            values = [
                self._value(float(value[hour]), pressing.limit)
                if not np.isnan(value[hour])
                else "–"
                for value in (middle, tenth)
            ]
            rows.append([f"  {day if day != before else '':10} {end:%H:%M}", *values, *shares])
            before = day
        kind = pressing.limit.measured_on
        heads = [f"Hour by hour, {kind}:", "middle", "worst tenth", "harmed", "killed"]
        return [table(heads, rows)]

    def distance(self, pressing: Pressing | None) -> Iterator[str]:
        """How far it is from the other decision."""
        if pressing is None:
            yield "No limit applies to it in the coming days."
            return
        harm, kill = self._chances
        if pressing.finding is None:
            yield (
                f"Nearest to a limit: {pressing.hazard.words.lower()}, "
                f"{self._when(pressing.span.start)} to {self._when(pressing.span.end)}."
            )
        gap = pressing.short_of_harm(harm)
        side = "short of" if gap >= 0 else "beyond"
        yield (
            f"Acted on from a chance of {harm:.0%} (of losing it: {kill:.0%}): that share of the "
            f"weathers comes to {self._value(pressing.worst(harm), pressing.limit)} or worse, "
            f"{self._step(abs(gap), pressing.limit)} {side} the limit of "
            f"{self._value(pressing.limit.harm, pressing.limit)}."
        )

    def _step(self, gap: float, limit: Limit) -> str:
        degrees = limit.measured_on not in UNLIKE_DEGREES
        return self._units.temp_step(gap) if degrees else self._value(gap, limit)

    @property
    def _chances(self) -> tuple[float, float]:
        return chances_of(self._outlook, self._tree)

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

    def decision(self, episodes: Sequence[EpisodeRow]) -> Iterator[str]:
        """What was found, whether it is acted on, and what helps."""
        mine = findings_of(self._outlook, self._row)
        told = {(e.hazard, e.span_start): e for e in episodes if e.tree == self._tree.name}
        if not mine:
            yield "Nothing to do: no limit is crossed in as many as one weather of ten."
        elif all(finding.strength is Strength.NOTICE for finding in mine):
            yield "Nothing to do: what may come is less likely than you want to act on."
        for finding in mine:
            yield self._found(finding, told.get((finding.hazard.key, finding.span.start)))
        for finding in (f for f in self._outlook.at_home if f.tree == self._tree.name):
            at_home = self._found(finding, told.get((finding.hazard.key, finding.span.start)))
            yield f"Back home {at_spot(self._tree.spot)} it would be: {at_home}"
        yield from self._help(mine)

    def _help(self, mine: Sequence[Finding]) -> Iterator[str]:
        choice = helping(self._outlook, mine)
        if choice:
            enough = "enough" if choice.suffices else "the best there is, not enough"
            left = f"; the worst is then {self._shown(choice.left, choice.measured_on)}"
            left = "" if np.isnan(choice.left) else left  # an opened bag has no inside
            chance = f"chance of harm then {choice.chance:.0%}"
            yield f"What helps: {choice.way.words} ({enough}{left}; {chance})."

    def _found(self, finding: Finding, episode: EpisodeRow | None) -> str:
        told = "not told"
        if episode and episode.told_at:
            told = f"told {self._when(episode.told_at)}"
        elif finding.strength is Strength.NOTICE:
            told = (
                f"under the act-from chance of {act_from(self._outlook.settings, self._tree):.0%}"
            )
        losing = (
            f" (of losing it {finding.kill_chance:.0%})" if isfinite(finding.limit.kill) else ""
        )
        return (
            f"{finding.action.upper()}, {finding.strength}: {finding.hazard.words} "
            f"{self._shown(finding.worst, finding.limit.measured_on)} at "
            f"{self._when(finding.worst_at)}, "
            f"limit {self._value(finding.limit.harm, finding.limit)}, "
            f"chance {finding.chance:.0%}{losing}; {told}."
        )

    def _flips(self, pressing: Pressing | None) -> list[str]:
        """Which input, were it otherwise, would change whether this is acted on."""
        if pressing is None:
            return []
        turned, rows = self.turns(pressing)
        heads = ["What would turn it:", "as it is", turned, "chance"]
        return [
            table(heads, [[f"  {what}", *more] for what, *more in rows]),
            "Each alone, from now on, all else as it is.",
        ]

    def turns(self, pressing: Pressing) -> tuple[str, list[list[str]]]:
        """What the decision would turn to, and a row an input: what, as it is, from where it turns
        and the chance there."""
        acted = acts(self._chances, pressing.chance, pressing.kill_chance)
        turned = "no longer acted on" if acted else "acted on"
        return turned, [
            [flip.what, flip_words(flip.of, flip, self._units), *self._turn(flip, turned)]
            for flip in flips(self._outlook, self._row, pressing)
        ]

    def _turn(self, flip: Flip, turned: str) -> list[str]:
        if flip.to is None or flip.chance is None:
            tried = [one for one in flip.tried if not isinstance(one, str)]
            if len(tried) > 1:
                low, high = (flip_words(f(tried), flip, self._units) for f in (min, max))
                return [f"no change, {low} to {high}", ""]
            words = " or ".join(flip_words(one, flip, self._units) for one in flip.tried)
            return [f"no change {'' if flip.what == 'height' else 'if '}{words}", ""]
        words = flip_words(flip.to, flip, self._units)
        if isinstance(flip.to, float) and isinstance(flip.of, float) and len(flip.tried) > 1:
            words += " or more" if flip.to > flip.of else " or less"
        return [words, f"{flip.chance:.0%}"]

    def _when(self, moment: datetime) -> str:
        return f"{moment.astimezone(self._zone):%a %d %b %H:%M}"

    def _value(self, value: float, limit: Limit) -> str:
        return self._shown(value, limit.measured_on)

    def _shown(self, value: float, kind: MeasuredOn) -> str:
        return quantity(value, kind, self._units)


def helping(outlook: Outlook, mine: Sequence[Finding]) -> Choice | None:
    """Return what helps against the gravest finding and those of its action; nothing for notices.

    ``mine``: the findings of one tree, the gravest first.
    """
    acting = [f for f in mine if f.strength is not Strength.NOTICE]
    acting = [f for f in acting if f.action is acting[0].action]
    if not acting:
        return None
    settings = outlook.settings
    deadline, _ = do_by(acting[0], settings.garden, settings.hands_on, outlook.now)
    return remedies(outlook, acting, deadline, {}).get(acting[0].tree)


def limits_today(outlook: Outlook, row: int) -> Bearing:
    """Return the limits of the tree at ``row`` today."""
    today = next(iter(outlook.course.conditions))
    return bearings_on(outlook.setting, outlook.course, today)[row]


def source_words(key: str) -> str:
    """Return a layer's source with how it was read."""
    source = catalogue().sources.get(key)
    return f"{key}, {source.read}" if source else key


def flip_words(value: float | str, flip: Flip, units: Units) -> str:
    """Write one value of an input in the keeper's units."""
    if isinstance(value, str):
        return value
    if flip.what == "litres":
        return units.volume(value)
    if flip.what == "height":
        return f"{units.length(100 * value)} up" if value else "on the ground"
    return f"{value:.2f}"
