"""A photograph of a tree: kept small, without the camera's notes, and seen by whoever may look."""

from __future__ import annotations

import stat
from io import BytesIO
from pathlib import Path
from typing import Any

import pytest
from browsing import press, shows
from flask.testing import FlaskClient
from hypothesis import given
from hypothesis import strategies as st
from page_garden import EVENING, PageGarden, token
from selenium.webdriver import Chrome
from selenium.webdriver.common.by import By
from selenium.webdriver.support.wait import WebDriverWait

from underbench.daemon.faults import Fault
from underbench.daemon.store.photographs import FOLDER, MOST_BYTES, Photographs, without_notes

ICON = Path(__file__).parents[3] / "daemon" / "page" / "static" / "icon-512.png"
EDGE = b"\xff\xd8"


def segment(marker: int, body: bytes) -> bytes:
    return bytes([0xFF, marker]) + (len(body) + 2).to_bytes(2) + body


JFIF, TABLE = segment(0xE0, b"JFIF\0"), segment(0xDB, bytes(65))
EXIF, SAID = segment(0xE1, b"Exif\0\0 46.05 N"), segment(0xFE, b"my garden")
SCAN = segment(0xDA, b"\1") + b"\x12\x34\xff\xd9"
JPEG = EDGE + JFIF + EXIF + SAID + TABLE + SCAN


def send(client: FlaskClient, tree: str, photograph: bytes = b"", **typed: str) -> Any:
    sent = {"csrf": token(client), "photograph": (BytesIO(photograph), "x.jpg"), **typed}
    return client.post(f"/photograph/{tree}", data=sent)


def test_what_a_camera_notes_is_left_out() -> None:
    assert without_notes(JPEG) == EDGE + JFIF + TABLE + SCAN


@given(st.binary(max_size=200))
def test_no_bytes_break_the_reading(end: bytes) -> None:
    for begun in (b"", EDGE, EDGE + JFIF + b"\xff\xe1"):
        try:
            kept = without_notes(begun + end)
        except Fault:
            continue
        assert len(kept) <= len(begun + end)


def test_it_is_kept_shown_renamed_and_deleted(own: PageGarden) -> None:
    client = own.client()
    assert client.get("/photograph/of/Ember").status_code == 404
    assert send(client, "ember", JPEG).location == "/tree/Ember"
    shown = client.get("/photograph/of/Ember")
    assert (shown.mimetype, shown.data) == ("image/jpeg", EDGE + JFIF + TABLE + SCAN)
    assert shown.headers["X-Content-Type-Options"] == "nosniff"
    (path,) = (own.config.parent / FOLDER).rglob("*.jpg")
    assert stat.S_IMODE(path.stat().st_mode) == 0o600
    assert 'src="/photograph/of/Ember"' in client.get("/tree/Ember").text
    form = client.get("/parting/Ember").text
    seen = form.split('name="seen" value="')[1].partition('"')[0]
    sent = {"csrf": token(client), "seen": seen, "deed": "rename", "name": "Lantern"}
    client.post("/parting/Ember", data=sent)
    assert client.get("/photograph/of/Lantern").status_code == 200
    assert send(client, "Lantern", out="yes").status_code == 303
    assert not list((own.config.parent / FOLDER).rglob("*.jpg"))


@pytest.mark.parametrize(
    ("photograph", "words"),
    [
        (b"", "no photograph"),
        (b"\x89PNG", "no photograph"),
        (EDGE + EXIF, "no photograph"),
        (JPEG + bytes(MOST_BYTES), "may have 200 kB"),
    ],
)
def test_what_is_no_small_jpeg_is_refused(own: PageGarden, photograph: bytes, words: str) -> None:
    refused = send(own.client(), "Ember", photograph)
    assert refused.status_code == 422
    assert words in refused.text


def test_a_guest_looks_and_changes_nothing(own: PageGarden) -> None:
    send(own.client(), "Ember", JPEG)
    own.lock()
    with own.store() as store:
        key = store.guests.invite("Robin", EVENING)
    assert own.client().get("/photograph/of/Ember").status_code == 303
    guest = own.client()
    guest.get(f"/come-in/{key}")
    assert guest.get("/photograph/of/Ember").status_code == 200
    assert guest.get("/photograph/Ember").status_code == 403
    assert send(guest, "Ember", out="yes").status_code in (400, 403)
    assert guest.get("/photograph/of/Ember").status_code == 200
    Photographs(own.settings.store_path).remove("Ember")


def test_a_phone_makes_it_small_before_it_is_sent(
    scripted: Chrome, own: PageGarden, garden_url: str
) -> None:
    """A PNG of 512 pixels arrives as a JPEG."""
    scripted.get(f"{garden_url}/photograph/Heath")
    field = scripted.find_element(By.ID, "photograph")
    field.send_keys(str(ICON))
    made = "return arguments[0].files[0].type === 'image/jpeg'"
    WebDriverWait(scripted, 20, 0.05).until(lambda one: one.execute_script(made, field))
    press(scripted, "Keep it")
    assert shows(scripted, "The photograph of Heath is kept.")
    kept = own.client().get("/photograph/of/Heath").data
    assert kept.startswith(EDGE)
    assert len(kept) < MOST_BYTES
