"""The invented garden whose told jobs `tests/old_databases/jobs` holds, and its weather."""

from __future__ import annotations

from typing import Any

import numpy as np
from commanding import FIRST_DAY, FROST_DAY
from garden_toml import BENCH, EMBER, HANDS_ON, HEATH, MEANS, PLACE, SHED

from underbench.rules.weather.hourly import Weather

NORTH_WALL = """
[[spot]]
name = "north wall"
kind = "bench"
sun = "07:00-11:00"
"""


def _tree(name: str, species: str, litres: float, spot: str = "top bench") -> str:
    keys = f'name = "{name}"\nspecies = "{species}"\nlitres = {litres}\nspot = "{spot}"\n'
    return f"\n[[tree]]\n{keys}"


TOML = "".join(
    [
        *(PLACE, HANDS_ON, MEANS, BENCH, SHED, "room = 2\nmax_litres = 20\n", NORTH_WALL),
        *('\n[[watering]]\nfrom = "04-01"\nuntil = "09-30"\ntimes = ["07:00", "19:00"]\n',),
        *(EMBER, HEATH, _tree("Lane", "Carpinus betulus", 6)),
        _tree("Stump", "Acer buergerianum", 60),
        _tree("Alder", "Acer buergerianum", 60, "north wall"),
        *(
            _tree("Pine", "Pinus sylvestris", 3),
            "limits = { leaf_frost_c = -12, root_frost_c = -1 }\n",
        ),
        _tree("Rill", "Betula pendula", 8),
    ]
)


def two_nights_of_frost(make: Any) -> Weather:
    """A spring that warms from 7 to 13 °C, and two clear nights of frost in late April."""
    days = 65
    daily = np.linspace(7, 13, days).repeat(24)
    night = 24 * (FROST_DAY - FIRST_DAY).days
    daily[night - 12 : night + 36] = 5.0
    weather: Weather = make.weather(FIRST_DAY, 24 * days, mean_c=daily, swing_k=9.0)
    return weather
