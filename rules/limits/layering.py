"""How limits are laid: a species' figure first, then the keeper's own, then what a work moves.

Class → species → the keeper's own figures (class → species → spot → tree) → stage → aftercare.
"""

from __future__ import annotations

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
    """Return whether cold air harms it well above freezing: it is in before any frost."""
    return species.limits.air_min is not None


def from_species(species: Species, field: str, measured: MeasuredOn) -> Limit:
    """Return what a species, and its class before it, say in ``field``. Raises ValueError where
    neither says anything."""
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

    The kill stays that of what lies beneath, or goes on by what the keeper's figure is hardier;
    of cold air on a hardy tree there is nothing beneath, and none.
    """
    harm, kill = (limit.harm, limit.kill) if limit.trail else (inf, -inf)
    beyond = min if kill < harm else max
    for of, figure in ((of, getattr(own, name)) for of, own in condition.keeper):
        if figure is not None:
            limit = limit.then(of, figure, kill + beyond(figure - harm, 0.0), KEEPER)
    return limit


def rated(tree: Tree) -> Layer | None:
    """Return what the rating a tree was sold with says of the air it bears at rest."""
    found = rating(tree.hardiness) if tree.hardiness else None
    if found is None:
        return None
    return Layer(f"rated {found.text}", found.harm_c, found.kill_c, found.source)


def shifted(limit: Limit, by_k: float, what: str, work: Work | None = None) -> Limit:
    """Lay over a limit that it is tenderer by so many K."""
    return limit.then(what, limit.harm + by_k, limit.kill + by_k, PRACTICE, work)


def dated(work: Work) -> str:
    """Return a work and its day, as a trail names them."""
    return f"{work.work} on {work.at:%Y-%m-%d}"
