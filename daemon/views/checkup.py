"""``underbench check``: one line for each part, with what to do if something is wrong."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path

from underbench.daemon.config.defaults import ROOTED_SOIL
from underbench.daemon.config.settings import Settings
from underbench.daemon.delivery.outbox import RefusedService, Services, all_services
from underbench.daemon.delivery.trial import LOOK, try_out
from underbench.daemon.faults import Fault, unforeseen
from underbench.daemon.outlook.garden_now import grown
from underbench.daemon.outlook.outlook import fetch
from underbench.daemon.readings.from_file import read_added
from underbench.daemon.readings.mqtt_connection import need_mqtt
from underbench.daemon.readings.parse import Known
from underbench.daemon.readings.sensor_report import sensor_lines
from underbench.daemon.store.readings import FilePlace
from underbench.daemon.store.store import Store
from underbench.daemon.views import machine
from underbench.daemon.weather.archive import autumn_known
from underbench.daemon.weather.ensemble import call_weight, kept_ensemble
from underbench.daemon.weather.supply import Supply
from underbench.rules.garden.inventory import ContainerKind, StandIn

AUTUMN_UNKNOWN = (
    "note season: the weather since autumn is not known (the archive did not answer, or none is "
    "set as archive_url); trees count as fully chilled, which opens buds soonest"
)
IN_A_BED = (
    'does {tree} stand in its pot in the bed? Then add container = "pot". It has a volume, and '
    "counts as growing in the open ground; if it does, leave the volume out"
)
NO_CONTACT = (
    "note second source: {} may only be asked with a contact: set contact under [weather] to an "
    "e-mail address or web page of yours"
)


@dataclass(frozen=True, slots=True)
class Line:
    """One part of the check-up."""

    good: bool
    text: str

    @property
    def parts(self) -> dict[str, str]:
        """The line for programs: the part, its state (ok, note, bad), and the words."""
        state, _, rest = self.text.partition(" ")
        part, _, words = rest.strip().partition(": ")
        return {"part": part, "state": state.lower(), "words": words}


@dataclass(frozen=True, slots=True)
class Here:
    """The garden's file, the environment, and the moment of looking."""

    config: Path
    env: Mapping[str, str]
    now: datetime


def checkup(
    settings: Settings,
    here: Here,
    open_store: Callable[[], Store],
    make_supply: Callable[[Store], Supply],
    push: bool = False,
) -> Iterator[Line]:
    """Yield a line for each part, with what to do if it is bad.

    With ``push`` every push address gets a test message; else nothing is sent.
    """
    yield Line(True, f"ok   version: {machine.versions()}")
    yield _line("configuration", lambda: _configuration(settings))
    yield from _in_beds(settings)
    for what in machine.exposed(here.config, here.env):
        yield Line(False, f"BAD  secrets: {what}")
    try:
        with open_store() as store:
            yield from _kept(settings, store, make_supply(store), here.now)
    except Fault as fault:
        yield Line(False, f"BAD  database: {fault}")
    except Exception as error:
        yield Line(False, f"BAD  database: {unforeseen(error)}")
    yield from _people(settings)
    if push:
        yield from _pushed(settings, here.now)
    if not settings.routines:
        yield Line(True, "note watering: no routine is recorded, so nothing is said about dry pots")


def _kept(settings: Settings, store: Store, supply: Supply, now: datetime) -> Iterator[Line]:
    """Yield the lines that need the open database."""
    yield Line(True, f"ok   database: {settings.store_path.name} opens and can be written")
    for what in store.journal.set_aside():
        yield Line(False, f"BAD  journal: {what} cannot be read and is left out; note it again")
    yield _line("disk", lambda: machine.disk(settings.store_path))
    yield _line("clock", lambda: machine.clock(store, settings.garden.timezone, now))
    yield _line("weather", lambda: _weather(settings, store, supply, now))
    yield from _second(settings, store, now)
    if settings.weather.ensembles:
        yield _ensemble(settings, store, now)
    if not autumn_known(store, settings.garden, now):
        yield Line(True, AUTUMN_UNKNOWN)
    yield from _readings(settings, store, now)


def _line(part: str, look: Callable[[], str]) -> Line:
    try:
        return Line(True, f"ok   {part}: {look()}")
    except Fault as fault:
        lines = str(fault).replace("\n", f"\nBAD  {part}: ")
        return Line(False, f"BAD  {part}: {lines}")
    except Exception as error:
        return Line(False, f"BAD  {part}: {unforeseen(error)}")


def _configuration(settings: Settings) -> str:
    garden = settings.garden
    return (
        f"{garden.name}, {len(settings.trees)} trees on {len(settings.spots)} spots, "
        f"{garden.latitude:.3f}, {garden.longitude:.3f}, {garden.elevation_m:.0f} m, "
        f"{garden.timezone}"
    )


def _weather(settings: Settings, store: Store, supply: Supply, now: datetime) -> str:
    # A pass soon after uses the kept answer, so it has to reach as far back as a pass asks.
    supplied = fetch(settings, store, supply, now)
    if supplied.problem:
        raise Fault(supplied.problem)
    minutes = int(max(now - supplied.fetched_at, timedelta(0)).total_seconds() // 60)
    notes = "".join(f". {note}" for note in supplied.notes)
    made = f"{supplied.source}, forecast fetched {minutes} min ago"
    return f"{made}. {supplied.attribution}{notes}"


def _second(settings: Settings, store: Store, now: datetime) -> Iterator[Line]:
    """Yield whether another source stands by. It is not asked for this."""
    source = settings.weather
    if source.second_source is None:
        return
    standing = store.answers.standing(source.second)
    if not source.contact.strip():
        yield Line(True, NO_CONTACT.format(source.second))
    elif standing.ask_at and standing.ask_at > now:
        yield Line(True, f"note second source: {standing.why}")
    else:
        yield Line(True, f"ok   second source: {source.second} stands by")


def _ensemble(settings: Settings, store: Store, now: datetime) -> Line:
    models = settings.weather.ensemble
    kept = kept_ensemble(store, models, now)
    if kept is None:
        return Line(
            True,
            f"note ensemble: none of {models} could be had; chances are counted over twenty"
            " variations of the one forecast",
        )
    weight = call_weight(kept.members)
    return Line(True, f"ok   ensemble: {models}, {kept.members} members; a call weighs {weight:g}")


def _readings(settings: Settings, store: Store, now: datetime) -> Iterator[Line]:
    """Yield how the garden's own readings come in, and the last reading of each sensor."""
    table = settings.readings
    if table.file:
        yield _line("readings", lambda: _file_of(settings, store, now))
    if table.token:
        yield Line(True, _posts(settings))
    if table.mqtt:
        yield _line("readings", lambda: _broker(settings))
    for text in sensor_lines(store, settings.units, now):
        yield Line(True, f"note reading: {text}")


def _file_of(settings: Settings, store: Store, now: datetime) -> str:
    path = settings.readings.file or Path()
    known = Known.of(grown(settings, store))
    wrong = read_added(path, FilePlace(0, 0, b""), known, now).complaints
    return f"{path.name} can be read" + (f", but not {wrong[0]}" if wrong else "")


def _posts(settings: Settings) -> str:
    listen = settings.page.listen
    if listen is None:
        return "note readings: a token is set, but the page that takes posts needs [page] listen"
    return f"ok   readings: posts are taken by the page, at {listen}/readings"


def _broker(settings: Settings) -> str:
    need_mqtt("readings.mqtt")
    mqtt = settings.readings.mqtt
    return f"`underbench run` listens to {mqtt.host}:{mqtt.port}" if mqtt else ""


def _in_beds(settings: Settings) -> Iterator[Line]:
    """Yield a question for each tree with a volume that counts as growing in its spot's ground."""
    for tree in settings.trees:
        derived = settings.derived[tree.name]
        in_bed = tree.container.kind is ContainerKind.BED and "container" in derived
        if in_bed and derived.get("litres") != ROOTED_SOIL:
            yield Line(True, f"note bed: {IN_A_BED.format(tree=tree.name)}")


def _people(settings: Settings) -> Iterator[Line]:
    """Yield how the keeper and the stand-ins are told. Addresses are shown only by their kind."""
    yield _line("push services", lambda: _keeper(settings))
    if second := settings.telling.danger_urls:
        own = partial(Services, (), second, places=settings.address_places)
        yield _line("second route for danger", lambda: _labels(own()))
    for one in settings.hands_on.stand_ins:
        yield _line(f"stand-in {one.name}", partial(_stand_in, one, settings))


def _pushed(settings: Settings, now: datetime) -> Iterator[Line]:
    """Send the test message, and yield how it fared at each address."""
    try:
        services = all_services(settings)
    except RefusedService:
        yield Line(False, "BAD  test message: none was sent; mend the addresses first")
        return
    for one in try_out(services, settings.garden.name, now):
        yield Line(one.taken, f"{'ok  ' if one.taken else 'BAD '} test message: {one.words}")
    if services.keys:
        yield Line(True, f"note test message: {LOOK}")


def _keeper(settings: Settings) -> str:
    if not settings.telling.urls:
        raise Fault("telling.urls is empty: set a push address, else nothing reaches a phone")
    return _labels(Services(settings.telling.urls, places=settings.address_places))


def _stand_in(one: StandIn, settings: Settings) -> str:
    days = ", ".join(f"{stretch.first} to {stretch.last}" for stretch in one.days)
    urls = settings.stand_in_urls.get(one.name)
    told = "no address of their own, so you are told in their place"
    if urls:
        told = _labels(Services((), (), {one.name: urls}, places=settings.address_places))
    return f"{days}; {told}" + ("" if one.waters else "; does not water")


def _labels(services: Services) -> str:
    return ", ".join(services.label(key) for key in services.keys)
