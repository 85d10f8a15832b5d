"""The first garden from the page: its questions on one form, while there is no file yet."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from html import unescape
from pathlib import Path
from typing import Any

import pytest
import requests
from browsing import as_phone, shows
from flask.testing import FlaskClient
from page_garden import served, token
from selenium.webdriver import Chrome
from selenium.webdriver.common.by import By
from selenium.webdriver.support.select import Select
from werkzeug.security import check_password_hash

from underbench.daemon.commands.open_garden import CONFIG_VARIABLE, open_store
from underbench.daemon.commands.page import file_or_asked
from underbench.daemon.config.settings import load
from underbench.daemon.faults import Fault
from underbench.daemon.page import first as page_first
from underbench.daemon.page.first import First, ask_first, first_app
from underbench.daemon.page.serve import refuse_open_door
from underbench.daemon.weather.gazetteer import Found, NotAnswered

ELMSWICK = [
    Found("Elmswick, Westshire, Nowhere", 52.25, -1.5, 81.0, "Europe/London"),
    Found("Elmswick, Elsewhere", -41.0, 174.0, None, None),
]
WORD, PASSWORD = "sap rise", "lichen on old larch"
TYPED = {
    "write": "yes",
    "word": WORD,
    "rows": "3",
    "place": "46.05, 14.51",
    "height": "300",
    "timezone": "Europe/Ljubljana",
    "name": "Reed End",
    "shelter-1": "shed",
    "tree-1": "Ember",
    "species-1": "Acer palmatum",
    "mix-1": "2,5",
}


def places(name: str) -> list[Found]:
    if name == "nowhere":
        raise NotAnswered("the place-name service did not answer, or not in its form")
    return [one for one in ELMSWICK if one.name.startswith(name)]


def asking(path: Path, listen: str, **more: Any) -> First:
    return First(path, listen, WORD, open_store=open_store, **{"needs_phone": False, **more})


@pytest.fixture
def first(tmp_path: Path) -> First:
    return asking(tmp_path / "garden.toml", "127.0.0.1:8640", finder=places)


@pytest.fixture
def client(first: First) -> FlaskClient:
    return first_app(first).test_client()


def send(client: FlaskClient, **typed: str) -> Any:
    return client.post("/", data={"csrf": token(client), **TYPED, **typed})


def wrong(page: str) -> dict[str, str]:
    return {key: unescape(words) for key, words in re.findall(r'id="w-([\w-]+)">([^<]*)<', page)}


def test_the_answers_are_written_by_the_one_writer(client: FlaskClient, first: First) -> None:
    done = send(client, fleece="2", phone="json://localhost")
    assert done.status_code == 200, wrong(done.text)
    settings = load(first.path, {})
    assert (settings.garden.name, settings.garden.elevation_m) == ("Reed End", 300)
    assert list(settings.spots) == ["bench", "shed"]
    assert [(tree.name, tree.container.litres) for tree in settings.trees] == [("Ember", 2.5)]
    assert settings.means.fleece_layers == 2
    assert settings.page.listen == "127.0.0.1:8640"
    kept = first.path.parent / "secrets" / "telling_urls"
    assert kept.stat().st_mode & 0o777 == 0o600
    assert "is there already" in send(client).text


def test_us_units_are_asked_and_written(client: FlaskClient, first: First) -> None:
    assert "US gallons" in client.get("/?units=us").text
    cellar = {"shelter-1": "cellar", "cold-1": "41"}
    done = send(client, units="us", height="984", above="20", **cellar)
    assert done.status_code == 200, wrong(done.text)
    settings = load(first.path, {})
    assert settings.garden.elevation_m == pytest.approx(984 * 0.3048)  # the international foot
    assert settings.spots["cellar"].keeps_above_c == pytest.approx(5)
    assert settings.spots["bench"].height_cm == pytest.approx(20 * 2.54)


def test_a_place_of_several_is_chosen_and_brings_what_is_known(
    client: FlaskClient, first: First
) -> None:
    by_name = {"place": "Elmswick", "height": "", "timezone": "", "name": ""}
    asked = send(client, **by_name)
    assert asked.status_code == 422
    assert "Say below which" in wrong(asked.text)["place"]
    west, _ = (unescape(value) for value in re.findall(r'name="at" value="([^"]*)"', asked.text))
    assert send(client, **by_name, at=west).status_code == 200
    garden = load(first.path, {}).garden
    assert (garden.name, garden.elevation_m) == ("Elmswick", 81)
    assert garden.timezone == "Europe/London"


@pytest.mark.parametrize(
    ("typed", "at", "words"),
    [
        ({"place": "nowhere"}, "place", "Latitude, longitude will do"),
        ({"place": "Umbria"}, "place", "No such place"),
        ({"place": "95, 4"}, "place", "Latitude is -90 to 90"),
        ({"place": "Elmswick", "at": '["Elmswick", {"name": 1}]'}, "place", "Say below"),
        ({"height": "87000"}, "height", "not in the range"),
        ({"timezone": "Europe/Ljublana"}, "timezone", "did you mean 'Europe/Ljubljana'?"),
        ({"sun": "all day"}, "sun", "such as 09:00-17:00"),
        ({"called-1": "bench"}, "called-1", "one of that name already"),
        ({"tree-1": "home"}, "tree-1", "choose another name"),
        ({"species-1": "Acer palmatun"}, "species-1", "Did you mean Acer palmatum"),
        ({"mix-1": "4 kg"}, "mix-1", "the number alone"),
        ({"tree-2": "Heath"}, "species-2", "expected an answer"),
        ({"phone": "ntfyy://garden"}, "phone", "did you mean ntfy://?"),
    ],
)
def test_a_slip_is_said_at_its_question_and_nothing_is_written(
    client: FlaskClient, first: First, typed: dict[str, str], at: str, words: str
) -> None:
    refused = send(client, **typed)
    assert refused.status_code == 422
    assert words in wrong(refused.text)[at]
    assert not list(first.path.parent.iterdir())


def test_a_species_that_the_table_lacks_gets_its_class_by_a_question(
    client: FlaskClient, first: First
) -> None:
    grey = {"species-1": "Olearia traversii"}
    assert 'name="like-1"' in send(client, **grey).text
    olive = "leaves all year, from the south: olive, myrtle"
    assert send(client, **grey, **{"like-1": olive}).status_code == 200
    assert load(first.path, {}).trees[0].hardiness == "mediterranean evergreen"


def test_more_rows_keep_what_was_typed(client: FlaskClient, first: First) -> None:
    page = send(client, more="yes").text
    assert 'name="tree-6"' in page
    assert 'value="Ember"' in page
    assert not first.path.exists()


def test_who_is_watched_over_needs_a_phone(first: First) -> None:
    watching = replace(first, needs_phone=True)
    assert "phone" in wrong(send(first_app(watching).test_client()).text)


@pytest.mark.parametrize(
    ("headers", "csrf", "code"),
    [
        ({"Host": "garden.example"}, True, 421),
        ({"Origin": "https://elsewhere.example"}, True, 400),
        ({}, False, 400),
    ],
)
def test_its_door_is_that_of_the_page(
    client: FlaskClient, first: First, headers: dict[str, str], csrf: bool, code: int
) -> None:
    sent = {"csrf": token(client), **TYPED} if csrf else TYPED
    assert client.post("/", data=sent, headers=headers).status_code == code
    assert not first.path.exists()


def test_who_does_not_know_the_word_writes_and_looks_up_nothing(first: First) -> None:
    asked: list[str] = []
    client = first_app(replace(first, finder=lambda name: asked.append(name) or [])).test_client()
    for word in ("", "sap rise!", "säp rise"):
        refused = send(client, word=word, place="Elmswick")
        assert refused.status_code == 422
        assert "That is not it" in wrong(refused.text)["word"]
    assert not asked
    assert not list(first.path.parent.iterdir())
    assert f'value="{WORD}"' in client.get("/", query_string={"word": WORD}).text


def test_from_the_network_the_page_gets_its_password_with_the_garden(
    first: First, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("XDG_STATE_HOME", str(first.path.parent / "state"))
    client = first_app(replace(first, listen="192.0.2.7:8640")).test_client()
    assert "10 to 200 characters" in wrong(send(client, password="short").text)["password"]
    assert not first.path.exists()
    done = send(client, password=PASSWORD)
    assert done.status_code == 200, wrong(done.text)
    settings = load(first.path)
    assert settings.store_path.is_relative_to(first.path.parent)
    with open_store(settings) as store:
        refuse_open_door("192.0.2.7:8640", settings.page, store)
        hashed, _ = store.pages.kept("password") or ("", None)
    assert check_password_hash(hashed, PASSWORD)
    assert PASSWORD not in done.text


def test_it_gives_its_place_to_the_garden_once_the_file_is_there(tmp_path: Path) -> None:
    with served(first_app(asking(tmp_path / "none", "127.0.0.1:0"))) as url:
        listen = url.removeprefix("http://")  # free again after the block

    def answer() -> None:
        visitor = requests.Session()
        asked = visitor.get(f"http://{listen}/")
        (key,) = re.findall(r'name="csrf" value="([^"]*)"', asked.text)
        done = visitor.post(f"http://{listen}/", data={"csrf": key, **TYPED})
        assert (done.status_code, done.headers["Connection"]) == (200, "close")

    first = asking(tmp_path / "garden.toml", listen)
    ask_first(first, answer)
    assert load(first.path, {}).page.listen == listen


def test_only_a_garden_that_nobody_named_is_asked_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv(CONFIG_VARIABLE, raising=False)
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path))
    asked: list[First] = []
    monkeypatch.setattr(page_first, "ask_first", lambda first, _begun: asked.append(first))
    named = tmp_path / "mistyped.toml"
    assert file_or_asked(named, needs_phone=True) == named
    assert not asked
    usual = tmp_path / "underbench" / "garden.toml"
    assert file_or_asked(None, needs_phone=True) == usual
    assert asked[0].listen == "127.0.0.1:8640"
    monkeypatch.setenv("UNDERBENCH_PAGE__LISTEN", "0.0.0.0:80")
    file_or_asked(None, needs_phone=True)
    assert asked[1].listen == "0.0.0.0:80"
    assert len({first.word for first in asked}) == 2
    monkeypatch.setenv("UNDERBENCH_PAGE__LISTEN", "here")
    with pytest.raises(Fault, match="expected an address and a port"):
        file_or_asked(None, needs_phone=True)


def test_a_port_that_is_taken_is_said(tmp_path: Path) -> None:
    first = asking(tmp_path / "garden.toml", "127.0.0.1:0")
    with served(first_app(first)) as url:
        taken = asking(first.path, url.removeprefix("http://"))
        with pytest.raises(Fault, match="cannot be listened on"):
            ask_first(taken, lambda: None)


@pytest.fixture
def url(first: First) -> Iterator[str]:
    with served(first_app(first)) as address:
        yield address


def test_a_garden_begins_on_a_phone(phone: Chrome, first: First, url: str) -> None:
    """Ten answers, typed and chosen, after a slip."""
    as_phone(phone, width=360)
    phone.get(url)
    for key in ("word", "place", "height", "timezone", "name", "tree-1", "species-1", "mix-1"):
        said = "Acer palmatun" if key == "species-1" else TYPED[key]
        phone.find_element(By.NAME, key).send_keys(said)
    Select(phone.find_element(By.NAME, "shelter-1")).select_by_visible_text("shed")
    write = (By.CSS_SELECTOR, "button[name=write]")
    phone.find_element(*write).click()
    assert shows(phone, "Did you mean Acer palmatum")
    assert phone.execute_script("return document.documentElement.scrollWidth") <= 360
    box = phone.find_element(By.NAME, "species-1")
    box.clear()
    box.send_keys("Acer palmatum")
    phone.find_element(*write).click()
    assert shows(phone, "Reed End is written")
    assert [tree.name for tree in load(first.path, {}).trees] == ["Ember"]
