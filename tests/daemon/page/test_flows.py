"""What a keeper does on a phone at the bench, in Debian's Chromium without scripts."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from page_garden import EVENING, PageGarden, left_as_found, served, written
from selenium.common.exceptions import WebDriverException
from selenium.webdriver import Chrome, Keys
from selenium.webdriver.common.by import By
from selenium.webdriver.support.select import Select
from selenium.webdriver.support.wait import WebDriverWait
from ticking import Sky

from underbench.daemon.config.reloading import Reloading
from underbench.daemon.page.context import EXTENSION
from underbench.rules.garden.journal import Move
from underbench.rules.weather.hourly import Weather


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory, spring: Weather) -> PageGarden:
    one = PageGarden(tmp_path_factory.mktemp("garden"), Sky(spring), written())
    one.app.extensions[EXTENSION] = replace(one.deps(), settings=Reloading(one.config).settings)
    return one


@pytest.fixture(scope="module")
def served_at(made: PageGarden) -> Iterator[str]:
    with served(made.app) as address:
        yield address


@pytest.fixture
def page(made: PageGarden) -> Iterator[PageGarden]:
    with left_as_found(made):
        yield made


@pytest.fixture
def url(served_at: str, page: PageGarden, phone: Chrome) -> str:
    """The address of a garden in its first state, for a new visitor."""
    phone.delete_all_cookies()
    return served_at


def words(phone: Chrome) -> str:
    return phone.find_element(By.TAG_NAME, "body").text


def shows(phone: Chrome, text: str) -> bool:
    """Wait until the page shows a text. The answer to a long form may take a moment."""
    wait = WebDriverWait(phone, 20, 0.05, ignored_exceptions=[WebDriverException])
    return bool(wait.until(lambda one: text in words(one), f"{text} is not shown"))


def press(phone: Chrome, label: str) -> None:
    """Press a button once it is there. A busy machine may still show the page before."""
    wait = WebDriverWait(phone, 20, 0.05, ignored_exceptions=[WebDriverException])
    button = (By.XPATH, f"//button[normalize-space()='{label}']")
    found = wait.until(lambda one: one.find_element(*button), f"no button {label}")
    phone.execute_script("arguments[0].scrollIntoView({block: 'center'})", found)
    found.click()


def test_a_repot_is_noted_and_the_limits_change_and_change_back(phone: Chrome, url: str) -> None:
    phone.get(f"{url}/tree/Lane")
    before = phone.find_element(By.CSS_SELECTOR, ".limits").text
    phone.find_element(By.LINK_TEXT, "Note something").click()
    Select(phone.find_element(By.ID, "work")).select_by_visible_text("repot")
    phone.find_element(By.ID, "roots").send_keys("40")
    press(phone, "Note the work")
    assert shows(phone, "Noted for Lane: repot on 23 April 2024.")
    assert phone.find_element(By.CSS_SELECTOR, ".limits").text != before
    assert shows(phone, "Root ball no colder than 0.0 °C")  # eight weeks; common practice
    press(phone, "Take it back")
    assert shows(phone, "Taken back: repot of Lane on 23 April 2024.")
    phone.get(f"{url}/tree/Lane")
    assert phone.find_element(By.CSS_SELECTOR, ".limits").text == before


def test_a_watering_takes_two_presses_from_the_tree(phone: Chrome, url: str) -> None:
    phone.get(f"{url}/tree/Ember")
    phone.find_element(By.LINK_TEXT, "Note something").click()
    press(phone, "Watered till it drained")
    assert shows(phone, "Noted: Ember watered.")


def test_what_follows_a_work_is_done_with_one_tap(phone: Chrome, url: str) -> None:
    phone.get(url)
    assert "Look under the bag Old Stump" in words(phone)
    press(phone, "Done: look under the bag, Old Stump")
    assert shows(phone, "Noted for Old Stump: check bag on 23 April 2024.")
    assert "Look under the bag" not in words(phone)
    press(phone, "Take it back")
    assert shows(phone, "Look under the bag Old Stump")


def test_enter_in_a_field_notes_nothing_by_accident(
    phone: Chrome, page: PageGarden, url: str
) -> None:
    phone.get(f"{url}/do/tree/Ember")
    phone.find_element(By.ID, "roots").send_keys("40", Keys.ENTER)
    assert phone.current_url == f"{url}/do/tree/Ember"
    with page.store() as store:
        assert store.notes.last() is None


def test_a_slip_is_said_and_what_was_typed_is_there(phone: Chrome, url: str) -> None:
    phone.get(f"{url}/do/tree/Ember")
    Select(phone.find_element(By.ID, "work")).select_by_visible_text("repot")
    phone.find_element(By.ID, "roots").send_keys("140")
    press(phone, "Note the work")
    assert shows(phone, "Roots 140: expected a number from 0 to 100")
    box = phone.find_element(By.ID, "roots")
    assert box.get_attribute("value") == "140"
    box.clear()
    box.send_keys("30 %")
    press(phone, "Note the work")
    assert shows(phone, "Noted for Ember: repot")


def test_a_reading_is_noted_and_put_right(phone: Chrome, url: str) -> None:
    phone.get(f"{url}/do/tree/Ember")
    phone.find_element(By.LINK_TEXT, "A thermometer or gauge was read").click()
    phone.find_element(By.ID, "value").send_keys("-25")
    Select(phone.find_element(By.ID, "quantity")).select_by_value("root-ball")
    press(phone, "Note the reading")
    assert shows(phone, "Noted: root ball −25.0 °C of Ember")
    box = phone.find_element(By.ID, "value")
    box.clear()
    box.send_keys("-2.5")
    press(phone, "Put it right")
    assert shows(phone, "in place of −25.0 °C.")


def test_trees_ticked_on_the_list_are_moved_together(
    phone: Chrome, page: PageGarden, url: str
) -> None:
    phone.get(f"{url}/trees")
    for name in ("Ember", "Wisp & Co"):
        phone.find_element(By.CSS_SELECTOR, f"input[value='{name}']").send_keys(Keys.SPACE)
    press(phone, "Note something for those ticked")
    press(phone, "shed")
    assert shows(phone, "Noted: Ember and Wisp & Co moved to shed.")
    with page.store() as store:
        moves = [entry for entry in store.journal.entries() if isinstance(entry, Move)]
    assert [(move.tree, move.spot) for move in moves] == [("Ember", "shed"), ("Wisp & Co", "shed")]


def test_a_tree_is_added_after_a_slip_and_stands_on_its_bench(
    phone: Chrome, page: PageGarden, url: str
) -> None:
    phone.get(f"{url}/more")
    phone.find_element(By.LINK_TEXT, "Add a tree").click()
    phone.find_element(By.ID, "f-name").send_keys("Quill")
    phone.find_element(By.ID, "f-species").send_keys("Acer palmatun")
    Select(phone.find_element(By.ID, "f-spot")).select_by_visible_text("south wall")
    phone.find_element(By.ID, "f-litres").send_keys("2.5")
    press(phone, "Add it")
    assert shows(phone, "did you mean 'Acer palmatum' or")
    box = phone.find_element(By.ID, "f-species")
    box.clear()
    box.send_keys("Acer palmatum", Keys.ENTER)
    assert shows(phone, "Quill is added in the garden's file.")
    phone.get(f"{url}/trees")
    assert "1 of 8" not in words(phone)
    assert shows(phone, "Quill")
    assert 'name = "Quill"' in page.config.read_text(encoding="utf-8")


def test_a_link_from_another_site_lets_a_guest_in_to_look(
    phone: Chrome, page: PageGarden, url: str
) -> None:
    page.lock()
    with page.store() as store:
        key = store.guests.invite("Robin", EVENING)
    phone.get(f"data:text/html,<a href='{url}/come-in/{key}'>from Orchard End</a>")
    phone.find_element(By.TAG_NAME, "a").click()
    assert shows(phone, "Tonight")
    assert phone.current_url == f"{url}/"
    buttons = phone.find_elements(By.TAG_NAME, "button")
    assert [one.text for one in buttons] == ["Leave"]
