"""The trees of a garden in their winter, and the quiet line in a round-up when it turns."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import numpy as np

from underbench.daemon.normals import usual_of
from underbench.daemon.outlook import Outlook, keeps_in
from underbench.daemon.store import Store
from underbench.daemon.telling import joined
from underbench.daemon.window_lines import WindowLine
from underbench.rules.findings import Strength
from underbench.rules.garden import ContainerKind
from underbench.rules.hours import local_day
from underbench.rules.journal import Move, TreeAt
from underbench.rules.limits import Condition
from underbench.rules.species import Kind
from underbench.rules.winter import (
    UNDER_COVER,
    Cold,
    Doing,
    Wintering,
    cold_nights,
    doing,
    near_c,
    nights_under,
    open_by_day,
    out_c,
    winter_of,
)

ONE_WINTER = timedelta(days=120)  # in in autumn and out in spring are further apart
DAY = timedelta(days=1)
NAMED = 4
WORDS = {
    Doing.GO_IN: "Bring in {trees}",
    Doing.COVER_ON: "Frost cover on {trees}",
    Doing.TOO_WARM: "Too warm to rest: {trees}. A colder place, or its spring is late and weak",
    Doing.COME_OUT: "Hard cold is usually over for {trees}: bring out, by and by what is in leaf",
    Doing.COVER_OFF: "Frost cover off {trees}",
}
GOING_IN = (Doing.GO_IN, Doing.COVER_ON)


@dataclass(frozen=True, slots=True)
class Winter:
    """One tree, what there is to do with it, and what that rests on; ``spot`` where it stands,
    ``opens`` whether that is glass to be opened by day."""

    tree: str
    spot: str
    doing: Doing
    facts: Wintering
    cold: Cold
    opens: bool


def winters(outlook: Outlook, store: Store) -> list[Winter]:
    """Return the living trees in their winter, the most pressing first. Raises StoreError."""
    return sorted(_winters(outlook, store), key=lambda one: list(Doing).index(one.doing))


def today_of(outlook: Outlook) -> date:
    """Return the local day it is."""
    return local_day(outlook.now, outlook.settings.garden.timezone)


def _winters(outlook: Outlook, store: Store) -> Iterator[Winter]:
    garden, today = outlook.settings.garden, today_of(outlook)
    usual, lows = usual_of(store, garden), _lows(outlook)
    found: dict[float, Cold] = {}
    conditions = next(iter(outlook.course.conditions.values()))
    for row, standing in enumerate(outlook.standing):
        if standing.lost:
            continue
        facts = _facts(outlook, row, conditions[row], lows)
        if facts.near_c not in found:
            found[facts.near_c] = cold_nights(usual, facts.near_c, today)
        cold = found[facts.near_c]
        ten_days_c, high_c = float(outlook.state.ten_days_c[row]), _high(outlook, row)
        opens = open_by_day(facts.kind, ten_days_c, high_c)
        what = doing(facts, cold, today, garden.latitude)
        yield Winter(standing.tree.name, standing.spot, what, facts, cold, opens)


def _facts(
    outlook: Outlook, row: int, condition: Condition, lows: Sequence[tuple[date, float]]
) -> Wintering:
    standing, spots = outlook.standing[row], outlook.settings.spots
    species = outlook.setting.species[standing.tree.name]
    covered = {name for name, spot in spots.items() if spot.kind in UNDER_COVER}
    begins = winter_of(today_of(outlook), outlook.settings.garden.latitude)
    moves = [e for e in outlook.journal if isinstance(e, Move) and e.tree == standing.tree.name]
    nights, stay = nights_under(
        moves, standing.tree.spot, covered, begins, outlook.now.astimezone(UTC).date()
    )
    kind = spots[standing.spot].kind
    limit_c = (out_c if kind in UNDER_COVER else near_c)(species, condition)
    return Wintering(
        near_c=limit_c,
        kind=kind,
        belongs_under=standing.tree.spot in covered,
        shelter=species.limits.kind is Kind.TROPICAL or _fits(outlook, standing),
        nights=nights,
        stay_nights=stay,
        rests=species.limits.leaf_out is not None,
        chill_days=float(outlook.state.chill_days[row]),
        stage=condition.stage,
        in_leaf=condition.in_leaf,
        threatened=_threatened(outlook, standing.tree.name),
        near_on=next((day for day, low_c in lows if low_c <= limit_c), None),
        tropical=species.limits.kind is Kind.TROPICAL,
    )


def _fits(outlook: Outlook, standing: TreeAt) -> bool:
    """Whether there is a place under cover that takes it, were it empty."""
    container = standing.tree.container
    return container.kind is not ContainerKind.BED and any(
        spot.kind in UNDER_COVER
        and spot.room
        and (spot.max_litres is None or container.litres <= spot.max_litres)
        for spot in outlook.settings.spots.values()
    )


def _threatened(outlook: Outlook, tree: str) -> bool:
    return any(
        finding.tree == tree and keeps_in(finding) and finding.strength is not Strength.NOTICE
        for finding in (*outlook.findings, *outlook.at_home)
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


def winter_lines(outlook: Outlook, store: Store) -> list[WindowLine]:
    """Return what is to be said of the winter now and was not said this winter.

    A tree that is told to be carried in anyway is passed over. Raises StoreError.
    """
    groups: dict[tuple[Doing, date | None], list[str]] = {}
    glass: dict[str, None] = {}
    for one in winters(outlook, store):
        told = one.doing in GOING_IN and one.facts.threatened
        if one.doing in WORDS and not told and _fresh(store, _duty(one), outlook.now):
            night = one.facts.near_on if one.doing in GOING_IN else None
            groups.setdefault((one.doing, night), []).append(one.tree)
        if one.opens and _frame_speaks(one, outlook, store):
            glass[one.spot] = None
    lines = [_line(what, night, trees, outlook) for (what, night), trees in groups.items()]
    if glass:
        words = f"Open by day, shut before dusk: {joined(list(glass))}."
        lines.append(WindowLine(words, tuple(map(_open_duty, glass))))
    return lines


def _line(what: Doing, night: date | None, trees: Sequence[str], outlook: Outlook) -> WindowLine:
    named = joined(list(trees)) if len(trees) <= NAMED else f"{len(trees)} trees, {trees[0]} first"
    words, duties = WORDS[what].format(trees=named), tuple(f"winter {what} {t}" for t in trees)
    if night is not None:
        by = max(night - DAY, today_of(outlook))
        return WindowLine(f"{words} by {by:%A} evening: the cold they bear is near.", duties, by)
    if what in GOING_IN:
        words = f"{words}: in earlier years the first cold nights came about now"
    return WindowLine(f"{words}.", duties)


def _duty(one: Winter) -> str:
    return f"winter {one.doing} {one.tree}"


def _open_duty(spot: str) -> str:
    return f"winter open {spot}"


def _frame_speaks(one: Winter, outlook: Outlook, store: Store) -> bool:
    """Of glass with trees at rest or just awake: in summer it stands open anyway."""
    awake = winter_of(today_of(outlook), outlook.settings.garden.latitude) <= today_of(outlook)
    return awake and _fresh(store, _open_duty(one.spot), outlook.now)


def _fresh(store: Store, duty: str, now: datetime) -> bool:
    said = store.last_done(duty)
    return said is None or not timedelta(0) <= now - said < ONE_WINTER
