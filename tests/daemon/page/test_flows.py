"""What a keeper does on a phone at the bench, in Debian's Chromium without scripts, by taps."""

from __future__ import annotations

import pytest
from browsing import NARROW, SCREEN, Finger, as_phone, press, shows
from page_garden import PageGarden, in_file
from selenium.webdriver import Chrome, Keys
from selenium.webdriver.common.by import By
from selenium.webdriver.support.select import Select

from underbench.rules.garden.journal import Work


@pytest.fixture
def phone(phone: Chrome, own: PageGarden) -> Chrome:
    """A narrow phone, of a garden in its first state."""
    as_phone(phone, width=NARROW, height=SCREEN)
    return phone


def test_a_repot_is_noted_in_six_taps_and_taken_back(
    phone: Chrome, own: PageGarden, garden_url: str
) -> None:
    phone.get(garden_url)
    finger = Finger(phone)
    finger.tap(".strip", "south wall")
    finger.tap(".standing a", "Needle")
    finger.tap(".bar a", "Note something")
    finger.tap("#work")
    Select(phone.find_element(By.ID, "work")).select_by_visible_text("repot")
    finger.taps += 1
    finger.tap("button", "Note the work")
    assert shows(phone, "Noted for Needle: repot on 23 April 2024.")
    assert finger.taps <= 6
    with own.store() as store:
        done = [entry for entry in store.journal.entries() if isinstance(entry, Work)]
    assert done[-1].tree == "Needle"
    press(phone, "Take it back")
    assert shows(phone, "Taken back: repot of Needle on 23 April 2024.")


def test_enter_notes_nothing_a_slip_is_put_right_and_a_watering_takes_two_presses(
    phone: Chrome, own: PageGarden, garden_url: str
) -> None:
    form = f"{garden_url}/do/tree/Ember"
    phone.get(form)
    phone.find_element(By.ID, "roots").send_keys("140", Keys.ENTER)
    assert phone.current_url == form
    with own.store() as store:
        assert store.notes.last() is None
    Select(phone.find_element(By.ID, "work")).select_by_visible_text("repot")
    press(phone, "Note the work")
    assert shows(phone, "Roots 140: expected a number from 0 to 100")
    box = phone.find_element(By.ID, "roots")
    assert box.get_attribute("value") == "140"
    box.clear()
    box.send_keys("30 %")
    press(phone, "Note the work")
    assert shows(phone, "Noted for Ember: repot")
    assert phone.current_url == f"{garden_url}/tree/Ember"
    finger = Finger(phone)
    finger.tap("a", "Note something")
    finger.tap("button", "Watered till it drained")
    assert shows(phone, "Noted: Ember watered.")
    assert finger.taps == 2


def test_a_tree_is_added_in_eight_taps(phone: Chrome, own: PageGarden, garden_url: str) -> None:
    phone.get(garden_url)
    finger = Finger(phone)
    finger.tap("nav a", "More")
    finger.tap(".ways a", "Add a tree")
    for name, typed in (("name", "Quill"), ("species", "Acer palmatum")):
        finger.tap(f"#f-{name}")
        phone.switch_to.active_element.send_keys(typed)
    finger.tap("#f-spot")
    Select(phone.find_element(By.ID, "f-spot")).select_by_visible_text("south wall")
    finger.taps += 1
    finger.tap("#f-litres")
    phone.switch_to.active_element.send_keys("2", Keys.ENTER)  # the keyboard's own key: no tap
    assert shows(phone, "Quill is added in the garden's file.")
    assert finger.taps <= 8
    assert in_file(own)["tree"][-1]["name"] == "Quill"
