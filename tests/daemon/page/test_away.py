"""Where the wifi ends: the last state with its age, and notes kept till the daemon is reached."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import timedelta
from typing import Any

import pytest
from browsing import press, shows
from flask import Flask
from flask.testing import FlaskClient
from page_garden import PageGarden, served, token
from selenium.webdriver import Chrome
from selenium.webdriver.common.by import By

from underbench.rules.garden.journal import Move, Watering

KEPT = {"Underbench-Kept": "1"}


@pytest.fixture
def garden(own: PageGarden) -> PageGarden:
    return own


def waterings(garden: PageGarden) -> list[Watering]:
    with garden.store() as store:
        return [entry for entry in store.journal.entries() if isinstance(entry, Watering)]


def sent(client: FlaskClient, path: str = "/do/watered", **fields: str) -> tuple[int, str]:
    """What a phone is answered that sends a note it kept."""
    form = {"csrf": token(client), "tree": "Ember", **fields}
    answer = client.post(path, data=form, headers=KEPT)
    return answer.status_code, answer.text


def test_a_note_sent_twice_counts_once(garden: PageGarden) -> None:
    client = garden.client()
    assert sent(client, once="one") == (204, "")
    assert sent(client, once="one") == (204, "")
    assert len(waterings(garden)) == 1
    assert sent(client, once="another") == (204, "")
    assert len(waterings(garden)) == 2


def test_a_note_that_was_refused_may_be_sent_again_under_its_key(garden: PageGarden) -> None:
    client = garden.client()
    status, words = sent(client, tree="Nobody", once="one")
    assert status == 422
    assert "Nobody" in words
    assert "<" not in words
    assert sent(client, once="one") == (204, "")
    assert len(waterings(garden)) == 1


@pytest.mark.parametrize(("ago", "counts"), [(2, True), (24 * 8, False), (-2, False)])
def test_a_note_counts_from_when_it_was_made_if_that_can_be(
    garden: PageGarden, ago: int, counts: bool
) -> None:
    made = garden.now - timedelta(hours=ago)
    assert sent(garden.client(), noted_at=f"{made.timestamp():.0f}") == (204, "")
    (noted,) = waterings(garden)
    assert noted.at == (made if counts else garden.now)


def test_leaving_takes_what_the_phone_kept_with_it(garden: PageGarden) -> None:
    client = garden.client()
    left = client.post("/leave", data={"csrf": token(client)})
    assert left.headers["Clear-Site-Data"] == '"storage"'


# In the browser


class Wifi:
    """The way to the page. Once it is cut, a proxy says that nothing is behind it (504)."""

    def __init__(self, app: Flask) -> None:
        self._app, self.cut = app, False

    def __call__(self, environ: Any, start_response: Any) -> Iterable[bytes]:
        if self.cut:
            start_response("504 Gateway Timeout", [("Content-Length", "0")])
            return []
        return self._app(environ, start_response)


@pytest.fixture
def phone(scripted: Chrome) -> Chrome:
    return scripted


WORKS = "navigator.serviceWorker.ready.then(() => arguments[0](!!navigator.serviceWorker))"


def test_away_from_the_wifi_and_back(phone: Chrome, garden: PageGarden) -> None:
    """The list is read, a job ticked and a tree watered without the daemon; both arrive once it is
    back, in order and once."""
    wifi: Any = Wifi(garden.app)
    with served(wifi) as url:
        phone.get(url)
        assert phone.execute_async_script(WORKS)
        phone.refresh()
        wifi.cut = True
        phone.get(url)
        assert shows(phone, "The daemon is not reached. This is how it stood at")
        phone.get(f"{url}/told")
        assert shows(phone, "this page was not looked at before")
        phone.get(f"{url}/do/handled")
        phone.find_element(By.XPATH, "//label[contains(., 'Thorn')]").click()
        press(phone, "Done: all but the ticked")
        assert shows(phone, "Kept on this phone till the daemon is reached: done: all but Thorn.")
        phone.get(f"{url}/do/tree/Needle")  # not looked at before: the form for all trees stands in
        phone.find_element(By.XPATH, "//label[contains(., 'Needle')]").click()
        press(phone, "Watered till it drained")
        assert shows(phone, "done: all but Thorn; watered: Needle.")
        wifi.cut = False
        phone.get(f"{url}/do/handled")
        assert shows(phone, "Take back")
        assert "Kept on this phone" not in phone.find_element(By.TAG_NAME, "body").text
    with garden.store() as store:
        notes = store.notes.latest()[::-1]
    kinds = [[type(entry) for entry in note.entries] for note in notes]
    assert kinds == [[Move] * 3, [Watering]]
    assert {entry.tree for note in notes for entry in note.entries} == {
        *("Ember", "Lane", "Wisp & Co", "Needle")
    }
