"""A bed's soil beside measured soil: the models run on a station's weather, hour by hour.

Kings Creek, Konza Prairie (Kansas Mesonet; 39.1 N 96.6 W, 380 m), hourly 2022 and 2023 under tall
grass, air to -22 °C: soilwater/pynotes-agriscience at 30798829,
`datasets/kings_creek_2022_2023_hourly.csv` (MIT). Times are taken as central standard time, wind as
measured 3 m over grass and brought to 10 m; cloud is estimated from the sun.

    python tests/bench/bed_soil.py kings_creek_2022_2023_hourly.csv

A pot of 8 L, plunged in the ground and standing on it, has its edge compared with soil at 5 cm.
The bed's shell is compared with soil at 5 cm (it is the mean of 0 to 12 cm), the core with 20 cm.
A bed's face (`rootball.SOIL_WETNESS` and `SOIL_COVER_M2K_W`) was chosen on 2022.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from underbench.rules.garden.inventory import (
    Colour,
    Container,
    ContainerKind,
    Garden,
    Shape,
    Standing,
    Wall,
)
from underbench.rules.physics import exposure
from underbench.rules.physics import state as states
from underbench.rules.physics.cover import COVERS, CoverKind
from underbench.rules.physics.exposure import Exposure, Traits
from underbench.rules.physics.pot_water import capacity_l
from underbench.rules.physics.pots import ball_of
from underbench.rules.weather.fill_gaps import complete
from underbench.rules.weather.hourly import Weather, from_columns
from underbench.rules.weather.spread import known_site

Array = NDArray[np.float64]
KONZA = Garden(name="Konza", latitude=39.1, longitude=-96.6, elevation_m=380, timezone="Etc/GMT+6")
ZONE_H, WIND_TO_10M, WM2_IN_MJ_H = 6, 1.2, 0.0036
LITRES = (60.0, 600.0)
START_C, DAYS_OF_2022 = 5.0, 365


def column(rows: list[dict[str, str]], name: str) -> Array:
    """Return a column, NaN where it is blank."""
    return np.array([float(row[name] or "nan") for row in rows])


def weather_of(rows: list[dict[str, str]]) -> Weather:
    """Return the station's weather, complete."""
    first = datetime.fromisoformat(rows[0]["datetime"]).replace(tzinfo=UTC)
    first += timedelta(hours=ZONE_H)
    times = int(first.timestamp()) + 3600 * np.arange(len(rows), dtype=np.int64)
    air, humidity = column(rows, "tavg"), np.clip(column(rows, "rhavg"), 5.0, 100.0)
    gamma = np.log(humidity / 100.0) + 17.27 * air / (237.3 + air)
    columns = {
        "air_c": air,
        "dew_c": 237.3 * gamma / (17.27 - gamma),
        "wind_ms": column(rows, "wspd") * WIND_TO_10M,
        "global_wm2": column(rows, "srad") / WM2_IN_MJ_H,
        "rain_mm": column(rows, "prcp"),
        "pressure_kpa": column(rows, "pressure"),
    }
    return complete(from_columns(times, columns), KONZA)[0]


def bed(litres: float) -> Container:
    """Return a bed of so many litres."""
    return Container(
        kind=ContainerKind.BED,
        litres=litres,
        wall=Wall.NONE,
        colour=Colour.BROWN,
        shape=Shape.GROUND,
    )


POT = Container(
    kind=ContainerKind.POT,
    litres=8.0,
    wall=Wall.UNGLAZED,
    colour=Colour.BROWN,
    shape=Shape.RECTANGLE,
)


def in_the_open(pots: Sequence[Container], standing: Sequence[Standing]) -> Traits:
    """Return pots and beds in the open; nothing shades them but their own tree."""
    trees = len(pots)
    each = np.ones(trees)
    ball = ball_of(pots, [Standing.GROUND] * trees)
    return Traits(
        ball=ball.standing_on(standing, np.arange(trees)),
        capacity_l=capacity_l(pots),
        canopy_m2=0.2 * each,
        covers=(COVERS[CoverKind.OPEN],) * trees,
        sky_view=each,
        sun_from=0.0 * each,
        sun_until=24.0 * each,
        wind_factor=each,
        height_m=0.0 * each,
        surface=0.0 * each,
        departs_k=np.zeros((trees, 3)),
        leaf_width_m=0.01 * each,
        transpiring=0.0 * each,
        crop=0.3 * each,
        roofed=np.zeros(trees, dtype=bool),
        bags=(None,) * trees,
        bagged=np.zeros(trees, dtype=bool),
    )


def run(traits: Traits, weather: Weather, start_c: float) -> Exposure:
    """Return what beds feel, walked day by day as the course does."""
    trees = len(traits.capacity_l)
    state, parts = states.begin(traits.capacity_l, start_c), []
    for first in range(0, weather.hours, 24):
        hours = weather.hours_at(slice(first, first + 24))
        dry = np.zeros((trees, hours.hours), dtype=bool)
        felt, state = exposure.advance(state, traits, hours, known_site(), KONZA, dry)
        state = replace(state, wetness=state.water_left)
        parts.append(felt)
    return exposure.join(parts)


def daily_range_k(values: Array) -> float:
    """Return the median of the days' ranges."""
    days = values[: len(values) // 24 * 24].reshape(-1, 24)
    return float(np.median(np.ptp(days, axis=1)))


def show(name: str, told: Array, seen: Array, months: Array) -> None:
    """Print errors of hours by year and half year, and how far the extremes are out."""
    print(name)
    winter = np.isin(months, [11, 12, 1, 2, 3])
    year = 2022 + (np.arange(len(months)) >= DAYS_OF_2022 * 24)
    for half, inside in (
        ("2022 Nov-Mar", winter & (year == 2022)),
        ("2022 Apr-Oct", ~winter & (year == 2022)),
        ("2023 Nov-Mar", winter & (year == 2023)),
        ("2023 Apr-Oct", ~winter & (year == 2023)),
    ):
        ok = inside & np.isfinite(seen)
        miss = told[ok] - seen[ok]
        swing = [daily_range_k(values[ok]) for values in (told, seen)]
        print(
            f"  {half} bias {miss.mean():+5.2f} K, rms {np.sqrt((miss**2).mean()):4.2f} K, "
            f"lowest {told[ok].min():5.1f} ({seen[ok].min():5.1f} seen), "
            f"highest {told[ok].max():5.1f} ({seen[ok].max():5.1f}), "
            f"daily range {swing[0]:4.1f} ({swing[1]:4.1f})"
        )


def smoothed_c(air_c: Array) -> Array:
    """Return the mean of the air over some three days, the newest weighing most."""
    out, now = np.empty_like(air_c), START_C
    for hour, value in enumerate(air_c):
        now += (value - now) / 72.0
        out[hour] = now
    return out


def main() -> None:
    """Read the file named on the command line."""
    if len(sys.argv) != 2:
        raise SystemExit("usage: python tests/bench/bed_soil.py kings_creek_2022_2023_hourly.csv")
    with Path(sys.argv[1]).open() as file:
        rows = list(csv.DictReader(file))
    weather = weather_of(rows)
    pots = [*(bed(litres) for litres in LITRES), POT, POT]
    stood = [Standing.GROUND, Standing.GROUND, Standing.PLUNGED, Standing.GROUND]
    felt = run(in_the_open(pots, stood), weather, START_C)
    months = np.array([int(row["datetime"][5:7]) for row in rows])
    for tree, litres in enumerate(LITRES):
        for part, depth in (("shell", "5cm"), ("core", "20cm")):
            told = np.asarray(getattr(felt, f"{part}_c")[tree, 0], dtype=float)
            name = f"bed of {litres:.0f} L, {part} beside {depth}"
            show(name, told, column(rows, f"soiltemp_{depth}"), months)
    for tree, way in enumerate(("plunged", "standing on the ground"), start=len(LITRES)):
        told = np.asarray(felt.shell_c[tree, 0], dtype=float)
        show(f"pot of 8 L {way}, beside 5 cm", told, column(rows, "soiltemp_5cm"), months)
    rival, seen = smoothed_c(weather.air_c[0]), column(rows, "soiltemp_20cm")
    show("plain rival: mean air of some 3 days, beside 20 cm", rival, seen, months)


if __name__ == "__main__":
    main()
