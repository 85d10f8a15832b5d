"""What a tree can bear in one hour: layers of limits, and the trail of where each comes from.

Class → species → the keeper's own figures (class → species → spot → tree) → stage → aftercare.
Every limit names what it is measured on; a figure of one kind is never compared with an exposure
of another.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime
from functools import lru_cache
from math import inf
from typing import NamedTuple

from underbench.rules.garden.inventory import OwnLimits, Spot, Tree
from underbench.rules.garden.journal import Opening, Stage, Work
from underbench.rules.limits.aftercare import Aftercare
from underbench.rules.limits.limit import Layer, Limit, MeasuredOn
from underbench.rules.physics.moss import Moss
from underbench.rules.plants.hardiness_ratings import rating
from underbench.rules.plants.species import Kind, Species
from underbench.rules.plants.species import Span as Pair

PRACTICE = "common practice, no source"
KEEPER = "the keeper"
HARDENING = "course of Ferguson et al. 2014, which is of vines"

SOFT_SHOOTS_K = 1.5
CUT_ROOTS_K = 0.7  # leaves on roots just cut; judgement: most growers bring such a tree in
KILL_BELOW_FLOOR_K = 3.0
FREEZING_C = -0.3  # a floor of 0 °C means no ice at the roots; nearer to 0 the models cannot tell
SCORCH_AFTER_WORK_K = 3.0
# Roots not yet hardened die well short of their midwinter figure, but are hurt little sooner:
# judgement, so that an ordinary October night is no alarm.
UNHARDENED_HARM = 0.4
HARDENING_K = 5.0  # of roots in autumn, for which ``Condition.unhardened_k`` is given
LOOSE_GUST_MS = 10.0  # an ordinary tree of 60 cm; see `underbench.rules.physics.wind.rocking_share`
TIED_GUST_MS = 15.0
# A stem ringed for a layer hangs on its wood alone and is to be propped: common practice; the
# figures are judgement.
GIRDLED_GUST_MS = (14.0, 25.0)
TIP_WARNING = 0.6
KILLING_DRY_WIND_MS = 40.0  # wind scorches new leaves; it does not kill the tree
FIRST_SUN_WM2 = (300.0, 600.0)
FROZEN_HOURS = (48.0, 240.0)
MOSS_LEFT = (0.35, 0.0)  # dry to the touch; new roots die before the trunk does
BAG_DORMANT_C = (35.0, 42.0)
BAG_GREEN_C = (28.0, 35.0)


@dataclass(frozen=True, slots=True)
class Bearing:
    """All limits of one tree for one day; None where a hazard does not apply to it.

    A tree that cold air harms well above freezing has no frost limits beside: it goes in by then.

    ``dry_vpd_kpa``: the air is dry enough from there for wind to scorch new leaves.
    """

    frost: Limit | None
    sap: Limit | None
    roots: Limit | None
    air: Limit | None
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
    moss: Limit | None


class Condition(NamedTuple):  # one a tree and day: a dataclass takes four times as long to make
    """What the limits depend on beside the species: the tree as it stands that day.

    ``unhardened_k``: how far mature roots are from midwinter hardiness; ``faded`` the share of
    theirs that tops lack, 0..1, and ``sap_moving`` whether warm days since midwinter took it;
    ``tip_gust_ms``: gust at the bench that tips it; ``rocking_share``: gust that rocks it on loose
    roots over an ordinary tree's; ``spot``: whose own limits hold for it; ``moss``: of the layer
    on it; ``there_since`` when it was carried to where it stands, None when it belongs there.
    """

    tree: Tree
    stage: Stage
    aftercare: Aftercare
    unhardened_k: float
    tip_gust_ms: float
    rocking_share: float = 1.0
    spot: Spot | None = None
    faded: float = 0.0
    sap_moving: bool = False
    moss: Moss | None = None
    there_since: datetime | None = None

    @property
    def keeper(self) -> Iterator[tuple[str, OwnLimits]]:
        """The keeper's own limits and what they are for: class, species, spot, then the tree.

        Only those that set a figure: most trees have none."""
        yield from ((kin.of, kin.limits) for kin in self.tree.kin_limits)
        if self.spot is not None and self.spot.limits.model_fields_set:
            yield f"your spot {self.spot.name}", self.spot.limits
        if self.tree.limits.model_fields_set:
            yield "own limit", self.tree.limits

    @property
    def in_leaf(self) -> bool:
        """Whether leaves are open on it."""
        return self.stage in (Stage.LEAFING_OUT, Stage.HARDENED, Stage.COLOURING, Stage.EXTENDING)


def bearing(species: Species, condition: Condition) -> Bearing:
    """Return what a tree of ``species`` in ``condition`` can bear."""
    # Only the gust goes by how wet the pot is, which is otherwise each day and each pass.
    in_any_wind = condition._replace(tip_gust_ms=inf, rocking_share=1.0)
    return replace(_in_any_wind(species, in_any_wind), gust=_gust(species, condition))


@lru_cache(maxsize=2048)  # some hundreds of trees through the days of a forecast
def _in_any_wind(species: Species, condition: Condition) -> Bearing:
    care = condition.aftercare
    tender, dry = species.limits.air_min is not None, species.limits.new_leaf_vapour
    leafy = condition.in_leaf or species.limits.kind in _EVERGREEN
    hot_roots = _from_species(species, "roots_hot", MeasuredOn.SHELL)
    return Bearing(
        frost=None if tender else _frost(species, condition),
        sap=None if tender else _sap(species, condition),
        roots=None if tender else _roots(species, condition),
        air=None if tender else _air(species, condition),
        chill=_air(species, condition) if tender else None,
        gust=_gust(species, condition),
        dry_wind=_dry_wind(species, condition),
        dry_vpd_kpa=inf if dry is None else dry.value,
        frozen=_one(MeasuredOn.FROZEN, FROZEN_HOURS) if _keeps_needles(species) else None,
        scorch=_scorch(species, condition) if leafy and not care.bag else None,
        first_sun=_first_sun(species, condition),
        hot_roots=_own(hot_roots, condition, "root_hot_c"),
        bag=_bag(condition.stage, care.bag.opening) if care.bag else None,
        water=_from_species(species, "water_left", MeasuredOn.WATER),
        moss=_one(MeasuredOn.MOSS, MOSS_LEFT) if condition.moss else None,
    )


_EVERGREEN = (Kind.BROADLEAF_EVERGREEN, Kind.CONIFER_EVERGREEN, Kind.TROPICAL)


def _keeps_needles(species: Species) -> bool:
    return species.limits.kind in (Kind.BROADLEAF_EVERGREEN, Kind.CONIFER_EVERGREEN)


def _frost(species: Species, condition: Condition) -> Limit:
    field, measured = _frost_field(species, condition.stage)
    limit = _from_species(species, field, measured)
    told = len(limit.trail)
    limit = _own(limit, condition, f"{field}_c")
    rated = _rated(condition.tree)
    if rated and field == "dormant_tops" and len(limit.trail) == told:
        # A rating speaks of air, not of wood; the keeper's own figure for wood says more.
        limit = Limit(MeasuredOn.AIR, (rated,))
    if field == "dormant_tops":
        limit = _faded(limit, species, condition)
    soft, shelter = condition.aftercare.soft_shoots, condition.aftercare.shelter
    if soft and measured is MeasuredOn.LEAF:
        limit = _shifted(limit, SOFT_SHOOTS_K, f"soft shoots after {_dated(soft)}", soft)
    if shelter and not soft and measured is MeasuredOn.LEAF:
        limit = _shifted(limit, CUT_ROOTS_K, f"aftercare: {_dated(shelter)}", shelter)
    return limit


def _rated(tree: Tree) -> Layer | None:
    """What the rating a tree was sold with says of the air it bears at rest."""
    rated = rating(tree.hardiness) if tree.hardiness else None
    if rated is None:
        return None
    return Layer(f"rated {rated.text}", rated.harm_c, rated.kill_c, rated.source)


def _sap(species: Species, condition: Condition) -> Limit | None:
    """What wood still bare bears once warm days have set its sap moving."""
    bare = condition.stage in (Stage.DORMANT, Stage.BUD_SWELL) and species.limits.leafless
    if not bare or not condition.sap_moving:
        return None
    limit = _from_species(species, "dormant_tops", MeasuredOn.WOOD)
    limit = _own(limit, condition, "dormant_tops_c")
    return _faded(limit, species, condition)


def _faded(limit: Limit, species: Species, condition: Condition) -> Limit:
    """Lay over it what autumn has yet to bring, or warm days took: at most down to what a swelling
    bud, or an evergreen's ripe leaf, bears."""
    if not condition.faded:
        return limit
    kin = species.limits
    soft = kin.bud_frost or kin.hardened_frost or kin.leaf_frost
    why = "warm days have set the sap moving" if condition.sap_moving else "not fully hardened"
    return limit.then(
        why,
        limit.harm + condition.faded * max(soft.harm - limit.harm, 0.0),
        limit.kill + condition.faded * max(soft.kill - limit.kill, 0.0),
        HARDENING,
    )


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
    soft_k = condition.unhardened_k * species.limits.roots_hardening_k.value / HARDENING_K
    if soft_k > 0:
        ceiling = species.limits.roots_young
        last = limit.trail[-1]
        limit = limit.then(
            "season",
            min(last.harm + UNHARDENED_HARM * soft_k, ceiling.harm),
            min(last.kill + soft_k, ceiling.kill),
            "roots are fully hardened only in midwinter (Lindström & Stattin 1994)",
        )
    limit = _own(limit, condition, "root_frost_c")
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


def _air(species: Species, condition: Condition) -> Limit | None:
    """A grower's air figures, of the air at the spot; over those of its class if it is tender."""
    limit, rated = Limit(MeasuredOn.AIR, ()), _rated(condition.tree)
    if species.limits.air_min is not None:
        known = _from_species(species, "air_min", MeasuredOn.AIR).trail
        limit = Limit(MeasuredOn.AIR, (*known, rated) if rated else known)
    limit = _own(limit, condition, "air_min_c")
    return limit if limit.trail else None


def _gust(species: Species, condition: Condition) -> Limit:
    tip = condition.tip_gust_ms
    limit = Limit(
        MeasuredOn.GUST,
        (Layer("tipping", TIP_WARNING * tip, tip, "moment balance, warned at 60 % of it"),),
    )
    limit = _own(limit, condition, "gust_ms")
    if condition.aftercare.loose:
        hold = TIED_GUST_MS if condition.tree.container.tied else LOOSE_GUST_MS
        hold *= condition.rocking_share
        how = "tied in" if condition.tree.container.tied else "standing loose"
        harm, kill = min(hold, limit.harm), min(2 * hold, limit.kill)
        limit = limit.then(f"fresh roots, {how}", harm, kill, PRACTICE)
    girdled = condition.aftercare.girdled
    if girdled:
        harm, kill = min(GIRDLED_GUST_MS[0], limit.harm), min(GIRDLED_GUST_MS[1], limit.kill)
        limit = limit.then(f"stem ringed: {_dated(girdled)}", harm, kill, PRACTICE, girdled)
    return limit


def _dry_wind(species: Species, condition: Condition) -> Limit | None:
    gust = species.limits.new_leaf_gust
    if gust is None or condition.stage is not Stage.LEAFING_OUT:
        return None
    layer = Layer("new leaves", gust.value, KILLING_DRY_WIND_MS, gust.source)
    return Limit(MeasuredOn.GUST, (layer,))


def _scorch(species: Species, condition: Condition) -> Limit:
    limit = _from_species(species, "leaf_hot", MeasuredOn.LEAF)
    limit = _own(limit, condition, "leaf_hot_c")
    shelter = condition.aftercare.shelter
    if shelter:
        limit = _shifted(limit, -SCORCH_AFTER_WORK_K, f"aftercare: {_dated(shelter)}", shelter)
    return limit


def _first_sun(species: Species, condition: Condition) -> Limit | None:
    """Only of leaves that came under the bag: an evergreen's ripe ones have met the sun before."""
    care, grows = condition.aftercare, condition.stage in (Stage.LEAFING_OUT, Stage.EXTENDING)
    evergreen = species.limits.kind in _EVERGREEN
    soft = grows or care.sprouted_in_bag if evergreen else condition.in_leaf
    aired = care.after_bag if soft else None
    return _one(MeasuredOn.SUN, FIRST_SUN_WM2, aired) if aired else None


def _bag(stage: Stage, opening: Opening) -> Limit:
    """Buds moving in close, steaming air bear less than wood; in an open bag the air moves."""
    if stage is Stage.DORMANT:
        what, pair = "bare wood under it", BAG_DORMANT_C
    elif opening is Opening.OPEN:
        what, pair = "green in moving air", BAG_DORMANT_C
    else:
        what, pair = "buds moving under it", BAG_GREEN_C
    return Limit(MeasuredOn.BAG, (Layer(what, *pair, PRACTICE),))


@lru_cache(maxsize=4096)
def _from_species(species: Species, field: str, measured: MeasuredOn) -> Limit:
    trail = tuple(
        Layer(who, pair.harm, pair.kill, pair.source)
        for who, pair in species.said(field)
        if isinstance(pair, Pair)
    )
    if not trail:
        raise ValueError(f"{species.name} has no {field}")
    return Limit(measured, trail)


def _one(measured: MeasuredOn, pair: tuple[float, float], work: Work | None = None) -> Limit:
    what = f"after {_dated(work)}" if work else "all trees"
    return Limit(measured, (Layer(what, *pair, PRACTICE),))


def _shifted(limit: Limit, by_k: float, what: str, work: Work | None = None) -> Limit:
    return limit.then(what, limit.harm + by_k, limit.kill + by_k, PRACTICE, work)


def _own(limit: Limit, condition: Condition, name: str) -> Limit:
    """Lay the keeper's figures, which are of harm, over it.

    The kill stays that of what lies beneath, or goes on by what the keeper's figure is hardier;
    of cold air on a hardy tree there is nothing beneath, and none.
    """
    harm, kill = (limit.harm, limit.kill) if limit.trail else (inf, -inf)
    beyond = min if kill < harm else max
    for of, figure in ((of, getattr(own, name)) for of, own in condition.keeper):
        if figure is not None:
            limit = limit.then(of, figure, kill + beyond(figure - harm, 0.0), KEEPER)
    return limit


def _dated(work: Work) -> str:
    return f"{work.work} on {work.at:%Y-%m-%d}"
