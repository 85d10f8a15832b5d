"""The page on a narrow phone on a bad night: what the first screen shows, and how many taps."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any
from zoneinfo import ZoneInfo

import pytest
from browsing import LEAST_TEXT_PX, NARROW, SCREEN, SMALL_TEXT, Finger, as_phone
from cold_garden import cold_garden
from page_garden import PageGarden, left_as_found, served
from receiving import receiving
from selenium.common.exceptions import WebDriverException
from selenium.webdriver import Chrome, Keys
from selenium.webdriver.common.by import By
from selenium.webdriver.support.select import Select
from selenium.webdriver.support.wait import WebDriverWait

from underbench.daemon.alerts.to_do import to_do
from underbench.daemon.config.reloading import Reloading
from underbench.daemon.delivery.outbox import Services
from underbench.daemon.page.context import EXTENSION
from underbench.rules.garden.journal import Move, Work

LEAST_TARGET_PX = 44
TREES, SEEDLINGS = 40, 11
# Others are looked at in the same way in test_browser.
PAGES = ("/", "/do/handled", "/bench/top%20bench", "/plan/windows", "/plan/seasons")
PAGES += (
    "/photograph/Ember",
    "/tune/hands_on",
    "/tune/links",
    "/tune/pushes",
)
SMALL_TARGETS = """
return [...document.querySelectorAll('a, button, select, summary, label:has(input)')]
  .filter(e => !e.closest('p:not(.bar, .whence), .skip, .hidden') && e.getClientRects().length)
  .filter(e => e.getBoundingClientRect().height < arguments[0]).map(e => e.outerHTML.slice(0, 80));
"""


@pytest.fixture
def phone(scripted: Chrome) -> Chrome:
    as_phone(scripted, width=NARROW, height=SCREEN)
    return scripted


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> PageGarden:
    one = cold_garden(tmp_path_factory.mktemp("garden"), more=SEEDLINGS)
    one.app.extensions[EXTENSION] = replace(one.deps(), settings=Reloading(one.config).settings)
    return one


@pytest.fixture(scope="module")
def served_at(made: PageGarden) -> Iterator[str]:
    with served(made.app) as address:
        yield address


@pytest.fixture
def url(served_at: str, made: PageGarden) -> Iterator[str]:
    with left_as_found(made):
        yield served_at


def box(phone: Chrome, css: str) -> Any:
    """The first box of that kind, and how far down the last one ends, in CSS pixels."""
    return phone.execute_script(
        "const all = [...document.querySelectorAll(arguments[0])]"
        ".map(e => e.getBoundingClientRect());"
        "return [all[0].top, all[0].bottom, all[all.length - 1].bottom];",
        css,
    )


def shows(phone: Chrome, text: str) -> bool:
    wait = WebDriverWait(phone, 20, 0.05, [WebDriverException])
    return bool(wait.until(lambda one: text in one.find_element(By.TAG_NAME, "body").text))


def test_without_a_tap_the_first_screen_says_what_to_do_and_shows_the_night(
    phone: Chrome, url: str
) -> None:
    phone.get(url)
    lines = [one.text for one in phone.find_elements(By.CSS_SELECTOR, ".line")]
    assert lines == ["PROTECT 40 trees by 20:00: cover 30, shed 10 danger"]
    assert box(phone, ".line")[2] < SCREEN / 4
    strips = phone.find_elements(By.CSS_SELECTOR, ".strip")
    assert len(strips) == 5
    assert box(phone, ".strip")[2] < SCREEN
    assert all(strip.find_elements(By.CSS_SELECTOR, "[fill='url(#danger)']") for strip in strips)


def test_forty_trees_by_day_end_on_the_first_screen_and_a_half(phone: Chrome, url: str) -> None:
    phone.get(url)
    rows = phone.find_elements(By.CSS_SELECTOR, ".grid tbody tr")
    assert len(rows) == TREES
    assert all(len(one.find_elements(By.TAG_NAME, "td")) == 5 for one in rows[:3])
    assert box(phone, ".grid tbody")[2] <= 1.5 * SCREEN


def test_trees_are_carried_two_of_them_not_in_four_taps(
    phone: Chrome, made: PageGarden, url: str
) -> None:
    phone.get(url)
    finger = Finger(phone)
    finger.tap(".line", "40 trees")
    finger.tap(".carry label", "Copper")
    finger.tap(".carry label", "Yew")
    finger.tap(".bar button", "all but the ticked")
    assert shows(phone, "Noted:")
    assert finger.taps <= 4
    left = [one.text for one in phone.find_elements(By.CSS_SELECTOR, ".carry label b")]
    assert left == ["Copper", "Yew"]  # it stays with the jobs
    with made.store() as store:
        moved = {entry.tree for entry in store.journal.entries() if isinstance(entry, Move)}
    assert len(moved) == TREES - 2


def test_a_repot_is_noted_in_six_taps(phone: Chrome, made: PageGarden, url: str) -> None:
    phone.get(url)
    finger = Finger(phone)
    finger.tap(".strip", "shelf")
    finger.tap(".standing a", "Hedge")
    finger.tap(".bar a", "Note something")
    finger.tap("#work")
    Select(phone.find_element(By.ID, "work")).select_by_visible_text("repot")
    finger.taps += 1
    finger.tap("button", "Note the work")
    assert shows(phone, "Noted for Hedge: repot on")
    assert finger.taps <= 6
    with made.store() as store:
        done = [entry for entry in store.journal.entries() if isinstance(entry, Work)]
    assert done[-1].tree == "Hedge"


def test_a_tree_is_added_in_eight_taps(phone: Chrome, made: PageGarden, url: str) -> None:
    phone.get(url)
    finger = Finger(phone)
    finger.tap("nav a", "More")
    finger.tap(".ways a", "Add a tree")
    for field, typed in (("name", "Quill"), ("species", "Acer palmatum")):
        finger.tap(f"#f-{field}")
        phone.switch_to.active_element.send_keys(typed)
    finger.tap("#f-spot")
    Select(phone.find_element(By.ID, "f-spot")).select_by_visible_text("shelf")
    finger.taps += 1
    finger.tap("#f-litres")
    phone.switch_to.active_element.send_keys("2", Keys.ENTER)  # the keyboard's own key: no tap
    assert shows(phone, "Quill is added")
    assert finger.taps <= 8
    assert 'name = "Quill"' in made.config.read_text(encoding="utf-8")


def test_a_trees_page_names_the_job_that_was_told(made: PageGarden) -> None:
    """The shed has no room for all: alone, each tree would be best off there."""
    client, zone = made.client(), made.settings.garden.timezone
    with made.store() as store:
        jobs = to_do(store.episodes.since(made.now), made.now, zone)
    covered = [(one, tree) for one in jobs if one.into is None for tree in one.trees]
    assert covered
    for job, tree in covered[:: len(covered) // 2]:
        by = f"{job.do_by.astimezone(ZoneInfo(zone)):%a %d %b %H:%M}"
        assert f'class="deed">To do: {job.words}, by {by}.' in client.get(f"/tree/{tree}").text


def test_a_push_is_tested_in_three_taps(phone: Chrome, made: PageGarden, url: str) -> None:
    deps = made.app.extensions[EXTENSION]
    with receiving() as service:
        services = Services([service.url("/phone")])
        made.app.extensions[EXTENSION] = replace(deps, services=lambda _: services)
        phone.get(url)
        finger = Finger(phone)
        finger.tap("nav a", "More")
        finger.tap(".ways a", "Your phones")
        finger.tap("button", "Send a test")
        assert shows(phone, "Look at each phone now")
        made.app.extensions[EXTENSION] = deps
    assert finger.taps <= 3
    assert service.titles("/phone") == ["Underbench: a test"]


@pytest.mark.parametrize("path", PAGES)
def test_nothing_is_wider_than_360_smaller_than_16_or_pressed_below_44(
    phone: Chrome, served_at: str, path: str
) -> None:
    phone.get(served_at + path)
    assert phone.execute_script("return document.documentElement.scrollWidth") <= NARROW
    assert phone.execute_script(SMALL_TEXT, LEAST_TEXT_PX) == []
    assert phone.execute_script(SMALL_TARGETS, LEAST_TARGET_PX) == []
