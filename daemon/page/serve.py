"""Serves the page: beside the daemon in a thread of its own, or alone."""

from __future__ import annotations

import logging
import socket
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import partial
from ipaddress import ip_address
from threading import Event, Thread
from typing import Any, Protocol
from urllib.parse import urlsplit

from flask import Flask
from waitress import create_server
from waitress.channel import HTTPChannel

from underbench.daemon.config.page_table import PageTable
from underbench.daemon.config.reloading import Reloading
from underbench.daemon.config.settings import Settings
from underbench.daemon.delivery.outbox import Services
from underbench.daemon.faults import Fault, place_of
from underbench.daemon.page.app import create_app
from underbench.daemon.page.auth import has_password
from underbench.daemon.page.context import Deps
from underbench.daemon.page.kept_weather import KeptWeather
from underbench.daemon.page.trials import tuned_apart
from underbench.daemon.store.store import Store
from underbench.daemon.weather.supply import Supply

THREADS = 4
# A browser opens six to one address. Slow ones of one device must not take the page from others.
MOST_FROM_ONE, MOST_CONNECTIONS = 24, 400
IDLE_S = 30  # a connection that says nothing for so long is closed
CLOSES_S = 2

_log = logging.getLogger("underbench")


class Server(Protocol):
    """What waitress makes."""

    effective_port: int
    trigger: Any  # hands work to the thread that serves
    task_dispatcher: Any  # the threads that answer
    active_channels: dict[int, Any]  # the connections that are open

    def run(self) -> None:
        """Serve until closed."""

    def close(self) -> None:
        """Stop listening."""


def deps_of(
    garden: Reloading,
    open_store: Callable[[Settings], Store],
    make_supply: Callable[[Settings, Store], Supply],
    services: Callable[[Settings], Services],
) -> Deps:
    """Return what the page of a garden works with."""
    return Deps(
        config=garden.path,
        settings=garden.settings,
        open_store=lambda: open_store(garden.settings()),
        kept_weather=lambda of, store: KeptWeather(make_supply(of, store)),
        services=services,
        trial=partial(tuned_apart, garden.path),
        now=lambda: datetime.now(UTC),
    )


def server_of(app: Flask, listen: str, page: PageTable) -> Server:
    """Return a server of ``app`` that listens already; raises Fault if it cannot."""
    # Only a named proxy is believed about who asks, and whether it came over TLS.
    trusted = (
        {
            "trusted_proxy": page.proxy,
            "trusted_proxy_headers": {"x-forwarded-for", "x-forwarded-proto"},
        }
        if page.proxy
        else {}
    )
    try:
        made = create_server(
            app,
            sockets=[_bound(listen)],
            threads=THREADS,
            ident=None,
            clear_untrusted_proxy_headers=True,
            max_request_body_size=1024 * 1024,
            connection_limit=MOST_CONNECTIONS,
            channel_timeout=IDLE_S,
            cleanup_interval=IDLE_S // 3,
            **trusted,
        )
    except OSError as error:
        raise Fault(f"page.listen: {listen} cannot be listened on: {error.strerror}") from None
    made.channel_class = partial(_take_in, page.proxy)
    server: Server = made
    return server


def _take_in(
    proxy: str | None, server: Any, conn: Any, address: Any, *rest: Any, **more: Any
) -> None:
    """Take in a connection. Of too many from one address the one goes that has asked for nothing
    the longest; a named proxy counts its own."""
    if address[0] != proxy:
        own = [one for one in server.active_channels.values() if one.addr[0] == address[0]]
        idle = [one for one in own if not one.requests]
        if len(own) >= MOST_FROM_ONE and idle:
            min(idle, key=lambda one: one.creation_time).handle_close()
    HTTPChannel(server, conn, address, *rest, **more)


def refuse_open_door(listen: str, page: PageTable, store: Store) -> None:
    """Raise Fault if others on the network could reach the page without a password. They reach it
    by itself, or by a proxy, which is what its names are for."""
    ways = {
        "listen": not on_loopback(listen),
        "proxy": page.proxy,
        "address": page.address,
        "hosts": page.hosts,
    }
    through = next((way for way, is_open in ways.items() if is_open), None)
    if through and not has_password(store):
        raise Fault(
            f"page.{through}: this opens the page to the network; "
            "set a password first, with underbench page-password"
        )


def on_loopback(listen: str) -> bool:
    """Return whether only this machine reaches what listens there."""
    host = urlsplit(f"//{listen}").hostname or ""
    return host == "localhost" or ip_address(host).is_loopback


def _bound(listen: str) -> socket.socket:
    """A socket at the address, bound here: waitress leaves one that it cannot bind open."""
    place = urlsplit(f"//{listen}")
    host, port = place.hostname or "", place.port or 0
    made = socket.socket(socket.AF_INET6 if ":" in host else socket.AF_INET)
    try:
        made.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        made.bind((host, port))
    except OSError:
        made.close()
        raise
    return made


@contextmanager
def serving(deps: Deps, listen: str) -> Iterator[Server]:
    """Serve the page in a thread for the block."""
    with deps.open_store() as store:
        refuse_open_door(listen, deps.settings().page, store)
    server = server_of(create_app(deps), listen, deps.settings().page)
    _log.info("the page is at http://%s", listen)
    with running(server):
        yield server


@contextmanager
def running(server: Server) -> Iterator[None]:
    """Run a server in a thread for the block."""
    over, asked, closed = Event(), Event(), Event()

    def close() -> None:
        # Who answers pulls the trigger at the end, and a thread that was awake gets here before the
        # pull below: closed too early, what they write meets a bad descriptor, or another's file.
        asked.wait(CLOSES_S)
        server.task_dispatcher.shutdown(timeout=CLOSES_S / 2)
        server.close()
        # Nobody answers any more: who asks on a connection of before would wait for ever.
        for one in list(server.active_channels.values()):
            one.close_when_flushed = True
        closed.set()

    def run() -> None:
        try:
            server.run()
        except (OSError, ValueError) as error:  # of sockets closed while it waited
            if not over.is_set():
                _log.error("the page stopped: %s in %s", type(error).__name__, place_of(error))

    # A daemon thread ends with the program; waitress would wait for browsers that stay connected.
    Thread(target=run, name="page", daemon=True).start()
    try:
        yield
    finally:
        over.set()
        # The thread that serves closes it: a port that another thread waits at would stay taken.
        server.trigger.pull_trigger(close)
        asked.set()
        if not closed.wait(CLOSES_S):
            server.close()
