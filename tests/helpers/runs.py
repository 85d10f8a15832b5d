"""A forecast as a living service has it: every six hours a new run that says a little else."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

import numpy as np

from underbench.rules.weather.hourly import HOUR_S, Weather

RUN_S = 6 * HOUR_S
FAR_S = 18 * HOUR_S  # what lies nearer, and has been, is the same in every run
APART_K = 0.001  # the last digit that the stand-in writes
RUNS = 7


def run_of(weather: Weather, now: datetime) -> Weather:
    """The weather as the run of ``now`` foresees it: the hours far ahead differ from run to run."""
    number = int(now.timestamp()) // RUN_S
    far = weather.times > number * RUN_S + FAR_S
    return replace(weather, air_c=weather.air_c + np.where(far, APART_K * (number % RUNS), 0.0))
