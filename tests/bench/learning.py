"""What a learned correction gains, out of sample: on an open real series and a made one.

Run as a program it prints CRPS before and after. Each night is corrected with what was learned from
the nights up to the second before it, as a forecast of 24 hours ahead could be.

The real one: night minima at St Louis, 30 January to 21 June 2021 (`st_louis_2021.csv`, source
there), at 24 and 48 hours. Its wind is not known and taken for 2.5 m/s; its sky is that forecast at
24 hours, also for 48, where it would not have been known yet.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np

from underbench.rules.weather.hourly import Array
from underbench.rules.weather.learned import Learned, Pair, features, learn, prior_spread_k
from underbench.rules.weather.scoring import ensemble_crps, normal_crps

ST_LOUIS_LONGITUDE = -90.4
WARM_UP = 60
CLOUD = {"S": 0.05, "P": 0.35, "M": 0.7, "C": 1.0, "R": 1.0}
DAY_S = 86400
KNOWN_AFTER_NIGHTS = 2  # a night is over when the one after the next is forecast


def st_louis(lead_h: int) -> list[Pair]:
    """Return forecast and observed minima, °C, of one lead (24 or 48)."""
    path = Path(__file__).with_name("st_louis_2021.csv")
    lines = [line for line in path.read_text().splitlines() if not line.startswith("#")]
    pairs = []
    for row in csv.DictReader(lines):
        if row["observed_f"] and row[f"forecast_{lead_h}h_f"]:
            at = datetime.fromisoformat(row["date"]).replace(hour=12, tzinfo=UTC)
            forecast_c, observed_c = (
                (float(row[name]) - 32.0) / 1.8 for name in (f"forecast_{lead_h}h_f", "observed_f")
            )
            pairs.append(_pair(at, CLOUD[row["sky"]], 2.5, forecast_c, observed_c, lead_h))
    return pairs


def made(nights: int, seed: int, begins: datetime, size: float = 1.0) -> list[Pair]:
    """Return a forecast that is 2 K too warm in clear calm nights, 1 K more in winter and 1 K less
    in summer (times ``size``), erring by 1.3 K beside."""
    rng = np.random.default_rng(seed)
    pairs = []
    for night in range(nights):
        at = begins + timedelta(days=night)
        cloud, wind_ms = rng.uniform(0, 1), rng.uniform(0.5, 6.0)
        plain = _pair(at, cloud, wind_ms, 0.0, 0.0, 24)
        bias_k = size * (2.0 * plain.features[5] + plain.features[1])
        error_k = bias_k + rng.normal(0.0, 1.3)
        truth_c = rng.normal(2.0, 4.0)
        pairs.append(_pair(at, cloud, wind_ms, truth_c + error_k, truth_c, 24))
    return pairs


def _pair(
    at: datetime, cloud: float, wind_ms: float, forecast_c: float, observed_c: float, lead_h: float
) -> Pair:
    times = np.array([int(at.timestamp())])
    row = features(
        times, np.array([True]), ST_LOUIS_LONGITUDE, np.array([cloud]), np.array([wind_ms])
    )
    return Pair(int(times[0]), None, row[0], forecast_c, observed_c, lead_h * 3600.0)


def scores(pairs: Sequence[Pair], warm_up: int = WARM_UP) -> Array:
    """Return (night, 4), after ``warm_up`` nights: CRPS, K, as forecast and as corrected, then
    the same as ensembles of twenty."""
    learned, rows, waiting = Learned(), [], list[Pair]()
    for number, pair in enumerate(pairs):
        while waiting and waiting[0].at_s <= pair.at_s - KNOWN_AFTER_NIGHTS * DAY_S:
            learned = learn(learned, waiting.pop(0))
        if number >= warm_up:
            rows.append(_scored(learned, pair))
        waiting.append(pair)
    return np.array(rows)


def _scored(learned: Learned, pair: Pair) -> tuple[float, float, float, float]:
    before_k = float(prior_spread_k(np.array(pair.lead_s)))
    after_k = float(learned.spread_k(np.array(pair.lead_s)))
    corrected_c = pair.forecast_c + float(learned.shift_k(pair.features[None])[0])
    biased, members = pair.forecast_c + before_k * TWENTY, corrected_c + after_k * TWENTY
    return (
        normal_crps(pair.forecast_c, before_k, pair.observed_c),
        normal_crps(corrected_c, after_k, pair.observed_c),
        ensemble_crps(biased, pair.observed_c),
        ensemble_crps(members, pair.observed_c),
    )


_HALF = np.array([0.0627, 0.1891, 0.3186, 0.4538, 0.5978, 0.7554, 0.9346, 1.1503, 1.4395, 1.9600])
TWENTY = np.concatenate([-_HALF[::-1], _HALF])  # normal quantiles of 0.025, 0.075 …


def main() -> None:
    """Print what was gained."""
    print(f"{'series':50} nights before  after   gained, K         of 20: before after")
    begins = datetime(2024, 10, 15, 6, tzinfo=UTC)
    series = {f"St Louis 2021, minimum, {h} h": st_louis(h) for h in (24, 48)}
    series |= {f"made, seed {n}, a year": made(365, n, begins) for n in range(3)}
    series |= {f"made without a bias, seed {n}": made(365, n, begins, 0.0) for n in range(3)}
    for name, pairs in series.items():
        for label, part in (("", slice(None)), ("  first 40 of them", slice(0, 40))):
            before, after, biased, members = scores(pairs)[part].T
            gained = before - after
            error = gained.std() / np.sqrt(len(gained))
            print(
                f"{name + label:50} {len(gained):4}   {before.mean():.3f}   {after.mean():.3f}"
                f"   {gained.mean():+.3f} ± {error:.3f}"
                f"   {biased.mean():.3f}   {members.mean():.3f}"
            )


if __name__ == "__main__":
    main()
