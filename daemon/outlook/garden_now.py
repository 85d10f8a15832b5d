"""The garden as it is at a moment: its trees, their species, and the journal up to then."""

from __future__ import annotations

from datetime import datetime
from functools import lru_cache

from underbench.daemon.config.group_limits import laid_on
from underbench.daemon.config.settings import Settings
from underbench.daemon.store.store import Store
from underbench.rules.course.inputs import Setting
from underbench.rules.garden.inventory import Tree
from underbench.rules.garden.journal import Entry, Move, inventory
from underbench.rules.garden.local_time import LONG_AGO
from underbench.rules.plants.species import Species, hardiness_class, of_class
from underbench.rules.plants.species_lookup import find


def grown(settings: Settings, store: Store, now: datetime | None = None) -> Settings:
    """Return the settings with the trees there are at ``now`` (None: ever noted).

    These are the configured trees and those that layers and divisions became. Raises StoreError.
    """
    entries = store.journal.entries(now)
    last = now or max((entry.at for entry in entries), default=LONG_AGO)
    made = inventory(settings.trees, entries, last)[len(settings.trees) :]
    found = [laid_on(_rehomed(tree, settings), settings.kin)[0] for tree in made]
    return settings.model_copy(update={"trees": (*settings.trees, *found)})


def _rehomed(tree: Tree, settings: Settings) -> Tree:
    """Give a tree that a work made a home if the settings no longer have its spot.

    It belongs where its parent does, or else at the first spot.
    """
    if tree.spot in settings.spots:
        return tree
    homes = {other.name: other.spot for other in settings.trees}
    spot = homes.get(tree.parent or "", next(iter(settings.spots)))
    return tree.model_copy(update={"spot": spot})


def setting_of(settings: Settings) -> Setting:
    """Return the garden as the rules see it."""
    return Setting(
        garden=settings.garden,
        spots=settings.spots,
        species={tree.name: species_of(tree) for tree in settings.trees},
        routines=settings.routines,
        hands_on=settings.hands_on,
    )


def species_of(tree: Tree) -> Species:
    """Return a tree's species or cultivar, or its hardiness class where it names one.

    Raises ValueError for an unknown species, which settings do not let through.
    """
    return _kind_of(tree.species, tree.cultivar, tree.hardiness)


@lru_cache(maxsize=1024)  # so that trees of one kind share one species, pass after pass
def _kind_of(species: str, cultivar: str, hardiness: str | None) -> Species:
    limits = hardiness_class(hardiness) if hardiness else None
    if limits is not None:
        return of_class(species, limits)
    known = find(species, cultivar)
    if known is None:
        raise ValueError(f"unknown species {species}")
    return known


def journal_at(settings: Settings, store: Store, now: datetime) -> tuple[Entry, ...]:
    """Return the journal up to ``now``, its trees spelt as the settings spell them.

    A move to a spot that the settings no longer have counts as a move home: a tree judged in the
    open gets its warning too early, not too late.
    """
    known = {tree.name.casefold(): tree for tree in settings.trees}

    def as_known(entry: Entry) -> Entry:
        tree = known.get(entry.tree.casefold())
        if tree is None:
            return entry
        changed: dict[str, str] = {} if tree.name == entry.tree else {"tree": tree.name}
        if isinstance(entry, Move) and entry.spot not in settings.spots:
            changed["spot"] = tree.spot
        return entry.model_copy(update=changed) if changed else entry

    return tuple(as_known(entry) for entry in store.journal.entries(now))
