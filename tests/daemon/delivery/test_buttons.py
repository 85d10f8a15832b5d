"""Buttons go to the service that shows them, once; a message never fails because of them."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from pydantic import SecretStr
from receiving import receiving, within

from underbench.daemon.delivery.buttons import with_buttons
from underbench.daemon.delivery.outbox import Services, deliver
from underbench.daemon.store.message_queue import Message
from underbench.daemon.store.store import Store
from underbench.rules.hazards.findings import Strength

NOON = datetime(2031, 3, 9, 12, tzinfo=UTC)
PAGE = "https://orchard-end.example"
LINK = f"{PAGE}/a/{'Ab-_' * 5}xy"
FROST = Message("frost 1", "PROTECT 2 trees", f"The list to tick: {LINK}", Strength.ACT, NOON)


def received(store: Store, address: str, *messages: Message, refuse: bool = False) -> list[str]:
    """The buttons of each request that a round, and one a minute later, made."""
    with receiving() as receiver:
        for message in messages:
            store.messages.queue(message)
        receiver.refusing = {"/"} if refuse else set()
        here = f"127.0.0.1:{receiver.server_port}"
        services = Services([SecretStr(address.replace("HERE", here))])
        for minute in range(2):
            deliver(store, services, NOON + timedelta(minutes=minute), 20.0, within(60))
        return receiver.buttons


def test_the_buttons_are_as_the_service_documents_them(tmp_path: Path) -> None:
    """docs.ntfy.sh/publish: "short format", at most three."""
    with Store.open(tmp_path / "underbench.db") as store:
        (told,) = received(store, "ntfy://HERE/orchard", FROST)
    assert told.split("; ") == [
        f"http, Done, {LINK}?answer=all, clear=true",
        f"view, Not all, {LINK}, clear=true",
        f"http, Not tonight, {LINK}?answer=not+tonight, clear=true",
    ]


def test_a_refused_message_is_sent_again_without_its_buttons(tmp_path: Path) -> None:
    with Store.open(tmp_path / "underbench.db") as store:
        first, second = received(store, "ntfy://HERE/orchard", FROST, refuse=True)
    assert first
    assert not second


@pytest.mark.parametrize(
    ("address", "body"),
    [
        ("json://example/phone", FROST.body),
        ("ntfy://example/orchard?actions=view%2C+Home%2C+https%3A%2F%2Fexample", FROST.body),
        ("ntfy://example/orchard", f"The list to tick: {PAGE}/do/handled"),
        ("ntfy://example/orchard", f"See {PAGE.replace('end', 'ende,')}/a/{'Ab-_' * 5}xy"),
        ("ntfy://example/orchard", f"See https://öl.example/a/{'Ab-_' * 5}xy"),
    ],
)
def test_what_cannot_have_buttons_stays_as_it_is(address: str, body: str) -> None:
    assert with_buttons(address, body) == address


def test_an_address_with_options_keeps_them(tmp_path: Path) -> None:
    with Store.open(tmp_path / "underbench.db") as store:
        (told,) = received(store, "ntfy://HERE/orchard?priority=high", replace(FROST, key="2"))
    assert told.startswith("http, Done, ")
