"""Words for messages other than advice: plain, short, with what to do first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

import numpy as np

from underbench.daemon.alerts.message_kinds import Asking, Back, Placed, StandDown
from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.wording.vocabulary import (
    MOST_CHARACTERS,
    Made,
    Teller,
    at_spot,
    joined,
)
from underbench.rules.advice.advice import Advice, by_risk
from underbench.rules.garden.local_time import local_day
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.hazard import Action, Hazard

STALE_AFTER = timedelta(hours=12)  # the keeper is told of a forecast this old or this long in doubt
ROUND_UP_DAYS = 3
MOST_MORE = 3  # a round-up has so many lines beside its days and the source, to fit a phone
NAMED = 6
DO_IT = {
    Action.PROTECT: "protect",
    Action.SHADE: "shade",
    Action.VENT: "open",
    Action.WATER: "water",
    Action.LIGHT: "carry",
}
ALREADY_DONE = "Done already? Say so: underbench handled"
FATES = "Say it with: underbench outcome TREE fine, damaged or lost."


class Words(NamedTuple):
    """A message's title and body."""

    title: str
    body: str


def reminder_title(teller: Teller, advice: Advice, now: datetime) -> str:
    """The title of an advice, marked as still to do."""
    return f"STILL TO DO: {teller.title(advice, now)}"


def stand_down_words(teller: Teller, off: StandDown, made: Made, now: datetime) -> Words:
    """A job called off before it was due."""
    when = teller.when(off.first_at, now)
    lines = [
        f"{off.hazard.words} for {when} is no longer expected.",
        _standing(off.trees, f"No need to {DO_IT[off.action]}"),
        "If you have done it already, it does no harm. Undo it when it suits you.",
        teller.credit(made, now),
    ]
    they_are = "it is" if len(off.trees) == 1 else "they are"
    return Words(f"STAND DOWN: leave {_counted(off.trees)} as {they_are}", _fitted(lines))


def back_words(teller: Teller, back: Back, made: Made, now: datetime) -> Words:
    """Trees under cover that may go home."""
    safe = f"No frost or gale threatens them there until {teller.when(back.quiet_until, now)}"
    shade = [placed.tree for placed in back.trees if placed.tree in back.shade_first]
    asked = f"How did {joined(back.asked)} come through? {FATES}" if back.asked else ""
    lines = [
        f"{safe}, as far as the forecast reaches.",
        *_ways(back.trees),
        f"Into half shade for the first days: {joined(shade)}." if shade else "",
        "When done: underbench moved TREE home.",
        asked,
        teller.credit(made, now),
    ]
    stay = all(placed.spot == placed.home for placed in back.trees)
    return Words(f"{'COVERS OFF' if stay else 'BACK OUT'} {_counted(back.trees)}", _fitted(lines))


def ask_words(teller: Teller, asking: Asking) -> Words:
    """The question how trees came through."""
    lines = [
        f"{asking.hazard.words}, last on {_day(asking.night)}: {joined(asking.trees)}.",
        f"Look at them when you pass. {FATES}",
        "You are asked once. Your answer is kept with the forecast of that night.",
    ]
    return Words("HOW DID THEY COME THROUGH?", _fitted(lines))


def round_up_words(
    teller: Teller,
    outlook: Outlook,
    later: Sequence[tuple[str, datetime]],
    works: Sequence[str],
    now: datetime,
) -> Words:
    """Three days in a line each. Then follow what will be told, what to do, and which trees stand
    under cover. The last of these lines gives way if there are too many."""
    zone = outlook.settings.garden.timezone
    first = local_day(now, zone)
    days = [day_line(teller, outlook, first + timedelta(days=n)) for n in range(ROUND_UP_DAYS)]
    coming = [f"To be told {teller.when(at, now)}: {title}" for title, at in later[:1]]
    more = [line for line in (*coming, *works, _away_line(outlook)) if line][:MOST_MORE]
    lines = [*days, *more, _made_line(teller, outlook, now)]
    return Words(f"ROUND-UP: {_worst(outlook, first)}", _fitted(lines))


def watching_words(teller: Teller, outlook: Outlook, now: datetime) -> Words:
    """A sign of life after a quiet time."""
    air = float(np.median(outlook.weather.air_c, axis=0).min())
    trees = sum(not at.lost for at in outlook.standing)
    lines = [
        f"{trees} trees watched; lowest air in the coming days {teller.units.temp(air)}.",
        "You are told when something is to be done.",
        _made_line(teller, outlook, now),
    ]
    return Words("Still watching: nothing to do", _fitted(lines))


def stale_words(teller: Teller, outlook: Outlook, now: datetime) -> Words:
    """The forecast has been old, or in doubt, for half a day."""
    supplied = outlook.supplied
    old = supplied.age >= STALE_AFTER
    lines = [
        "Watch the weather yourself: the trees are judged by "
        + ("an old forecast." if old else "a forecast that may be wrong."),
        _sentence((old and supplied.problem) or supplied.doubt),
        "Underbench keeps asking. It does not tell you again today.",
        teller.credit(replace(made_of(outlook), doubt=""), now),
    ]
    hours = (supplied.age if old else supplied.doubted_for) / timedelta(hours=1)
    what = "NO FRESH FORECAST" if old else "FORECAST IN DOUBT"
    return Words(f"{what} for {hours:.0f} h", _fitted(lines))


def day_line(teller: Teller, outlook: Outlook, day: date) -> str:
    """Return one day and the night after it in a line: the air, the threats, and the number of
    trees under each threat. The line is empty if the forecast does not reach the day."""
    zone = outlook.settings.garden.timezone
    ends = [datetime.fromtimestamp(at, ZoneInfo(zone)) for at in outlook.weather.times.tolist()]
    hours = [index for index, at in enumerate(ends) if at.date() == day]
    if not hours:
        return ""
    air = np.median(outlook.weather.air_c[:, hours], axis=0)
    told = [f for f in (*outlook.findings, *outlook.at_home) if _falls_on(f, day, zone)]
    threats = "; ".join(_threats(told)) or "nothing"
    low, high = teller.units.temp_whole(air.min()), teller.units.temp_whole(air.max())
    return f"{day:%a}: {low} to {high}. {threats[0].upper()}{threats[1:]}."


def _falls_on(finding: Finding, day: date, zone: str) -> bool:
    if finding.span.is_long:
        return local_day(finding.first_at, zone) <= day <= local_day(finding.until_at, zone)
    return local_day(finding.span.start, zone) == day


def _threats(findings: Iterable[Finding]) -> list[str]:
    """Hazards, the gravest first, each with its number of trees. Notices come last, as unlikely."""
    trees: dict[tuple[Hazard, bool], set[str]] = {}
    for finding in sorted(findings, key=by_risk):
        unlikely = finding.strength is Strength.NOTICE
        trees.setdefault((finding.hazard, unlikely), set()).add(finding.tree)
    return [
        f"{hazard.words.lower()} ({len(names)}{', unlikely' if unlikely else ''})"
        for (hazard, unlikely), names in list(trees.items())[:3]
    ]


def _worst(outlook: Outlook, today: date) -> str:
    zone = outlook.settings.garden.timezone
    last = today + timedelta(days=ROUND_UP_DAYS)
    told = [
        finding
        for finding in (*outlook.findings, *outlook.at_home)
        if finding.strength is not Strength.NOTICE and local_day(finding.first_at, zone) < last
    ]
    return _threats(told)[0] if told else "nothing to do in three days"


def _away_line(outlook: Outlook) -> str:
    spots = Counter(at.spot for at in outlook.standing if at.spot != at.tree.spot and not at.lost)
    where = ", ".join(f"{count} {at_spot(spot)}" for spot, count in spots.items())
    return f"Away from home: {where}." if spots else ""


def made_of(outlook: Outlook) -> Made:
    """Return the age of the forecast, whom to credit for it, and why it may mislead."""
    supplied = outlook.supplied
    return Made(supplied.changed_at, supplied.attribution, supplied.doubt)


def _made_line(teller: Teller, outlook: Outlook, now: datetime) -> str:
    return teller.credit(made_of(outlook), now)


def _standing(trees: Sequence[Placed], words: str) -> str:
    spots: dict[str, list[str]] = {}
    for placed in trees:
        spots.setdefault(placed.spot, []).append(placed.tree)
    where = (f"{_some(names)} ({at_spot(spot)})" for spot, names in spots.items())
    return f"{words} {'; '.join(where)}."


def _ways(trees: Sequence[Placed]) -> list[str]:
    """One line for each way back: from where to where, and covers to take off."""
    ways: dict[str, list[str]] = {}
    for placed in trees:
        way = f"From {placed.spot} to {placed.home}"
        if placed.covered:
            way = "Covers off" if placed.spot == placed.home else f"{way}, covers off"
        ways.setdefault(way, []).append(placed.tree)
    return [f"{way}: {_some(names)}" for way, names in ways.items()]


def _some(names: Sequence[str]) -> str:
    if len(names) <= NAMED:
        return ", ".join(names)
    return f"{', '.join(names[:NAMED])} and {len(names) - NAMED} more"


def _counted(trees: Sequence[Placed]) -> str:
    return f"{len(trees)} tree" if len(trees) == 1 else f"{len(trees)} trees"


def _day(day: date) -> str:
    return f"{day:%A} {day.day} {day:%B}"


def _sentence(text: str | None) -> str:
    return f"{text[0].upper()}{text[1:300]}." if text else ""


def _fitted(lines: Iterable[str]) -> str:
    """The lines that are not empty. The last but one gives way while all are too long."""
    kept = [line for line in lines if line]
    while sum(len(line) + 1 for line in kept) > MOST_CHARACTERS and len(kept) > 2:
        del kept[-2]
    return "\n".join(kept)[:MOST_CHARACTERS]
