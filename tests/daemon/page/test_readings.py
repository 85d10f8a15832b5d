"""Readings on the page: the form, what it answers and refuses; posts of devices by token."""

from __future__ import annotations

import json
import re
from datetime import timedelta
from typing import Any

import pytest
import requests
from page_forms import pressed
from page_garden import EVENING, PageGarden, served, token, written

from underbench.daemon.outlook.members import learned_of
from underbench.daemon.readings.from_post import LARGEST_BODY
from underbench.rules.garden.readings import Quantity, Reading
from underbench.rules.weather.learned import Learned, Pair, learn, to_text

DAY = timedelta(days=1)
TOKEN = "moss-and-lichen-on-old-bark"


@pytest.fixture
def garden(own: PageGarden) -> PageGarden:
    return own


@pytest.fixture
def posted_to(own: PageGarden, monkeypatch: pytest.MonkeyPatch) -> PageGarden:
    """The garden that takes the posts of devices."""
    monkeypatch.setenv("UNDERBENCH_READINGS__TOKEN", TOKEN)
    own.config.write_text(written(more="# read anew\n"), encoding="utf-8")
    return own


def kept(garden: PageGarden) -> list[Reading]:
    with garden.store() as store:
        return store.readings.between(None, EVENING - 9 * DAY, EVENING + DAY)


def send(client: Any, **fields: str) -> Any:
    return client.post("/do/reading", data={"csrf": token(client), **fields})


@pytest.mark.parametrize(
    ("fields", "value", "spot", "tree"),
    [
        ({"value": "31F", "quantity": "air", "place": "top bench"}, -5 / 9, "top bench", None),
        ({"value": "−2,5", "quantity": "root-ball", "place": "Ember"}, -2.5, None, "Ember"),
        ({"value": "0.5in", "quantity": "rain"}, 12.7, None, None),
        ({"value": "4", "quantity": "air", "place": "Ember"}, 4.0, "top bench", None),
    ],
)
def test_a_reading_is_noted_as_the_command_does(
    garden: PageGarden, fields: dict[str, str], value: float, spot: str | None, tree: str | None
) -> None:
    # Exact: 31 °F is −5/9 °C, an inch 25.4 mm.
    client = garden.client()
    done = send(client, **fields)
    assert done.status_code == 303
    (one,) = kept(garden)
    assert (one.value, one.spot, one.tree) == (pytest.approx(value), spot, tree)
    assert (one.at, one.source) == (EVENING, "command")
    page = client.get(done.location).text
    assert "Noted: " in page
    assert "readings cannot" in page


@pytest.mark.parametrize("quantity", ["air", "air-min"])
def test_sent_again_from_the_form_that_comes_back_it_is_put_right(
    garden: PageGarden, quantity: str
) -> None:
    client, typed = garden.client(), {"value": "-2", "quantity": quantity, "place": "top bench"}
    assert "A thermometer or gauge was read" in client.get("/do/tree/Ember").text
    form = client.get("/do/reading?to=/more").text
    noted = pressed(client, form, "Note the reading", **typed).text
    assert '<a href="/more">Go on</a>' in noted
    garden.now = EVENING + timedelta(minutes=7)
    right = pressed(client, noted, "Put it right", value="-12").text
    assert "in place of −2.0 °C" in right
    assert [one.value for one in kept(garden)] == [-12.0]


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"value": "cold", "quantity": "air"}, "expected a number, such as -2.5"),
        ({"value": "3mm", "quantity": "air"}, "expected a number"),
        ({"value": "3", "quantity": "airmin"}, "did you mean 'air-min'?"),
        ({"value": "3", "quantity": "root-ball"}, "of which tree?"),
        ({"value": "-1", "quantity": "rain"}, "expected 0 or more"),
        ({"value": "85", "quantity": "air"}, "no such value is possible there"),
        ({"value": "3", "quantity": "air", "day": "2024-04-24"}, "Day 2024-04-24: that day has"),
        ({"value": "3", "quantity": "air", "clock": "23:10"}, "Clock 23:10: that is yet to come"),
    ],
)
def test_a_slip_is_said_and_what_was_typed_is_kept(
    garden: PageGarden, fields: dict[str, str], said: str
) -> None:
    done = send(garden.client(), **fields)
    assert done.status_code == 422
    fault = re.search(r'role="alert">([^<]+)', done.text)
    assert fault
    assert said in fault[1].replace("&#39;", "'")
    assert "--" not in fault[1]
    assert f'value="{fields["value"]}"' in done.text
    assert kept(garden) == []


def test_the_form_asks_for_its_token_and_a_keeper_and_leads_nowhere_else(
    garden: PageGarden,
) -> None:
    client = garden.client()
    assert client.post("/do/reading", data={"value": "1", "quantity": "air"}).status_code == 400
    assert "javascript" not in client.get("/do/reading?noted=1&to=javascript:alert(1)").text
    with garden.store() as store:
        key = store.guests.invite("Robin", EVENING)
    client.get(f"/come-in/{key}")
    assert client.get("/do/reading").status_code == 403
    assert send(client, value="1", quantity="air").status_code == 403
    assert kept(garden) == []


def test_a_device_posts_with_the_token_past_the_password(posted_to: PageGarden) -> None:
    assert posted_to.client().get("/readings").status_code == 405
    posted_to.lock()
    said = [{"quantity": "air", "spot": "top bench", "value": -2.5}]
    bearer = {"Authorization": f"Bearer {TOKEN}"}
    with served(posted_to.app) as url:
        done = requests.post(f"{url}/readings", json=said, headers=bearer, timeout=9)
        assert (done.status_code, done.text) == (202, "taken: 1\n")
        assert "Set-Cookie" not in done.headers
    assert kept(posted_to) == [Reading(EVENING, Quantity.AIR, -2.5, "top bench", None, "post")]


@pytest.mark.parametrize(
    ("body", "sent", "status"),
    [
        (b"{}", "", 401),
        (b"{}", "Bearer wrong", 401),
        (b"{}", f"Basic {TOKEN}", 401),
        (b"{", f"Bearer {TOKEN}", 400),
        (b'{"quantity": "air", "value": "cold"}', f"Bearer {TOKEN}", 400),
        (json.dumps([{"quantity": "air", "value": 1}] * 1001).encode(), f"Bearer {TOKEN}", 400),
        (b" " * (LARGEST_BODY + 1), f"Bearer {TOKEN}", 413),
    ],
)
def test_what_is_no_post_is_refused_in_a_line(
    posted_to: PageGarden, body: bytes, sent: str, status: int
) -> None:
    done = posted_to.client().post("/readings", data=body, headers={"Authorization": sent})
    assert done.status_code == status
    assert done.mimetype == "text/plain"
    assert len(done.text.splitlines()) == 1
    assert kept(posted_to) == []


def test_without_a_token_nobody_posts(garden: PageGarden) -> None:
    for sent in ("Bearer ", "Bearer None"):
        done = garden.client().post("/readings", data=b"{}", headers={"Authorization": sent})
        assert done.status_code == 404


def test_a_new_thermometer_is_told_on_the_page(garden: PageGarden) -> None:
    client = garden.client()
    assert "new-sensor" not in client.get("/do/reading").text  # nothing was learned yet
    pair = Pair(int((EVENING - DAY).timestamp()), "top bench", 24.0, 2.0, 0.0)
    with garden.store() as store:
        store.learning.keep(to_text(learn(Learned(), [pair])), EVENING - DAY)
    assert 'action="/do/new-sensor"' in client.get("/do/reading").text
    fields = {"csrf": token(client), "sensor": "top bench"}
    done = client.post("/do/new-sensor", data=fields)
    assert done.status_code == 303
    assert "Forgotten: " in client.get(done.location).text
    with garden.store() as store:
        assert not learned_of(store).places
    again = client.post("/do/new-sensor", data=fields)
    assert again.status_code == 422
    assert "nothing was learned yet" in again.text
