"""Why a tree's message was sent or not: what the tree bears and feels, what would turn that."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import UTC, datetime
from functools import cached_property
from math import isfinite, isnan
from typing import Any

import numpy as np

from underbench.daemon.alerts.to_do import to_do
from underbench.daemon.charts.hours_of_a_tree import AIR, AT_TREE, Feeling
from underbench.daemon.outlook.members import in_the_open
from underbench.daemon.outlook.outlook import Outlook, remedies
from underbench.daemon.outlook.plans import TreePlan
from underbench.daemon.outlook.prospects import planned_hazard
from underbench.daemon.outlook.worst_hazard import Pressing, acts, chances_of, most_pressing
from underbench.daemon.rehearsal.pass_report import forecast_json
from underbench.daemon.store.episodes import EpisodeRow
from underbench.daemon.views.ahead import place_json
from underbench.daemon.views.feels import hours_table, key_lines, limit_rows, made, who
from underbench.daemon.views.plan_table import plan_rows, plan_text
from underbench.daemon.views.what_would_change import Flip, flips
from underbench.daemon.wording.json_form import document, named, part, plain
from underbench.daemon.wording.tables import table
from underbench.daemon.wording.units import Units
from underbench.daemon.wording.vocabulary import at_spot, quantity
from underbench.rules.advice.advice import Job
from underbench.rules.advice.deadlines import do_by
from underbench.rules.advice.remedies import Choice
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.first_sun import FIRST_SUN
from underbench.rules.limits.aftercare import care_of
from underbench.rules.limits.limit import Limit, MeasuredOn
from underbench.rules.physics.state import ROOT_BASE_C
from underbench.rules.plants.species import catalogue

UNLIKE_DEGREES = frozenset(
    {
        MeasuredOn.GUST,
        MeasuredOn.SUN,
        MeasuredOn.FROZEN,
        MeasuredOn.WATER,
        MeasuredOn.MOSS,
        MeasuredOn.DARK,
        MeasuredOn.SODDEN,
    }
)
NEXT_H = 48  # hours ahead in which the air near the ground is looked at
TELLING_K = 0.2  # less is not worth a line
NO_TURN = (
    "None of these alone would turn the decision: sky view, wind factor, litres, height, stage,"
    " roots."
)


class Explainer:
    """Explains one tree of an outlook. ``episodes`` are the garden's recent ones. ``plan``: the
    tree's plan, if it needs one and it was made."""

    def __init__(
        self,
        feeling: Feeling,
        episodes: Sequence[EpisodeRow],
        plan: TreePlan | None = None,
        noted: Sequence[str] = (),
    ) -> None:
        self._plan, self._noted = plan, list(noted)
        self._feeling, self._outlook, self._row = feeling, feeling.outlook, feeling.row
        self._tree, self._units = feeling.tree, feeling.units
        self._episodes = [one for one in episodes if one.tree == self._tree.name]
        self._told_at = {(one.hazard, one.span_start): one.told_at for one in self._episodes}
        self._chances = chances_of(feeling.outlook, feeling.tree)

    @cached_property
    def pressing(self) -> Pressing | None:
        """What presses the tree most; None if no limit applies to it, or if what it needs help
        against came on over days, which no hour of the coming weather turns."""
        found = most_pressing(self._outlook, self._row)
        return None if self._lasting and found and found.finding is None else found

    @property
    def _lasting(self) -> Finding | None:
        """What came on over days and is acted on; None if nothing did."""
        mine = (f for f in self._feeling.findings if f.hazard.by_days)
        return next((f for f in mine if f.strength is not Strength.NOTICE), None)

    @cached_property
    def turning(self) -> list[Flip]:
        """What would turn the decision."""
        return flips(self._outlook, self._row, self.pressing) if self.pressing else []

    @property
    def acted_on(self) -> bool:
        """Whether the keeper is told of what presses the tree most."""
        one = self.pressing
        return one is not None and acts(self._chances, one.chance, one.kill_chance)

    def text(self) -> str:
        """The whole explanation: the decision, what it rests on, and what would turn it."""
        pressing, heads = self.pressing, ["it can bear today", "harm from", "death from", "set by"]
        over_days = [] if pressing or not self._lasting else [self._trail(self._lasting.limit)]
        parts = [
            self.deed(),
            [who(self._feeling), *self.aftercare(), *self.near_ground()],
            self.decision(),
            *([[self._trail(pressing.limit)], self._hours(pressing)] if pressing else []),
            over_days,
            self._noted,
            plan_text(self._plan, self._feeling.zone) if self._plan else [],
            self._turning() if pressing else [],
            [table(heads, list(limit_rows(self._feeling)))],
            [made(self._feeling)],
        ]
        return "\n\n".join("\n".join(lines) for lines in parts if lines)

    def aftercare(self) -> Iterator[str]:
        """The aftercare that is open after works."""
        care = self._outlook.condition(self._row).aftercare
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
        if care.after_bag and FIRST_SUN.key in self._feeling.today:
            yield f"Fresh out of its bag ({care.after_bag.at:%d %B}): leaves not used to sun."
        if care.soft_shoots:
            yield f"Soft shoots since {care.soft_shoots.work} on {care.soft_shoots.at:%d %B}."

    def near_ground(self) -> Iterator[str]:
        """How cold the air comes to where the tree stands, if that is below the forecast's."""
        spot = self._outlook.settings.spots[self._feeling.at.spot]
        if not in_the_open(spot):
            return
        both = (self._feeling.members(column) for column in (AT_TREE, AIR))
        air_c, screen_c = (np.median(values[:, :NEXT_H], axis=0) for values in both)
        coldest = int(air_c.argmin())
        colder_k = float(screen_c[coldest] - air_c[coldest])
        if colder_k >= TELLING_K:
            up = f"{self._units.length(spot.height_cm)} above" if spot.height_cm else "down on"
            yield (
                f"The air {at_spot(spot.name)} comes to {self._units.temp(air_c[coldest])} at "
                f"{self._when(self._feeling.local(coldest))}, {self._units.temp_step(colder_k)} "
                f"below the forecast's: the trees stand {up} {spot.surface}."
            )

    def deed(self) -> list[str]:
        """What to do, and by when: as it was told, where that is still to do."""
        told = to_do(self._episodes, self._outlook.now, self._feeling.zone.key)
        if told:
            next_one = min(told, key=lambda one: one.do_by)
            return [f"To do: {next_one.words}, {self._until(next_one.do_by)}."]
        mine = self._feeling.findings
        acting = [finding for finding in mine if finding.strength is not Strength.NOTICE]
        if not mine:
            return ["Nothing to do: fewer than one weather in ten crosses a limit."]
        if not acting:
            return ["Nothing to do: the chance of harm is lower than you act on."]
        acting = [finding for finding in acting if finding.action is acting[0].action]
        choice = helping(self._outlook, mine, self._plan)
        if choice is None and self._plan is not None and planned_hazard(acting[0].hazard):
            return ["Nothing here helps: it is best left where it is."]
        job = Job(self._tree.name, "", tuple(acting), choice)
        return [f"To do: {job.words}, {self._by(acting)}."]

    def _by(self, acting: Sequence[Finding]) -> str:
        settings, now = self._outlook.settings, self._outlook.now
        return self._until(
            min(do_by(one, settings.garden, settings.hands_on, now)[0] for one in acting)
        )

    def _until(self, due: datetime) -> str:
        now = self._outlook.now
        return "now" if due <= now else f"by {self._when(due.astimezone(self._feeling.zone))}"

    def decision(self) -> list[str]:
        """What was found, whether it is acted on, what helps, and how near the other decision
        is."""
        mine = self._feeling.findings
        lines = [self._found(finding) for finding in mine]
        home = at_spot(self._tree.spot)
        lines += [f"At home, {home}, it would be: {self._found(one)}" for one in self._at_home()]
        return [*lines, *self._help(mine), *self._distance(self.pressing)]

    def _at_home(self) -> list[Finding]:
        return [one for one in self._outlook.at_home if one.tree == self._tree.name]

    def _found(self, finding: Finding) -> str:
        told_at = self._when_told(finding)
        told = f"told {self._when(told_at)}" if told_at else "not told"
        if told_at is None and finding.strength is Strength.NOTICE:
            told = f"you act from {self._chances[0]:.0%}"
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

    def _when_told(self, finding: Finding) -> datetime | None:
        return self._told_at.get((finding.hazard.key, finding.span.start))

    def _help(self, mine: Sequence[Finding]) -> Iterator[str]:
        choice = helping(self._outlook, mine, self._plan)
        if choice:
            enough = "enough" if choice.suffices else "the best there is, not enough"
            left = f"; the worst is then {self._shown(choice.left, choice.measured_on)}"
            left = "" if isnan(choice.left) else left  # an opened bag has no inside
            chance = f"chance of harm then {choice.chance:.0%}"
            yield f"What helps: {choice.way.words} ({enough}{left}; {chance})."

    def _distance(self, pressing: Pressing | None) -> Iterator[str]:
        if pressing is None:
            over_days = "It came on over days: no hour of the coming weather decides it."
            yield over_days if self._lasting else "No limit applies to it in the coming days."
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
            f"You act from a chance of harm of {harm:.0%} (of losing it: {kill:.0%}). That share "
            f"of weathers comes to {self._value(pressing.worst(harm), pressing.limit)} or worse, "
            f"{self._step(abs(gap), pressing.limit)} {side} the limit of "
            f"{self._value(pressing.limit.harm, pressing.limit)}."
        )

    def _step(self, gap: float, limit: Limit) -> str:
        degrees = limit.measured_on not in UNLIKE_DEGREES
        return self._units.temp_step(gap) if degrees else self._value(gap, limit)

    def _trail(self, limit: Limit) -> str:
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
        return table(heads, rows)

    def _hours(self, pressing: Pressing) -> list[str]:
        """The hours around the worst, each with the share of the weathers that harm the tree."""
        first = int(np.searchsorted(self._feeling.times, pressing.times[0]))
        harm, kill = np.zeros((2, len(self._feeling.times)))
        span = slice(first, first + len(pressing.times))
        harm[span], kill[span] = pressing.shares()
        hours = (slice(first + hour, first + hour + 1) for hour in pressing.hours())
        return [hours_table(self._feeling, hours, harm, kill), *key_lines(self._feeling)]

    def _turning(self) -> list[str]:
        if not self.turning:
            return [NO_TURN]
        turned, rows = self.turns()
        heads = ["What would turn it:", "as it is", turned, "chance"]
        shown = [[f"  {what}", *more] for what, *more in rows]
        return [table(heads, shown), "Each alone, from now on, all else as it is."]

    def turns(self) -> tuple[str, list[list[str]]]:
        """Return what the decision would turn to, and a row for each input that turns it: its name,
        its value, the value that turns it, and the chance there."""
        turned = "no longer acted on" if self.acted_on else "acted on"
        return turned, [
            [one.what, flip_words(one.of, one, self._units), self._to(one), f"{one.chance:.0%}"]
            for one in self.turning
        ]

    def _to(self, flip: Flip) -> str:
        words = flip_words(flip.to, flip, self._units)
        if isinstance(flip.to, float) and isinstance(flip.of, float) and flip.what != "height":
            words += " or more" if flip.to > flip.of else " or less"
        return words

    def _when(self, moment: datetime) -> str:
        return f"{moment.astimezone(self._feeling.zone):%a %d %b %H:%M}"

    def _value(self, value: float, limit: Limit) -> str:
        return self._shown(value, limit.measured_on)

    def _shown(self, value: float, kind: MeasuredOn) -> str:
        return quantity(value, kind, self._units)

    def as_json(self) -> str:
        """The explanation for programs: UTC, SI units and °C."""
        act_from, kill_from = self._chances
        mine, pressing = self._feeling.findings, self.pressing
        choice = helping(self._outlook, mine, self._plan)
        body = {
            "now": self._outlook.now,
            **place_json(self._outlook, self._row),
            "species": self._tree.species,
            "act_from": act_from,
            "kill_from": kill_from,
            "acted_on": self.acted_on,
            "findings": [plain(one) | {"told_at": self._when_told(one)} for one in mine],
            "at_home": self._at_home(),
            "helps": choice and _choice_json(choice),
            "plan": self._plan and plan_rows(self._plan),
            "planned": self._plan and self._plan.plan.path,
            "pressing": pressing and _pressing_json(pressing, act_from),
            "flips": [_flip_json(one) for one in self.turning],
            "limits": {key: _limit_json(one) for key, one in self._feeling.today.items()},
            "forecast": forecast_json(self._outlook.supplied),
        }
        return document(body)


def _choice_json(choice: Choice) -> dict[str, Any]:
    way = choice.way
    return {"remedy": way.remedy.key, "words": way.words, "suffices": choice.suffices}


def _pressing_json(one: Pressing, act_from: float) -> dict[str, Any]:
    middle, tenth = one.middle(), one.tenth()
    harmed, killed = one.shares()
    return {
        **named(one.hazard),
        "action": one.hazard.action,
        **part(one, "span", "chance", "kill_chance"),
        "limit": _limit_json(one.limit),
        "at_act_from": {"worst": one.worst(act_from), "short_of_harm": one.short_of_harm(act_from)},
        "hours": [
            {
                "at": datetime.fromtimestamp(int(one.times[hour]), tz=UTC),
                "middle": middle[hour],
                "worst_tenth": tenth[hour],
                "harmed": harmed[hour],
                "killed": killed[hour],
            }
            for hour in one.hours()
        ],
    }


def _limit_json(limit: Limit) -> dict[str, Any]:
    trail = [
        {**part(layer, "what", "harm", "kill"), "source": source_words(layer.source)}
        for layer in limit.trail
    ]
    return {**plain(limit), "trail": trail}


def _flip_json(flip: Flip) -> dict[str, Any]:
    return {"input": flip.what, "is": flip.of, "turns_at": flip.to, "chance": flip.chance}


def helping(
    outlook: Outlook, mine: Sequence[Finding], plan: TreePlan | None = None
) -> Choice | None:
    """Return what helps against the gravest finding and others of its action. None for notices.

    ``mine``: the findings of one tree, the gravest first. Its ``plan`` decides on cold and wind.
    """
    acting = [f for f in mine if f.strength is not Strength.NOTICE]
    acting = [f for f in acting if f.action is acting[0].action]
    if not acting:
        return None
    if plan is not None and planned_hazard(acting[0].hazard):
        return plan.choice(acting)
    settings = outlook.settings
    deadline, _ = do_by(acting[0], settings.garden, settings.hands_on, outlook.now)
    return remedies(outlook, acting, deadline).get(acting[0].tree)


def source_words(key: str) -> str:
    """Return a layer's source, and how it was read."""
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
