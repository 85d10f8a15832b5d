"""What one thermometer taught of the forecast's errors, and whether it can be believed.

A night's lowest air less the forecast is a ridge regression, for each lead of its own. Its parts
are the level, two harmonics of the year, a slope on the forecast and the slope's season, a clear
calm night, and by how much the middle of the ensemble departs from the central run (its coefficient
is the weight of that middle). This is the mean of "ensemble model output statistics" (Gneiting et
al. 2005, Monthly Weather Review 133) learned online; harmonics and slope by season as in Dabernig
et al. 2017 (Quarterly Journal of the Royal Meteorological Society 143); both from memory.

A thermometer that walks away cannot be told from a forecast that does, except by time. So what it
taught is kept in blocks of nights. The oldest block is the slow estimate: what was known before
the last month or two. All blocks are the quick one. The quick one may depart little from the slow
one. When the last nights lie farther from the slow one than weather models err, the later blocks
are dropped, and no more is learned until the thermometer is back (an exponentially weighted moving
average as a control chart: Roberts 1959, Technometrics 1, from memory).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from underbench.rules.weather.hourly import HOUR_S, Array
from underbench.rules.weather.ridge import Sums, nothing
from underbench.rules.weather.spread import AIR_SPREAD_K
from underbench.rules.weather.sun import day_of_year

DAY_S = 24 * HOUR_S
LEADS_H = (24, 48, 72)
# Standard deviation of each part before anything is known, K; judgement. A slope is for 10 K.
NIGHT_PRIOR_K = {
    "always": 1.5,
    "season": 0.7,
    "season, a quarter later": 0.7,
    "half year": 0.2,
    "half year, later": 0.2,
    "slope": 1.5,
    "slope by season": 0.3,
    "slope by season, later": 0.3,
    "clear calm night": 1.0,
    "middle of the ensemble": 0.5,
}
DAY_PRIOR_K = {"always": 0.7, "season": 0.7, "season, a quarter later": 0.7}
APART_PRIOR_K = {"always": 0.7, "night": 0.5, "clear calm night": 1.0}
_NIGHT, _DAY, _APART = (
    np.array([*prior.values()]) for prior in (NIGHT_PRIOR_K, DAY_PRIOR_K, APART_PRIOR_K)
)
_PRIORS = (*(_NIGHT,) * len(LEADS_H), _DAY, _APART)
DAY, APART = len(LEADS_H), len(LEADS_H) + 1  # numbers of the sums in a block; a lead's is its own
_SLOPE = [*NIGHT_PRIOR_K].index("slope")
_SLOPE_FROM_C, _SLOPE_K, _SLOPE_MOST = 5.0, 10.0, 4.0

FAR = 2.0  # standard deviations; beyond, a reading pulls the less the farther it is off
HALF_LIFE_DAYS = 400.0  # a night counts half after that; several seasons tell; see bench/learning
ABSENT_DAYS, ABSENT_HALF_LIFE_DAYS = 30.0, 90.0  # one not heard of so long teaches less and less
ERROR_HALF_LIFE_NIGHTS = 200.0
PRIOR_NIGHTS = 15.0  # the prior spread counts for so many nights; judgement

BLOCK_NIGHTS, BLOCKS = 30.0, 3
QUICK_WARM_K, QUICK_COLD_K = 0.25, 2.0  # how far the quick estimate may lead the slow one
FREE_WARM_K, FREE_COLD_K = 0.5, 4.0  # how far a night is called milder or colder without proof
# With proof a night is called milder by what the slow estimate is sure of, less the doubt whether
# the site is what it seems. Believed nights of a year wear it away.
SITE_DOUBT_K, SITE_DOUBT_NIGHTS = 2.0, 365.0
WARM_NIGHTS = 60.0  # before so many, only a share: few nights prove little of a great departure
FOLLOWS_FROM, VARIED_K = 0.4, 2.0  # and where nights measured follow those forecast
DAY_WARM_K = 2.0
MOST_K = 20.0

# The guard's average, and how far from the slow estimate it may lie: K, and in usual errors. With
# these no honest record of bench/learning is held, and walks and steps of bench/sensor_faults are.
RECENT = 1.0 / 15.0
WALK_K, WALK_SHARE = 1.5, 1.5
APART_K = 0.8  # beside neighbours, whose forecast errs alike
BACK = 0.6  # of that limit, within which one that was held is believed again
BACK_SOON_NIGHTS = 60.0  # then it has lost nothing
HELD_HALF_LIFE_NIGHTS, HELD_MOST_NIGHTS = 365.0, 730.0


class Hours(NamedTuple):
    """What an hour's correction follows from; each (hour,). ``centre_k`` is by how much the middle
    of the ensemble departs from the central run, 0 without one."""

    times: NDArray[np.int64]
    air_c: Array
    clear_calm: Array
    centre_k: Array

    @property
    def night_rows(self) -> Array:
        """The parts of a night's correction, (hour, part) in the order of `NIGHT_PRIOR_K`."""
        year = _year(self.times)
        cos, sin, one = np.cos(year), np.sin(year), np.ones(len(year))
        off = np.clip((self.air_c - _SLOPE_FROM_C) / _SLOPE_K, -_SLOPE_MOST, _SLOPE_MOST)
        half = [np.cos(2 * year), np.sin(2 * year)]
        slopes = [off, off * cos, off * sin]
        return np.column_stack([one, cos, sin, *half, *slopes, self.clear_calm, self.centre_k])

    @property
    def day_rows(self) -> Array:
        """The parts of a daylight hour's correction, (hour, part)."""
        year = _year(self.times)
        return np.column_stack([np.ones(len(year)), np.cos(year), np.sin(year)])


def _year(times: NDArray[np.int64]) -> Array:
    """The season as an angle: 0 in mid-January, pi in mid-July."""
    return np.asarray(2.0 * np.pi * (day_of_year(times) - 15.0) / 365.25)


def prior_spread_k(lead_s: Array) -> Array:
    """Return the spread assumed without a record, K, so long ahead: as members are dressed."""
    days = np.maximum(np.asarray(lead_s, dtype=float), 0.0) / DAY_S
    return np.asarray(AIR_SPREAD_K[0] + AIR_SPREAD_K[1] * np.sqrt(days))


_NOISE_K = prior_spread_k(np.array([*LEADS_H, 0, 0]) * float(HOUR_S))


@dataclass(frozen=True, slots=True)
class Block:
    """What so many nights taught: sums for each lead's nights, daylight hours, and neighbours."""

    sums: tuple[Sums, ...] = tuple(nothing(len(prior)) for prior in _PRIORS)
    nights: float = 0.0

    def seen(self, which: int, row: Array, change_k: float, weight: float) -> Block:
        """Return the block with a case more in the sums numbered ``which``."""
        sums = list(self.sums)
        sums[which] = sums[which].seen(row, change_k, weight, float(_NOISE_K[which]))
        return replace(self, sums=tuple(sums))

    def faded(self, share: float) -> Block:
        """Return the block as if each case counted ``share`` as much."""
        return replace(self, sums=tuple(one.faded(share) for one in self.sums))

    def __add__(self, other: Block) -> Block:
        sums = tuple(a + b for a, b in zip(self.sums, other.sums, strict=True))
        return Block(sums, self.nights + other.nights)

    def coefficients(self, which: int) -> Array:
        """Return the parts of the sums numbered ``which``, K."""
        return self.sums[which].coefficients(_PRIORS[which])

    @property
    def follows(self) -> float:
        """By how much the nights measured go up with those forecast, K/K. A thermometer in the
        open follows with about 1, one in a house with 0. 0 before the forecast has varied."""
        sums = max(self.sums[: len(LEADS_H)], key=lambda one: float(one.xx[0, 0]))
        count, (mean, change) = sums.xx[0, 0], (sums.xx[0, _SLOPE], sums.xy[0])
        varied = sums.xx[_SLOPE, _SLOPE] - mean**2 / count if count else 0.0
        if not count or varied < (VARIED_K / _SLOPE_K) ** 2 * count:
            return 0.0
        return 1.0 + float(sums.xy[_SLOPE] - mean * change / count) / float(varied) / _SLOPE_K

    def night_k(self, rows: Array, lead_h: Array) -> Array:
        """Return the correction (hour,) of ``rows`` (hour, part) so many hours ahead."""
        return _by_lead(lead_h, lambda lead: rows @ self.coefficients(lead))

    def doubt_k(self, rows: Array, lead_h: Array) -> Array:
        """Return the standard deviation (hour,) of `night_k`."""
        return _by_lead(lead_h, lambda lead: self.sums[lead].doubt(_NIGHT, rows))


def _by_lead(lead_h: Array, of_lead: Callable[[int], Array]) -> Array:
    """Values (hour,) between those of the leads before and after; beyond the ends the end's."""
    place = np.interp(lead_h, LEADS_H, np.arange(len(LEADS_H)))
    shares = {n: np.maximum(1.0 - np.abs(place - n), 0.0) for n in range(len(LEADS_H))}
    return np.asarray(sum(share * of_lead(n) for n, share in shares.items() if share.any()))


def error_share(errors: Array) -> float:
    """Return the errors a day ahead over those assumed without a record; ``errors`` as in
    `Thermometer`."""
    squares, _, count = errors[0]
    return float(np.sqrt((PRIOR_NIGHTS + squares / _NOISE_K[0] ** 2) / (PRIOR_NIGHTS + count)))


_NO_ERRORS = np.zeros((len(LEADS_H), 3))


@dataclass(frozen=True, slots=True)
class Thermometer:
    """What is known by one thermometer.

    ``blocks`` are oldest first; the last one is being filled. ``errors`` (lead, 3) are sums of
    squared errors of the corrected nights, of the ensemble's variance in them, both K², and their
    count. ``nights`` are those it was believed; one that was long in doubt begins a year below 0.
    By how much its last nights lie above the slow estimate is ``recent_k``, above the slow
    estimate's plain mean ``level_k``, and above its neighbours ``apart_k``. ``held`` is for how
    many nights it has not been believed.
    """

    blocks: tuple[Block, ...] = (Block(),)
    errors: Array = field(default_factory=_NO_ERRORS.copy)
    nights: float = 0.0
    recent_k: float = 0.0
    level_k: float = 0.0
    apart_k: float = 0.0
    held: float = 0.0
    last_s: int = 0

    @property
    def known(self) -> Block:
        """All that was learned: the quick estimate."""
        total = self.blocks[0]
        for block in self.blocks[1:]:
            total = total + block
        return total

    @property
    def proven(self) -> Block:
        """What was known before the last month or two: the slow estimate."""
        return self.blocks[0] if len(self.blocks) > 1 else Block()

    @property
    def free_warm_k(self) -> float:
        """By how much it may call an hour milder without proof."""
        return 0.0 if self.held or self.nights < 0 else FREE_WARM_K

    @property
    def error_share(self) -> float:
        """The errors a day ahead over those assumed without a record."""
        return error_share(self.errors)

    def night_k(self, hours: Hours, lead_h: Array) -> Array:
        """Return what to add to the forecast air of dark hours, (hour,)."""
        rows = hours.night_rows
        slow = self.proven.night_k(rows, lead_h)
        quick = self.known.night_k(rows, lead_h)
        young = 1.0 if self.held else min(1.0, max(0.0, 1.0 - self.nights / SITE_DOUBT_NIGHTS))
        unsure = young * self.proven.doubt_k(rows, lead_h)
        share = min(1.0, self.nights / WARM_NIGHTS)
        sure = (slow - unsure - SITE_DOUBT_K * young) * share
        earned = self.nights >= 0 and self.proven.follows > FOLLOWS_FROM
        warmest = np.maximum(self.free_warm_k, sure if earned else 0.0)
        coldest = np.minimum(-FREE_COLD_K, slow + unsure) if self.nights >= 0 else -FREE_WARM_K
        near = np.clip(quick, slow - QUICK_COLD_K, slow + QUICK_WARM_K)
        allowed = np.clip(near, np.maximum(coldest, -MOST_K), np.minimum(warmest, MOST_K))
        return np.asarray(allowed * 0.5 ** (self.held / HELD_HALF_LIFE_NIGHTS))

    def day_k(self, hours: Hours, lead_h: Array) -> Array:
        """Return what to add to the forecast air of daylight hours, (hour,)."""
        weight = np.array([self.known.coefficients(n)[-1] for n in range(len(LEADS_H))])
        middle = np.interp(lead_h, LEADS_H, np.clip(weight, 0.0, 1.0)) * hours.centre_k
        level = hours.day_rows @ self.known.coefficients(DAY)
        doubted = self.held or self.nights < 0
        level = np.clip(level, -FREE_COLD_K, 0.0 if doubted else DAY_WARM_K)
        return np.asarray(level + middle)

    def left_k(self, hours: Hours, lead: int, change_k: float) -> tuple[float, float]:
        """Return by how much a night lies above the slow estimate, and above its plain mean, K;
        ``change_k`` is its lowest air less the forecast, ``lead`` the number of its lead."""
        sums = self.proven.sums[lead]
        slow_k = float(hours.night_rows[0] @ self.proven.coefficients(lead))
        mean_k = float(sums.xy[0] / sums.xx[0, 0]) if sums.xx[0, 0] else 0.0
        return change_k - slow_k, change_k - mean_k

    def absorbed(self, which: int, row: Array, change_k: float) -> Thermometer:
        """Return it with a case more; a wild one pulls little."""
        usual = float(_NOISE_K[which]) * max(self.error_share, 1.0)
        quick = sum((block.sums[which] for block in self.blocks[1:]), self.blocks[0].sums[which])
        off = abs(change_k - float(row @ quick.coefficients(_PRIORS[which]))) / usual
        pull = min(1.0, (FAR / max(off, FAR)) ** 2)
        last = self.blocks[-1].seen(which, row, change_k, pull)
        return replace(self, blocks=(*self.blocks[:-1], last))

    def erred(self, lead: int, error_k: float, variance_k2: float) -> Thermometer:
        """Return it with one more error of a corrected night counted."""
        most = (4.0 * self.error_share * float(_NOISE_K[lead])) ** 2
        errors = self.errors.copy()
        errors[lead] *= 0.5 ** (1.0 / ERROR_HALF_LIFE_NIGHTS)
        errors[lead] += (min(error_k**2, most), min(variance_k2, most), 1.0)
        return replace(self, errors=errors)

    def night_over(self) -> Thermometer:
        """Return it with one more night learned; a full block begins the next, and the two oldest
        of too many become one."""
        last = replace(self.blocks[-1], nights=self.blocks[-1].nights + 1.0)
        blocks = (*self.blocks[:-1], last)
        if last.nights >= BLOCK_NIGHTS:
            blocks = (*blocks, Block())
        if len(blocks) > BLOCKS:
            blocks = (blocks[0] + blocks[1], *blocks[2:])
        return replace(self, blocks=blocks, nights=self.nights + 1.0)

    def watched(self, left_k: float, level_k: float, apart_k: float) -> Thermometer:
        """Return it with one more night watched: let go of after a walk or a step, or taken back.

        ``left_k`` is as `left_k` has it; ``apart_k`` is how much more that is than of the
        neighbours, NaN without any.
        """
        if len(self.blocks) == 1:
            return self  # there is no slow estimate yet
        usual = float(_NOISE_K[0]) * self.error_share
        recent = _averaged(self.recent_k, left_k, usual)
        apart = self.apart_k if np.isnan(apart_k) else _averaged(self.apart_k, apart_k, 1.0)
        level = _averaged(self.level_k, level_k, usual)
        least = max if self.held else min
        walked = least(abs(recent), abs(level)) / max(WALK_K, WALK_SHARE * usual)
        far = max(walked, abs(apart) / APART_K)
        seen = replace(self, recent_k=recent, level_k=level, apart_k=apart)
        if self.held:
            return seen._held_on(far)
        if far > 1.0:
            return replace(seen, blocks=(self.blocks[0], Block()), held=1.0)
        return seen

    def _held_on(self, far: float) -> Thermometer:
        """One night more in doubt: back where it was, or unknown after two years."""
        if far < BACK:
            soon = self.held <= BACK_SOON_NIGHTS
            return replace(self, held=0.0, nights=self.nights if soon else -SITE_DOUBT_NIGHTS)
        if self.held >= HELD_MOST_NIGHTS:
            return Thermometer(nights=-SITE_DOUBT_NIGHTS, last_s=self.last_s)
        return replace(self, held=self.held + 1.0)

    def faded(self, at_s: int) -> Thermometer:
        """Return what it still tells at ``at_s``, without hearing more of it."""
        if not self.last_s:
            return replace(self, last_s=at_s)
        days = max(0, at_s - self.last_s) / DAY_S
        absent = max(0.0, days - ABSENT_DAYS)
        share = 0.5 ** (days / HALF_LIFE_DAYS + absent / ABSENT_HALF_LIFE_DAYS)
        blocks = tuple(block.faded(share) for block in self.blocks)
        return replace(self, blocks=blocks, last_s=max(at_s, self.last_s))


def _averaged(mean_k: float, new_k: float, usual_k: float) -> float:
    """The moving average with one night more; one far off counts as three usual errors."""
    return mean_k + RECENT * (float(np.clip(new_k, -3.0 * usual_k, 3.0 * usual_k)) - mean_k)
