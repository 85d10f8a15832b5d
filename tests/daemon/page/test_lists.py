"""Stand-ins, watering and push addresses from the page: written, changed, taken out."""

from __future__ import annotations

import stat
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from browsing import Finger, as_phone, shows
from flask.testing import FlaskClient
from page_garden import EVENING, PageGarden, change, in_file, token
from receiving import receiving
from selenium.webdriver import Chrome

from underbench.daemon.config.settings import load
from underbench.daemon.delivery.outbox import Services
from underbench.daemon.page.context import EXTENSION

ROBIN = {"name": "Robin", "days": "2024-05-03 to 2024-05-12", "waters": "no"}
MINE, SECOND = "json://phone.example/hush-hush", "json://second.example/hush-hush"


def test_a_stand_in_is_added_changed_and_taken_out(own: PageGarden) -> None:
    client = own.client()
    assert change(client, "/tune/stand_in/", **ROBIN).status_code == 303
    held = {"name": "Robin", "days": ["2024-05-03 to 2024-05-12"], "waters": False}
    assert in_file(own)["stand_in"] == [held]
    assert "/tune/stand_in/0" in client.get("/tune/stand_in/").text
    change(client, "/tune/stand_in/0", weekdays="07:00-08:00")
    assert in_file(own)["stand_in"] == [{**held, "weekdays": ["07:00-08:00"]}]
    assert change(client, "/tune/stand_in/0", out="yes").status_code == 303
    assert "stand_in" not in in_file(own)
    assert client.get("/tune/stand_in/0").status_code == 404


def test_a_watering_is_written_and_holds(own: PageGarden) -> None:
    client, typed = own.client(), {"times": "07:00, 18:30", "from": "04-01", "until": "10-10"}
    assert change(client, "/tune/watering/", **typed).status_code == 303
    assert len(load(own.config, {}).routines) == 1
    assert "07:00, 18:30, 04-01 until 10-10" in client.get("/tune/watering/").text
    refused = change(client, "/tune/watering/", times="at dawn")
    assert refused.status_code == 422
    assert 'id="w-times"' in refused.text


def test_two_stand_ins_on_one_day_are_refused(own: PageGarden) -> None:
    client = own.client()
    change(client, "/tune/stand_in/", **ROBIN)
    refused = change(client, "/tune/stand_in/", **{**ROBIN, "name": "Wren"})
    assert refused.status_code == 422
    assert "Robin stands in on 2024-05-03 already" in refused.text
    assert len(in_file(own)["stand_in"]) == 1


def send(client: FlaskClient, to: str, **typed: str) -> Any:
    return client.post(f"/tune/pushes{to}", data={"csrf": token(client), **typed})


def key_of(page: str, n: int = 0) -> str:
    return page.split('name="key" value="')[n + 1].partition('"')[0]


@pytest.fixture
def urls(own: PageGarden) -> Path:
    """The file of the keeper's addresses, which is not there yet."""
    path = own.config.parent / "secrets" / "telling_urls"
    for one in path.parent.glob("*"):
        one.unlink()
    return path


def test_an_address_is_kept_as_a_secret_and_taken_out(own: PageGarden, urls: Path) -> None:
    client = own.client()
    assert send(client, "/more", whose="keeper", address=MINE).status_code == 303
    assert stat.S_IMODE(urls.stat().st_mode) == 0o600
    urls.write_text(f"# mine\n{urls.read_text()}", encoding="utf-8")
    assert send(client, "/more", whose="keeper", address=SECOND).status_code == 303
    assert urls.read_text(encoding="utf-8") == f"# mine\n{MINE}\n{SECOND}\n"
    page = client.get("/tune/pushes").text
    assert page.count("json://p***") == 2  # to see, and for who cannot
    assert "hush" not in page
    assert send(client, "/less", whose="keeper", key=key_of(page)).status_code == 303
    assert urls.read_text(encoding="utf-8") == f"# mine\n{SECOND}\n"
    last = send(client, "/less", whose="keeper", key=key_of(page, 1))
    assert "the only one of yours" in last.text
    gone = send(client, "/less", whose="keeper", key=key_of(page))
    assert "no longer there" in gone.text


def test_a_changed_address_is_taken_up_at_once(own: PageGarden, urls: Path) -> None:
    client = own.client()
    client.get("/")
    send(client, "/more", whose="keeper", address=MINE)
    settings = own.app.extensions["underbench"].settings()
    assert [one.get_secret_value() for one in settings.telling.urls] == [MINE]
    assert urls.exists()


def test_a_stand_ins_address_has_the_name_before_it(own: PageGarden, urls: Path) -> None:
    client = own.client()
    change(client, "/tune/stand_in/", **ROBIN)
    assert send(client, "/more", whose="Robin", address=SECOND).status_code == 303
    assert urls.with_name("stand_in_urls").read_text(encoding="utf-8") == f"Robin {SECOND}\n"
    assert "Robin&#39;s" in client.get("/tune/pushes").text


def test_addresses_in_the_gardens_file_stay_there(own: PageGarden, urls: Path) -> None:
    text = own.config.read_text(encoding="utf-8")
    own.config.write_text(f'{text}\n[telling]\nurls = ["{MINE}"]\n', encoding="utf-8")
    client = own.client()
    assert send(client, "/more", whose="keeper", address=SECOND).status_code == 303
    assert in_file(own)["telling"]["urls"] == [MINE, SECOND]
    key = key_of(client.get("/tune/pushes").text)
    assert send(client, "/less", whose="keeper", key=key).status_code == 303
    assert in_file(own)["telling"]["urls"] == [SECOND]
    assert not urls.exists()


def test_addresses_of_the_environment_are_changed_there(
    own: PageGarden, urls: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("UNDERBENCH_TELLING__URLS", MINE)
    own.config.touch()
    client = own.client()
    page = client.get("/tune/pushes").text
    assert "given by UNDERBENCH_TELLING__URLS" in page
    assert "hush" not in page
    refused = send(client, "/more", whose="keeper", address=SECOND)
    assert refused.status_code == 422
    assert not urls.exists()


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("ntfyy://hush-hush", "did you mean ntfy://?"),
        ("", "expected one address"),
        (f"{MINE} {SECOND}", "expected one address"),
    ],
)
def test_an_address_that_cannot_be_used_is_not_kept_or_repeated(
    own: PageGarden, urls: Path, address: str, words: str
) -> None:
    refused = send(own.client(), "/more", whose="keeper", address=address)
    assert refused.status_code == 422
    assert words in refused.text
    assert "hush" not in refused.text
    assert not urls.exists()


def test_a_guest_sees_no_phones_and_no_stand_ins(own: PageGarden) -> None:
    own.lock()
    with own.store() as store:
        key = store.guests.invite("Robin", EVENING)
    guest = own.client()
    guest.get(f"/come-in/{key}")
    for path in ("/tune/pushes", "/tune/stand_in/", "/tune/watering/"):
        assert guest.get(path).status_code == 403
    assert send(guest, "/more", whose="keeper", address=MINE).status_code in (400, 403)


def test_a_push_is_added_and_tested_on_a_phone(
    phone: Chrome, own: PageGarden, garden_url: str, urls: Path
) -> None:
    """From the first screen: four taps to add it, one more to test it."""
    deps = own.app.extensions[EXTENSION]
    with receiving() as service:
        services = Services([service.url("/phone")])
        own.app.extensions[EXTENSION] = replace(deps, services=lambda _: services)
        as_phone(phone, width=360)
        phone.get(garden_url)
        finger = Finger(phone)
        finger.tap("nav a", "More")
        finger.tap(".ways a", "Your phones")
        finger.tap("#address")
        phone.switch_to.active_element.send_keys(MINE)
        finger.tap("button", "Add it")
        assert shows(phone, "The address is added. Send a test.")
        assert shows(phone, "json://p***")
        assert urls.exists()
        finger.tap("button", "Send a test")
        assert shows(phone, "Look at each phone now")
        own.app.extensions[EXTENSION] = deps
    assert finger.taps <= 5
    assert service.titles("/phone") == ["Underbench: a test"]
