"""Through the winter: when a tree goes in, how long it has been in, and when it may come out.

For days gone by only the garden's own air is known, so nights are counted by screen air: a pot's
rim follows the air through a cold night, a little behind. The models judge what a single night
ahead does to a tree; this is the season's slow course. Months are northern. Common practice, no
source, unless said.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from enum import StrEnum

from underbench.rules.course.course import NOTHING_OPEN
from underbench.rules.garden.inventory import ContainerKind, SpotKind
from underbench.rules.garden.journal import Move, Stage
from underbench.rules.hazards.chill import CHILL
from underbench.rules.hazards.cold_air import COLD_AIR
from underbench.rules.hazards.frozen_drying import DRYING_WIND_MS, FROZEN_HOURS
from underbench.rules.hazards.leaf_frost import LEAF_FROST
from underbench.rules.hazards.root_frost import ROOT_FROST
from underbench.rules.limits.condition import Condition
from underbench.rules.physics.places import VENTED_FROM_C
from underbench.rules.planning.misgivings import northern_month
from underbench.rules.planning.past_years import DateRange, Usual
from underbench.rules.plants.species import Kind, Species
from underbench.rules.plants.stages import BASE_C, RESTED_CHILL_DAYS, last_autumn

DAY = timedelta(days=1)
UNDER_COVER = (
    *(SpotKind.COLD_FRAME, SpotKind.GREENHOUSE, SpotKind.SHED, SpotKind.GARAGE),
    *(SpotKind.CELLAR, SpotKind.COOL_ROOM, SpotKind.INDOORS),
)
GLASS = (SpotKind.COLD_FRAME, SpotKind.GREENHOUSE)
DECIDUOUS = (Kind.BROADLEAF_DECIDUOUS, Kind.CONIFER_DECIDUOUS)
# Margin above the midwinter limit: 2 K that roots lack in autumn (see root_frost.py), 1.5 K by
# which the air at a bench falls below screen air in a clear night (see near_ground.py), and 1 K by
# which a pot's rim falls below that. Judgement.
NEAR_K = 4.5
WINTER_DAYS = 303  # September to June: a night in July is no part of the winter
KNOWN_SHARE = 0.9
SCALD_BELOW_C, SCALD_SUN_WM2 = -8.0, 350.0
DRYING_H = 12
SOON = timedelta(days=7)
OFF_FOR = timedelta(days=21)  # a cover forgotten for longer was never on
CHILL_MONTHS = (11, 12, 1, 2, 3)
REST_MONTHS = (12, 1, 2, 3)
CHILL_AFTER_DAYS = 61  # 1 September to 1 November, when chill begins to count (see stages.py)
COLDER_DAYS = 10  # days more chill in the open air: a colder place is there. Judgement
GLASS_MONTHS = (1, 2, 3, 4, 5)  # earlier, autumn cools the frames; later, they stand open anyway
OUT_MONTHS = (2, 3, 4, 5, 6)
TROPICAL_OUT_MONTHS = (5, 6, 7, 8)
YOUNG_LEAF = (Stage.LEAFING_OUT, Stage.EXTENDING)
FORECAST_OUT_MONTHS = (4, 5, 6)  # where no earlier year is known
HOT_FRAME_C = 15.0  # air in the frame at which wood at rest wakes
SOFT_NIGHTS = 14  # leaves that were under cover for longer are soft
HARDENING_OFF_DAYS, SHADE_DAYS, FIRST_DAY_H = 10, 5, 2


class Doing(StrEnum):
    """What there is to do with a tree for the winter, the most pressing first."""

    TOO_COLD = "needs a warmer place"
    GO_IN = "go in soon"
    COVER_ON = "frost cover on soon"
    TOO_WARM = "too warm"
    COME_OUT = "come out"
    COVER_OFF = "frost cover off"
    STAY = "stay"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class Cold:
    """The first and the last night of a winter near a tree's limit, by earlier winters. They are
    given as days of this winter; None where none of the ``winters`` known was that cold."""

    first: DateRange | None
    last: DateRange | None
    winters: int


@dataclass(frozen=True, slots=True)
class Wintering:
    """One tree in its winter.

    ``near_c`` is the screen air at which it should be in. ``kind`` is that of the spot where it
    stands; ``belongs_under`` says whether its home spot is under cover, ``shelter`` whether a place
    under cover takes it. ``nights`` counts nights under cover this winter, ``stay_nights`` those
    without a break up to now. A tree that ``rests`` needs ``rest_days`` of chill; it had
    ``chill_days``, the open air had ``air_chill`` (None: the record is too young to tell).
    ``threatened`` is by the forecast, here or at home; ``too_cold`` is where it stands. ``near_on``
    is the first day of the forecast whose night is as cold as ``near_c``. ``cover_told`` says that
    its frost cover was asked for this winter.
    """

    near_c: float
    kind: SpotKind
    belongs_under: bool
    shelter: bool
    nights: int
    stay_nights: int
    rests: bool
    chill_days: float | None
    air_chill: float | None
    stage: Stage
    in_leaf: bool
    threatened: bool
    too_cold: bool
    near_on: date | None
    kind_of_plant: Kind
    cover_told: bool = False
    rest_days: float = RESTED_CHILL_DAYS

    @property
    def under(self) -> bool:
        """Whether it stands under cover."""
        return self.kind in UNDER_COVER

    @property
    def tropical(self) -> bool:
        """Whether air well above freezing chills it."""
        return self.kind_of_plant is Kind.TROPICAL

    @property
    def deciduous(self) -> bool:
        """Whether it stands bare in winter."""
        return self.kind_of_plant in DECIDUOUS

    @property
    def hardens_off(self) -> bool:
        """Whether it has to be led out step by step."""
        return self.under and self.in_leaf and self.stay_nights > SOFT_NIGHTS


@dataclass(frozen=True, slots=True)
class OutFor:
    """One day of hardening off: hours outside, and whether in shade."""

    day: date
    hours: int
    shade: bool


def near_c(species: Species, condition: Condition) -> float:
    """Return the warmest screen air, °C, at which a tree at rest should be in.

    A tender tree comes in at its own air figure, a hardy one ``NEAR_K`` above what its roots or its
    top bear in midwinter. Roots in a bed have the ground around them and do not count. The limit of
    freshly cut roots does count: those of a collected pine or a late layer have not taken by
    winter.
    """
    care = condition.aftercare
    roots_only = replace(NOTHING_OPEN, roots=care.roots, floor_c=care.floor_c)
    rested = condition._replace(
        stage=Stage.DORMANT, aftercare=roots_only, unhardened_k=0.0, faded=0.0, sap_moving=False
    )
    chill = CHILL.limit(species, rested)
    if chill is not None:
        return chill.harm
    in_bed = condition.tree.container.kind is ContainerKind.BED
    hazards = (LEAF_FROST, COLD_AIR) if in_bed else (LEAF_FROST, COLD_AIR, ROOT_FROST)
    limits = (hazard.limit(species, rested) for hazard in hazards)
    return max(limit.harm for limit in limits if limit is not None) + NEAR_K


def out_c(species: Species, condition: Condition) -> float:
    """Return the screen air, °C, above which a tree under cover may come out. Open young leaves
    decide where there are any: they bear far less cold than wood at rest."""
    rested_c = near_c(species, condition)
    frost = LEAF_FROST.limit(species, condition._replace(aftercare=NOTHING_OPEN))
    if condition.stage not in YOUNG_LEAF or frost is None:
        return rested_c
    return max(rested_c, frost.harm + NEAR_K)


def thawing_hour(frozen_h: Sequence[float]) -> int | None:
    """Return the hour in which a root ball thaws that was frozen long enough to dry an evergreen.
    ``frozen_h``: the hours for which it has been frozen through, (hour,). None without one."""
    for hour in range(1, len(frozen_h)):
        if frozen_h[hour - 1] >= FROZEN_HOURS[0] and frozen_h[hour] < 1.0:
            return hour
    return None


def bark_at_risk(
    low_c: float, sun_wm2: Sequence[float], wind_ms: Sequence[float], frozen_h: Sequence[float]
) -> bool:
    """Return whether hard frost comes with sun on bare bark, or with wind on frozen roots.

    Bark on the sunny side warms by day and splits in the night; bare twigs dry while the roots
    give nothing. ``low_c``: the coldest night; the rest is by hour, (hour,). Common practice, no
    source: a sentence, and no alarm.
    """
    scald = low_c <= SCALD_BELOW_C and max(sun_wm2) >= SCALD_SUN_WM2
    hours = zip(wind_ms, frozen_h, strict=True)
    drying = sum(wind >= DRYING_WIND_MS and ice >= FROZEN_HOURS[0] for wind, ice in hours)
    return scald or drying >= DRYING_H


def winter_of(today: date, latitude: float) -> date:
    """Return the first day of the winter that ``today`` is in, or of the next."""
    begins = last_autumn(today, latitude)
    over = (today - begins).days >= WINTER_DAYS
    return begins.replace(year=begins.year + 1) if over else begins


def cold_nights(usual: Usual, limit_c: float, today: date) -> Cold:
    """Return when earlier winters had their first and last night at ``limit_c`` or colder."""
    now = winter_of(today, usual.latitude)
    firsts, lasts, winters = [], [], 0
    for begins in sorted({last_autumn(day, usual.latitude) for day in usual.days}):
        lows = [usual.days.get(begins + n * DAY) for n in range(WINTER_DAYS)]
        known = sum(low is not None for low in lows)
        if begins >= now or known < KNOWN_SHARE * WINTER_DAYS:
            continue
        winters += 1
        cold = [n for n, day in enumerate(lows) if day is not None and day.low_c <= limit_c]
        if cold:
            firsts.append(cold[0])
            lasts.append(cold[-1])
    return Cold(_range(now, firsts), _range(now, lasts), winters)


def _range(begins: date, days: Sequence[int]) -> DateRange | None:
    if not days:
        return None
    return DateRange(begins + min(days) * DAY, begins + max(days) * DAY, len(days))


def nights_under(
    moves: Sequence[Move], home: str, covered: Collection[str], begins: date, today: date
) -> tuple[int, int]:
    """Return the nights under cover from ``begins`` to ``today``, and those since it was last out.

    A night counts for the spot where the tree stands as a UTC day ends. ``moves`` are one tree's;
    ``covered`` are the spots under cover.
    """
    nights = stay = 0
    for spot in _spots(sorted(moves, key=lambda move: move.at), home, begins, today):
        under = spot in covered
        nights, stay = nights + under, stay + 1 if under else 0
    return nights, stay


def _spots(moves: Sequence[Move], home: str, begins: date, today: date) -> Iterator[str]:
    """The spot where a tree stood at the end of each UTC day."""
    spot, following = home, 0
    for n in range((today - begins).days):
        day = begins + n * DAY
        while following < len(moves) and moves[following].at.date() <= day:
            spot = moves[following].spot
            following += 1
        yield spot


def doing(tree: Wintering, cold: Cold, today: date, latitude: float) -> Doing:
    """Return what there is to do with a living tree on ``today``."""
    month = northern_month(today, latitude)
    if not tree.under:
        return _outside(tree, cold, today, month)
    if tree.too_cold:
        return Doing.TOO_COLD
    if month in REST_MONTHS and kept_too_warm(tree):
        return Doing.TOO_WARM
    if tree.belongs_under:
        return Doing.NOTHING
    if tree.threatened or tree.near_on is not None:
        return Doing.STAY
    return Doing.COME_OUT if _safe(tree, cold, today, month) else Doing.STAY


def kept_too_warm(tree: Wintering) -> bool:
    """Return whether buds sleep on because they lack chill that the open air here does have."""
    if not tree.deciduous or tree.chill_days is None or tree.air_chill is None:
        return False
    short = tree.stage is Stage.DORMANT and tree.chill_days < tree.rest_days
    return short and tree.air_chill - tree.chill_days >= COLDER_DAYS


def air_chill(usual: Usual, today: date) -> float | None:
    """Return the days at 5 °C or less in the open air since chill began to count this winter. None
    where too few days are known."""
    begins = last_autumn(today, usual.latitude) + CHILL_AFTER_DAYS * DAY
    length = (today - begins).days
    days = (usual.days.get(begins + n * DAY) for n in range(length))
    means = [day.mean_c for day in days if day is not None]
    if length <= 0 or len(means) < KNOWN_SHARE * length:
        return None
    return float(sum(mean_c <= BASE_C for mean_c in means))


def counts_chill(today: date, latitude: float) -> bool:
    """Return whether chill counts now for the coming spring."""
    return northern_month(today, latitude) in CHILL_MONTHS


def _outside(tree: Wintering, cold: Cold, today: date, month: int) -> Doing:
    if tree.kind is SpotKind.UNDER_BENCH and not tree.threatened:
        return Doing.NOTHING  # the bench is its cover
    usually = cold.first is not None and cold.first.first - SOON <= today <= cold.first.last
    bare = not (tree.deciduous and tree.in_leaf)  # a maple in October leaf is not carried in yet
    if tree.near_on is not None or (usually and bare):
        return Doing.GO_IN if tree.shelter else Doing.COVER_ON
    if not tree.cover_told or tree.threatened or cold.last is None:
        return Doing.NOTHING
    over = _safe(tree, cold, today, month) and today <= cold.last.last + OFF_FOR
    return Doing.COVER_OFF if over else Doing.NOTHING


def _safe(tree: Wintering, cold: Cold, today: date, month: int) -> bool:
    """Whether the winter is over for a tree.

    It is over once the last cold night of every earlier year is past. Swelling buds want light, so
    for them the earliest of those nights is enough. Where it was never so cold, or no year is
    known, the month decides. For a tropical the forecast decides, because summer nights may be near
    its limit.
    """
    if tree.tropical:
        return month in TROPICAL_OUT_MONTHS
    if cold.last is not None:
        moving = tree.stage is Stage.BUD_SWELL
        return month in OUT_MONTHS and today > (cold.last.first if moving else cold.last.last)
    return month in (OUT_MONTHS if cold.winters else FORECAST_OUT_MONTHS)


def open_by_day(tree: Wintering, month: int, ten_days_c: float, high_c: float) -> bool:
    """Return whether to open a tree's frame or greenhouse by day, in a northern ``month``.

    Open it when the mean of the last days is 10 °C or more, or when the sun warms the air in it
    (``high_c``) until wood at rest wakes. It stays shut for a tropical.
    """
    closed = tree.kind in GLASS and month in GLASS_MONTHS and not tree.tropical
    return closed and (ten_days_c >= VENTED_FROM_C or high_c >= HOT_FRAME_C)


def hardening_off(first: date) -> tuple[OutFor, ...]:
    """Return the days of hardening off from ``first`` on. A soft tree is outside for an hour more
    each day, in shade for the first five."""
    return tuple(
        OutFor(first + n * DAY, FIRST_DAY_H + n, n < SHADE_DAYS) for n in range(HARDENING_OFF_DAYS)
    )
