"""``underbench skill``: the last nights as forecast, corrected and measured, and how good that was.

Beside the nights stands what a thermometer in a root ball, a bag or a frame said last, and what the
models have there.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from math import isfinite
from shlex import quote
from textwrap import fill
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np

from underbench.daemon.config.settings import Settings
from underbench.daemon.outlook.checkpoints import as_it_was
from underbench.daemon.outlook.garden_now import journal_at, setting_of
from underbench.daemon.outlook.members import learned_of
from underbench.daemon.readings.new_sensor import GARDEN
from underbench.daemon.readings.nightly_learning import JUDGED_LEAD_H, air_measured, lowest_of
from underbench.daemon.store.learning import NightForecast
from underbench.daemon.store.store import Store
from underbench.daemon.wording.json_form import document, part
from underbench.daemon.wording.tables import Columns, table
from underbench.daemon.wording.units import Units
from underbench.rules.garden.inventory import Tree
from underbench.rules.garden.journal import Entry, fold
from underbench.rules.garden.local_time import Stretch, nights
from underbench.rules.garden.readings import Quantity, Reading
from underbench.rules.weather.hourly import HOUR_S, Array
from underbench.rules.weather.learned import Learned
from underbench.rules.weather.scoring import brier, ensemble_crps
from underbench.rules.weather.thermometer import SITE_DOUBT_NIGHTS

WIDTH = 100
# Below freezing, and below the figure from which growers carry tender trees in by the forecast
# alone; common practice, no source.
THRESHOLDS_C = (0.0, 3.0)
LEAST_NIGHTS = 5  # for scores: of fewer they say nothing
LATELY = timedelta(days=3)
_MODELLED = {
    Quantity.ROOT_BALL: "core_c",
    Quantity.BAG: "bag_c",
    Quantity.FRAME: "air_c",
}
NO_NIGHT = (
    "No night yet that was both foreseen a day before and measured. Read your min/max thermometer"
    " in the morning{how}"
)
BY_COMMAND = ": underbench reading -2.5 air-min"
NOT_LEARNED = (
    "Only air in the open is learned from; readings of root balls, bags, frames and bench surfaces"
    " are kept, not learned."
)


class Night(NamedTuple):
    """One night of one place: what was foreseen a day before, and the lowest air measured."""

    foreseen: NightForecast
    observed_c: float


class Way(NamedTuple):
    """One way of foreseeing nights, scored: CRPS, K, and the Brier score by limit, °C."""

    name: str
    crps_k: float
    brier: dict[float, float]


class Beside(NamedTuple):
    """A reading, and what is modelled at that hour, °C: the middle of a root ball, the bag's
    inside, the air where a tree stands in the frame."""

    reading: Reading
    modelled_c: float


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
        observed = np.array([night.observed_c for night in self.nights])
        others = [np.delete(observed, n) for n in range(len(observed))]
        return [
            _way("corrected", [night.foreseen.members_c for night in self.nights], observed),
            _way("as forecast", [night.foreseen.plain_c for night in self.nights], observed),
            _way("climatology", others, observed),
        ]


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
    return Skill(settings, tuple(found), learned_of(store), tuple(_beside(settings, store, now)))


def _way(name: str, members: Sequence[Array], observed: Array) -> Way:
    crps = [ensemble_crps(one, float(low)) for one, low in zip(members, observed, strict=True)]
    scores = {}
    for limit_c in THRESHOLDS_C:
        chances = np.array([float((one < limit_c).mean()) for one in members])
        scores[limit_c] = brier(chances, np.asarray(observed < limit_c, dtype=float))
    return Way(name, float(np.mean(crps)), scores)


def _beside(settings: Settings, store: Store, now: datetime) -> Iterator[Beside]:
    """The last reading of each such sensor in three days, where the hour can be modelled."""
    journal = journal_at(settings, store, now)
    for reading in store.readings.last():
        column = _MODELLED.get(reading.quantity)
        if column is None or not now - LATELY <= reading.at <= now:
            continue
        tree = _tree_of(settings, journal, reading)
        if tree is None:
            continue
        end = datetime.fromtimestamp(reading.at.timestamp() // HOUR_S * HOUR_S, tz=UTC)
        span = Stretch(end - timedelta(seconds=HOUR_S), end)
        course = as_it_was(store, setting_of(settings), tree, journal, span)
        if course is not None:
            value = float(getattr(course.exposure, column)[0, 0, -1])
            if isfinite(value):  # there was a bag
                yield Beside(reading, value)


def _tree_of(settings: Settings, journal: tuple[Entry, ...], reading: Reading) -> Tree | None:
    """The tree it is of, or the first that stands where it was read."""
    standing = [fold(tree, journal, reading.at) for tree in settings.trees]
    return next(
        (
            at.tree
            for at in standing
            if (at.tree.name == reading.tree if reading.tree else at.spot == reading.spot)
        ),
        None,
    )


def skill_text(skill: Skill) -> str:
    """The nights, the scores, and what the models had beside other readings."""
    return "\n\n".join(map(_as_text, skill_parts(skill)))


def _as_text(part: str | tuple[str, Columns]) -> str:
    if isinstance(part, str):
        return fill(part, WIDTH)
    return "\n".join(filter(None, [part[0], table(*part[1])]))


def skill_parts(skill: Skill, how: str = BY_COMMAND) -> list[str | tuple[str, Columns]]:
    """Return what is shown, part by part: a sentence, or a table under its heading. ``how``: the
    way to note a reading."""
    units = Units(skill.settings.units)
    parts: list[str | tuple[str, Columns]] = [NO_NIGHT.format(how=how)]
    if skill.nights:
        nights = ("Lowest air of the night, foreseen a day before", _nights(skill, units))
        parts = [nights, _learned_words(skill.learned, units), *_scores(skill, units)]
    if skill.beside:
        parts.append(("", _beside_table(skill, units)))
    return [*parts, NOT_LEARNED]


def _nights(skill: Skill, units: Units) -> Columns:
    zone = ZoneInfo(skill.settings.garden.timezone)
    rows = []
    for night in skill.nights:
        row = night.foreseen
        end = row.night_end.astimezone(zone)
        temps = (row.forecast_c, row.corrected_c, *likely(row), night.observed_c)
        forecast, right, least, most, seen = (units.temp(value) for value in temps)
        where = row.spot or "garden"
        between = f"{least} to {most}"
        rows.append([f"{end:%a} {end.day} {end:%b}", where, forecast, right, between, seen])
    heads = ["morning", "where", "forecast", "corrected", "8 in 10 between", "measured"]
    return Columns(heads, rows)


def likely(row: NightForecast) -> tuple[float, float]:
    """Return between which lowest temperatures eight in ten members lay, °C."""
    low, high = np.quantile(row.members_c, [0.1, 0.9]).tolist()
    return low, high


def _learned_words(learned: Learned, units: Units) -> str:
    doubts = [_doubt(place, learned, units) for place in learned.held]
    count = int(learned.nights)
    young = learned.nights < SITE_DOUBT_NIGHTS
    still = ", so a milder garden is not yet wholly believed" if young else ""
    spread = f"errors are {learned.spread_share:.0%} as wide as assumed without a record"
    known = f"Learned from {count} night{'s' if count != 1 else ''}{still}; {spread}."
    return " ".join([known, *doubts])


def _doubt(place: str | None, learned: Learned, units: Units) -> str:
    off = units.temp_step(abs(learned.places[place].recent_k))
    return (
        f"The thermometer {f'at {place}' if place else 'of the garden'} is {off} off the"
        " forecast on average, more than weather models err: nothing more is learned from it."
        " Check it against another one. If it is a new one or right, say so:"
        f" underbench reading --new-sensor {quote(place or GARDEN)}"
    )


def _scores(skill: Skill, units: Units) -> list[str | tuple[str, Columns]]:
    ways = skill.ways
    if not ways:
        return [f"Scores come with {LEAST_NIGHTS} nights."]
    rows = [
        [way.name, units.temp_step(way.crps_k), *(f"{score:.3f}" for score in way.brier.values())]
        for way in ways
    ]
    below = [f"Brier, below {units.temp_whole(limit_c)}" for limit_c in THRESHOLDS_C]
    heads = ["lower is better", "CRPS", *below]
    return [("", Columns(heads, rows)), "(climatology: the other nights measured)"]


def _beside_table(skill: Skill, units: Units) -> Columns:
    rows = [
        [f"{one.quantity} {one.tree or one.spot}", units.temp(one.value), units.temp(modelled_c)]
        for one, modelled_c in skill.beside
    ]
    return Columns(["last reading", "measured", "modelled"], rows)


def skill_json(skill: Skill, now: datetime) -> str:
    """Return the same for programs; °C and K, moments in UTC."""
    body = {
        "now": now,
        "learned": {
            **part(skill.learned, "nights", "spread_share"),
            "held": [place or GARDEN for place in skill.learned.held],
        },
        "nights": [_night_json(night) for night in skill.nights],
        "beside": [
            {
                **part(one.reading, "at", "quantity", "spot", "tree"),
                "observed_c": one.reading.value,
                "modelled_c": one.modelled_c,
            }
            for one in skill.beside
        ],
        "scores": skill.ways,
    }
    return document(body)


def _night_json(night: Night) -> dict[str, Any]:
    return {
        "until": night.foreseen.night_end,
        **part(night.foreseen, "spot", "lead_h", "forecast_c", "corrected_c", "members_c"),
        "observed_c": night.observed_c,
    }
