"""A connection to an MQTT broker (with the extra ``mqtt``), which comes back by itself."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from pydantic import SecretStr

from underbench.daemon.faults import Fault

if TYPE_CHECKING:
    from paho.mqtt.client import Client
    from paho.mqtt.properties import Properties
    from paho.mqtt.reasoncodes import ReasonCode

LONGEST_PAUSE_S = 120  # between attempts to reach the broker again


class NoMqtt(Fault):
    """The library for MQTT is not installed."""


def need_mqtt(part: str) -> None:
    """Raise NoMqtt where the library that ``part`` of the file needs is not installed."""
    try:
        import paho.mqtt.client  # noqa: F401
    except ImportError:
        raise NoMqtt(f"{part} needs paho-mqtt: .venv/bin/pip install '.[mqtt]'") from None


class Connection:
    """A client of a broker from ``start`` to ``stop``.

    ``connected`` is called, in paho's thread, each time the broker has let it in; ``trouble`` is
    what keeps it away, if anything is known to. The library has to be there (`need_mqtt`).
    """

    def __init__(
        self,
        host: str,
        port: int,
        username: str | None,
        password: SecretStr | None,
        connected: Callable[[Client], None],
    ) -> None:
        from paho.mqtt.client import Client
        from paho.mqtt.enums import CallbackAPIVersion

        self._host, self._port, self._connected = host, port, connected
        self.trouble: str | None = None
        self.client: Client = Client(CallbackAPIVersion.VERSION2)
        if username:
            self.client.username_pw_set(username, password.get_secret_value() if password else None)
        self.client.suppress_exceptions = True  # one in a callback would end the thread
        self.client.reconnect_delay_set(1, LONGEST_PAUSE_S)
        self.client.on_connect = self._answered
        self.client.on_connect_fail = self._unreachable
        self.client.on_disconnect = self._left

    def start(self) -> None:
        """Begin to connect."""
        self.client.connect_async(self._host, self._port)
        self.client.loop_start()

    def stop(self) -> None:
        """End it."""
        self.client.disconnect()
        self.client.loop_stop()

    @property
    def _place(self) -> str:
        return f"{self._host}:{self._port}"

    def _answered(
        self, client: Client, _data: object, _flags: object, reason: ReasonCode, _more: object
    ) -> None:
        if reason.is_failure:
            self.trouble = f"the broker at {self._place} refuses: {reason}"
            return
        self.trouble = None
        self._connected(client)

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
