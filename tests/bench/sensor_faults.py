"""What a thermometer that misleads does: tables of drift, step and exchange.

    python tests/bench/sensor_faults.py [FOLDER]

Made series are those of `learning`, with seeds that nothing was fitted to; FOLDER adds open ones
(see there), cut to four years. Frosts are those of the true air. Each row is one fault: caught,
false and held over nights 60 to 365, then over the three years that follow.
"""

from __future__ import annotations

import sys
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import numpy as np
from learning import Scores, Series, as_forecast, corrected, ensembles, made, score

from underbench.rules.weather.hourly import Array

NIGHTS, YEAR = 1460, 365
WALK_K, STEP_K, STEP_AT = 0.02, 2.5, 150
SEEDS = (21, 22, 23)
OPEN = ("Magdeburg, 24 h", "ListSylt, 24 h")
Fault = Callable[[Array], Array]

# What is added to the truth in each night.
DRIFT: dict[str, Fault] = {
    "none": np.zeros_like,
    "0.02 K a night, warm": lambda night: WALK_K * night,
    "0.02 K a night, cold": lambda night: -WALK_K * night,
    "warm from the third year": lambda night: WALK_K * np.maximum(night - 2 * YEAR, 0),
}
STEP: dict[str, Fault] = {
    "to a house wall": lambda night: STEP_K * (night >= STEP_AT),
    "to a house wall, third year": lambda night: STEP_K * (night >= 2 * YEAR),
    "into a hollow": lambda night: -STEP_K * (night >= STEP_AT),
}
EXCHANGE: dict[str, Fault] = {
    "after a warm drift": lambda night: WALK_K * night * (night < YEAR),
    "after a cold drift": lambda night: -WALK_K * night * (night < YEAR),
}


def tables(series: dict[str, list[Series]]) -> None:
    """Print the three tables."""
    print(f"{'':44}  60-365: caught false held   then: caught false held")
    for title, faults, tolds in (
        ("drift", DRIFT, (None,)),
        ("step", STEP, (None,)),
        ("exchange", EXCHANGE, (None, YEAR)),
    ):
        for group, of_group in series.items():
            for fault, add in faults.items():
                for told_at in tolds:
                    name = f"{title} {fault}{', told' if told_at else ''}"
                    print(f"{group:6} {name:36}  {_line(of_group, add, told_at)}")


def _line(series: list[Series], add: Fault, told_at: int | None) -> str:
    found = [_faulty(one, add, told_at) for one in series]
    return "           ".join(
        "  ".join(f"{np.mean([getattr(two[part], name) for two in found]):.2f}" for name in _SHOWN)
        for part in (0, 1)
    )


_SHOWN = ("caught", "false", "held")


def _faulty(series: Series, add: Fault, told_at: int | None) -> tuple[Scores, Scores]:
    night = np.arange(len(series.at_s))
    foreseen = corrected(series, series.observed_c + add(night.astype(float)), told_at)
    first = (night >= 60) & (night < YEAR)
    return score(series, foreseen, first), score(series, foreseen, night >= YEAR)


def _cut(series: Series) -> Series:
    """Four years of a long series, from its first summer."""
    start, end = 200, 200 + NIGHTS
    return Series(series.lead_h, *(column[start:end] for column in series[1:]))


def main() -> None:
    """Print the tables, and what the forecast alone would catch."""
    begins = datetime(2024, 10, 15, 6, tzinfo=UTC)
    series = {"made": [made(NIGHTS, seed, begins) for seed in SEEDS]}
    if len(sys.argv) > 1:
        found = dict(ensembles(Path(sys.argv[1])))
        series |= {"open": [_cut(found[name]) for name in OPEN]}
    tables(series)
    for group, of_group in series.items():
        plain = [score(one, as_forecast(one, one.observed_c), one.at_s > 0) for one in of_group]
        caught, false = (np.mean([getattr(one, name) for one in plain]) for name in _SHOWN[:2])
        print(f"{group:6} as forecast, all nights: caught {caught:.2f}, false {false:.2f}")


if __name__ == "__main__":
    main()
