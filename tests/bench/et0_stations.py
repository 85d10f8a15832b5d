"""Reference evapotranspiration against four weather stations, by day and summed from hours.

``python tests/bench/et0_stations.py FOLDER``: the folder ``pcse/tests/test_data`` of the package
pcse (Wageningen Environmental Research), which holds a year of daily weather of four stations with
their ET0 by FAO-56, as printed, to 0.01 mm (the Swedish one with vapour pressure to 0.1 hPa, wind
in tenths). Not a test: a sample of these days is in ``tests/rules/physics/test_et0.py``.
"""

from __future__ import annotations

import csv
import sys
from datetime import UTC, datetime
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2] / ".types"))

from underbench.rules.physics import et0
from underbench.rules.weather import sun
from underbench.rules.weather.air import pressure_kpa, saturation_kpa, wind_at_m

# File: latitude, longitude, elevation; from pcse/tests/test_penmanmonteith.py.
STATIONS = {
    "8011_asturias.csv": (43.5667, -6.0442, 130.0),
    "2297_sweden.csv": (64.4833, 21.5833, 37.0),
    "10870_munchen_flughafen.csv": (48.3667, 11.8, 453.0),
    "8443_ronda.csv": (36.75, -5.1667, 3.0),
}
NUMBERS = (
    "TEMPERATURE_MIN", "TEMPERATURE_MAX", "VAPOURPRESSURE", "RADIATION", "WINDSPEED_10M", "ET0",
)  # fmt: skip


def day_and_hours_mm(
    day: datetime, latitude: float, longitude: float, elevation_m: float, *row: float
) -> tuple[float, float]:
    """Return a day's reference evapotranspiration at one go, and as the sum of its hours, mm.

    The hours are made of the day: a cosine of temperature with its top at 15 h of the sun, global
    radiation as that at the top of the atmosphere, the rest held.
    """
    low_c, high_c, vapour_hpa, global_kj, wind10_ms = row
    # The day of the sun at this longitude, so that its 24 hours hold all of its light.
    noon = int(day.timestamp()) + 43_200 - round(longitude * 240)
    times = noon + 3600 * np.arange(-12, 12) + 1800
    vapour, pressure = vapour_hpa / 10, pressure_kpa(elevation_m)
    outside = sun.hourly_extraterrestrial_mj(times, latitude, longitude)
    ra = float(sun.daily_extraterrestrial_mj(sun.day_of_year(np.array(noon)), latitude))
    clearness = min(global_kj / 1000 / float(et0.clear_sky_mj(ra, elevation_m)), 1.0)
    net = et0.net_shortwave_mj(global_kj / 1000) - et0.net_longwave_daily_mj(
        low_c, high_c, vapour, clearness
    )
    wind2_ms = wind_at_m(wind10_ms, 2.0)
    by_day = et0.daily_mm(
        t_min_c=low_c, t_max_c=high_c, vapour_kpa=vapour, wind2_ms=wind2_ms,
        net_radiation_mj=net, pressure_kpa=pressure,
    )  # fmt: skip
    since_noon_h = np.arange(-12, 12) + 0.5
    air_c = (low_c + high_c) / 2 + (high_c - low_c) / 2 * np.cos((since_noon_h - 3) / 12 * np.pi)
    by_hour = et0.hourly_mm(
        air_c=air_c, vapour_kpa=np.minimum(vapour, saturation_kpa(air_c)), wind2_ms=wind2_ms,
        global_wm2=outside / outside.sum() * global_kj / 3.6, clearness=clearness,
        pressure_kpa=pressure,
    )  # fmt: skip
    return max(float(by_day), 0.0), float(by_hour.sum())


def main(folder: Path) -> None:
    """Print root mean square errors, by station."""
    print(f"{'station':<30}{'days':>5}{'ET0 mm/d':>10}{'rmse: day':>11}{'hours':>8}{'bias':>8}")
    for name, place in STATIONS.items():
        rows = []
        for row in csv.DictReader((folder / name).read_text().splitlines()):
            try:
                day = datetime.strptime(row["DAY"], "%d-%b-%y").replace(tzinfo=UTC)
                rows.append((day, [float(row[key].strip(" );")) for key in NUMBERS]))
            except (TypeError, ValueError, AttributeError):
                continue  # the files end in loose lines
        ours = np.array([day_and_hours_mm(day, *place, *given[:5]) for day, given in rows])
        theirs = np.array([given[5] for _, given in rows])
        off = ours - theirs[:, None]
        by_day, by_hour = np.sqrt(np.square(off).mean(axis=0))
        print(
            f"{name:<30}{len(rows):>5}{theirs.mean():>10.2f}{by_day:>11.3f}{by_hour:>8.3f}"
            f"{off[:, 1].mean():>8.3f}"
        )


if __name__ == "__main__":
    main(Path(sys.argv[1]))
