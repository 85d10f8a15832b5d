"""The cold near the ground against measured nights, before and after.

``PYTHONPATH=.types python tests/bench/near_ground.py DEBILT.csv TW3.csv`` with two files of open
data that are not part of this project:

- De Bilt (KNMI daily data, station 260; open data, name KNMI): lowest air at 1.5 m and at 10 cm
  over grass, a day a row, with the day's wind, cloud and humidity.
- Twitchell alfalfa (AmeriFlux US-Tw3 BASE, Chamberlain et al.): night hours with longwave and the
  radiometric temperature of the canopy.

De Bilt's rows tell the mean of a day. Hours are drawn through them here: air from the lowest at 5
to the highest at 15 UTC, wind from its calmest hour at 4 to as much above the mean at 16. Cloud
comes and goes in spells of some hours (twelve draws of a fixed seed), because skies are mostly
clear or mostly covered and the lowest air comes under the clear ones. A guess is the mean of the
draws. No constant of the model was fitted to either site. The plain rivals are fitted on even years
(De Bilt) or on 2013 (Twitchell) and judged on the rest.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from underbench.rules.garden.inventory import Surface
from underbench.rules.physics.leaf import leaf_temperature_c
from underbench.rules.physics.near_ground import GROUNDS, layer
from underbench.rules.weather.air import saturation_kpa, wind_at_m
from underbench.rules.weather.hourly import HOUR_S, Array
from underbench.rules.weather.sun import (
    clear_sky_wm2,
    global_from_cloud_wm2,
    longwave_down_wm2,
    position,
)

DAY_H = 24
SCREEN_M = 1.5  # of De Bilt
SEA_LEVEL_KPA = 101.3
TW3_AIR_M = 2.5  # 2.8 m less most of the height of the crop
LEAF_M = 0.03
DRAWS, SPELL_H = 12, 4.0  # judgement
DAY_WARMER_K = 12.0
# Lucerne 40 cm high: roughness 0.123 of the height, as FAO-56, eq. 4, has it.
CROP = replace(GROUNDS[Surface.GRASS], rough_m=0.05)
Mask = NDArray[np.bool_]


def main(debilt: Path, twitchell: Path) -> None:
    """Print both tables."""
    print(f"{'':<34}{'mean K':>8}{'rms K':>7}{'caught':>8}{'false':>7}")
    de_bilt(columns(debilt))
    tw3(columns(twitchell))


def columns(path: Path) -> dict[str, Array]:
    """Return the columns of a file; dates and times as UTC seconds."""
    with path.open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return {name: np.array([_number(row[name]) for row in rows]) for name in rows[0]}


def _number(text: str) -> float:
    try:
        return float(text or "nan")
    except ValueError:
        return datetime.fromisoformat(text).replace(tzinfo=UTC).timestamp()


def de_bilt(rows: Mapping[str, Array]) -> None:
    """The lowest air at 10 cm over grass, in even and in odd years."""
    measured, air = rows["min_10cm_c"], rows["air_min_c"]
    years = np.array([datetime.fromtimestamp(at, UTC).year for at in rows["date"]])
    before, after = _at_ten_cm(rows)
    odd, even = years % 2 == 1, years % 2 == 0
    offset = air - float((air - measured)[even].mean())
    known = [rows["cloud_oktas"] / 8.0, rows["wind_mean_ms"]]
    line = air - fitted(known, air - measured, even)
    for what, mask in (("even", even), ("odd", odd)):
        print(f"De Bilt, 10 cm over grass, {what} years ({mask.sum()} nights)")
        for name, guess in (
            ("air of the screen", air),
            ("before: leaf in that air", before),
            ("after: air at 10 cm", after),
            ("constant offset", offset),
            ("line on cloud and wind", line),
        ):
            score(name, guess, measured, mask)
    for low in (0, 2, 4):
        mask = (air >= low) & (air < low + 2)
        shares = (f"{(values[mask] < 0).mean():.2f}" for values in (measured, after))
        print(f"  frost at 10 cm, air minimum {low} to {low + 2} °C: {' measured, '.join(shares)}")


def _at_ten_cm(rows: Mapping[str, Array]) -> tuple[Array, Array]:
    """Return the lowest leaf in the air of 2 m and the lowest air at 10 cm, (day,)."""
    days, hour = len(rows["date"]), np.arange(DAY_H) + 0.5
    low, high = rows["air_min_c"][:, None], rows["air_max_c"][:, None]
    rising = (hour >= 5) & (hour < 15)
    phase = np.where(rising, (hour - 15) / 10, ((hour - 15) % DAY_H) / 14) * np.pi
    air = (low + (high - low) * (1 + np.cos(phase)) / 2).ravel()[None]
    mean, calm = rows["wind_mean_ms"][:, None], rows["wind_lowest_hour_ms"][:, None]
    wind = (mean + (mean - calm) * np.cos((hour - 16) * np.pi / 12)).ravel()[None]
    cloud = _spells(rows["cloud_oktas"] / 8.0)
    vapour = saturation_kpa(rows["air_mean_c"]) * rows["humidity_mean_pct"] / 100
    vapour = np.minimum(np.repeat(vapour, DAY_H)[None], saturation_kpa(air))
    times = (rows["date"][:, None] + hour * HOUR_S).ravel().astype(np.int64)
    sun = global_from_cloud_wm2(position(times, 52.10, 5.18)[0], cloud, 2.0)
    longwave = longwave_down_wm2(air, vapour, cloud)
    over = layer(
        [GROUNDS[Surface.GRASS]],
        np.full((1, DRAWS), air[0, 0]),
        air_c=air[None],
        vapour_kpa=vapour[None],
        wind_ms=wind_at_m(wind, SCREEN_M)[None],
        longwave_wm2=longwave[None],
        sun_wm2=sun[None],
        sky_view=np.ones((1, 1, 1)),
        deep_c=_running(air)[None],
        snow_m=np.zeros((1, 1, 1)),
        pressure_kpa=np.full((1, 1, 1), SEA_LEVEL_KPA),
        reference_m=SCREEN_M,
    )
    leaf = _leaf(air, vapour, wind_at_m(wind, 0.3), longwave, sun)
    ten_cm = air + over.air_k(0.1)[0]
    return _lowest(leaf, days), _lowest(ten_cm, days)


def _spells(daily: Array) -> Array:
    """Return cloud (draw, hour), nothing or all, of the ``daily`` mean in the long run."""
    chance = np.random.default_rng(19)
    hours = len(daily) * DAY_H
    keeps, now = np.exp(-1.0 / SPELL_H), chance.standard_normal(DRAWS)
    latent = np.empty((DRAWS, hours))
    for hour in range(hours):
        now = keeps * now + np.sqrt(1.0 - keeps**2) * chance.standard_normal(DRAWS)
        latent[:, hour] = now
    rank = np.argsort(np.argsort(latent, axis=1), axis=1) / hours
    return (rank < np.repeat(daily, DAY_H)).astype(float)


def _leaf(air: Array, vapour: Array, wind: Array, longwave: Array, sun: Array) -> Array:
    return leaf_temperature_c(
        air_c=air,
        vapour_kpa=vapour,
        wind_ms=wind,
        longwave_down_wm2=longwave,
        sun_wm2=sun,
        width_m=LEAF_M,
        sky_view=1.0,
        transpiring=0.0,
    )


def _running(air: Array, memory_h: float = 240.0) -> Array:
    out, now = np.empty_like(air), air[:, :DAY_H].mean(axis=1)
    for hour in range(air.shape[1]):
        now = now + (air[:, hour] - now) / memory_h
        out[:, hour] = now
    return out


def _lowest(hourly: Array, days: int) -> Array:
    return np.asarray(hourly.reshape(-1, days, DAY_H).min(axis=2).mean(axis=0))


def tw3(rows: Mapping[str, Array]) -> None:
    """The radiometric surface of a crop by night, hour for hour."""
    air, measured = rows["air_c"], rows["surface_c"]
    vapour = saturation_kpa(air) * rows["humidity_pct"] / 100
    year = np.array([datetime.fromtimestamp(at, UTC).year for at in rows["time_utc"]])
    skin = _crop(rows, vapour)
    before = _leaf(air, vapour, rows["wind_ms"], rows["longwave_down_wm2"], 0 * air)
    black = 5.67e-8 * (air + 273.15) ** 4
    fit, later = year == 2013, year > 2013
    known = [rows["longwave_down_wm2"] - black, rows["wind_ms"]]
    for what, mask in (("2013", fit), ("2014", later)):
        print(f"Twitchell, surface of the crop by night, {what} ({mask.sum()} hours)")
        for name, guess in (
            ("air of 2.8 m", air),
            ("before: leaf in that air", before),
            ("after: skin of the crop", skin),
            ("constant offset", air - (air - measured)[fit].mean()),
            ("line on net longwave and wind", air - fitted(known, air - measured, fit)),
        ):
            score(name, guess, measured, mask)


def _crop(rows: Mapping[str, Array], vapour: Array) -> Array:
    """The skin of the crop, °C, in the hours of the file.

    The file has nights only. The days between, which warm the ground, are drawn: a clear sky's sun,
    air above the line from dusk to dawn by 12 K times the sine of the sun's height, and the rest
    along that line.
    """
    first = rows["time_utc"][0]
    at = ((rows["time_utc"] - first) // HOUR_S).astype(int)
    hours = np.arange(at[-1] + 1)
    elevation, _ = position((first + hours * HOUR_S - 1800).astype(np.int64), 38.12, -121.65)
    day = np.ones(len(hours))
    day[at] = 0.0

    def drawn(values: Array) -> Array:
        known = np.isfinite(values)
        return np.asarray(np.interp(hours, at[known], values[known]))

    air = drawn(rows["air_c"]) + DAY_WARMER_K * np.maximum(np.sin(elevation), 0.0) * day
    humid = drawn(vapour)
    sky = longwave_down_wm2(air, humid, 0.0)
    sky[at] = np.where(np.isfinite(rows["longwave_down_wm2"]), rows["longwave_down_wm2"], sky[at])
    over = layer(
        [CROP],
        air[None, :1],
        air_c=air[None, None],
        vapour_kpa=np.minimum(humid, saturation_kpa(air))[None, None],
        wind_ms=drawn(rows["wind_ms"])[None, None],
        longwave_wm2=sky[None, None],
        sun_wm2=(clear_sky_wm2(elevation, 0.0) * day)[None, None],
        sky_view=np.ones((1, 1, 1)),
        deep_c=_running(air[None])[None],
        snow_m=np.zeros((1, 1, 1)),
        pressure_kpa=drawn(rows["pressure_kpa"])[None, None],
        reference_m=TW3_AIR_M,
        wind_from_m=TW3_AIR_M,
    )
    return np.asarray((air - over.colder_k[0, 0])[at])


def fitted(known: list[Array], wanted: Array, mask: Mask) -> Array:
    """Return the least-squares line of ``wanted`` on ``known``, fitted where ``mask``."""
    rows = np.column_stack([np.ones(len(wanted)), *known])
    return np.asarray(rows @ np.linalg.lstsq(rows[mask], wanted[mask], rcond=None)[0])


def score(name: str, guess: Array, measured: Array, mask: Mask) -> None:
    """Print mean and root mean square error, and frosts caught and false alarms among warnings."""
    off, frost, warned = (guess - measured)[mask], measured[mask] < 0, guess[mask] < 0
    caught = (frost & warned).sum() / frost.sum()
    false = (warned & ~frost).sum() / max(warned.sum(), 1)
    rms = np.sqrt(np.square(off).mean())
    print(f"  {name:<32}{off.mean():8.2f}{rms:7.2f}{caught:8.0%}{false:7.0%}")


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:]))
