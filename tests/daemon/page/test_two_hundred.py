"""Two hundred trees on the page: they are shown, fit on a phone, and are noted at once."""

from __future__ import annotations

import re
from hashlib import sha256
from pathlib import Path
from typing import Any

import pytest
from browsing import PHONE, as_phone
from flask.testing import FlaskClient
from page_garden import PageGarden, served, token, written
from selenium.webdriver import Chrome
from selenium.webdriver.common.by import By
from ticking import Sky

from underbench.rules.garden.journal import Entry
from underbench.rules.weather.hourly import Weather

KINDS = ("Acer palmatum", "Pinus sylvestris", "Larix decidua")
TREES = tuple((f"Seedling {n}", KINDS[n % 3], 2, "top bench") for n in range(200))
NAMES = [name for name, *_ in TREES]
SMALL = 50_000  # bytes a page
WEEKDAYS = "return [...document.querySelectorAll('.grid th[scope=col]')].map(e => e.offsetTop)"


@pytest.fixture(scope="module")
def hundreds(tmp_path_factory: pytest.TempPathFactory, spring: Weather) -> PageGarden:
    return PageGarden(tmp_path_factory.mktemp("hundreds"), Sky(spring), written(TREES))


def journal(garden: PageGarden) -> list[Entry]:
    with garden.store() as store:
        return store.journal.entries()


def text_of(page: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", page))


def post(client: FlaskClient, path: str, **fields: Any) -> Any:
    return client.post(path, data={"csrf": token(client), **fields})


def test_they_are_shown_and_fit(phone: Chrome, hundreds: PageGarden) -> None:
    with served(hundreds.app) as url:
        phone.get(url)
        assert len(phone.find_elements(By.CSS_SELECTOR, ".grid tbody tr")) == len(TREES)
        assert phone.execute_script("return document.documentElement.scrollWidth") <= PHONE[0]
        as_phone(phone, width=1280, height=900)  # a desktop: each column has its own weekdays
        tops = phone.execute_script(WEEKDAYS)
        assert len(tops) == 3 * 5
        assert len(set(tops)) == 1
    assert f"{len(TREES)} of {len(TREES)} trees" in hundreds.client().get("/trees").text


def test_their_pages_stay_small(hundreds: PageGarden) -> None:
    for path in ("/", "/trees", f"/tree/{NAMES[7]}"):
        answer = hundreds.client().get(path)
        assert answer.status_code == 200
        assert "Seedling 7" in answer.get_data(as_text=True)
        assert len(answer.data) < SMALL, path


def test_they_are_watered_at_once_and_taken_back(hundreds: PageGarden) -> None:
    client = hundreds.client()
    asked = client.get("/do/", query_string={"tree": NAMES}).text
    assert asked.count('name="tree"') >= len(NAMES)
    assert post(client, "/do/watered", tree=NAMES).status_code == 303
    assert [entry.tree for entry in journal(hundreds)] == NAMES
    assert f"Noted: {NAMES[0]}, {NAMES[1]}" in text_of(client.get("/do/").text)
    assert post(client, "/do/undo").status_code == 303
    assert journal(hundreds) == []
    assert "Taken back: " in text_of(client.get("/do/").text)


class Unseen(PageGarden):
    """A garden that no pass has looked at."""

    def look_ahead(self) -> None:
        pass


def test_what_is_long_still_fits_a_cookie(tmp_path: Path, spring: Weather) -> None:
    """Names that are like nothing else cannot be made shorter by packing them."""
    names = [sha256(f"{n}".encode()).hexdigest()[:24] for n in range(200)]
    trees = [(name, KINDS[0], 4, "top bench") for name in names]
    client = Unseen(tmp_path, Sky(spring), written(trees)).client()
    done = post(client, "/do/moved", tree=names, spot="shed")
    cookies = [value for name, value in done.headers if name == "Set-Cookie"]
    assert cookies
    assert max(map(len, cookies)) < 4096  # RFC 6265, 6.1
    assert len(client.get("/do/").text) < SMALL
