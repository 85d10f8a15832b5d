"""The trees of a garden in their winter: where each stands, and what there is to do with it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

import numpy as np

from underbench.daemon.outlook.outlook import Outlook, keeps_in
from underbench.daemon.outlook.past_years import usual_of
from underbench.daemon.store.store import Store
from underbench.rules.garden.inventory import ContainerKind
from underbench.rules.garden.journal import Move, TreeAt
from underbench.rules.garden.local_time import local_day
from underbench.rules.hazards.darkness import DARK_KINDS
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.limits.condition import Condition
from underbench.rules.planning.misgivings import northern_month
from underbench.rules.planning.winter import (
    DECIDUOUS,
    HARDENING_OFF_DAYS,
    UNDER_COVER,
    Cold,
    Doing,
    Wintering,
    air_chill,
    cold_nights,
    doing,
    near_c,
    nights_under,
    open_by_day,
    out_c,
    winter_of,
)
from underbench.rules.plants.species import Kind

DAY = timedelta(days=1)
BY_FORECAST, BY_YEARS = "forecast", "years"


@dataclass(frozen=True, slots=True)
class Winter:
    """One tree, what there is to do with it, and what that rests on; ``spot`` where it stands,
    ``opens`` whether that is glass to be opened by day; ``out_from``: when it was told to come out,
    from which it is hardened off (today where it was not told lately)."""

    tree: str
    spot: str
    doing: Doing
    facts: Wintering
    cold: Cold
    opens: bool
    out_from: date


def winters(outlook: Outlook, store: Store) -> list[Winter]:
    """Return the living trees in their winter, the most pressing first. Raises StoreError."""
    return sorted(_winters(outlook, store), key=lambda one: list(Doing).index(one.doing))


def today_of(outlook: Outlook) -> date:
    """Return the local day it is."""
    return local_day(outlook.now, outlook.settings.garden.timezone)


def _winters(outlook: Outlook, store: Store) -> Iterator[Winter]:
    garden, today = outlook.settings.garden, today_of(outlook)
    usual, month = usual_of(store, garden), northern_month(today, garden.latitude)
    shared = _Shared(_lows(outlook), air_chill(usual, today))
    found: dict[float, Cold] = {}
    conditions = next(iter(outlook.course.conditions.values()))
    for row, standing in enumerate(outlook.standing):
        if standing.lost:
            continue
        facts = _facts(outlook, store, row, conditions[row], shared)
        if facts.near_c not in found:
            found[facts.near_c] = cold_nights(usual, facts.near_c, today)
        cold = found[facts.near_c]
        ten_days_c, high_c = float(outlook.state.ten_days_c[row]), _high(outlook, row)
        opens = open_by_day(facts, month, ten_days_c, high_c)
        what, name = doing(facts, cold, today, garden.latitude), standing.tree.name
        out_from = _out_from(outlook, store, name)
        yield Winter(name, standing.spot, what, facts, cold, opens, out_from)


class _Shared(NamedTuple):
    """What is the same for all trees: the coming days with their lowest air, and the chill the open
    air had this winter."""

    lows: Sequence[tuple[date, float]]
    air_chill: float | None


def _out_from(outlook: Outlook, store: Store, tree: str) -> date:
    said = store.last_done(winter_duty(Doing.COME_OUT, tree, outlook))
    lately = said is not None and timedelta(0) <= outlook.now - said < HARDENING_OFF_DAYS * DAY
    return local_day(said if said and lately else outlook.now, outlook.settings.garden.timezone)


def _facts(
    outlook: Outlook,
    store: Store,
    row: int,
    condition: Condition,
    shared: _Shared,
) -> Wintering:
    standing, spots = outlook.standing[row], outlook.settings.spots
    name = standing.tree.name
    species = outlook.setting.species[name]
    covered = {spot.name for spot in spots.values() if spot.kind in UNDER_COVER}
    begins = winter_of(today_of(outlook), outlook.settings.garden.latitude)
    moves = [e for e in outlook.journal if isinstance(e, Move) and e.tree == name]
    nights, stay = nights_under(
        moves, standing.tree.spot, covered, begins, outlook.now.astimezone(UTC).date()
    )
    kind = spots[standing.spot].kind
    limit_c = (out_c if kind in UNDER_COVER else near_c)(species, condition)
    return Wintering(
        near_c=limit_c,
        kind=kind,
        belongs_under=standing.tree.spot in covered,
        shelter=_fits(outlook, standing, species.limits.kind),
        nights=nights,
        stay_nights=stay,
        rests=species.limits.leaf_out is not None,
        chill_days=None if shared.air_chill is None else float(outlook.state.chill_days[row]),
        air_chill=shared.air_chill,
        stage=condition.stage,
        in_leaf=condition.in_leaf,
        threatened=_threatened(name, *outlook.findings, *outlook.at_home),
        too_cold=_threatened(name, *outlook.findings),
        near_on=next((day for day, low_c in shared.lows if low_c <= limit_c), None),
        kind_of_plant=species.limits.kind,
        cover_told=any(
            store.last_done(winter_duty(Doing.COVER_ON, name, outlook, asked_by))
            for asked_by in (BY_FORECAST, BY_YEARS)
        ),
    )


def _fits(outlook: Outlook, standing: TreeAt, kind: Kind) -> bool:
    """Whether there is a place under cover that takes it, were it empty: a light one for what keeps
    its leaves, and for a tropical always the house."""
    container = standing.tree.container
    if kind is Kind.TROPICAL:
        return True
    return container.kind is not ContainerKind.BED and any(
        spot.kind in UNDER_COVER
        and (kind in DECIDUOUS or spot.kind not in DARK_KINDS)
        and spot.room
        and (spot.max_litres is None or container.litres <= spot.max_litres)
        for spot in outlook.settings.spots.values()
    )


def _threatened(tree: str, *findings: Finding) -> bool:
    return any(
        finding.tree == tree and keeps_in(finding) and finding.strength is not Strength.NOTICE
        for finding in findings
    )


def _lows(outlook: Outlook) -> list[tuple[date, float]]:
    """The coming local days and their lowest screen air, °C, of the median member."""
    zone = ZoneInfo(outlook.settings.garden.timezone)
    days = [datetime.fromtimestamp(at - 1, zone).date() for at in outlook.weather.times.tolist()]
    air_c = np.median(outlook.weather.air_c, axis=0)
    lows: dict[date, float] = {}
    for day, value in zip(days, air_c.tolist(), strict=True):
        lows[day] = min(value, lows.get(day, value))
    return sorted(lows.items())


def _high(outlook: Outlook, row: int) -> float:
    """The highest air at a tree in the next day, °C, of the median member."""
    return float(np.median(outlook.course.exposure.air_c[row, :, :24], axis=0).max())


def winter_duty(doing: Doing, tree: str, outlook: Outlook, asked_by: str = BY_YEARS) -> str:
    """Return the duty of saying it this winter; the forecast's dated word is another than that of
    the years."""
    return f"winter {winter_year(outlook)} {doing} {asked_by} {tree}"


def winter_year(outlook: Outlook) -> int:
    """Return the year in which the winter that it is, or the next, begins."""
    return winter_of(today_of(outlook), outlook.settings.garden.latitude).year
