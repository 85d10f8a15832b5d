"""What to expect after a work, week by week, and what the weather changes in it.

Floors and weeks come from what the work asks for (`rules.limits.aftercare`). The rest is common
practice, no source. Weeks are those of an ordinary spring: warmth hastens them, cold holds them.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from underbench.rules.garden.journal import Work
from underbench.rules.garden.works import Care, WorkKind
from underbench.rules.limits.aftercare import care_of, cuts_roots
from underbench.rules.plants.species import Kind

CONIFERS = (Kind.CONIFER_EVERGREEN, Kind.CONIFER_DECIDUOUS)


@dataclass(frozen=True, slots=True)
class Phase:
    """What to expect from the start of week ``first`` to the end of week ``last``, the first week
    being 1. ``floor_c`` is the coldest that the root ball may get, where ``words`` name {floor}."""

    first: int
    last: int
    words: str
    floor_c: float | None = None


def phases_after(work: Work, kind: Kind) -> tuple[Phase, ...]:
    """Return what to expect after ``work`` on a tree of a kind, in order; empty for small works."""
    found = [*_of_roots(work, kind), *_OF_WORKS.get(work.work, ())]
    if work.work is WorkKind.CHOP and kind in CONIFERS:
        found.insert(0, ABOVE_GREEN)
    return tuple(sorted(found, key=lambda one: (one.first, one.last)))


def now_and_next(phases: Sequence[Phase], week: int) -> tuple[Phase, ...]:
    """Return the phases that hold in ``week``, and those that begin in the week after."""
    return tuple(one for one in phases if one.first <= week + 1 and one.last >= week)


def _of_roots(work: Work, kind: Kind) -> Iterator[Phase]:
    """The weeks of roots that were cut, or a tree that was slipped into another pot."""
    care = care_of(work)
    if care is None or not cuts_roots(work):
        return
    weeks = max(1, round(care.root_weeks))
    yield Phase(
        1,
        weeks,
        "No frost at the roots: carry it in below {floor} at the root ball.",
        care.root_floor_c,
    )
    yield Phase(1, 2, "It draws little. Water when the top is dry, not by the clock; rain counts.")
    yield from _of_tops(care, kind)
    if weeks >= 3:
        hang = "Needles that dull" if kind in CONIFERS else "Leaves that hang by noon"
        yield Phase(
            3,
            weeks,
            f"{hang} want shade and mist, not more water. In the cold all this takes longer.",
        )
    yield Phase(
        weeks + 1,
        weeks + 2,
        "Once new growth has hardened, roots have taken; after work in autumn that is next "
        "spring. First weak feed; back to sun by degrees on dull days.",
    )
    if care.winter_floor_c is not None:
        yield Phase(
            1,
            52,
            "Its first winter free of frost at the roots: a cold frame or "
            "shed, as soon as the first hard frost is forecast.",
        )


def _of_tops(care: Care, kind: Kind) -> Iterator[Phase]:
    shelter = round(care.shelter_weeks)
    if not shelter:
        return
    if kind is Kind.CONIFER_EVERGREEN:
        yield Phase(1, shelter, "Light, out of the wind. Mist the needles on dry days.")
    else:
        yield Phase(
            1, shelter, "Out of strong sun and wind once it is in leaf; bare, it needs no shade."
        )


ABOVE_GREEN = Phase(1, 1, "Cut above a live branch: bare old wood of a conifer seldom buds.")
_OF_WORKS: dict[WorkKind, tuple[Phase, ...]] = {
    WorkKind.CHOP: (
        Phase(1, 1, "Seal the cut. No feed. Water sparingly: there are no leaves to draw it."),
        Phase(
            2,
            6,
            "Buds show on the trunk, later after a cold spring. Keep frost and hot sun off "
            "the cut.",
        ),
        Phase(
            6,
            12,
            "Shoots run: turn the tree to the light, leave them all, and keep frost off "
            "while they are soft.",
        ),
        Phase(8, 14, "Feed once shoots harden. Choose the leader, and wire it while it is green."),
    ),
    WorkKind.HARD_PRUNE: (
        Phase(1, 2, "Seal larger cuts. Water a little less: there is less leaf."),
        Phase(3, 8, "New shoots are soft: mind a late frost, and dry wind in heat."),
    ),
    WorkKind.DEFOLIATE: (
        Phase(
            1,
            2,
            "Full light and air, no deep shade. It draws next to nothing: water only when "
            "the top is dry, and keep long rain off.",
        ),
        Phase(
            3,
            4,
            "New leaves open, smaller. Hot days or dry wind: half shade for those hours.",
        ),
        Phase(5, 8, "Leaves harden. Feed again; no second job this year."),
    ),
    WorkKind.WIRE: (
        Phase(1, 2, "Out of hard frost and strong wind: bent branches tear."),
        Phase(4, 8, "Look at the wire each week in growth; warm, wet weeks make it bite sooner."),
    ),
    WorkKind.START_LAYER: (
        Phase(1, 4, "Moss moist, never wet. Check it on hot, windy days."),
        Phase(5, 10, "First roots, white, then brown: look from week six, later if cool."),
    ),
    WorkKind.SEVER_LAYER: (Phase(1, 4, "Tie it in: it must not rock. Half shade, mist, no wind."),),
    WorkKind.BAG: (
        Phase(1, 2, "Light without hot sun: on clear, mild days half shade."),
        Phase(
            3,
            6,
            "Green shows: full shade on warm days, look every few days, slit it once hot inside.",
        ),
        Phase(6, 8, "Open it over ten dull days, then take it off."),
    ),
}
