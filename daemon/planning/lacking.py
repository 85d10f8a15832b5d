"""Trees that no place in the garden keeps through the coldest night of earlier winters."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.outlook.past_years import usual_of
from underbench.daemon.outlook.prospects import places_of
from underbench.daemon.planning.round_up_line import RoundUpLine
from underbench.daemon.store.store import Store
from underbench.daemon.wording.units import Units
from underbench.daemon.wording.vocabulary import joined
from underbench.rules.advice.remedies import portable
from underbench.rules.course.course import follow
from underbench.rules.garden.journal import Stage
from underbench.rules.hazards.root_frost import ROOT_FROST
from underbench.rules.limits.layering import tender
from underbench.rules.physics.pots import in_ground
from underbench.rules.planning.cold_spell import cold_spell
from underbench.rules.planning.misgivings import northern_month
from underbench.rules.planning.past_years import PastDay
from underbench.rules.planning.winter import winter_of
from underbench.rules.weather.spread import known_site

AUTUMN = (9, 10, 11)
NEEDS = "a cool room, a cellar or a heated greenhouse"
WRAP = "wrap the pot where it stands, or pack it in bark or leaves"  # common practice, no source


@dataclass(frozen=True, slots=True)
class Lacking:
    """A tree, the warmest that its roots would be at any place here in such a cold spell, and the
    temperature from which they die, °C. ``heavy``: its pot is too heavy to be carried."""

    tree: str
    warmest_c: float
    kills_c: float
    heavy: bool = False


@dataclass(frozen=True, slots=True)
class Shortfall:
    """The trees that lack a place in the coldest night of the ``winters`` known, °C."""

    coldest_c: float
    winters: int
    trees: tuple[Lacking, ...]


def lacking(outlook: Outlook, store: Store) -> Shortfall | None:
    """Return the trees whose roots would die at every place here in the coldest spell known.

    Room is not counted: each tree is tried as if it were the only one. None where no earlier winter
    is known, or no tree lacks a place. Raises StoreError.
    """
    coldest, winters = usual_of(store, outlook.settings.garden).coldest(outlook.today)
    if coldest is None:
        return None
    found = tuple(_lacking(outlook, coldest))
    return Shortfall(coldest.low_c, winters, found) if found else None


def _lacking(outlook: Outlook, coldest: PastDay) -> Iterator[Lacking]:
    conditions = next(iter(outlook.course.conditions.values()))
    limits = {}
    for row, at in enumerate(outlook.standing):
        species = outlook.setting.species[at.tree.name]
        if not (at.lost or tender(species) or in_ground(at.tree.container)):
            midwinter = conditions[row]._replace(stage=Stage.DORMANT, unhardened_k=0.0, faded=0.0)
            limits[row] = ROOT_FROST.limit(species, midwinter)
    places = {row: places_of(outlook, row) for row, limit in limits.items() if limit is not None}
    if not places:
        return
    indices = [row for row, own in places.items() for _ in own]
    rows = [one for own in places.values() for one in own]
    weather = cold_spell(outlook.weather.times, coldest, outlook.settings.garden)
    start = outlook.state.take(indices)
    spell = follow(outlook.setting, rows, outlook.journal, start, weather, known_site())
    lows_c = spell.exposure.shell_c.min(axis=(1, 2))
    for row, limit in limits.items():
        own_c = lows_c[np.array(indices) == row]
        if limit is not None and own_c.size and own_c.max() < limit.kill:
            tree = outlook.standing[row].tree
            heavy = not portable(tree.container, outlook.settings.means)
            yield Lacking(tree.name, float(own_c.max()), limit.kill, heavy)


def lacking_line(outlook: Outlook, store: Store) -> list[RoundUpLine]:
    """Return the line on what is lacking, once in autumn, while there is time to find a place.

    Raises StoreError.
    """
    latitude = outlook.settings.garden.latitude
    duty = f"winter {winter_of(outlook.today, latitude).year} places weighed"
    month = northern_month(outlook.today, latitude)
    if month not in AUTUMN or store.duties.last_done(duty) is not None:
        return []
    short = lacking(outlook, store)
    return [RoundUpLine(words_on(short, Units(outlook.settings.units)), (duty,))] if short else []


def words_on(short: Shortfall, units: Units) -> str:
    """Return what is lacking as a sentence."""
    known = "the last winter" if short.winters == 1 else f"{short.winters} winters"
    night = f"in a night of {units.temp_whole(short.coldest_c)}, the coldest of {known}"
    every = joined([_named(one, units) for one in short.trees])
    light, heavy = ([t.tree for t in short.trees if t.heavy is one] for one in (False, True))
    sentences = [f"No place here keeps the roots of {every} alive {night}."]
    if light:
        sentences.append(f"{joined(light)} {'needs' if len(light) == 1 else 'need'} {NEEDS}.")
    if heavy:
        are = "is" if len(heavy) == 1 else "are"
        sentences.append(f"{joined(heavy)} {are} too heavy to carry: {WRAP}.")
    return " ".join(sentences)


def _named(one: Lacking, units: Units) -> str:
    return f"{one.tree} (they die from {units.temp_whole(one.kills_c)})"
