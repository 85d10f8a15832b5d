"""A correction of the forecast air, learned from the garden's own thermometer, night by night.

The model learns observed less forecast. The garden's part is a sum of a few features (always; the
season; by night; late in the night; in a clear calm night). Each spot adds what differs there.

It is a Bayesian linear regression. The prior of every part is nothing, so a few nights move it
little, and a spot's part less than the garden's. The spread of what is left over is learned with it
(normal-inverse-gamma; any textbook, from memory). Old nights fade towards the prior, not towards
ignorance, so that a summer does not make the winter's part unsure and wild (discounting as in West
& Harrison, "Bayesian Forecasting and Dynamic Models", with the prior kept, from memory).

Correcting a model's 2 m temperature at a station recursively goes back to Homleid 1995 (Weather and
Forecasting 10) and Delle Monache et al. 2006 (J. Geophys. Res. 111), with the spread to Gneiting et
al. 2005 (Monthly Weather Review 133); all from memory.
"""

from __future__ import annotations

import json
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from underbench.rules.garden.inventory import NO_DEPARTURE, Departure
from underbench.rules.weather.hourly import HOUR_S, Array, Weather
from underbench.rules.weather.spread import AIR_SPREAD_K, DEW_TO_AIR
from underbench.rules.weather.sun import day_of_year, position

DAY_S = 24 * HOUR_S
# Standard deviation of each part before anything is known, K; judgement. The season's is as large
# as the all-year part's. So what is learned in winter alone goes half to each, and none of it is
# left in summer.
GARDEN_PRIOR_K = {
    "always": 0.7,
    "season": 0.7,
    "season, a quarter later": 0.7,
    "night": 0.5,
    "late": 0.5,
    "clear calm night": 1.0,
}
SPOT_PRIOR_K = {"always": 0.7, "night": 0.5, "clear calm night": 1.0}
_OF_A_SPOT = [list(GARDEN_PRIOR_K).index(part) for part in SPOT_PRIOR_K]
PRIOR_NIGHTS = 15.0  # the prior spread counts for so many nights; judgement
HALF_LIFE_DAYS = 240.0  # a night counts half after that, so last winter's still tells; judgement
FAR = 2.0  # standard deviations; beyond, a reading pulls the less the farther it is off
CALM_MS = 5.0  # at 10 m; from there up air is mixed and a clear night no colder; judgement
# The errors of a day's hours go together: readings each hour tell no more than two nights do.
HOUR_WEIGHT = 1.0 / 12.0
EARLY_NIGHTS, EARLY_MOST_K, MOST_K = 60.0, 4.0, 8.0
# It may make a night milder by far less. A thermometer on a house wall reads warm from the first
# night on and would talk every frost away; a bench is seldom so much milder than its forecast.
# First number: in the first nights; second: for good. Judgement.
WARMEST_K, SPOT_WARMEST_K = (1.0, 2.0), (0.5, 1.0)
LEAST_SHARE, MOST_SHARE = 0.6, 2.0
# A sensor that walks away shows in the mean of what is left over, in the last eight nights or so.
RECENT, TRUSTED_FROM_NIGHTS = 1.0 / 8.0, 20.0
HELD_FROM_K, FREE_BELOW_K = 2.0, 1.0


@dataclass(frozen=True, slots=True)
class Pair:
    """One forecast and what came of it.

    ``features`` (feature,) are those of its hour (`features_of`); ``lead_s`` is how long before it
    was made. For a night's ``lowest`` the places measured share the ``weight``, because their
    errors are mostly one; for an hour it is `HOUR_WEIGHT` or a share of it. ``spot`` is None for
    the garden's own screen.
    """

    at_s: int
    spot: str | None
    features: Array
    forecast_c: float
    observed_c: float
    lead_s: float
    weight: float = 1.0
    lowest: bool = True


@dataclass(frozen=True, slots=True)
class Learned:
    """What has been learned: discounted sums over the pairs, in the order of garden, then spots.

    ``recent_k`` is the mean of what the correction left over lately. ``held`` says that it was more
    than weather models err: the sensor is in doubt, and nothing more is learned from it.
    """

    spots: tuple[str, ...] = ()
    xx: Array = field(default_factory=lambda: np.zeros((len(GARDEN_PRIOR_K),) * 2))
    xy: Array = field(default_factory=lambda: np.zeros(len(GARDEN_PRIOR_K)))
    yy: float = 0.0
    pairs: float = 0.0
    nights: float = 0.0
    last_s: int = 0
    recent_k: float = 0.0
    held: bool = False

    @property
    def coefficients(self) -> Array:
        """The parts of the correction, K: the garden's, then each spot's."""
        prior = [*GARDEN_PRIOR_K.values(), *list(SPOT_PRIOR_K.values()) * len(self.spots)]
        certain = np.diag(1.0 / np.square(prior))
        return np.asarray(np.linalg.solve(certain + self.xx, self.xy))

    @property
    def spread_share(self) -> float:
        """The learned spread of errors over the one assumed without a record; 1 without one."""
        left = self.yy - float(self.coefficients @ self.xy)
        variance = (PRIOR_NIGHTS + max(left, 0.0)) / (PRIOR_NIGHTS + self.pairs)
        return float(np.clip(np.sqrt(variance), LEAST_SHARE, MOST_SHARE))

    def shift_k(self, features: Array, spot: str | None = None) -> Array:
        """Return what to add to the forecast air, (hour,), of ``features`` (hour, feature).

        It is held within limits, narrow ones to the warm side. A doubtful sensor may only make the
        air colder: it must not talk a frost away.
        """
        coldest = -MOST_K if self._proven else -EARLY_MOST_K
        warmest = self._warmest(WARMEST_K) + (self._warmest(SPOT_WARMEST_K) if spot else 0.0)
        shift = _design(features, spot, self.spots) @ self.coefficients
        return np.asarray(np.clip(shift, coldest, warmest))

    @property
    def _proven(self) -> bool:
        return self.nights >= EARLY_NIGHTS

    def _warmest(self, limits_k: tuple[float, float]) -> float:
        return 0.0 if self.held else limits_k[self._proven]

    def spread_k(self, lead_s: Array) -> Array:
        """Return the standard deviation of the corrected air, (hour,), so long ahead."""
        return prior_spread_k(lead_s) * self.spread_share

    def departure(self, spot: str) -> Departure:
        """Return how the air of ``spot`` departs from the garden's. An unknown spot does not
        depart. A spot departs little to the warm, and by a doubtful sensor only to the cold."""
        if spot not in self.spots:
            return NO_DEPARTURE
        start = len(GARDEN_PRIOR_K) + len(SPOT_PRIOR_K) * self.spots.index(spot)
        own = np.clip(self.coefficients[start : start + len(SPOT_PRIOR_K)], -MOST_K, MOST_K)
        milder_k, warmest_k = float(own[own > 0].sum()), self._warmest(SPOT_WARMEST_K)
        if milder_k > warmest_k:  # all parts together: a clear calm night adds them up
            own = np.where(own > 0, own * warmest_k / milder_k, own)
        return Departure(*own.tolist())


def prior_spread_k(lead_s: Array) -> Array:
    """Return the spread assumed without a record, K, so long ahead: as members are dressed."""
    days = np.maximum(np.asarray(lead_s, dtype=float), 0.0) / DAY_S
    return np.asarray(AIR_SPREAD_K[0] + AIR_SPREAD_K[1] * np.sqrt(days))


def features_of(weather: Weather, latitude: float, longitude: float) -> Array:
    """Return the features (hour, feature) of the first member of a complete ``weather``."""
    elevation, _ = position(weather.times - HOUR_S // 2, latitude, longitude)
    return features(weather.times, elevation < 0, longitude, weather.cloud[0], weather.wind_ms[0])


def features(
    times: NDArray[np.int64],
    dark: NDArray[np.bool_],
    longitude: float,
    cloud: Array,
    wind_ms: Array,
) -> Array:
    """Return the features (hour, feature) in the order of `GARDEN_PRIOR_K`; inputs (hour,).

    Late in the night is 1 at six and -1 at eighteen by the sun, because clocks are set by decree.
    """
    year = 2.0 * np.pi * (day_of_year(times) - 15.0) / 365.25  # 0 in mid-January, pi in mid-July
    solar = 2.0 * np.pi * (times / DAY_S + longitude / 360.0)
    night = dark.astype(float)
    return np.column_stack(
        [
            np.ones(len(times)),
            np.cos(year),
            np.sin(year),
            night,
            night * np.sin(solar),
            clear_calm(dark, cloud, wind_ms),
        ]
    )


def departure_k(departs: Departure, weather: Weather, dark: NDArray[np.bool_]) -> Array:
    """Return by how much a spot's air departs from the garden's in each hour, K (member, hour);
    ``dark`` (hour,)."""
    calm = clear_calm(dark, weather.cloud, weather.wind_ms)
    return np.asarray(departs.always_k + departs.night_k * dark + departs.clear_calm_k * calm)


def clear_calm(dark: NDArray[np.bool_], cloud: Array, wind_ms: Array) -> Array:
    """Return how clear and calm a dark hour is, 0..1: then air pools and cools. 0 by day."""
    out: Array = dark * (1.0 - cloud) * np.clip(1.0 - wind_ms / CALM_MS, 0.0, 1.0)
    return out


def corrected(weather: Weather, learned: Learned, latitude: float, longitude: float) -> Weather:
    """Return a complete one-member forecast with air and dew point as learned at the garden."""
    shift_k = learned.shift_k(features_of(weather, latitude, longitude))
    air_c = weather.air_c + shift_k
    dew_c = np.minimum(weather.dew_c + DEW_TO_AIR * shift_k, air_c)
    return replace(weather, air_c=air_c, dew_c=dew_c)


def learn(learned: Learned, pair: Pair) -> Learned:
    """Return what is known after one more pair; pairs come in the order of their times.

    A pair that is not finite teaches nothing.
    """
    change = pair.observed_c - pair.forecast_c
    if not np.isfinite([change, *pair.features]).all():
        return learned
    known = _with_spot(learned, pair.spot)
    row = _design(pair.features[None], pair.spot, known.spots)[0]
    left_k = change - float(row @ known.coefficients)
    known = _watched(known, left_k, pair)
    if known.held:
        return replace(known, last_s=pair.at_s)
    scale_k = float(prior_spread_k(np.array(pair.lead_s)))
    off = abs(left_k) / (scale_k * known.spread_share)
    weight = pair.weight * min(1.0, (FAR / max(off, FAR)) ** 2)
    fade = _fade(known, pair.at_s)
    row, change = row / scale_k, change / scale_k
    return replace(
        known,
        xx=fade * known.xx + weight * np.outer(row, row),
        xy=fade * known.xy + weight * row * change,
        yy=fade * known.yy + weight * change**2,
        pairs=fade * known.pairs + weight,
        nights=known.nights + (pair.weight if pair.lowest else 0.0),
        last_s=pair.at_s,
    )


def _watched(known: Learned, left_k: float, pair: Pair) -> Learned:
    """Count what the correction left over of a night's minimum; one night far off is no walk."""
    if not pair.lowest or known.nights < TRUSTED_FROM_NIGHTS:
        return known
    most = 2.0 * HELD_FROM_K
    recent = known.recent_k + pair.weight * RECENT * (
        float(np.clip(left_k, -most, most)) - known.recent_k
    )
    limit = FREE_BELOW_K if known.held else HELD_FROM_K
    return replace(known, recent_k=recent, held=abs(recent) > limit)


def _fade(known: Learned, at_s: int) -> float:
    days = max(0, at_s - known.last_s) / DAY_S if known.last_s else 0.0
    return float(0.5 ** (days / HALF_LIFE_DAYS))


def _with_spot(known: Learned, spot: str | None) -> Learned:
    if spot is None or spot in known.spots:
        return known
    more = len(SPOT_PRIOR_K)
    xx = np.pad(known.xx, (0, more))
    return replace(known, spots=(*known.spots, spot), xx=xx, xy=np.pad(known.xy, (0, more)))


def _design(features: Array, spot: str | None, spots: tuple[str, ...]) -> Array:
    """Rows (hour, part): the garden's features, and those of the spot in its own columns."""
    parts = [features]
    for name in spots:
        own = features[:, _OF_A_SPOT]
        parts.append(own if name == spot else np.zeros_like(own))
    return np.concatenate(parts, axis=1)


def to_text(learned: Learned) -> str:
    """Return what was learned as text; `from_text` gives the same bits again."""
    return json.dumps(
        {
            "spots": learned.spots,
            "xx": learned.xx.tolist(),
            "xy": learned.xy.tolist(),
            "yy": learned.yy,
            "pairs": learned.pairs,
            "nights": learned.nights,
            "last_s": learned.last_s,
            "recent_k": learned.recent_k,
            "held": learned.held,
        }
    )


def from_text(text: str) -> Learned:
    """Return what `to_text` wrote. Raises ValueError for anything else."""
    try:
        found = json.loads(text)
        learned = Learned(
            spots=tuple(found["spots"]),
            xx=np.array(found["xx"], dtype=float),
            xy=np.array(found["xy"], dtype=float),
            yy=float(found["yy"]),
            pairs=float(found["pairs"]),
            nights=float(found["nights"]),
            last_s=int(found["last_s"]),
            recent_k=float(found["recent_k"]),
            held=bool(found["held"]),
        )
    except (KeyError, TypeError) as error:
        raise ValueError(f"not a learned correction: {error}") from error
    parts = len(GARDEN_PRIOR_K) + len(SPOT_PRIOR_K) * len(learned.spots)
    if learned.xx.shape != (parts, parts) or learned.xy.shape != (parts,):
        raise ValueError("a learned correction of other parts")
    return learned
