"""Words for messages other than advice: plain, short, with what to do first."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from underbench.daemon.alerts.message_kinds import Asking, Back, ClothOff, Placed, StandDown
from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.wording.vocabulary import (
    Made,
    Teller,
    Words,
    at_spot,
    counted,
    joined,
    the_spot,
)
from underbench.rules.advice.advice import by_risk
from underbench.rules.advice.remedy import TIE
from underbench.rules.garden.local_time import local_day
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.hazard import Action, Hazard

STALE_AFTER = timedelta(hours=12)  # the keeper is told of a forecast this old or this long in doubt
ROUND_UP_DAYS = 3
MOST_MORE = 3  # a round-up has so many lines beside its days and the source, to fit a phone
MOST_CHARACTERS = 1000  # what names no trees is short
DO_IT = {
    Action.PROTECT: "protect",
    Action.SHADE: "shade",
    Action.VENT: "open or shade the bag of",
    Action.WATER: "water",
    Action.LIGHT: "carry",
}
ALREADY_DONE = "Done already? Say so: underbench handled"
FATES = "Say it with: underbench outcome TREE fine, damaged or lost."


def stand_down_words(teller: Teller, off: StandDown, made: Made, now: datetime) -> Words:
    """A job called off before it was due."""
    when = teller.when(off.first_at, now)
    lines = [
        f"No need to {DO_IT[off.action]}:",
        *(f"• at {the_spot(own[0].spot)}: {_names(own)}" for own in _ways(off.trees)),
        f"{off.hazard.words} for {when} is no longer expected.",
        "If you have done it already, it does no harm. Undo it when it suits you.",
        teller.credit(made, now),
    ]
    they_are = "it is" if len(off.trees) == 1 else "they are"
    return Words(f"STAND DOWN: leave {_what(off.trees)} as {they_are}", _lines(lines))


def back_words(teller: Teller, back: Back, made: Made, now: datetime, link: str = "") -> Words:
    """Trees under cover that may go home."""
    safe = f"No frost or gale threatens them there until {teller.when(back.quiet_until, now)}"
    shade = [placed.tree for placed in back.trees if placed.tree in back.shade_first]
    shaded = "all of them" if len(shade) == len(back.trees) > 1 else joined(shade)
    tie = [placed.tree for placed in back.trees if placed.tree in back.tie]
    asked = f"How did {joined(back.asked)} come through?" if back.asked else ""
    lines = [
        *(_way_home(own) for own in _ways(back.trees)),
        f"Into half shade for the first days: {shaded}." if shade else "",
        f"{TIE.words} there: {joined(tie)}." if tie else "",
        f"{safe}, as far as the forecast reaches.",
        f"{asked}{'' if link else f' {FATES}'}" if asked else "",
        link or "When done: underbench moved TREE home.",
        teller.credit(made, now),
    ]
    if all(placed.spot == placed.home for placed in back.trees):
        return Words(f"{_uncovered(back.trees).upper()} {_what(back.trees)}", _lines(lines))
    homes = {placed.home for placed in back.trees}
    to = f" to {the_spot(homes.pop())}" if len(homes) == 1 else ""
    return Words(f"BACK OUT {_what(back.trees)}{to}", _lines(lines))


def cloth_off_words(
    teller: Teller, off: ClothOff, made: Made, now: datetime, link: str = ""
) -> Words:
    """Shade cloth that may come off."""
    lines = [
        *(
            f"Shade cloth off, {at_spot(the_spot(own[0].spot))}{_many(own)}: {_names(own)}"
            for own in _ways(off.trees)
        ),
        f"No heat threatens them without it until {teller.when(off.quiet_until, now)}, as far as"
        " the forecast reaches.",
        "Best on a dull day, or in the evening.",
        link or "When done: underbench moved TREE home.",
        teller.credit(made, now),
    ]
    return Words(f"SHADE OFF {_what(off.trees)}", _lines(lines))


def ask_words(teller: Teller, asking: Asking, link: str = "") -> Words:
    """The question how trees came through."""
    lines = [
        f"Look at {joined(asking.trees)} when you pass.",
        f"{asking.hazard.words}, last on {_day(asking.night)}.",
        link or FATES,
        "You are asked once. Your answer is kept with the forecast of that night.",
    ]
    return Words("HOW DID THEY COME THROUGH?", _lines(lines))


def round_up_words(
    teller: Teller,
    outlook: Outlook,
    later: Sequence[tuple[str, datetime]],
    works: Sequence[str],
    now: datetime,
    link: str = "",
) -> Words:
    """Three days in a line each. Then follow what will be told, what to do, and which trees stand
    under cover. The last of these lines gives way if there are too many."""
    zone = outlook.settings.garden.timezone
    first = local_day(now, zone)
    days = [day_line(teller, outlook, first + timedelta(days=n)) for n in range(ROUND_UP_DAYS)]
    coming = [f"To be told {teller.when(at, now)}: {title}" for title, at in later[:1]]
    more = [line for line in (*coming, *works, _away_line(outlook)) if line][:MOST_MORE]
    lines = [*days, *more, link, _made_line(teller, outlook, now)]
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
    """Return one day and the night after it in a line: the air, the threats where trees stand now,
    and the number of trees under each. It is empty if the forecast does not reach the day."""
    zone = outlook.settings.garden.timezone
    ends = [datetime.fromtimestamp(at, ZoneInfo(zone)) for at in outlook.weather.times.tolist()]
    hours = [index for index, at in enumerate(ends) if at.date() == day]
    if not hours:
        return ""
    air = np.median(outlook.weather.air_c[:, hours], axis=0)
    told = [finding for finding in outlook.findings if _falls_on(finding, day, zone)]
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
        for finding in outlook.findings
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


def by_way(trees: Iterable[Placed]) -> list[list[str]]:
    """Return the trees that go the same way, from where they stand to where they belong."""
    return [[placed.tree for placed in own] for own in _ways(trees)]


def _ways(trees: Iterable[Placed]) -> list[list[Placed]]:
    ways: dict[tuple[str, str, bool, bool], list[Placed]] = {}
    for placed in trees:
        how = placed.spot, placed.home, placed.covered, placed.down
        ways.setdefault(how, []).append(placed)
    return list(ways.values())


def _way_home(trees: Sequence[Placed]) -> str:
    """One line for each way back: from where to where, or covers to take off."""
    many = _many(trees)
    one, spot, home = trees[0], the_spot(trees[0].spot), the_spot(trees[0].home)
    if one.spot == one.home:
        return f"{_uncovered(trees)}, {at_spot(the_spot(one.spot))}{many}: {_names(trees)}"
    off = ", covers off" if one.covered else ""
    return f"From {spot} to {home}{off}{many}: {_names(trees)}"


def _uncovered(trees: Sequence[Placed]) -> str:
    """What is undone for trees that stand where they belong."""
    off, up = (any(own) for own in zip(*((one.covered, one.down) for one in trees), strict=True))
    return f"Covers off{', and back up' if up else ''}" if off else "Back up"


def _many(trees: Sequence[Placed]) -> str:
    return f" ({len(trees)})" if len(trees) > 1 else ""


def _names(trees: Sequence[Placed]) -> str:
    return ", ".join(placed.tree for placed in trees)


def _what(trees: Sequence[Placed]) -> str:
    """One tree by its name, several by their number."""
    return trees[0].tree if len(trees) == 1 else counted(len(trees))


def _day(day: date) -> str:
    return f"{day:%A} {day.day} {day:%B}"


def _sentence(text: str | None) -> str:
    return f"{text[0].upper()}{text[1:300]}." if text else ""


def _lines(lines: Iterable[str]) -> str:
    return "\n".join(filter(None, lines))


def _fitted(lines: Iterable[str]) -> str:
    """The lines that are not empty. The last but one gives way while all are too long."""
    kept = [line for line in lines if line]
    while sum(len(line) + 1 for line in kept) > MOST_CHARACTERS and len(kept) > 2:
        del kept[-2]
    return "\n".join(kept)[:MOST_CHARACTERS]
