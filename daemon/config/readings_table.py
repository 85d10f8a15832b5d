"""The section about the keeper's own thermometers and how their readings come in."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from difflib import get_close_matches
from pathlib import Path
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, SecretStr

from underbench.daemon.config.limits_table import Name, Table
from underbench.daemon.config.tomlfile import Key
from underbench.daemon.wording.reading_units import units_of
from underbench.rules.garden.readings import OF_A_TREE, Quantity

SHORTEST_TOKEN = 16


def _long_enough(value: SecretStr) -> SecretStr:
    if len(value.get_secret_value()) < SHORTEST_TOKEN:
        raise ValueError(f"expected {SHORTEST_TOKEN} characters or more")
    return value


def _topic(value: str) -> str:
    # Standard MQTT 3.1.1, 4.7.1: "+" stands for a whole level, "#" for all levels at the end.
    levels = value.split("/")
    ends = levels[:-1] if levels[-1] == "#" else levels
    if any(("+" in level and level != "+") or "#" in level for level in ends):
        raise ValueError('expected a topic, in which "+" is a level of its own and "#" the last')
    return value


Token = Annotated[SecretStr, AfterValidator(_long_enough)]
Topic = Annotated[
    str,
    Field(min_length=1, max_length=200, pattern=r"^[^\x00-\x1f\x7f]*$"),
    AfterValidator(_topic),
]


class TopicTable(Table):
    """``[[readings.mqtt.topics]]``: what the messages of a topic measure. ``key`` is where the
    number is in JSON ("outside.temperature"). ``unit`` is for numbers that come without one."""

    topic: Topic
    quantity: Quantity
    spot: Name | None = None
    tree: Name | None = None
    key: Name | None = None
    unit: Literal["C", "F", "mm", "in", "m/s", "km/h", "mph"] | None = None


class MqttTable(Table):
    """``[readings.mqtt]``"""

    host: Name
    port: Annotated[int, Field(ge=1, le=65535)] = 1883
    username: Name | None = None
    topics: Annotated[tuple[TopicTable, ...], Field(min_length=1)]


class ReadingsTable(Table):
    """``[readings]``: a CSV file to watch, a broker to listen to.

    ``token`` is for posts to the page, ``mqtt_password`` for the broker. Both are secrets and do
    not belong in the file.
    """

    file: Path | None = None
    token: Token | None = None
    mqtt_password: SecretStr | None = None
    mqtt: MqttTable | None = None


def readings_faults(table: ReadingsTable, spots: Iterable[str]) -> Iterator[tuple[Key, str]]:
    """Yield settings that contradict each other, with their key paths: a topic with an unknown spot
    or with a unit of another quantity, a root ball without a tree."""
    known = {name.casefold(): name for name in spots}
    for n, topic in enumerate(table.mqtt.topics if table.mqtt else ()):
        key = ("readings", "mqtt", "topics", n)
        if topic.spot and topic.spot.casefold() not in known:
            near = get_close_matches(topic.spot.casefold(), known, n=1, cutoff=0)
            yield (*key, "spot"), f"no [[spot]] is named so (did you mean '{known[near[0]]}'?)"
        if topic.quantity in OF_A_TREE and not topic.tree:
            yield key, f"of {topic.quantity}: give the tree it is measured at"
        units = units_of(topic.quantity)
        if topic.unit and topic.unit not in units:
            yield (*key, "unit"), f"expected one for {topic.quantity}: {', '.join(units)}"
