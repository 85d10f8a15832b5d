"""Telling the service manager how the daemon fares: sd_notify(3), over its datagram socket."""

from __future__ import annotations

import socket
from collections.abc import Mapping

READY, ALIVE, STOPPING = "READY=1", "WATCHDOG=1", "STOPPING=1"


def notify(state: str, env: Mapping[str, str]) -> bool:
    """Send ``state`` to the manager named in ``env`` (``NOTIFY_SOCKET``; a leading @ stands for the
    abstract namespace); return whether one took it. Never raises: a daemon without a manager, or
    with one that has gone, watches on."""
    address = env.get("NOTIFY_SOCKET", "")
    if not address.startswith(("/", "@")):
        return False
    if address.startswith("@"):
        address = "\0" + address[1:]
    try:
        with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as channel:
            channel.sendto(state.encode(), address)
    except OSError:
        return False
    return True
