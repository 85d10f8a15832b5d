"""Making a reading of what a keeper, a file or a device says, or saying what was expected."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

from underbench.daemon.config.settings import Settings
from underbench.daemon.faults import Fault
from underbench.daemon.journal.lookup import named
from underbench.daemon.wording.reading_units import LONGEST_SHOWN, NoReading, shown, value_of
from underbench.daemon.wording.units import UnitSystem
from underbench.rules.garden.readings import OF_A_TREE, Quantity, Reading

AHEAD = timedelta(minutes=10)  # so far a device's clock may be fast
EARLIEST_YEAR = 1970
FIELDS = ("at", "quantity", "spot", "tree", "value")


@dataclass(frozen=True, slots=True)
class Known:
    """What a reading may name, and the units in which numbers without a unit are meant."""

    units: UnitSystem
    spots: tuple[str, ...]
    trees: tuple[str, ...]

    @classmethod
    def of(cls, settings: Settings) -> Known:
        """Return what is known in a garden."""
        trees = tuple(tree.name for tree in settings.trees)
        return cls(settings.units, tuple(settings.spots), trees)

    def reading(
        self, fields: Mapping[str, Any], source: str, now: datetime, unit: str | None = None
    ) -> Reading:
        """Return the reading that ``fields`` make: ``quantity`` and ``value``, and if given ``at``
        (ISO 8601, UTC unless it says otherwise; else it is ``now``), ``spot`` and ``tree``.

        A value without a unit is in ``unit``, else in the garden's. Raises NoReading.
        """
        for name in fields:
            if name not in FIELDS:
                raise NoReading(f"{shown(name)}: expected only {', '.join(FIELDS)}")
        quantity = quantity_named(_text(fields, "quantity"))
        value = value_of(fields.get("value"), quantity, self.units, unit)
        spot = _one_of("spot", _text(fields, "spot"), self.spots)
        tree = _one_of("tree", _text(fields, "tree"), self.trees)
        if quantity in OF_A_TREE and tree is None:
            raise NoReading(f"{quantity}: expected the tree it is measured at")
        return Reading(moment_of(_text(fields, "at"), now), quantity, value, spot, tree, source)


def quantity_named(name: str) -> Quantity:
    """Return the quantity of that name; raises NoReading."""
    wanted = name[:LONGEST_SHOWN].replace("_", "-").replace(" ", "-")
    found = _one_of("quantity", wanted, [one.value for one in Quantity])
    if found is None:
        raise NoReading(f"quantity: expected one of {', '.join(Quantity)}")
    return Quantity(found)


def moment_of(text: str, now: datetime) -> datetime:
    """Return the moment of an ISO 8601 text (UTC unless it says otherwise; empty: ``now``).

    Raises NoReading for what is none, and for one before 1970 or ahead of ``now``.
    """
    try:
        at = datetime.fromisoformat(text) if text else now
        at = at.replace(tzinfo=UTC) if at.tzinfo is None else at.astimezone(UTC)
    except (ValueError, OverflowError):
        raise NoReading(
            f"{shown(text)}: expected a moment such as 2027-01-15T06:30Z or 2027-01-15T07:30+01:00"
        ) from None
    if at.year < EARLIEST_YEAR or at > now + AHEAD:
        raise NoReading(f"{shown(text)}: expected a moment since {EARLIEST_YEAR}, not one to come")
    return at.replace(microsecond=0)


def _text(fields: Mapping[str, Any], name: str) -> str:
    said = fields.get(name)
    if said is not None and not isinstance(said, str):
        raise NoReading(f"{name}: expected text, not {shown(said)}")
    return " ".join((said or "").split())


def _one_of(what: str, name: str, known: Iterable[str]) -> str | None:
    """The one of ``known`` that is meant, however typed; None for an empty name."""
    if not name:
        return None
    try:
        return named(what, name[:LONGEST_SHOWN], {one: one for one in known})
    except Fault as fault:
        raise NoReading(str(fault)) from None
