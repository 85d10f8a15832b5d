"""How limits are laid: a species' figure first, then the keeper's own, then aftercare's.

Class → species → the keeper's own figures (class → species → spot → tree) → stage → aftercare.
"""

from __future__ import annotations

from functools import cache
from math import inf

from underbench.rules.garden.inventory import Tree
from underbench.rules.garden.journal import Work
from underbench.rules.limits.condition import Condition
from underbench.rules.limits.limit import Layer, Limit, MeasuredOn
from underbench.rules.plants.hardiness_ratings import rating
from underbench.rules.plants.species import Kind, Span, Species

PRACTICE = "common practice, no source"
KEEPER = "the keeper"
EVERGREEN = (Kind.BROADLEAF_EVERGREEN, Kind.CONIFER_EVERGREEN, Kind.TROPICAL)


def tender(species: Species) -> bool:
    """Return whether cold air harms the species well above freezing. Such trees are in before any
    frost."""
    return species.limits.air_min is not None


@cache  # a species' figures are asked for with every tree, night and place
def from_species(species: Species, field: str, measured: MeasuredOn) -> Limit:
    """Return the figures of a species' class and of the species itself in ``field``. Raises
    ValueError if neither has any."""
    trail = tuple(
        Layer(who, pair.harm, pair.kill, pair.source)
        for who, pair in species.said(field)
        if isinstance(pair, Span)
    )
    if not trail:
        raise ValueError(f"{species.name} has no {field}")
    return Limit(measured, trail)


def for_all(measured: MeasuredOn, pair: tuple[float, float], work: Work | None = None) -> Limit:
    """Return a limit that is the same for all trees, or for all after a ``work``."""
    what = f"after {dated(work)}" if work else "all trees"
    return Limit(measured, (Layer(what, *pair, PRACTICE),))


def own(limit: Limit, condition: Condition, name: str) -> Limit:
    """Lay the keeper's figures, which are of harm, over a limit.

    The kill stays as it was beneath. If the keeper's harm is hardier by some K, the kill becomes
    hardier by as much. A hardy tree has no limit of cold air beneath, and so no kill.
    """
    harm, kill = (limit.harm, limit.kill) if limit.trail else (inf, -inf)
    beyond = min if kill < harm else max
    for of, figure in ((of, getattr(own, name)) for of, own in condition.keeper):
        if figure is not None:
            limit = limit.then(of, figure, kill + beyond(figure - harm, 0.0), KEEPER)
    return limit


def rated(tree: Tree) -> Layer | None:
    """Return the air that a tree bears at rest by the rating it was sold with; None without one."""
    found = rating(tree.hardiness) if tree.hardiness else None
    if found is None:
        return None
    return Layer(f"rated {found.text}", found.harm_c, found.kill_c, found.source)


def shifted(limit: Limit, by_k: float, what: str, work: Work | None = None) -> Limit:
    """Lay over a limit one that is higher by ``by_k`` K."""
    return limit.then(what, limit.harm + by_k, limit.kill + by_k, PRACTICE, work)


def dated(work: Work) -> str:
    """Return a work and its day in the words of a trail."""
    return f"{work.work} on {work.at:%Y-%m-%d}"
