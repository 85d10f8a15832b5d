"""The service manager hears the daemon by sd_notify(3), a datagram of NAME=VALUE lines."""

from __future__ import annotations

import socket
from pathlib import Path

import pytest

from underbench.daemon.systemd_notify import ALIVE, READY, notify


@pytest.mark.parametrize("abstract", [False, True])
def test_a_manager_is_told(tmp_path: Path, abstract: bool) -> None:
    name = f"{tmp_path}/notify"
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
        manager.bind(f"\0{name}" if abstract else name)
        env = {"NOTIFY_SOCKET": f"@{name}" if abstract else name}
        assert notify(READY, env)
        assert notify(ALIVE, env)
        assert [manager.recv(64) for _ in range(2)] == [b"READY=1", b"WATCHDOG=1"]


@pytest.mark.parametrize("env", [{}, {"NOTIFY_SOCKET": "relative"}, {"NOTIFY_SOCKET": "/gone"}])
def test_without_a_manager_nothing_happens(env: dict[str, str]) -> None:
    assert not notify(READY, env)
