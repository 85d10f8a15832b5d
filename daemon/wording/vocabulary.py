"""Words: an advice as the message a grower reads on a phone with cold hands."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from math import isfinite
from zoneinfo import ZoneInfo

from underbench.daemon.wording.units import Units
from underbench.rules.advice.advice import Advice, Job
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.hazard import Action, Hazard
from underbench.rules.limits.limit import MeasuredOn

MOST_CHARACTERS = 1000
BAG_KNOWN_TO_K = 5.0
NAMED_FIRST = 3
NAMED_IN_ALL = 6
TENDER_EXPLAINED = 2  # names a spot whose reason is told beside
A_FORTNIGHT = 14
HAZARDS_TOLD = 2
CLOCK_IS_PLAIN = timedelta(hours=20)  # a longer span needs its days said

FIRST_WORD = {
    Action.PROTECT: "PROTECT",
    Action.SHADE: "SHADE",
    Action.VENT: "VENT",
    Action.WATER: "WATER",
    Action.LIGHT: "LET OUT",
}
_ON = {
    MeasuredOn.LEAF: "leaves",
    MeasuredOn.BUD: "buds",
    MeasuredOn.FLOWER: "flowers",
    MeasuredOn.WOOD: "wood",
    MeasuredOn.SHELL: "root ball's edge",
    MeasuredOn.AIR: "air",
    MeasuredOn.BAG: "inside the bag",
    MeasuredOn.GUST: "gusts at the bench",
    MeasuredOn.SUN: "sun on soft leaves",
    MeasuredOn.FROZEN: "frozen through for",
    MeasuredOn.DARK: "without light for",
}
_SHOWN_AS = {
    MeasuredOn.WATER: "{:.0%}",
    MeasuredOn.MOSS: "{:.0%}",
    MeasuredOn.SUN: "{:.0f} W/m²",
    MeasuredOn.FROZEN: "{:.0f} h",
    MeasuredOn.DARK: "{:.0f} h",
    MeasuredOn.SODDEN: "{:.0f} days",
}
OPEN_BY_DAY = (MeasuredOn.LEAF, MeasuredOn.BUD)
HEAVY_CAUTION = "Two people for {trees}: straight back, or leave it and cover it."


@dataclass(frozen=True, slots=True)
class Sky:
    """What the central run says of the weather around a hazard, for the reason line."""

    air_c: float
    cloud: float
    wind_ms: float


@dataclass(frozen=True, slots=True)
class Made:
    """Since when the forecast has been as it is, whom to credit for it, and why it may mislead."""

    at: datetime
    attribution: str
    doubt: str = ""


class Teller:
    """Writes for one garden: its clock, its units."""

    def __init__(self, timezone: str, units: Units) -> None:
        self._zone = ZoneInfo(timezone)
        self.units = units

    def title(self, advice: Advice, now: datetime) -> str:
        """Action, how many trees, deadline, strength: what a lock screen shows."""
        many = _counted(len(advice.jobs), "tree")
        strong = " (danger)" if advice.strength is Strength.DANGER else ""
        word = FIRST_WORD[advice.action]
        if all(job.stay for job in advice.jobs):
            least = " at least" if advice.open_ended else ""
            until = f" until{least} {self.when(advice.back_at, now)}" if advice.back_at else ""
            return f"LEAVE IN {many}{until}{strong}"
        by = "now" if advice.do_by <= now else f"by {self.when(advice.do_by, now)}"
        return f"{word} {many} {by}{strong}"

    def body(self, advice: Advice, sky: Sky, made: Made, now: datetime, closing: str = "") -> str:
        """The message under the title: reason, what to do by remedy and spot, return, ``closing``,
        chance."""
        tail = [
            self._return(advice, now),
            *_cautions(advice),
            _lifting(advice),
            _thawing(advice),
            closing,
            f"Chance {advice.lead.chance:.0%}. {self.credit(made, now)}",
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
        hazard, kind = finding.hazard, finding.limit.measured_on
        what = hazard.words_on.get(kind, hazard.words)
        if hazard.by_days:
            return f"{what}: {self._number(finding)}."
        told = f"{self._number(finding)} at {self.when(finding.worst_at, now)}"
        told = f"{told}, {self._span(finding, now)}."
        if not hazard.tells_sky:
            return f"{what}: {told}"
        air = "" if kind is MeasuredOn.AIR else f"air {self.units.temp(sky.air_c)}, "
        return f"{what}: {air}{told} {_weather_words(sky)}"

    def _span(self, finding: Finding, now: datetime) -> str:
        first, last = finding.first_at, finding.until_at
        if last - first > CLOCK_IS_PLAIN:
            return f"harm from {self.when(first, now)} to {self.when(last, now)}"
        if first == last:
            return f"harm at {self._clock(first)}"
        return f"harm {self._clock(first)}–{self._clock(last)}"

    def _number(self, finding: Finding) -> str:
        kind = finding.limit.measured_on
        worst = quantity(finding.worst, kind, self.units)
        if kind is MeasuredOn.WATER:
            return f"{worst} of the water left"
        if kind is MeasuredOn.DARK:
            return f"by then for {finding.worst / 24:.0f} days"
        if kind is MeasuredOn.SODDEN:
            return f"{worst} of rain at the brim"
        if kind is MeasuredOn.MOSS:
            return f"about {worst} of the water left in it"
        limit = f"limit {quantity(finding.limit.harm, kind, self.units)}"
        if finding.strength is Strength.DANGER and isfinite(finding.limit.kill):
            limit += f", kills from {quantity(finding.limit.kill, kind, self.units)}"
        about = f" (known to ±{self.units.temp_difference(BAG_KNOWN_TO_K)})"
        about = about if kind is MeasuredOn.BAG else ""
        return f"{_ON[kind]} {worst}{about}, {limit}"

    def _by_hand(self, advice: Advice, now: datetime) -> str:
        if advice.in_hand or all(job.stay for job in advice.jobs):
            return ""
        if advice.do_by <= now:
            return "Nobody is down to be there now: ask somebody in."
        return f"Nobody is down to be there before {self.when(advice.do_by, now)}: ask somebody in."

    def _todo(self, advice: Advice, room: int, now: datetime) -> list[str]:
        """One line a remedy: what, then trees by spot, most at risk first.

        Trees for which there is no room are counted: nothing is cut in the middle of a name.
        """
        by_remedy: dict[str, list[Job]] = {}
        for job in advice.jobs:
            by_remedy.setdefault(job.words, []).append(job)
        parts = [
            (words + _shortfall(jobs), own)
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
        back = self.when(advice.back_at, now)
        if advice.open_ended:
            back = f"not before {back}, as far as the forecast reaches: look again then"
        if advice.action is Action.SHADE:
            return f"{self._days_after(advice)} Shade may come off {back}.".strip()
        nights = {f.span.start for f in advice.findings if f.hazard.returns}
        if len(nights) > 1 and advice.lead.hazard.stays_between:
            last = self.when(max(finding.until_at for finding in advice.findings), now)
            run = f"{_counted(len(nights), 'night')} in a row, the last ends {last}"
            return f"{run}: {_meanwhile(advice)}. {_going_back(advice)} {back}{_then(advice)}."
        return f"{_going_back(advice)} {back}{_then(advice)}."

    def _days_after(self, advice: Advice) -> str:
        """Said of a run of days: the same holds on the days after the first."""
        if advice.action is Action.VENT:
            return self._spell(advice)
        spans = sorted({f.span.start for f in advice.findings if not f.hazard.is_seasonal})
        if len(spans) < 2:
            return ""
        last = spans[-1].astimezone(self._zone)
        return f"The same on the days after, until {last:%A}."

    def _spell(self, advice: Advice) -> str:
        """A bag is placed once for the whole of a warm spell, not anew each day."""
        last = max(finding.until_at for finding in advice.findings).astimezone(self._zone)
        if last.date() == advice.lead.first_at.astimezone(self._zone).date():
            return ""
        return f"Leave it so for the whole warm spell, until {last:%A} at least."

    def credit(self, made: Made, now: datetime) -> str:
        """The forecast's age, whom to credit for it, and a line where it is in doubt."""
        credit = f"Forecast of {self.when(made.at, now)}. {made.attribution}."
        if not made.doubt:
            return credit
        return f"{credit}\nFORECAST IN DOUBT: {made.doubt}. Look at another one too."

    def when(self, moment: datetime, now: datetime) -> str:
        """A moment as a grower says it: the clock, and the day where it is not today's."""
        local, today = moment.astimezone(self._zone), now.astimezone(self._zone).date()
        clock = self.units.clock(local)
        away = (local.date() - today).days
        if away == 0:
            return f"{clock} today" if local >= now else f"{clock}"
        if away == 1:
            return f"{clock} tomorrow"
        return f"{clock} {local:%A}"

    def _clock(self, moment: datetime) -> str:
        return self.units.clock(moment.astimezone(self._zone))


def _weather_words(sky: Sky) -> str:
    cover = "Clear" if sky.cloud < 0.3 else "Broken cloud" if sky.cloud < 0.75 else "Overcast"
    air = "calm" if sky.wind_ms < 1.5 else "light wind" if sky.wind_ms < 4 else "windy"
    return f"{cover}, {air}."


def _by_spot(jobs: Sequence[Job]) -> Iterable[list[Job]]:
    spots: dict[str, list[Job]] = {}
    for job in jobs:
        spots.setdefault(job.spot, []).append(job)
    return spots.values()


def _meanwhile(advice: Advice) -> str:
    """What holds between the nights of a run."""
    carried = [job for job in advice.jobs if job.remedy.carries]
    if not carried:
        return "leave the covers on"
    if not any(job.choice and job.choice.way.indoors for job in carried):
        return "leave them in"
    # Leaves and buds are open when days are mild. What harms wood or roots may last through a day.
    mild = all(f.limit.measured_on in OPEN_BY_DAY for job in carried for f in job.findings)
    return f"leave them in, door {'open by day' if mild else 'shut'}"


def _going_back(advice: Advice) -> str:
    return "Back out" if any(job.remedy.carries for job in advice.jobs) else "Covers off"


def _then(advice: Advice) -> str:
    """Leaves that have stood in the dark for days are led back to the sun."""
    if advice.open_ended:
        return ""
    dark = [f for job in advice.jobs if job.remedy.carries for f in job.findings]
    leafy = any(f.limit.measured_on is MeasuredOn.LEAF for f in dark)
    return ", shade first" if leafy and len({f.span.start for f in dark}) > 1 else ""


def _shortfall(jobs: Sequence[Job]) -> str:
    """How far the best there is falls short, for the tree it helps least."""
    short = [job.taken.chance for job in jobs if job.taken and not job.taken.suffices]
    return f" (the best there is, chance of harm still {max(short):.0%})" if short else ""


def _todo_lines(parts: Sequence[tuple[str, list[Job]]], named: int, now: datetime) -> list[str]:
    """The lines that name the first ``named`` of the parts (remedy, jobs at one spot)."""
    lines: dict[str, list[str]] = {}
    for words, own in parts[:named]:
        lines.setdefault(words, []).append(f"{_standing(own)}: {_names(own, now)}")
    rest = sum(len(own) for _, own in parts[named:])
    more = [f"{_counted(rest, 'more tree')}: see underbench ahead."] if rest else []
    return [*(f"{words}: {'; '.join(spots)}" for words, spots in lines.items()), *more]


def _standing(jobs: Sequence[Job]) -> str:
    """Where they are, never to be read as where they go."""
    return f"now {at_spot(jobs[0].spot)} ({len(jobs)})"


def _names(jobs: Sequence[Job], now: datetime) -> str:
    """Names, most at risk first; beside the first ones the work that makes them tender."""
    tender = [job.tree for job in jobs if job.work][:TENDER_EXPLAINED]
    names = [job.tree + (_work_ago(job, now) if job.tree in tender else "") for job in jobs]
    if len(names) <= NAMED_IN_ALL:
        return ", ".join(names)
    return f"{', '.join(names[:NAMED_FIRST])} first, then {len(names) - NAMED_FIRST} more"


def _work_ago(job: Job, now: datetime) -> str:
    if job.work is None:
        return ""
    days = (now - job.work.at).days
    few = {0: "under a day", 1: "1 day"}.get(days, f"{days} days")
    ago = f"{days // 7} weeks" if days >= A_FORTNIGHT else few
    return f" ({job.work.work} {ago} ago)"


def _cautions(advice: Advice) -> Iterable[str]:
    """What the hazards themselves have to say at the end, each once."""
    return dict.fromkeys(finding.hazard.caution for finding in advice.findings)


def _lifting(advice: Advice) -> str:
    heavy = [job.tree for job in advice.jobs if job.choice and job.choice.two_people]
    if len(heavy) > NAMED_FIRST:
        heavy = [*heavy[:NAMED_FIRST], f"{len(heavy) - NAMED_FIRST} more"]
    return HEAVY_CAUTION.format(trees=", ".join(heavy)) if heavy else ""


def _thawing(advice: Advice) -> str:
    frosted = [
        job.tree
        for job in advice.jobs
        if not job.remedy.carries and any(finding.early_sun for finding in job.findings)
    ]
    if not frosted:
        return ""
    until = "it has" if len(frosted) == 1 else "they have"
    return f"Keep {joined(frosted)} out of early sun until {until} thawed."


def joined(names: Sequence[str]) -> str:
    """The first few names as a sentence has them, the rest counted."""
    if len(names) > NAMED_FIRST:
        names = [*names[:NAMED_FIRST], f"{len(names) - NAMED_FIRST} more"]
    return " and ".join(part for part in (", ".join(names[:-1]), names[-1]) if part)


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def at_spot(spot: str) -> str:
    """A spot as a place to stand; "at under the bench" is no English."""
    return spot if spot.casefold().startswith("under") else f"at {spot}"


def quantity(value: float, kind: MeasuredOn, units: Units) -> str:
    """Write a value in the unit of what it is measured on; a dash where no such limit is known."""
    if not isfinite(value):
        return "–"
    if kind is MeasuredOn.GUST:
        return units.speed(value)
    if kind in _SHOWN_AS:
        return _SHOWN_AS[kind].format(value)
    return units.temp(value)
