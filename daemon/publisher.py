"""The connection over which a garden is published to an MQTT broker (with the extra ``mqtt``)."""

from __future__ import annotations

import logging
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from underbench.daemon.outlook import Outlook
from underbench.daemon.publish_table import PublishTable
from underbench.daemon.publishing import OFFLINE, ONLINE, Note, Topics, discovery, states
from underbench.daemon.reading_mqtt import LONGEST_PAUSE_S, NoMqtt, need_mqtt
from underbench.daemon.settings import Settings

if TYPE_CHECKING:
    from paho.mqtt.client import Client
    from paho.mqtt.properties import Properties
    from paho.mqtt.reasoncodes import ReasonCode

AT_LEAST_ONCE = 1

_log = logging.getLogger("underbench")


class Publisher:
    """Publishes each pass from ``start`` to ``stop``, where the garden's file names a broker, and
    comes back by itself to one that was away; then the last pass is published anew. No trouble
    with the broker is raised, each is logged once while it lasts."""

    def __init__(self, settings: Settings) -> None:
        self._settings, self._table = settings, settings.publish
        self._client: Client | None = None
        self._last: dict[str, str] = {}
        self._trouble: str | None = None
        self._said: str | None = None
        self._available = ""

    def start(self) -> None:
        """Begin to connect; the broker is told what to say when this ends unforeseen."""
        if self._table is None:
            return
        try:
            need_mqtt()
        except NoMqtt:
            _log.error("publish needs paho-mqtt: .venv/bin/pip install '.[mqtt]'")
            return
        self._available = self._topics(()).available
        self._client = self._new_client(self._table)
        self._client.will_set(self._available, OFFLINE, AT_LEAST_ONCE, retain=True)
        self._client.connect_async(self._table.host, self._table.port)
        self._client.loop_start()

    def stop(self) -> None:
        """Say good-bye and end."""
        if self._client:
            self._send([Note(self._available, OFFLINE)])
            self._client.disconnect()
            self._client.loop_stop()

    def publish(self, outlook: Outlook) -> None:
        """Publish what a pass saw, and take away what is no more, such as a tree that was lost."""
        if self._client is None:
            return
        living = [at.tree.name for at in outlook.standing if not at.lost]
        topics = self._topics(living)
        notes = [*self._discovery(topics, living), *states(outlook, topics)]
        now = {note.topic: note.payload for note in notes}
        self._send(Note(topic, "") for topic in self._last if topic not in now)
        self._send(
            Note(topic, said) for topic, said in now.items() if self._last.get(topic) != said
        )
        self._last = now
        if self._trouble and self._trouble != self._said:
            _log.warning("publish: %s", self._trouble)
        self._said = self._trouble

    def _new_client(self, table: PublishTable) -> Client:
        from paho.mqtt.client import Client
        from paho.mqtt.enums import CallbackAPIVersion

        client = Client(CallbackAPIVersion.VERSION2)
        if table.username:
            secret = table.password.get_secret_value() if table.password else None
            client.username_pw_set(table.username, secret)
        client.suppress_exceptions = True  # one in a callback would end the thread
        client.reconnect_delay_set(1, LONGEST_PAUSE_S)
        client.on_connect = self._connected
        client.on_connect_fail = self._unreachable
        client.on_disconnect = self._left
        return client

    def _topics(self, trees: Sequence[str]) -> Topics:
        root = self._table.topic if self._table else ""
        return Topics(root, self._settings.garden.name, trees)

    @property
    def _place(self) -> str:
        return f"{self._table.host}:{self._table.port}" if self._table else ""

    def _discovery(self, topics: Topics, trees: Iterable[str]) -> list[Note]:
        prefix = self._table.discovery if self._table else ""
        if not prefix:
            return []
        return [note for tree in trees for note in discovery(topics, tree, prefix)]

    def _send(self, notes: Iterable[Note]) -> None:
        if self._client:
            for note in notes:
                self._client.publish(note.topic, note.payload, AT_LEAST_ONCE, retain=True)

    def _connected(
        self, client: Client, _data: object, _flags: object, reason: ReasonCode, _more: object
    ) -> None:
        if reason.is_failure:
            self._trouble = f"the broker at {self._place} refuses: {reason}"
            return
        self._trouble = None
        client.publish(self._available, ONLINE, AT_LEAST_ONCE, retain=True)
        # A broker that was started anew may have kept nothing.
        self._send(Note(topic, payload) for topic, payload in self._last.items())

    def _unreachable(self, _client: Client, _data: object) -> None:
        self._trouble = f"the broker at {self._place} cannot be reached"

    def _left(
        self,
        _client: Client,
        _data: object,
        _flags: object,
        reason: ReasonCode,
        _properties: Properties | None,
    ) -> None:
        if self._trouble is None:
            self._trouble = f"the broker at {self._place} is gone: {reason}"
