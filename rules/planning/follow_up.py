"""What follows a work: a look under the bag, at the wire, into the moss; the first feed.

Each comes after warmth and not after weeks, because growth follows the thermometer. Warmth is °C·d
of daily mean air above 5 °C since the work, or since the last look. The sums are common practice,
no source: the weeks that growers name, at the warmth such weeks usually have.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from enum import StrEnum

from underbench.rules.garden.inventory import ContainerKind
from underbench.rules.garden.journal import Opening, Stage, TreeAt, Work
from underbench.rules.garden.works import WorkKind
from underbench.rules.limits.aftercare import RootClock, cuts_roots, roots_untaken
from underbench.rules.planning.misgivings import northern_month
from underbench.rules.planning.past_years import moved_to
from underbench.rules.plants.species import Kind
from underbench.rules.plants.stages import BASE_C

DAY = timedelta(days=1)
BAG_OPEN_FOR = timedelta(days=7)  # then the shoots bear the air; common practice
USUAL_GAIN_CD = 8.0  # a day from April to October, where no year is known; judgement
LOOKED_FOR_DAYS = 400  # nothing is expected further ahead

# °C·d: a week of spring, then every four or five days. Too often lets the bag's air out.
UNDER_BAG_CD, UNDER_BAG_AGAIN_CD = 60.0, 40.0
# Six weeks of late spring; conifers thicken later and slower.
WIRE_CD = {Kind.CONIFER_EVERGREEN: 900.0, Kind.CONIFER_DECIDUOUS: 600.0}
WIRE_USUAL_CD, WIRE_AGAIN_SHARE = 450.0, 1 / 3  # once it is close, look more often
# The more room the roots have, the faster a branch thickens, so the container tells how strongly a
# tree grows. Judgement, no source.
WIRE_SHARE = {
    ContainerKind.BED: 0.6,
    ContainerKind.POND_BASKET: 0.6,
    ContainerKind.NURSERY_CAN: 0.75,
    ContainerKind.TRAINING_BOX: 0.75,
}
# Eight weeks of early summer; a conifer takes a whole season.
MOSS_CD = {Kind.CONIFER_EVERGREEN: 1500.0}
MOSS_USUAL_CD, MOSS_AGAIN_CD = 600.0, 150.0
FEEDS_FROM, FEEDS_UNTIL = 3, 9  # northern months


class FollowUp(StrEnum):
    """What is to be done after a work, in the trade's words."""

    LOOK_UNDER_BAG = "look under the bag"
    TAKE_BAG_OFF = "take the opened bag off"
    CHECK_WIRE = "check the wire before it bites"
    LOOK_IN_MOSS = "look for roots in the moss"
    SUPPORT_LIMB = "support the girdled limb"
    FIRST_FEED = "give the first feed"


ENDS = {  # what closes it for good, besides the look it asks for
    FollowUp.LOOK_UNDER_BAG: WorkKind.OPEN_BAG,
    FollowUp.CHECK_WIRE: WorkKind.UNWIRE,
    FollowUp.LOOK_IN_MOSS: WorkKind.SEVER_LAYER,
}
NO_LOOKS = (FollowUp.TAKE_BAG_OFF, FollowUp.FIRST_FEED)  # a look at the tree is not enough


@dataclass(frozen=True, slots=True)
class Ask:
    """One follow-up of ``work``.

    It is due ``after_cd`` °C·d after the work, and not before ``again_cd`` more once somebody
    ``looked``. Noting ``done_by`` closes it. ``ready`` says whether everything else it waits for
    has come (for a first feed: the roots have taken and the tree grows). If not, ``ready_on`` is
    the day on which it will.
    """

    what: FollowUp
    work: Work
    done_by: WorkKind
    after_cd: float
    looked: Work | None = None
    again_cd: float = 0.0
    ready: bool = True
    ready_on: date | None = None

    @property
    def since(self) -> datetime:
        """When the keeper last saw to it."""
        return (self.looked or self.work).at


@dataclass(frozen=True, slots=True)
class Held:
    """A heated room that keeps its air at ``air_c`` or above; the tree is there ``since`` a day."""

    since: date
    air_c: float


@dataclass(frozen=True, slots=True)
class Expected:
    """An ask, the warmth ``gained_cd`` since its work, and when it is expected.

    It is expected between ``first`` and ``last``; both are None if it does not come within the year
    looked at. ``laps`` is how often it fell due again since it was first due.
    """

    ask: Ask
    gained_cd: float
    due: bool
    first: date | None
    last: date | None
    laps: int = 0


def closed_by(what: FollowUp, done_by: WorkKind) -> tuple[WorkKind, ...]:
    """Return the works that close an ask; any one of them does."""
    closing = [done_by, *([ENDS[what]] if what in ENDS else [])]
    if what is FollowUp.LOOK_UNDER_BAG:
        closing += [WorkKind.SLIT_BAG, WorkKind.UNBAG]
    return (*closing,) if what in NO_LOOKS else (*closing, WorkKind.CHECK)


def asks(tree: TreeAt, kind: Kind, clock: RootClock, stage: Stage, latitude: float) -> list[Ask]:
    """Return what is still open after the works of a living tree, the oldest work first."""
    if tree.lost:
        return []
    found = [*_of_bag(tree), *_of_wire(tree, kind), *_of_layer(tree, kind)]
    found += _of_roots(tree, kind, clock, stage, latitude)
    return sorted(found, key=lambda ask: ask.work.at)


def _of_bag(tree: TreeAt) -> Iterator[Ask]:
    bag, work = tree.bag, tree.last(WorkKind.BAG)
    opened = tree.last(WorkKind.OPEN_BAG)
    if bag is not None and opened is not None and bag.opening is Opening.OPEN:
        off_at, off = opened.at + BAG_OPEN_FOR, FollowUp.TAKE_BAG_OFF
        ready, on = tree.at >= off_at, off_at.date()
        yield Ask(off, opened, WorkKind.UNBAG, 0.0, ready=ready, ready_on=on)
    elif bag is not None and work is not None:
        yield _under_bag(tree, work)


def _under_bag(tree: TreeAt, work: Work) -> Ask:
    look = WorkKind.CHECK_BAG
    looked = _looked(tree, work, look, WorkKind.SLIT_BAG)
    return Ask(FollowUp.LOOK_UNDER_BAG, work, look, UNDER_BAG_CD, looked, UNDER_BAG_AGAIN_CD)


def _of_wire(tree: TreeAt, kind: Kind) -> Iterator[Ask]:
    on_it = [one for one in tree.works if one.work in (WorkKind.WIRE, WorkKind.UNWIRE)]
    work = None
    for one in reversed(on_it):  # branches are wired one by one, and the oldest wire bites first
        if one.work is WorkKind.UNWIRE:
            break
        work = one
    if work is None:
        return
    looked = _looked(tree, work, WorkKind.CHECK_WIRE)
    after = WIRE_CD.get(kind, WIRE_USUAL_CD) * WIRE_SHARE.get(tree.tree.container.kind, 1.0)
    again = after * WIRE_AGAIN_SHARE
    yield Ask(FollowUp.CHECK_WIRE, work, WorkKind.CHECK_WIRE, after, looked, again)


def _of_layer(tree: TreeAt, kind: Kind) -> Iterator[Ask]:
    work = tree.layer
    if work is None:
        return
    if not _looked(tree, work, WorkKind.SUPPORT_LIMB):
        yield Ask(FollowUp.SUPPORT_LIMB, work, WorkKind.SUPPORT_LIMB, 0.0)
    looked, after = _looked(tree, work, WorkKind.CHECK_MOSS), MOSS_CD.get(kind, MOSS_USUAL_CD)
    yield Ask(FollowUp.LOOK_IN_MOSS, work, WorkKind.CHECK_MOSS, after, looked, MOSS_AGAIN_CD)


def _of_roots(
    tree: TreeAt, kind: Kind, clock: RootClock, stage: Stage, latitude: float
) -> Iterator[Ask]:
    work = next((one for one in reversed(tree.works) if cuts_roots(one)), None)
    if work is None or _after(tree, work, WorkKind.FEED) or tree.at - work.at > 365 * DAY:
        return
    month = northern_month(tree.at.date(), latitude)
    growing = kind is Kind.TROPICAL or FEEDS_FROM <= month <= FEEDS_UNTIL
    taken = not roots_untaken(work, tree.at, clock)
    ready = taken and growing and stage.in_leaf
    yield Ask(FollowUp.FIRST_FEED, work, WorkKind.FEED, 0.0, ready=ready)


def _looked(tree: TreeAt, work: Work, *kinds: WorkKind) -> Work | None:
    """The last look at one thing, or at the whole tree."""
    return _after(tree, work, *kinds, WorkKind.CHECK)


def _after(tree: TreeAt, work: Work, *kinds: WorkKind) -> Work | None:
    """The last of these works noted after ``work``; all works of a day have the same time."""
    later = tree.works[next(n for n, one in enumerate(tree.works) if one is work) + 1 :]
    return next((one for one in reversed(later) if one.work in kinds), None)


def expected(
    ask: Ask,
    mean_c: Mapping[date, float],
    today: date,
    latitude: float,
    held: Held | None = None,
) -> Expected:
    """Return when an ask falls due, from the daily mean air known (°C); today does not count yet.

    Days ahead are as forecast where ``mean_c`` has them, then as in earlier years; the range runs
    from the warmest of these years to the coolest. Unknown days gone by gain what is usual, and so
    do all days ahead when no year is known. ``held`` is the heated room where the tree stands now
    and will stay.
    """
    warmth = _Warmth(mean_c, latitude, held)
    gained = warmth.between(ask.work.at.date(), today)
    if ask.what in NO_LOOKS:
        first = today if ask.ready else ask.ready_on
        return Expected(ask, gained, ask.ready, first, first)
    left = ask.after_cd - gained
    if ask.looked is not None:
        left = max(left, ask.again_cd - warmth.between(ask.looked.at.date(), today))
    if left <= 0.0:
        laps = int(-left // ask.again_cd) if ask.again_cd else 0
        return Expected(ask, gained, due=True, first=today, last=today, laps=laps)
    years = sorted({day.year for day in mean_c if day.year < today.year}) or [today.year]
    ahead = [warmth.reached(left, today, year) for year in years]
    known = [day for day in ahead if day is not None]
    first, last = (min(known), max(known)) if known else (None, None)
    return Expected(ask, gained, due=False, first=first, last=last)


@dataclass(frozen=True, slots=True)
class _Warmth:
    mean_c: Mapping[date, float]
    latitude: float
    held: Held | None

    def between(self, first: date, today: date) -> float:
        """°C·d gained from ``first`` up to yesterday."""
        return sum(
            self._gain(first + n * DAY, first + n * DAY) for n in range((today - first).days)
        )

    def reached(self, left_cd: float, today: date, year: int) -> date | None:
        """The day by which ``left_cd`` more have come, if days ahead are like those of ``year``."""
        for n in range(LOOKED_FOR_DAYS):
            if left_cd <= 0.0:
                return today + n * DAY
            day = today + n * DAY
            like = day if day in self.mean_c else moved_to(day, year + day.year - today.year)
            left_cd -= self._gain(day, like)
        return None

    def _gain(self, day: date, like: date) -> float:
        """What ``day`` brings, if it is like the day ``like``."""
        held = self.held
        least = held.air_c - BASE_C if held is not None and day >= held.since else 0.0
        if like in self.mean_c:
            return max(self.mean_c[like] - BASE_C, least)
        growing = 4 <= northern_month(like, self.latitude) <= 10
        return max(USUAL_GAIN_CD if growing else 0.0, least)
