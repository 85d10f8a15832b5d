"""Protect: frost on leaves, buds and roots, cold on tropicals, gales, dry wind, frozen drying."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import numpy as np

from underbench.rules.hazards.findings import Action, Hazard, Judged, Mask, thresholds
from underbench.rules.limits.bearing import PRACTICE, Bearing
from underbench.rules.limits.limit import Limit, MeasuredOn
from underbench.rules.physics.exposure import Exposure
from underbench.rules.weather.hourly import Array
from underbench.rules.weather.spread import Site

EARLY_SUN_WM2 = 120.0  # what the WMO counts as sunshine (on the beam; here on the level)
# Sun or wind that takes water from needles which frozen roots cannot replace; common practice.
DRYING_SUN_WM2 = 200.0
DRYING_WIND_MS = 3.0
SUMMER_NIGHT_K = 4.0  # tropicals are left out through nights of 8 to 10 °C; common practice


def judge(
    exposure: Exposure,
    bearings: Sequence[Bearing],
    site: Site,
    hazards: frozenset[Hazard],
) -> list[Judged]:
    """Judge what a night brings to all trees; arrays (tree, member, hour) of one span.

    Of ``hazards`` those that come by night, in the order of ``NIGHTLY``.
    """
    return [judging(exposure, bearings, site) for of, judging in _JUDGES.items() if of in hazards]


def _frost(exposure: Exposure, bearings: Sequence[Bearing], site: Site) -> Judged:
    """Judge tops on what each limit is measured on: their tissue, or the air where rated in air."""
    limits = [b.frost for b in bearings]
    on_air = [limit is not None and limit.measured_on is MeasuredOn.AIR for limit in limits]
    felt_c = np.where(np.array(on_air)[:, None, None], exposure.air_c, exposure.leaf_c)
    judged = _cold(Hazard.LEAF_FROST, felt_c, limits, site)
    return replace(judged, thaw=_thaw(exposure, judged.harm))


def _moving_sap(exposure: Exposure, bearings: Sequence[Bearing], site: Site) -> Judged:
    return _cold(Hazard.MOVING_SAP, exposure.leaf_c, [b.sap for b in bearings], site)


def _root_frost(exposure: Exposure, bearings: Sequence[Bearing], site: Site) -> Judged:
    return _cold(Hazard.ROOT_FROST, exposure.shell_c, [b.roots for b in bearings], site)


def _cold_air(exposure: Exposure, bearings: Sequence[Bearing], site: Site) -> Judged:
    return _cold(Hazard.COLD_AIR, exposure.air_c, [b.air for b in bearings], site)


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


def _thaw(exposure: Exposure, harm: Mask) -> Mask:
    """Where, after ``harm``, the sun falls on leaves that were frozen until that hour."""
    frozen = np.zeros_like(harm)
    frozen[..., 1:] = exposure.leaf_c[..., :-1] <= 0.0
    since = np.logical_or.accumulate(harm, axis=-1)
    return np.asarray(since & frozen & (exposure.sun_wm2 >= EARLY_SUN_WM2))


def _cold(hazard: Hazard, value: Array, limits: Sequence[Limit | None], site: Site) -> Judged:
    harm, kill = thresholds(limits)
    # What is not known of a limit is told in the value: the two never contradict each other.
    value = value - site.limit_shift_k[None, :, None]
    return Judged(
        hazard,
        Action.PROTECT,
        value,
        harm=value < harm,
        kill=value < kill,
        limits=limits,
        low=True,
    )


def _gale(exposure: Exposure, bearings: Sequence[Bearing], _site: Site) -> Judged:
    limits = [b.gust for b in bearings]
    harm, kill = thresholds(limits)
    gust = exposure.gust_ms
    return Judged(Hazard.GALE, Action.PROTECT, gust, gust >= harm, gust >= kill, limits, low=False)


def _dry_wind(exposure: Exposure, bearings: Sequence[Bearing], _site: Site) -> Judged:
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


def _frozen_drying(exposure: Exposure, bearings: Sequence[Bearing], _site: Site) -> Judged:
    """Judge evergreens frozen for two days and more that sun or wind still draws water from."""
    limits = [b.frozen for b in bearings]
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


_JUDGES: dict[Hazard, Callable[[Exposure, Sequence[Bearing], Site], Judged]] = {
    Hazard.LEAF_FROST: _frost,
    Hazard.MOVING_SAP: _moving_sap,
    Hazard.ROOT_FROST: _root_frost,
    Hazard.COLD_AIR: _cold_air,
    Hazard.GALE: _gale,
    Hazard.DRY_WIND: _dry_wind,
    Hazard.FROZEN_DRYING: _frozen_drying,
}
NIGHTLY = frozenset(_JUDGES)
