"""The trees of a garden in winter: what to do with each, and the lines of a round-up."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from typing import NamedTuple
from zoneinfo import ZoneInfo

import numpy as np

from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.outlook.past_years import usual_of
from underbench.daemon.planning.round_up_line import RoundUpLine, named_or_counted
from underbench.daemon.store.store import Store
from underbench.daemon.wording.vocabulary import joined
from underbench.rules.garden.inventory import ContainerKind
from underbench.rules.garden.journal import Move, TreeAt
from underbench.rules.garden.local_time import local_day
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.hazards.frozen_drying import KEEPS_NEEDLES
from underbench.rules.hazards.hazard import Action
from underbench.rules.limits.condition import Condition
from underbench.rules.planning.misgivings import northern_month
from underbench.rules.planning.winter import (
    DECIDUOUS,
    HARDENING_OFF_DAYS,
    SOFT_NIGHTS,
    UNDER_COVER,
    Cold,
    Doing,
    Wintering,
    air_chill,
    bark_at_risk,
    cold_nights,
    doing,
    near_c,
    nights_under,
    open_by_day,
    out_c,
    thawing_hour,
    winter_of,
)
from underbench.rules.plants.species import Kind
from underbench.rules.plants.stages import RESTED_CHILL_DAYS, chill_worth

DAY = timedelta(days=1)
BY_FORECAST, BY_YEARS = "forecast", "years"
WORDS = {
    Doing.GO_IN: "Bring in {trees}",
    Doing.COVER_ON: "Frost cover on {trees}",
    Doing.TOO_WARM: "Too warm to rest: {trees}. Find a colder place, or growth is late and weak",
    Doing.COME_OUT: (
        "Hard cold is usually over for {trees}: bring them out, those in leaf a little longer each "
        "day"
    ),
    Doing.COVER_OFF: "Frost cover off {trees}",
}
BARK = (
    "Hard frost with sun or wind: bark may split on the sunny side, and twigs dry on frozen roots. "
    "Shade or a windbreak helps"
)
BARK_H = 72  # the days of a round-up
GOING_IN = (Doing.GO_IN, Doing.COVER_ON)
IN_EARLIER_YEARS = {
    Doing.GO_IN: "Make room under cover for {trees}",
    Doing.COVER_ON: "Have frost cover at hand for {trees}",
}


@dataclass(frozen=True, slots=True)
class Winter:
    """One tree, what there is to do with it, and the facts behind that. ``spot``: where it stands.
    ``opens``: the spot is glass to be opened by day. ``out_from``: the day from which the tree is
    hardened off. It is the day on which the keeper was told to bring it out, or else today."""

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


def _winters(outlook: Outlook, store: Store) -> Iterator[Winter]:
    garden, today = outlook.settings.garden, outlook.today
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
    """What is the same for all trees: the coming days with their lowest air, and the chill of the
    open air this winter."""

    lows: Sequence[tuple[date, float]]
    air_chill: float | None


def _out_from(outlook: Outlook, store: Store, tree: str) -> date:
    said = store.duties.last_done(winter_duty(Doing.COME_OUT, tree, outlook))
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
    begins = winter_of(outlook.today, outlook.settings.garden.latitude)
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
        rest_days=RESTED_CHILL_DAYS / chill_worth(species.limits),
        stage=condition.stage,
        in_leaf=condition.in_leaf,
        threatened=_threatened(name, *outlook.findings, *outlook.at_home),
        too_cold=_threatened(name, *outlook.findings),
        near_on=next((day for day, low_c in shared.lows if low_c <= limit_c), None),
        kind_of_plant=species.limits.kind,
        cover_told=any(
            store.duties.last_done(winter_duty(Doing.COVER_ON, name, outlook, asked_by))
            for asked_by in (BY_FORECAST, BY_YEARS)
        ),
    )


def _fits(outlook: Outlook, standing: TreeAt, kind: Kind) -> bool:
    """Whether some place under cover takes the tree when empty. A tree that keeps its leaves needs
    a light place. A tropical always has the house."""
    container = standing.tree.container
    if kind is Kind.TROPICAL:
        return True
    return container.kind is not ContainerKind.BED and any(
        spot.kind in UNDER_COVER
        and (kind in DECIDUOUS or not spot.is_dark)
        and spot.room
        and (spot.max_litres is None or container.litres <= spot.max_litres)
        for spot in outlook.settings.spots.values()
    )


def _threatened(tree: str, *findings: Finding) -> bool:
    return any(
        finding.tree == tree
        and finding.action is Action.PROTECT
        and finding.hazard.keeps_in
        and finding.strength is not Strength.NOTICE
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
    """The highest air at a tree in the next 24 hours, °C, of the median member."""
    return float(np.median(outlook.course.exposure.screen_c[row, :, :24], axis=0).max())


def winter_duty(doing: Doing, tree: str, outlook: Outlook, asked_by: str = BY_YEARS) -> str:
    """Return the duty of saying this once in a winter. A line asked for by the forecast and one
    asked for by earlier years are two duties."""
    return f"winter {winter_year(outlook)} {doing} {asked_by} {tree}"


def winter_year(outlook: Outlook) -> int:
    """Return the year in which this winter begins, or in summer the next."""
    return winter_of(outlook.today, outlook.settings.garden.latitude).year


def winter_lines(outlook: Outlook, store: Store) -> list[RoundUpLine]:
    """Return the lines on the winter that are due and were not said this winter.

    A tree that an alert tells to be carried in is left out. So is a tree that is in for one cold
    spell: an alert tells when it goes back. Raises StoreError.
    """
    groups: dict[_Saying, list[str]] = {}
    glass: dict[str, None] = {}
    for one in winters(outlook, store):
        if _speaks(one) and _fresh(one, outlook, store):
            groups.setdefault(_saying(one), []).append(one.tree)
        if one.opens and store.duties.last_done(_open_duty(one.spot, outlook)) is None:
            glass[one.spot] = None
    lines = [_line(saying, trees, outlook) for saying, trees in groups.items()]
    lines += [*_thaw_lines(outlook, store), *_bark_lines(outlook, store)]
    if glass:
        words = f"Open by day, shut before dusk: {joined(list(glass))}."
        lines.append(RoundUpLine(words, tuple(_open_duty(spot, outlook) for spot in glass)))
    return lines


class _Saying(NamedTuple):
    """What the trees of one line have in common. ``night`` is set if the forecast asks for it."""

    doing: Doing
    night: date | None
    cold: Cold | None


def _saying(one: Winter) -> _Saying:
    night = one.facts.near_on if one.doing in GOING_IN else None
    by_years = one.doing in GOING_IN and night is None
    return _Saying(one.doing, night, one.cold if by_years else None)


def _speaks(one: Winter) -> bool:
    told = one.doing in GOING_IN and one.facts.threatened
    for_one_spell = one.doing is Doing.COME_OUT and one.facts.stay_nights <= SOFT_NIGHTS
    return one.doing in WORDS and not told and not for_one_spell


def _line(saying: _Saying, trees: Sequence[str], outlook: Outlook) -> RoundUpLine:
    named = named_or_counted(trees)
    words = WORDS[saying.doing].format(trees=named)
    asked_by = _asked_by(saying.night)
    duties = tuple(winter_duty(saying.doing, tree, outlook, asked_by) for tree in trees)
    if saying.night is not None:
        by = max(saying.night - DAY, outlook.today)
        return RoundUpLine(f"{words} by {by:%A} evening: the cold they bear is near.", duties, by)
    if saying.cold is not None and saying.cold.first is not None:
        words = IN_EARLIER_YEARS[saying.doing].format(trees=named)
        first, winters_known = saying.cold.first, saying.cold.winters
        words += f": such cold came from {first.first.day} {first.first:%b} on, "
        words += f"in {first.years} of {winters_known} winters"
    return RoundUpLine(f"{words}.", duties)


def _asked_by(night: date | None) -> str:
    return BY_YEARS if night is None else BY_FORECAST


def _fresh(one: Winter, outlook: Outlook, store: Store) -> bool:
    """Whether this was not said this winter. After a line asked for by the forecast, earlier years
    ask for no second one."""
    said_by = {_asked_by(_saying(one).night), BY_FORECAST}
    duties = (winter_duty(one.doing, one.tree, outlook, by) for by in said_by)
    return all(store.duties.last_done(duty) is None for duty in duties)


def _thaw_lines(outlook: Outlook, store: Store) -> Iterator[RoundUpLine]:
    """Evergreens to water as a long frost leaves their roots. Common practice, no source."""
    by_day: dict[date, list[str]] = {}
    for row, standing in enumerate(outlook.standing):
        species = outlook.setting.species[standing.tree.name]
        thaws = None if standing.lost else _thaws_on(outlook, row)
        if thaws is not None and species.limits.kind in KEEPS_NEEDLES:
            by_day.setdefault(thaws, []).append(standing.tree.name)
    for day, trees in by_day.items():
        duty = f"thaw {day:%G-%V}"
        if store.duties.last_done(duty) is None:
            words = f"Pots thaw on {day:%A}: water {named_or_counted(trees)} once they are soft."
            yield RoundUpLine(words, (duty,), day)


def _thaws_on(outlook: Outlook, row: int) -> date | None:
    """The local day on which a root ball thaws that was frozen long enough to dry an evergreen."""
    hour = thawing_hour(np.median(outlook.course.exposure.frozen_h[row], axis=0))
    if hour is None:
        return None
    at = datetime.fromtimestamp(int(outlook.course.times[hour]), tz=UTC)
    return local_day(at, outlook.settings.garden.timezone)


def _bark_lines(outlook: Outlook, store: Store) -> Iterator[RoundUpLine]:
    """One sentence in a winter on bare bark and twigs in hard frost."""
    duty = f"winter {winter_year(outlook)} bark"
    if store.duties.last_done(duty) is not None:
        return
    conditions = next(iter(outlook.course.conditions.values()))
    trees = [
        at.tree.name
        for row, at in enumerate(outlook.standing)
        if not at.lost and not conditions[row].in_leaf and _bark_at_risk(outlook, row)
    ]
    if trees:
        yield RoundUpLine(f"{BARK}: {named_or_counted(trees)}.", (duty,))


def _bark_at_risk(outlook: Outlook, row: int) -> bool:
    felt = outlook.course.exposure
    if outlook.setting.species[outlook.standing[row].tree.name].limits.kind not in DECIDUOUS:
        return False
    names = ("screen_c", "sun_wm2", "wind_ms", "frozen_h")
    air_c, *by_hour = (np.median(getattr(felt, one)[row, :, :BARK_H], axis=0) for one in names)
    return bark_at_risk(float(air_c.min()), *by_hour)


def _open_duty(spot: str, outlook: Outlook) -> str:
    return f"winter {winter_year(outlook)} open {spot}"
