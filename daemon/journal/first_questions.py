"""The questions for a new garden, and what may be answered. The command asks them one by one, the
page on one form."""

from __future__ import annotations

import re
from collections.abc import Collection

from underbench.daemon.config.limits_table import name_fault
from underbench.daemon.config.slips import number_hint
from underbench.daemon.weather.gazetteer import Found
from underbench.rules.garden.inventory import HIGHEST_M, LOWEST_M
from underbench.rules.plants.species_lookup import find, nearest

PLACE = "Where is it (a place, or latitude, longitude)"
HEIGHT = "Height above the sea"
TIMEZONE = "Timezone"
GARDEN = "What is the garden called"
FLEECE = "Layers of fleece at hand for cold nights"
BENCH = "The place where most trees stand"
KIND, NAME = "Its kind", "Its name"
SUN = "When does the sun reach it"
SURFACE = "The ground there"
ABOVE = "How high its pots stand above that"
SHELTER = "Places to take trees in when it is too cold"
ROOM = "How many trees fit"
COLDEST = "Never colder than"
TREES = "The first trees"
SPECIES = "Species"
MIX = "Mix in its pot"
LIKE = "What is it most like"
PHONE = "Your phone: a push address as Apprise reads it (ntfy://…, tgram://…, mailto://…)"

SHELTERS = (
    *("under the bench", "plunge bed", "cold frame", "greenhouse", "shed"),
    *("garage", "cellar", "cool room"),
)
WARMED = ("greenhouse", "garage", "cellar", "cool room")
OPEN = ("bench", "shelf", "ground row", "bed")
USUAL_SUN, USUAL_ROOM, MOST_FLEECE = "09:00-17:00", 4, 2
M_PER_FOOT = 0.3048
LEAST_L, MOST_L = 0.02, 4000  # the range that the file takes
HIGHEST_CM = 400
_COORDINATES = re.compile(r"\s*(-?\d+(?:\.\d+)?)\s*[,;\s]\s*(-?\d+(?:\.\d+)?)\s*")
_SUN = re.compile(r"\d\d:\d\d-\d\d:\d\d|none")


def coordinates(said: str) -> Found | None:
    """Return the place that an answer gives as latitude and longitude; None if it is a name. Raises
    ValueError for coordinates that are none."""
    exact = _COORDINATES.fullmatch(said)
    if exact is None:
        return None
    latitude, longitude = float(exact[1]), float(exact[2])
    if abs(latitude) > 90 or abs(longitude) > 180:
        raise ValueError("Latitude is -90 to 90 (south is below 0), longitude -180 to 180.")
    return Found("", latitude, longitude, None, None)


def heights(us: bool) -> tuple[str, float, float]:
    """Return the unit of a height above the sea, and the least and greatest there is."""
    foot = M_PER_FOOT if us else 1.0
    return "feet" if us else "metres", LOWEST_M / foot, HIGHEST_M / foot


def colds(us: bool) -> tuple[str, float, float]:
    """Return the unit of the cold that a warmed place keeps off, and its least and greatest."""
    return ("°F", -22.0, 77.0) if us else ("°C", -30.0, 25.0)


def number(key: str, said: str, least: float, most: float) -> float:
    """Return a number in a range. Raises ValueError that says how to write another; the end of
    ``key`` names the unit."""
    try:
        value = float(said)
    except ValueError:
        raise ValueError(number_hint(key, said) or f"{said!r} is no number") from None
    if not least <= value <= most:
        raise ValueError(f"{value:g} is not in the range from {least:g} to {most:g}")
    return value


def sun_hours(said: str) -> str:
    """Return hours of sun as the file has them; raises ValueError."""
    if not _SUN.fullmatch(said):
        raise ValueError('expected hours such as 09:00-17:00, or "none"')
    return said


def free_name(said: str, taken: Collection[str]) -> str:
    """Return a name that is not ``taken``, and that means nothing else; raises ValueError."""
    if said.casefold() in {one.casefold() for one in taken}:
        raise ValueError("there is one of that name already")
    if fault := name_fault(said):
        raise ValueError(fault)
    return said


def in_table(species: str) -> bool:
    """Whether the table has this species."""
    return find(species) is not None


def not_in_table(species: str) -> tuple[str, list[str]]:
    """Return what is said of a species that the table lacks, and the nearest ones there are."""
    return f"{species} is not in the table of species.", nearest(species, 3)
