"""What a number of a reading means: in the unit it names, else in the garden's."""

from __future__ import annotations

import math
import re
from typing import Any

from underbench.daemon.faults import Fault
from underbench.daemon.wording.units import F_AT_0_C, F_PER_K, MS_PER_MPH, Units, UnitSystem
from underbench.rules.garden.readings import Quantity

MM_PER_INCH = 25.4  # exact: NIST Special Publication 811 (2008), appendix B
MS_PER_KMH = 1 / 3.6
LONGEST_SHOWN = 40
MOST = 1e9  # beyond this no number is of anything measured, and an integer may not fit a float

_NUMBER = re.compile(r"([-+−]?\d+(?:[.,]\d+)?|[-+−]?[.,]\d+)\s*(°?[A-Za-z/]*)", re.ASCII)
# What a unit's zero is in °C, mm or m/s, and its step.
_TEMPERATURE = {"C": (0.0, 1.0), "F": (-F_AT_0_C / F_PER_K, 1 / F_PER_K)}
_UNITS: dict[Quantity, dict[str, tuple[float, float]]] = {
    Quantity.RAIN: {"mm": (0.0, 1.0), "in": (0.0, MM_PER_INCH)},
    Quantity.WIND: {"m/s": (0.0, 1.0), "km/h": (0.0, MS_PER_KMH), "mph": (0.0, MS_PER_MPH)},
}
_USUAL: dict[Quantity, dict[UnitSystem, str]] = {
    Quantity.RAIN: {"metric": "mm", "us": "in"},
    Quantity.WIND: {"metric": "m/s", "us": "mph"},
}
_EXAMPLES: dict[Quantity, dict[UnitSystem, str]] = {
    Quantity.RAIN: {"metric": "2.5", "us": "0.1"},
    Quantity.WIND: {"metric": "3.5", "us": "8"},
}


class NoReading(Fault):
    """What was said is no reading; the text says what was expected."""


def units_of(quantity: Quantity) -> tuple[str, ...]:
    """Return the units in which a quantity may be given."""
    return tuple(_UNITS.get(quantity, _TEMPERATURE))


def value_of(said: Any, quantity: Quantity, units: UnitSystem, unit: str | None = None) -> float:
    """Return what a number, or a text such as "31F", means in °C, mm or m/s.

    Without a unit of its own it is in ``unit``, else in the garden's. Raises NoReading.
    """
    found = _number_in(said)
    known = {name.casefold(): scale for name, scale in _UNITS.get(quantity, _TEMPERATURE).items()}
    usual = _USUAL.get(quantity, {"metric": "C", "us": "F"})[units]
    named = ((found and found[1]) or unit or usual).casefold()
    if not found or named not in known:
        example = _EXAMPLES.get(quantity, {"metric": "-2.5", "us": "27.5"})[units]
        raise NoReading(
            f"{shown(said)}: expected a number, such as {example}, alone or with its unit "
            f"({', '.join(units_of(quantity))})"
        )
    zero, step = known[named]
    value = zero + step * found[0]
    if quantity in _UNITS and value < 0:
        raise NoReading(f"{shown(said)}: expected 0 or more")
    return value


def _number_in(said: Any) -> tuple[float, str] | None:
    """The number said, and its unit (empty: none); None where no number is."""
    if is_number(said):
        return float(said), ""
    text = said.strip() if isinstance(said, str) and len(said) <= LONGEST_SHOWN else ""
    found = _NUMBER.fullmatch(text)
    if not found:
        return None
    return float(found[1].replace("−", "-").replace(",", ".")), found[2].lstrip("°")


def written(value: float, quantity: Quantity, units: UnitSystem) -> str:
    """Return a reading's value as the keeper reads it."""
    if quantity is Quantity.RAIN:
        return f"{value / MM_PER_INCH:.2f} in" if units == "us" else f"{value:.1f} mm"
    if quantity is Quantity.WIND:
        return f"{value / MS_PER_MPH:.1f} mph" if units == "us" else f"{value:.1f} m/s"
    return Units(units).temp(value)


def is_number(said: Any) -> bool:
    """Whether something read from JSON is a number of use."""
    if isinstance(said, bool) or not isinstance(said, int | float):
        return False
    return abs(said) < MOST and math.isfinite(said)


def shown(said: Any) -> str:
    """Return what was said so that it stays on one line, and not at length."""
    text = repr(said) if isinstance(said, str | int | float | None) else f"a {type(said).__name__}"
    return text if len(text) <= LONGEST_SHOWN else f"{text[:LONGEST_SHOWN]}…"
