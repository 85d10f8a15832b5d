"""Answering a message by its link: done, done but for some, not tonight; nobody else gets in."""

from __future__ import annotations

import re
from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from page_garden import EVENING, PASSWORD, PageGarden, token, written
from pydantic import SecretStr
from receiving import receiving
from told_rows import told

from underbench.daemon.delivery.answer_links import ANSWER_KEY, GOOD_FOR, signed
from underbench.daemon.delivery.outbox import Services, deliver, manner_of
from underbench.daemon.store.episodes import EpisodeRow, key_of
from underbench.daemon.store.message_queue import Message, Tells
from underbench.rules.garden.journal import Handled, Move
from underbench.rules.hazards.findings import Strength

ADDRESS = "https://orchard-end.example"
PAGE = f'\n[page]\naddress = "{ADDRESS}"\n'
HOUR = timedelta(hours=1)
DANGER = {"told_strength": "danger", "told_at": EVENING - HOUR, "from_at": EVENING + 10 * HOUR}
DANGER |= {"until_at": EVENING + 15 * HOUR, "span_start": EVENING - 5 * HOUR}
DANGER |= {"span_end": EVENING + 19 * HOUR}


def row(tree: str, nights: int = 0, **given: Any) -> EpisodeRow:
    one = replace(told(tree), **{**DANGER, "remedy": "into-spot", "into_spot": "shed", **given})
    later = {n: getattr(one, n) + nights * 24 * HOUR for n in ("from_at", "until_at")}
    later |= {n: getattr(one, n) + nights * 24 * HOUR for n in ("span_start", "span_end")}
    return replace(one, **later)


EMBER, LANE, HEATH = row("Ember"), row("Lane"), row("Heath")


def message(rows: list[EpisodeRow], key: str = "advice 1") -> Message:
    tells = Tells(tuple(key_of(one) for one in rows))
    body = f"Into the shed: Ember, Lane\nDone: {ADDRESS}/do/handled"
    return Message(key, "PROTECT 2 trees", body, Strength.DANGER, EVENING - HOUR, tells=tells)


@pytest.fixture
def page(own: PageGarden) -> PageGarden:
    own.config.write_text(written(more=PAGE), encoding="utf-8")
    own.lock()
    with own.store() as store:
        for table in ("episode", "message"):  # those of the pass itself
            store.db[table].delete_where()
        store.episodes.put([EMBER, LANE, HEATH])
        store.messages.queue(message([EMBER, LANE]))
    return own


def sent(page: PageGarden) -> str:
    """The body of the message as a phone gets it."""
    with receiving() as receiver, page.store() as store:
        services = Services([receiver.url("/phone")])
        deliver(store, services, EVENING, 20.0, manner_of(page.settings))
        ((_, body),) = receiver.got
    return str(body["message"])


def link(page: PageGarden) -> str:
    found = re.search(rf"Done: {ADDRESS}(/a/[\w-]+)", sent(page))
    assert found is not None
    return found[1]


def rows(page: PageGarden) -> dict[str, EpisodeRow]:
    with page.store() as store:
        return {one.tree: one for one in store.episodes.since(EVENING) if one.told_at}


def notes(page: PageGarden) -> list[Any]:
    with page.store() as store:
        return [e for e in store.journal.entries() if isinstance(e, Handled | Move)]


def test_the_message_has_the_link_on_the_phone_and_nowhere_else(page: PageGarden) -> None:
    path = link(page)
    with page.store() as store:
        (kept,) = store.messages.records(EVENING - 5 * HOUR)
        assert path not in kept.message.body
    told_page = page.client()
    assert path not in told_page.get("/told").text


def test_looking_shows_the_trees_of_the_message_and_changes_nothing(page: PageGarden) -> None:
    shown = page.client().get(link(page))
    assert shown.status_code == 200
    assert "PROTECT 2 trees" in shown.text
    for words in ("All done", "Not tonight", 'value="Ember" checked', 'value="Lane" checked'):
        assert words in shown.text
    assert "Heath" not in shown.text
    assert notes(page) == []
    assert all(one.handled_at is None for one in rows(page).values())


def test_all_done_is_noted_for_the_trees_of_the_message_and_can_be_taken_back(
    page: PageGarden,
) -> None:
    path, client = link(page), page.client()
    answered = client.post(path, data={"answer": "all"})
    assert answered.status_code == 303
    assert [(e.tree, e.spot) for e in notes(page)] == [("Ember", "shed"), ("Lane", "shed")]
    assert rows(page)["Heath"].handled_at is None
    shown = client.get(answered.location).text
    assert "Noted: Ember and Lane moved to shed" in shown
    assert "Nothing of this message is left to do." in shown
    hidden = dict(re.findall(r'name="(n|s)" value="([^"]+)"', shown))
    assert client.post(path, data={**hidden, "answer": "undo"}).status_code == 303
    assert notes(page) == []
    assert rows(page)["Ember"].handled_at is None
    assert "All done" in client.get(path).text


def test_done_but_for_one(page: PageGarden) -> None:
    path, client = link(page), page.client()
    refused = client.post(path, data={"answer": "ticked"})
    assert refused.status_code == 422
    assert "Tick what is done" in refused.text
    client.post(path, data={"answer": "ticked", "tree": ["Lane", "Heath", "Old Stump"]})
    assert [e.tree for e in notes(page)] == ["Lane"]  # the others are not of this message
    assert rows(page)["Ember"].handled_at is None
    assert "Lane" not in client.get(path).text


def test_not_tonight_stops_tonight_s_reminder_and_nothing_else(page: PageGarden) -> None:
    tomorrow = row("Ember", nights=1)
    with page.store() as store:
        store.episodes.put([tomorrow])
        store.messages.queue(message([EMBER, tomorrow], "advice 2"))
        path = f"/a/{signed(store.pages.secret(ANSWER_KEY, EVENING), 'advice 2')}"
    client = page.client()
    shown = client.get(client.post(path, data={"answer": "not tonight"}).location).text
    assert "Noted: Ember not tonight." in shown
    with page.store() as store:
        tonight, later = (one for one in store.episodes.since(EVENING) if one.tree == "Ember")
    assert (tonight.reminded_at, tonight.handled_at) == (EVENING, None)
    assert later.reminded_at is None
    assert notes(page) == []
    hidden = dict(re.findall(r'name="(n|s)" value="([^"]+)"', shown))
    client.post(path, data={**hidden, "answer": "undo"})
    assert rows(page)["Ember"].reminded_at is None


def test_a_wrong_or_an_old_link_opens_nothing(page: PageGarden) -> None:
    path, client = link(page), page.client()
    for wrong in ("/a/x", f"{path}x", path[:-1], f"/a/{signed('another key', 'advice 1')}"):
        assert client.get(wrong).status_code == 410, wrong
        assert client.post(wrong, data={"answer": "all"}).status_code == 410, wrong
    page.now = EVENING - HOUR + GOOD_FOR
    assert client.get(path).status_code == 410
    assert notes(page) == []


def test_the_link_opens_no_other_door(page: PageGarden) -> None:
    path, client = link(page), page.client()
    client.get(path)
    client.post(path, data={"answer": "all"})
    assert client.get("/").status_code == 303
    assert client.post("/do/undo", data={}).status_code in (303, 400)
    elsewhere = {"Origin": "https://elsewhere.example"}
    assert client.post(path, data={"answer": "all"}, headers=elsewhere).status_code == 400


def test_a_keeper_who_is_in_stays_in(page: PageGarden) -> None:
    client = page.client()
    client.post("/enter", data={"csrf": token(client), "password": PASSWORD})
    assert client.get("/").status_code == 200
    client.get(link(page))
    assert client.get("/").status_code == 200


def test_what_others_noted_is_not_taken_back(page: PageGarden) -> None:
    path, client = link(page), page.client()
    shown = client.get(client.post(path, data={"answer": "all"}).location).text
    hidden = dict(re.findall(r'name="(n|s)" value="([^"]+)"', shown))
    with page.store() as store, store.notes.noting(EVENING):
        store.journal.add([Move(tree="Thorn", at=EVENING, spot="shed")])
        last = store.notes.last()
    refused = client.post(path, data={**hidden, "answer": "undo"})
    assert refused.status_code == 422
    number = str(last.id + 1 if last else 2)
    assert client.post(path, data={**hidden, "n": number, "answer": "undo"}).status_code == 422
    assert len(notes(page)) == 3


def buttons(page: PageGarden) -> list[str]:
    """The buttons under the message as ntfy gets it, each as it is written."""
    with receiving() as receiver, page.store() as store:
        services = Services([SecretStr(f"ntfy://127.0.0.1:{receiver.server_port}/orchard")])
        deliver(store, services, EVENING, 20.0, manner_of(page.settings))
        (written_,) = receiver.buttons
    return written_.split("; ")


def test_a_button_on_the_phone_notes_that_all_is_done(page: PageGarden) -> None:
    done, some, not_tonight = buttons(page)
    assert some.startswith(f"view, Not all, {ADDRESS}/a/")
    assert not_tonight.startswith("http, Not tonight, ")
    posted = re.fullmatch(rf"http, Done, {ADDRESS}(/a/[\w-]+\?answer=all), clear=true", done)
    assert posted is not None
    assert page.client().get(posted[1]).status_code == 200  # a program that only looks
    assert notes(page) == []
    assert page.client().post(posted[1]).status_code == 303
    assert [(e.tree, e.spot) for e in notes(page)] == [("Ember", "shed"), ("Lane", "shed")]


def test_a_button_on_the_phone_keeps_back_the_reminder(page: PageGarden) -> None:
    posted = re.search(rf"{ADDRESS}(/a/[\w-]+\?answer=not\+tonight)", buttons(page)[2])
    assert posted is not None
    assert page.client().post(posted[1]).status_code == 303
    assert notes(page) == []
    by_link = rows(page)["Ember"]
    assert by_link.reminded_at is not None
