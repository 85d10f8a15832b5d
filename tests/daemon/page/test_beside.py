"""The page beside the daemon. If it cannot be served, the garden is watched all the same."""

from __future__ import annotations

import socket

import pytest
from commanding import EVENING, HEAD, Garden, fails
from garden_toml import EMBER

from underbench.daemon.commands.page import page_if_it_can_be
from underbench.daemon.config.reloading import Reloading
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
