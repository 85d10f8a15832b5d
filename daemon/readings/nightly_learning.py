"""Each night forecast, then measured, then learned from.

A pass keeps what it foresees for the coming nights, 24, 48 and 72 hours before their mornings. When
a night is over, the lowest air measured in it is set against what was foreseen each time, and its
daylight hours against the hours as used. A spot's thermometer is set against the air reckoned for
the spot, at its height over its ground; the garden's own against the air of 2 m. Readings that come
later than three hours after the noon that ends a night are shown, but nothing is learned from them.
"""

from __future__ import annotations

import logging
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from underbench.daemon.config.settings import Settings
from underbench.daemon.outlook.members import (
    hours_ahead,
    in_the_open,
    leads_h,
    learned_of,
    members_of,
)
from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.store.learning import NightForecast
from underbench.daemon.store.store import Store
from underbench.rules.garden.inventory import NO_DEPARTURE
from underbench.rules.garden.local_time import Stretch, nights
from underbench.rules.garden.readings import Quantity, Reading
from underbench.rules.physics.places import place_of
from underbench.rules.physics.surroundings import near_ground_k
from underbench.rules.weather.ensemble import variance_k2
from underbench.rules.weather.fill_gaps import complete
from underbench.rules.weather.hourly import HOUR_S, NEEDED, Weather
from underbench.rules.weather.learned import (
    Learned,
    Pair,
    dark_of,
    departure_k,
    learn,
    to_text,
)
from underbench.rules.weather.sensor_checks import trusted
from underbench.rules.weather.thermometer import LEADS_H

_log = logging.getLogger(__name__)

JUDGED_LEAD_H = LEADS_H[0]
SIX_BEFORE_NOON = timedelta(hours=6)
ISSUE_WITHIN = timedelta(hours=6)
LATE_READINGS = timedelta(hours=3)
CONTEXT = timedelta(days=3)  # of readings, to judge sensors by
KEPT = timedelta(days=800)  # two winters; as far back as is learned when there is nothing yet
MEASURED_WITHIN = timedelta(days=60)
WHOLE_NIGHT_H, WHOLE_DAY_H = 10, 6  # so many hours heard of make a night's minimum, a day's mean


def keep_nights(store: Store, outlook: Outlook) -> None:
    """Keep what is foreseen for the nights whose time it is; only where somebody measures."""
    now, garden = outlook.now, outlook.settings.garden
    due = [
        (night, lead_h)
        for night in nights(now, outlook.reaches, garden.timezone)
        for lead_h in LEADS_H
        if timedelta(0) <= now - _issued(night, lead_h) < ISSUE_WITHIN
    ]
    spots = _measured(outlook.settings, store, now) if due else []
    if not spots:
        return
    hour = now.replace(minute=0, second=0, microsecond=0)
    plain = members_of(outlook.central, hour, outlook.settings, outlook.ensemble, Learned())
    for night, lead_h in due:
        for spot in spots:
            store.learning.keep_night(_foreseen(outlook, plain, night, lead_h, spot))
    store.learning.forget_nights(now - KEPT)


def _issued(night: Stretch, lead_h: int) -> datetime:
    return night.end - SIX_BEFORE_NOON - timedelta(hours=lead_h)


def _measured(settings: Settings, store: Store, now: datetime) -> list[str | None]:
    """Where air has been measured of late: the garden (None), and spots in the open."""
    found = {
        reading.spot
        for reading in store.readings.last()
        if reading.quantity in (Quantity.AIR, Quantity.AIR_MIN)
        and now - reading.at <= MEASURED_WITHIN
        and _counts(reading.spot, settings)
    }
    return sorted(found, key=lambda spot: spot or "")


def _counts(spot: str | None, settings: Settings) -> bool:
    return spot is None or (spot in settings.spots and in_the_open(settings.spots[spot]))


def _foreseen(
    outlook: Outlook, plain: Weather, night: Stretch, lead_h: int, spot: str | None
) -> NightForecast:
    settings, start, end = outlook.settings, night.start, night.end
    central, members = (of.between(start, end) for of in (outlook.central, outlook.weather))
    dark = _dark(settings, central.times)
    departs = settings.spots[spot].departs if spot else NO_DEPARTURE
    hours = hours_ahead(central, dark, outlook.ensemble)
    shift_k = outlook.learned.shift_k(hours, leads_h(central, outlook.now), dark)
    forecast_c = _air_at(spot, settings, outlook.central).between(start, end).air_c[0]
    corrected_c = forecast_c + shift_k + departure_k(departs, central, dark)[0]
    felt_c = _air_at(spot, settings, outlook.weather).between(start, end).air_c
    coldest = int(forecast_c.argmin())
    runs = outlook.ensemble.runs if outlook.ensemble is not None else ()
    spread_k2 = float(variance_k2(runs, central.times)[coldest]) if runs else 0.0
    return NightForecast(
        night_end=night.end,
        spot=spot,
        lead_h=lead_h,
        coldest_at=datetime.fromtimestamp(int(central.times[coldest]), tz=UTC),
        forecast_c=float(forecast_c[coldest]),
        corrected_c=float(corrected_c.min()),
        plain_c=_air_at(spot, settings, plain).between(start, end).air_c.min(axis=1),
        members_c=(felt_c + departure_k(departs, members, dark)).min(axis=1),
        clear_calm=float(hours.clear_calm[coldest]),
        centre_k=float(hours.centre_k[coldest]),
        variance_k2=spread_k2,
    )


def _air_at(spot: str | None, settings: Settings, weather: Weather) -> Weather:
    """Return the weather with the air as it is reckoned at a spot's height, where its thermometer
    hangs. The garden's own (None) hangs in a screen at 2 m."""
    if spot is None:
        return weather
    layer_k = near_ground_k([place_of(settings.spots[spot])], weather, settings.garden)[0]
    return replace(weather, air_c=weather.air_c + layer_k)


def _dark(settings: Settings, times: NDArray[np.int64]) -> NDArray[np.bool_]:
    return dark_of(times, settings.garden.latitude, settings.garden.longitude)


def learn_nights(settings: Settings, store: Store, now: datetime) -> None:
    """Learn from the nights that are over since it was done last."""
    kept = store.learning.learned()
    since = kept[1] if kept else now - KEPT
    over = now - LATE_READINGS
    spans = [
        night
        for night in nights(since, over, settings.garden.timezone)
        if since < night.end <= over and night.start >= now - KEPT
    ]
    if not spans:
        return
    measured = air_measured(store, spans[0].start, spans[-1].end, settings)
    if not measured:
        return  # what was measured may come later, in a file
    learned = before = learned_of(store)
    foreseen = store.learning.nights(spans[0].start, spans[-1].end)
    for night in spans:
        learned = learn(learned, list(_pairs(settings, store, night, measured, foreseen)))
    store.learning.keep(to_text(learned), spans[-1].end)
    for place in learned.held:
        if place not in before.held:
            _log.warning(
                "the thermometer %s has walked %.1f K from the forecast: nothing more is learned"
                " from it",
                f"at {place}" if place else "of the garden",
                abs(learned.places[place].recent_k),
            )


def air_measured(store: Store, start: datetime, end: datetime, settings: Settings) -> list[Reading]:
    """Return the readings of air with start < at ≤ end that are not set aside, oldest first."""
    readings = [
        reading
        for quantity in (Quantity.AIR, Quantity.AIR_MIN)
        for reading in store.readings.between(quantity, start - CONTEXT, end)
        if _counts(reading.spot, settings)
    ]
    if not readings:
        return []
    used = store.hours.between(start - CONTEXT, end)
    return [reading for reading in trusted(readings, used, end) if reading.at > start]


def lowest_of(night: Stretch, readings: Iterable[Reading]) -> dict[str | None, float]:
    """Return the lowest air of a night, °C, where it was measured: as a minimum thermometer has it,
    else of readings through most of the night."""
    minima: defaultdict[str | None, list[float]] = defaultdict(list)
    hourly: defaultdict[str | None, dict[int, float]] = defaultdict(dict)
    for one in readings:
        if not night.start < one.at <= night.end:
            continue
        if one.quantity is Quantity.AIR_MIN:
            minima[one.spot].append(one.value)
        else:
            hour = int(one.at.timestamp() // HOUR_S)
            low = one.value if one.lowest is None else one.lowest
            hourly[one.spot][hour] = min(low, hourly[one.spot].get(hour, low))
    whole = {s: min(hours.values()) for s, hours in hourly.items() if len(hours) >= WHOLE_NIGHT_H}
    return whole | {spot: min(values) for spot, values in minima.items()}


def _pairs(
    settings: Settings,
    store: Store,
    night: Stretch,
    measured: Sequence[Reading],
    foreseen: Sequence[NightForecast],
) -> Iterator[Pair]:
    """What a night teaches: its lowest air by lead, and its daylight hours."""
    lowest = lowest_of(night, measured)
    for row in foreseen:
        if row.night_end == night.end and row.spot in lowest and row.lead_h in LEADS_H:
            yield Pair(
                at_s=int(row.coldest_at.timestamp()),
                spot=row.spot,
                lead_h=float(row.lead_h),
                forecast_c=row.forecast_c,
                observed_c=lowest[row.spot],
                clear_calm=row.clear_calm,
                centre_k=row.centre_k,
                variance_k2=row.variance_k2,
            )
    used = store.hours.between(night.start, night.end)
    if used.hours and not any(np.isnan(getattr(used, name)).all() for name in NEEDED):
        yield from _by_day(settings, complete(used, settings.garden)[0], measured)


def _by_day(settings: Settings, used: Weather, measured: Iterable[Reading]) -> Iterator[Pair]:
    """The mean of the daylight hours of each place that was heard of in enough of them."""
    dark = _dark(settings, used.times)
    heard: defaultdict[str | None, dict[int, list[float]]] = defaultdict(lambda: defaultdict(list))
    for one in measured:
        end_s = -(-int(one.at.timestamp()) // HOUR_S) * HOUR_S
        hour = (end_s - int(used.times[0])) // HOUR_S
        if one.quantity is Quantity.AIR and 0 <= hour < used.hours and not dark[hour]:
            heard[one.spot][hour].append(one.value)
    for spot, hours in heard.items():
        if len(hours) >= WHOLE_DAY_H:
            observed_c = float(np.mean([np.mean(values) for values in hours.values()]))
            used_c = float(_air_at(spot, settings, used).air_c[0, list(hours)].mean())
            yield Pair(int(used.times[max(hours)]), spot, 0.0, used_c, observed_c)
