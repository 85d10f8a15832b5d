"""What a work changes until the tree has recovered: roots, sun and wind, each closing on its own.

Roots close by the warmth of the root zone, because new roots follow the thermometer rather than
the calendar: degree-days above 6 °C, of which 300 make roots taken (derived in the project from
Alvarez-Uria & Körner 2007, *Funct. Ecol.* 21:211-218 (6 °C, read in a secondary source) and the
three-week root-growth-capacity test of Lindström & Nyström 1987). Shelter from sun and wind closes
by days. The floors and weeks are common practice, no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from underbench.rules.journal import TreeAt, Work, WorkKind

ROOT_BASE_C = 6.0
ROOT_FULL_C = 20.0
ROOT_STOP_C = 35.0
HEAVY_ROOTS_PCT = 40.0
SHADE_AFTER_BAG = timedelta(days=10)
SOFT_SHOOTS = timedelta(weeks=8)

USUAL_GAIN_CD = 8.0

# Longest that roots are held open where warmth never came: a growing season.
LONGEST = timedelta(days=240)


@dataclass(frozen=True, slots=True)
class Care:
    """What one work asks for. ``root_floor_c``: no colder at the shell of the root ball;
    ``root_warmth_cd``: degree-days above 6 °C until roots have taken, and no sooner than
    ``root_weeks``; ``shelter_weeks``: out of strong sun and wind; ``winter_floor_c``: floor through
    the first winter after; ``loose``: stands loosely until roots have taken."""

    root_floor_c: float | None = None
    root_weeks: float = 0
    root_warmth_cd: float = 0
    shelter_weeks: float = 0
    winter_floor_c: float | None = None
    loose: bool = False


REPOT = Care(-1.0, 4, 300, 4, loose=True)
HEAVY = Care(0.0, 8, 450, 8, loose=True)
CARE: dict[WorkKind, Care] = {
    WorkKind.SLIP_POT: Care(-3.0, 2, 150, 0, loose=True),
    WorkKind.REPOT: REPOT,
    WorkKind.ROOT_PRUNE: REPOT,
    WorkKind.DIVIDE: HEAVY,
    WorkKind.COLLECT: Care(0.0, 12, 600, 12, winter_floor_c=-2.0, loose=True),
    WorkKind.SEVER_LAYER: Care(0.0, 8, 450, 4, winter_floor_c=-2.0, loose=True),
    WorkKind.DEFOLIATE: Care(shelter_weeks=4),
    WorkKind.WIRE: Care(shelter_weeks=2),
}
ROOT_WORKS = tuple(kind for kind, care in CARE.items() if care.root_floor_c is not None)
SHOOT_WORKS = (WorkKind.CHOP, WorkKind.HARD_PRUNE, WorkKind.UNBAG)


@dataclass(frozen=True, slots=True)
class Aftercare:
    """What is still open on a tree; each part names the work it comes from, None when closed.

    ``floor_c`` goes with ``roots``.
    """

    roots: Work | None = None
    floor_c: float | None = None
    shelter: Work | None = None
    loose: bool = False
    soft_shoots: Work | None = None
    after_bag: Work | None = None
    bagged: bool = False


@dataclass(frozen=True, slots=True)
class RootClock:
    """How far a tree's roots have come. ``warmth_cd``: root-zone degree-days above 6 °C since its
    last root work; ``taken_before_s``: UTC seconds before which the roots of all works had taken
    when the next one was done."""

    warmth_cd: float
    taken_before_s: float = 0.0


def care_of(work: Work) -> Care | None:
    """Return what a work asks for; a repot or root cut of 40 % or more counts as heavy."""
    care = CARE.get(work.work)
    if care is REPOT and (work.roots_pct or 0) >= HEAVY_ROOTS_PCT:
        return HEAVY
    return care


def roots_untaken(work: Work, at: datetime, clock: RootClock) -> bool:
    """Return whether roots cut in ``work`` have yet to take at ``at``."""
    care, age = care_of(work), at - work.at
    if care is None or care.root_floor_c is None or age > LONGEST:
        return False
    if work.at.timestamp() < clock.taken_before_s:
        return False
    return clock.warmth_cd < care.root_warmth_cd or age < timedelta(weeks=care.root_weeks)


def usual_root_warmth_cd(since: datetime, until: datetime, latitude: float) -> float:
    """Return the °C·d above 6 °C that a root zone usually gains between two moments.

    Eight a day from April to October (October to April in the south), else none: judgement, for
    temperate gardens, and only for works older than the weather that is known.
    """
    growing = range(4, 11) if latitude >= 0 else (10, 11, 12, 1, 2, 3, 4)
    days = (since + timedelta(days=n) for n in range(max(0, (until - since).days)))
    return USUAL_GAIN_CD * sum(day.month in growing for day in days)


def open_aftercare(tree: TreeAt, clock: RootClock, conifer: bool) -> Aftercare:
    """Return what is open on ``tree``.

    Works that overlap combine to the stricter: the highest floor, the latest shelter. A collected
    conifer is guarded through a second winter.
    """
    floors = {work: _floor(work, tree, clock, conifer) for work in tree.works}
    asked = {work: floor for work, floor in floors.items() if floor is not None}
    roots = max(asked, key=lambda work: asked[work], default=None)
    soft, unbag = tree.last(*SHOOT_WORKS), tree.last(WorkKind.UNBAG)
    bagged = tree.bagged_since is not None
    return Aftercare(
        roots=roots,
        floor_c=None if roots is None else asked[roots],
        shelter=next((work for work in reversed(tree.works) if _sheltered(work, tree.at)), None),
        loose=any(_loose(work, tree.at, clock) for work in tree.works),
        soft_shoots=soft if soft and tree.at - soft.at < SOFT_SHOOTS and not bagged else None,
        after_bag=unbag if unbag and tree.at - unbag.at < SHADE_AFTER_BAG else None,
        bagged=bagged,
    )


def _sheltered(work: Work, at: datetime) -> bool:
    care = care_of(work)
    return care is not None and at - work.at < timedelta(weeks=care.shelter_weeks)


def _loose(work: Work, at: datetime, clock: RootClock) -> bool:
    care = care_of(work)
    return care is not None and care.loose and roots_untaken(work, at, clock)


def _floor(work: Work, tree: TreeAt, clock: RootClock, conifer: bool) -> float | None:
    """The root floor a work still asks for; None when it asks for none any more."""
    care = care_of(work)
    if care is None:
        return None
    if care.root_floor_c is not None and roots_untaken(work, tree.at, clock):
        return care.root_floor_c
    winters = 2 if conifer and work.work is WorkKind.COLLECT else 1
    if tree.at - work.at < timedelta(days=365 * winters):
        return care.winter_floor_c
    return None
