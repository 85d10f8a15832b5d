"""The first file of a garden: a few answers as commented TOML. It is checked before it is kept."""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from underbench.daemon.config.environment import BESIDE
from underbench.daemon.config.settings import load
from underbench.daemon.faults import Fault
from underbench.daemon.wording.units import UnitSystem

_HEAD = """\
# The garden as it is at the start. Note later works, moves and stages with commands (underbench
# did, moved, seen). `underbench check` reads this file and says what is wrong. `underbench trees`
# shows what was worked out where nothing is written.

[garden]
name = {name}
latitude = {latitude}
longitude = {longitude}
{height}
timezone = {timezone}
"""
_SPOT = """
[[spot]]
name = {name}
kind = {kind}
{sun}"""
_SUN = """\
sun = {sun}            # when the sun reaches it; or "none"
# sky_view = 0.6                 # share of open sky; measure this first, it decides frost
# wind_factor = 0.5              # share of the open field's wind
surface = {surface}              # or gravel, soil, paving, decking, flat roof: the ground about it
{foot}"""
_ROOM = """\
room = {room}                         # how many trees it takes in
"""
_TREE = """
[[tree]]
name = {name}
species = {species}
{hardiness}{volume}
spot = {spot}
"""
_TAIL = """
[hands_on]                       # when you can carry trees: you are told by then
weekdays = ["07:00-08:00", "18:00-21:00"]
weekends = ["08:00-20:00"]
quiet = "22:00-06:00"            # only danger may wake you

# [[watering]]                   # how you water; without it nothing is said about dry pots
# times = ["07:00"]
# from = "04-01"
# until = "09-30"

[means]
fleece_layers = {fleece}                # to cover trees with on a cold night: 0, 1 or 2
# shade_cloth = true             # what else is at hand
# lift_litres = 20               # the biggest pot that you lift alone

[telling]                        # your push address is in the folder "secrets" beside this file
round_up = "18:30"               # three days in six lines; leave it out for none
"""
_PAGE = """
[page]
listen = {listen}        # on this machine alone; how your phone gets in: deploy/README.md
"""


@dataclass(frozen=True, slots=True)
class NewSpot:
    """A place for trees. A place in the open has ``sun`` ("HH:MM-HH:MM") and ``surface``, a shelter
    ``room`` and the cold it ``keeps_above``. ``height`` of its pots above the ground is in cm. With
    US units these are inches and °F."""

    name: str
    kind: str
    sun: str | None = None
    surface: str = "grass"
    height: float | None = None
    room: int | None = None
    keeps_above: float | None = None


@dataclass(frozen=True, slots=True)
class NewTree:
    """A tree; ``volume`` in litres, or in US gallons for a garden in US units. ``hardiness`` is the
    class of a species that the table lacks."""

    name: str
    species: str
    volume: float
    spot: str
    hardiness: str | None = None


@dataclass(frozen=True, slots=True)
class NewGarden:
    """What a grower answered; ``elevation`` in metres, or in feet with US units. ``page`` is where
    the page listens; None for no page."""

    name: str
    latitude: float
    longitude: float
    elevation: float
    timezone: str
    units: UnitSystem
    spots: Sequence[NewSpot]
    trees: Sequence[NewTree]
    fleece_layers: int = 0
    page: str | None = None


def as_toml(garden: NewGarden) -> str:
    """Return the file: the answers, and comments on what is worth setting next."""
    us = garden.units == "us"
    height = f"elevation_{'ft' if us else 'm'} = {garden.elevation:g}"
    head = _HEAD.format(
        name=_quoted(garden.name),
        latitude=garden.latitude,
        longitude=garden.longitude,
        height=height + ('\nunits = "us"' if us else ""),
        timezone=_quoted(garden.timezone),
    )
    spots = "".join(_spot(spot, us) for spot in garden.spots)
    trees = "".join(
        _TREE.format(
            name=_quoted(tree.name),
            species=_quoted(tree.species),
            hardiness=_hardiness(tree),
            volume=f"{'gallons' if us else 'litres'} = {tree.volume:g}",
            spot=_quoted(tree.spot),
        )
        for tree in garden.trees
    )
    page = _PAGE.format(listen=_quoted(garden.page)) if garden.page else ""
    return head + spots + trees + _TAIL.replace("{fleece}", str(garden.fleece_layers)) + page


def _spot(spot: NewSpot, us: bool) -> str:
    foot = "" if spot.height is None else f"height_{'in' if us else 'cm'} = {spot.height:g}\n"
    answers = {"sun": _quoted(spot.sun or ""), "surface": _quoted(spot.surface), "foot": foot}
    sun = _SUN.format(**answers) if spot.sun else ""
    room = "" if spot.room is None else _ROOM.format(room=spot.room)
    key = f"keeps_above_{'f' if us else 'c'}"
    warm = "" if spot.keeps_above is None else f"{key} = {spot.keeps_above:g}\n"
    return _SPOT.format(name=_quoted(spot.name), kind=_quoted(spot.kind), sun=sun + room + warm)


def _hardiness(tree: NewTree) -> str:
    if tree.hardiness is None:
        return ""
    return f"hardiness = {_quoted(tree.hardiness)}   # as the species is not in the table\n"


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def keep_garden(toml: str, path: Path) -> None:
    """Write the file where there is none, after it was read back and found good.

    Raises ConfigProblems for what is wrong in it, Fault if it cannot be written.
    """
    half = path.with_name(f".{path.name}.half")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        half.write_text(toml, encoding="utf-8")
        load(half, {})
        os.link(half, path)  # fails if there is one, even one made this moment
    except FileExistsError:
        raise Fault(f"{path}: is there already; change it, or name another with --config") from None
    except OSError as error:
        raise Fault(f"{path}: cannot be written: {error.strerror}") from None
    finally:
        half.unlink(missing_ok=True)


def keep_address(address: str, config: Path) -> Path:
    """Keep a push address in the secrets folder beside the garden's file, where nobody else can
    read it. Return the path. Raises Fault."""
    path = config.parent / BESIDE / "telling_urls"
    try:
        path.parent.mkdir(mode=0o700, exist_ok=True)
        with os.fdopen(os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600), "w") as file:
            file.write(f"{address}\n")
    except OSError as error:
        raise Fault(f"{path}: cannot be written: {error.strerror}") from None
    return path
