"""What a pass leaves for the page: the coming days by tree and by spot, as JSON in the store."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import date, datetime, time, timedelta
from typing import Any

import numpy as np

from underbench.daemon.alerts.hourly_pass import Pass
from underbench.daemon.outlook.day_by_day import DayByDay, days_shown
from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.planning.follow_ups import ask_json, follow_ups
from underbench.daemon.rehearsal.pass_report import SPOKEN
from underbench.daemon.store.episodes import PAST_EPISODES
from underbench.daemon.store.store import Store
from underbench.daemon.store.undo_log import Note
from underbench.daemon.wording.advice_text import about_lines
from underbench.daemon.wording.deeds import not_before
from underbench.daemon.wording.json_form import iso, plain
from underbench.daemon.wording.units import Units
from underbench.daemon.wording.vocabulary import Teller, quantity, short_quantity
from underbench.rules.advice.advice import Advice, by_risk
from underbench.rules.garden.journal import Work
from underbench.rules.garden.local_time import NOON, local_moment
from underbench.rules.hazards.findings import Finding
from underbench.rules.weather.hourly import HOUR_S, Array

AHEAD = "ahead"
MOST_TOLD = 60  # messages
HOURS_OF = 2  # days; the night shown ends on the second


def keep_ahead(store: Store, done: Pass) -> None:
    """Keep what the page shows of a pass, in place of the pass before. Raises StoreError."""
    outlook = done.outlook
    due = [plain(ask_json(one)) for one in follow_ups(outlook, store) if one.due]
    kept = ahead_of(outlook) | {"follow_ups": due, "about": _about(store, done)}
    store.pages.keep(AHEAD, json.dumps(kept, ensure_ascii=False), outlook.now)


def rename_in_ahead(store: Store, old: str, new: str) -> None:
    """Give a tree its other name in what is kept, till the next pass tells it anew."""
    if (found := store.pages.kept(AHEAD)) is None:
        return
    kept, at = json.loads(found[0]), found[1]
    kept["trees"] = {new if name == old else name: one for name, one in kept["trees"].items()}
    for one in kept.get("follow_ups", ()):
        one["tree"] = new if one["tree"] == old else one["tree"]
    for one in kept.get("about", ()):
        one["trees"] = [new if name == old else name for name in one["trees"]]
    store.pages.keep(AHEAD, json.dumps(kept, ensure_ascii=False), at)


def back_in_ahead(store: Store, note: Note | None) -> None:
    """Give a tree its earlier name there too, once the note that renamed it is taken back."""
    if note is not None and note.parted and not note.parted.out:
        rename_in_ahead(store, note.parted.name, note.parted.was)


def _about(store: Store, done: Pass) -> list[dict[str, Any]]:
    """What messages on jobs said beside the deeds, of which trees, as long as jobs may be open; the
    latest last."""
    outlook, before = done.outlook, kept_ahead(store) or {}
    teller = Teller(outlook.settings.garden.timezone, Units(outlook.settings.units))
    oldest = (outlook.now - PAST_EPISODES).timestamp()
    kept = [one for one in before.get("about", ()) if one["at"] > oldest]
    told = [
        {
            "at": int(outlook.now.timestamp()),
            "action": one.advice.action,
            "trees": one.trees,
            "lines": _lines(one.advice, teller, outlook.now),
        }
        for one in done.told
    ]
    return [*kept, *told][-MOST_TOLD:]


def _lines(advice: Advice, teller: Teller, now: datetime) -> list[str]:
    wait = not_before(advice.jobs, teller, now)
    about = about_lines(advice, teller, now)
    return [f"{wait[0].upper()}{wait[1:]}.", *about] if wait else about


def kept_ahead(store: Store) -> dict[str, Any] | None:
    """Return what the last pass left; None before the first."""
    kept = store.pages.kept(AHEAD)
    return None if kept is None else json.loads(kept[0])


def ahead_of(outlook: Outlook) -> dict[str, Any]:
    """Return the coming days: words in the keeper's units, moments in UTC."""
    days, supplied, by_day = days_shown(outlook), outlook.supplied, DayByDay(outlook)
    units = Units(outlook.settings.units)
    trees, works = enumerate(outlook.settings.trees), outlook.open_works()
    return {
        "at": iso(outlook.now),
        "forecast_at": iso(supplied.changed_at),
        "attribution": supplied.attribution,
        "problem": supplied.problem,
        "estimated": [word for name, word in SPOKEN.items() if name in outlook.estimated],
        "days": [day.isoformat() for day in days],
        "air": [_high_low(outlook, outlook.weather.air_c, day, units) for day in days],
        "spots": _spots(outlook, days, units),
        "trees": {tree.name: _tree(outlook, row, works, by_day, units) for row, tree in trees},
    }


def _tree(
    outlook: Outlook, row: int, works: Mapping[str, Work], by_day: DayByDay, units: Units
) -> dict[str, Any]:
    name = outlook.settings.trees[row].name
    work = works.get(name)
    days = [by_day.on(name, day) for day in days_shown(outlook)]
    return {
        "stage": outlook.stage(row),
        "open": work and work.work,
        "spot": outlook.standing[row].spot,
        "days": [_worst(found, units) for found in days],
        "hours": [_hours(one) for found in days[:HOURS_OF] for one in found],
    }


def _hours(finding: Finding) -> tuple[str, int, int]:
    """How hard it strikes, and from when until when, UTC seconds."""
    begins = int(finding.first_at.timestamp()) - HOUR_S
    return finding.strength, begins, int(finding.until_at.timestamp())


def _worst(found: Sequence[Finding], units: Units) -> dict[str, Any] | None:
    if not found:
        return None
    worst = min(found, key=by_risk)
    return {
        "what": worst.hazard.short,
        "value": quantity(worst.worst, worst.limit.measured_on, units),
        "mark": short_quantity(worst.worst, worst.limit.measured_on, units),
        "limit": quantity(worst.limit.harm, worst.limit.measured_on, units),
        "chance": round(20 * worst.chance) / 20,  # no forecast knows it finer than 5 %
        "strength": worst.strength,
    }


def _spots(outlook: Outlook, days: list[date], units: Units) -> dict[str, list[list[str | None]]]:
    """The air where trees stand: at their spot, under its cover."""
    first: dict[str, int] = {}
    for row, at in enumerate(outlook.standing):
        first.setdefault(at.spot, row)
    air_c = outlook.course.exposure.air_c
    return {
        spot: [_high_low(outlook, air_c[row], day, units) for day in days]
        for spot, row in first.items()
    }


def _high_low(outlook: Outlook, air_c: Array, day: date, units: Units) -> list[str | None]:
    """The warmest of a local day and the coldest of the night after it, until noon. Both are of the
    middle of the weathers; None for what is past or beyond the forecast."""
    zone, middle = outlook.settings.garden.timezone, np.median(air_c, axis=0)
    midnight, noon = (local_moment(day, hour, zone) for hour in (time(0), NOON))
    next_midnight, next_noon = (
        local_moment(day + timedelta(days=1), hour, zone) for hour in (time(0), NOON)
    )

    def within(start: datetime, end: datetime) -> Array:
        ends = outlook.weather.times
        hours: Array = middle[(ends > start.timestamp()) & (ends <= end.timestamp())]
        return hours

    by_day, by_night = within(midnight, next_midnight), within(noon, next_noon)
    return [
        units.temp_whole(float(by_day.max())) if len(by_day) else None,
        units.temp_whole(float(by_night.min())) if len(by_night) else None,
    ]
