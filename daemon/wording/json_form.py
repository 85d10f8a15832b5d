"""The form of everything printed with ``--json``; JSON.md beside this says what stands in it."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from datetime import UTC, date, datetime
from math import isfinite
from typing import Any

import numpy as np
from pydantic import BaseModel

from underbench.rules.garden.local_time import Stretch
from underbench.rules.hazards.findings import Finding
from underbench.rules.hazards.hazard import Hazard
from underbench.rules.limits.limit import Limit

SCHEMA = 2  # raised when a field goes, or means something else; a new field does not raise it
LIMIT = ("measured_on", "harm", "kill")


def document(body: Mapping[str, Any]) -> str:
    """Return a command's answer for programs: JSON as RFC 8259 has it, its schema first."""
    whole = {"schema": SCHEMA, **body}
    return json.dumps(plain(whole), ensure_ascii=False, allow_nan=False, indent=2)


def part(value: Any, *names: str) -> dict[str, Any]:
    """Return those fields and properties of a value that are printed, by name."""
    return {name: getattr(value, name) for name in names}


def plain(value: Any) -> Any:
    """Return a frozen value as JSON can hold it: models, dataclasses and named tuples by their
    fields, moments in UTC to the second, local days as days, and null where a number is none (JSON
    knows no NaN and no infinity)."""
    value = _opened(value)
    if isinstance(value, Mapping):
        return {str(key): plain(one) for key, one in value.items()}
    if isinstance(value, list | tuple | set | frozenset | np.ndarray):
        return [plain(one) for one in value]
    return _single(value)


def iso(moment: datetime | None) -> str | None:
    """Return a moment as ISO 8601 in UTC, to the second."""
    if moment is None:
        return None
    return moment.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def named(hazard: Hazard) -> dict[str, str]:
    """Return a hazard by its key, which stays, and in words."""
    return {"hazard": hazard.key, "hazard_words": hazard.words}


def _opened(value: Any) -> Any:
    """A frozen value as what it holds; any other as it is."""
    if type(value) in _SHAPES:
        return _SHAPES[type(value)](value)
    if isinstance(value, BaseModel):
        return dict(value)
    if is_dataclass(value):
        return part(value, *(field.name for field in fields(value)))
    return value._asdict() if hasattr(value, "_asdict") else value


def _single(value: Any) -> Any:
    value = value.item() if isinstance(value, np.generic) else value
    if isinstance(value, datetime):
        return iso(value)
    if isinstance(value, date):
        return value.isoformat()
    return None if isinstance(value, float) and not isfinite(value) else value


def _finding(one: Finding) -> dict[str, Any]:
    return (
        {"tree": one.tree, **named(one.hazard), **part(one, "action", "strength", "span")}
        | {"from": one.first_at, "until": one.until_at}
        | part(one, "worst_at", "worst")
        | part(one.limit, *LIMIT)
        | part(one, "chance", "kill_chance")
    )


# What is printed otherwise than by its fields.
_SHAPES: dict[type, Callable[[Any], Any]] = {
    Finding: _finding,
    Limit: lambda limit: part(limit, *LIMIT),
    Stretch: lambda span: [span.start, span.end],
}
