"""Protect: frost on leaves, buds and roots, cold on tropicals, gales, dry wind, frozen drying."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from underbench.rules.exposure import Exposure
from underbench.rules.findings import Action, Hazard, Judged, thresholds
from underbench.rules.limits import PRACTICE, Bearing, Limit
from underbench.rules.members import Site
from underbench.rules.weather import Array

# Sun or wind that takes water from needles which frozen roots cannot replace; common practice.
DRYING_SUN_WM2 = 200.0
DRYING_WIND_MS = 3.0
SUMMER_NIGHT_K = 4.0  # tropicals are left out through nights of 8 to 10 °C; common practice


def judge(exposure: Exposure, bearings: Sequence[Bearing], site: Site) -> list[Judged]:
    """Judge what a night brings to all trees; arrays (tree, member, hour) of one span."""
    return [
        _cold(Hazard.LEAF_FROST, exposure.leaf_c, [b.frost for b in bearings], site),
        _cold(Hazard.ROOT_FROST, exposure.shell_c, [b.roots for b in bearings], site),
        _gale(exposure, [b.gust for b in bearings]),
        _dry_wind(exposure, bearings),
        _frozen_drying(exposure, [b.frozen for b in bearings]),
    ]


def judge_chill(exposure: Exposure, bearings: Sequence[Bearing], site: Site) -> list[Judged]:
    """Judge the cold season of tropicals, on the air where they stand."""
    return [_cold(Hazard.CHILL, exposure.air_c, [b.chill for b in bearings], site)]


def judge_cool_night(exposure: Exposure, bearings: Sequence[Bearing], site: Site) -> list[Judged]:
    """Judge a cool night of the warm season on tropicals left out: they recover by day."""
    limits = [
        limit and limit.then("a night in summer", limit.harm - SUMMER_NIGHT_K, limit.kill, PRACTICE)
        for limit in (b.chill for b in bearings)
    ]
    return [_cold(Hazard.CHILL, exposure.air_c, limits, site)]


def _cold(hazard: Hazard, value: Array, limits: Sequence[Limit | None], site: Site) -> Judged:
    harm, kill = thresholds(limits)
    shift = site.limit_shift_k[None, :, None]
    return Judged(
        hazard,
        Action.PROTECT,
        value,
        harm=value < harm + shift,
        kill=value < kill + shift,
        limits=limits,
        low=True,
    )


def _gale(exposure: Exposure, limits: Sequence[Limit | None]) -> Judged:
    harm, kill = thresholds(limits)
    gust = exposure.gust_ms
    return Judged(Hazard.GALE, Action.PROTECT, gust, gust >= harm, gust >= kill, limits, low=False)


def _dry_wind(exposure: Exposure, bearings: Sequence[Bearing]) -> Judged:
    limits = [b.dry_wind for b in bearings]
    harm, kill = thresholds(limits)
    dry = exposure.vpd_kpa >= np.array([b.dry_vpd_kpa for b in bearings])[:, None, None]
    gust = exposure.gust_ms
    return Judged(
        Hazard.DRY_WIND,
        Action.PROTECT,
        gust,
        harm=dry & (gust >= harm),
        kill=dry & (gust >= kill),
        limits=limits,
        low=False,
    )


def _frozen_drying(exposure: Exposure, limits: Sequence[Limit | None]) -> Judged:
    """Judge evergreens frozen for two days and more that sun or wind still draws water from."""
    harm, kill = thresholds(limits)
    drawn = (exposure.sun_wm2 > DRYING_SUN_WM2) | (exposure.wind_ms > DRYING_WIND_MS)
    hours = exposure.frozen_h
    return Judged(
        Hazard.FROZEN_DRYING,
        Action.PROTECT,
        hours,
        harm=(hours >= harm) & drawn,
        kill=(hours >= kill) & drawn,
        limits=limits,
        low=False,
    )
