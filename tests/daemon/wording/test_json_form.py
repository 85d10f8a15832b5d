"""Frozen values as JSON: by their fields, moments in UTC, and nothing unknown to JSON."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any, NamedTuple
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from pydantic import BaseModel

from underbench.daemon.wording.json_form import SCHEMA, document, plain
from underbench.rules.garden.inventory import SpotKind
from underbench.rules.garden.local_time import Stretch
from underbench.rules.limits.limit import Layer, Limit, MeasuredOn

NOON = datetime(2027, 4, 20, 12, 0, 0, 7, tzinfo=UTC)


class _Model(BaseModel):
    kind: SpotKind = SpotKind.COLD_FRAME
    at: datetime = NOON


@dataclass(frozen=True, slots=True)
class _Frozen:
    day: date
    inner: _Model


class _Pair(NamedTuple):
    low: float
    high: float


@pytest.mark.parametrize(
    ("value", "printed"),
    [
        (NOON.astimezone(ZoneInfo("America/Denver")), "2027-04-20T12:00:00Z"),
        (date(2027, 4, 20), "2027-04-20"),
        (float("nan"), None),
        (-np.inf, None),
        (np.float32(0.5), 0.5),
        (np.array([[1.0, np.nan]]), [[1.0, None]]),
        (np.bool_(True), True),
        (np.int64(7), 7),
        (_Pair(1.0, 2.0), {"low": 1.0, "high": 2.0}),
        ({date(2027, 4, 20): ()}, {"2027-04-20": []}),
        (Stretch(NOON, NOON), ["2027-04-20T12:00:00Z"] * 2),
        (
            _Frozen(date(2027, 4, 20), _Model()),
            {"day": "2027-04-20", "inner": {"kind": "cold frame", "at": "2027-04-20T12:00:00Z"}},
        ),
        (
            Limit(MeasuredOn.AIR, (Layer("set", -2.0, np.inf, "keeper"),)),
            {"measured_on": "screen air", "harm": -2.0, "kill": None},
        ),
    ],
)
def test_a_frozen_value_is_printed_by_its_fields(value: Any, printed: Any) -> None:
    assert plain(value) == printed
    whole = document({"value": value})
    assert json.loads(whole) == {"schema": SCHEMA, "value": printed}


def test_what_it_does_not_know_is_a_fault_and_no_rubbish() -> None:
    with pytest.raises(TypeError):
        document({"value": object()})
