"""Metric and US units: conversion, and quantities as people read them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, time
from typing import Literal

UnitSystem = Literal["metric", "us"]

# Exact by definition: NIST Special Publication 811 (2008), appendix B.
CM_PER_INCH = 2.54
M_PER_FOOT = 0.3048
LITRES_PER_GALLON = 3.785411784
KG_PER_LB = 0.45359237
MS_PER_MPH = 0.44704
F_PER_K = 1.8
F_AT_0_C = 32.0

_WHOLE_FROM = 10.0
_NOON_H = 12


def c_from_f(degrees_f: float) -> float:
    """Return °C for °F."""
    return (degrees_f - F_AT_0_C) / F_PER_K


def f_from_c(degrees_c: float) -> float:
    """Return °F for °C."""
    return degrees_c * F_PER_K + F_AT_0_C


@dataclass(frozen=True, slots=True)
class Units:
    """Writes SI quantities the way this keeper reads them: "−2.5 °C", or "27.5 °F"."""

    system: UnitSystem

    @property
    def _us(self) -> bool:
        return self.system == "us"

    def temp(self, degrees_c: float) -> str:
        """Return a temperature given in °C, to one decimal."""
        return self._degrees(f_from_c(degrees_c) if self._us else degrees_c, 1)

    def temp_whole(self, degrees_c: float) -> str:
        """Return a temperature given in °C, to the whole degree."""
        return self._degrees(f_from_c(degrees_c) if self._us else degrees_c, 0)

    def temp_difference(self, kelvin: float) -> str:
        """Return a difference of temperatures given in K, to the whole degree."""
        return self._degrees(kelvin * F_PER_K if self._us else kelvin, 0)

    def temp_step(self, kelvin: float) -> str:
        """Return a difference of temperatures given in K, to one decimal."""
        return self._degrees(kelvin * F_PER_K if self._us else kelvin, 1)

    def warmth(self, degree_days: float) -> str:
        """Return a sum of warmth given in °C·d, whole."""
        shown = degree_days * F_PER_K if self._us else degree_days
        return f"{self._degrees(shown, 0)}·d"

    def speed(self, ms: float) -> str:
        """Return a speed given in m/s, whole."""
        return f"{_number(ms / MS_PER_MPH, 0)} mph" if self._us else f"{_number(ms, 0)} m/s"

    def length(self, cm: float) -> str:
        """Return a length given in cm, whole."""
        return f"{_number(cm / CM_PER_INCH, 0)} in" if self._us else f"{_number(cm, 0)} cm"

    def weight(self, kg: float) -> str:
        """Return a weight given in kg, whole."""
        return f"{_number(kg / KG_PER_LB, 0)} lb" if self._us else f"{_number(kg, 0)} kg"

    def volume(self, litres: float) -> str:
        """Return a volume given in litres: one decimal below ten, whole above."""
        if self._us:
            return f"{_short(litres / LITRES_PER_GALLON)} gal"
        return f"{_short(litres)} L"

    def clock(self, local: datetime | time) -> str:
        """Return a clock time: 20:57, or 8:57 pm."""
        if not self._us:
            return f"{local:%H:%M}"
        half = "am" if local.hour < _NOON_H else "pm"
        return f"{(local.hour - 1) % _NOON_H + 1}:{local:%M} {half}"

    def hour(self, local: datetime) -> str:
        """Return a full hour as short as an axis has it: 20:00, or 8 pm."""
        return self.clock(local).replace(":00 ", " ")

    def _degrees(self, degrees: float, decimals: int) -> str:
        return f"{_number(degrees, decimals)} {'°F' if self._us else '°C'}"


def _number(value: float, decimals: int) -> str:
    """Round, with the true minus sign and never a minus before zero."""
    return f"{value:z.{decimals}f}".replace("-", "−")


def _short(value: float) -> str:
    return _number(value, 1 if round(abs(value), 1) < _WHOLE_FROM else 0)
