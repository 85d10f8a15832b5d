"""``underbench init``: the few questions for a new garden."""

from __future__ import annotations

import sys
from collections.abc import Callable
from functools import partial
from getpass import getuser
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from underbench.daemon.commands.open_garden import config_path

if TYPE_CHECKING:
    from underbench.daemon.journal.first_garden import NewGarden, NewSpot, NewTree
    from underbench.daemon.weather.gazetteer import Found
    from underbench.daemon.wording.units import UnitSystem

NO_MORE = "none"


@click.command()
@click.pass_obj
def init(config: Path | None) -> None:
    """Start your garden: answer a few questions, get its file."""
    from underbench.daemon.faults import Fault
    from underbench.daemon.journal.first_garden import as_toml, keep_garden

    path = config_path(config)
    if path.exists():
        raise Fault(f"{path}: is there already; change it, or name another with --config")
    keep_garden(as_toml(_asked()), path)
    click.echo(f"\nWritten: {path}")
    _phone(path)
    _unit(path)
    click.echo(
        "\nNext: underbench did repot TREE --on DATE (and bag, chop, sever-layer: what was done"
        "\nlately), then underbench check, underbench today, underbench run."
    )


class _As(click.ParamType[Any]):
    """An answer that ``check`` takes; what is wrong with another is said in its words."""

    name = "answer"

    def __init__(self, check: Callable[[str], Any]) -> None:
        self._check = check

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        try:
            return self._check(f"{value}")
        except ValueError as fault:
            self.fail(str(fault), param, ctx)


def _asked() -> NewGarden:
    from underbench.daemon.config.file import timezone_named
    from underbench.daemon.journal import first_questions as ask
    from underbench.daemon.journal.first_garden import NewGarden

    said = click.prompt("Units", type=click.Choice(["metric", "us"]), default="metric")
    units: UnitSystem = "us" if said == "us" else "metric"
    found = _place()
    height = _height(found, units)
    timezone = found.timezone or click.prompt(ask.TIMEZONE, type=_As(timezone_named))
    name = click.prompt(ask.GARDEN, default=found.name.split(",")[0] or None)
    spots = _shelters([_bench(units)], units)
    fleece = click.prompt(f"\n{ask.FLEECE}", type=click.IntRange(0, ask.MOST_FLEECE), default=1)
    return NewGarden(
        name=name,
        latitude=found.latitude,
        longitude=found.longitude,
        elevation=height,
        timezone=timezone,
        units=units,
        spots=spots,
        trees=_trees(spots[0], units),
        fleece_layers=fleece,
    )


def _place() -> Found:
    """Ask for a place by name or coordinates, until there is one."""
    from underbench.daemon.journal import first_questions as ask

    while True:
        said = click.prompt(ask.PLACE)
        try:
            found = ask.coordinates(said) or _chosen(said)
        except ValueError as fault:
            click.echo(str(fault))
            continue
        if found:
            return found


def _chosen(name: str) -> Found | None:
    from underbench.daemon.weather import gazetteer

    try:
        places = gazetteer.look_up(name)
    except gazetteer.NotAnswered as fault:
        click.echo(f"{fault}. Give latitude, longitude: a map on your phone shows them.")
        return None
    if not places:
        click.echo(f"No place called {name!r} is known. A town nearby, or latitude, longitude?")
        return None
    for number, place in enumerate(places, start=1):
        click.echo(f"  {number}  {place.name} ({place.latitude:.2f}, {place.longitude:.2f})")
    number = click.prompt("Which (0 for none)", type=click.IntRange(0, len(places)), default=1)
    return places[number - 1] if number else None


def _height(found: Found, units: str) -> float:
    from underbench.daemon.journal import first_questions as ask

    us = units == "us"
    unit, least, most = ask.heights(us)
    foot = ask.M_PER_FOOT if us else 1.0
    known = None if found.elevation_m is None else round(found.elevation_m / foot)
    return _number(f"{ask.HEIGHT}, {unit}", f"height_{'ft' if us else 'm'}", least, most, known)


def _number(words: str, key: str, least: float, most: float, usual: float | None = None) -> float:
    from underbench.daemon.journal.first_questions import number

    check = _As(partial(number, key, least=least, most=most))
    return float(click.prompt(words, type=check, default=usual))


def _bench(units: UnitSystem) -> NewSpot:
    from underbench.daemon.config.defaults import SPOT_DEFAULTS
    from underbench.daemon.journal import first_questions as ask
    from underbench.daemon.journal.first_garden import NewSpot
    from underbench.daemon.wording.units import CM_PER_INCH
    from underbench.rules.garden.inventory import SpotKind, Surface

    click.echo(f"\n{ask.BENCH}")
    kind = click.prompt(f"  {ask.KIND}", type=click.Choice(ask.OPEN), default=ask.OPEN[0])
    name = click.prompt(f"  {ask.NAME}", type=_free([]), default=kind)
    sun = click.prompt(f"  {ask.SUN}", type=_As(ask.sun_hours), default=ask.USUAL_SUN)
    usual = SPOT_DEFAULTS[SpotKind(kind)]
    grounds = click.Choice([one.value for one in Surface])
    surface = click.prompt(f"  {ask.SURFACE}", type=grounds, default=usual.surface.value)
    unit, key, cm = ("inches", "in", CM_PER_INCH) if units == "us" else ("cm", "cm", 1.0)
    foot = round(usual.height_cm / cm)
    height = _number(f"  {ask.ABOVE}, {unit}", f"height_{key}", 0, ask.HIGHEST_CM / cm, foot)
    return NewSpot(name, kind, sun, surface, height)


def _shelters(spots: list[NewSpot], units: UnitSystem) -> list[NewSpot]:
    """Ask for places to take trees in, until there are no more; return all spots."""
    from underbench.daemon.journal import first_questions as ask
    from underbench.daemon.journal.first_garden import NewSpot

    click.echo(f"\n{ask.SHELTER} ({NO_MORE} ends it)")
    while True:
        usual = ask.SHELTERS[0] if len(spots) == 1 else NO_MORE
        kinds = click.Choice([*ask.SHELTERS, NO_MORE])
        kind = click.prompt("  Kind", type=kinds, default=usual)
        if kind == NO_MORE:
            return spots
        taken = [spot.name for spot in spots]
        name = click.prompt(f"  {ask.NAME}", type=_free(taken), default=kind)
        room = click.prompt(f"  {ask.ROOM}", type=click.IntRange(0), default=ask.USUAL_ROOM)
        spots = [*spots, NewSpot(name, kind, room=room, keeps_above=_coldest(kind, units))]


def _coldest(kind: str, units: UnitSystem) -> float | None:
    """How cold it gets in a place that a heater or a house may keep warm; None if not known."""
    from underbench.daemon.journal import first_questions as ask

    if kind not in ask.WARMED:
        return None
    unit, least, most = ask.colds(units == "us")
    if not click.confirm("  Do you know how cold it gets there in winter", default=False):
        return None
    return float(click.prompt(f"  {ask.COLDEST}, {unit}", type=click.FloatRange(least, most)))


def _free(taken: list[str]) -> _As:
    from underbench.daemon.journal.first_questions import free_name

    return _As(partial(free_name, taken=taken))


def _trees(spot: NewSpot, units: str) -> list[NewTree]:
    """Ask for the first trees."""
    from underbench.daemon.journal import first_questions as ask
    from underbench.daemon.journal.first_garden import NewTree

    click.echo(f"\n{ask.TREES} (an empty name ends it; more go into the file the same way)")
    unit = "gallons" if units == "us" else "litres"
    trees: list[NewTree] = []
    while True:
        name = click.prompt("  Name", type=_free([]), default="", show_default=False).strip()
        taken = {tree.name.casefold() for tree in trees}
        if not name and trees:
            return trees
        if not name or name.casefold() in taken:
            click.echo("  One tree at least, please." if not name else "  There is one already.")
            continue
        species, hardiness = _kind()
        volume = _number(f"  {ask.MIX}, {unit}", unit, ask.LEAST_L, ask.MOST_L)
        trees.append(NewTree(name, species, volume, spot.name, hardiness))


def _kind() -> tuple[str, str | None]:
    """Ask for a species; return it, and for one that is not in the table the class it is like."""
    from underbench.daemon.journal import first_questions as ask
    from underbench.rules.plants.likeness import LIKENESSES

    while True:
        species = click.prompt(f"  {ask.SPECIES}").strip()
        if ask.in_table(species):
            return species, None
        told, near = ask.not_in_table(species)
        click.echo(f"  {told}")
        click.echo("  0  I mistyped it" + (f": {', '.join(near)}" if near else "; ask again"))
        for number, like in enumerate(LIKENESSES, start=1):
            click.echo(f"  {number:<2} {like.words}")
        choice = click.IntRange(0, len(LIKENESSES))
        number = click.prompt(f"  {ask.LIKE}", type=choice, default=0 if near else None)
        if number:
            return species, LIKENESSES[number - 1].hardiness


class _Address(click.ParamType[str]):
    name = "push address"

    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> str:
        from underbench.daemon.delivery.push_services import fault_of

        address = value.strip()
        if address and (why := fault_of(address)):
            self.fail(why, param, ctx)
        return address


def _phone(path: Path) -> None:
    """Keep a push address, and try it if the keeper wants that."""
    from underbench.daemon.journal.first_garden import keep_address
    from underbench.daemon.journal.first_questions import PHONE

    click.echo(f"\n{PHONE}")
    address = click.prompt(
        "  Address (empty for later)", type=_Address(), default="", show_default=False
    )
    if not address:
        return
    kept = keep_address(address, path)
    click.echo(f"  Kept in {kept}, which only you can read.")
    if click.confirm("  Send a test message", default=True):
        _try_out(path)


def _try_out(path: Path) -> None:
    from datetime import UTC, datetime

    from underbench.daemon.config.settings import load
    from underbench.daemon.delivery.outbox import all_services
    from underbench.daemon.delivery.trial import LOOK, try_out

    settings = load(path)
    for tried in try_out(all_services(settings), settings.garden.name, datetime.now(UTC)):
        click.echo(f"  {tried.words}")
    click.echo(f"  {LOOK} Once more: underbench check --push")


def _unit(path: Path) -> None:
    """Offer a unit for systemd beside the file."""
    from underbench.daemon.commands.unit_file import users_unit
    from underbench.daemon.config.settings import load

    if not click.confirm("\nWrite a unit file, to start with this machine", default=False):
        return
    config = path.resolve()
    unit = config.with_name("underbench.service")
    database = load(config).store_path
    database.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
    command = Path(sys.prefix) / "bin" / "underbench"
    unit.write_text(users_unit(command, config, getuser(), database), "utf-8")
    click.echo(
        f"Written: {unit}\n  sudo cp {unit} /etc/systemd/system/\n"
        "  sudo systemctl enable --now underbench"
    )
