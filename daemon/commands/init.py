"""``underbench init``: the few questions for a new garden."""

from __future__ import annotations

import re
import sys
from getpass import getuser
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from underbench.daemon.commands.open_garden import config_path

if TYPE_CHECKING:
    from underbench.daemon.commands.first_garden import NewGarden, NewSpot, NewTree
    from underbench.daemon.weather.gazetteer import Found
    from underbench.daemon.wording.units import UnitSystem

NO_MORE = "none"
SHELTERS = (
    *("under the bench", "plunge bed", "cold frame", "greenhouse", "shed"),
    *("garage", "cellar", "cool room", NO_MORE),
)
WARMED = ("greenhouse", "garage", "cellar", "cool room")
OPEN = ("bench", "shelf", "ground row", "bed")
_COORDINATES = re.compile(r"\s*(-?\d+(?:\.\d+)?)\s*[,;\s]\s*(-?\d+(?:\.\d+)?)\s*")
_SUN = re.compile(r"\d\d:\d\d-\d\d:\d\d|none")
M_PER_FOOT = 0.3048


@click.command()
@click.pass_obj
def init(config: Path | None) -> None:
    """Start your garden: answer a few questions, get its file."""
    from underbench.daemon.commands.first_garden import as_toml, keep_garden
    from underbench.daemon.faults import Fault

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


def _asked() -> NewGarden:
    from underbench.daemon.commands.first_garden import NewGarden

    said = click.prompt("Units", type=click.Choice(["metric", "us"]), default="metric")
    units: UnitSystem = "us" if said == "us" else "metric"
    found = _place()
    height = _height(found, units)
    timezone = found.timezone or click.prompt("Timezone", type=_Zone())
    name = click.prompt("What is the garden called", default=found.name.split(",")[0] or None)
    spots = _shelters([_bench(units)], units)
    fleece = click.prompt(
        "\nLayers of fleece at hand for cold nights", type=click.IntRange(0, 2), default=1
    )
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
    from underbench.daemon.weather.gazetteer import Found

    while True:
        said = click.prompt("Where is it (a place, or latitude, longitude)")
        exact = _COORDINATES.fullmatch(said)
        if exact is None:
            found = _chosen(said)
            if found:
                return found
            continue
        latitude, longitude = float(exact[1]), float(exact[2])
        if abs(latitude) <= 90 and abs(longitude) <= 180:
            return Found("", latitude, longitude, None, None)
        click.echo("Latitude is -90 to 90 (south is below 0), longitude -180 to 180.")


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
    from underbench.rules.garden.inventory import HIGHEST_M, LOWEST_M

    foot = M_PER_FOOT if units == "us" else 1.0
    known = None if found.elevation_m is None else round(found.elevation_m / foot)
    unit = "feet" if units == "us" else "metres"
    bounds = _Number(f"height_{'ft' if units == 'us' else 'm'}", LOWEST_M / foot, HIGHEST_M / foot)
    return float(click.prompt(f"Height above the sea, {unit}", type=bounds, default=known))


class _Number(click.FloatRange):
    """A number in a range; what is wrong with another is said with how to write it."""

    def __init__(self, key: str, least: float, most: float) -> None:
        super().__init__(least, most)
        self._key = key

    def convert(
        self, value: Any, param: click.Parameter | None, ctx: click.Context | None
    ) -> float:
        from underbench.daemon.config.slips import number_hint

        if isinstance(value, str) and (hint := number_hint(self._key, value)):
            self.fail(hint, param, ctx)
        return float(super().convert(value, param, ctx))


class _Zone(click.ParamType[str]):
    name = "timezone"

    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> str:
        from underbench.daemon.config.file import timezone_named

        try:
            return timezone_named(value)
        except ValueError as error:
            self.fail(str(error), param, ctx)


class _Hours(click.ParamType[str]):
    name = "hours"

    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> str:
        if not _SUN.fullmatch(value):
            self.fail('expected hours such as 09:00-17:00, or "none"', param, ctx)
        return value


def _bench(units: UnitSystem) -> NewSpot:
    from underbench.daemon.commands.first_garden import NewSpot
    from underbench.daemon.config.defaults import SPOT_DEFAULTS
    from underbench.daemon.wording.units import CM_PER_INCH
    from underbench.rules.garden.inventory import SpotKind, Surface

    click.echo("\nThe place where most trees stand")
    kind = click.prompt("  Its kind", type=click.Choice(OPEN), default="bench")
    name = click.prompt("  Its name", type=_Free([]), default=kind)
    sun = click.prompt("  When does the sun reach it", type=_Hours(), default="09:00-17:00")
    usual = SPOT_DEFAULTS[SpotKind(kind)]
    grounds = click.Choice([one.value for one in Surface])
    surface = click.prompt("  The ground there", type=grounds, default=usual.surface.value)
    unit, cm = ("inches", CM_PER_INCH) if units == "us" else ("cm", 1.0)
    foot = round(usual.height_cm / cm)
    height = click.prompt(
        f"  How high its pots stand above that, {unit}",
        type=_Number("height_in" if units == "us" else "height_cm", 0, 400 / cm),
        default=foot,
    )
    return NewSpot(name, kind, sun, surface, float(height))


def _shelters(spots: list[NewSpot], units: UnitSystem) -> list[NewSpot]:
    """Ask for places to take trees in, until there are no more; return all spots."""
    from underbench.daemon.commands.first_garden import NewSpot

    click.echo(f"\nPlaces to take trees in when it is too cold ({NO_MORE} ends it)")
    while True:
        usual = SHELTERS[0] if len(spots) == 1 else NO_MORE
        kind = click.prompt("  Kind", type=click.Choice(SHELTERS), default=usual)
        if kind == NO_MORE:
            return spots
        name = click.prompt("  Its name", type=_Free([spot.name for spot in spots]), default=kind)
        room = click.prompt("  How many trees fit", type=click.IntRange(0), default=4)
        spots = [*spots, NewSpot(name, kind, room=room, keeps_above=_coldest(kind, units))]


def _coldest(kind: str, units: UnitSystem) -> float | None:
    """How cold it gets in a place that a heater or a house may keep warm; None if not known."""
    if kind not in WARMED:
        return None
    unit, bounds = ("°F", (-22, 77)) if units == "us" else ("°C", (-30, 25))
    if not click.confirm("  Do you know how cold it gets there in winter", default=False):
        return None
    return float(click.prompt(f"  Never colder than, {unit}", type=click.FloatRange(*bounds)))


class _Free(click.ParamType[str]):
    name = "name"

    def __init__(self, taken: list[str]) -> None:
        self._taken = {one.casefold() for one in taken}

    def convert(self, value: str, param: click.Parameter | None, ctx: click.Context | None) -> str:
        from underbench.daemon.config.limits_table import name_fault

        if value.casefold() in self._taken:
            self.fail("there is one of that name already", param, ctx)
        if fault := name_fault(value):
            self.fail(fault, param, ctx)
        return value


def _trees(spot: NewSpot, units: str) -> list[NewTree]:
    """Ask for the first trees."""
    from underbench.daemon.commands.first_garden import NewTree

    click.echo("\nThe first trees (an empty name ends it; more go into the file the same way)")
    unit = "gallons" if units == "us" else "litres"
    trees: list[NewTree] = []
    while True:
        name = click.prompt("  Name", type=_Free([]), default="", show_default=False).strip()
        taken = {tree.name.casefold() for tree in trees}
        if not name and trees:
            return trees
        if not name or name.casefold() in taken:
            click.echo("  One tree at least, please." if not name else "  There is one already.")
            continue
        species, hardiness = _kind()
        volume = click.prompt(f"  Mix in its pot, {unit}", type=_Number(unit, 0.02, 4000))
        trees.append(NewTree(name, species, volume, spot.name, hardiness))


def _kind() -> tuple[str, str | None]:
    """Ask for a species; return it, and for one that is not in the table the class it is like."""
    from underbench.rules.plants.likeness import LIKENESSES
    from underbench.rules.plants.species_lookup import find, nearest

    while True:
        species = click.prompt("  Species").strip()
        if find(species) is not None:
            return species, None
        near = nearest(species, 3)
        click.echo(f"  {species} is not in the table of species.")
        click.echo("  0  I mistyped it" + (f": {', '.join(near)}" if near else "; ask again"))
        for number, like in enumerate(LIKENESSES, start=1):
            click.echo(f"  {number:<2} {like.words}")
        choice = click.IntRange(0, len(LIKENESSES))
        number = click.prompt("  What is it most like", type=choice, default=0 if near else None)
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
    from underbench.daemon.commands.first_garden import keep_address

    click.echo("\nYour phone: a push address as Apprise reads it (ntfy://…, tgram://…, mailto://…)")
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
