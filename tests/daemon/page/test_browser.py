"""The page in Debian's Chromium on a phone's screen: by day and in the dark, by keyboard, without
scripts. It is checked by axe-core (WCAG 2.2) if that is installed."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browsing import LEAST_TEXT_PX, NARROW, SCREEN, SMALL_TEXT, as_phone
from page_garden import PASSWORD, PageGarden, left_as_found, served, written
from selenium.common.exceptions import WebDriverException
from selenium.webdriver import Chrome, Keys
from selenium.webdriver.common.by import By
from selenium.webdriver.support.select import Select
from selenium.webdriver.support.wait import WebDriverWait

from underbench.rules.weather.hourly import Weather

LEAST_TARGET_PX = 44  # WCAG 2.2, 2.5.5 target size (enhanced); ours are meant to be 48
PAGES = ("/", "/trees", "/tree/Ember", "/tree/Old%20Stump", "/told", "/tree/Nobody", "/do/")
PAGES += ("/bench/top%20bench",)
PAGES += (
    "/do/tree/Ember",
    "/do/handled",
    "/do/reading",
    "/edit/tree/Ember",
    "/edit/spot/",
    "/more",
    "/sheet",
    "/tune/limits/Ember",
    "/tune/limits/",
    "/tune/stand_in/",
    "/parting/Ember",
    "/plan/windows/Ember",
    "/plan/whatif/Ember?work=chop",
    "/plan/winter",
    "/species?name=Acer%20palmatum",
)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory, spring: Weather, sky: Any) -> PageGarden:
    return PageGarden(tmp_path_factory.mktemp("garden"), sky(spring), written())


@pytest.fixture(scope="module")
def url(made: PageGarden) -> Iterator[str]:
    with served(made.app) as address:
        yield address


@pytest.fixture
def page(made: PageGarden, url: str) -> Iterator[PageGarden]:
    with left_as_found(made):
        yield made


def words(phone: Chrome) -> str:
    return phone.find_element(By.TAG_NAME, "body").text


def shows(phone: Chrome, expected: str) -> bool:
    """Whether these words appear. The answer to a press may still be on its way."""
    WebDriverWait(phone, 20, 0.05, [WebDriverException]).until(lambda one: expected in words(one))
    return True


def by_keyboard(phone: Chrome, least: str) -> None:
    """Go by the tab key to the link or button with these words, and press enter."""
    for _ in range(60):
        phone.switch_to.active_element.send_keys(Keys.TAB)
        here = phone.switch_to.active_element
        if here.tag_name in ("a", "button") and least in here.text:
            here.send_keys(Keys.ENTER)
            return
    raise AssertionError(f"{least} is not reached by the keyboard")


def test_no_script_runs_in_that_browser(phone: Chrome) -> None:
    phone.get("data:text/html,<p>as sent<script>document.body.textContent = 'run'</script>")
    assert words(phone) == "as sent"


@pytest.mark.usefixtures("page")
def test_a_job_is_done_with_one_press_without_scripts(phone: Chrome, url: str) -> None:
    phone.get(url)
    before = len(phone.find_elements(By.CSS_SELECTOR, ".line"))
    phone.find_element(By.CSS_SELECTOR, ".line").click()
    phone.find_element(By.CSS_SELECTOR, ".carry [value=others]").click()
    assert shows(phone, "Noted:")
    phone.get(url)
    assert len(phone.find_elements(By.CSS_SELECTOR, ".line")) == before - 1


@pytest.mark.usefixtures("page")
def test_a_job_is_done_by_the_keyboard_alone(phone: Chrome, url: str) -> None:
    phone.get(url)
    by_keyboard(phone, "BRING")
    assert shows(phone, "Into the shed")
    by_keyboard(phone, "Done: all but")
    assert shows(phone, "Noted:")


def test_the_way_to_a_tree_by_the_keyboard_alone(phone: Chrome, url: str) -> None:
    phone.get(url)
    by_keyboard(phone, "Trees")
    assert shows(phone, "7 of 7 trees")
    by_keyboard(phone, "Needle")
    assert shows(phone, "Needle\nJuniperus chinensis, 5.0 L pot, south wall")


def test_the_list_is_filtered_without_scripts(phone: Chrome, url: str) -> None:
    phone.get(f"{url}/trees")
    Select(phone.find_element(By.NAME, "spot")).select_by_visible_text("south wall")
    phone.find_element(By.CSS_SELECTOR, ".filters button").click()
    assert shows(phone, "2 of 7 trees")


def test_the_gate_wrong_then_right(phone: Chrome, page: PageGarden, url: str) -> None:
    page.lock()
    phone.get(f"{url}/tree/Ember")
    for password, shown in (("not this one", "That is not the password."), (PASSWORD, "Ember")):
        box = phone.find_element(By.NAME, "password")
        box.send_keys(password, Keys.ENTER)
        assert shows(phone, shown)
    assert phone.current_url == f"{url}/tree/Ember"
    phone.delete_all_cookies()
    phone.get(url)
    assert phone.current_url.startswith(f"{url}/enter")


def test_the_charts_picture_and_the_trees_are_drawn(scripted: Chrome, url: str) -> None:
    scripted.get(f"{url}/tree/Ember")
    drawn = scripted.execute_async_script(
        "const done = arguments[0], i = document.querySelector('.chart img');"
        "i.decode().then(() => done(i.naturalWidth), () => done(0));"
    )
    assert drawn > 0
    assert not [one for one in scripted.get_log("browser") if "Content Security" in one["message"]]


@pytest.mark.parametrize("path", PAGES)
def test_nothing_is_wider_than_the_phone_and_what_is_pressed_is_big_enough(
    scripted: Chrome, url: str, path: str
) -> None:
    scripted.get(url + path)
    assert "Something went wrong" not in words(scripted)
    with_axe(scripted)
    for dark in (False, True):
        as_phone(scripted, dark=dark, width=NARROW, height=SCREEN)
        assert scripted.execute_script("return document.documentElement.scrollWidth") <= NARROW
        small = scripted.execute_script(
            "return [...document.querySelectorAll("
            "'a, button, select, summary, label:has(input)')]"
            ".filter(e => !e.closest('p, .skip') && e.getClientRects().length)"
            ".filter(e => e.getBoundingClientRect().height < arguments[0]).map(e => e.outerHTML)",
            LEAST_TARGET_PX,
        )
        assert not small, f"dark: {dark}"
        least_px = 0 if path == "/sheet" else LEAST_TEXT_PX  # the sheet is for paper
        assert scripted.execute_script(SMALL_TEXT, least_px) == []
        # Of what axe-core looks for, darkness changes colours only.
        assert not broken(scripted, *["color-contrast"] * dark), f"dark: {dark}"


def with_axe(scripted: Chrome) -> None:
    """Bring axe-core into the page if it is installed."""
    if axe := os.environ.get("AXE_CORE"):
        scripted.execute_script(Path(axe).read_text(encoding="utf-8"))


def broken(scripted: Chrome, *rules: str) -> list[str]:
    """What breaks axe-core's rules (all, if none is named); nothing if it is not in the page."""
    found = scripted.execute_async_script(
        "const [rules, done] = arguments; if (!window.axe) return done([]);"
        "axe.run(rules.length ? {runOnly: rules} : {}).then(r => done(r.violations.map("
        "v => v.id + ': ' + v.nodes.map(n => n.html + n.failureSummary).join(' | '))));",
        rules,
    )
    return [str(one) for one in found]


@pytest.mark.skipif("AXE_CORE" not in os.environ, reason="no axe-core here (npm gets it)")
def test_axe_finds_what_is_wrong(scripted: Chrome) -> None:
    scripted.get("data:text/html,<img src=x><p style='color:%23ddd;background:white'>faint</p>")
    with_axe(scripted)
    found = " ".join(broken(scripted))
    assert "image-alt" in found
    assert "color-contrast" in found
    (only,) = broken(scripted, "color-contrast")
    assert only.startswith("color-contrast")
