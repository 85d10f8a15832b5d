"""Readings from an MQTT broker (with the extra ``mqtt``): a thread of paho's puts them in line."""

from __future__ import annotations

import json
import threading
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

from pydantic import SecretStr

from underbench.daemon.faults import Fault
from underbench.daemon.reading_input import Known
from underbench.daemon.reading_units import NoReading, shown
from underbench.daemon.readings_table import MqttTable, TopicTable
from underbench.rules.readings import Reading

if TYPE_CHECKING:
    from paho.mqtt.client import Client, MQTTMessage
    from paho.mqtt.properties import Properties
    from paho.mqtt.reasoncodes import ReasonCode

LONGEST_PAYLOAD = 4096
LONGEST_PAUSE_S = 120  # between attempts to reach the broker again


class NoMqtt(Fault):
    """The library for MQTT is not installed."""


def need_mqtt() -> None:
    """Raise NoMqtt where the library is not installed."""
    try:
        import paho.mqtt.client  # noqa: F401
    except ImportError:
        raise NoMqtt("readings.mqtt needs paho-mqtt: .venv/bin/pip install '.[mqtt]'") from None


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
    ``trouble`` is what keeps the readings away, if anything is known to; ``complaints``
    takes a line for each topic whose message is no reading. Raises NoMqtt.
    """

    def __init__(
        self,
        table: MqttTable,
        password: SecretStr | None,
        known: Known,
        put: Callable[[Sequence[Reading]], bool],
    ) -> None:
        need_mqtt()
        from paho.mqtt.client import Client, topic_matches_sub
        from paho.mqtt.enums import CallbackAPIVersion

        self.known = known
        self._table, self._put, self._matches = table, put, topic_matches_sub
        self._lock = threading.Lock()
        self._complaints: list[str] = []
        self._failing: set[str] = set()
        self._place = f"{table.host}:{table.port}"
        self.trouble: str | None = None
        self._client: Client = Client(CallbackAPIVersion.VERSION2)
        if table.username:
            self._client.username_pw_set(
                table.username, password.get_secret_value() if password else None
            )
        self._client.suppress_exceptions = True  # one in a callback would end the thread
        self._client.reconnect_delay_set(1, LONGEST_PAUSE_S)
        self._client.on_connect = self._connected
        self._client.on_connect_fail = self._unreachable
        self._client.on_disconnect = self._left
        self._client.on_message = self._came

    def start(self) -> None:
        """Begin to listen."""
        self._client.connect_async(self._table.host, self._table.port)
        self._client.loop_start()

    def stop(self) -> None:
        """Stop listening."""
        self._client.disconnect()
        self._client.loop_stop()

    def complaints(self) -> list[str]:
        """Return, once, a line for each topic that began to bring what is no reading."""
        with self._lock:
            found, self._complaints = self._complaints, []
        return found

    def _connected(
        self, client: Client, _data: object, _flags: object, reason: ReasonCode, _more: object
    ) -> None:
        if reason.is_failure:
            self.trouble = f"the broker at {self._place} refuses: {reason}"
            return
        self.trouble = None
        # Anew each time: the broker forgets what a client that was away had asked for.
        client.subscribe([(topic.topic, 0) for topic in self._table.topics])

    def _unreachable(self, _client: Client, _data: object) -> None:
        self.trouble = f"the broker at {self._place} cannot be reached"

    def _left(
        self,
        _client: Client,
        _data: object,
        _flags: object,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        if self.trouble is None:
            self.trouble = f"the broker at {self._place} is gone: {reason}"

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
                self._put([reading])

    def _complain(self, topic: str, line: str) -> None:
        """Once for a topic, until a reading has come on it again."""
        with self._lock:
            if topic not in self._failing:
                self._failing.add(topic)
                self._complaints.append(line)
