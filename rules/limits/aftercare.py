"""What a work changes until the tree has recovered: roots, sun and wind. Each closes on its own.

Roots close by the warmth of the root zone, because new roots follow the thermometer rather than
the calendar. They have taken after 300 degree-days above 6 °C. The project derived this from
Alvarez-Uria & Körner 2007, *Funct. Ecol.* 21:211-218 (6 °C, read in a secondary source) and from
the three-week root-growth-capacity test of Lindström & Nyström 1987. Shelter from sun and wind
closes by days.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from functools import lru_cache
from operator import itemgetter

import numpy as np

from underbench.rules.garden.journal import Bag, Opening, TreeAt, Work
from underbench.rules.garden.works import HEAVY, REPOTTED, SLIPPED, Care, WorkKind, works_that

USUAL_ROOTS_PCT, HEAVY_ROOTS_PCT = 25.0, 40.0
SHADE_AFTER_BAG = timedelta(days=10)
UNUSED_TO_SUN = timedelta(days=5)  # a bag worn for less changes no leaf; common practice
SOFT_SHOOTS = timedelta(weeks=8)
BARE = timedelta(weeks=2)  # until leaves open again after they were taken off; common practice

USUAL_GAIN_CD = 8.0

# Roots close after a growing season at the latest, even if warmth never came.
LONGEST = timedelta(days=240)


CUTS = works_that(lambda does: does.cuts_back)
SHOOT_WORKS = works_that(lambda does: does.cuts_back or does.frees_shoots)
STRIPPING = works_that(lambda does: does.strips)


@dataclass(frozen=True, slots=True)
class Aftercare:
    """What is still open on a tree. Each part names the work it comes from, None when closed.

    ``floor_c`` goes with ``roots``. ``girdled``: the layer started on the tree and not yet severed.
    ``after_bag``: the airing after which leaves are not used to the sun. ``sprouted_in_bag``: the
    tree was cut back before it went into that bag. ``stripped``: its leaves were taken off, and new
    ones are not open yet.
    """

    roots: Work | None = None
    floor_c: float | None = None
    shelter: Work | None = None
    loose: bool = False
    soft_shoots: Work | None = None
    after_bag: Work | None = None
    sprouted_in_bag: bool = False
    girdled: Work | None = None
    bag: Bag | None = None
    stripped: Work | None = None

    def with_opening(self, opening: Opening | None) -> Aftercare:
        """Return this with the bag, if there is one, opened to ``opening`` (None: as it is)."""
        if self.bag is None or opening is None:
            return self
        return replace(self, bag=self.bag.model_copy(update={"opening": opening}))


@dataclass(frozen=True, slots=True)
class RootClock:
    """How far a tree's roots have come. ``warmth_cd``: root-zone degree-days above 6 °C since its
    last root work. ``taken_before_s``: UTC seconds; the roots of works before it had taken when the
    next work was done."""

    warmth_cd: float
    taken_before_s: float = 0.0


def care_of(work: Work) -> Care | None:
    """Return what a work asks for. It asks for more if more roots were cut, or if it was risky.

    A parent asks for nothing once its layer is a tree of its own.
    """
    if work.makes is not None and work.work is WorkKind.SEVER_LAYER:
        return None
    care = work.work.does.care
    if care is REPOTTED and work.roots_pct is not None:
        care = _by_share(work.roots_pct)
    return _careful(care, work.work) if work.risky else care


def cuts_roots(work: Work) -> bool:
    """Return whether roots have to take again after a work."""
    care = care_of(work)
    return care is not None and care.root_floor_c is not None


# From roots barely touched to a heavy cut, with straight lines between; common practice, no source.
_SHARES_PCT = (10.0, USUAL_ROOTS_PCT, HEAVY_ROOTS_PCT)
_CARES = (SLIPPED, REPOTTED, HEAVY)


@lru_cache(maxsize=128)  # asked for every open work in every leg of a course
def _by_share(roots_pct: float) -> Care:
    def between(name: str) -> float:
        return float(np.interp(roots_pct, _SHARES_PCT, [getattr(c, name) for c in _CARES]))

    names = ("root_floor_c", "root_weeks", "root_warmth_cd", "shelter_weeks")
    return Care(**{name: between(name) for name in names}, loose=True)


def _careful(care: Care | None, kind: WorkKind) -> Care | None:
    """What a risky work asks for, at least as much as usual. A bag asks for nothing."""
    if care is None:
        return Care(shelter_weeks=HEAVY.shelter_weeks) if kind is WorkKind.CHOP else None
    if care.root_floor_c is None or HEAVY.root_floor_c is None:
        return replace(care, shelter_weeks=max(care.shelter_weeks, HEAVY.shelter_weeks))
    return replace(
        care,
        root_floor_c=max(care.root_floor_c, HEAVY.root_floor_c),
        root_weeks=max(care.root_weeks, HEAVY.root_weeks),
        root_warmth_cd=max(care.root_warmth_cd, HEAVY.root_warmth_cd),
        shelter_weeks=max(care.shelter_weeks, HEAVY.shelter_weeks),
        winter_floor_c=-2.0,
    )


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

    It gains eight a day from April to October (October to April in the south), else none. This is
    judgement for temperate gardens, used only for works older than the known weather.
    """
    growing = range(4, 11) if latitude >= 0 else (10, 11, 12, 1, 2, 3, 4)
    days = (since + timedelta(days=n) for n in range(max(0, (until - since).days)))
    return USUAL_GAIN_CD * sum(day.month in growing for day in days)


def open_aftercare(tree: TreeAt, clock: RootClock, conifer: bool) -> Aftercare:
    """Return what is open on ``tree``.

    Of works that overlap the stricter holds: the highest floor, the latest shelter. A collected
    conifer is guarded through a second winter. Shoots begin to get used to the sun when their bag
    is opened. Taking the bag off later starts nothing anew.
    """
    floors = ((_floor(work, tree, clock, conifer), work) for work in tree.works)
    asked = [(floor, work) for floor, work in floors if floor is not None]
    floor_c, roots = max(asked, key=itemgetter(0), default=(None, None))
    soft, bag, aired = tree.last(*SHOOT_WORKS), tree.bag, _lately_aired(tree)
    in_open = bag is None or bag.opening is Opening.OPEN
    stripped = tree.last(*STRIPPING)
    return Aftercare(
        roots=roots,
        floor_c=floor_c,
        shelter=next((work for work in reversed(tree.works) if _sheltered(work, tree.at)), None),
        loose=any(_loose(work, tree.at, clock) for work in tree.works),
        soft_shoots=soft if soft and tree.at - soft.at < SOFT_SHOOTS and in_open else None,
        after_bag=aired,
        sprouted_in_bag=aired is not None and _cut_before(aired, tree),
        bag=bag,
        girdled=tree.layer,
        stripped=stripped if stripped and tree.at - stripped.at < BARE else None,
    )


def _lately_aired(tree: TreeAt) -> Work | None:
    """The airing, not many days ago, of a bag worn so long that leaves are not used to the sun."""
    aired = tree.aired
    if aired is None or tree.at - aired.at >= SHADE_AFTER_BAG:
        return None
    bagged = _bagged_before(aired, tree)
    return aired if bagged and aired.at - bagged.at >= UNUSED_TO_SUN else None


def _bagged_before(aired: Work, tree: TreeAt) -> Work | None:
    """The work that put the bag on that ``aired`` opened or took off. Works are in time order."""
    bagged: Work | None = None
    for work in tree.works[: tree.works.index(aired)]:
        if work.work is WorkKind.BAG:
            bagged = bagged or work
        elif work.work in (WorkKind.UNBAG, WorkKind.OPEN_BAG):
            bagged = None
    return bagged


def _cut_before(aired: Work, tree: TreeAt) -> bool:
    """Whether the tree was cut back shortly before ``aired``. Then new shoots grew in its bag."""
    return any(
        work.work in CUTS and timedelta(0) <= aired.at - work.at < SOFT_SHOOTS
        for work in tree.works
    )


def _sheltered(work: Work, at: datetime) -> bool:
    care = care_of(work)
    return care is not None and at - work.at < timedelta(weeks=care.shelter_weeks)


def _loose(work: Work, at: datetime, clock: RootClock) -> bool:
    care = care_of(work)
    return care is not None and care.loose and roots_untaken(work, at, clock)


def _floor(work: Work, tree: TreeAt, clock: RootClock, conifer: bool) -> float | None:
    """The root floor that a work still asks for; None if it no longer asks for one."""
    care = care_of(work)
    if care is None:
        return None
    if care.root_floor_c is not None and roots_untaken(work, tree.at, clock):
        return care.root_floor_c
    winters = 2 if conifer and work.work is WorkKind.COLLECT else 1
    if tree.at - work.at < timedelta(days=365 * winters):
        return care.winter_floor_c
    return None
