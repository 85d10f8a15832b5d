"""``underbench told``: each message, when by the garden's clock, to whom, and if it arrived."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from commanding import HEAD, Garden, fails, stamp
from garden_toml import EMBER
from receiving import Receiver, receiving, within

from underbench.daemon.config.people_tables import KEEPER
from underbench.daemon.delivery.outbox import Services, deliver
from underbench.daemon.store.message_queue import Due
from underbench.daemon.store.store import Message, Store
from underbench.rules.hazards.findings import Strength

NOON = datetime(2031, 3, 9, 12, tzinfo=UTC)  # 13:00 in the garden, a Sunday
MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
LONG_S = 20.0  # more than any answering service needs
FROST = Message("frost 1", "PROTECT 2 trees", "Frost.\nBy 18:00.", Strength.ACT, NOON)
GALE = Message("gale 1", "PROTECT 1 tree", "Gale.", Strength.DANGER, NOON + HOUR, to=("Ilse",))
STAND_IN = '[[stand_in]]\nname = "Ilse"\ndays = ["2031-03-09 to 2031-03-12"]\nurls = ["{}"]\n'


@pytest.fixture
def phone() -> Iterator[Receiver]:
    with receiving() as server:
        yield server


class Told:
    """A garden with a keeper's phone and tablet and a stand-in's phone."""

    def __init__(self, garden: Garden, phone: Receiver) -> None:
        self.garden, self.phone = garden, phone
        own = [phone.url("/phone", "s3cret:s3cret@"), phone.url("/s3cret")]
        ilse = phone.url("/ilse", "s3cret:s3cret@")
        self.services = Services(own, (), {"Ilse": [ilse]})
        listed = ", ".join(f'"{url.get_secret_value()}"' for url in own)
        people = STAND_IN.format(ilse.get_secret_value())
        garden.write(HEAD + EMBER + f"\n[telling]\nurls = [{listed}]\n{people}")

    def queue(self, *messages: Message) -> None:
        with Store.open(self.garden.database) as store:
            for message in messages:
                store.messages.queue(message)

    def deliver(self, *moments: datetime) -> None:
        with Store.open(self.garden.database) as store:
            for now in moments:
                deliver(store, self.services, now, LONG_S, within(60))

    def lines(self, now: datetime, *words: str) -> list[str]:
        done = self.garden.do("told", "--at", stamp(now), *words)
        assert done.exit_code == 0, done.output
        assert "s3cret" not in done.output
        return done.stdout.splitlines()


@pytest.fixture
def told(garden: Garden, phone: Receiver) -> Told:
    return Told(garden, phone)


def test_newest_first_by_the_gardens_clock_with_how_each_service_took_it(
    told: Told, phone: Receiver
) -> None:
    phone.refusing = {"/s3cret"}
    told.queue(FROST)
    told.deliver(NOON + 2 * MINUTE)
    told.queue(GALE)
    told.deliver(NOON + HOUR, NOON + HOUR + 5 * MINUTE)
    assert told.lines(NOON + HOUR + 6 * MINUTE) == [
        "Sun 9 Mar 14:00  PROTECT 1 tree (to Ilse)",
        "    Ilse's entry 1 (json://s***): delivered 14:00",
        "Sun 9 Mar 13:00  PROTECT 2 trees",
        "    entry 1 (json://s***): delivered 13:02",
        "    entry 2 (json://1***): failed 3 times, refused it (HTTP 403); next try 14:20",
    ]


def test_what_waits_what_was_cut_off_and_what_was_given_up(told: Told, phone: Receiver) -> None:
    phone.refusing = {"/s3cret"}
    told.queue(FROST)
    waiting = "    entry {} (json://{}***): waiting"
    assert told.lines(NOON) == [
        "Sun 9 Mar 13:00  PROTECT 2 trees",
        waiting.format(1, "s"),
        waiting.format(2, "1"),
    ]
    told.deliver(NOON + MINUTE)
    told.queue(GALE)
    late = told.lines(NOON + 25 * HOUR)
    assert late == [
        "Sun 9 Mar 14:00  PROTECT 1 tree (to Ilse)",
        "    given up: no service was there to take it",
        "Sun 9 Mar 13:00  PROTECT 2 trees",
        "    entry 1 (json://s***): delivered 13:01",
        "    entry 2 (json://1***): given up, failed once, refused it (HTTP 403)",
    ]


def test_what_may_have_arrived_is_not_shown_as_waiting(told: Told, phone: Receiver) -> None:
    phone.mute = {"/s3cret"}
    told.queue(FROST)
    told.deliver(NOON, NOON + MINUTE)
    assert told.lines(NOON + 3 * MINUTE)[2] == (
        "    entry 2 (json://1***): given up, failed 2 times, "
        "sent whole, and no answer came: it may have arrived"
    )


def test_a_try_that_was_cut_off_and_a_delivery_of_the_next_day(told: Told) -> None:
    evening = replace(FROST, queued_at=NOON + 10 * HOUR)
    told.queue(evening)
    with Store.open(told.garden.database) as store:
        own = told.services.first([KEEPER])
        (record,) = store.messages.records(NOON)
        for key in own:
            store.messages.trying(Due(record.message, key, 0), NOON + 10 * HOUR, NOON + 12 * HOUR)
        store.messages.delivered(Due(record.message, own[0], 1), NOON + 12 * HOUR)
    cut_off = "failed once, cut off, no answer is known; next try Mon 10 Mar 01:00"
    assert told.lines(NOON + 11 * HOUR)[1:] == [
        "    entry 1 (json://s***): delivered Mon 10 Mar 01:00",
        f"    entry 2 (json://1***): {cut_off}",
    ]


def test_a_service_no_longer_configured_is_an_earlier_one(told: Told) -> None:
    told.queue(FROST)
    told.deliver(NOON)
    told.garden.write(HEAD + EMBER)
    assert told.lines(NOON + DAY)[1:] == ["    an earlier service: delivered 13:00"] * 2


def test_days_bound_it_and_full_gives_the_words(told: Told) -> None:
    assert told.lines(NOON) == ["Nothing was said in these days."]
    told.queue(FROST, replace(GALE, queued_at=NOON - 10 * DAY))
    assert len(told.lines(NOON + HOUR, "--days", "2")) == 3
    assert len(told.lines(NOON + HOUR)) == 5
    assert told.lines(NOON + HOUR, "--days", "2", "--full")[:3] == [
        "Sun 9 Mar 13:00  PROTECT 2 trees",
        "    Frost.",
        "    By 18:00.",
    ]
    fails_on_days = told.garden.do("told", "--days", "0")
    assert fails_on_days.exit_code == 2
    assert "--days" in fails_on_days.stderr


def test_json_has_it_all_but_the_addresses(told: Told, phone: Receiver) -> None:
    phone.refusing = {"/s3cret"}
    told.queue(replace(FROST, picture="<svg/>"))
    told.deliver(NOON)
    (one,) = json.loads("\n".join(told.lines(NOON + MINUTE / 2, "--json")))["messages"]
    first, second = one.pop("deliveries")
    assert one == {
        "at": "2031-03-09T12:00:00Z",
        "kind": "advice",
        "strength": "act",
        "to": ["keeper"],
        "title": FROST.title,
        "body": FROST.body,
    }
    assert first["delivered_at"] == first["tried_at"] == "2031-03-09T12:00:00Z"
    assert (second["attempts"], second["reason"]) == (1, "refused it (HTTP 403)")
    assert second["how"] == "failed once, refused it (HTTP 403); next try 13:01"


def test_a_garden_that_cannot_be_read_is_one_line(garden: Garden) -> None:
    garden.write("[garden\n")
    fails(garden.do("told"), "garden.toml")
