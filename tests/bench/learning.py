"""What the learned correction gains, out of sample, beside the plainest rivals.

Each night is corrected with what was learned from the nights up to the second before it, as a
forecast a day ahead could be. The rivals are the forecast as it is, and the forecast less the mean
error of the last forty nights.

    python tests/bench/learning.py [FOLDER]

Without a folder it prints open minima of St Louis (`st_louis_2021.csv`, source there) and made
series. FOLDER holds open ensembles with what was observed, read with the package rdata, which the
project does not need:

- `temp.rda` of the R package ensemblepp 1.0-0 (Messner; GPL-2 or 3; cran/ensemblepp e265d94a):
  night minima at Innsbruck, 2000 to 2016, eleven members of GEFS reforecasts (Hamill et al. 2013,
  Bulletin of the American Meteorological Society 94), 2749 nights with gaps.
- `Magdeburg.rda`, `Magdeburg48.rda`, `ListSylt.rda` of the R package ensAR 0.2.0 (Gross & Möller;
  GPL-2; JuGross/ensAR d46aa918): 2 m temperature at noon at Magdeburg and List on Sylt, 2002 to
  2014, 24 or 48 hours ahead, fifty members and the central run of ECMWF (Hemri et al. 2014,
  Geophysical Research Letters 41).
- `ensembles.RData` of the R package flatness 0.1.4 (Zamo; GPL-3; cran/flatness d3cf74f2): 2 m
  temperature at six in the morning at Toulouse, 2019 to 2021, 30 hours ahead, five ensembles.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Callable, Iterator
from datetime import UTC, datetime, timedelta
from importlib import import_module
from math import erf, sqrt
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from underbench.rules.weather.hourly import Array
from underbench.rules.weather.learned import Learned, Pair, clear_calm, learn
from underbench.rules.weather.scoring import brier, normal_crps
from underbench.rules.weather.thermometer import prior_spread_k

DAY_S = 86400
KNOWN_AFTER_NIGHTS = 2  # a night is over when the one after the next is forecast
WARM_UP = 60
TEN_YEARS_S = 3652 * DAY_S
ACT_FROM = 0.25
LAST_NIGHTS = 40
CLOUD = {"S": 0.05, "P": 0.35, "M": 0.7, "C": 1.0, "R": 1.0}
TOULOUSE = ("CWAO", "DEMS", "ECMF", "EGRR", "RKSL")
DARK = np.array([True])


class Series(NamedTuple):
    """Forecasts and what came, oldest first; every array (night,), °C."""

    lead_h: float
    at_s: Array
    observed_c: Array
    forecast_c: Array
    centre_c: Array
    variance_k2: Array
    clear_calm: Array

    def pairs(self, seen_c: Array) -> list[Pair]:
        """Return what a thermometer that shows ``seen_c`` teaches, night by night."""
        columns = (self.at_s, self.forecast_c, seen_c, self.clear_calm, self.centre_c)
        return [
            Pair(int(at), None, self.lead_h, fc, seen, clear, centre - fc, variance)
            for (at, fc, seen, clear, centre), variance in zip(
                zip(*(column.tolist() for column in columns), strict=True),
                self.variance_k2.tolist(),
                strict=True,
            )
        ]


class Foreseen(NamedTuple):
    """Each night's forecast as a normal distribution, and whether the thermometer was in doubt."""

    mean_c: Array
    spread_k: Array
    held: Array


class Scores(NamedTuple):
    """CRPS, K; Brier score below 0 °C; frosts caught and alarms false at `ACT_FROM`; spread over
    error; nights held."""

    crps_k: float
    brier: float
    caught: float
    false: float
    spread: float
    held: float


def corrected(series: Series, seen_c: Array, told_at: int | None = None) -> Foreseen:
    """Return the series as corrected by a thermometer that shows ``seen_c``; before the night
    numbered ``told_at`` the keeper says that it is a new one."""
    learned, waiting, rows = Learned(), 0, []
    pairs, lead_h = series.pairs(seen_c), np.array([series.lead_h])
    for number, pair in enumerate(pairs):
        while pairs[waiting].at_s <= pair.at_s - KNOWN_AFTER_NIGHTS * DAY_S:
            learned = learn(learned, [pairs[waiting]])
            waiting += 1
        learned = learned.without(None) if number == told_at else learned
        shift_k = float(learned.shift_k(pair.hours, lead_h, DARK)[0])
        lack_k = float(learned.spread_k(lead_h, np.array([pair.variance_k2]))[0])
        spread_k = sqrt(lack_k**2 + pair.variance_k2)
        rows.append((pair.forecast_c + shift_k, spread_k, float(bool(learned.held))))
    return Foreseen(*np.array(rows).T)


def as_forecast(series: Series, _seen_c: Array) -> Foreseen:
    """Return the series as it is, dressed as without a record."""
    prior_k = float(prior_spread_k(np.array(series.lead_h * 3600.0)))
    spread_k = np.sqrt(np.maximum(prior_k**2, series.variance_k2))
    return Foreseen(series.forecast_c, spread_k, np.zeros(len(spread_k)))


def less_last_errors(series: Series, seen_c: Array) -> Foreseen:
    """Return the series less the mean error of the last nights, as wide as these erred."""
    plain = as_forecast(series, seen_c)
    mean_c, spread_k = plain.mean_c.copy(), plain.spread_k.copy()
    error_k = seen_c - series.forecast_c
    for number in range(KNOWN_AFTER_NIGHTS + 10, len(mean_c)):
        last = error_k[: number - KNOWN_AFTER_NIGHTS + 1][-LAST_NIGHTS:]
        mean_c[number] += last.mean()
        spread_k[number] = last.std()
    return Foreseen(mean_c, spread_k, plain.held)


WAYS: dict[str, Callable[[Series, Array], Foreseen]] = {
    "as forecast": as_forecast,
    "less last errors": less_last_errors,
    "corrected": corrected,
}


def score(series: Series, foreseen: Foreseen, nights: Array) -> Scores:
    """Return the scores of the ``nights`` (night,), true where they count."""
    low_c, mean_c, spread_k, held = (values[nights] for values in (series.observed_c, *foreseen))
    z = [-mean / spread / sqrt(2.0) for mean, spread in zip(mean_c, spread_k, strict=True)]
    chance = np.array([0.5 * (1.0 + erf(one)) for one in z])
    frost, alarm = low_c < 0.0, chance >= ACT_FROM
    crps = [normal_crps(*one) for one in zip(mean_c, spread_k, low_c, strict=True)]
    return Scores(
        float(np.mean(crps)),
        brier(chance, frost.astype(float)),
        float((alarm & frost).sum() / max(frost.sum(), 1)),
        float((alarm & ~frost).sum() / max(alarm.sum(), 1)),
        float(np.sqrt((spread_k**2).mean() / ((low_c - mean_c) ** 2).mean())),
        float(held.mean()),
    )


def st_louis(lead_h: int) -> Series:
    """Return forecast and observed minima at St Louis of one lead (24 or 48). Its wind is not known
    and taken for 2.5 m/s; its sky is that forecast at 24 hours, also for 48."""
    path = Path(__file__).with_name("st_louis_2021.csv")
    lines = [line for line in path.read_text().splitlines() if not line.startswith("#")]
    rows = []
    for row in csv.DictReader(lines):
        if row["observed_f"] and row[f"forecast_{lead_h}h_f"]:
            at = datetime.fromisoformat(row["date"]).replace(hour=12, tzinfo=UTC)
            lows = [
                (float(row[name]) - 32.0) / 1.8 for name in ("observed_f", f"forecast_{lead_h}h_f")
            ]
            rows.append((at.timestamp(), *lows, CLOUD[row["sky"]]))
    at_s, observed_c, forecast_c, cloud = np.array(rows).T
    calm = clear_calm(np.ones(len(cloud), bool), cloud, np.full(len(cloud), 2.5))
    return alone(lead_h, at_s, observed_c, forecast_c, calm)


def made(nights: int, seed: int, begins: datetime, size: float = 1.0) -> Series:
    """Return a forecast that is 2 K too warm in clear calm nights, 1 K more in winter and 1 K less
    in summer (times ``size``); beside, its errors of 1.3 K are alike from night to night (0.3)."""
    rng = np.random.default_rng(seed)
    at_s = np.array([(begins + timedelta(days=night)).timestamp() for night in range(nights)])
    winter = np.cos(2.0 * np.pi * (at_s / DAY_S / 365.25 % 1.0) - 0.25)
    wind_ms = rng.uniform(0.5, 6.0, nights)
    calm = clear_calm(np.ones(nights, bool), rng.uniform(0, 1, nights), wind_ms)
    observed_c = 4.0 - 5.0 * winter + rng.normal(0.0, 4.0, nights)
    error_k, fresh = np.zeros(nights), rng.normal(0.0, 1.3, nights)
    for night in range(1, nights):
        error_k[night] = 0.3 * error_k[night - 1] + sqrt(1.0 - 0.3**2) * fresh[night]
    return alone(24, at_s, observed_c, observed_c + size * (2.0 * calm + winter) + error_k, calm)


def alone(lead_h: float, at_s: Array, observed_c: Array, forecast_c: Array, calm: Array) -> Series:
    """Return a series of a central run without an ensemble."""
    nothing = np.zeros(len(at_s))
    return Series(lead_h, at_s, observed_c, forecast_c, forecast_c, nothing, calm)


def ensembles(folder: Path) -> Iterator[tuple[str, Series]]:
    """Yield the open ensembles that ``folder`` holds, with their names."""
    rdata: Any = import_module("rdata")
    frame = rdata.read_rda(folder / "temp.rda")["temp"]
    values, names = frame.to_numpy(float), frame.index
    at_s = np.array([datetime.fromisoformat(f"{one}+00:00").timestamp() for one in names])
    yield "Innsbruck, 24 h", of_members(24, at_s, values[:, 0], values[:, 1], values[:, 1:])
    for name, lead_h in (("Magdeburg", 24), ("Magdeburg48", 48), ("ListSylt", 24)):
        frame = rdata.read_rda(folder / f"{name}.rda")[name]
        days = [datetime.strptime(f"{one}12+0000", "%Y%m%d%H%z") for one in frame["date"]]
        at_s = np.array([day.timestamp() for day in days])
        columns = frame[["obs", "forc.HRES"]].to_numpy(float).T
        members_c = frame[[f"forc.{n}" for n in range(1, 51)]].to_numpy(float)
        yield f"{name}, {lead_h} h", of_members(lead_h, at_s, *columns, members_c)
    found = rdata.read_rda(folder / "ensembles.RData")["ensembles"]
    for name in TOULOUSE:
        frame = found[name]
        at_s = frame["date_run"].to_numpy(float) * DAY_S + 30 * 3600
        members = [column for column in frame.columns if str(column).isdigit()]
        members_c = frame[members].to_numpy(float) - 273.15
        observed_c = frame["T"].to_numpy(float) - 273.15
        centre_c = members_c.mean(axis=1)
        yield f"Toulouse {name}, 30 h", of_members(24, at_s, observed_c, centre_c, members_c)


def of_members(
    lead_h: float, at_s: Array, observed_c: Array, central_c: Array, members_c: Array
) -> Series:
    """Return a series of an ensemble (night, member) beside a central run."""
    known = np.isfinite(np.column_stack([observed_c, central_c, members_c])).all(axis=1)
    at_s, observed_c, central_c = at_s[known], observed_c[known], central_c[known]
    centre_c, variance_k2 = members_c[known].mean(axis=1), members_c[known].var(axis=1, ddof=1)
    return Series(lead_h, at_s, observed_c, central_c, centre_c, variance_k2, np.zeros(len(at_s)))


def parts(series: Series) -> dict[str, Array]:
    """Return which nights are scored: after the warm-up, and after ten years, if there are any."""
    number = np.arange(len(series.at_s))
    late = series.at_s > series.at_s[0] + TEN_YEARS_S
    found = {f"from night {WARM_UP}": number >= WARM_UP, "after ten years": late}
    return {name: nights for name, nights in found.items() if nights.any()}


def main() -> None:
    """Print what was gained."""
    begins = datetime(2024, 10, 15, 6, tzinfo=UTC)
    series = {f"St Louis 2021, minimum, {h} h": st_louis(h) for h in (24, 48)}
    series |= {f"made, seed {n}, two years": made(730, n, begins) for n in (11, 12)}
    series |= {"made without a bias, two years": made(730, 13, begins, 0.0)}
    if len(sys.argv) > 1:
        series |= dict(ensembles(Path(sys.argv[1])))
    print(f"{'':52} nights  CRPS  Brier  caught  false  spread/error  held")
    for name, one in series.items():
        for way, foresee in WAYS.items():
            foreseen = foresee(one, one.observed_c)
            for part, nights in parts(one).items():
                of = score(one, foreseen, nights)
                print(
                    f"{name[:26]:26} {way:16} {part[:9]:9} {nights.sum():5}  {of.crps_k:.3f}"
                    f"  {of.brier:.4f}   {of.caught:.2f}   {of.false:.2f}    {of.spread:.2f}"
                    f"         {of.held:.2f}"
                )


if __name__ == "__main__":
    main()
