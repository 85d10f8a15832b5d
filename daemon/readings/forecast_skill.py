"""How good the forecasts of the last nights were: as forecast, as corrected, and as measured."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from textwrap import fill
from zoneinfo import ZoneInfo

import numpy as np

from underbench.daemon.config.settings import Settings
from underbench.daemon.outlook.members import learned_of
from underbench.daemon.readings.model_skill import Beside, beside_models
from underbench.daemon.readings.nightly_learning import JUDGED_LEAD_H, air_measured, lowest_of
from underbench.daemon.store.learning import NightForecast
from underbench.daemon.store.store import Store
from underbench.daemon.wording.json_form import document
from underbench.daemon.wording.tables import table
from underbench.daemon.wording.units import Units
from underbench.rules.garden.local_time import nights
from underbench.rules.weather.hourly import Array
from underbench.rules.weather.learned import EARLY_NIGHTS, Learned
from underbench.rules.weather.scoring import Bin, brier, ensemble_crps, reliability

WIDTH = 100
# Below freezing, and below the figure from which growers carry tender trees in by the forecast
# alone; common practice, no source.
THRESHOLDS_C = (0.0, 3.0)
LEAST_NIGHTS = 5  # for scores: of fewer they say nothing


@dataclass(frozen=True, slots=True)
class Night:
    """One night of one place: what was foreseen a day before, and the lowest air measured."""

    foreseen: NightForecast
    observed_c: float


@dataclass(frozen=True, slots=True)
class Way:
    """One way of foreseeing nights, scored: CRPS, K, and the Brier score for each of
    `THRESHOLDS_C`."""

    name: str
    crps_k: float
    brier: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Skill:
    """The nights of all places measured, oldest first, what was learned until now, and what the
    models had for the last readings in pots, bags and frames."""

    settings: Settings
    nights: tuple[Night, ...]
    learned: Learned
    beside: tuple[Beside, ...]

    @property
    def ways(self) -> list[Way]:
        """The correction beside what it has to be better than; none of too few nights."""
        if len(self.nights) < LEAST_NIGHTS:
            return []
        observed = self.observed
        bare = [np.array([night.foreseen.forecast_c]) for night in self.nights]
        others = [np.delete(observed, n) for n in range(len(observed))]
        return [
            _way("corrected", [night.foreseen.members_c for night in self.nights], observed),
            _way("as forecast", [night.foreseen.plain_c for night in self.nights], observed),
            _way("forecast figure alone", bare, observed),
            _way("climatology", others, observed),
        ]

    @property
    def observed(self) -> Array:
        """The lowest air measured, °C, (night,)."""
        return np.array([night.observed_c for night in self.nights])

    def bins(self, threshold_c: float) -> list[Bin]:
        """Return how often a chance of going below a threshold, as corrected, came true."""
        members = [night.foreseen.members_c for night in self.nights]
        return reliability(_chances(members, threshold_c), _below(self.observed, threshold_c))


def skill_of(settings: Settings, store: Store, now: datetime, last: int) -> Skill:
    """Return the last ``last`` nights that were foreseen and measured."""
    since = now - timedelta(days=last)
    foreseen = [row for row in store.learning.nights(since, now) if row.lead_h == JUDGED_LEAD_H]
    measured = air_measured(store, since - timedelta(days=1), now, settings)
    found = []
    for night in nights(since, now, settings.garden.timezone):
        lowest = lowest_of(night, measured)
        rows = [row for row in foreseen if row.night_end == night.end and row.spot in lowest]
        found += [Night(row, lowest[row.spot]) for row in rows]
    return Skill(
        settings, tuple(found), learned_of(store), tuple(beside_models(settings, store, now))
    )


def _way(name: str, members: Sequence[Array], observed: Array) -> Way:
    crps = [ensemble_crps(one, float(low)) for one, low in zip(members, observed, strict=True)]
    scores = [
        brier(_chances(members, limit_c), _below(observed, limit_c)).score
        for limit_c in THRESHOLDS_C
    ]
    return Way(name, float(np.mean(crps)), tuple(scores))


def _chances(members: Sequence[Array], threshold_c: float) -> Array:
    return np.array([float((one < threshold_c).mean()) for one in members])


def _below(observed: Array, threshold_c: float) -> Array:
    return np.asarray(observed < threshold_c, dtype=float)


def skill_text(skill: Skill) -> str:
    """The nights, the scores, and how far a chance can be believed."""
    units = Units(skill.settings.units)
    parts = [*_nights_and_scores(skill, units), *_beside(skill, units)]
    return "\n\n".join(fill(part, WIDTH) if "\n" not in part else part for part in parts)


def _nights_and_scores(skill: Skill, units: Units) -> Iterator[str]:
    if not skill.nights:
        yield (
            "No night yet that was both foreseen a day before and measured. Read your min/max"
            " thermometer in the morning: underbench reading -2.5 air-min"
        )
        return
    yield _nights(skill, units)
    yield _learned_words(skill.learned, units)
    yield from _scores(skill, units)


def _beside(skill: Skill, units: Units) -> Iterator[str]:
    rows = [
        [f"{one.quantity} {one.tree or one.spot}", units.temp(one.value), units.temp(modelled_c)]
        for one, modelled_c in skill.beside
    ]
    if rows:
        yield table(["last reading", "measured", "modelled"], rows)
    yield (
        "Only air in the open is learned from; readings of root balls, bags, frames and bench"
        " surfaces are kept, not learned."
    )


def _nights(skill: Skill, units: Units) -> str:
    zone = ZoneInfo(skill.settings.garden.timezone)
    rows = []
    for night in skill.nights:
        row = night.foreseen
        end, low, high = row.night_end.astimezone(zone), *_eight_in_ten(row.members_c)
        temps = (row.forecast_c, row.corrected_c, low, high, night.observed_c)
        forecast, right, least, most, seen = (units.temp(value) for value in temps)
        where = row.spot or "garden"
        between = f"{least} to {most}"
        rows.append([f"{end:%a} {end.day} {end:%b}", where, forecast, right, between, seen])
    heads = ["morning", "where", "forecast", "corrected", "8 in 10 between", "measured"]
    return f"Lowest air of the night, foreseen a day before\n{table(heads, rows)}"


def _eight_in_ten(members_c: Array) -> tuple[float, float]:
    low, high = np.quantile(members_c, [0.1, 0.9]).tolist()
    return low, high


def _learned_words(learned: Learned, units: Units) -> str:
    if learned.held:
        return (
            "The thermometer has walked away from the forecast by"
            f" {units.temp_step(abs(learned.recent_k))} on average, more than weather models err:"
            " nothing more is learned, and no frost is called milder for it. Check the sensor"
            " against another one."
        )
    count = int(learned.nights)
    still = " and still held back" if learned.nights < EARLY_NIGHTS else ""
    spread = f"errors are {learned.spread_share:.0%} as wide as assumed without a record"
    return f"Learned from {count} night{'s' if count != 1 else ''}{still}; {spread}."


def _scores(skill: Skill, units: Units) -> Iterator[str]:
    ways = skill.ways
    if not ways:
        yield f"Scores come with {LEAST_NIGHTS} nights."
        return
    below = [units.temp_whole(limit_c) for limit_c in THRESHOLDS_C]
    rows = [
        [way.name, units.temp_step(way.crps_k), *(f"{score:.3f}" for score in way.brier)]
        for way in ways
    ]
    heads = ["lower is better", "CRPS", *(f"Brier, below {limit}" for limit in below)]
    yield f"{table(heads, rows)}\n(climatology: the other nights measured)"
    for limit_c, limit in zip(THRESHOLDS_C, below, strict=True):
        rows = [
            [
                f"{one.said:.0%}",
                f"{one.came:.0%}",
                f"{one.low:.0%} to {one.high:.0%}",
                str(one.count),
            ]
            for one in skill.bins(limit_c)
        ]
        heads = [f"chance of below {limit}", "came", "90 % sure between", "nights"]
        yield f"{table(heads, rows)}\n(confidence by Wilson's interval)"


def skill_json(skill: Skill, now: datetime) -> str:
    """Return the same for programs; °C and K, moments in UTC."""
    body = {
        "now": now,
        "learned": {
            "nights": skill.learned.nights,
            "spread_share": skill.learned.spread_share,
            "held": skill.learned.held,
        },
        "nights": [
            {
                "until": night.foreseen.night_end,
                "spot": night.foreseen.spot,
                "lead_h": night.foreseen.lead_h,
                "forecast_c": night.foreseen.forecast_c,
                "corrected_c": night.foreseen.corrected_c,
                "members_c": night.foreseen.members_c,
                "observed_c": night.observed_c,
            }
            for night in skill.nights
        ],
        "beside": [
            {
                "at": reading.at,
                "quantity": reading.quantity.value,
                "spot": reading.spot,
                "tree": reading.tree,
                "observed_c": reading.value,
                "modelled_c": modelled_c,
            }
            for reading, modelled_c in skill.beside
        ],
        "scores": [
            {
                "name": way.name,
                "crps_k": way.crps_k,
                "brier": dict(zip(map(str, THRESHOLDS_C), way.brier, strict=True)),
            }
            for way in skill.ways
        ],
        "reliability": {
            str(limit_c): [
                {"said": b.said, "came": b.came, "low": b.low, "high": b.high, "nights": b.count}
                for b in (skill.bins(limit_c) if skill.ways else [])
            ]
            for limit_c in THRESHOLDS_C
        },
    }
    return document(body)
