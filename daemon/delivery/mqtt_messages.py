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

from underbench.daemon.alerts.to_do import ToDo
from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.wording.json_form import iso
from underbench.rules.advice.advice import by_risk
from underbench.rules.hazards.findings import Finding, Strength
from underbench.rules.weather.hourly import Array

SCHEMA = 2
ONLINE, OFFLINE = "online", "offline"
ON, OFF = "on", "off"
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
    """The topics of a garden: ``root``/GARDEN/TREE, with names made fit for a topic, and two for
    the garden as a whole."""

    def __init__(self, root: str, garden: str, trees: Sequence[str]) -> None:
        self.base = f"{root}/{slug(garden)}"
        self.available, self.to_do = f"{self.base}/available", f"{self.base}/to-do"
        self.node = self.base.replace("/", "-")
        self._slugs: dict[str, str] = {}
        taken = {"available", "to-do"}
        for tree in trees:
            plain, number = slug(tree), 1
            while (own := plain if number == 1 else f"{plain}-{number}") in taken:
                number += 1
            self._slugs[tree] = own
            taken.add(own)

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


def to_do_note(jobs: Sequence[ToDo], topics: Topics) -> Note:
    """Return what is still to do in the garden, as told: whether there is anything, and the list.
    It has no moment of its own, so that it is published only when it changes."""
    body = {
        "schema": SCHEMA,
        "to_do": ON if jobs else OFF,
        "trees": len({tree for job in jobs for tree in job.trees}),
        "do_by": iso(min(job.do_by for job in jobs)) if jobs else None,
        "jobs": [
            {
                "job": job.word,
                "words": job.words,
                "threat": job.what,
                "do_by": iso(job.do_by),
                "danger": job.danger,
                "trees": job.trees,
            }
            for job in jobs
        ],
    }
    return Note(topics.to_do, json.dumps(body, ensure_ascii=False))


def discovery(topics: Topics, tree: str, prefix: str) -> Iterator[Note]:
    """Yield the discovery messages of a tree (PREFIX/sensor/NODE/OBJECT/config, JSON, retained).
    With them a home server that reads the convention shows the tree as a device with sensors."""
    node = f"{topics.node}-{topics.slug(tree)}"
    for sensor in SENSORS:
        body = {
            "name": sensor.name,
            "unique_id": f"{node}-{sensor.field}",
            "state_topic": topics.tree(tree),
            "value_template": f"{{{{ value_json.{sensor.field} }}}}",
            "json_attributes_topic": topics.tree(tree) if sensor.field == "advice" else None,
            "unit_of_measurement": sensor.unit,
            "state_class": "measurement" if sensor.unit else None,
            "device_class": sensor.device_class,
        }
        yield _config(topics, f"{prefix}/sensor/{node}/{sensor.field}/config", body, node, tree)


def garden_discovery(topics: Topics, garden: str, prefix: str) -> Note:
    """Return the discovery message of the garden: one entity, on while something is to do, with the
    list as its attributes."""
    body = {
        "name": "something to do",
        "unique_id": f"{topics.node}-to-do",
        "state_topic": topics.to_do,
        "value_template": "{{ value_json.to_do }}",
        "payload_on": ON,
        "payload_off": OFF,
        "json_attributes_topic": topics.to_do,
    }
    topic = f"{prefix}/binary_sensor/{topics.node}/to_do/config"
    return _config(topics, topic, body, topics.node, garden)


def _config(topics: Topics, topic: str, body: dict[str, Any], node: str, device: str) -> Note:
    whole = body | {
        "availability_topic": topics.available,
        "device": {"identifiers": [node], "name": device, "manufacturer": "Underbench"},
        "origin": {"name": "Underbench"},
    }
    kept = {key: value for key, value in whole.items() if value is not None}
    return Note(topic, json.dumps(kept))
