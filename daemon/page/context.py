"""What every part of the page works with: the garden, this request's store, and the time."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import cast
from zoneinfo import ZoneInfo

from flask import abort, current_app, g, request

from underbench.daemon.config.settings import Settings
from underbench.daemon.delivery.outbox import Services
from underbench.daemon.outlook.garden_now import grown
from underbench.daemon.store.store import Store
from underbench.daemon.weather.supply import Source
from underbench.daemon.wording.units import Units

EXTENSION = "underbench"
BAD_FORM = 422
NOTES_WAIT = timedelta(days=7)  # so long a phone may keep a note
LONGEST_SECONDS = 12  # digits
THOUSANDS = re.compile(r"\d{1,3}(,\d{3})+(\.\d+)?")


@dataclass(frozen=True, slots=True)
class Deps:
    """What the page is given.

    ``config`` is the garden's file; ``settings`` gives the settings of this moment. ``open_store``
    opens a store for the asking thread. ``kept_weather`` never uses the network. ``services`` are
    the people's push services. ``trial`` tries other values for the limit of a name, which takes
    minutes, and returns what ``tune --json`` prints.
    """

    config: Path
    settings: Callable[[], Settings]
    open_store: Callable[[], Store]
    kept_weather: Callable[[Settings, Store], Source]
    services: Callable[[Settings], Services]
    trial: Callable[[str, str], str]
    now: Callable[[], datetime]


def on_a_page(text: str, fields: Mapping[str, str]) -> str:
    """Return a fault's words, with the names of fields instead of command-line options."""
    return re.sub(r"--[\w-]+", lambda found: fields.get(found[0], found[0].strip("-")), text)


def deps() -> Deps:
    """Return what the page was given."""
    return cast(Deps, current_app.extensions[EXTENSION])


def store() -> Store:
    """Return this request's store, opened on first use; raises StoreError."""
    if "store" not in g:
        g.store = deps().open_store()
    return cast(Store, g.store)


def close_store(_error: BaseException | None = None) -> None:
    """Close the request's store as the request ends."""
    opened = g.pop("store", None)
    if opened is not None:
        opened.close()


def settings() -> Settings:
    """Return the settings with every tree, those that works made too."""
    if "settings" not in g:
        g.settings = grown(deps().settings(), store())
    return cast(Settings, g.settings)


def now() -> datetime:
    """Return the moment of this request, UTC; it stays the same all through."""
    if "now" not in g:
        g.now = deps().now()
    return cast(datetime, g.now)


def as_noted() -> None:
    """Make the time of this request the one at which its note was made on a phone that did not
    reach the daemon then."""
    typed = request.form.get("noted_at", "")
    if typed.isdecimal() and len(typed) < LONGEST_SECONDS:
        made, at = datetime.fromtimestamp(int(typed), UTC), now()
        if at - NOTES_WAIT <= made <= at:
            g.now = made


def was_kept() -> bool:
    """Whether a phone sends a note that it kept, and reads the answer itself."""
    return "Underbench-Kept" in request.headers


def spelt(name: str) -> str:
    """Return a tree's name as the garden spells it; an unknown one is not found."""
    for tree in settings().trees:
        if tree.name.casefold() == name.casefold():
            return tree.name
    return abort(404)


def local(moment: datetime) -> datetime:
    """Return a moment by the garden's clock."""
    return moment.astimezone(ZoneInfo(deps().settings().garden.timezone))


def clock(moment: datetime | None) -> str:
    """Return a moment as the garden's clock shows it, with the day if it is not today."""
    if moment is None:
        return ""
    zone = ZoneInfo(deps().settings().garden.timezone)
    at, today = moment.astimezone(zone), now().astimezone(zone)
    shown = Units(deps().settings().units).clock(at)
    return shown if at.date() == today.date() else f"{at:%a} {at.day} {at:%b} {shown}"


def day(moment: datetime) -> str:
    """Return the local day of a moment, with the year if it is not this year."""
    zone = ZoneInfo(deps().settings().garden.timezone)
    at, today = moment.astimezone(zone), now().astimezone(zone)
    return f"{at.day} {at:%b}" if at.year == today.year else f"{at.day} {at:%b %Y}"


def with_point(number: str) -> str:
    """Return a typed number with a point for its decimal comma. If the comma may mean thousands,
    the text stays as it is. It is then no number, and the page asks again."""
    return number if THOUSANDS.fullmatch(number) else number.replace(",", ".")
