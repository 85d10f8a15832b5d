"""A correction of the forecast air, learned from the garden's own thermometers, night by night.

What each thermometer taught is kept for itself (`thermometer`), so that one can be forgotten. The
garden's correction is the mean over the places measured, those in doubt left out. A spot departs
from the garden by what its thermometer showed beside the others in the same nights. A spot's
thermometer is set against the forecast for the spot's own air, over its ground.

Correcting a model's 2 m temperature at a station recursively goes back to Homleid 1995 (Weather and
Forecasting 10) and Delle Monache et al. 2006 (J. Geophys. Res. 111); from memory.
"""

from __future__ import annotations

import json
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from underbench.rules.garden.inventory import NO_DEPARTURE, Departure
from underbench.rules.weather.hourly import HOUR_S, Array, Weather
from underbench.rules.weather.ridge import Sums
from underbench.rules.weather.spread import DEW_TO_AIR
from underbench.rules.weather.sun import position
from underbench.rules.weather.thermometer import (
    APART,
    DAY,
    LEADS_H,
    PRIOR_NIGHTS,
    Block,
    Hours,
    Thermometer,
    error_share,
    prior_spread_k,
)

CALM_MS = 5.0  # at 10 m; from there up air is mixed and a clear night no colder; judgement
EARLY_NIGHTS = 60.0
SPOT_WARMEST_K, SPOT_COLDEST_K = (0.5, 1.0), 8.0  # in the first nights; for good; judgement
LEAST_LACK_K2 = 0.1  # an ensemble's grid never knows a garden better than this
WHOLE_SAY_NIGHTS = 60.0  # of so many nights a thermometer has its whole say; judgement


@dataclass(frozen=True, slots=True)
class Pair:
    """One forecast and what came of it: of a night's lowest air, ``lead_h`` before its morning, or
    of a daylight hour as used (``lead_h`` 0).

    ``spot`` is None for the garden's own screen. ``clear_calm``, ``centre_k`` and ``variance_k2``
    (of the ensemble's members, 0 without one) are those of the hour ``at_s``.
    """

    at_s: int
    spot: str | None
    lead_h: float
    forecast_c: float
    observed_c: float
    clear_calm: float = 0.0
    centre_k: float = 0.0
    variance_k2: float = 0.0

    @property
    def change_k(self) -> float:
        """What came, less the forecast."""
        return self.observed_c - self.forecast_c

    @property
    def hours(self) -> Hours:
        """What its correction follows from, as one hour."""
        values = (self.forecast_c, self.clear_calm, self.centre_k)
        return Hours(np.array([self.at_s]), *(np.array([value]) for value in values))

    @property
    def lead(self) -> int:
        """The number of its lead."""
        return LEADS_H.index(int(self.lead_h))


@dataclass(frozen=True, slots=True)
class Learned:
    """What has been learned, by place; the garden's own screen is None."""

    places: Mapping[str | None, Thermometer] = field(default_factory=dict)

    @property
    def nights(self) -> float:
        """How many nights the best known place was learned from."""
        return max((one.known.nights for one in self.places.values()), default=0.0)

    @property
    def held(self) -> list[str | None]:
        """The places whose thermometers are in doubt."""
        return [place for place, one in self.places.items() if one.held]

    @property
    def spread_share(self) -> float:
        """The errors a day ahead over those assumed without a record; 1 without one."""
        return error_share(self._errors)

    @property
    def _errors(self) -> Array:
        """The error sums (lead, 3) of the places believed."""
        return np.array(sum((one.errors for one in self._heard), np.zeros((len(LEADS_H), 3))))

    @property
    def _heard(self) -> list[Thermometer]:
        """The thermometers that are believed; if none is, all of them."""
        known = [one for one in self.places.values() if one.known.nights]
        return [one for one in known if not one.held] or known

    def shift_k(self, hours: Hours, lead_h: Array, dark: NDArray[np.bool_]) -> Array:
        """Return what to add to the forecast air, (hour,), ``lead_h`` (hour,) ahead."""
        heard = self._heard or list(self.places.values())
        if not heard:
            return np.zeros(len(hours.times))
        says = [min(one.known.nights, WHOLE_SAY_NIGHTS) + 1.0 for one in heard]
        found = [
            np.where(dark, one.night_k(hours, lead_h), one.day_k(hours, lead_h)) for one in heard
        ]
        return np.average(np.array(found), axis=0, weights=says)

    def spread_k(self, lead_h: Array, variance_k2: Array | float = 0.0) -> Array:
        """Return the standard deviation of errors beside that of the members, (hour,).

        ``variance_k2`` (hour,) is the ensemble's; 0 without one. What it knows of the spread is
        kept, and the mean lack is added (the variance of Gneiting et al. 2005 with a slope of 1).
        """
        squares, of_members, count = (np.interp(lead_h, LEADS_H, of) for of in self._errors.T)
        prior_k2 = prior_spread_k(lead_h * HOUR_S) ** 2
        ensemble = np.asarray(variance_k2) > 0
        before = np.where(ensemble, np.maximum(prior_k2 - variance_k2, 0.0), prior_k2)
        after = np.where(ensemble, squares - of_members, squares)
        # Before the first lead and past the last one errors grow as they are assumed to.
        grown = prior_k2 / prior_spread_k(np.clip(lead_h, LEADS_H[0], LEADS_H[-1]) * HOUR_S) ** 2
        variance = (PRIOR_NIGHTS * before + grown * after) / (PRIOR_NIGHTS + count)
        least = LEAST_LACK_K2 if count.any() else 0.0
        return np.asarray(np.sqrt(np.maximum(variance, least)))

    def departure(self, spot: str) -> Departure:
        """Return how the air of ``spot`` departs from the garden's. An unknown spot does not
        depart. A spot departs little to the warm, and by a doubtful sensor only to the cold."""
        one = self.places.get(spot)
        if one is None:
            return NO_DEPARTURE
        own = np.clip(one.known.coefficients(APART), -SPOT_COLDEST_K, SPOT_COLDEST_K)
        warmest_k = 0.0 if one.held else SPOT_WARMEST_K[one.nights >= EARLY_NIGHTS]
        milder_k = float(own[own > 0].sum())
        if milder_k > warmest_k:  # all parts together: a clear calm night adds them up
            own = np.where(own > 0, own * warmest_k / milder_k, own)
        return Departure(*own.tolist())

    def without(self, spot: str | None) -> Learned:
        """Return the same without what the thermometer of ``spot`` taught."""
        return Learned({place: one for place, one in self.places.items() if place != spot})

    def faded(self, at_s: int) -> Learned:
        """Return what it still tells at ``at_s``."""
        return Learned({place: one.faded(at_s) for place, one in self.places.items()})


def hours_of(weather: Weather, dark: NDArray[np.bool_], centre_c: Array | None = None) -> Hours:
    """Return what the correction of the first member of a complete ``weather`` follows from.

    ``centre_c`` (hour,) is the middle of an ensemble, NaN where it does not reach.
    """
    air_c = weather.air_c[0]
    centre_k = np.zeros_like(air_c) if centre_c is None else np.nan_to_num(centre_c - air_c)
    calm = clear_calm(dark, weather.cloud[0], weather.wind_ms[0])
    return Hours(weather.times, air_c, calm, centre_k)


def dark_of(times: NDArray[np.int64], latitude: float, longitude: float) -> NDArray[np.bool_]:
    """Return in which hours (hour,) the sun is down, at mid-hour."""
    elevation, _ = position(times - HOUR_S // 2, latitude, longitude)
    return np.asarray(elevation < 0)


def departure_k(departs: Departure, weather: Weather, dark: NDArray[np.bool_]) -> Array:
    """Return by how much a spot's air departs from the garden's in each hour, K (member, hour);
    ``dark`` (hour,)."""
    calm = clear_calm(dark, weather.cloud, weather.wind_ms)
    return np.asarray(departs.always_k + departs.night_k * dark + departs.clear_calm_k * calm)


def clear_calm(dark: NDArray[np.bool_], cloud: Array, wind_ms: Array) -> Array:
    """Return how clear and calm a dark hour is, 0..1: then air pools and cools. 0 by day."""
    out: Array = dark * (1.0 - cloud) * np.clip(1.0 - wind_ms / CALM_MS, 0.0, 1.0)
    return out


def corrected(weather: Weather, shift_k: Array) -> Weather:
    """Return a complete one-member forecast with ``shift_k`` (hour,) added to its air and, as far
    as it follows, to its dew point."""
    air_c = weather.air_c + shift_k
    dew_c = np.minimum(weather.dew_c + DEW_TO_AIR * shift_k, air_c)
    return replace(weather, air_c=air_c, dew_c=dew_c)


def learn(learned: Learned, pairs: Sequence[Pair]) -> Learned:
    """Return what is known after one more night; nights come in the order of their times.

    ``pairs`` are all that was measured from its evening to its noon. A pair that is not finite
    teaches nothing.
    """
    good = [pair for pair in pairs if np.isfinite([pair.change_k, pair.centre_k]).all()]
    if not good:
        return learned
    at_s = max(pair.at_s for pair in good)
    places = {place: one.faded(at_s) for place, one in learned.places.items()}
    for pair in good:
        places.setdefault(pair.spot, Thermometer(last_s=at_s))
    places |= _watched(places, good)
    for pair in good:
        if not places[pair.spot].held:
            places[pair.spot] = _absorbed(places[pair.spot], pair)
    for pair, apart_k in _apart(places, good):
        row = np.array([1.0, float(pair.lead_h > 0), pair.clear_calm])
        places[pair.spot] = places[pair.spot].absorbed(APART, row, apart_k)
    nightly = {pair.spot for pair in good if pair.lead_h > 0 and not places[pair.spot].held}
    return Learned(places | {spot: places[spot].night_over() for spot in nightly})


def _judged(pairs: Sequence[Pair]) -> dict[str | None, Pair]:
    """The night of each place by its shortest lead."""
    nights = sorted((pair for pair in pairs if pair.lead_h > 0), key=lambda pair: -pair.lead_h)
    return {pair.spot: pair for pair in nights}


def _watched(
    places: Mapping[str | None, Thermometer], pairs: Sequence[Pair]
) -> dict[str | None, Thermometer]:
    """Each place after its guard has seen the night. Of several that walked away from each other,
    the one that lies farthest from its forecast is held, and the others go on."""
    left = {
        spot: places[spot].left_k(pair.hours, pair.lead, pair.change_k)
        for spot, pair in _judged(pairs).items()
    }
    seen = {}
    for spot, (left_k, level_k) in left.items():
        believed = left.keys() - {spot, *(other for other in left if places[other].held)}
        others = [left[other][0] for other in believed]
        apart_k = left_k - float(np.median(others)) if others else float("nan")
        seen[spot] = places[spot].watched(left_k, level_k, apart_k)
    newly = [spot for spot, one in seen.items() if one.held and not places[spot].held]
    farthest = max(newly, key=lambda spot: abs(seen[spot].recent_k), default=None)
    return {
        spot: one if spot not in newly or spot == farthest else places[spot]
        for spot, one in seen.items()
    }


def _absorbed(one: Thermometer, pair: Pair) -> Thermometer:
    hours, lead_h = pair.hours, np.array([pair.lead_h])
    if pair.lead_h == 0:
        return one.absorbed(DAY, hours.day_rows[0], pair.change_k)
    error_k = pair.change_k - float(one.known.night_k(hours.night_rows, lead_h)[0])
    counted = one.erred(pair.lead, error_k, pair.variance_k2)
    return counted.absorbed(pair.lead, hours.night_rows[0], pair.change_k)


def _apart(
    places: Mapping[str | None, Thermometer], pairs: Sequence[Pair]
) -> list[tuple[Pair, float]]:
    """How far each place lay from the mean of all that are believed, in the night or by day."""
    together: defaultdict[float, dict[str | None, Pair]] = defaultdict(dict)
    shortest = min((pair.lead_h for pair in pairs if pair.lead_h > 0), default=0.0)
    for pair in pairs:
        if pair.lead_h in (0, shortest) and not places[pair.spot].held:
            together[pair.lead_h][pair.spot] = pair
    return [
        (pair, pair.observed_c - float(np.mean([other.observed_c for other in at.values()])))
        for at in together.values()
        if len(at) > 1
        for pair in at.values()
    ]


def to_text(learned: Learned) -> str:
    """Return what was learned as text; `from_text` gives the same bits again."""
    return json.dumps([_place_json(place, one) for place, one in learned.places.items()])


def _place_json(place: str | None, one: Thermometer) -> dict[str, Any]:
    return {
        "place": place,
        "blocks": [
            {
                "nights": block.nights,
                "sums": [[sums.xx.tolist(), sums.xy.tolist()] for sums in block.sums],
            }
            for block in one.blocks
        ],
        "errors": one.errors.tolist(),
        **{name: getattr(one, name) for name in _NUMBERS},
    }


_NUMBERS = ("nights", "recent_k", "level_k", "apart_k", "held", "last_s")


def from_text(text: str) -> Learned:
    """Return what `to_text` wrote. Raises ValueError for anything else."""
    found = json.loads(text)
    if not isinstance(found, list):
        raise ValueError("not a learned correction: a list of places was expected")
    try:
        return Learned({one["place"]: _thermometer(one) for one in found})
    except (KeyError, TypeError, AttributeError) as error:
        raise ValueError(f"not a learned correction: {error}") from error


def _thermometer(found: Mapping[str, Any]) -> Thermometer:
    blocks = tuple(
        Block(
            tuple(Sums(np.array(xx, float), np.array(xy, float)) for xx, xy in one["sums"]),
            float(one["nights"]),
        )
        for one in found["blocks"]
    )
    shapes = [sums.xx.shape for sums in Block().sums]
    errors = np.array(found["errors"], float)
    if not blocks or errors.shape != Thermometer().errors.shape:
        raise ValueError("a learned correction of other parts")
    for block in blocks:
        if [sums.xx.shape for sums in block.sums] != shapes:
            raise ValueError("a learned correction of other parts")
    return Thermometer(blocks, errors, **{name: found[name] for name in _NUMBERS})
