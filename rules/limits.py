"""What a tree can bear in one hour: layers of limits, and the trail of where each comes from.

Class → species → the keeper's own figure → stage → aftercare. Every limit names what it is
measured on; a figure of one kind is never compared with an exposure of another.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from math import inf

from underbench.rules.aftercare import Aftercare
from underbench.rules.garden import OwnLimits, Tree
from underbench.rules.journal import Stage, Work
from underbench.rules.species import Kind, Species
from underbench.rules.species import Span as Pair


class MeasuredOn(StrEnum):
    """What a limit is compared with."""

    LEAF = "leaf tissue"
    BUD = "bud tissue"
    WOOD = "wood and bud tissue"
    SHELL = "root shell"
    AIR = "air at the spot"
    BAG = "bag air"
    GUST = "gust at the bench"
    SUN = "sun on the crown"
    FROZEN = "hours with the root ball frozen"
    WATER = "water left in the pot"


@dataclass(frozen=True, slots=True)
class Layer:
    """One step of a limit's trail: what set or moved it, to where, and on whose word.

    ``work``: the work it comes from, where it comes from one.
    """

    what: str
    harm: float
    kill: float
    source: str
    work: Work | None = None


@dataclass(frozen=True, slots=True)
class Limit:
    """A pair of thresholds and how it came about; the last layer is the one in force."""

    measured_on: MeasuredOn
    trail: tuple[Layer, ...]

    @property
    def harm(self) -> float:
        """From here on the tree is hurt."""
        return self.trail[-1].harm

    @property
    def kill(self) -> float:
        """From here on the part dies."""
        return self.trail[-1].kill

    @property
    def work(self) -> Work | None:
        """The work that set it last; None when no work did."""
        return self.trail[-1].work

    def then(
        self, what: str, harm: float, kill: float, source: str, work: Work | None = None
    ) -> Limit:
        """Return this limit with one more layer on top."""
        return Limit(self.measured_on, (*self.trail, Layer(what, harm, kill, source, work)))


PRACTICE = "common practice, no source"
KEEPER = "the keeper"

SOFT_SHOOTS_K = 1.5
CUT_ROOTS_K = 0.7  # leaves on roots just cut; judgement: most growers bring such a tree in
KILL_BELOW_FLOOR_K = 3.0
FREEZING_C = -0.3  # a floor of 0 °C means no ice at the roots; nearer to 0 the models cannot tell
SCORCH_AFTER_WORK_K = 3.0
# Roots not yet hardened die well short of their midwinter figure, but are hurt little sooner:
# judgement, so that an ordinary October night is no alarm.
UNHARDENED_HARM = 0.4
LOOSE_GUST_MS = 10.0
TIED_GUST_MS = 15.0
TIP_WARNING = 0.6
KILLING_DRY_WIND_MS = 40.0  # wind scorches new leaves; it does not kill the tree
FIRST_SUN_WM2 = (300.0, 600.0)
FROZEN_HOURS = (48.0, 240.0)
BAG_DORMANT_C = (35.0, 42.0)
BAG_GREEN_C = (28.0, 35.0)
# A crown closes up below some 0.4 of the available water; one watering a day in spring, which is
# common practice, leaves a 3 L pot about a fifth by evening, so that harm lies below that.
WATER_LEFT = (0.15, 0.03)


@dataclass(frozen=True, slots=True)
class Bearing:
    """All limits of one tree for one day; None where a hazard does not apply to it.

    A tree that cold air harms well above freezing has no frost limits beside: it goes in by then.

    ``dry_vpd_kpa``: the air is dry enough from there for wind to scorch new leaves.
    """

    frost: Limit | None
    roots: Limit | None
    chill: Limit | None
    gust: Limit
    dry_wind: Limit | None
    dry_vpd_kpa: float
    frozen: Limit | None
    scorch: Limit | None
    first_sun: Limit | None
    hot_roots: Limit
    bag: Limit | None
    water: Limit


@dataclass(frozen=True, slots=True)
class Condition:
    """What the limits depend on beside the species: the tree as it stands that day.

    ``unhardened_k``: how far dormant tops and mature roots are from midwinter hardiness;
    ``tip_gust_ms``: gust at the bench that tips it.
    """

    tree: Tree
    stage: Stage
    aftercare: Aftercare
    unhardened_k: float
    tip_gust_ms: float

    @property
    def in_leaf(self) -> bool:
        """Whether leaves are open on it."""
        return self.stage in (Stage.LEAFING_OUT, Stage.HARDENED, Stage.COLOURING, Stage.EXTENDING)


def bearing(species: Species, condition: Condition) -> Bearing:
    """Return what a tree of ``species`` in ``condition`` can bear."""
    own, care = condition.tree.limits, condition.aftercare
    tender = species.limits.air_min is not None
    leafy = condition.in_leaf or species.limits.kind in _EVERGREEN
    return Bearing(
        frost=None if tender else _frost(species, condition),
        roots=None if tender else _roots(species, condition),
        chill=_chill(species, own),
        gust=_gust(species, condition),
        dry_wind=_dry_wind(species, condition),
        dry_vpd_kpa=_dry_vpd_kpa(species),
        frozen=_one(MeasuredOn.FROZEN, FROZEN_HOURS) if _keeps_needles(species) else None,
        scorch=_scorch(species, condition) if leafy and not care.bagged else None,
        first_sun=_one(MeasuredOn.SUN, FIRST_SUN_WM2, care.after_bag) if care.after_bag else None,
        hot_roots=_own(
            _from_species(species, "roots_hot", MeasuredOn.SHELL), own.root_hot_c, kill_beyond=4.0
        ),
        bag=_bag(condition) if care.bagged else None,
        water=_one(MeasuredOn.WATER, WATER_LEFT),
    )


_EVERGREEN = (Kind.BROADLEAF_EVERGREEN, Kind.CONIFER_EVERGREEN, Kind.TROPICAL)


def _keeps_needles(species: Species) -> bool:
    return species.limits.kind in (Kind.BROADLEAF_EVERGREEN, Kind.CONIFER_EVERGREEN)


def _frost(species: Species, condition: Condition) -> Limit:
    field, measured = _frost_field(species, condition.stage)
    own = condition.tree.limits
    keeper = {MeasuredOn.LEAF: own.leaf_frost_c, MeasuredOn.BUD: own.bud_frost_c}.get(measured)
    limit = _own(_from_species(species, field, measured), keeper, kill_beyond=-2.0)
    if field == "dormant_tops" and condition.unhardened_k > 0:
        limit = _shifted(limit, condition.unhardened_k, "not yet fully hardened, or fading")
    soft = condition.aftercare.soft_shoots
    if soft and measured is MeasuredOn.LEAF:
        limit = _shifted(limit, SOFT_SHOOTS_K, f"soft shoots after {_dated(soft)}", soft)
    shelter = condition.aftercare.shelter
    if shelter and not soft and measured is MeasuredOn.LEAF:
        limit = _shifted(limit, CUT_ROOTS_K, f"aftercare: {_dated(shelter)}", shelter)
    return limit


def _frost_field(species: Species, stage: Stage) -> tuple[str, MeasuredOn]:
    """Which of the species's figures holds at a stage, and what that is measured on."""
    if stage in (Stage.LEAFING_OUT, Stage.EXTENDING):
        return "leaf_frost", MeasuredOn.LEAF
    if stage is Stage.BUD_SWELL:
        return "bud_frost", MeasuredOn.BUD
    if stage is Stage.DORMANT:
        return "dormant_tops", MeasuredOn.WOOD
    if species.limits.hardened_frost is not None:
        return "hardened_frost", MeasuredOn.LEAF
    if stage is Stage.COLOURING:  # the leaf is being given up; what must live is wood and bud
        return "dormant_tops", MeasuredOn.WOOD
    return "leaf_frost", MeasuredOn.LEAF


def _roots(species: Species, condition: Condition) -> Limit:
    limit = _from_species(species, "roots_mature", MeasuredOn.SHELL)
    if condition.unhardened_k > 0:
        ceiling = species.limits.roots_young
        last = limit.trail[-1]
        limit = limit.then(
            "season",
            min(last.harm + UNHARDENED_HARM * condition.unhardened_k, ceiling.harm),
            min(last.kill + condition.unhardened_k, ceiling.kill),
            "roots are fully hardened only in midwinter (Lindström & Stattin 1994)",
        )
    limit = _own(limit, condition.tree.limits.root_frost_c, kill_beyond=-KILL_BELOW_FLOOR_K)
    floor, work = condition.aftercare.floor_c, condition.aftercare.roots
    if floor is not None and work is not None:
        last = limit.trail[-1]
        limit = limit.then(
            f"aftercare: {_dated(work)}",
            max(min(floor, FREEZING_C), last.harm),
            max(floor - KILL_BELOW_FLOOR_K, last.kill),
            PRACTICE,
            work,
        )
    return limit


def _chill(species: Species, own: OwnLimits) -> Limit | None:
    if species.limits.air_min is not None:
        limit = _from_species(species, "air_min", MeasuredOn.AIR)
        return _own(limit, own.air_min_c, kill_beyond=-5.0)
    if own.air_min_c is not None:
        harm = own.air_min_c
        return Limit(MeasuredOn.AIR, (Layer("own", harm, harm - 5.0, KEEPER),))
    return None


def _gust(species: Species, condition: Condition) -> Limit:
    tip = condition.tip_gust_ms
    limit = Limit(
        MeasuredOn.GUST,
        (Layer("tipping", TIP_WARNING * tip, tip, "moment balance, warned at 60 % of it"),),
    )
    limit = _own(limit, condition.tree.limits.gust_ms, kill_beyond=10.0)
    if condition.aftercare.loose:
        hold = TIED_GUST_MS if condition.tree.container.tied else LOOSE_GUST_MS
        how = "tied in" if condition.tree.container.tied else "standing loose"
        harm, kill = min(hold, limit.harm), min(2 * hold, limit.kill)
        limit = limit.then(f"fresh roots, {how}", harm, kill, PRACTICE)
    return limit


def _dry_wind(species: Species, condition: Condition) -> Limit | None:
    gust = species.limits.new_leaf_gust
    if gust is None or condition.stage is not Stage.LEAFING_OUT:
        return None
    layer = Layer("new leaves", gust.value, KILLING_DRY_WIND_MS, gust.source)
    return Limit(MeasuredOn.GUST, (layer,))


def _dry_vpd_kpa(species: Species) -> float:
    figure = species.limits.new_leaf_vapour
    return inf if figure is None else figure.value


def _scorch(species: Species, condition: Condition) -> Limit:
    limit = _from_species(species, "leaf_hot", MeasuredOn.LEAF)
    limit = _own(limit, condition.tree.limits.leaf_hot_c, kill_beyond=5.0)
    shelter = condition.aftercare.shelter
    if shelter:
        limit = _shifted(limit, -SCORCH_AFTER_WORK_K, f"aftercare: {_dated(shelter)}", shelter)
    return limit


def _bag(condition: Condition) -> Limit:
    green = condition.stage is not Stage.DORMANT
    pair = BAG_GREEN_C if green else BAG_DORMANT_C
    what = "buds moving under it" if green else "bare wood under it"
    return Limit(MeasuredOn.BAG, (Layer(what, *pair, PRACTICE),))


def _from_species(species: Species, field: str, measured: MeasuredOn) -> Limit:
    pair = getattr(species.limits, field)
    if not isinstance(pair, Pair):
        raise ValueError(f"{species.name} has no {field}")
    name = species.name if field in species.own else f"class {species.hardiness}"
    return Limit(measured, (Layer(name, pair.harm, pair.kill, pair.source),))


def _one(measured: MeasuredOn, pair: tuple[float, float], work: Work | None = None) -> Limit:
    what = f"after {_dated(work)}" if work else "all trees"
    return Limit(measured, (Layer(what, *pair, PRACTICE),))


def _shifted(limit: Limit, by_k: float, what: str, work: Work | None = None) -> Limit:
    return limit.then(what, limit.harm + by_k, limit.kill + by_k, PRACTICE, work)


def _own(limit: Limit, figure: float | None, kill_beyond: float) -> Limit:
    """Lay the keeper's figure over it; death follows ``kill_beyond`` further, as it is not told."""
    if figure is None:
        return limit
    return limit.then("own limit", figure, figure + kill_beyond, KEEPER)


def _dated(work: Work) -> str:
    return f"{work.work} on {work.at:%Y-%m-%d}"
