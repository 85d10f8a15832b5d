"""The cold near the ground against measured nights in three climates, before and after.

``PYTHONPATH=.types python tests/bench/near_ground.py DEBILT.csv TW3.csv [MATSCH.txt]`` with files
of open data that are not part of this project:

- De Bilt (KNMI daily data, station 260; open data, name KNMI): lowest air at 1.5 m and at 10 cm
  over grass, a day a row, with the day's wind, cloud and humidity.
- Twitchell alfalfa (AmeriFlux US-Tw3 BASE, Chamberlain et al.): night hours with longwave and the
  radiometric temperature of the canopy.
- Matsch, a meadow on a slope of the Alps at 1480 m (github.com/EURAC-Ecohydro/GEOtopExamples,
  commit df1407b4, tests/Matsch_B2_Ref_007/obss/obs/obs0001.txt): all hours of 2014 and 2015 with
  four parts of radiation. Snowy days (albedo over 0.4) are left out.

De Bilt's rows tell the mean of a day. Hours are drawn through them here: air from the lowest at 5
to the highest at 15 UTC, wind from its calmest hour at 4 to as much above the mean at 16. Cloud
comes and goes in spells of some hours (twelve draws of a fixed seed), because skies are mostly
clear or mostly covered and the lowest air comes under the clear ones. A guess is the mean of the
draws. Twitchell's days are drawn from its nights (see `_day_between`).

The rivals are a constant and a straight line on net longwave and wind. They are fitted on even
years, on 2013 or on 2014, and judged on the rest. A garden has no such record. So the last table
judges each line where it was not fitted. The model's constants were chosen beside De Bilt's even
years and Twitchell's 2013. Matsch was opened after that, and nothing was changed for it.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from itertools import pairwise
from pathlib import Path

import numpy as np
from alpine_meadow import meadow
from numpy.typing import NDArray

from underbench.rules.garden.inventory import Surface
from underbench.rules.physics.leaf import leaf_temperature_c
from underbench.rules.physics.near_ground import GROUNDS, layer, profile_share
from underbench.rules.physics.surroundings import CROWN_OVER_POT_M
from underbench.rules.weather.air import saturation_kpa, wind_at_m
from underbench.rules.weather.constants import KELVIN, SIGMA_WM2K4
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
LEAF_M, LOW_M = 0.03, 0.2
DRAWS, SPELL_H = 12, 4.0  # judgement
DUSK_LAG_H = 1.86  # of the air behind the sun: Parton & Logan 1981, at 1.5 m; from memory
CANOPY_EMISSIVITY, SNOWY_ALBEDO = 0.98, 0.4
MATSCH_KPA, MATSCH_WIND_M = 85.0, 2.5
# Lucerne and hay 40 cm high: roughness 0.123 of the height, as FAO-56, eq. 4, has it.
CROP = replace(GROUNDS[Surface.GRASS], rough_m=0.05)
Mask = NDArray[np.bool_]


@dataclass(frozen=True)
class Nights:
    """What one site measured by night, and what the models make of it, (night or hour,).

    ``known`` are net longwave at the air's temperature and wind; ``fit`` is where rivals may learn.
    ``low_leaf_c`` is a leaf in the air that the model has at 20 cm: a row on the ground.
    """

    name: str
    air_c: Array
    measured_c: Array
    known: list[Array]
    ours_c: Array
    leaf_c: Array
    fit: Mask
    low_leaf_c: Array | None = None


def main(debilt: Path, twitchell: Path, matsch: Path | None = None) -> None:
    """Print the tables."""
    sites = [de_bilt(columns(debilt)), tw3(columns(twitchell))]
    if matsch is not None:
        sites.append(alpine(meadow(matsch)))
    print(f"{'':<38}{'mean K':>8}{'rms K':>7}{'caught':>8}{'false':>7}")
    for site in sites:
        for what, mask in (("first", site.fit), ("the rest", ~site.fit)):
            print(f"{site.name}, {what} ({mask.sum()})")
            _rows(site, mask)
    _shares(sites[0])
    print("Each line where it was not fitted")
    for site in sites:
        everywhere = np.ones(len(site.air_c), bool)
        score(f"{site.name}: ours", site.ours_c, site.measured_c, everywhere)
        for other in sites:
            if other is not site:
                guess = site.air_c - laid(site.known, _line(other, np.ones(len(other.fit), bool)))
                score(f"{site.name}: line of {other.name}", guess, site.measured_c, everywhere)


def _rows(site: Nights, mask: Mask) -> None:
    offset = float((site.air_c - site.measured_c)[site.fit].mean())
    for name, guess in (
        ("air of the screen", site.air_c),
        ("before: leaf in that air", site.leaf_c),
        ("after", site.ours_c),
        ("a leaf in the air at 20 cm", site.low_leaf_c),
        ("constant offset", site.air_c - offset),
        ("line fitted here", site.air_c - laid(site.known, _line(site, site.fit))),
    ):
        if guess is not None:
            score(name, guess, site.measured_c, mask)


def _shares(site: Nights) -> None:
    for low in (0, 2, 4):
        mask = (site.air_c >= low) & (site.air_c < low + 2)
        found = [f"{(of[mask] < 0).mean():.2f}" for of in (site.measured_c, site.ours_c)]
        print(f"  frost at 10 cm, air minimum {low} to {low + 2} °C: {' measured, '.join(found)}")


def _line(site: Nights, mask: Mask) -> Array:
    rows = np.column_stack([np.ones(len(site.air_c)), *site.known])
    wanted = site.air_c - site.measured_c
    return np.asarray(np.linalg.lstsq(rows[mask], wanted[mask], rcond=None)[0])


def laid(known: list[Array], line: Array) -> Array:
    """Return a fitted line at ``known``."""
    return np.asarray(np.column_stack([np.ones(len(known[0])), *known]) @ line)


def _net_wm2(air_c: Array, longwave_wm2: Array) -> Array:
    return np.asarray(longwave_wm2 - SIGMA_WM2K4 * (air_c + KELVIN) ** 4)


def _years(times_s: Array) -> Array:
    return np.array([datetime.fromtimestamp(at, UTC).year for at in times_s])


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


def de_bilt(rows: Mapping[str, Array]) -> Nights:
    """The lowest air at 10 cm over grass."""
    air, vapour = rows["air_min_c"], saturation_kpa(rows["air_mean_c"])
    vapour = np.minimum(vapour * rows["humidity_mean_pct"] / 100, saturation_kpa(air))
    net = _net_wm2(air, longwave_down_wm2(air, vapour, rows["cloud_oktas"] / 8.0))
    known = [net, wind_at_m(rows["wind_mean_ms"], SCREEN_M)]
    before, after = _at_ten_cm(rows)
    even = _years(rows["date"]) % 2 == 0
    return Nights("De Bilt, 10 cm", air, rows["min_10cm_c"], known, after, before, even)


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


def tw3(rows: Mapping[str, Array]) -> Nights:
    """The radiometric surface of a crop by night, hour for hour."""
    rows = {name: values[_whole(rows)] for name, values in rows.items()}
    air, wind, longwave = rows["air_c"], rows["wind_ms"], rows["longwave_down_wm2"]
    vapour = saturation_kpa(air) * rows["humidity_pct"] / 100
    skin, low_leaf = _crop(rows, vapour)
    return Nights(
        name="Twitchell, crop",
        air_c=air,
        measured_c=rows["surface_c"],
        known=[_net_wm2(air, longwave), wind],
        ours_c=skin,
        low_leaf_c=low_leaf,
        leaf_c=_leaf(air, vapour, wind, longwave, 0 * air),
        fit=_years(rows["time_utc"]) == 2013,
    )


def _whole(rows: Mapping[str, Array]) -> Mask:
    needed = ("air_c", "wind_ms", "humidity_pct", "longwave_down_wm2", "pressure_kpa", "surface_c")
    return np.asarray(np.isfinite([rows[name] for name in needed]).all(axis=0))


def _crop(rows: Mapping[str, Array], vapour: Array) -> tuple[Array, Array]:
    """The skin of the crop and a low leaf, °C, in the hours of the file. The days between, which
    warm the ground, are drawn, under a clear sky."""
    first = rows["time_utc"][0]
    at = ((rows["time_utc"] - first) // HOUR_S).astype(int)
    hours = np.arange(at[-1] + 1)
    elevation, _ = position((first + hours * HOUR_S - 1800).astype(np.int64), 38.12, -121.65)
    drawn = {name: np.interp(hours, at, values) for name, values in rows.items()}
    air, humid = _day_between(drawn["air_c"], at), np.interp(hours, at, vapour)
    sky = longwave_down_wm2(air, humid, 0.0)
    sky[at] = rows["longwave_down_wm2"]
    day = np.ones(len(hours))
    day[at] = 0.0
    skin, low_leaf = _skin_and_leaf(
        air,
        np.minimum(humid, saturation_kpa(air)),
        drawn["wind_ms"],
        sky,
        clear_sky_wm2(elevation, 0.0) * day,
        drawn["pressure_kpa"],
        (TW3_AIR_M, TW3_AIR_M),
    )
    return skin[at], low_leaf[at]


def _day_between(air_c: Array, at: NDArray[np.int_]) -> Array:
    """The air with days drawn between the nights: from the last of a night the sine of Parton &
    Logan 1981 (Agric. Meteorol. 23), as high as it must be to come down to the next dusk."""
    out = air_c.copy()
    for dawn, dusk in pairwise(at):
        lasts = dusk - dawn
        if not 1 < lasts < DAY_H or air_c[dusk] <= air_c[dawn]:
            continue
        phase = np.pi * np.arange(1, lasts + 1) / (lasts + 2 * DUSK_LAG_H)
        above = np.sin(phase) / np.sin(phase[-1])
        out[dawn + 1 : dusk + 1] = air_c[dawn] + (air_c[dusk] - air_c[dawn]) * above
    return out


def _skin_and_leaf(
    air: Array,
    vapour: Array,
    wind: Array,
    longwave: Array,
    sun: Array,
    pressure_kpa: Array,
    heights_m: tuple[float, float],
) -> tuple[Array, Array]:
    """The skin of a crop and a leaf at 20 cm, °C (hour,), under an open sky; ``heights_m`` of air
    and wind."""
    over = layer(
        [CROP],
        air[None, :1],
        air_c=air[None, None],
        vapour_kpa=vapour[None, None],
        wind_ms=wind[None, None],
        longwave_wm2=longwave[None, None],
        sun_wm2=sun[None, None],
        sky_view=np.ones((1, 1, 1)),
        deep_c=_running(air[None])[None],
        snow_m=np.zeros((1, 1, 1)),
        pressure_kpa=pressure_kpa[None, None],
        reference_m=heights_m[0],
        wind_from_m=heights_m[1],
    )
    low = air + over.air_k(np.full((1, 1, 1), LOW_M))[0, 0]
    stable = np.maximum(over.stability, 0.0)
    share = profile_share(LOW_M + CROWN_OVER_POT_M, over.rough_m, stable, heights_m[0])[0, 0]
    leaf = _leaf(low, np.minimum(vapour, saturation_kpa(low)), wind * share, longwave, 0 * air)
    return np.asarray(air - over.colder_k[0, 0]), leaf


def alpine(rows: Mapping[str, Array]) -> Nights:
    """The radiometric surface of a meadow by night, hour for hour. Its days were measured."""
    air, wind, sky = rows["air_c"], rows["wind_ms"], rows["longwave_wm2"]
    vapour = saturation_kpa(air) * np.clip(rows["humidity"], 0.0, 1.0)
    own_wm2 = (rows["emitted_wm2"] - (1 - CANOPY_EMISSIVITY) * sky) / CANOPY_EMISSIVITY
    sun, still = np.maximum(rows["sun_wm2"], 0.0), np.full_like(air, MATSCH_KPA)
    ours, low = _skin_and_leaf(air, vapour, wind, sky, sun, still, (2.0, MATSCH_WIND_M))
    elevation, _ = position((rows["time_utc"] - 1800).astype(np.int64), 46.668, 10.579)
    days = (rows["time_utc"] // (DAY_H * HOUR_S)).astype(int)
    light = sun > 100.0
    snowy = [day for day in np.unique(days) if _albedo(rows, (days == day) & light) > SNOWY_ALBEDO]
    at = (elevation < -0.02) & (rows["whole"] > 0) & ~np.isin(days, snowy)
    return Nights(
        name="Matsch, meadow",
        air_c=air[at],
        measured_c=((own_wm2 / SIGMA_WM2K4) ** 0.25 - KELVIN)[at],
        known=[_net_wm2(air, sky)[at], wind[at]],
        ours_c=ours[at],
        low_leaf_c=low[at],
        leaf_c=_leaf(air, vapour, wind, sky, 0 * air)[at],
        fit=_years(rows["time_utc"])[at] == 2014,
    )


def _albedo(rows: Mapping[str, Array], light: Mask) -> float:
    if not light.any():
        return 0.0
    return float(np.median(rows["back_wm2"][light] / rows["sun_wm2"][light]))


def score(name: str, guess: Array, measured: Array, mask: Mask) -> None:
    """Print mean and root mean square error, and frosts caught and false alarms among warnings."""
    off, frost, warned = (guess - measured)[mask], measured[mask] < 0, guess[mask] < 0
    caught = (frost & warned).sum() / frost.sum()
    false = (warned & ~frost).sum() / max(warned.sum(), 1)
    rms = np.sqrt(np.square(off).mean())
    print(f"  {name:<36}{off.mean():8.2f}{rms:7.2f}{caught:8.0%}{false:7.0%}")


if __name__ == "__main__":
    main(*map(Path, sys.argv[1:]))
