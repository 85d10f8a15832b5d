"""The form of everything printed with ``--json``; JSON.md beside this says what stands in it."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from math import isfinite
from typing import Any

from underbench.rules.hazards.findings import Finding

SCHEMA = 2  # raised when a field goes, or means something else; a new field does not raise it


def document(body: dict[str, Any]) -> str:
    """Return a command's answer for programs: JSON as RFC 8259 has it, its schema first."""
    return json.dumps({"schema": SCHEMA, **body}, ensure_ascii=False, allow_nan=False, indent=2)


def iso(moment: datetime | None) -> str | None:
    """Return a moment as ISO 8601 in UTC, to the second."""
    if moment is None:
        return None
    return moment.astimezone(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")


def number(value: float) -> float | None:
    """Return a number, None where there is none: JSON knows no NaN and no infinity."""
    return value if isfinite(value) else None


def finding_json(finding: Finding) -> dict[str, Any]:
    """Return one finding, for JSON."""
    return {
        "tree": finding.tree,
        "hazard": finding.hazard.key,
        "hazard_words": finding.hazard.words,
        "action": finding.action,
        "strength": finding.strength,
        "span": [iso(finding.span.start), iso(finding.span.end)],
        "from": iso(finding.first_at),
        "until": iso(finding.until_at),
        "worst_at": iso(finding.worst_at),
        "worst": finding.worst,
        "measured_on": finding.limit.measured_on,
        "harm": finding.limit.harm,
        "kill": number(finding.limit.kill),
        "chance": finding.chance,
        "kill_chance": finding.kill_chance,
    }
