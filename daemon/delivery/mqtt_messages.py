"""What a pass found, as retained MQTT messages for a home server: a topic for each tree, and
discovery."""

from __future__ import annotations

import json
import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from math import isfinite
from typing import Any

import numpy as np

from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.wording.json_form import iso
from underbench.rules.advice.advice import by_risk
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.weather.hourly import Array

SCHEMA = 2
ONLINE, OFFLINE = "online", "offline"
DAY_H = 24
NOTHING = "none"


@dataclass(frozen=True, slots=True)
class Note:
    """One retained message. An empty ``payload`` removes what the broker keeps."""

    topic: str
    payload: str


@dataclass(frozen=True, slots=True)
class Sensor:
    """One value of a tree's topic, as the discovery convention describes it."""

    field: str
    name: str
    unit: str | None = None
    device_class: str | None = None


SENSORS = (
    Sensor("advice", "advice"),
    Sensor("chance_pct", "chance of harm", "%"),
    Sensor("air_min_c", "lowest air", "°C", "temperature"),
    Sensor("leaf_min_c", "coldest leaves or buds", "°C", "temperature"),
    Sensor("leaf_max_c", "hottest leaves or buds", "°C", "temperature"),
    Sensor("edge_min_c", "coldest root ball", "°C", "temperature"),
    Sensor("edge_max_c", "hottest root ball", "°C", "temperature"),
    Sensor("water_left_pct", "water left", "%"),
    Sensor("gust_max_ms", "strongest gust", "m/s", "wind_speed"),
)


class Topics:
    """The topics of a garden: ``root``/GARDEN/TREE, with names made fit for a topic."""

    def __init__(self, root: str, garden: str, trees: Sequence[str]) -> None:
        self.base = f"{root}/{slug(garden)}"
        self.available = f"{self.base}/available"
        self._slugs: dict[str, str] = {}
        for tree in trees:
            plain, number = slug(tree), 1
            while (own := plain if number == 1 else f"{plain}-{number}") in self._slugs.values():
                number += 1
            self._slugs[tree] = own

    def slug(self, tree: str) -> str:
        """Return a tree's name as its topic has it."""
        return self._slugs[tree]

    def tree(self, tree: str) -> str:
        """Return a tree's topic."""
        return f"{self.base}/{self._slugs[tree]}"


def slug(name: str) -> str:
    """Return a name in a-z, 0-9 and hyphens, with accents taken off; never empty."""
    plain = unicodedata.normalize("NFKD", name).encode("ascii", "ignore").decode().lower()
    return re.sub(r"[^a-z0-9]+", "-", plain).strip("-") or "tree"


def states(outlook: Outlook, topics: Topics) -> Iterator[Note]:
    """Yield each living tree's state: its gravest finding, and what it will feel where it stands in
    the coming 24 hours. Values are of the middle of all weathers, in °C, m/s and percent."""
    for row, at in enumerate(outlook.standing):
        if not at.lost:
            body = _state(outlook, row)
            yield Note(topics.tree(at.tree.name), json.dumps(body, ensure_ascii=False))


def _state(outlook: Outlook, row: int) -> dict[str, Any]:
    at, felt = outlook.standing[row], outlook.course.exposure
    mine = sorted((f for f in outlook.findings if f.tree == at.tree.name), key=by_risk)
    worst = next((f for f in mine if f.strength is not Strength.NOTICE), None)

    def middle(values: Array) -> Array:
        found: Array = np.median(values[row, :, :DAY_H], axis=0)
        return found

    return {
        "schema": SCHEMA,
        "as_of": iso(outlook.now),
        "tree": at.tree.name,
        "stands": at.spot,
        **_advice(worst),
        "air_min_c": _number(middle(felt.air_c).min()),
        "leaf_min_c": _number(middle(felt.leaf_c).min()),
        "leaf_max_c": _number(middle(felt.leaf_c).max()),
        "edge_min_c": _number(middle(felt.shell_c).min()),
        "edge_max_c": _number(middle(felt.shell_c).max()),
        "water_left_pct": _number(100 * middle(felt.water_left).min()),
        "gust_max_ms": _number(middle(felt.gust_ms).max()),
    }


def _advice(worst: Finding | None) -> dict[str, Any]:
    if worst is None:
        return {
            **{"advice": NOTHING, "strength": None, "hazard": None},
            **{"from": None, "until": None, "chance_pct": 0},
        }
    return {
        "advice": worst.action.value,
        "strength": worst.strength.value,
        "hazard": worst.hazard.key,
        "from": iso(worst.first_at),
        "until": iso(worst.until_at),
        "chance_pct": round(100 * worst.chance),
    }


def _number(value: float) -> float | None:
    return round(float(value), 1) if isfinite(value) else None


def discovery(topics: Topics, tree: str, prefix: str) -> Iterator[Note]:
    """Yield the discovery messages of a tree (PREFIX/sensor/NODE/OBJECT/config, JSON, retained).
    With them a home server that reads the convention shows the tree as a device with sensors."""
    node = topics.base.replace("/", "-") + f"-{topics.slug(tree)}"
    for sensor in SENSORS:
        body: dict[str, Any] = {
            "name": sensor.name,
            "unique_id": f"{node}-{sensor.field}",
            "state_topic": topics.tree(tree),
            "value_template": f"{{{{ value_json.{sensor.field} }}}}",
            "json_attributes_topic": topics.tree(tree) if sensor.field == "advice" else None,
            "unit_of_measurement": sensor.unit,
            "device_class": sensor.device_class,
            "availability_topic": topics.available,
            "device": {"identifiers": [node], "name": tree, "manufacturer": "Underbench"},
        }
        kept = {key: value for key, value in body.items() if value is not None}
        yield Note(f"{prefix}/sensor/{node}/{sensor.field}/config", json.dumps(kept))
