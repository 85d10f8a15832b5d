"""Words: an advice as the message a grower reads on a phone with cold hands."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from underbench.daemon.units import Units
from underbench.rules.advice import NO_RETURN, Advice, Job
from underbench.rules.findings import Action, Finding, Hazard, Strength
from underbench.rules.limits import MeasuredOn

MOST_CHARACTERS = 1000
BAG_KNOWN_TO_K = 5.0
NAMED_FIRST = 3
NAMED_IN_ALL = 6
TENDER_EXPLAINED = 2  # names a spot whose reason is told beside
A_FORTNIGHT = 14
HAZARDS_TOLD = 2
CLOCK_IS_PLAIN = timedelta(hours=20)  # a longer span needs its days said

_FIRST_WORD = {
    Action.PROTECT: "PROTECT",
    Action.SHADE: "SHADE",
    Action.VENT: "VENT",
    Action.WATER: "WATER",
}
_HAZARD = {
    Hazard.LEAF_FROST: "Frost",
    Hazard.ROOT_FROST: "Frost in the root balls",
    Hazard.CHILL: "Too cold for tropicals",
    Hazard.GALE: "Gale",
    Hazard.DRY_WIND: "Dry wind on new leaves",
    Hazard.FROZEN_DRYING: "Drying out while frozen",
    Hazard.SCORCH: "Leaf scorch",
    Hazard.FIRST_SUN: "First sun after the bag",
    Hazard.HOT_ROOTS: "Hot roots",
    Hazard.HOT_BAG: "Bag too hot",
    Hazard.DRY: "Dry pots",
}
_ON = {
    MeasuredOn.LEAF: "leaves",
    MeasuredOn.BUD: "buds",
    MeasuredOn.WOOD: "wood",
    MeasuredOn.SHELL: "root ball's edge",
    MeasuredOn.AIR: "air",
    MeasuredOn.BAG: "inside the bag",
    MeasuredOn.GUST: "gusts at the bench",
    MeasuredOn.SUN: "sun on soft leaves",
    MeasuredOn.FROZEN: "frozen through for",
}
HEAVY_CAUTION = "Two people for {trees}: straight back, or leave it and cover it."


@dataclass(frozen=True, slots=True)
class Sky:
    """What the central run says of the weather around a hazard, for the reason line."""

    air_c: float
    air_at: datetime
    cloud: float
    wind_ms: float


class Teller:
    """Writes for one garden: its clock, its units."""

    def __init__(self, timezone: str, units: Units) -> None:
        self._zone = ZoneInfo(timezone)
        self._units = units

    def title(self, advice: Advice, now: datetime) -> str:
        """Action, how many trees, deadline, strength: what a lock screen shows."""
        many = _counted(len(advice.jobs), "tree")
        strong = " (danger)" if advice.strength is Strength.DANGER else ""
        word = _FIRST_WORD[advice.action]
        by = "now" if advice.do_by <= now else f"by {self._when(advice.do_by, now)}"
        return f"{word} {many} {by}{strong}"

    def body(self, advice: Advice, sky: Sky, forecast_at: datetime, now: datetime) -> str:
        """The message under the title: reason, what to do by remedy and spot, return, chance."""
        tail = [
            self._return(advice, now),
            _lifting(advice),
            f"Chance {advice.lead.chance:.0%}. Forecast of {self._when(forecast_at, now)}. "
            "Open-Meteo.com, CC BY 4.0.",
        ]
        head = [self._reason(advice, sky, now), self._by_hand(advice, now)]
        room = MOST_CHARACTERS - sum(len(line) + 1 for line in [*head, *tail])
        lines = [*head, *self._todo(advice, room, now), *tail]
        return "\n".join(line for line in lines if line)

    def _reason(self, advice: Advice, sky: Sky, now: datetime) -> str:
        """The first hazard with its number, then the next one; more would not be read."""
        told: dict[Hazard, Finding] = {}
        for finding in advice.in_order:
            told.setdefault(finding.hazard, finding)
        return " ".join(
            self._hazard(finding, sky, now) for finding in list(told.values())[:HAZARDS_TOLD]
        )

    def _hazard(self, finding: Finding, sky: Sky, now: datetime) -> str:
        what, kind = hazard_words(finding.hazard), finding.limit.measured_on
        at = self._when(finding.worst_at, now)
        span = self._span(finding, now)
        if finding.hazard is Hazard.LEAF_FROST:
            what = f"Frost on {'open leaves' if kind is MeasuredOn.LEAF else _ON[kind]}"
            air = f"air {self._units.temp(sky.air_c)}"
            return f"{what}: {air}, {self._number(finding)} at {at}, {span}. {_weather_words(sky)}"
        return f"{what}: {self._number(finding)} at {at}, {span}."

    def _span(self, finding: Finding, now: datetime) -> str:
        first, last = finding.first_at, finding.until_at
        if last - first > CLOCK_IS_PLAIN:
            return f"harm from {self._when(first, now)} to {self._when(last, now)}"
        if first == last:
            return f"harm at {self._clock(first)}"
        return f"harm {self._clock(first)}–{self._clock(last)}"

    def _number(self, finding: Finding) -> str:
        kind = finding.limit.measured_on
        worst = quantity(finding.worst, kind, self._units)
        if kind is MeasuredOn.WATER:
            return f"{worst} of the water left"
        limit = quantity(finding.limit.harm, kind, self._units)
        about = f" (known to ±{self._units.temp_difference(BAG_KNOWN_TO_K)})"
        about = about if kind is MeasuredOn.BAG else ""
        return f"{_ON[kind]} {worst}{about}, limit {limit}"

    def _by_hand(self, advice: Advice, now: datetime) -> str:
        if advice.in_hand:
            return ""
        return (
            f"Nobody is down to be there before {self._when(advice.do_by, now)}: ask somebody in."
        )

    def _todo(self, advice: Advice, room: int, now: datetime) -> list[str]:
        """One line a remedy: what, then trees by spot, most at risk first.

        Trees for which there is no room are counted: nothing is cut in the middle of a name.
        """
        by_remedy: dict[str, list[Job]] = {}
        for job in advice.jobs:
            by_remedy.setdefault(_remedy_words(job, advice.action), []).append(job)
        parts = [
            (words + _still(jobs), own)
            for words, jobs in by_remedy.items()
            for own in _by_spot(jobs)
        ]
        named = len(parts)
        while named and sum(len(line) + 1 for line in _todo_lines(parts, named, now)) > room:
            named -= 1
        return _todo_lines(parts, named, now)

    def _return(self, advice: Advice, now: datetime) -> str:
        if advice.back_at is None:
            return self._days_after(advice)
        spans = {f.span.start for f in advice.findings if f.hazard not in NO_RETURN}
        back = self._when(advice.back_at, now)
        if advice.action is Action.SHADE:
            return f"{self._days_after(advice)} Shade may come off {back}.".strip()
        if len(spans) > 1 and advice.lead.hazard is not Hazard.GALE:
            last = max(finding.until_at for finding in advice.findings)
            housed = any(job.choice and job.choice.remedy.takes_room_in for job in advice.jobs)
            by_day = ", door open by day" if housed else ""
            return (
                f"{_counted(len(spans), 'night')} in a row, the last ends {self._when(last, now)}: "
                f"leave them in{by_day}. Back out {back}, shade first."
            )
        return f"Back in place {back}."

    def _days_after(self, advice: Advice) -> str:
        """Said of a run of days: the same holds on the days after the first."""
        spans = sorted({f.span.start for f in advice.findings if f.hazard is not Hazard.CHILL})
        if len(spans) < 2:
            return ""
        last = spans[-1].astimezone(self._zone)
        return f"The same on the days after, until {last:%A}."

    def _when(self, moment: datetime, now: datetime) -> str:
        local, today = moment.astimezone(self._zone), now.astimezone(self._zone).date()
        clock = f"{local:%H:%M}"
        away = (local.date() - today).days
        if away == 0:
            return f"{clock} today" if local >= now else f"{clock}"
        if away == 1:
            return f"{clock} tomorrow"
        return f"{clock} {local:%A}"

    def _clock(self, moment: datetime) -> str:
        return f"{moment.astimezone(self._zone):%H:%M}"


def _weather_words(sky: Sky) -> str:
    cover = "Clear" if sky.cloud < 0.3 else "Broken cloud" if sky.cloud < 0.75 else "Overcast"
    air = "calm" if sky.wind_ms < 1.5 else "light wind" if sky.wind_ms < 4 else "windy"
    return f"{cover}, {air}."


def _by_spot(jobs: Sequence[Job]) -> Iterable[list[Job]]:
    spots: dict[str, list[Job]] = {}
    for job in jobs:
        spots.setdefault(job.spot, []).append(job)
    return spots.values()


def _remedy_words(job: Job, action: Action) -> str:
    if action is Action.WATER:
        return "Check, and water till it drains"
    if job.worst.hazard is Hazard.CHILL:
        return "Indoors for the cold season, to a light place"
    if job.choice is None:
        return "Shelter as best you can"
    if job.choice.suffices:
        return job.choice.remedy.words
    return f"{job.choice.remedy.words} (the best there is"


def _still(jobs: Sequence[Job]) -> str:
    """How far the best there is falls short, for the tree it helps least."""
    short = [job.choice.chance for job in jobs if job.choice and not job.choice.suffices]
    return f", chance of harm still {max(short):.0%})" if short else ""


def _todo_lines(parts: Sequence[tuple[str, list[Job]]], named: int, now: datetime) -> list[str]:
    """The lines that name the first ``named`` of the parts (remedy, jobs at one spot)."""
    lines: dict[str, list[str]] = {}
    for words, own in parts[:named]:
        lines.setdefault(words, []).append(f"{own[0].spot} ({len(own)}): {_names(own, now)}")
    rest = sum(len(own) for _, own in parts[named:])
    more = [f"{_counted(rest, 'more tree')}: see underbench ahead."] if rest else []
    return [*(f"{words}: {'; '.join(spots)}" for words, spots in lines.items()), *more]


def _names(jobs: Sequence[Job], now: datetime) -> str:
    """Names, most at risk first; with the first ones the work that makes them tender."""
    names = [f"{job.tree}{_tender_from(job, now)}" for job in jobs[:TENDER_EXPLAINED]]
    names += [job.tree for job in jobs[TENDER_EXPLAINED:]]
    if len(names) <= NAMED_IN_ALL:
        return ", ".join(names)
    return f"{', '.join(names[:NAMED_FIRST])} first, then {len(names) - NAMED_FIRST} more"


def _tender_from(job: Job, now: datetime) -> str:
    work = next((f.limit.work for f in job.findings if f.limit.work), None)
    if work is None:
        return ""
    days = (now - work.at).days
    ago = f"{days // 7} weeks" if days >= A_FORTNIGHT else f"{days} days" if days != 1 else "1 day"
    return f" ({work.work} {ago} ago)"


def _lifting(advice: Advice) -> str:
    heavy = [job.tree for job in advice.jobs if job.choice and job.choice.two_people]
    if len(heavy) > NAMED_FIRST:
        heavy = [*heavy[:NAMED_FIRST], f"{len(heavy) - NAMED_FIRST} more"]
    return HEAVY_CAUTION.format(trees=", ".join(heavy)) if heavy else ""


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def hazard_words(hazard: Hazard) -> str:
    """A hazard as a table or a reason names it."""
    return _HAZARD[hazard]


def quantity(value: float, kind: MeasuredOn, units: Units) -> str:
    """Write a value in the unit of what it is measured on."""
    if kind is MeasuredOn.GUST:
        return units.speed(value)
    if kind is MeasuredOn.WATER:
        return f"{value:.0%}"
    if kind is MeasuredOn.SUN:
        return f"{value:.0f} W/m²"
    if kind is MeasuredOn.FROZEN:
        return f"{value:.0f} h"
    return units.temp(value)
