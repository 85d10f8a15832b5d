"""The connection that publishes a garden to an MQTT broker (with the extra ``mqtt``)."""

from __future__ import annotations

import logging
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from underbench.daemon.alerts.to_do import ToDo
from underbench.daemon.config.settings import Settings
from underbench.daemon.delivery.mqtt_messages import (
    OFFLINE,
    ONLINE,
    Note,
    Topics,
    discovery,
    garden_discovery,
    states,
    to_do_note,
)
from underbench.daemon.outlook.outlook import Outlook
from underbench.daemon.readings.mqtt_connection import Connection, NoMqtt, need_mqtt

if TYPE_CHECKING:
    from paho.mqtt.client import Client, MQTTMessageInfo

AT_LEAST_ONCE = 1
WITHDRAWN_WITHIN_S = 5.0

_log = logging.getLogger("underbench")


class Publisher:
    """Publishes each pass from ``start`` to ``stop``, if the garden's file names a broker.

    It comes back by itself to a broker that was away, and publishes the last pass anew. Trouble
    with the broker is never raised. Each trouble is logged once while it lasts.
    """

    def __init__(self, settings: Settings) -> None:
        self._settings, self._table = settings, settings.publish
        self._connection: Connection | None = None
        self._last: dict[str, str] = {}
        self._said: str | None = None
        self._available = ""
        self._published = False

    @property
    def trouble(self) -> str | None:
        """What keeps the connection from the broker; None if nothing is known."""
        return self._connection.trouble if self._connection else None

    def start(self) -> None:
        """Begin to connect. The broker says "offline" by itself if the connection breaks."""
        table = self._table
        if table is None:
            return
        try:
            need_mqtt("publish")
        except NoMqtt as fault:
            _log.error("%s", fault)
            return
        self._available = self._topics(()).available
        self._connection = Connection(
            table.host, table.port, table.username, table.password, self._connected
        )
        self._connection.client.will_set(self._available, OFFLINE, AT_LEAST_ONCE, retain=True)
        self._connection.start()

    def stop(self) -> None:
        """Publish "offline" and end."""
        if self._connection:
            self._send([Note(self._available, OFFLINE)])
            self._connection.stop()

    def withdraw(self) -> None:
        """Remove all that was published, and end. A broker that does not answer keeps it."""
        if self._connection is None:
            return
        sent = self._send(Note(topic, "") for topic in (*self._last, self._available))
        if self._connection.client.is_connected():
            for one in sent:  # only a few are sent at once: an end now would lose the others
                one.wait_for_publish(WITHDRAWN_WITHIN_S)
                if not one.is_published():
                    break
        self._connection.stop()

    def publish(self, outlook: Outlook) -> None:
        """Publish what a pass saw. Remove what is no longer there, such as a lost tree."""
        if self._connection is None:
            return
        living = [at.tree.name for at in outlook.standing if not at.lost]
        topics = self._topics(living)
        notes = [*self._discovery(topics, living), *states(outlook, topics)]
        now = {topic: self._last[topic] for topic in (topics.to_do,) if topic in self._last}
        now |= {note.topic: note.payload for note in notes}
        self._send(Note(topic, "") for topic in self._last if topic not in now)
        self._send(
            Note(topic, said) for topic, said in now.items() if self._last.get(topic) != said
        )
        self._last, self._published = now, True
        trouble = self.trouble
        if trouble and trouble != self._said:
            _log.warning("publish: %s", trouble)
        self._said = trouble

    @property
    def waits_for_a_pass(self) -> bool:
        """Whether it publishes, and has seen no pass yet."""
        return self._connection is not None and not self._published

    def publish_jobs(self, jobs: Sequence[ToDo]) -> None:
        """Publish what is still to do, if that is something else than before."""
        note = to_do_note(jobs, self._topics(()))
        if self._connection is not None and self._last.get(note.topic) != note.payload:
            self._send([note])
            self._last[note.topic] = note.payload

    def _topics(self, trees: Sequence[str]) -> Topics:
        root = self._table.topic if self._table else ""
        return Topics(root, self._settings.garden.name, trees)

    def _discovery(self, topics: Topics, trees: Iterable[str]) -> list[Note]:
        prefix = self._table.discovery if self._table else ""
        if not prefix:
            return []
        garden = garden_discovery(topics, self._settings.garden.name, prefix)
        return [garden, *(note for tree in trees for note in discovery(topics, tree, prefix))]

    def _send(self, notes: Iterable[Note]) -> list[MQTTMessageInfo]:
        if self._connection is None:
            return []
        client = self._connection.client
        return [
            client.publish(note.topic, note.payload, AT_LEAST_ONCE, retain=True) for note in notes
        ]

    def _connected(self, client: Client) -> None:
        client.publish(self._available, ONLINE, AT_LEAST_ONCE, retain=True)
        # A broker that was started anew may have kept nothing.
        self._send(Note(topic, payload) for topic, payload in self._last.items())
