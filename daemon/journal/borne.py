"""What noted nights say of a tree's own limit of cold, and taking that into the garden's file."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from underbench.daemon.config.limits_table import LimitsTable
from underbench.daemon.config.settings import Settings
from underbench.daemon.journal import garden_edit
from underbench.daemon.outlook.garden_now import species_of
from underbench.daemon.store.store import Store
from underbench.daemon.wording.units import Units, f_from_c
from underbench.daemon.wording.vocabulary import joined
from underbench.rules.garden.inventory import Tree
from underbench.rules.garden.journal import Entry, Fate, Outcome
from underbench.rules.limits.borne import Noted, proposed_c
from underbench.rules.limits.condition import keeper_limits
from underbench.rules.plants.species import Span

MOST_NIGHTS = 6  # named in words, the last ones
_HURT = {
    "leaf_frost_c": "its open leaves are",
    "bud_frost_c": "its swelling buds are",
    "hardened_frost_c": "its ripe leaves are",
    "dormant_tops_c": "its wood and buds at rest are",
}


@dataclass(frozen=True, slots=True)
class Told:
    """One night that was noted: its day, and what it says."""

    night: date
    noted: Noted


@dataclass(frozen=True, slots=True)
class Proposal:
    """A limit that a tree's noted nights ask for: ``key`` as the file has it in °C, from what it is
    now to what it may become, °C."""

    tree: str
    key: str
    now_c: float
    to_c: float
    nights: tuple[Told, ...]

    def words(self, units: Units) -> str:
        """Return what was seen, what follows, the line to write, and the command that writes it."""
        key, number = in_file(self.key, self.to_c, units)
        hurt = _HURT[self.key]
        now, to = units.temp(self.now_c), units.temp(self.to_c)
        return (
            f"{self.tree}: {nights_words(self.nights, units)}. So {hurt} harmed from {to}, it"
            f" seems, not from {now}. To take that on: underbench accept {self.tree}"
            f" (or write {key} = {number:g} in its limits)."
        )


def proposals(store: Store, settings: Settings, trees: Sequence[Tree]) -> list[Proposal]:
    """Return what the noted nights of ``trees`` ask for; nothing is changed."""
    entries = store.journal.entries()
    return [one for tree in trees for one in _of(settings, tree, entries)]


def noted_lines(settings: Settings, tree: Tree, entries: Sequence[Entry]) -> list[str]:
    """Return what the noted nights of a tree say of each of its limits, in a line each: what they
    ask for, or that they leave it as it is."""
    units, asked = Units(settings.units), {one.key: one for one in _of(settings, tree, entries)}
    lines = []
    for key, nights in noted_nights(entries, tree.name).items():
        seen = f"You noted of it: {nights_words(nights, units)}. That leaves {key} as it is."
        lines.append(asked[key].words(units) if key in asked else seen)
    return lines


def noted_nights(entries: Sequence[Entry], tree: str) -> dict[str, list[Told]]:
    """Return the noted nights of a tree that say something of a limit, by its key, oldest first. Of
    several notes on a night the last holds."""
    found: dict[str, dict[date, Told]] = {}
    outcomes = (one for one in entries if isinstance(one, Outcome) and one.tree == tree)
    for one in outcomes:
        if one.figure is not None and one.felt is not None:
            noted = Noted(one.felt, one.fate is not Fate.FINE)
            found.setdefault(one.figure, {})[one.night] = Told(one.night, noted)
    return {key: [own[night] for night in sorted(own)] for key, own in found.items()}


def figure_now(settings: Settings, tree: Tree, key: str, field: str | None) -> float | None:
    """Return the value that holds for a tree: the keeper's own, the nearest to the tree, else the
    species' in ``field``. None if there is neither."""
    own = (getattr(one, key) for _, one in keeper_limits(tree, settings.spots[tree.spot]))
    given = [value for value in own if value is not None]
    return float(given[-1]) if given else _of_species(tree, field)


def accept(store: Store, settings: Settings, trees: Sequence[Tree]) -> list[Proposal]:
    """Write into the garden's file what the noted nights of ``trees`` ask for, and return it.

    Raises Fault if the file cannot be changed.
    """
    found, units = proposals(store, settings, trees), Units(settings.units)
    for one in found:
        key, number = in_file(one.key, one.to_c, units)
        others = {name for pair in LimitsTable.alternatives if one.key in pair for name in pair}
        values = dict.fromkeys(others) | {key: number}
        seen = garden_edit.seen(settings.file)
        garden_edit.change_limits(settings.file, one.tree, values, seen)
    return found


def written(one: Proposal, units: Units) -> str:
    """Return the line that was written for a proposal."""
    key, number = in_file(one.key, one.to_c, units)
    return f"{key} = {number:g} for {one.tree}"


def in_file(key: str, value_c: float, units: Units) -> tuple[str, float]:
    """Return the key and the number that this keeper's file has for a limit."""
    if units.system != "us":
        return key, value_c
    return dict(LimitsTable.alternatives)[key], round(f_from_c(value_c), 1)


def nights_words(nights: Sequence[Told], units: Units) -> str:
    """Return what was noted of nights: "damaged at −1.9 °C (23 Apr), fine at −3.1 °C (2 May)"."""
    return joined(
        [
            f"{'damaged' if one.noted.damaged else 'fine'} at {units.temp(one.noted.felt_c)} "
            f"({one.night.day} {one.night:%b})"
            for one in nights[-MOST_NIGHTS:]
        ]
    )


def _of(settings: Settings, tree: Tree, entries: Sequence[Entry]) -> Iterator[Proposal]:
    for key, nights in noted_nights(entries, tree.name).items():
        field = key.removesuffix("_c")
        figure, now = _of_species(tree, field), figure_now(settings, tree, key, field)
        if figure is None or now is None:
            continue
        to = proposed_c(figure, now, [one.noted for one in nights])
        if to is not None:
            yield Proposal(tree.name, key, now, to, tuple(nights))


def _of_species(tree: Tree, field: str | None) -> float | None:
    pair = getattr(species_of(tree).limits, field) if field else None
    return pair.harm if isinstance(pair, Span) else None
