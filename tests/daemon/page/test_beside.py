"""The page beside the daemon. If it cannot be served, the garden is watched all the same."""

from __future__ import annotations

import socket
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from threading import Event
from typing import Any

import pytest
import requests
from commanding import EVENING, HEAD, Garden, fails
from flask import Flask
from garden_toml import EMBER
from page_garden import served

from underbench.daemon.commands.page import page_if_it_can_be
from underbench.daemon.config.page_table import PageTable
from underbench.daemon.config.reloading import Reloading
from underbench.daemon.page.serve import running, server_of
from underbench.daemon.store.store import Store


def test_a_port_that_is_taken_costs_the_page_and_not_the_watch(
    garden: Garden, caplog: pytest.LogCaptureFixture
) -> None:
    with socket.socket() as other:
        other.bind(("127.0.0.1", 0))
        other.listen()
        port = other.getsockname()[1]
        garden.write(f'{HEAD}{EMBER}[page]\nlisten = "127.0.0.1:{port}"\n')
        watched = False
        with page_if_it_can_be(Reloading(garden.config), EVENING):
            watched = True
        assert watched
        fails(garden.do("page"), "cannot be listened on")
    assert any("no page" in text for text in caplog.messages)
    with Store.open(garden.database) as store:
        (told,) = store.messages.records(EVENING.replace(hour=0))
    assert told.message.title.startswith("NO PAGE")
    assert f"{port}" in told.message.body


def test_an_open_door_without_a_password_costs_the_page_only(garden: Garden) -> None:
    garden.write(f'{HEAD}{EMBER}[page]\nlisten = "0.0.0.0:8640"\n')
    with page_if_it_can_be(Reloading(garden.config), EVENING), Store.open(garden.database) as store:
        (told,) = store.messages.records(EVENING.replace(hour=0))
    assert "page-password" in told.message.body


def test_connections_that_never_ask_do_not_take_the_page_away() -> None:
    """130 of them from one address took it away for two minutes; waitress holds 100 by itself."""
    app = Flask(__name__)
    app.add_url_rule("/", view_func=lambda: "there")
    with served(app) as url, ExitStack() as slow:
        port, ones = int(url.rpartition(":")[2]), list[socket.socket]()
        for _ in range(130):
            one = slow.enter_context(socket.create_connection(("127.0.0.1", port)))
            one.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\nX-Slow: ")
            ones.append(one)
        assert requests.get(url, timeout=9).text == "there"
        assert requests.get(url, timeout=9).text == "there"
        ones[0].settimeout(9)
        assert ones[0].recv(1) == b""  # the first ones had to go
        ones[-1].setblocking(False)
        with pytest.raises(BlockingIOError):
            ones[-1].recv(1)  # the latest ones are still held


def test_the_page_ends_once_who_asked_was_answered(monkeypatch: pytest.MonkeyPatch) -> None:
    app, asked, ending = Flask(__name__), Event(), Event()
    app.add_url_rule("/", view_func=lambda: asked.set() or f"ending: {ending.wait(9)}")
    server: Any = server_of(app, "127.0.0.1:0", PageTable())
    threads = server.task_dispatcher
    shutdown, close, left = threads.shutdown, server.close, []

    def end_threads(**given: Any) -> None:
        ending.set()
        shutdown(**given)

    def end_all() -> None:
        left.extend(threads.threads)
        close()

    monkeypatch.setattr(threads, "shutdown", end_threads)
    monkeypatch.setattr(server, "close", end_all)
    url = f"http://127.0.0.1:{server.effective_port}"
    with ThreadPoolExecutor() as pool, requests.Session() as visitor:
        with running(server):
            answer = pool.submit(visitor.get, url, timeout=20)
            assert asked.wait(9)
        assert answer.result().text == "ending: True"
        with pytest.raises(requests.ConnectionError):
            visitor.get(url, timeout=20)  # on the connection that was kept
    assert not left
