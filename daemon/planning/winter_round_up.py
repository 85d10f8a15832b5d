"""The quiet lines of a round-up when the winter turns: in, cover on, out; said once a winter."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, timedelta
from typing import NamedTuple

from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.planning.windows_round_up import WindowLine, named_or_counted
from underbench.daemon.planning.wintering import (
    BY_FORECAST,
    BY_YEARS,
    Winter,
    today_of,
    winter_duty,
    winter_year,
    winters,
)
from underbench.daemon.store.store import Store
from underbench.daemon.wording.vocabulary import joined
from underbench.rules.planning.winter import SOFT_NIGHTS, Cold, Doing

DAY = timedelta(days=1)
WORDS = {
    Doing.GO_IN: "Bring in {trees}",
    Doing.COVER_ON: "Frost cover on {trees}",
    Doing.TOO_WARM: "Too warm to rest: {trees}. A colder place, or its spring is late and weak",
    Doing.COME_OUT: "Hard cold is usually over for {trees}: bring out, by and by what is in leaf",
    Doing.COVER_OFF: "Frost cover off {trees}",
}
GOING_IN = (Doing.GO_IN, Doing.COVER_ON)
IN_EARLIER_YEARS = {
    Doing.GO_IN: "Make room under cover for {trees}",
    Doing.COVER_ON: "Have frost cover at hand for {trees}",
}


def winter_lines(outlook: Outlook, store: Store) -> list[WindowLine]:
    """Return what is to be said of the winter now and was not said this winter.

    A tree that is told to be carried in anyway is passed over, and one that is in for a cold spell
    alone, of which the alert says when it is back. Raises StoreError.
    """
    groups: dict[_Saying, list[str]] = {}
    glass: dict[str, None] = {}
    for one in winters(outlook, store):
        if _speaks(one) and _fresh(one, outlook, store):
            groups.setdefault(_saying(one), []).append(one.tree)
        if one.opens and store.duties.last_done(_open_duty(one.spot, outlook)) is None:
            glass[one.spot] = None
    lines = [_line(saying, trees, outlook) for saying, trees in groups.items()]
    if glass:
        words = f"Open by day, shut before dusk: {joined(list(glass))}."
        lines.append(WindowLine(words, tuple(_open_duty(spot, outlook) for spot in glass)))
    return lines


class _Saying(NamedTuple):
    """What trees named in one line have in common; ``night`` where the forecast asks for it."""

    doing: Doing
    night: date | None
    cold: Cold | None


def _saying(one: Winter) -> _Saying:
    night = one.facts.near_on if one.doing in GOING_IN else None
    by_years = one.doing in GOING_IN and night is None
    return _Saying(one.doing, night, one.cold if by_years else None)


def _speaks(one: Winter) -> bool:
    told = one.doing in GOING_IN and one.facts.threatened
    for_one_spell = one.doing is Doing.COME_OUT and one.facts.stay_nights <= SOFT_NIGHTS
    return one.doing in WORDS and not told and not for_one_spell


def _line(saying: _Saying, trees: Sequence[str], outlook: Outlook) -> WindowLine:
    named = named_or_counted(trees)
    words = WORDS[saying.doing].format(trees=named)
    asked_by = _asked_by(saying.night)
    duties = tuple(winter_duty(saying.doing, tree, outlook, asked_by) for tree in trees)
    if saying.night is not None:
        by = max(saying.night - DAY, today_of(outlook))
        return WindowLine(f"{words} by {by:%A} evening: the cold they bear is near.", duties, by)
    if saying.cold is not None and saying.cold.first is not None:
        words = IN_EARLIER_YEARS[saying.doing].format(trees=named)
        first, winters_known = saying.cold.first, saying.cold.winters
        words += f": such cold came from {first.first.day} {first.first:%b} on, "
        words += f"in {first.years} of {winters_known} winters"
    return WindowLine(f"{words}.", duties)


def _asked_by(night: date | None) -> str:
    return BY_YEARS if night is None else BY_FORECAST


def _fresh(one: Winter, outlook: Outlook, store: Store) -> bool:
    """Whether it was not said this winter: what the forecast asked for, the years do not again."""
    said_by = {_asked_by(_saying(one).night), BY_FORECAST}
    duties = (winter_duty(one.doing, one.tree, outlook, by) for by in said_by)
    return all(store.duties.last_done(duty) is None for duty in duties)


def _open_duty(spot: str, outlook: Outlook) -> str:
    return f"winter {winter_year(outlook)} open {spot}"
