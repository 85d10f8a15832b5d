"""Tuned from the page: limits, hours, means, chances, links, and a test of the phones."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import pytest
from page_garden import (
    EVENING,
    PASSWORD,
    PageGarden,
    change,
    in_file,
    token,
)
from receiving import receiving

from underbench.daemon.delivery.outbox import Services
from underbench.daemon.page.context import EXTENSION
from underbench.daemon.page.guess_limit import FREE, Guesses


@pytest.mark.parametrize(
    ("table", "typed", "held"),
    [
        ("hands_on", {"weekdays": "05:30-06:30, 18:00-20:00"}, ["05:30-06:30", "18:00-20:00"]),
        ("means", {"fleece_layers": "2"}, 2),
        ("chance", {"act_from": "0,2"}, 0.2),
        ("telling", {"round_up": "18:30"}, "18:30"),
    ],
)
def test_settings_are_written_into_their_table(
    own: PageGarden, table: str, typed: dict[str, str], held: Any
) -> None:
    client, before = own.client(), in_file(own)
    assert change(client, f"/tune/{table}").status_code == 303
    assert in_file(own) == before  # a form sent as it stands changes nothing
    assert change(client, f"/tune/{table}", **typed).status_code == 303
    assert in_file(own)[table][next(iter(typed))] == held
    assert {**in_file(own), table: None} == {**before, table: None}


def test_a_form_says_what_holds_though_the_file_leaves_it_out(own: PageGarden) -> None:
    client = own.client()
    assert "Chance of harm from which to act (now 0.3)" in client.get("/tune/chance").text
    change(client, "/tune/chance", act_from="0.2", flowers_from="never")
    page = client.get("/tune/chance").text
    assert "from which to act (now 0.2)" in page
    assert "flowers from which to act (now never)" in page


def test_hours_that_are_none_are_refused_at_their_field(own: PageGarden) -> None:
    refused = change(own.client(), "/tune/hands_on", weekdays="early")
    assert refused.status_code == 422
    assert "w-weekdays" in refused.text


def test_a_push_is_tested_and_its_address_stays_a_secret(own: PageGarden) -> None:
    deps = own.app.extensions[EXTENSION]
    with receiving() as phone:
        services = Services([phone.url("/hush-hush")])
        own.app.extensions[EXTENSION] = replace(deps, services=lambda _: services)
        try:
            client = own.client()
            page = client.get("/tune/pushes").text
            tried = client.post("/tune/pushes", data={"csrf": token(client)}).text
        finally:
            own.app.extensions[EXTENSION] = deps
        assert phone.titles("/hush-hush") == ["Underbench: a test"]
    assert "taken" in tried
    assert "Look at each phone now" in tried
    assert "hush-hush" not in page + tried


def test_a_link_is_made_shown_once_and_ended(own: PageGarden) -> None:
    client = own.client()
    sent = {"csrf": token(client), "name": "Robin"}
    assert "The page has no password" in client.post("/tune/links", data=sent).text
    own.lock()
    keeper = own.client()
    keeper.post("/enter", data={"csrf": token(keeper), "password": PASSWORD})
    sent["csrf"] = token(keeper)
    (path,) = re.findall(r"(/come-in/[\w-]+)<", keeper.post("/tune/links", data=sent).text)
    assert path not in keeper.get("/tune/links").text
    assert own.client().get(path).status_code == 200
    keeper.post("/tune/links", data={"csrf": sent["csrf"], "revoke": "Robin"})
    assert own.client().get(path).status_code == 404


def test_a_guest_tunes_nothing(own: PageGarden) -> None:
    own.lock()
    with own.store() as store:
        key = store.guests.invite("Robin", EVENING)
    guest = own.client()
    guest.get(f"/come-in/{key}")
    for path in ("limits/Ember", "limits/", "hands_on", "pushes", "links"):
        assert guest.get(f"/tune/{path}").status_code == 403
    assert own.client().get("/tune/pushes").status_code == 303


@pytest.mark.parametrize("path", ["/tune/limits/Nobody", "/tune/weather"])
def test_what_cannot_be_tuned_is_not_there(own: PageGarden, path: str) -> None:
    assert own.client().get(path).status_code == 404


def test_another_password_ends_all_other_sessions(own: PageGarden) -> None:
    own.lock()
    here, there = own.client(), own.client()
    for client in (here, there):
        client.post("/enter", data={"csrf": token(client), "password": PASSWORD})
    sent = {"csrf": token(here), "old": "not this one", "new": "moss under old oaks"}
    assert "That is not the password" in here.post("/tune/password", data=sent).text
    sent["old"] = PASSWORD
    short = here.post("/tune/password", data=sent | {"new": "short"})
    assert "a password has 10 to 200 characters" in short.text
    assert here.post("/tune/password", data=sent).status_code == 303
    assert here.get("/more").status_code == 200
    assert there.get("/more").status_code == 303
    entered = {"csrf": token(there), "password": sent["new"]}
    assert there.post("/enter", data=entered).status_code == 303


def test_guesses_at_the_old_password_are_few(own: PageGarden) -> None:
    own.lock()
    own.app.extensions["guesses"] = Guesses()
    client = own.client()
    client.post("/enter", data={"csrf": token(client), "password": PASSWORD})
    sent = {"csrf": token(client), "old": "wrong wrong", "new": "moss under old oaks"}
    codes = [client.post("/tune/password", data=sent).status_code for _ in range(FREE + 1)]
    assert codes == [422] * FREE + [429]
