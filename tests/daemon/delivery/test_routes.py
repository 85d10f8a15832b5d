"""Whom a message reaches, by which route, how many an hour, and with which chart."""

from __future__ import annotations

import base64
import struct
import sys
import threading
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from pathlib import Path

import pytest
from pydantic import SecretStr
from receiving import Receiver, receiving, within

from underbench.daemon.charts.png import MOST_BYTES, png
from underbench.daemon.config.people_tables import KEEPER
from underbench.daemon.delivery.outbox import (
    SECOND_ROUTE_AFTER,
    RefusedService,
    Services,
    Summary,
    deliver,
    send_unkept,
)
from underbench.daemon.store.store import Message, Store
from underbench.rules.hazards.findings import Strength

NOON = datetime(2031, 3, 9, 12, tzinfo=UTC)
MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
LONG_S = 20.0  # more than any answering service needs
ALL = within(60)  # messages an hour: none is held back
FROST = Message("frost 1", "Protect 2 trees", "Frost.\nBy 18:00.", Strength.ACT, NOON)
GALE = Message("gale 1", "Protect 1 tree", "Gale by noon.", Strength.DANGER, NOON)
SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="320" height="200">'
    '<rect width="320" height="200" fill="#fff"/><path d="M10 100H310" stroke="#000"/></svg>'
)


@pytest.fixture
def receiver() -> Iterator[Receiver]:
    with receiving() as server:
        yield server


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "underbench.db") as opened:
        yield opened


def told(receiver: Receiver) -> list[tuple[str, str]]:
    """(path, title) of all requests, by path."""
    return sorted((path, body["title"]) for path, body in receiver.got)


# Whom to


def test_a_message_goes_to_all_services_of_each_person_it_is_for(
    store: Store, receiver: Receiver
) -> None:
    services = Services(
        [receiver.url("/phone"), receiver.url("/tablet")], (), {"Ilse": [receiver.url("/ilse")]}
    )
    for number, to in enumerate([(KEEPER,), ("Ilse",), (KEEPER, "Ilse")]):
        store.messages.queue(replace(FROST, key=f"{number}", title=f"{number}", to=to))
    deliver(store, services, NOON, LONG_S, ALL)
    assert told(receiver) == [
        ("/ilse", "1"),
        ("/ilse", "2"),
        ("/phone", "0"),
        ("/phone", "2"),
        ("/tablet", "0"),
        ("/tablet", "2"),
    ]


def test_what_is_for_somebody_without_a_phone_goes_to_the_keeper_once(
    store: Store, receiver: Receiver
) -> None:
    services = Services([receiver.url("/phone")], (), {"Ilse": ()})
    store.messages.queue(replace(FROST, to=("Ilse", "Someone Else", KEEPER)))
    deliver(store, services, NOON, LONG_S, ALL)
    assert told(receiver) == [("/phone", FROST.title)]


def test_an_address_of_two_people_gets_a_message_once(store: Store, receiver: Receiver) -> None:
    house = receiver.url("/house")
    store.messages.queue(replace(FROST, to=(KEEPER, "Ilse")))
    deliver(store, Services([house], (), {"Ilse": [house]}), NOON, LONG_S, ALL)
    assert told(receiver) == [("/house", FROST.title)]


def test_a_refused_address_is_named_by_its_key_and_nothing_secret() -> None:
    bad = SecretStr("jsno://s3cret@host")
    with pytest.raises(RefusedService) as caught:
        Services([bad], [bad], {"Ilse": [SecretStr("terminal://"), bad]})
    assert [line.split(" (")[0] for line in str(caught.value).splitlines()] == [
        "telling.urls entry 1",
        "telling.danger_urls entry 1",
        "stand_in 'Ilse' urls entry 2",
    ]
    assert "s3cret" not in str(caught.value)


def test_services_are_called_by_whose_they_are(receiver: Receiver) -> None:
    services = Services(
        [receiver.url("/1")],
        [receiver.url("/2")],
        {"Ilse": [receiver.url("/3"), receiver.url("/4")]},
    )
    assert [services.label(key) for key in services.keys] == [
        "entry 1 (json://1***)",
        "danger entry 1 (json://1***)",
        "Ilse's entry 1 (json://1***)",
        "Ilse's entry 2 (json://1***)",
    ]
    assert services.label("0123456789ab") == "an earlier service"


# The second route


def minutes_of(store: Store, services: Services, receiver: Receiver, until: int) -> dict[int, str]:
    """The paths of the requests by minute, with a tick every minute."""
    came = {}
    for minute in range(until):
        before = len(receiver.got)
        deliver(store, services, NOON + minute * MINUTE, LONG_S, ALL)
        if new := [path for path, _ in receiver.got[before:]]:
            came[minute] = " ".join(new)
    return came


def test_danger_goes_the_second_route_once_when_the_first_fails(
    store: Store, receiver: Receiver
) -> None:
    receiver.refusing = {"/phone", "/tablet"}
    services = Services(
        [receiver.url("/phone"), receiver.url("/tablet")], [receiver.url("/neighbour")]
    )
    for message in (FROST, GALE):
        store.messages.queue(message)
    came = minutes_of(store, services, receiver, 90)
    by_neighbour = [minute for minute, paths in came.items() if "/neighbour" in paths]
    assert by_neighbour == [SECOND_ROUTE_AFTER // MINUTE]
    assert receiver.titles("/neighbour") == [GALE.title]  # not the frost: it is no danger
    assert 21 in came  # the first route is still tried


def test_danger_that_one_service_took_never_goes_the_second_route(
    store: Store, receiver: Receiver
) -> None:
    receiver.refusing = {"/phone"}
    services = Services(
        [receiver.url("/phone"), receiver.url("/tablet")], [receiver.url("/neighbour")]
    )
    store.messages.queue(GALE)
    minutes_of(store, services, receiver, 90)
    assert receiver.titles("/tablet") == [GALE.title]
    assert receiver.titles("/neighbour") == []


def test_after_a_sleep_the_first_route_is_tried_before_the_second(
    store: Store, receiver: Receiver
) -> None:
    services = Services([receiver.url("/phone")], [receiver.url("/neighbour")])
    store.messages.queue(GALE)
    deliver(store, services, NOON + 5 * HOUR, LONG_S, ALL)
    assert told(receiver) == [("/phone", GALE.title)]
    receiver.refusing = {"/phone"}
    store.messages.queue(replace(GALE, key="gale 2"))
    deliver(store, services, NOON + 5 * HOUR, LONG_S, ALL)
    assert receiver.titles("/neighbour") == [GALE.title]


def test_danger_goes_the_second_route_while_the_first_hangs(
    store: Store, receiver: Receiver
) -> None:
    receiver.hanging = {"/phone"}
    services = Services([receiver.url("/phone")], [receiver.url("/neighbour")])
    store.messages.queue(FROST)
    deliver(store, services, NOON, 0.3, ALL)
    store.messages.queue(GALE)
    deliver(store, services, NOON + SECOND_ROUTE_AFTER, LONG_S, ALL)
    assert receiver.titles("/neighbour") == [GALE.title]


def test_with_the_clock_set_back_danger_does_not_wait_for_it(
    store: Store, receiver: Receiver
) -> None:
    receiver.refusing = {"/phone"}
    services = Services([receiver.url("/phone")], [receiver.url("/neighbour")])
    store.messages.queue(GALE)
    for now in (NOON, NOON - DAY, NOON - DAY + 5 * MINUTE):
        deliver(store, services, now, LONG_S, ALL)
    assert receiver.titles("/phone") == [GALE.title] * 3
    assert receiver.titles("/neighbour") == [GALE.title]


# The rate


def test_what_is_not_danger_is_held_to_so_many_an_hour_and_none_is_lost(
    store: Store, receiver: Receiver
) -> None:
    services = Services([receiver.url("/phone")])
    for number in range(7):
        store.messages.queue(replace(FROST, key=f"{number}", title=f"{number}"))
    store.messages.queue(GALE)
    came: dict[str, int] = {}
    for minute in range(200):
        before = len(receiver.got)
        deliver(store, services, NOON + minute * MINUTE, LONG_S, within(3))
        came |= {body["title"]: minute for _, body in receiver.got[before:]}
    held = {"0": 0, "1": 0, "2": 0, "3": 60, "4": 60, "5": 60, "6": 120}
    assert came == {GALE.title: 0, **held}
    assert len(receiver.got) == 8


def test_what_asks_to_act_does_not_wait_behind_what_is_only_worth_knowing(
    store: Store, receiver: Receiver
) -> None:
    services = Services([receiver.url("/phone")])
    for number in range(3):
        note = replace(FROST, key=f"{number}", title=f"{number}", strength=Strength.NOTICE)
        store.messages.queue(note)
    store.messages.queue(replace(FROST, strength=Strength.ACT))
    deliver(store, services, NOON, LONG_S, within(1))
    assert receiver.titles("/phone") == [FROST.title]


def test_quiet_hours_hold_back_all_but_danger_however_late_it_is_tried(
    store: Store, receiver: Receiver
) -> None:
    at_night = within(60, quiet=(time(22), time(6)))
    services = Services([receiver.url("/phone")])
    eleven = NOON.replace(hour=22)  # in Berlin
    store.messages.queue(
        replace(FROST, key="act", title="act", queued_at=eleven, strength=Strength.ACT)
    )
    store.messages.queue(replace(GALE, queued_at=eleven))
    deliver(store, services, eleven, LONG_S, at_night)
    assert receiver.titles("/phone") == [GALE.title]
    deliver(store, services, eleven + 7 * HOUR, LONG_S, at_night)
    assert len(receiver.titles("/phone")) == 2


def test_what_goes_out_on_a_later_day_names_the_one_on_which_it_was_written(
    store: Store, receiver: Receiver
) -> None:
    services = Services([receiver.url("/phone")])
    receiver.refusing = {"/phone"}
    store.messages.queue(GALE)
    deliver(store, services, NOON, LONG_S, ALL)
    receiver.refusing = set()
    deliver(store, services, NOON + 13 * HOUR, LONG_S, ALL)
    day = f"{NOON:%A}"
    assert receiver.titles("/phone") == [GALE.title, f"Of {day}: {GALE.title}"]
    (kept,) = (record.message.title for record in store.messages.records(NOON - HOUR))
    assert kept == GALE.title


def test_the_rate_is_each_phones_own_and_counts_what_it_took(
    store: Store, receiver: Receiver
) -> None:
    receiver.refusing = {"/tablet"}
    services = Services([receiver.url("/phone"), receiver.url("/tablet")])
    store.messages.queue(replace(FROST, key="1", title="1"))
    deliver(store, services, NOON, LONG_S, within(1))
    receiver.refusing = set()
    store.messages.queue(replace(FROST, key="2", title="2"))
    deliver(store, services, NOON + MINUTE, LONG_S, within(1))
    assert receiver.titles("/phone") == ["1"]
    assert receiver.titles("/tablet") == ["1", "1"]  # refused, then taken


# Two programs


def test_programs_that_deliver_at_once_send_a_message_once(tmp_path: Path) -> None:
    together = threading.Barrier(4)
    sent: list[Summary] = []
    with receiving() as receiver, Store.open(tmp_path / "underbench.db") as store:
        for number in range(10):
            store.messages.queue(replace(FROST, key=f"{number}", title=f"{number}"))

        def program() -> None:
            with Store.open(tmp_path / "underbench.db") as own:
                services = Services([receiver.url("/phone")])
                together.wait()
                sent.append(deliver(own, services, NOON, LONG_S, ALL))

        threads = [threading.Thread(target=program) for _ in range(4)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert receiver.titles("/phone") == [f"{number}" for number in range(10)]
    assert sorted(len(one.delivered) for one in sent) == [0, 0, 0, 10]


# Without the store


def test_what_cannot_be_kept_goes_by_every_route(receiver: Receiver) -> None:
    services = Services([receiver.url("/phone")], [receiver.url("/neighbour")])
    receiver.refusing = {"/phone"}
    assert send_unkept(services, GALE, LONG_S)
    assert told(receiver) == [("/neighbour", GALE.title), ("/phone", GALE.title)]
    receiver.refusing = {"/phone", "/neighbour"}
    assert not send_unkept(services, GALE, LONG_S)


# The chart


def pictures(receiver: Receiver) -> list[bytes]:
    """The pictures of the last request."""
    return [base64.b64decode(one["base64"]) for one in receiver.got[-1][1]["attachments"]]


def test_a_chart_arrives_as_a_png(store: Store, receiver: Receiver) -> None:
    store.messages.queue(replace(FROST, picture=SVG))
    deliver(store, Services([receiver.url("/phone")]), NOON, LONG_S, ALL)
    (picture,) = pictures(receiver)
    # W3C PNG specification (third edition): signature in 5.2, IHDR's width and height in 11.2.1.
    assert picture[:8] == b"\x89PNG\r\n\x1a\n"
    assert struct.unpack(">4sII", picture[12:24]) == (b"IHDR", 320, 200)
    assert receiver.got[-1][1]["attachments"][0]["mimetype"] == "image/png"


def test_what_failed_with_its_chart_is_tried_without(store: Store, receiver: Receiver) -> None:
    receiver.refusing = {"/phone"}
    services = Services([receiver.url("/phone")])
    store.messages.queue(replace(FROST, picture=SVG))
    deliver(store, services, NOON, LONG_S, ALL)
    assert len(pictures(receiver)) == 1
    deliver(store, services, NOON + MINUTE, LONG_S, ALL)
    assert pictures(receiver) == []
    assert receiver.titles("/phone") == [FROST.title] * 2


@pytest.mark.parametrize("installed", [True, False])
def test_a_chart_that_cannot_be_drawn_is_left_out(
    store: Store,
    receiver: Receiver,
    installed: bool,
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    if not installed:
        png.cache_clear()
        monkeypatch.setitem(sys.modules, "resvg_py", None)  # importing it fails
    store.messages.queue(replace(FROST, picture="no chart" if installed else SVG))
    summary = deliver(store, Services([receiver.url("/phone")]), NOON, LONG_S, ALL)
    png.cache_clear()
    assert summary.failed == ()
    assert pictures(receiver) == []
    assert caplog.text == ""


def test_a_picture_too_big_for_a_phone_is_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    drawn = png(SVG)
    assert drawn is not None
    assert len(drawn) < MOST_BYTES
    png.cache_clear()
    monkeypatch.setattr("underbench.daemon.charts.png.MOST_BYTES", len(drawn) - 1)
    assert png(SVG) is None
    png.cache_clear()
