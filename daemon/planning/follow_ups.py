"""What is open after the works of a garden, as a command's list and as a line in a round-up."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date
from typing import Any

import numpy as np

from underbench.daemon.journal.works import typed
from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.outlook.past_years import DAY, EPOCH, daily, usual_of
from underbench.daemon.planning.round_up_line import RoundUpLine
from underbench.daemon.store.store import Store
from underbench.daemon.wording.json_form import document, part
from underbench.daemon.wording.tables import table
from underbench.daemon.wording.vocabulary import joined
from underbench.rules.course.journal_steps import root_clock
from underbench.rules.garden.inventory import SpotKind
from underbench.rules.garden.journal import TreeAt
from underbench.rules.physics.cover import COVERS, CoverKind
from underbench.rules.planning.follow_up import ENDS, Ask, Expected, FollowUp, Held, asks, expected

NAMED = 3
REMINDERS = 2


def follow_ups(outlook: Outlook, store: Store) -> list[Expected]:
    """Return what is open, with what is due in front. Raises StoreError."""
    open_now = list(_asks(outlook))
    if not open_now:
        return []
    garden = outlook.settings.garden
    today = outlook.today
    mean_c = {day: one.mean_c for day, one in usual_of(store, garden).days.items() if day < today}
    mean_c |= {day: value for day, value in _forecast(outlook) if day >= today}
    found = [expected(ask, mean_c, today, garden.latitude, held) for ask, held in open_now]
    return sorted(found, key=lambda one: (not one.due, one.first or date.max))


def _forecast(outlook: Outlook) -> Iterator[tuple[date, float]]:
    """The days ahead with the mean air, °C, of the median weather."""
    middle_c = np.median(outlook.weather.air_c, axis=0)
    for number, mean_c, _ in daily(outlook.weather.times, middle_c):
        yield EPOCH + number * DAY, mean_c


def _asks(outlook: Outlook) -> Iterator[tuple[Ask, Held | None]]:
    for row, tree in enumerate(outlook.standing):
        clock = root_clock(outlook.state, row)
        kind = outlook.setting.species[tree.tree.name].limits.kind
        latitude = outlook.settings.garden.latitude
        for ask in asks(tree, kind, clock, outlook.stage(row), latitude):
            yield ask, _held(outlook, tree, ask)


def _held(outlook: Outlook, tree: TreeAt, ask: Ask) -> Held | None:
    """The warm room that the tree stands in, and since when; None if it stands elsewhere."""
    if outlook.settings.spots[tree.spot].kind is not SpotKind.INDOORS:
        return None
    since = max(ask.work.at, tree.there_since or ask.work.at)
    return Held(since.date(), COVERS[CoverKind.INDOORS].held_c)


def may_have_rooted(found: Sequence[Expected]) -> frozenset[str]:
    """Return the trees with a layer whose moss should be looked into, or was looked into."""
    looks = (one for one in found if one.ask.what is FollowUp.LOOK_IN_MOSS)
    return frozenset(one.ask.work.tree for one in looks if one.due or one.ask.looked)


def follow_up_line(found: Sequence[Expected], store: Store) -> list[RoundUpLine]:
    """Return one line on all follow-ups that are due and were not said, or no line."""
    fresh = [one for one in found if one.due and store.duties.last_done(_duty(one)) is None]
    if not fresh:
        return []
    trees: dict[FollowUp, list[str]] = {}
    for one in fresh:
        trees.setdefault(one.ask.what, []).append(of_work(one.ask))
    parts = [f"{what}: {joined(names)}" for what, names in trees.items()]
    words = "; ".join(parts)
    return [RoundUpLine(f"{words[0].upper()}{words[1:]}.", tuple(map(_duty, fresh)))]


def of_work(ask: Ask) -> str:
    """Return the tree, and the work that is followed up."""
    at = ask.work.at
    return f"{ask.work.tree} ({ask.work.work} {at.day} {at:%b})"


def _duty(one: Expected) -> str:
    """The duty of saying a follow-up. It is said once each time it falls due, and a look in between
    starts it anew. If it is left undone, it is said again when next due, twice at most."""
    again = f" again {min(one.laps, REMINDERS)}" if one.laps else ""
    return f"follow-up {one.ask.what} {one.ask.work.tree} {one.ask.since:%Y-%m-%dT%H:%M:%S}{again}"


def text(found: Sequence[Expected]) -> str:
    """What is open, as a table."""
    if not found:
        return "Nothing is open after any work."
    rows = [
        (one.ask.work.tree, one.ask.what, _when(one), _since(one), _closed_by(one.ask))
        for one in found
    ]
    heads = ("tree", "what", "when", "since", "closed by")
    return f"{table(heads, rows)}\nDates go by warmth: common practice, no source."


def _closed_by(ask: Ask) -> str:
    look = typed(ask.done_by)
    return f"did {look}, or {typed(ENDS[ask.what])}" if ask.what in ENDS else f"did {look}"


def _when(one: Expected) -> str:
    if one.due:
        return "now"
    if one.ask.what is FollowUp.FIRST_FEED:
        return "once roots have taken and it grows"
    if one.first is None or one.last is None:
        return "not within a year"
    if one.first == one.last:
        return f"about {_day(one.first)}"
    return f"{_day(one.first)} to {_day(one.last)}"


def _since(one: Expected) -> str:
    return f"{one.ask.work.work} on {_day(one.ask.work.at.date())}"


def _day(day: date) -> str:
    return f"{day.day} {day:%b %Y}"


def as_json(found: Sequence[Expected]) -> str:
    """What is open, as JSON; warmth in °C·d above 5 °C, moments in UTC."""
    return document({"follow_ups": [ask_json(one) for one in found]})


def ask_json(one: Expected) -> dict[str, Any]:
    """One follow-up, as JSON."""
    return (
        part(one.ask.work, "tree", "work")
        | part(one.ask, "what", "done_by", "since", "after_cd")
        | part(one, "due", "first", "last")
        | {"gained_cd": round(one.gained_cd, 1)}
    )
