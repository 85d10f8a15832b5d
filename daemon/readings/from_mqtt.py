"""Readings from an MQTT broker (with the extra ``mqtt``): a thread of paho's puts them in line."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from pydantic import SecretStr

from underbench.daemon.config.readings_table import MqttTable, TopicTable
from underbench.daemon.readings.mqtt_connection import Connection, need_mqtt
from underbench.daemon.readings.parse import Known
from underbench.daemon.wording.reading_units import NoReading, shown
from underbench.rules.garden.readings import Reading

if TYPE_CHECKING:
    from paho.mqtt.client import Client, MQTTMessage

LONGEST_PAYLOAD = 4096


def reading_in(
    payload: bytes | bytearray, topic: TopicTable, known: Known, now: datetime
) -> Reading:
    """Return the reading in a message of a topic; raises NoReading."""
    if len(payload) > LONGEST_PAYLOAD:
        raise NoReading(f"expected {LONGEST_PAYLOAD} bytes or fewer")
    try:
        text = payload.decode("utf-8").strip()
        said: Any = json.loads(text) if topic.key else text
    except (ValueError, RecursionError):
        expected = "JSON" if topic.key else "a number in UTF-8"
        raise NoReading(f"expected {expected}") from None
    for name in topic.key.split(".") if topic.key else ():
        if not isinstance(said, dict) or name not in said:
            raise NoReading(f"expected JSON with {topic.key}")
        said = said[name]
    where = {"quantity": topic.quantity.value, "spot": topic.spot, "tree": topic.tree}
    return known.reading({**where, "value": said}, "mqtt", now, topic.unit)


class Listener:
    """Listens to a broker from ``start`` to ``stop``, and comes back to it by itself.

    ``known`` may be replaced while it does; ``put`` is called, in paho's thread, with each reading.
    Raises NoMqtt.
    """

    def __init__(
        self,
        table: MqttTable,
        password: SecretStr | None,
        known: Known,
        put: Callable[[Reading], None],
    ) -> None:
        need_mqtt("readings.mqtt")
        from paho.mqtt.client import topic_matches_sub

        self.known = known
        self._table, self._put, self._matches = table, put, topic_matches_sub
        self._lock = threading.Lock()
        self._complaints: list[str] = []
        self._failing: set[str] = set()
        self._connection = Connection(
            table.host, table.port, table.username, password, self._subscribe
        )
        self._connection.client.on_message = self._came

    @property
    def trouble(self) -> str | None:
        """What keeps the readings away, if anything is known to."""
        return self._connection.trouble

    def start(self) -> None:
        """Begin to listen."""
        self._connection.start()

    def stop(self) -> None:
        """Stop listening."""
        self._connection.stop()

    def complaints(self) -> list[str]:
        """Return, once, a line for each topic that began to bring what is no reading."""
        with self._lock:
            found, self._complaints = self._complaints, []
        return found

    def _subscribe(self, client: Client) -> None:
        # Anew each time: the broker forgets what a client that was away had asked for.
        client.subscribe([(topic.topic, 0) for topic in self._table.topics])

    def _came(self, _client: Client, _data: object, message: MQTTMessage) -> None:
        if message.retain:  # kept by the broker from an unknown while ago
            return
        for topic in self._table.topics:
            if not self._matches(topic.topic, message.topic):
                continue
            try:
                reading = reading_in(message.payload, topic, self.known, datetime.now(UTC))
            except NoReading as fault:
                self._complain(topic.topic, f"mqtt {shown(message.topic)}: {fault}")
            else:
                self._failing.discard(topic.topic)
                self._put(reading)

    def _complain(self, topic: str, line: str) -> None:
        """Once for a topic, until a reading has come on it again."""
        with self._lock:
            if topic not in self._failing:
                self._failing.add(topic)
                self._complaints.append(line)
