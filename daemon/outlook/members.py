"""The weathers that could be: a forecast corrected as learned, its members, the air at spots.

Past hours stay as they were forecast; what was learned acts only on the hours ahead.
"""

from __future__ import annotations

import logging
from contextlib import suppress
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from underbench.daemon.config.settings import Settings
from underbench.daemon.store.store import Store
from underbench.daemon.weather.ensemble import Ensemble
from underbench.rules.garden.inventory import Garden, Spot
from underbench.rules.physics.cover import CoverKind
from underbench.rules.physics.places import place_of
from underbench.rules.weather.ensemble import centre_c, on_central
from underbench.rules.weather.hourly import HOUR_S, Array, Weather
from underbench.rules.weather.learned import Learned, corrected, from_text, hours_of
from underbench.rules.weather.spread import daylight_share, dress, no_brighter_than
from underbench.rules.weather.sun import clear_sky_wm2, position
from underbench.rules.weather.thermometer import Hours

_log = logging.getLogger(__name__)


def learned_of(store: Store) -> Learned:
    """Return the correction as kept. Without one, or with an unreadable one, nothing is learned
    yet, and learning begins anew. `Learned.faded` says what it still tells later."""
    kept = store.learning.learned()
    if kept is not None:
        with suppress(ValueError):
            return from_text(kept[0])
        _log.warning("the learned correction cannot be read and is learned anew")
    return Learned()


def with_departures(settings: Settings, learned: Learned) -> Settings:
    """Return the settings with what was learned about the air of their open spots."""
    spots = {
        name: spot.model_copy(update={"departs": learned.departure(name)})
        if in_the_open(spot)
        else spot
        for name, spot in settings.spots.items()
    }
    return settings.model_copy(update={"spots": spots})


def in_the_open(spot: Spot) -> bool:
    """Return whether a thermometer there measures the garden's air. Under glass or in a shed it
    measures what the cover does, and that is not learned."""
    return place_of(spot).cover is CoverKind.OPEN


def members_of(
    forecast: Weather,
    hour: datetime,
    settings: Settings,
    ensemble: Ensemble | None,
    learned: Learned,
) -> Weather:
    """Return the weathers that could be: the run as corrected, with the ensemble laid on it. The
    members are dressed with the spread they lack. Without an ensemble the run itself is dressed."""
    garden = settings.garden
    lead_h = leads_h(forecast, hour)
    elevation = _elevation(forecast, garden)
    dark = elevation < 0
    shift_k = learned.shift_k(hours_ahead(forecast, dark, ensemble), lead_h, dark)
    central = corrected(forecast, shift_k)
    most_wm2 = _most_sun_wm2(central, elevation, garden)
    members = central
    if ensemble is not None:
        members = on_central(central, ensemble.runs, elevation, garden.elevation_m)
    lack_k = learned.spread_k(lead_h, members.air_c.var(axis=0))
    dressed = dress(members, hour, daylight_share(elevation), air_lack_k=lack_k)
    return no_brighter_than(dressed, most_wm2)


def hours_ahead(forecast: Weather, dark: NDArray[np.bool_], ensemble: Ensemble | None) -> Hours:
    """Return what the correction of each hour of a complete ``forecast`` follows from; ``dark``
    (hour,)."""
    middle_c = centre_c(ensemble.runs, forecast.times) if ensemble is not None else None
    return hours_of(forecast, dark, middle_c)


def leads_h(forecast: Weather, hour: datetime) -> Array:
    """Return how many hours ahead of ``hour`` each hour is, (hour,); 0 for those before it."""
    return np.asarray(np.maximum(forecast.times - hour.timestamp(), 0.0) / HOUR_S)


def _elevation(run: Weather, garden: Garden) -> Array:
    """The sun's elevation at mid-hour."""
    return position(run.times - HOUR_S // 2, garden.latitude, garden.longitude)[0]


def _most_sun_wm2(run: Weather, elevation: Array, garden: Garden) -> Array:
    """The most sun that falls on the level, W/m²."""
    return np.maximum(clear_sky_wm2(elevation, garden.elevation_m), run.global_wm2)
