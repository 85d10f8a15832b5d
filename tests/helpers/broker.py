"""A real MQTT broker (mosquitto) on the loopback, for the tests."""

from __future__ import annotations

import shutil
import socket
import subprocess
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Event
from typing import Any

import pytest
from paho.mqtt import publish

USER, PASSWORD = "garden", "dew on the moss"
_PROGRAM = shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin:/usr/bin:/usr/local/bin")
_LONGEST_S = 20.0


def free_port() -> int:
    """A port on which nothing listens."""
    with socket.socket() as taken:
        taken.bind(("127.0.0.1", 0))
        return int(taken.getsockname()[1])


class Broker:
    """The broker, which lets in only `USER`; ``stop`` and ``start`` it as a power cut would."""

    def __init__(self, folder: Path) -> None:
        self.port = free_port()
        self._config = folder / "mosquitto.conf"
        passwords = folder / "passwords"
        passwords.write_text(f"{USER}:{PASSWORD}\n", encoding="utf-8")
        hashing = shutil.which("mosquitto_passwd")
        assert hashing
        subprocess.run([hashing, "-U", str(passwords)], check=True, capture_output=True)
        passwords.chmod(0o644)  # started by root, it runs as another user
        folder.chmod(0o755)
        self._config.write_text(
            f"listener {self.port} 127.0.0.1\nallow_anonymous false\n"
            f"password_file {passwords}\npersistence false\nuser root\n",
            encoding="utf-8",
        )
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start the broker, and wait until it listens."""
        assert _PROGRAM
        self._process = subprocess.Popen(
            [_PROGRAM, "-c", str(self._config)], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE
        )
        assert until(self._listens), "the broker does not listen"

    def stop(self) -> None:
        """Kill the broker."""
        if self._process:
            self._process.kill()
            self._process.communicate()
        self._process = None

    def _listens(self) -> bool:
        try:
            socket.create_connection(("127.0.0.1", self.port), timeout=1).close()
        except OSError:
            return False
        return True

    def publish(self, topic: str, payload: str | bytes, *, retain: bool = False) -> None:
        """Publish a message, and wait until the broker has it."""
        publish.single(
            topic,
            payload,
            qos=1,
            retain=retain,
            hostname="127.0.0.1",
            port=self.port,
            auth={"username": USER, "password": PASSWORD},
        )


def until(there: Callable[[], Any], looks: int = int(_LONGEST_S / 0.02)) -> bool:
    """Look again and again until it is there; False if it has not come for long."""
    pause = Event()
    for _ in range(looks):
        if there():
            return True
        pause.wait(0.02)
    return False


@contextmanager
def running(folder: Path) -> Iterator[Broker]:
    """A broker for the block; the test is skipped if no mosquitto is installed."""
    if _PROGRAM is None:
        pytest.skip("no mosquitto is installed (Debian: apt-get install mosquitto)")
    broker = Broker(folder)
    broker.start()
    try:
        yield broker
    finally:
        broker.stop()
